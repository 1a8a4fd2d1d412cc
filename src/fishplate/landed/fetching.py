"""Fetching goods oneself: what a parcel adds to a trip, when the trip pays, and what the depot makes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from ..build.commerce import Collection, Route, RuleOverride
from ..build.document import Build
from ..build.events import Order
from ..build.formats import CANONICAL
from ..build.money import Money, Rates
from ..build.owner import Owner
from ..build.problem import Problem
from .freight import collection_cost
from .model import Consignment, CostLine, LandedCost, TravelAllowance, total_of
from .quote import landed_trip
from .rules import RuleSet

ZERO = Decimal(0)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, slots=True)
class AddedParcel:
    """What one more consignment adds to a trip that is made anyway.

    Parameters
    ----------
    cost : the consignment as one of the trip
    adds : what the trip's consignments cost with it, less what they cost without it; more than its own cost where it
        takes allowance from the others
    """

    cost: LandedCost
    adds: Money


@dataclass(frozen=True, slots=True)
class BreakEven:
    """A trip against having everything sent.

    Parameters
    ----------
    trip : the trip's own cost, own hours included
    fetched, sent : the goods at the door by the trip, trip cost left out, and by the other ways
    saves : what the goods cost less by the trip; pays : that is at least the trip's cost
    share : saving in the trip's costs; 1 is break-even, None where the trip costs nothing
    """

    trip: Money
    fetched: Money
    sent: Money
    saves: Money
    pays: bool
    share: float | None
    text: str


def trip_allowance(build: Build, collection: Collection) -> TravelAllowance:
    """The owner's own allowance on a trip; by sea where there is a ferry and nothing else is said.

    An earlier trip abroad that was fixed, or that an order was placed for, is taken to have used it.
    """
    before = [trip for trip in build.collections if _is_made(build, trip) and _when(trip) < _when(collection)]
    abroad = [trip for trip in before if build.find("routes", trip.route).from_country != build.owner.country]
    last = max((trip.day for trip in abroad), default=None)
    return TravelAllowance(
        collection.travel or ("air-sea" if collection.ferry else None),
        collection.absence_hours,
        days_since_last=None if last is None else (collection.day - last).days,
        persons=collection.persons,
    )


def _when(trip: Collection) -> tuple[date, str]:
    return trip.day, trip.id


def _is_made(build: Build, trip: Collection) -> bool:
    return trip.decided or any(isinstance(event, Order) and event.collection == trip.id for event in build.events)


def next_allowance(build: Build, route: Route | None, day: date) -> TravelAllowance:
    """The owner's own allowance on the next trip to a depot; of a day's journey where none is planned."""
    trips = [trip for trip in build.collections if route is not None and trip.route == route.id]
    trips = [trip for trip in trips if trip.day >= day] or trips
    return trip_allowance(build, min(trips, key=_when)) if trips else TravelAllowance()


def added_parcel(
    fetched: Sequence[Consignment],
    parcel: Consignment,
    owner: Owner,
    rules: RuleSet,
    rates: Rates,
    overrides: Sequence[RuleOverride] = (),
    *,
    allowance: TravelAllowance | None = None,
) -> AddedParcel:
    """What a parcel adds at the margin to a trip that fetches others.

    Parameters
    ----------
    fetched : the consignments the trip fetches anyway, perhaps none; all on the day of the trip
    parcel : the one more; goods of a supplier that is among them belong in its consignment instead
    """
    without = landed_trip(fetched, owner, rules, rates, overrides, allowance=allowance, with_doubts=False)
    together = (*fetched, parcel)
    among = landed_trip(together, owner, rules, rates, overrides, allowance=allowance, with_doubts=False)
    adds = sum((cost.total.amount for cost in among), ZERO) - sum((cost.total.amount for cost in without), ZERO)
    return AddedParcel(among[-1], Money(amount=adds, currency=owner.currency))


def break_even(
    collection: Collection, fetched: Sequence[LandedCost], sent: Sequence[LandedCost], owner: Owner, rates: Rates
) -> BreakEven:
    """Whether a trip costs less than having its goods sent, and how far it is from that.

    Parameters
    ----------
    fetched : the goods by the trip, from `landed_trip`
    sent : the same goods by the way they would come otherwise
    """
    currency = owner.currency
    trip = total_of(collection_cost(collection, owner, rates), currency)
    by_trip, by_door = (
        Money(amount=sum((cost.total.amount for cost in costs), ZERO), currency=currency) for costs in (fetched, sent)
    )
    saves = by_door - by_trip
    pays = saves.amount >= trip.amount
    share = float(saves.amount / trip.amount) if trip.amount else None
    if pays:
        text = f"the trip costs {trip} and the goods {saves} less than sent: it saves {saves - trip}"
    elif saves.amount <= 0:
        text = f"the goods cost no less by the trip than sent, and the trip itself costs {trip}: have them sent"
    else:
        more = trip - saves
        text = f"the trip costs {trip} and the goods {saves} less than sent: {more} short; it pays with more to fetch"
    return BreakEven(trip, by_trip, by_door, saves, pays, share, text)


def collection_problems(collection: Collection, route: Route, mass_kg: float) -> tuple[Problem, ...]:
    """Why a trip cannot fetch what it is meant to, as far as is known.

    Parameters
    ----------
    mass_kg : of all it fetches [kg]
    """
    where, found = f"collection {collection.id}", []
    weekday = collection.day.isoweekday()
    if route.open_weekdays and weekday not in route.open_weekdays:
        days = ", ".join(WEEKDAYS[day - 1] for day in sorted(route.open_weekdays))
        what = f"{route.name} is closed on a {WEEKDAYS[weekday - 1]}; it opens on {days}"
        found.append(Problem(f"{where}, day", "closed", what, str(collection.day), "Choose another day."))
    if collection.capacity_kg is not None and mass_kg > collection.capacity_kg:
        what = f"it carries {collection.capacity_kg:g} kg"
        do = "Make two trips, take a trailer, or have the heaviest sent."
        found.append(Problem(f"{where}, capacity_kg", "too-heavy", what, f"{mass_kg:g} kg", do))
    return tuple(found)


def arrival_days(collection: Collection) -> tuple[date, date]:
    """First and last day on which goods may reach the depot to be fetched: it keeps them only so long."""
    kept_days = min(round(7 * collection.storage_weeks), collection.day.toordinal() - 1)
    return collection.day - timedelta(days=kept_days), collection.day


def storage_line(collection: Collection, route: Route, arrives: date, owner: Owner, rates: Rates) -> CostLine | None:
    """What the depot asks for keeping a consignment until the trip; None if nothing.

    Parameters
    ----------
    arrives : the day it reaches the depot

    Raises
    ------
    UnknownRateError
        if the charge's currency has no rate
    """
    if route.storage_per_day is None:
        return None
    free = route.storage_free_days or 0
    days = (collection.day - arrives).days - free
    if days <= 0:
        return None
    amount = rates.convert(route.storage_per_day * days, owner.currency).rounded()
    after = f" after {free} free one{'' if free == 1 else 's'}" if free else ""
    note = f"{days} day{'' if days == 1 else 's'}{after}, at {CANONICAL.money(route.storage_per_day)} a day"
    return CostLine("storage at the depot", amount, "fee", "general.storage", note)
