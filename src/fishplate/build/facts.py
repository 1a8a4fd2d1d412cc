"""What is so on a day: owned, ordered, done, decided, changed. Derived from events up to `as_of`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from .commerce import Offer
from .decisions import Option
from .document import Build
from .events import Cancellation, Event, Order, Receipt, Return, StateChange, Work
from .interfaces import Settled


@dataclass(frozen=True, slots=True)
class Incoming:
    """Parts on their way: ordered, not yet arrived."""

    part: str
    quantity: float
    order: str
    offer: str
    ordered_on: date
    promised: date | None


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
    """The build as it stands on `as_of`."""

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
    events = sorted((event for event in build.events if event.day <= as_of), key=_moment)
    owned: dict[str, float] = defaultdict(float)
    for stock in build.stock:
        if stock.since is None or stock.since <= as_of:
            owned[stock.part] += stock.quantity
    jobs: dict[str, JobState] = {}
    changed: dict[str, date] = {}
    for event in events:
        match event:
            case Receipt():
                for line in event.lines:
                    owned[line.part] += line.quantity
            case Return():
                owned[event.part] = max(0.0, owned[event.part] - event.quantity)
            case Work():
                jobs[event.job] = _worked(jobs.get(event.job, JobState()), event)
                if event.done:
                    changed.update(dict.fromkeys(build.find("jobs", event.job).changes, event.day))
            case StateChange():
                changed[event.state] = event.day
            case _:
                pass
    choices = _choices(build, as_of)
    return Facts(
        as_of=as_of,
        owned=dict(owned),
        incoming=_incoming(build, events),
        jobs=jobs,
        state_changed=changed,
        settled=_settled(build, as_of),
        choices=choices,
        wanted_parts=_wanted(build, choices, "parts"),
        wanted_jobs=_wanted(build, choices, "jobs"),
        wanted_conditions=_wanted(build, choices, "conditions"),
        settled_conditions=_settled_conditions(build, as_of),
    )


def _moment(event: Event) -> tuple[date, bool, str]:
    """By day; what comes and goes on one day comes first."""
    return event.day, isinstance(event, Return), event.id


def _worked(state: JobState, event: Work) -> JobState:
    left = event.hours_left if event.hours_left is not None else _less(state.hours_left, event.hours)
    if event.done:
        return JobState(state.hours_worked + event.hours, event.day, 0.0)
    # hours booked after the end do not open a job again; saying that some are left does
    done_on = None if event.hours_left else state.done_on
    return JobState(state.hours_worked + event.hours, done_on, left)


def _less(hours_left: float | None, worked: float) -> float | None:
    return None if hours_left is None else max(0.0, hours_left - worked)


def _incoming(build: Build, events: Sequence[Event]) -> tuple[Incoming, ...]:
    cancelled = {event.order for event in events if isinstance(event, Cancellation)}
    arrived: dict[tuple[str, str], float] = defaultdict(float)
    for event in events:
        if isinstance(event, Receipt) and event.order is not None:
            for received in event.lines:
                arrived[event.order, received.part] += received.quantity
    coming = []
    for event in events:
        if not isinstance(event, Order) or event.id in cancelled:
            continue
        for line in event.lines:
            for part, count in offer_contents(build, build.find("offers", line.offer)).items():
                ordered = count * line.quantity
                used = min(ordered, arrived[event.id, part])
                arrived[event.id, part] -= used
                if ordered > used:
                    coming.append(Incoming(part, ordered - used, event.id, line.offer, event.day, event.promised))
    return tuple(coming)


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
    """Ids of a list that are needed whatever is chosen, or called for by what is."""
    optional = {id_ for decision in build.decisions for option in decision.options for id_ in getattr(option, name)}
    called = {id_ for choice in choices.values() for id_ in getattr(choice.option, name)}
    return frozenset(noun.id for noun in getattr(build, name) if noun.id not in optional or noun.id in called)
