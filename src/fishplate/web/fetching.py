"""Changes to trips: added, changed, taken out; orders put on them and taken off; the list for the border."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money, Refused, UnknownRateError
from ..build.commerce import Collection, Route
from ..build.events import Order
from ..build.money import known_currencies
from ..landed import declaration_list
from ..papers.declaration import declaration_body
from ..wiring import load_rates, rules_of, with_likely_bills
from .amounts import as_typed
from .ask import Ask, Asked, NotHereError
from .desk import View, fresh_id, put, without
from .form import Form, made
from .resting import refuse_resting, resting
from .words import day, in_field

router = APIRouter()
LONG_AGO: Final = 1970
TRAVEL: Final = (
    ("", "not said; a ferry means by sea"),
    ("air-sea", "by air or sea"),
    ("land", "by road or rail"),
    ("private-craft", "by a boat or plane of my own"),
)


@dataclass(frozen=True, slots=True)
class TripForm:
    """A trip as fields hold it; a new one if it has no id.

    Parameters
    ----------
    depots : ways home that are fetched; used : what rests on it, in words
    """

    depots: tuple[tuple[str, str], ...]
    currency: str
    used: tuple[str, ...] = ()
    travels: tuple[tuple[str, str], ...] = TRAVEL
    id: str = ""
    route: str = ""
    day: str = ""
    place: str = ""
    distance: str = ""
    per_km: str = ""
    ferry: str = ""
    tolls: str = ""
    hours: str = ""
    capacity: str = ""
    room: str = ""
    longest: str = ""
    absence: str = "24"
    travel: str = ""
    persons: str = "1"
    storage: str = "8"
    decided: bool = False
    note: str = ""


def trip_path(id_: str) -> str:
    """Address of a trip."""
    return f"/collections/{quote(id_, safe='')}"


def trip_form(view: View, trip: Collection | None) -> TripForm:
    """The fields of a trip, or of a new one."""
    depots = tuple((route.id, route.name) for route in view.build.routes if route.kind == "collection")
    if trip is None:
        return TripForm(depots, view.currency)
    charges = [money for money in (trip.per_km, trip.ferry, trip.tolls) if money is not None]
    currency = charges[0].currency if charges else view.currency
    return TripForm(
        id=trip.id,
        route=trip.route,
        day=trip.day.isoformat(),
        place=trip.place,
        distance=_plain(trip.distance_km),
        per_km=as_typed(trip.per_km, currency),
        ferry=as_typed(trip.ferry, currency),
        tolls=as_typed(trip.tolls, currency),
        currency=currency,
        hours=_plain(trip.hours),
        capacity=_plain(trip.capacity_kg),
        room=_plain(trip.capacity_m3),
        longest=_plain(trip.longest_mm),
        absence=in_field(trip.absence_hours),
        travel=trip.travel or "",
        persons=str(trip.persons),
        storage=in_field(trip.storage_weeks),
        decided=trip.decided,
        note=trip.note,
        depots=depots,
        used=resting(view.build, "collections", trip.id),
    )


def _plain(value: float | None) -> str:
    return in_field(value) if value else ""


# changes


def with_trip(build: Build, id_: str, form: Form) -> Build:
    """The build with a trip as typed; a new one where there is no id."""
    depots = [route.id for route in build.routes if route.kind == "collection"]
    route, when = form.choice("route", depots), form.day("day")
    if form.text("day") and when.year < LONG_AGO and not form.problems:
        form.refuse("day", "long ago", when.isoformat(), "Check the year.")
    currency = form.text("currency", build.owner.currency).upper()
    if currency not in known_currencies():
        form.refuse("currency", "not a currency code", currency, "Write it as EUR or GBP.")
        currency = build.owner.currency
    money = {name: read_money(form, name, currency) for name in ("per_km", "ferry", "tolls")}
    numbers = {
        "distance_km": form.maybe_number("distance", at_least=0) or 0,
        "hours": form.maybe_number("hours", at_least=0) or 0,
        "capacity_kg": form.maybe_number("capacity", at_least=0) or None,
        "capacity_m3": form.maybe_number("room", at_least=0) or None,
        "longest_mm": form.maybe_number("longest", at_least=0) or None,
        "absence_hours": form.maybe_number("absence", at_least=0) or 0,
        "storage_weeks": form.maybe_number("storage", at_least=0.1, at_most=520) or 8,
    }
    persons = form.maybe_number("persons", at_least=1, at_most=9) or 1
    travel = form.choice("travel", [code for code, _ in TRAVEL]) if form.text("travel") else ""
    if form.problems:
        return build
    trip = made(
        Collection,
        id=id_ or fresh_id(build, "collections", f"trip {when.isoformat()}"),
        route=route,
        day=when,
        place=form.text("place"),
        travel=travel or None,
        persons=int(persons),
        decided=form.ticked("decided"),
        note=form.text("note"),
        **money,
        **numbers,
    )
    return put(build, "collections", trip)


def read_money(form: Form, name: str, currency: str, *, zero: bool = False) -> Money | None:
    """A charge in the currency of all, or in its own where that stands behind it; None where there is none.

    Parameters
    ----------
    zero : a typed nothing counts as an amount
    """
    text = form.text(name)
    amount, _, own = text.rpartition(" ")
    if amount and own.upper() in known_currencies():
        bare = Form({name: [amount]})
        found = bare.money(name, own.upper())
        form.problems += bare.problems
    else:
        found = form.money(name, currency)
    if found is not None and found.amount < 0:
        form.refuse(name, "below zero", text, "Give what it costs.")
    return found if found is None or found.amount or zero else None


def without_trip(build: Build, trip: Collection) -> Build:
    """The build without a trip; raises Refused while orders wait for it."""
    refuse_resting(f"the trip of {day(trip.day)}", resting(build, "collections", trip.id))
    return without(build, "collections", trip.id)


def put_along(build: Build, trip: Collection, order: Order) -> Build:
    """The build with an order fetched on a trip; what is likely to be asked on arrival is reckoned anew."""
    return _by(build, order.model_copy(update={"collection": trip.id, "route": trip.route}))


def taken_off(build: Build, order: Order, route: str) -> Build:
    """The build with an order that comes by another way instead."""
    return _by(build, order.model_copy(update={"collection": None, "route": route or None}))


def _by(build: Build, order: Order) -> Build:
    """The build with an order that comes home another way, and its likely bill by that way."""
    fresh = order.model_copy(update={"likely_bill": None})
    return with_likely_bills(without(build, "events", order.id), put(build, "events", fresh))


# routes


def _order(ask: Ask, id_: str) -> Order:
    found = ask.find("events", id_)
    if not isinstance(found, Order):
        raise NotHereError("events", id_)
    return found


def _as_told(text: str) -> str:
    """A day in words, or as it was typed where it is none."""
    try:
        return day(date.fromisoformat(text))
    except ValueError:
        return text[:10]


@router.post("/collections")
def add(ask: Asked) -> Response:
    """A new trip."""
    from .collections import show_trips

    made_ids: list[str] = []

    def edit(build: Build) -> Build:
        new = with_trip(build, "", ask.form)
        made_ids[:] = [trip.id for trip in new.collections if trip.id not in build.index["collections"]]
        return new

    message = f"trip of {_as_told(ask.form.text('day'))}"
    return ask.write(edit, message=message, back=lambda: trip_path(made_ids[0]), again=show_trips)


@router.post("/collections/{trip}")
def change(trip: str, ask: Asked) -> Response:
    """A trip as typed."""
    from .collections import show_trip

    found: Collection = ask.find("collections", trip)
    return ask.write(
        lambda build: with_trip(build, trip, ask.form),
        message=f"trip of {day(found.day)}",
        back=trip_path(trip),
        again=lambda ask: show_trip(ask, trip),
    )


@router.post("/collections/{trip}/out")
def take_out(trip: str, ask: Asked) -> Response:
    """A trip is not made."""
    from .collections import show_trip

    found: Collection = ask.find("collections", trip)
    return ask.write(
        lambda build: without_trip(build, found),
        message=f"trip of {day(found.day)} taken out",
        back="/collections",
        again=lambda ask: show_trip(ask, trip),
    )


@router.post("/collections/{trip}/along")
def add_order(trip: str, ask: Asked) -> Response:
    """An order goes along."""
    from .collections import show_trip

    found: Collection = ask.find("collections", trip)
    order = _order(ask, ask.form.text("order"))
    return ask.write(
        lambda build: put_along(build, found, order),
        message=f"on the trip of {day(found.day)}: {ask.find('suppliers', order.supplier).name}",
        back=trip_path(trip),
        again=lambda ask: show_trip(ask, trip),
    )


@router.post("/collections/{trip}/along/{order}/off")
def take_off(trip: str, order: str, ask: Asked) -> Response:
    """An order does not go along."""
    from .collections import show_trip

    found, placed = ask.find("collections", trip), _order(ask, order)
    route = ask.form.text("route")
    if route and route not in ask.view.build.index["routes"]:
        raise NotHereError("routes", route)
    return ask.write(
        lambda build: taken_off(build, placed, route),
        message=f"off the trip of {day(found.day)}: {ask.find('suppliers', placed.supplier).name}",
        back=trip_path(trip),
        again=lambda ask: show_trip(ask, trip),
    )


@router.get("/collections/{trip}/declaration")
def show_declaration(trip: str, ask: Asked) -> Response:
    """The list for the border, to print."""
    view = ask.view
    found: Collection = ask.find("collections", trip)
    route: Route = view.build.find("routes", found.route)
    owner, (rates, _) = view.build.owner, load_rates(view.as_of, view.build)
    page = {"trip": found, "path": trip_path(trip), "body": "", "said": ""}
    try:
        rules = rules_of(view.build)
        declared = declaration_list(view.build, view.facts, found, rules, rates)
        page["body"] = declaration_body(declared, found, route, rates, owner.currency)
    except Refused as refused:
        page["said"] = "; ".join(problem.what for problem in refused.problems)
    except UnknownRateError as error:
        page["said"] = f"{error}; enter one among the rates of your own"
    return ask.show("declaration.html", page, title="Declaration list")
