"""What stands behind an action: every input it rests on, with where it comes from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..build import Build
from ..build.base import ThreePoint
from ..build.commerce import Offer, ReturnTerms
from ..build.events import Receipt
from ..build.interfaces import Reading
from ..build.jobs import Job
from ..plan import Action, ActionKind, Plan
from ..plan.model import PlannedLine
from .carrying_out import BACK, TRY
from .desk import View
from .words import amount, chance, day, exact, number


@dataclass(frozen=True, slots=True)
class Input:
    """One figure or fact, and where it comes from."""

    label: str
    value: str
    whence: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Inputs of one thing."""

    title: str
    inputs: tuple[Input, ...]


@dataclass(frozen=True, slots=True)
class Behind:
    """Everything behind an action, and what was taken for granted about it."""

    groups: tuple[Group, ...]
    assumptions: tuple[str, ...]


ASSUMED = "taken for granted"


def behind(view: View, plan: Plan, action: Action) -> Behind:
    """Everything behind an action."""
    groups, about = {
        ActionKind.DECIDE: _decision,
        ActionKind.MEASURE: _dimension,
        ActionKind.BUY: _order,
        ActionKind.COLLECT: _collection,
        ActionKind.DO: _job,
    }[action.kind](view, plan, action)
    shown = tuple(group for group in groups if group.inputs)
    said = tuple(str(item) for item in plan.assumptions if item.about.rpartition(" ")[2] in about)
    return Behind(shown, tuple(dict.fromkeys(said)))


Found = tuple[list[Group], set[str]]


def _decision(view: View, _plan: Plan, action: Action) -> Found:
    build = view.build
    decision = build.index["decisions"].get(action.key)
    if decision is None:
        return [], set()
    parts, jobs = _names(build, "parts"), _names(build, "jobs")
    rows = [Input("Time to think", f"{decision.think_weeks:g} weeks")]
    if decision.freeze_by:
        rows.append(Input("Settled before", jobs.get(decision.freeze_by, decision.freeze_by)))
    if decision.late_hours:
        rows.append(Input("Work again if changed late", f"{_three(decision.late_hours)} h"))
    rows += [_edge(build, edge.source, edge.target, edge.strength, edge.why, action.key) for edge in build.edges
             if action.key in (edge.source, edge.target)]  # fmt: skip
    groups = [Group("The decision", tuple(rows))]
    for option in decision.options:
        called = [*(parts.get(id_, id_) for id_ in option.parts), *(jobs.get(id_, id_) for id_ in option.jobs)]
        found = [Input("Brings", ", ".join(called) or "nothing of its own")]
        if option.note:
            found.append(Input("Note", option.note))
        if option.score is not None:
            found.append(Input("You scored it", f"{option.score:g} of 100"))
        leading = " (leaned to)" if option.id == decision.leading else ""
        groups.append(Group(f"{option.name}{leading}", tuple(found)))
    return groups, {action.key}


def _edge(build: Build, source: str, target: str, strength: str, why: str, here: str) -> Input:
    names = _names(build, "decisions")
    words = {"fixes": "Fixes", "limits": "Limits", "nudges": "Bears on"}[strength]
    if source == here:
        return Input(words, names.get(target, target), why)
    passive = {"fixes": "Is fixed by", "limits": "Is limited by", "nudges": "Leans on"}[strength]
    return Input(passive, names.get(source, source), why)


def _dimension(view: View, plan: Plan, action: Action) -> Found:
    build = view.build
    dimension = build.index["dimensions"].get(action.key)
    if dimension is None:
        return [], set()
    states = _names(build, "states")
    readings = [reading for reading in build.readings if reading.dimension == action.key]
    rows = [_reading(reading, dimension.unit, states) for reading in sorted(readings, key=lambda item: item.day)]
    groups = [
        Group("What is known of it", tuple(rows) or (Input("Readings", "none yet"),)),
        Group("Measuring it", tuple(_measuring(build, action.key))),
        Group("What rests on it", tuple(_conditions(build, plan, action.key))),
    ]
    return groups, {action.key}


def _reading(reading: Reading, unit: str, states: dict[str, str]) -> Input:
    spread = "" if reading.spread is None else f" ± {number(reading.spread)}"
    against = f", against {states.get(reading.against, reading.against)}" if reading.against else ""
    by = f"{reading.provenance.value}{f' by {reading.instrument}' if reading.instrument else ''}"
    whence = f"{by} on {day(reading.day)}{against}{f'. {reading.note}' if reading.note else ''}"
    figure = reading.designation or f"{number(reading.value or 0.0)}{spread} {unit}"
    return Input("Reading", figure, whence)


def _measuring(build: Build, key: str) -> Iterator[Input]:
    dimension = build.find("dimensions", key)
    yield Input("Takes", f"{dimension.minutes:g} min")
    if dimension.tools:
        yield Input("Tools", ", ".join(dimension.tools))
    if dimension.part:
        yield Input("Of the part", _names(build, "parts").get(dimension.part, dimension.part))
    if dimension.job:
        yield Input("Possible after", _names(build, "jobs").get(dimension.job, dimension.job))
    for stand_in in build.stand_ins:
        if key in stand_in.dimensions:
            yield Input("Stand-in", f"{stand_in.name}: {stand_in.hours:g} h, {stand_in.cost:g} {build.owner.currency}")


def _conditions(build: Build, plan: Plan, key: str) -> Iterator[Input]:
    lines = {line.condition: line for line in plan.fit}
    interfaces = _names(build, "interfaces")
    for condition in build.conditions:
        if key not in condition.names:
            continue
        line = lines.get(condition.id)
        verdict = "not judged" if line is None else f"{line.verdict}, {chance(line.chance)}"
        yield Input(f"{interfaces[condition.interface]}: {condition.name}", verdict, condition.source)


def _order(view: View, plan: Plan, action: Action) -> Found:
    build = view.build
    lines = [line for line in plan.purchase.lines if line.shipment == action.key]
    about = {word for line in lines for word in (line.offer, line.supplier)}
    groups = [Group(f"{line.part}", tuple(_line(build, plan, line))) for line in lines]
    if lines:
        groups.append(Group("The supplier and the way home", tuple(_supplier(build, lines[0]))))
    return groups, about


def _line(build: Build, plan: Plan, line: PlannedLine) -> Iterator[Input]:
    offer: Offer | None = build.index["offers"].get(line.offer)
    yield Input("At the door", f"{amount(line.landed, plan.currency)} for {line.units}")
    yield Input("There by", f"{day(line.arrives_p50)} as likely as not, {day(line.arrives_p90)} nine times in ten")
    yield Input("Chance to be late", chance(line.late_chance))
    if line.offer in plan.purchase.held:
        yield Input("Held by", plan.purchase.held[line.offer])
    if offer is None:
        return
    seen = f"seen {day(offer.seen)}" if offer.seen else ASSUMED + " to stand today"
    pack = f" for {offer.pack:g}" if offer.pack != 1 else ""
    yield Input("Price", exact(offer.price) + pack, "; ".join(filter(None, (seen, offer.source))))
    lead = f"{_three(offer.lead_weeks)} weeks" if offer.lead_weeks else "1, 2 or 4 weeks"
    yield Input("Order to dispatch", lead, "as quoted" if offer.lead_weeks else f"{ASSUMED}, common practice")
    returns = _returns(offer.returns) if offer.returns else "14 days"
    yield Input("Goes back", returns, "its terms" if offer.returns else f"{ASSUMED}, common practice")


def _returns(terms: ReturnTerms) -> str:
    if not terms.days:
        return "not at all"
    ends = f", unless {', '.join(end.replace('-', ' ') for end in terms.ended_by)}" if terms.ended_by else ""
    fee = f", less {terms.restocking_percent:g} %" if terms.restocking_percent else ""
    return f"within {terms.days} days{ends}{fee}"


def _supplier(build: Build, line: PlannedLine) -> Iterator[Input]:
    supplier = build.index["suppliers"].get(line.supplier)
    if supplier is None:
        return
    yield Input("Supplier", f"{supplier.name}, {supplier.country}, prices in {supplier.currency}")
    if supplier.craft:
        yield Input("Made to order", "a small shop, whose quoted times slip further")
    yield Input("Its own sales tax", supplier.origin_tax.replace("-", " ") if supplier.origin_tax else "not known")
    yield Input("Way home", line.route)
    for terms in supplier.freight:
        route = _names(build, "routes").get(terms.route, terms.route)
        if route == line.route:
            free = f", free from {exact(terms.free_from)}" if terms.free_from else ""
            yield Input("Freight", exact(terms.fixed) + free, "its terms")


def _collection(view: View, plan: Plan, action: Action) -> Found:
    build = view.build
    trip = build.index["collections"].get(action.key)
    if trip is None:
        return [], set()
    rows = [Input("At the depot", day(trip.day)), Input("There and back", f"{trip.distance_km:g} km")]
    for label, money in (("A kilometre", trip.per_km), ("Ferry", trip.ferry), ("Tolls", trip.tolls)):
        if money is not None:
            rows.append(Input(label, exact(money)))
    rows += [Input("Own hours", f"{trip.hours:g} h"), Input("Fixed", "yes" if trip.decided else "not yet")]
    lines = [line for line in plan.purchase.lines if line.collection == action.key]
    brought = tuple(Input(line.part, amount(line.landed, plan.currency), "at the door") for line in lines)
    return [Group("The trip", tuple(rows)), Group("What it brings", brought)], {action.key, trip.route}


def _job(view: View, plan: Plan, action: Action) -> Found:
    job: Job | None = view.build.index["jobs"].get(action.key)
    if job is None:
        return _trial(view, action.key.removeprefix(TRY).removeprefix(BACK))
    state = view.facts.jobs.get(job.id)
    rows = [Input("Hours, best, likely, worst", f"{_three(job.hours)} h")]
    if state is not None:
        rows.append(Input("Worked so far", f"{state.hours_worked:g} h", "the hours you wrote down"))
        if state.hours_left is not None:
            rows.append(Input("Left, as you said", f"{state.hours_left:g} h"))
    rows += list(_job_needs(view, job))
    if job.id in plan.critical:
        rows.append(Input("On the longest chain", "yes", "the plan"))
    return [Group("The job", tuple(rows))], {job.id, job.system or job.id}


def _trial(view: View, key: str) -> Found:
    part = view.build.index["parts"].get(key)
    if part is None:
        return [], set()
    rows = [Input("In hand", _in_hand(view, key))]
    rows += [
        Input("Arrived", day(event.day), event.place)
        for event in view.build.events
        if isinstance(event, Receipt) and any(line.part == key for line in event.lines)
    ]
    rows += [
        Input("Goes back", _returns(offer.returns), view.build.find("suppliers", offer.supplier).name)
        for offer in view.build.offers
        if offer.part == key and offer.returns
    ]
    return [Group(part.name, tuple(rows))], {key}


def _job_needs(view: View, job: Job) -> Iterator[Input]:
    build = view.build
    jobs, parts = _names(build, "jobs"), _names(build, "parts")
    for link in job.after:
        yield Input("After", jobs.get(link.job, link.job), "done" if view.facts.is_done(link.job) else "not done yet")
    for label, ids in (("To try", job.to_try), ("To keep", job.to_keep)):
        for part in ids:
            yield Input(label, parts.get(part, part), _in_hand(view, part))
    for decision in job.decisions:
        choice = view.facts.choices.get(decision)
        word = "decided" if choice and choice.decided else "open"
        yield Input("Decision", _names(build, "decisions").get(decision, decision), word)
    for interface in job.interfaces:
        yield Input("Must go together", _names(build, "interfaces").get(interface, interface))
    if job.tools:
        yield Input("Tools", ", ".join(job.tools))
    if job.second_person:
        yield Input("Second person", "needed")
    if job.cure_days:
        yield Input("Cures", f"{job.cure_days:g} days")


def _in_hand(view: View, part: str) -> str:
    owned = view.facts.owned.get(part, 0.0)
    coming = sum(item.quantity for item in view.facts.incoming if item.part == part)
    wanted = view.build.find("parts", part).quantity
    if owned >= wanted:
        return "in hand"
    return f"{owned:g} of {wanted:g} in hand" + (f", {coming:g} on the way" if coming else "")


def _three(estimate: ThreePoint) -> str:
    return f"{estimate.low:g}, {estimate.likely:g}, {estimate.high:g}"


def _names(build: Build, list_name: str) -> dict[str, str]:
    nouns: Iterable[tuple[str, object]] = build.index[list_name].items()
    return {id_: str(getattr(noun, "name", id_)) for id_, noun in nouns}
