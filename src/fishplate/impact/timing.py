"""Whose dates may move with a change: jobs that wait for what is otherwise, orders they need, or everything at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ..build import Build, Facts, offer_contents
from ..build.commerce import Offer
from ..build.graph import Node, rests_on
from .changes import WORDS, Change
from .reach import held_parts
from .seeds import Pair

_HOURS: Final = {
    "hours_per_week", "seasons", "days_off", "weekdays", "works_on_holidays", "helpers", "bays", "lifts", "hours_left",
}  # fmt: skip
_VALUES: Final = {
    "hour_worth", "week_delay_cost", "cash_per_month", "cash_now", "carrying_percent", "keeping_percent",
}  # fmt: skip
_COSTS: Final = {"currency", "card_markup_percent", "private_person"}
_OTHERS: Final = {"gates", "releases", "decisions", "interfaces", "parts", "dimensions"}
HANDS = "The hours of work are otherwise, and one pair of hands does them all: whatever is not begun may move."
VALUES = "What time, delay and money are worth is otherwise: every order may fall on another day."
COSTS = "What goods cost at the door is otherwise for everything still to be ordered."


@dataclass(frozen=True, slots=True)
class Timing:
    """What may move.

    Parameters
    ----------
    jobs : not done yet, and waiting for something that is otherwise, directly or through others
    parts : still to be ordered, and the day or the price of their order may be another
    offers : of parts still to be bought; their price or their terms are otherwise
    whole : why all else may move a little too, in sentences
    """

    jobs: tuple[str, ...]
    parts: tuple[str, ...]
    offers: tuple[str, ...]
    whole: tuple[str, ...]


def timing_of(pair: Pair, changes: Sequence[Change], touched: Iterable[Node]) -> Timing:
    """Whose dates may move.

    Parameters
    ----------
    touched : what else the change reaches: interfaces, releases, decisions, jobs to be redone
    """
    short = {*_short(pair.before, pair.was), *_short(pair.after, pair.now)}
    offers = {id_ for id_ in _offers(pair, changes) if short & {*_contents(pair, id_)}}
    start: set[Node] = {
        *touched,
        *(("parts", id_) for id_ in _differing(pair)),
        *(("parts", part) for id_ in offers for part in _contents(pair, id_) if part in short),
        *(("jobs", id_) for id_ in _jobs(pair, changes)),
        *_others(pair, changes),
    }
    reached = _reached(pair, start)
    open_jobs = {
        id_ for name, id_ in reached if name == "jobs" and not (pair.was.is_done(id_) and pair.now.is_done(id_))
    }
    whole = tuple(_whole(pair, changes))
    return Timing(
        jobs=tuple(sorted(open_jobs)),
        parts=tuple(sorted(id_ for name, id_ in reached if name in ("parts", "orders") and id_ in short)),
        offers=tuple(sorted(offers)),
        whole=whole,
    )


def _short(build: Build, facts: Facts) -> Iterator[str]:
    """Parts still to be bought."""
    return (part for part in sorted(facts.wanted_parts) if facts.missing(build, part) > 0)


def _contents(pair: Pair, offer: str) -> Iterator[str]:
    for build in (pair.before, pair.after):
        if offer in build.index["offers"]:
            yield from offer_contents(build, build.find("offers", offer))


def _differing(pair: Pair) -> Iterator[str]:
    """Parts that are owned, missing, wanted or on their way otherwise."""

    def stand(build: Build, facts: Facts, part: str) -> tuple[Any, ...]:
        coming = [(it.order, it.quantity, it.promised, it.since) for it in facts.incoming if it.part == part]
        missing = facts.missing(build, part) if part in build.index["parts"] else 0.0
        return part in facts.wanted_parts, facts.owned.get(part, 0.0), missing, sorted(coming, key=str)

    for part in dict.fromkeys((*pair.before.index["parts"], *pair.after.index["parts"])):
        if stand(pair.before, pair.was, part) != stand(pair.after, pair.now, part):
            yield part


def _jobs(pair: Pair, changes: Sequence[Change]) -> Iterator[str]:
    """Jobs that are otherwise, or come or go, or stand otherwise."""
    yield from (change.id for change in changes if change.list_name == "jobs" and change.fields - WORDS - {"hazards"})
    yield from pair.lost("jobs") | pair.gained("jobs")
    every = {*pair.was.jobs, *pair.now.jobs}
    yield from (id_ for id_ in every if pair.was.jobs.get(id_) != pair.now.jobs.get(id_))
    shops = {change.id for change in changes if change.list_name == "workshops" and change.matters}
    for build in (pair.before, pair.after):
        yield from (job.id for job in build.jobs if job.workshop in shops)


def _others(pair: Pair, changes: Sequence[Change]) -> Iterator[Node]:
    """What else has a say in dates: gates, decisions, dimensions that can be measured at another time."""
    for change in changes:
        if change.list_name in _OTHERS and change.matters:
            yield change.list_name, change.id
        elif change.list_name == "put_off":
            for noun in (change.before, change.after):
                if noun is not None and noun.what in pair.before.index["jobs"]:
                    yield "jobs", noun.what
    for id_, choice in pair.was.choices.items():
        if pair.now.choices.get(id_) != choice:
            yield "decisions", id_


def _offers(pair: Pair, changes: Sequence[Change]) -> Iterator[str]:
    """Offers whose price, terms or way home are otherwise."""
    for change in changes:
        nouns = [noun for noun in (change.before, change.after) if noun is not None]
        if not change.matters:
            continue
        for build in (pair.before, pair.after):
            for offer in build.offers:
                if any(_bears(build, offer, change.list_name, noun) for noun in nouns):
                    yield offer.id


def _by_route(build: Build, offer: Offer, route: str) -> bool:
    supplier = build.index["suppliers"].get(offer.supplier)
    return supplier is not None and any(terms.route == route for terms in supplier.freight)


def _by_scope(build: Build, offer: Offer, noun: Any) -> bool:
    kinds = {build.find("parts", part).category for part in offer_contents(build, offer)}
    return (
        noun.offer in (None, offer.id)
        and noun.supplier in (None, offer.supplier)
        and (not noun.category or noun.category in kinds)
    )


def _bears(build: Build, offer: Offer, list_name: str, noun: Any) -> bool:
    """Whether a noun has a say in what an offer costs at the door, or when it comes."""
    match list_name:
        case "sightings":
            found = offer.id == noun.offer
        case "suppliers":
            found = offer.supplier == noun.id
        case "sale_windows":
            found = offer.supplier == noun.supplier
        case "price_changes":
            found = _by_scope(build, offer, noun)
        case "enquiries":
            found = offer.id in {*noun.offers, *(item.offer for item in noun.confirmations)}
        case "parts":
            found = noun.id in offer_contents(build, offer)
        case "routes" | "collections":
            found = _by_route(build, offer, noun.id if list_name == "routes" else noun.route)
        case "rates":
            found = offer.price.currency == noun.currency
        case _:
            found = noun.id == {"offers": offer.id, "kits": offer.kit}.get(list_name) if hasattr(noun, "id") else False
    return bool(found)


def _reached(pair: Pair, start: set[Node]) -> set[Node]:
    """What waits for the start, jobs and what they open; an order waits for its releases, a job for its parts."""
    bearing: dict[Node, set[Node]] = defaultdict(set)
    for build in (pair.before, pair.after):
        for ground, node in _waiting(build):
            bearing[ground].add(node)
    seen, todo = set(start), sorted(start)
    while todo:
        for node in bearing[todo.pop()] - seen:
            seen.add(node)
            todo.append(node)
    return seen


_WAITS: Final = {
    ("jobs", "jobs"), ("gates", "jobs"), ("jobs", "gates"), ("interfaces", "gates"), ("interfaces", "jobs"),
    ("decisions", "jobs"), ("parts", "jobs"), ("decisions", "releases"), ("interfaces", "releases"),
    ("dimensions", "releases"), ("dimensions", "conditions"), ("conditions", "interfaces"), ("parts", "dimensions"),
}  # fmt: skip


def _waiting(build: Build) -> Iterator[tuple[Node, Node]]:
    """(what is waited for, what waits for it)."""
    for node, grounds in rests_on(build).items():
        yield from ((ground, node) for ground in grounds if (ground[0], node[0]) in _WAITS)
    for job in build.jobs:
        # when a part is needed goes by its jobs, and no other job waits for that
        yield from ((("jobs", job.id), ("orders", part)) for part in (*job.to_try, *job.to_keep))
        yield from ((("jobs", job.id), ("interfaces", interface)) for interface in job.settles)
        yield from ((("parts", part), ("jobs", job.id)) for stop in job.stop_points for part in stop.without)
        if job.workshop is not None:
            yield ("workshops", job.workshop), ("jobs", job.id)
    for dimension in build.dimensions:
        if dimension.job is not None:
            yield ("jobs", dimension.job), ("dimensions", dimension.id)
    for release in build.releases:
        yield from ((("releases", release.id), ("parts", part)) for part in held_parts(build, release.id))


def _whole(pair: Pair, changes: Sequence[Change]) -> Iterator[str]:
    owner = {change.id for change in changes if change.list_name == "owner"}
    lists = {change.list_name for change in changes if change.matters}
    if owner & (_HOURS | {"country", "region"}) or "allowances" in lists or _work(pair) or "started" in owner:
        yield HANDS
    if owner & (_VALUES | {"country", "currency"}) or "allowances" in lists:
        yield VALUES
    if owner & (_COSTS | {"country", "region"}) or lists & {"rule_overrides", "rates", "routes", "collections"}:
        yield COSTS


def _work(pair: Pair) -> bool:
    """Whether the hours still to be worked are otherwise, or what takes hands, bay and lift."""
    return _hands(pair.before, pair.was) != _hands(pair.after, pair.now)


def _hands(build: Build, facts: Facts) -> list[tuple[Any, ...]]:
    beside = WORDS | {"hazards", "cost"}
    return sorted(
        (
            job.id,
            *(str(getattr(job, name)) for name in type(job).model_fields if name not in beside),
            facts.jobs.get(job.id),
        )
        for job in build.jobs
        if job.id in facts.wanted_jobs and not facts.is_done(job.id)
    )
