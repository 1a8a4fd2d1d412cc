"""Collections: trips to fetch goods, what goes along, what each parcel adds, and the list for the border."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money
from ..build.commerce import Collection, Route
from ..build.events import Order, Receipt
from ..landed import BreakEven, arrival_days
from ..landed.fetching import WEEKDAYS
from ..landed.kinds import Allowance
from ..landed.ordered import orders_on
from ..papers.declaration import country_name
from ..plan import Plan
from . import fetching
from .amounts import to_the_cent
from .ask import Ask, Asked
from .desk import View
from .fetching import TripForm, trip_form, trip_path
from .itemised import label_words
from .ordering import counted
from .reckoned import Parcel, TripFigures
from .words import day, exact, listed, number

router = APIRouter()
router.include_router(fetching.router)


@dataclass(frozen=True, slots=True)
class TripListed:
    """A trip as it stands in the list."""

    id: str
    path: str
    what: str
    brings: str
    problems: tuple[str, ...]
    past: bool


@dataclass(frozen=True, slots=True)
class OrderAlong:
    """An order that is on a trip, or could be.

    Parameters
    ----------
    named : it was put on this trip, and can be taken off; otherwise it waits at the depot for the next one
    """

    id: str
    what: str
    said: str
    path: str
    named: bool = True


@dataclass(frozen=True, slots=True)
class ParcelShown:
    """Goods of one supplier, in words.

    Parameters
    ----------
    goods : what is in it; paid : abroad; adds : to the trip; against : how that stands to having it sent
    """

    supplier: str
    path: str
    goods: str
    paid: str
    adds: str
    against: str


@dataclass(frozen=True, slots=True)
class TripPage:
    """One trip.

    Parameters
    ----------
    lead : how it stands; working : figures are being worked out; said : why some can't be
    reached : its day has come
    cost : label, note and amount of what it costs by itself
    along, planned : orders on it, and what the plan adds; parcels : what each costs; could : what could go along
    room : capacity and days, in sentences; allowance : the owner's, in sentences
    others : orders on the way by another route that it could fetch
    """

    id: str
    path: str
    what: str
    lead: str
    working: bool
    said: str
    problems: tuple[str, ...]
    cost: tuple[tuple[str, str, str], ...]
    cost_total: str
    along: tuple[OrderAlong, ...]
    planned: tuple[str, ...]
    others: tuple[OrderAlong, ...]
    parcels: tuple[ParcelShown, ...]
    could: tuple[ParcelShown, ...]
    against: tuple[str, ...]
    room: tuple[str, ...]
    allowance: tuple[str, ...]
    form: TripForm
    instead: tuple[tuple[str, str], ...]
    reached: bool


def trips_listed(view: View) -> tuple[TripListed, ...]:
    """Every trip, those to come first."""
    trips = sorted(view.build.collections, key=lambda trip: (trip.day < view.as_of, trip.day, trip.id))
    return tuple(
        TripListed(
            trip.id,
            trip_path(trip.id),
            _what(trip),
            _brings(view, trip),
            tuple(_closed(view.build, trip)) if trip.day >= view.as_of else (),
            trip.day < view.as_of and not _waiting(view, trip),
        )
        for trip in trips
    )


def _what(trip: Collection) -> str:
    return f"{WEEKDAYS[trip.day.weekday()]} {day(trip.day)}{', ' + trip.place if trip.place else ''}"


def _closed(build: Build, trip: Collection) -> Iterator[str]:
    route: Route = build.find("routes", trip.route)
    if route.open_weekdays and trip.day.isoweekday() not in route.open_weekdays:
        yield f"{route.name} is closed on a {WEEKDAYS[trip.day.weekday()]}."


def _brings(view: View, trip: Collection) -> str:
    orders, planned = _waiting(view, trip), _planned(view.plan, trip)
    if trip.day < view.as_of and orders:
        return f"It is over; what it brought of {_orders(len(orders))} is to be counted in."
    said = f"{_orders(len(orders))} on it" if orders else "nothing on it yet"
    if planned:
        said += f"; the plan puts {listed(planned, 3)} on it"
    return f"{said[:1].upper()}{said[1:]}.{' It is fixed.' if trip.decided else ''}"


def _orders(count: int) -> str:
    return f"{count} order{'s' if count != 1 else ''}"


def _waiting(view: View, trip: Collection) -> tuple[Order, ...]:
    """Orders it is to fetch; once its day has come, those of which nothing was counted in since."""
    orders = orders_on(view.build, view.facts, trip)
    if trip.day > view.as_of:
        return orders
    counted_in = {receipt.order for receipt in _receipts(view, trip)}
    return tuple(order for order in orders if order.day <= trip.day and order.id not in counted_in)


def _receipts(view: View, trip: Collection) -> list[Receipt]:
    """What was counted in from a trip, before the next one to its depot."""
    events = view.build.events
    later = [other.day for other in view.build.collections if other.route == trip.route and other.day > trip.day]
    last = min([view.as_of, *(each - timedelta(days=1) for each in later)])
    orders = {each.id for each in events if isinstance(each, Order) and _comes_by(each, trip)}
    found = [each for each in events if isinstance(each, Receipt) and each.order in orders]
    return [receipt for receipt in found if trip.day <= receipt.day <= last]


def _comes_by(order: Order, trip: Collection) -> bool:
    return order.collection == trip.id or (order.collection is None and order.route == trip.route)


def _brought(view: View, trip: Collection) -> str:
    """What was counted in from a trip, in words; empty if nothing was."""
    counts: dict[str, float] = defaultdict(float)
    for receipt in _receipts(view, trip):
        for line in receipt.lines:
            counts[line.part] += line.quantity
    names = [counted(count, view.build.find("parts", part).name) for part, count in counts.items()]
    return listed(names, 6) if names else ""


def _planned(plan: Plan | None, trip: Collection) -> list[str]:
    return [] if plan is None else [line.part for line in plan.purchase.lines if line.collection == trip.id]


# one trip


def trip_page(view: View, trip: Collection, figures: TripFigures | None, *, working: bool) -> TripPage:
    """One trip, with its figures as far as they are worked out."""
    build = view.build
    route: Route = build.find("routes", trip.route)
    found = figures or TripFigures((), Money.of(0, view.currency))
    reached, brought = trip.day <= view.as_of, _brought(view, trip)
    if brought:  # what it cost by itself stays; what its parcels would add is over
        found = TripFigures(found.lines, found.total)
    return TripPage(
        id=trip.id,
        path=trip_path(trip.id),
        what=_what(trip),
        lead=_over(view, trip, brought) if reached else _lead(found, trip) if figures is not None else "",
        working=working,
        said=f"{found.said[:1].upper()}{found.said[1:]}." if found.said else "",
        problems=tuple(f"{item.what[:1].upper()}{item.what[1:]}. {item.do}" for item in found.problems)
        or tuple(_closed(build, trip)),
        cost=tuple((label_words(line.label, build), line.note, exact(line.amount)) for line in found.lines),
        cost_total=exact(found.total),
        along=tuple(_along(view, order, trip) for order in _waiting(view, trip)),
        planned=() if brought else tuple(_planned(view.plan, trip)),
        others=() if brought else tuple(_others(view, trip, route)),
        parcels=tuple(_parcel(view, parcel) for parcel in found.along),
        could=tuple(_parcel(view, parcel) for parcel in found.could),
        against=tuple(_against(found)),
        room=() if brought else (*(_room(trip, found) if figures is not None else ()), *_days(trip, route, found)),
        allowance=tuple(_allowance_words(build, trip, route, found)) if figures is not None and not brought else (),
        form=trip_form(view, trip),
        instead=_instead(build, route),
        reached=reached,
    )


def _over(view: View, trip: Collection, brought: str) -> str:
    """How a trip whose day has come stands."""
    if brought:
        return f"It brought {brought}."
    today = "Today is the day" if trip.day == view.as_of else "It is over"
    return f"{today}: count in what it brings, order by order." if _waiting(view, trip) else f"{today}."


def _lead(found: TripFigures, trip: Collection) -> str:
    if not found.lines and not found.along:
        return "What the trip itself costs is not written down yet."
    if found.against is not None:
        return _sentence(found.against.text)
    fixed = " It is made whatever comes of it." if trip.decided else ""
    return f"The trip costs {exact(found.total)} by itself.{fixed}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _against(found: TripFigures) -> Iterator[str]:
    """The trip against the door, for what is on it and for all that could be."""
    if found.against is not None:
        yield f"What is on it: {_sums(found.against)} {_sentence(found.against.text)}"
    elif found.along:
        yield "What is on it can't come home another way by the routes that are written down."
    if found.with_all is not None:
        yield f"With everything missing that could come by it: {_sums(found.with_all)} {_sentence(found.with_all.text)}"
    only = [parcel.consignment.supplier.name for parcel in (*found.along, *found.could) if parcel.sent is None]
    if only and (found.against or found.with_all):
        yield f"Left out of that, because no other way home is known: {listed(only, 6)}."


def _sums(both: BreakEven) -> str:
    return f"{exact(both.fetched)} fetched, {exact(both.sent)} sent."


def _parcel(view: View, parcel: Parcel) -> ParcelShown:
    goods = [counted(item.quantity, label_words(item.label, view.build)) for item in parcel.consignment.goods]
    sums: dict[str, Money] = {}
    for item in parcel.consignment.goods:
        code = item.value.currency
        sums[code] = sums[code] + item.value if code in sums else item.value
    home = exact(parcel.cost.total)
    return ParcelShown(
        supplier=parcel.consignment.supplier.name,
        path=f"/door?{urlencode({'supplier': parcel.supplier})}",
        goods=listed(goods, 4),
        paid=f"Paid abroad {' and '.join(map(exact, sums.values()))}; {home} once home, the trip left out."
        + _kept(parcel),
        adds=exact(parcel.adds),
        against=_parcel_against(parcel),
    )


def _kept(parcel: Parcel) -> str:
    return "" if parcel.storage is None else f" The depot asks {exact(parcel.storage)} for keeping it."


def _parcel_against(parcel: Parcel) -> str:
    if parcel.sent is None:
        return "No other way home is known for it."
    gap = parcel.sent.total - parcel.adds
    alone = parcel.cost.total if parcel.storage is None else parcel.cost.total + parcel.storage
    taking = " It takes allowance from what else is on the trip." if parcel.adds.amount > alone.amount else ""
    words = f"{exact(gap)} more" if gap.amount >= 0 else f"{exact(-gap)} less"
    return (
        f"Sent by {parcel.sent_by} it costs {exact(parcel.sent.total)}: {words} than what it adds to the trip.{taking}"
    )


def _along(view: View, order: Order, trip: Collection) -> OrderAlong:
    supplier = view.build.find("suppliers", order.supplier).name
    return OrderAlong(
        order.id,
        f"{listed(_coming(view, order), 4)} from {supplier}",
        _promised(order),
        f"/buying/orders/{quote(order.id, safe='')}",
        named=order.collection == trip.id,
    )


def _coming(view: View, order: Order) -> list[str]:
    names = {part.id: part.name for part in view.build.parts}
    return [counted(item.quantity, names[item.part]) for item in view.facts.incoming if item.order == order.id]


def _promised(order: Order) -> str:
    promised = f"promised for {day(order.promised)}" if order.promised else "no day was promised"
    return f"Ordered on {day(order.day)}, {promised}."


def _others(view: View, trip: Collection, depot: Route) -> Iterator[OrderAlong]:
    """Orders on their way by something else, from the depot's country."""
    there = {order.id for order in orders_on(view.build, view.facts, trip)}
    coming = {item.order for item in view.facts.incoming}
    for event in view.build.events:
        if isinstance(event, Order) and event.id in coming - there:
            supplier = view.build.find("suppliers", event.supplier)
            if supplier.country == depot.from_country:
                yield _along(view, event, trip)


def _instead(build: Build, depot: Route) -> tuple[tuple[str, str], ...]:
    """Ways home for what is taken off a trip."""
    ways = [(route.id, route.name) for route in build.routes if route.from_country == depot.from_country]
    return (*((id_, name) for id_, name in ways if id_ != depot.id), ("", "not known yet"))


def _room(trip: Collection, found: TripFigures) -> Iterator[str]:
    """How much of what the vehicle carries is used."""
    unknown = (
        f"; the mass of {found.unknown} line{'s' if found.unknown != 1 else ''} is not known" if found.unknown else ""
    )
    if trip.capacity_kg is None:
        yield f"{number(found.mass_kg)} kg on it{unknown}. How much the vehicle carries is not written down."
    else:
        left = trip.capacity_kg - found.mass_kg
        rest = f"{number(left)} kg left" if left >= 0 else f"{number(-left)} kg too much"
        yield f"{number(found.mass_kg)} of {number(trip.capacity_kg)} kg used, {rest}{unknown}."
    if trip.capacity_m3 is not None:
        unboxed = f"; {found.unboxed} line{'s have' if found.unboxed != 1 else ' has'} no box" if found.unboxed else ""
        yield f"{number(round(found.volume_m3, 2))} of {number(trip.capacity_m3)} m³ used, by boxes{unboxed}."
    if trip.longest_mm is not None:
        yield f"The longest piece it carries is {number(trip.longest_mm)} mm."


def _days(trip: Collection, route: Route, found: TripFigures) -> Iterator[str]:
    """When the depot is open, and when goods may reach it."""
    if route.open_weekdays:
        yield f"{route.name} is open on {listed([WEEKDAYS[at - 1] for at in sorted(route.open_weekdays)], 7)}."
    else:
        yield f"{route.name} is taken to be open every day; its days can be written down with the way home."
    first, last = arrival_days(trip)
    weeks = number(trip.storage_weeks)
    yield f"It keeps goods for {weeks} weeks: what comes between {day(first)} and {day(last)} can be fetched."
    if route.storage_per_day is not None and route.storage_free_days is not None:
        yield f"{route.storage_free_days} days are free, then {exact(route.storage_per_day)} a day."
    for line in found.declared.storage if found.declared else ():
        yield f"{line.label[:1].upper()}{line.label[1:]}: {exact(line.amount)} ({line.note})."


def _allowance_words(build: Build, trip: Collection, route: Route, found: TripFigures) -> Iterator[str]:
    """The owner's allowance, by the rules of honesty."""
    home, start = country_name(build.owner.country), country_name(route.from_country)
    if not build.owner.private_person:
        yield "The build belongs to a business: a traveller's allowance is for private persons, so none is counted."
        return
    if found.allowance is None:
        yield f"No traveller's allowance is counted between {start} and {home}: {_why_none(found)}."
        return
    rule: Allowance = found.allowance
    amount = to_the_cent(float(rule.amount), rule.currency)
    used = ""
    if found.declared is not None:
        used = f", of which {exact(found.declared.free)} is used" if found.declared.free.amount else ", none of it used"
    yield f"Your own allowance on this trip is {amount}{used} (rule {rule.id}; {rule.source})."
    yield _exceeded(rule)
    if trip.persons > 1 and rule.pooling != "none":
        yield f"The rule counts that of all {trip.persons} of your household who come along, once for the whole trip."
    else:
        yield "It is yours alone, once for the whole trip: nobody else's counts."
    yield "An order divided for it gets none."
    if rule.every_days:
        yield f"It can be used once in {rule.every_days} days."


def _why_none(found: TripFigures) -> str:
    if found.declared is not None and found.declared.lines:
        return "there is none for this journey, or nothing is imported"
    return "there is none for this journey"


def _exceeded(rule: Allowance) -> str:
    return {
        "whole": "If the goods are worth more than that, duty and tax are on all of them.",
        "excess": "Duty and tax are on what is above it.",
        "item": "A thing that is worth more than what is left of it is taxed whole; no thing is divided.",
    }[rule.exceeded]


# pages


def show_trips(ask: Ask) -> Response:
    """Every trip, and a form for a new one."""
    depots = tuple((route.id, route.name) for route in ask.view.build.routes if route.kind == "collection")
    page = {"trips": trips_listed(ask.view), "new": trip_form(ask.view, None), "depots": depots}
    return ask.show("collections.html", page, title="Collections")


def show_trip(ask: Ask, id_: str) -> Response:
    """One trip."""
    trip: Collection = ask.find("collections", id_)
    standing = ask.desk.trips.of(ask.view)
    figures = standing.value.get(id_) if standing.value is not None and standing.current else None
    page = trip_page(ask.view, trip, figures, working=standing.working)
    return ask.show("collection.html", page, title=page.what)


@router.get("/collections")
def show(ask: Asked) -> Response:
    """Every trip."""
    return show_trips(ask)


@router.get("/collections/{trip}")
def show_one(trip: str, ask: Asked) -> Response:
    """One trip."""
    return show_trip(ask, trip)
