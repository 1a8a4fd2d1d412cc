"""Ways a build can be otherwise, each by its name, for a person to try before it is so."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from ..build import Build, Money, Problem, Refused
from ..build.base import ThreePoint
from ..build.events import Cancellation, Delay, StateChange
from ..build.interfaces import Reading
from ..build.jobs import Job, Link
from ..build.parts import Part
from ..build.quantities import in_arithmetic, in_unit, split_quantity
from ..build.units import UnitProblem


@dataclass(frozen=True, slots=True)
class Tweak:
    """One thing that would be otherwise.

    Parameters
    ----------
    kind : a key of `KINDS`; thing : id of what it is done to; value : what it becomes, as it is typed
    """

    kind: str
    thing: str = ""
    value: str = ""


@dataclass(frozen=True, slots=True)
class Kind:
    """A way a build can be otherwise.

    Parameters
    ----------
    words : what is done, as on a list; list_name : where its things are; value : what has to be said, None for nothing
    apply : from the build, the tweak and the day to the build as it would be
    """

    words: str
    list_name: str
    value: str | None
    apply: Callable[[Build, Tweak, date], Build]


def tweaked(build: Build, tweak: Tweak, on: date) -> Build:
    """The build as it would be.

    Parameters
    ----------
    on : the day it would be so from

    Raises
    ------
    Refused
        if there is no such kind or thing, or the value can't be read

    Examples
    --------
    >>> from fishplate.build import build_from_data
    >>> van = build_from_data({"parts": [{"id": "seat", "name": "Seat"}]})
    >>> tweaked(van, Tweak("quantity", "seat", "2"), date(2026, 3, 2)).parts[0].quantity
    2.0
    """
    kind = KINDS.get(tweak.kind)
    if kind is None:
        raise _refused("kind", "not a way a build can be otherwise", tweak.kind, f"Take one of {', '.join(KINDS)}.")
    if kind.list_name != "owner" and tweak.thing not in build.index[kind.list_name]:
        raise _refused("thing", f"not among the {kind.list_name}", tweak.thing, "Take one that is there.")
    return kind.apply(build, tweak, on)


def _refused(where: str, what: str, got: str, do: str) -> Refused:
    return Refused([Problem(where, "bad-tweak", what, got[:60], do)])


def _number(build: Build, tweak: Tweak, unit: str = "") -> float:
    """A number as the owner writes it; a bare one is in the unit."""
    value = _read(build, tweak, unit, unit)
    if not 0 <= value <= 1e9:
        raise _refused("value", "not between 0 and a thousand million", tweak.value, "Write another number.")
    return value


def _read(build: Build, tweak: Tweak, unit: str, bare: str) -> float:
    try:
        written = split_quantity(tweak.value, build.owner.formats.mark)
        return in_unit(written.number, written.unit or bare, unit)
    except UnitProblem as problem:
        what = str(problem) if " measures " in str(problem) else "not a number"
        do = f"Write a number such as 12 or {f'12.5 {bare}'.rstrip()}."
        raise _refused("value", what, tweak.value, do) from None


def _day(tweak: Tweak) -> date:
    try:
        return date.fromisoformat(tweak.value.strip())
    except ValueError:
        raise _refused("value", "not a day", tweak.value, "Write it as 2026-03-31.") from None


def _put(build: Build, list_name: str, noun: Any) -> Build:
    return build.model_copy(update={list_name: tuple({**build.index[list_name], noun.id: noun}.values())})


def _set(build: Build, list_name: str, id_: str, **fields: Any) -> Build:
    return _put(build, list_name, build.find(list_name, id_).model_copy(update=fields))


def _fresh(build: Build, stem: str, list_name: str = "events") -> str:
    taken, count = build.index[list_name], 1
    stem = stem[:74]
    id_ = stem
    while id_ in taken:
        count += 1
        id_ = f"{stem}-{count}"
    return id_


def _choose(build: Build, tweak: Tweak, on: date) -> Build:
    options = {option.id for option in build.find("decisions", tweak.thing).options}
    if tweak.value not in options:
        raise _refused("value", "not one of its options", tweak.value, f"Take one of {', '.join(sorted(options))}.")
    return _set(build, "decisions", tweak.thing, chosen=tweak.value, chosen_on=on)


def _reopen(build: Build, tweak: Tweak, _on: date) -> Build:
    decision = build.find("decisions", tweak.thing)
    leading = decision.chosen or decision.leading
    return _set(build, "decisions", tweak.thing, chosen=None, chosen_on=None, leading=leading)


def _quantity(build: Build, tweak: Tweak, _on: date) -> Build:
    count = _number(build, tweak)
    if not count:
        return _drop_part(build, tweak, _on)
    return _set(build, "parts", tweak.thing, quantity=count)


def _drop_part(build: Build, tweak: Tweak, _on: date) -> Build:
    return _set(build, "parts", tweak.thing, dropped=True)


def _drop_job(build: Build, tweak: Tweak, _on: date) -> Build:
    return _set(build, "jobs", tweak.thing, dropped=True)


def _another_part(build: Build, tweak: Tweak, _on: date) -> Build:
    """A part takes the place of another wherever that is called for."""
    old = build.find("parts", tweak.thing)
    if not tweak.value.strip():
        raise _refused("value", "no name", tweak.value, "Say what takes its place.")
    new_id = _fresh(build, f"{old.id}-instead", "parts")
    new = old.model_copy(
        update={"id": new_id, "name": tweak.value.strip()[:400], "part_number": "", "mass_kg": None, "box_mm": None}
    )
    left = _put(_drop_part(build, tweak, _on), "parts", new)

    def swap(noun: Any, *fields: str) -> Any:
        taken = {
            name: tuple(new_id if item == old.id else item for item in getattr(noun, name))
            for name in fields
            if old.id in getattr(noun, name)
        }
        return noun.model_copy(update=taken) if taken else noun

    def job(noun: Any) -> Any:
        stops = tuple(swap(stop, "without") for stop in noun.stop_points)
        noun = noun if stops == noun.stop_points else noun.model_copy(update={"stop_points": stops})
        return swap(noun, "to_try", "to_keep", "works_on")

    def decision(noun: Any) -> Any:
        options = tuple(swap(option, "parts") for option in noun.options)
        return noun if options == noun.options else noun.model_copy(update={"options": options})

    return left.model_copy(
        update={
            "jobs": tuple(map(job, left.jobs)),
            "interfaces": tuple(swap(noun, "parts") for noun in left.interfaces),
            "decisions": tuple(map(decision, left.decisions)),
        }
    )


def _withdraw(build: Build, tweak: Tweak, on: date) -> Build:
    return _set(build, "offers", tweak.thing, available_until=on - timedelta(days=1))


def _price(build: Build, tweak: Tweak, on: date) -> Build:
    offer = build.find("offers", tweak.thing)
    price = Money.of(Decimal(str(_number(build, tweak))), offer.price.currency)
    return _set(build, "offers", offer.id, price=price, seen=on)


def _supplier_gone(build: Build, tweak: Tweak, on: date) -> Build:
    """The seller sells nothing any more, and what is still to come of its orders does not come."""
    for offer in build.offers:
        if offer.supplier == tweak.thing:
            build = _withdraw(build, Tweak("withdraw", offer.id), on)
    for event in build.events:
        if event.kind == "ordered" and event.supplier == tweak.thing and event.day <= on:
            build = _cancel(build, Tweak("cancel", event.id), on)
    return build


def _an_order(build: Build, tweak: Tweak) -> Any:
    event = build.find("events", tweak.thing)
    if event.kind != "ordered":
        raise _refused("thing", "not an order", tweak.thing, "Take an order.")
    return event


def _cancel(build: Build, tweak: Tweak, on: date) -> Build:
    order = _an_order(build, tweak)
    if any(event.kind == "cancelled" and event.order == order.id for event in build.events):
        return build
    return _put(build, "events", Cancellation(id=_fresh(build, f"cancelled-{order.id}"), day=on, order=order.id))


def _delay(build: Build, tweak: Tweak, on: date) -> Build:
    order = _an_order(build, tweak)
    delay = Delay(id=_fresh(build, f"delayed-{order.id}"), day=on, order=order.id, expected=_day(tweak))
    return _put(build, "events", delay)


def _reread(build: Build, tweak: Tweak, on: date) -> Build:
    dimension = build.find("dimensions", tweak.thing)
    said: dict[str, Any] = {"designation": tweak.value.strip()[:60]} if dimension.designates else {}
    if not said:
        shown = build.owner.formats.unit(dimension.unit)
        said = {"value": _read(build, tweak, dimension.unit, shown)}
    older = {reading.id for reading in build.readings if reading.dimension == dimension.id}
    kept = tuple(reading for reading in build.readings if reading.id not in older)
    reading = Reading(id=_fresh(build, f"what-if-{dimension.id}", "readings"), dimension=dimension.id, day=on, **said)
    return build.model_copy(update={"readings": (*kept, reading)})


def _state(build: Build, tweak: Tweak, on: date) -> Build:
    event = StateChange(id=_fresh(build, f"changed-{tweak.thing}"), day=on, state=tweak.thing)
    return _put(build, "events", event)


def _job_hours(build: Build, tweak: Tweak, _on: date) -> Build:
    hours = _number(build, tweak, "h")
    return _set(build, "jobs", tweak.thing, hours=ThreePoint(low=hours, likely=hours, high=hours))


def _job_after(build: Build, tweak: Tweak, _on: date) -> Build:
    job, first = build.find("jobs", tweak.thing), tweak.value.strip()
    if first not in build.index["jobs"] or first == job.id:
        raise _refused("value", "not another job", tweak.value, "Take the job it is to come after.")
    return _set(build, "jobs", job.id, after=(*(link for link in job.after if link.job != first), Link(job=first)))


def _more_parts(build: Build, tweak: Tweak, _on: date) -> Build:
    """A part that was not listed, fitted for good by a job."""
    job, name = build.find("jobs", tweak.thing), tweak.value.strip()
    if not name:
        raise _refused("value", "no name", tweak.value, "Say what part it is.")
    part = Part(id=_fresh(build, _stem(name), "parts"), name=name[:400], system=job.system)
    return _set(_put(build, "parts", part), "jobs", job.id, to_keep=(*job.to_keep, part.id))


def _more_work(build: Build, tweak: Tweak, _on: date) -> Build:
    """A job that was not listed, to be done before another."""
    before = build.find("jobs", tweak.thing)
    name, _, hours = tweak.value.strip().rpartition(" ")
    if not name:
        raise _refused("value", "no hours", tweak.value, "Write what it is and its hours: “Seal the pump 6”.")
    likely = _number(build, Tweak(tweak.kind, tweak.thing, hours), "h")
    job = Job(
        id=_fresh(build, _stem(name), "jobs"), name=name[:400], phase=before.phase, system=before.system,
        hours=ThreePoint(low=likely, likely=likely, high=likely), after=before.after,
    )  # fmt: skip
    return _set(_put(build, "jobs", job), "jobs", before.id, after=(*before.after, Link(job=job.id)))


def _stem(name: str) -> str:
    return "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in name.casefold()).split())[:60] or "more"


def _limit(build: Build, tweak: Tweak, _on: date) -> Build:
    """The one limit a condition has, or the one that is named by "at least" or "at most"."""
    condition, text = build.find("conditions", tweak.thing), tweak.value.strip()
    given = [name for name in ("at_least", "at_most") if getattr(condition, name) is not None]
    for name in ("at_least", "at_most"):
        words = name.replace("_", " ")
        if text.casefold().startswith(words):
            given, text = [name], text[len(words) :].strip()
    if len(given) != 1 or not text:
        do = "Write the new limit, such as “12 mm”; where it has two, “at least 12 mm” or “at most 12 mm”."
        raise _refused("value", "not clear which limit", tweak.value, do)
    return _set(build, "conditions", condition.id, **{given[0]: in_arithmetic(text, build.owner.formats.mark)})


def _set_aside(build: Build, tweak: Tweak, _on: date) -> Build:
    """What is set aside of hours, or of money where no hours are."""
    allowance, percent = build.find("allowances", tweak.thing), _number(build, tweak)
    field = "hours_percent" if allowance.hours_percent or not allowance.money_percent else "money_percent"
    return _set(build, "allowances", allowance.id, **{field: percent})


def _trip(build: Build, tweak: Tweak, _on: date) -> Build:
    return _set(build, "collections", tweak.thing, day=_day(tweak))


def _shop_gone(build: Build, tweak: Tweak, _on: date) -> Build:
    """Its jobs are the owner's own again, at the hours they have."""
    jobs = tuple(
        job.model_copy(update={"workshop": None, "cost": 0.0}) if job.workshop == tweak.thing else job
        for job in build.jobs
    )
    return build.model_copy(update={"jobs": jobs})


def _owner(field: str) -> Callable[[Build, Tweak, date], Build]:
    def apply(build: Build, tweak: Tweak, _on: date) -> Build:
        value: float | Decimal = _number(build, tweak, "h" if field == "hours_per_week" else "")
        if field != "hours_per_week":
            value = Decimal(str(value))
        # months with hours of their own would go on as they are
        seasons = {"seasons": ()} if field == "hours_per_week" else {}
        return build.model_copy(update={"owner": build.owner.model_copy(update={field: value, **seasons})})

    return apply


KINDS: Final[Mapping[str, Kind]] = {
    "choose": Kind("Choose an option", "decisions", "Option", _choose),
    "reopen": Kind("Open a decision again", "decisions", None, _reopen),
    "drop-part": Kind("Leave a part out", "parts", None, _drop_part),
    "replace": Kind("Another part in its place", "parts", "Name of the other part", _another_part),
    "quantity": Kind("Need more or fewer of a part", "parts", "How many", _quantity),
    "price": Kind("An offer costs otherwise", "offers", "Price in the offer's currency", _price),
    "withdraw": Kind("An offer is withdrawn", "offers", None, _withdraw),
    "supplier-gone": Kind("A supplier gives up", "suppliers", None, _supplier_gone),
    "cancel": Kind("Cancel an order", "events", None, _cancel),
    "delay": Kind("An order comes later", "events", "New day", _delay),
    "collection": Kind("Move a trip", "collections", "New day", _trip),
    "reading": Kind("A dimension measures otherwise", "dimensions", "Value, in your units or with its own", _reread),
    "limit": Kind("A limit is otherwise", "conditions", "New limit", _limit),
    "state": Kind("The vehicle changes, so that readings no longer hold", "states", None, _state),
    "drop-job": Kind("Leave a job out", "jobs", None, _drop_job),
    "job-hours": Kind("A job takes other hours", "jobs", "Hours", _job_hours),
    "more-work": Kind("A job more, before another", "jobs", "What it is, and about how many hours", _more_work),
    "more-parts": Kind("A part more, for a job", "jobs", "Name of the part", _more_parts),
    "job-after": Kind("A job comes after another", "jobs", "The job before it", _job_after),
    "workshop": Kind("Take work back from a workshop", "workshops", None, _shop_gone),
    "hours": Kind("Other hours a week", "owner", "Hours a week", _owner("hours_per_week")),
    "cash": Kind("Other money a month", "owner", "Money a month", _owner("cash_per_month")),
    "week-cost": Kind("A week of delay costs otherwise", "owner", "Money a week", _owner("week_delay_cost")),
    "set-aside": Kind("More or less is set aside", "allowances", "Percent of hours, or of money", _set_aside),
}
