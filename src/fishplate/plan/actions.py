"""The actions: every decision, measurement, order, trip and job worth doing now, by what waiting costs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from ..build import date_at, offer_contents, week_of
from ..build.cautions import hazard_lines
from ..build.interfaces import Consequence
from ..decide import DecisionResult
from ..fit import MeasureCandidate
from ..work import WorkReport
from .deadlines import open_returns, weeks_left
from .demand import Entry
from .loop import Round
from .model import Action, ActionKind, CostOfWaiting, PlannedLine
from .sentences import chance_words, day_words, money_words, name_of, quoted_list
from .study import Studied
from .told import unknown_dimensions, unknown_of_sheet
from .waiting import Waiting, stepped
from .waits import cannot_go_back

ORDER_WITHIN_WEEKS = 13
MOST_MEASURES, MOST_LOOKS, MOST_JOBS = 14, 6, 8
_CHECKS: Final = {
    "fitted": "Try “{}” against its place, protected",
    "offered-up": "Try “{}” against its place, protected",
    "measured": "Measure “{}” on the bench",
    "counted": "Look at “{}” in its packing",
}


@dataclass(frozen=True)
class _Draft:
    """An action before its cost of waiting is known."""

    kind: ActionKind
    key: str
    keys: tuple[str, ...]
    what: str
    by_week: float
    reasons: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    step: tuple[float, float] | None = None
    """Where the cost of waiting is a loss from a week on: (week, loss)."""
    firm: bool = False
    """Not to be put off beyond its week, whatever waiting costs."""
    latest: float = float("inf")
    """The week it is to be done by at the latest, whatever waiting costs."""
    minutes: float | None = None
    blocked: bool = False


def draft_actions(
    studied: Studied, chosen: Round, lines: tuple[PlannedLine, ...], run: WorkReport | None, waiting: Waiting
) -> list[_Draft]:
    """Every action worth pricing, in a stable order."""
    return [
        *_decisions(studied, chosen),
        *_measures(studied, chosen, lines, waiting),
        *_looks(studied, waiting),
        *_orders(studied, chosen, lines),
        *_collections(studied, chosen, lines),
        *_jobs(studied, run),
        *_offerings(studied),
    ]


def priced(studied: Studied, draft: _Draft, waiting: Waiting) -> Action:
    """An action with its cost of waiting and the day until which it is free to wait."""
    if draft.step is not None:
        cost, free_weeks = stepped(*draft.step, studied.situation)
    else:
        cost, free_weeks = waiting.cost(str(draft.kind), draft.keys)
    as_of = studied.situation.as_of
    by_week = min(_by_week(draft, cost, free_weeks), draft.latest)
    free_weeks = min(free_weeks, by_week if draft.firm else draft.latest)
    return Action(
        kind=draft.kind,
        key=draft.key,
        what=draft.what,
        by=date_at(as_of, by_week),
        free_until=date_at(as_of, free_weeks),
        cost_of_waiting=cost,
        reasons=draft.reasons,
        cautions=draft.cautions,
        minutes=draft.minutes,
        blocked=draft.blocked,
    )


def _by_week(draft: _Draft, cost: CostOfWaiting, free_weeks: float) -> float:
    """The week an action is to be done by: an order's own; else where waiting begins to cost, if it does."""
    own = max(0.0, draft.by_week if np.isfinite(draft.by_week) else 52.0)
    if draft.kind in (ActionKind.BUY, ActionKind.COLLECT) or draft.step is not None or draft.firm:
        return own
    return free_weeks if cost.per_week > 0 else max(own, free_weeks)


def in_order(actions: list[Action]) -> tuple[Action, ...]:
    """Largest loss per week first; then the sooner date; ties by id."""
    return tuple(sorted(actions, key=lambda a: (-round(a.cost_of_waiting.per_week, 2), a.by, str(a.kind), a.key)))


def _decisions(studied: Studied, chosen: Round) -> Iterator[_Draft]:
    situation, build = studied.situation, studied.situation.build
    for result in studied.decided.decisions:
        if result.decided:
            continue
        held = _held_by(studied, chosen, "decisions", result.decision)
        jobs = [
            job.id for job in build.jobs if result.decision in job.decisions and not situation.facts.is_done(job.id)
        ]
        leading = situation.facts.choices[result.decision].option.name
        reasons = [_hanging_words(studied, result)] if result.hangs else []
        if held:
            reasons.append(f"It holds the order of {quoted_list(sorted(set(held)))}.")
        if jobs:
            reasons.append(f"It holds {quoted_list([name_of(build, 'jobs', job) for job in jobs])}.")
        if result.because:
            reasons.append(result.because[:1].upper() + result.because[1:].rstrip(".") + ".")
        reasons.insert(min(1, len(reasons)), f"Until then the plan goes by “{leading}”.")
        by_week = result.by_week if result.by_week is not None else chosen.openings.decisions.get(result.decision, 1.0)
        what = f"Decide: {build.find('decisions', result.decision).name}"
        yield _Draft(ActionKind.DECIDE, result.decision, (result.decision,), what, by_week, tuple(reasons))


def _held_by(studied: Studied, chosen: Round, list_name: str, key: str) -> dict[str, float]:
    """Names of planned things whose release waits for a dimension or decision, and the week they are to be ordered."""
    build = studied.situation.build
    found: dict[str, float] = {}
    for line in chosen.purchase.lines:
        entry = chosen.market.entries[line.candidate]
        parts = set(entry.candidate.covers)
        releases = [r for r in build.releases if r.offer == entry.offer.id or r.part in parts]
        named = any(key in getattr(release, list_name) for release in releases)
        hold = chosen.openings.holds.get(entry.offer.id, (0.0, ""))
        if named or hold[1] == f"decision: {name_of(build, 'decisions', key)}":
            found[_offer_name(studied, entry.offer.id)] = float(entry.week)
    return found


def _hanging_words(studied: Studied, result: DecisionResult) -> str:
    """What rests on a decision that a person would name: other decisions, parts to buy, jobs to do."""
    facts, build = studied.situation.facts, studied.situation.build
    wanted = {"decisions": set(build.index["decisions"]), "parts": facts.wanted_parts, "jobs": facts.wanted_jobs}
    found = [
        (kind, id_) for kind in wanted for list_name, id_ in result.hangs if list_name == kind and id_ in wanted[kind]
    ]
    names = [name_of(build, kind, id_) for kind, id_ in found]
    if not names:
        return "Nothing that is planned hangs on it."
    return f"{quoted_list(names)} {'hangs' if len(names) == 1 else 'hang'} on it."


def _offer_name(studied: Studied, offer_id: str) -> str:
    build = studied.situation.build
    offer = build.find("offers", offer_id)
    return name_of(build, "parts", offer.part) if offer.part else name_of(build, "kits", offer.kit or "")


# What an action of measuring is called, by what tells the dimension; only a reading waits for the part itself.
MEASURE_VERBS = {
    "reading": "Measure",
    "stand-in": "Settle with a stand-in",
    "enquiry": "Ask the supplier",
    "early purchase": "Have early and measure",
}
NEEDS_PART = frozenset({"reading"})
SHEET_WORDS: Final = " It is on the foundation sheet, which most else rests on: take it first."


def _measures(studied: Studied, chosen: Round, lines: tuple[PlannedLine, ...], waiting: Waiting) -> Iterator[_Draft]:
    build, as_of = studied.situation.build, studied.situation.as_of
    measures = [*studied.fit.measures, *_bare_measures(studied)]
    held = {m.dimension: _held_by(studied, chosen, "dimensions", m.dimension) for m in measures}
    unheld = {m.dimension: [line for line in lines if line.part not in held[m.dimension]] for m in measures}
    final = {m.dimension: _first_final(studied, unheld[m.dimension], m) for m in measures}

    def interest(measure: MeasureCandidate) -> tuple[bool, bool, float, str]:
        key = measure.dimension
        return (not held[key], final[key] is None, -measure.value, key)

    sheet = [item for item in measures if item.needed and build.find("dimensions", item.dimension).foundation]
    besides = [item for item in measures if item not in sheet]
    for measure in (*sheet, *sorted(besides, key=interest)[:MOST_MEASURES]):
        dimension = build.find("dimensions", measure.dimension)
        orders = held[measure.dimension]
        reasons = [measure.text]
        if orders:
            reasons.append(f"It holds the order of {quoted_list(sorted(orders))}.")
        latest = float("inf")
        if (last := final[measure.dimension]) is not None:
            day, line = last
            latest = max(0.0, week_of(as_of, day))
            ordered = _on(line, day, as_of)
            reasons.append(f"“{line.part}” can't go back and is ordered {ordered}; whether it fits hangs on this.")
        if measure.blocked_by_part and measure.means in NEEDS_PART:
            reasons.append(f"It waits for “{name_of(build, 'parts', measure.blocked_by_part)}” to be in hand.")
        if measure.blocked_by_job:
            reasons.append(f"It waits for the job “{name_of(build, 'jobs', measure.blocked_by_job)}”.")
        if dimension.how:
            reasons.append(dimension.how)
        # what nothing names yet is measured with the rest of the sheet
        firm = measure in sheet and not measure.interfaces
        places = tuple(build.index["interfaces"]) if firm else measure.interfaces
        if not orders and (before := waiting.first_before(places)) is not None:
            reasons.append(f"To be known before “{name_of(build, 'jobs', before[0])}”{before[1]}.")
        week = max(0.0, min(waiting.matters_by(places), *(w - 1 for w in orders.values()), 52.0))
        what = f"{MEASURE_VERBS[measure.means]}: {dimension.name} ({measure.minutes:g} min)"
        cautions = hazard_lines(_interface_hazards(studied, measure.interfaces))
        needs_part = measure.blocked_by_part is not None and measure.means in NEEDS_PART
        yield _Draft(
            *(ActionKind.MEASURE, measure.dimension, (measure.dimension,), what, week, tuple(reasons), cautions),
            firm=firm,
            latest=latest,
            minutes=measure.minutes,
            blocked=needs_part or measure.blocked_by_job is not None,
        )


def _first_final(
    studied: Studied, lines: list[PlannedLine], measure: MeasureCandidate
) -> tuple[date, PlannedLine] | None:
    """The first planned order that can't go back of a part whose fit an open dimension decides, and its day.

    These are the parts of the conditions that name the dimension; where those name none, all that meet there. What is
    read only on that very part once it is in hand can't be known before it is ordered.
    """
    if not measure.needed:
        return None
    build, places = studied.situation.build, set(measure.interfaces)
    beside = {name for condition in build.conditions if condition.interface in places
              and measure.dimension in condition.names for name in condition.names}  # fmt: skip
    parts = {part for name in beside if (part := build.find("dimensions", name).part) is not None}
    parts = parts or {part for key in places for part in build.find("interfaces", key).parts}
    if measure.means in NEEDS_PART:
        parts -= {measure.blocked_by_part or ""}
    found = []
    for line in lines:
        offer = build.find("offers", line.offer)
        if line.order_by is not None and cannot_go_back(offer) and parts & set(offer_contents(build, offer)):
            found.append((line.order_by, line))
    return min(found, key=lambda item: (item[0], item[1].offer), default=None)


def _looks(studied: Studied, waiting: Waiting) -> Iterator[_Draft]:
    """Dry runs, each before the first job that settles or covers its interface; a grave one before the first move."""
    build = studied.situation.build
    for look in sorted(studied.fit.looks, key=lambda item: (not item.grave, -item.value, item.key))[:MOST_LOOKS]:
        condition, place = build.find("conditions", look.condition), name_of(build, "interfaces", look.interface)
        week = waiting.matters_by(waiting.named((look.interface,)))
        if look.grave:
            week = min(week, waiting.first_move())
        reasons = [look.text]
        if look.blocked_by_part:
            reasons.append(f"It waits for “{name_of(build, 'parts', look.blocked_by_part)}” to be in hand.")
        if condition.note:
            reasons.append(condition.note)
        what = f"Try on the vehicle: {condition.name}, {place} (about {look.minutes:g} min)"
        cautions = hazard_lines(_interface_hazards(studied, (look.interface,)))
        yield _Draft(
            *(ActionKind.MEASURE, look.key, (look.key,), what, max(0.0, min(week, 52.0)), tuple(reasons), cautions),
            firm=True,
            minutes=look.minutes,
            blocked=look.blocked_by_part is not None,
        )


def _bare_measures(studied: Studied) -> Iterator[MeasureCandidate]:
    """Dimensions without a reading that hold an order or stand on the foundation sheet, and that no condition uses."""
    build, facts = studied.situation.build, studied.situation.facts
    unknown, sheet = unknown_dimensions(studied.situation), unknown_of_sheet(studied.situation)
    for key in sorted((unknown | sheet) - {m.dimension for m in studied.fit.measures}):
        dimension = build.find("dimensions", key)
        part, job, told = dimension.part, dimension.job, studied.told.get(key)
        yield MeasureCandidate(
            dimension=key,
            minutes=dimension.minutes,
            value=0.0,
            interfaces=(),
            blocked_by_part=None if part is None or facts.owned.get(part) or told is not None else part,
            blocked_by_job=None if job is None or facts.is_done(job) else job,
            stand_in=None,
            text="It has no reading that still holds." + SHEET_WORDS * (key in sheet),
            needed=True,
            means="enquiry" if told is not None and told.supplier is not None else "reading",
        )


def _interface_hazards(studied: Studied, interfaces: tuple[str, ...]) -> set[str]:
    build = studied.situation.build
    hazards: set[str] = set()
    for key in interfaces:
        interface = build.find("interfaces", key)
        hazards |= set(interface.hazards)
        severe = any(c.interface == key and c.consequence is Consequence.HAZARD for c in build.conditions)
        if severe:
            hazards |= {hazard for system in interface.systems for hazard in build.find("systems", system).hazards}
    return hazards


def _orders(studied: Studied, chosen: Round, lines: tuple[PlannedLine, ...]) -> Iterator[_Draft]:
    build, as_of = studied.situation.build, studied.situation.as_of
    currency = build.owner.currency
    shipments: dict[str, list[PlannedLine]] = defaultdict(list)
    for line in lines:
        if line.order_week <= ORDER_WITHIN_WEEKS:
            shipments[line.shipment].append(line)
    for key, group in sorted(shipments.items()):
        day = min((line.order_by for line in group if line.order_by is not None), default=None)
        if day is None:
            continue
        first = group[0]
        supplier = name_of(build, "suppliers", first.supplier)
        names = [f"{line.units} × {line.part}" if line.units > 1 else line.part for line in group]
        total = sum(line.landed for line in group)
        what = (
            f"Order {quoted_list(names, most=4)} from {supplier} {_on(first, day, as_of)}, "
            f"by “{first.route}”: {money_words(total, currency)} at the door"
        )
        why = [line for line in group if line.why]
        reasons = tuple(f"“{line.part}”: {line.why[:1].lower()}{line.why[1:]}" for line in why)
        if len(group) == len(why) == 1:
            reasons = (why[0].why,)
        offers = tuple(sorted({chosen_entry(chosen, line).offer.id for line in group}))
        yield _Draft(ActionKind.BUY, key, offers, what, first.order_week, reasons[:6])


def _on(line: PlannedLine, day: date, as_of: date) -> str:
    return "now" if line.order_week == 0 and day == as_of else f"on {day_words(day, as_of)}"


def chosen_entry(chosen: Round, line: PlannedLine) -> Entry:
    """What stands behind a planned line."""
    bought = ((each.offer, each.shipment, each.candidate) for each in chosen.purchase.lines)
    found = next(key for offer, shipment, key in bought if (offer, shipment) == (line.offer, line.shipment))
    return chosen.market.entries[found]


def _collections(studied: Studied, chosen: Round, lines: tuple[PlannedLine, ...]) -> Iterator[_Draft]:
    build, as_of = studied.situation.build, studied.situation.as_of
    for trip in chosen.purchase.trips:
        collection = build.find("collections", trip)
        parts = [line.part for line in lines if line.collection == trip]
        cost = chosen.market.trip_fixed(trip)
        where, day = collection.place or "the depot", day_words(collection.day, as_of)
        what = f"Collect {quoted_list(parts)} at {where} on {day}"
        reasons = (f"The trip itself costs {money_words(cost, build.owner.currency)}, own hours included.",)
        yield _Draft(ActionKind.COLLECT, trip, (trip,), what, week_of(as_of, collection.day), reasons)


def _jobs(studied: Studied, run: WorkReport | None) -> Iterator[_Draft]:
    if run is None:
        return
    build = studied.situation.build
    ready = sorted(run.ready, key=lambda job: (run.slack_weeks.get(job.job, 0.0), job.job))
    for item in ready[:MOST_JOBS]:
        job = build.find("jobs", item.job)
        told = item.text.removeprefix(f"{job.name}: ")
        reasons = [told[:1].upper() + told[1:]] if told else []
        if item.unlocks:
            reasons.append(f"It opens {quoted_list([name_of(build, 'jobs', key) for key in item.unlocks])}.")
        if item.job in run.critical:
            reasons.append("It is on the longest chain to the finish.")
        hazards = set(job.hazards)
        hours = round(item.hours_left, 0 if item.hours_left >= 10 else 1)
        what = f"Do: {job.name} ({hours:g} h left)"
        slack = max(0.0, run.slack_weeks.get(item.job, 0.0))
        yield _Draft(ActionKind.DO, item.job, (item.job,), what, slack, tuple(reasons), hazard_lines(hazards))


def _offerings(studied: Studied) -> Iterator[_Draft]:
    """Parts in hand to be checked, or sent back, while they can go; none that was checked as far as its terms allow."""
    for item in open_returns(studied):
        if not item.check:
            continue
        name = name_of(studied.situation.build, "parts", item.part)
        week = weeks_left(studied, item)
        day = day_words(item.until, studied.situation.as_of)
        chance = 0.0 if item.wrong else studied.fit.misfit_chance.get(item.part, 0.0)
        reasons = [f"It can go back until {day}.", item.check]
        if chance > 0:
            reasons.append(f"The chance that it does not go where it must is {chance_words(chance)}.")
        if item.ended_by:
            ends = " or ".join(end.replace("-", " ") for end in item.ended_by)
            reasons.append(f"The right ends sooner once it is {ends}.")
        key, what = ("back", "Send “{}” back") if item.wrong else ("try", _CHECKS[item.how])
        yield _Draft(
            *(ActionKind.DO, f"{key}:{item.part}", (item.part,), what.format(name), week),
            tuple(reasons),
            step=(week, item.loss),
        )


def unverified(studied: Studied) -> list[str]:
    """Hidden and hazard interfaces that are still to be seen right on the vehicle, in words."""
    build = studied.situation.build
    names = [name_of(build, "interfaces", item.interface) for item in studied.fit.interfaces if item.verify_on_vehicle]
    told = quoted_list(names, most=len(names))
    return [f"Still to be verified on the vehicle, before it is closed up or first moved: {told}."] if names else []
