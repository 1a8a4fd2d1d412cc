"""What follows at once from a change: what is over, what has to be bought, what costs otherwise, which days move."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from math import isfinite

from ..build import Assumption, Build, Facts, Incoming, date_at, offer_contents
from ..build.commerce import Offer
from ..build.defaults import LEAD_WEEKS
from ..build.words import day_words
from .changes import Change
from .fate import Undoing
from .lots import lots_of
from .model import Fate, PartFate, PriceMove, ToBuy
from .seeds import Pair

_MILD = (Fate.NOT_ORDERED, Fate.CANCELLABLE, Fate.RETURNABLE, Fate.RESELLABLE, Fate.LOST)


def _need(build: Build, facts: Facts, part: str) -> float:
    return float(build.find("parts", part).quantity) if part in facts.wanted_parts else 0.0


def _have(facts: Facts, part: str) -> float:
    return facts.owned.get(part, 0.0) + sum(it.quantity for it in facts.incoming if it.part == part)


def balance(build: Build, facts: Facts, part: str) -> tuple[float, float]:
    """How many of a part are short, and how many are over."""
    if part not in build.index["parts"]:
        return 0.0, 0.0
    need, have = _need(build, facts, part), _have(facts, part)
    return max(0.0, need - have), max(0.0, have - need)


def surplus(pair: Pair, rates: Mapping[str, float]) -> Iterator[tuple[PartFate, tuple[Assumption, ...]]]:
    """Fates of what is no longer called for, the mildest first, each with what was taken for granted for it."""
    for part in pair.before.index["parts"]:
        short, over = balance(pair.before, pair.was, part)
        short_then, over_then = balance(pair.after, pair.now, part)
        gone = part not in pair.after.index["parts"]
        left = (_have(pair.was, part) if gone else over_then) - over
        build, facts = (pair.before, pair.was) if gone else (pair.after, pair.now)
        undoing = Undoing(build, facts, rates)
        if short_then < short and _need_fell(pair, part):
            yield undoing.not_ordered(part, short - short_then, certain=True), ()
        lots = [(undoing.fate(lot, certain=True), lot) for lot in lots_of(build, facts, part)] if left > 0 else []
        for (fate, said), lot in sorted(
            lots, key=lambda it: (_MILD.index(it[0][0].fate), it[0][0].loss / it[1].quantity)
        ):
            taken = min(left, lot.quantity)
            left -= taken
            if taken > 0:
                yield (
                    (fate, said) if taken == lot.quantity else undoing.fate(replace(lot, quantity=taken), certain=True)
                )


def _need_fell(pair: Pair, part: str) -> bool:
    then = _need(pair.after, pair.now, part) if part in pair.after.index["parts"] else 0.0
    return then < _need(pair.before, pair.was, part)


def to_buy(pair: Pair) -> Iterator[ToBuy]:
    """What has to be bought that had not, with the days it may be ready."""
    offered = _offered(pair.after, pair.now)
    for part, noun in pair.after.index["parts"].items():
        more = balance(pair.after, pair.now, part)[0] - balance(pair.before, pair.was, part)[0]
        if more <= 0:
            continue
        leads = [offer.lead_weeks or LEAD_WEEKS for offer in offered.get(part, ())]
        head = f"“{noun.name}” ({more:g}): to be bought"
        if not leads:
            yield ToBuy(part, more, None, None, f"{head}; nobody offers it yet.")
            continue
        quickest = min(leads, key=lambda lead: (lead.mean, lead.low))
        first, last = (date_at(pair.now.as_of, weeks) for weeks in (quickest.low, quickest.high))
        when = day_words(first) if first == last else f"{day_words(first)} to {day_words(last)}"
        yield ToBuy(part, more, first, last, f"{head}; ordered today it is ready at the seller {when}.")


def _offered(build: Build, facts: Facts) -> Mapping[str, Sequence[Offer]]:
    """Offers that can still be taken, by the parts they bring."""
    found: dict[str, list[Offer]] = defaultdict(list)
    for offer in build.offers:
        if offer.available_until is None or offer.available_until >= facts.as_of:
            for part in offer_contents(build, offer):
                found[part].append(offer)
    return found


def price_moves(pair: Pair, undoing: Undoing, then: Undoing) -> Iterator[PriceMove]:
    """Parts short both ways whose cheapest offer costs otherwise."""
    code = pair.after.owner.currency
    was_offered, offered = _offered(undoing.build, undoing.facts), _offered(then.build, then.facts)
    for part, noun in pair.after.index["parts"].items():
        if part not in pair.before.index["parts"]:
            continue
        short = min(balance(pair.before, pair.was, part)[0], balance(pair.after, pair.now, part)[0])
        if short <= 0:
            continue
        before = _cheapest(undoing, was_offered.get(part, ()), part, short)
        after = _cheapest(then, offered.get(part, ()), part, short)
        if before == after:
            continue
        if after is None:
            text = f"“{noun.name}” ({short:g}): nobody offers it any more."
        elif before is None:
            text = f"“{noun.name}” ({short:g}): offered at {after:,.0f} {code}."
        else:
            word = "more" if after > before else "less"
            text = f"“{noun.name}” ({short:g}): {abs(after - before):,.0f} {code} {word} at the cheapest seller."
        yield PriceMove(part, before, after, text)


def _cheapest(undoing: Undoing, offers: Sequence[Offer], part: str, count: float) -> float | None:
    """What so many of a part cost at the cheapest seller of it alone [home currency]."""
    costs = [undoing.home(offer.price) * -(-count // offer.pack) for offer in offers if offer.part == part]
    return min(filter(isfinite, costs), default=None)


def hours_left(build: Build, facts: Facts) -> float:
    """Likely hours of all that is wanted and not done [h]."""
    return sum(_left(build, facts, job) for job in facts.wanted_jobs)


def _left(build: Build, facts: Facts, job: str) -> float:
    state = facts.jobs.get(job)
    if state is None:
        return float(build.find("jobs", job).hours.likely)
    if state.done_on is not None:
        return 0.0
    if state.hours_left is not None:
        return state.hours_left
    return max(0.0, float(build.find("jobs", job).hours.likely) - state.hours_worked)


def dates_moved(pair: Pair, changes: Sequence[Change]) -> Iterator[str]:
    """Days that are known to move, in sentences."""
    yield from _deliveries(pair)
    for change in changes:
        if change.list_name == "collections" and change.before is not None:
            yield from _trip(pair, change)
        elif change.list_name == "workshops" and change.before is not None:
            yield from _shop(pair, change)


def _deliveries(pair: Pair) -> Iterator[str]:
    then = _by_line(pair.now)
    for key, item in _by_line(pair.was).items():
        name = f"“{pair.find('parts', item.part).name}” ({item.quantity:g})"
        other = then.get(key)
        if other is None:
            if _have(pair.now, item.part) < _have(pair.was, item.part):
                yield f"{name}: what was ordered on {day_words(item.ordered_on)} does not come any more."
        elif other.promised != item.promised:
            yield f"{name}: {_promise(other.promised)}, {_before(item.promised)}."


def _by_line(facts: Facts) -> dict[tuple[str, str, str, int], Incoming]:
    """What is on its way by part, order and offer; an order may have several lines of one."""
    found: dict[tuple[str, str, str, int], Incoming] = {}
    for item in facts.incoming:
        number = sum(key[:3] == (item.part, item.order, item.offer) for key in found)
        found[item.part, item.order, item.offer, number] = item
    return found


def _promise(day: date | None) -> str:
    return "comes on a day nobody gave" if day is None else f"promised for {day_words(day)}"


def _before(day: date | None) -> str:
    return "before no day was given" if day is None else f"before for {day_words(day)}"


def _trip(pair: Pair, change: Change) -> Iterator[str]:
    was, now = change.before, change.after
    parts = [
        pair.find("parts", item.part).name
        for item in pair.was.incoming
        if getattr(pair.before.find("events", item.order), "collection", None) == was.id
    ]
    load = f"; on it: {', '.join(dict.fromkeys(parts))}" if parts else ""
    if now is None:
        yield f"The trip of {day_words(was.day)} is not made{load}."
    elif now.day != was.day:
        days = (now.day - was.day).days
        way = "later" if days > 0 else "sooner"
        yield f"The trip of {day_words(was.day)} is made on {day_words(now.day)}, {abs(days)} days {way}{load}."


def _shop(pair: Pair, change: Change) -> Iterator[str]:
    jobs = [job.name for job in pair.before.jobs if job.workshop == change.id and not pair.was.is_done(job.id)]
    if jobs and (change.after is None or change.fields & {"queue_weeks", "work_weeks", "booked_on", "began_on"}):
        what = "is not used any more" if change.after is None else "takes another time"
        yield f"“{change.before.name}” {what}: {', '.join(jobs)}."
