"""Fetching goods oneself: what a parcel adds to a trip, when the trip pays, and what the depot makes of it."""

from __future__ import annotations

from collections.abc import Callable, Container, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations

from ..build.commerce import Collection, Route, RuleOverride
from ..build.document import Build
from ..build.events import Order
from ..build.money import Money, Rates
from ..build.owner import Owner
from ..build.problem import Problem
from .figures import money_words
from .freight import collection_cost, volume_cm3
from .model import Consignment, CostLine, Goods, LandedCost, TravelAllowance, total_of
from .quote import landed_trip
from .rules import RuleSet

ZERO = Decimal(0)
MOST_TRIED = 6
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
    left : whose goods are better sent, and in neither sum
    """

    trip: Money
    fetched: Money
    sent: Money
    saves: Money
    pays: bool
    share: float | None
    text: str
    left: tuple[str, ...] = ()


def trip_allowance(build: Build, collection: Collection, planned: Container[str] = ()) -> TravelAllowance:
    """The owner's own allowance on a trip; by sea where there is a ferry and nothing else is said.

    An earlier trip abroad that was fixed, planned, or that an order was placed for, is taken to have used it.

    Parameters
    ----------
    planned : trips that are made beside those that are fixed
    """
    made = [trip for trip in build.collections if trip.id in planned or _is_made(build, trip)]
    before = [trip for trip in made if _when(trip) < _when(collection)]
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
    collection: Collection,
    fetched: Sequence[LandedCost],
    sent: Sequence[LandedCost],
    owner: Owner,
    rates: Rates,
    *,
    storage: Money | None = None,
) -> BreakEven:
    """Whether a trip costs less than having its goods sent, and how far it is from that.

    Parameters
    ----------
    fetched : the goods by the trip, from `landed_trip`; storage : what the depot asks for keeping them
    sent : the same goods by the way they would come otherwise
    """
    nothing = Money(amount=ZERO, currency=owner.currency)
    by_trip, by_door = (sum((cost.total for cost in costs), nothing) for costs in (fetched, sent))
    return weighed(collection, by_trip + (storage or nothing), by_door, owner, rates)


def weighed(
    collection: Collection, fetched: Money, sent: Money, owner: Owner, rates: Rates, *, left: Sequence[str] = ()
) -> BreakEven:
    """A trip against having its goods sent, from what they cost fetched and sent; see `break_even`.

    Parameters
    ----------
    left : whose goods are better sent, and in neither
    """
    trip = total_of(collection_cost(collection, owner, rates), owner.currency)
    saves = sent - fetched
    still = ZERO if collection.decided else trip.amount
    pays = bool(fetched.amount or sent.amount) and saves.amount >= still
    share = float(saves.amount / trip.amount) if trip.amount else None
    text = _verdict(collection, trip, saves, pays=pays)
    if left:
        text += f"; what comes from {', '.join(left)} is better sent"
    return BreakEven(trip, fetched, sent, saves, pays, share, text, tuple(left))


def _verdict(collection: Collection, trip: Money, saves: Money, *, pays: bool) -> str:
    """How a trip stands to having its goods sent; what a fixed trip costs is spent whatever comes by it."""
    cost, less = money_words(trip), money_words(saves)
    if collection.decided:
        made = f"the trip is made anyway, so its {cost} count on neither side"
        return f"{made}, and the goods cost {less} less than sent" if pays else f"{made}; the goods cost less sent"
    if pays:
        return f"the trip costs {cost} and the goods {less} less than sent: it saves {money_words(saves - trip)}"
    if saves.amount <= 0:
        return f"the goods cost no less by the trip than sent, and the trip itself costs {cost}: have them sent"
    more = money_words(trip - saves)
    return f"the trip costs {cost} and the goods {less} less than sent: {more} short; it pays with more to fetch"


def best_fetched(sent: Sequence[Decimal], fetched_for: Callable[[tuple[int, ...]], Decimal | None]) -> tuple[int, ...]:
    """Which of some parcels cost least fetched, the others sent; the trip's own cost is left out.

    Parameters
    ----------
    sent : what each costs sent
    fetched_for : what those at some places cost on one trip together; None where it cannot carry them

    Notes
    -----
    Every choice is tried up to six parcels. Beyond that, parcels are taken off one by one while that saves, which is as
    good where they do not share an allowance, and near where they do.

    Examples
    --------
    >>> best_fetched([Decimal(100), Decimal(50)], lambda places: Decimal(60) * len(places))
    (0,)
    """
    places = tuple(range(len(sent)))

    def cost(chosen: tuple[int, ...]) -> Decimal | None:
        by_trip = fetched_for(chosen)
        return None if by_trip is None else by_trip + sum((sent[at] for at in places if at not in chosen), ZERO)

    if len(places) <= MOST_TRIED:
        every = [chosen for count in range(len(places), -1, -1) for chosen in combinations(places, count)]
        known = [(total, chosen) for chosen in every if (total := cost(chosen)) is not None]
        return min(known, key=lambda pair: pair[0], default=(ZERO, ()))[1]
    now, total = places, cost(places)
    while now:
        fewer = [(now[:at] + now[at + 1 :]) for at in range(len(now))]
        costs = [(chosen, cost(chosen)) for chosen in fewer]
        known = [(found, chosen) for chosen, found in costs if found is not None]
        if not known:
            now = now[:-1]
            continue
        found, chosen = min(known, key=lambda pair: pair[0])
        if total is not None and found >= total:
            break
        now, total = chosen, found
    return now


def collection_problems(collection: Collection, route: Route, goods: Sequence[Goods]) -> tuple[Problem, ...]:
    """Why a trip cannot fetch what it is meant to, as far as is known.

    Parameters
    ----------
    goods : all it fetches
    """
    where, found = f"collection {collection.id}", []
    weekday = collection.day.isoweekday()
    if route.open_weekdays and weekday not in route.open_weekdays:
        days = ", ".join(WEEKDAYS[day - 1] for day in sorted(route.open_weekdays))
        what = f"{route.name} is closed on a {WEEKDAYS[weekday - 1]}; it opens on {days}"
        found.append(Problem(f"{where}, day", "closed", what, str(collection.day), "Choose another day."))
    mass, volume, length = sum(item.mass_kg or 0.0 for item in goods), trip_volume_m3(goods), longest_mm(goods)
    if collection.capacity_kg is not None and mass > collection.capacity_kg:
        what = f"it carries {collection.capacity_kg:g} kg"
        do = "Make two trips, take a trailer, or have the heaviest sent."
        found.append(Problem(f"{where}, capacity_kg", "too-heavy", what, f"{mass:g} kg", do))
    if collection.capacity_m3 is not None and volume > collection.capacity_m3:
        what = f"it has room for {collection.capacity_m3:g} m³"
        do = "Make two trips, take a trailer, or have the bulkiest sent."
        found.append(Problem(f"{where}, capacity_m3", "too-bulky", what, f"{volume:.3g} m³", do))
    if collection.longest_mm is not None and length > collection.longest_mm:
        what = f"the longest piece it carries is {collection.longest_mm:g} mm"
        do = "Take a longer trailer or a roof rack, or have the piece sent."
        found.append(Problem(f"{where}, longest_mm", "too-long", what, f"{length:g} mm", do))
    return tuple(found)


def trip_volume_m3(goods: Sequence[Goods]) -> float:
    """Room that goods take, as far as their boxes are known [m³]."""
    return sum(volume_cm3(item) or 0.0 for item in goods) / 1e6


def longest_mm(goods: Sequence[Goods]) -> float:
    """Longest side of any piece, as far as is known [mm]."""
    return max((max(item.length_mm or 0.0, *(item.box_mm or (0.0,))) for item in goods), default=0.0)


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
    note = f"{days} day{'' if days == 1 else 's'}{after}, at {money_words(route.storage_per_day)} a day"
    return CostLine("storage at the depot", amount, "fee", "general.storage", note)
