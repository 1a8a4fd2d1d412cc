"""What is so on a day: owned, ordered, done, decided, changed. Derived from events up to `as_of`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from math import inf

from .commerce import Offer
from .decisions import Option
from .document import Build
from .events import (
    Cancellation,
    Check,
    Claim,
    Delay,
    Event,
    Fitting,
    Order,
    OrderLine,
    Receipt,
    Return,
    Settlement,
    StateChange,
    Work,
)
from .interfaces import Settled
from .whereabouts import PartLies, whereabouts


@dataclass(frozen=True, slots=True)
class Incoming:
    """Parts on their way: ordered, not yet arrived.

    Parameters
    ----------
    promised : the day last given for them, None if none was
    asked_on : the day from which what is promised, or usual, counts: the order's, or that of the last news
    """

    part: str
    quantity: float
    order: str
    offer: str
    ordered_on: date
    promised: date | None
    asked_on: date | None = None

    @property
    def since(self) -> date:
        """The day from which its time counts."""
        return self.asked_on or self.ordered_on


@dataclass(frozen=True, slots=True)
class Choice:
    """The option a decision is planned with, and whether it was really taken."""

    option: Option
    decided: bool
    assumed: bool
    """True if no leading option was named, so the first one stands in."""


@dataclass(frozen=True, slots=True)
class JobState:
    """How far a job is."""

    hours_worked: float = 0.0
    done_on: date | None = None
    hours_left: float | None = None
    """Hours the owner said were left, at the last entry that said so."""


@dataclass(frozen=True, slots=True)
class Facts:
    """The build as it stands on `as_of`.

    Parameters
    ----------
    wrong : parts of which some lie about and were found not right, with the day of it; wrong_counts : how many of each
    """

    as_of: date
    owned: Mapping[str, float]
    incoming: tuple[Incoming, ...]
    jobs: Mapping[str, JobState]
    state_changed: Mapping[str, date]
    settled: Mapping[str, Settled]
    choices: Mapping[str, Choice]
    wanted_parts: frozenset[str]
    wanted_jobs: frozenset[str]
    wanted_conditions: frozenset[str]
    settled_conditions: Mapping[str, Settled] = field(default_factory=dict)
    lies: Mapping[str, PartLies] = field(default_factory=dict)
    wrong: Mapping[str, date] = field(default_factory=dict)
    wrong_counts: Mapping[str, float] = field(default_factory=dict)

    def missing(self, build: Build, part: str) -> float:
        """How many of a wanted part are neither owned nor on their way."""
        coming = sum(item.quantity for item in self.incoming if item.part == part)
        wanted: float = build.find("parts", part).quantity
        return max(0.0, wanted - self.owned.get(part, 0.0) - coming)

    def is_done(self, job: str) -> bool:
        """Whether a job is finished."""
        state = self.jobs.get(job)
        return state is not None and state.done_on is not None


def offer_contents(build: Build, offer: Offer) -> dict[str, float]:
    """Parts and how many of each one unit of an offer brings."""
    if offer.part is not None:
        return {offer.part: offer.pack}
    contents: dict[str, float] = defaultdict(float)
    for item in build.find("kits", offer.kit or "").contents:
        contents[item.part] += item.quantity * offer.pack
    return dict(contents)


def facts_of(build: Build, as_of: date) -> Facts:
    """Everything that is so on a day, from the events up to and including it."""
    events = sorted((event for event in build.events if event.day <= as_of), key=lambda event: (event.day, event.id))
    lies = whereabouts((item for item in build.stock if item.since is None or item.since <= as_of), events)
    jobs: dict[str, JobState] = {}
    changed: dict[str, date] = {}
    for event in events:
        match event:
            case Work():
                jobs[event.job] = _worked(jobs.get(event.job, JobState()), event)
                if event.done:
                    changed.update(dict.fromkeys(build.find("jobs", event.job).changes, event.day))
            case StateChange():
                changed[event.state] = event.day
            case _:
                pass
    choices = _choices(build, as_of)
    wrong = {
        part: (day, min(count, lies[part].lying))
        for part, (day, count) in found_wrong(events).items()
        if part in lies and lies[part].lying > 0
    }
    return Facts(
        as_of=as_of,
        owned={part: item.owned for part, item in lies.items()},
        incoming=_incoming(build, events),
        jobs=jobs,
        state_changed=changed,
        settled=_settled(build, as_of),
        choices=choices,
        wanted_parts=_wanted(build, choices, "parts"),
        wanted_jobs=_wanted(build, choices, "jobs"),
        wanted_conditions=_wanted(build, choices, "conditions"),
        settled_conditions=_settled_conditions(build, as_of),
        lies=lies,
        wrong={part: day for part, (day, _) in wrong.items()},
        wrong_counts={part: count for part, (_, count) in wrong.items()},
    )


def _worked(state: JobState, event: Work) -> JobState:
    left = event.hours_left if event.hours_left is not None else _less(state.hours_left, event.hours)
    if event.done:
        return JobState(state.hours_worked + event.hours, event.day, 0.0)
    # hours booked after the end do not open a job again; saying that some are left does
    done_on = None if event.hours_left else state.done_on
    return JobState(state.hours_worked + event.hours, done_on, left)


def _less(hours_left: float | None, worked: float) -> float | None:
    return None if hours_left is None else max(0.0, hours_left - worked)


# What happens to a part on one day, in the order it is taken to happen.
_RANK: dict[type, int] = {Receipt: 0, Check: 1, Fitting: 2, Return: 2}


def found_wrong(events: Iterable[Event]) -> Mapping[str, tuple[date, float]]:
    """Parts whose last check found them, or some of them, not right: the day of it and how many.

    Where all were, one that comes, is fitted or goes back since tells that this is over; where some were, that they
    went back.
    """
    found: dict[str, tuple[date, float]] = {}
    for event in sorted(events, key=lambda event: (event.day, _RANK.get(type(event), 0))):
        match event:
            case Check(good=False):
                found[event.part] = event.day, inf if event.wrong is None else event.wrong
            case Check():
                found.pop(event.part, None)
            case Receipt():
                for line in event.lines:
                    _over(found, line.part, 0)
            case Fitting():
                _over(found, event.part, 0)
            case Return(claim=None):
                _over(found, event.part, event.quantity)
            case _:
                pass
    return found


def _over(found: dict[str, tuple[date, float]], part: str, gone: float) -> None:
    """So many of those found not right are gone; all of them where they were not counted."""
    day, count = found.get(part, (date.min, inf))
    if count - gone > 0 and count < inf:
        found[part] = day, count - gone
    else:
        found.pop(part, None)


def came_of(events: Sequence[Event]) -> Mapping[tuple[str, str], tuple[float, float]]:
    """What came of orders, by order and part: how many are here and good, how many will not come any more.

    Faulty ones do not count as here; the seller owes them until their claim ends in money, or in nothing.
    """
    claims = {event.id: event for event in events if isinstance(event, Claim)}
    here: dict[tuple[str, str], float] = defaultdict(float)
    off: dict[tuple[str, str], float] = defaultdict(float)
    faulty: dict[tuple[str, str], float] = defaultdict(float)
    for event in events:
        if isinstance(event, Receipt) and event.order is not None:
            for line in event.lines:
                here[event.order, line.part] += line.quantity - line.faulty
                faulty[event.order, line.part] += line.faulty
        elif isinstance(event, Settlement) and event.outcome != "replacement" and event.claim in claims:
            claim = claims[event.claim]
            key = claim.order or "", claim.part
            if event.outcome == "price-reduction" and claim.fault != "short":
                kept = min(claim.quantity, faulty[key])  # one found faulty later was here all along
                here[key], faulty[key] = here[key] + kept, faulty[key] - kept
            else:
                off[key] += claim.quantity
    return {key: (here[key], off[key]) for key in {**here, **off}}


def _incoming(build: Build, events: Sequence[Event]) -> tuple[Incoming, ...]:
    cancelled = {event.order for event in events if isinstance(event, Cancellation)}
    settled = {key: sum(counts) for key, counts in came_of(events).items()}
    news = news_of_orders(events)
    coming = []
    for event in events:
        if not isinstance(event, Order) or event.id in cancelled:
            continue
        for line in event.lines:
            for part, count in offer_contents(build, build.find("offers", line.offer)).items():
                ordered = count * line.quantity
                used = min(ordered, settled.get((event.id, part), 0.0))
                settled[event.id, part] = settled.get((event.id, part), 0.0) - used
                if ordered > used:
                    promised, asked = promise_of(event, line, part, news.get(event.id, ()))
                    coming.append(Incoming(part, ordered - used, event.id, line.offer, event.day, promised, asked))
    return tuple(coming)


def news_of_orders(events: Iterable[Event]) -> Mapping[str | None, Sequence[Event]]:
    """What may move the day an order is promised for, by order."""
    news: dict[str | None, list[Event]] = defaultdict(list)
    for event in events:
        if isinstance(event, Delay | Receipt):
            news[event.order].append(event)
    return news


def promise_of(
    order: Order, line: OrderLine, part: str, events: Sequence[Event]
) -> tuple[date | None, date | None]:  # fmt: skip
    """The day a part of a line was last promised for, and the day of the last news of it, if there was any.

    A faulty one that came is news too: another has to be sent, and no day is given for it yet.
    """
    news: list[tuple[date, str, date | None]] = []
    for event in events:
        match event:
            case Delay() if event.order == order.id and (not event.offers or line.offer in event.offers):
                news.append((event.day, event.id, event.expected))
            case Receipt() if event.order == order.id and any(it.part == part and it.faulty for it in event.lines):
                news.append((event.day, event.id, None))
            case _:
                pass
    if news:
        day, _, expected = max(news, key=lambda item: item[:2])
        return expected, day
    return line.expected or order.promised, None


def _settled(build: Build, as_of: date) -> dict[str, Settled]:
    found: dict[str, Settled] = {}
    for item in sorted(build.settled, key=lambda item: item.day):
        if item.day <= as_of and item.condition is None:
            found[item.interface] = item
    return found


def _settled_conditions(build: Build, as_of: date) -> dict[str, Settled]:
    """The last look at each condition that was looked at alone, unless the whole interface was seen later."""
    whole = _settled(build, as_of)
    found: dict[str, Settled] = {}
    for item in sorted(build.settled, key=lambda item: item.day):
        if item.day <= as_of and item.condition is not None:
            found[item.condition] = item
    return {
        key: item for key, item in found.items() if item.interface not in whole or whole[item.interface].day <= item.day
    }


def _choices(build: Build, as_of: date) -> dict[str, Choice]:
    choices = {}
    for decision in build.decisions:
        decided = decision.chosen is not None and (decision.chosen_on is None or decision.chosen_on <= as_of)
        taken = decision.chosen if decided else decision.leading
        option = decision.option(taken) if taken is not None else decision.options[0]
        choices[decision.id] = Choice(option, decided, assumed=taken is None)
    return choices


def _wanted(build: Build, choices: Mapping[str, Choice], name: str) -> frozenset[str]:
    """Ids of a list that are needed whatever is chosen, or called for by what is; what was dropped is not."""
    optional = {id_ for decision in build.decisions for option in decision.options for id_ in getattr(option, name)}
    called = {id_ for choice in choices.values() for id_ in getattr(choice.option, name)}
    return frozenset(
        noun.id
        for noun in getattr(build, name)
        if (noun.id not in optional or noun.id in called) and not getattr(noun, "dropped", False)
    )
