"""A build's offers at the door: each alone and each supplier's together, by every way home."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from pydantic import ValidationError

from ..build.commerce import Collection, Offer, Route, Supplier
from ..build.document import Build
from ..build.errors import Refused
from ..build.facts import Facts, offer_contents
from ..build.money import MAX_AMOUNT, Money, Rates, UnknownRateError
from ..build.owner import Owner
from ..build.problem import Assumption, Problem
from .core import core_assumed, with_core
from .fetching import BreakEven, best_fetched, collection_problems, next_allowance, trip_allowance, weighed
from .freight import chargeable_mass_kg, collection_cost, freight_for, girth_mm
from .model import Consignment, CostLine, Goods, LandedCost, TravelAllowance, total_of
from .quote import landed_trip
from .rules import RuleSet

UNKNOWN_COUNTRIES = ("ZZ", "XX")


@dataclass(frozen=True, slots=True)
class WayHome:
    """Goods by one way home: what they cost at the door, or why they cannot come that way.

    Parameters
    ----------
    fetched : the owner goes for them, and what the trip itself costs is left out
    """

    name: str
    cost: LandedCost | None
    refused: str = ""
    fetched: bool = False


@dataclass(frozen=True, slots=True)
class AtTheDoor:
    """Goods of one supplier by each way home.

    Parameters
    ----------
    what : id of the offer, or how many offers travel together
    """

    supplier: str
    what: str
    ways: tuple[WayHome, ...]


@dataclass(frozen=True, slots=True)
class TripAtTheDoor:
    """What a trip costs by itself, which all it fetches shares.

    Parameters
    ----------
    against : what the missing parts cost fetched by it and sent otherwise; None where none can come both ways
    """

    collection: str
    day: date
    place: str
    lines: tuple[CostLine, ...]
    total: Money
    against: BreakEven | None = None


@dataclass(frozen=True, slots=True)
class OffersReport:
    """What the offers of a build cost at the door.

    Parameters
    ----------
    together : by supplier, what it offers of the parts still missing, in one consignment
    alone : by offer, one unit
    trips : collections to come; goods fetched on one trip share its cost and the owner's one travel allowance, so rows
        that are fetched cannot simply be added up
    unpriced : parts still missing that nobody offers
    """

    together: tuple[AtTheDoor, ...]
    alone: tuple[AtTheDoor, ...]
    trips: tuple[TripAtTheDoor, ...]
    unpriced: tuple[str, ...]
    assumptions: tuple[Assumption, ...]


def offers_at_the_door(
    build: Build, facts: Facts, rules: RuleSet, rates: Rates, offers: Sequence[str] = ()
) -> OffersReport:
    """What a build's offers cost at the door on the day of its facts.

    Parameters
    ----------
    offers : ids of the offers wanted; all that can be had that day if left out, and then the suppliers' totals too

    Raises
    ------
    Refused
        if an offer is not in the build
    """
    desk = _Desk(build, facts, rules, rates)
    chosen = _chosen(build, facts, offers)
    suppliers, said = {}, []
    for supplier in build.suppliers:
        suppliers[supplier.id], guess = placed_supplier(supplier, build.owner)
        said += guess
    said += [core_assumed(offer) for offer in chosen if offer.core_charge is not None]
    alone = tuple(desk.alone(offer, suppliers[offer.supplier]) for offer in chosen)
    rows = () if offers else (desk.together(supplier, chosen) for supplier in suppliers.values())
    offered = {part for offer in build.offers for part in offer_contents(build, offer)}
    unpriced = tuple(sorted(part for part in desk.missing(facts.wanted_parts) if part not in offered))
    trips = () if offers else tuple(desk.trips(suppliers.values(), chosen))
    return OffersReport(tuple(row for row in rows if row), alone, trips, unpriced, tuple(said))


def baskets_at_the_door(
    build: Build, facts: Facts, rules: RuleSet, rates: Rates, suppliers: Sequence[str] = ()
) -> tuple[AtTheDoor, ...]:
    """What each supplier offers of the missing parts, in one consignment, by each way home.

    Parameters
    ----------
    suppliers : ids of those wanted; all if left out
    """
    desk, chosen = _Desk(build, facts, rules, rates), _chosen(build, facts, ())
    rows = (
        desk.together(placed_supplier(supplier, build.owner)[0], chosen)
        for supplier in build.suppliers
        if not suppliers or supplier.id in suppliers
    )
    return tuple(row for row in rows if row is not None)


def baskets_for_trip(
    build: Build, facts: Facts, rules: RuleSet, rates: Rates, collection: Collection
) -> Mapping[str, Consignment]:
    """What each supplier whose goods can go to a trip's depot offers of the missing parts, as a parcel of the trip."""
    desk, chosen = _Desk(build, facts, rules, rates), _chosen(build, facts, ())
    return {
        supplier.id: replace(consignment, day=collection.day)
        for supplier in (placed_supplier(one, build.owner)[0] for one in build.suppliers)
        for consignment in [desk.parcel(supplier, build.find("routes", collection.route), chosen)]
        if consignment is not None
    }


def _chosen(build: Build, facts: Facts, wanted: Sequence[str]) -> tuple[Offer, ...]:
    unknown = [id_ for id_ in wanted if id_ not in build.index["offers"]]
    if unknown:
        raise Refused(
            Problem(f"offer {id_}", "refers-to-nothing", "there is no such offer in the build", id_, "Check the id.")
            for id_ in unknown
        )
    if wanted:
        return tuple(build.find("offers", id_) for id_ in dict.fromkeys(wanted))
    open_ones = [o for o in build.offers if o.available_until is None or o.available_until >= facts.as_of]
    return tuple(sorted(open_ones, key=lambda offer: offer.id))


def placed_supplier(supplier: Supplier, owner: Owner) -> tuple[Supplier, list[Assumption]]:
    """The supplier with a country: the one given, or where that is ZZ (unknown) one its currency points to, said aloud.

    Examples
    --------
    >>> unknown = Supplier(id="a", name="A", country="ZZ", currency="GBP")
    >>> supplier, (guess,) = placed_supplier(unknown, Owner())
    >>> supplier.country, guess.code
    ('GB', 'country-guessed')
    """
    if supplier.country not in UNKNOWN_COUNTRIES:
        return supplier, []
    if supplier.currency == owner.currency:
        country, why = owner.country, "its prices are in the home currency"
    else:
        country, why = supplier.currency[:2], f"its prices are in {supplier.currency}"
    text = f"{supplier.name}: its country is not known and guessed to be {country}, because {why}; please correct it"
    guess = Assumption("country-guessed", f"supplier {supplier.id}", text)
    return supplier.model_copy(update={"country": country}), [guess]


@dataclass(frozen=True, slots=True)
class _Desk:
    """Quotes goods of one build on one day."""

    build: Build
    facts: Facts
    rules: RuleSet
    rates: Rates

    def missing(self, parts: Iterable[str]) -> dict[str, float]:
        """Wanted ones of some parts and how many of each are neither owned nor on their way."""
        counts = {part: self.facts.missing(self.build, part) for part in parts if part in self.facts.wanted_parts}
        return {part: count for part, count in counts.items() if count > 0}

    def alone(self, offer: Offer, supplier: Supplier) -> AtTheDoor:
        """One unit of an offer by each way home."""
        ways = tuple(self._quote(supplier, route, [(offer, 1)]) for route in self._routes(supplier))
        return AtTheDoor(supplier.name, offer.id, ways)

    def together(self, supplier: Supplier, offers: Sequence[Offer]) -> AtTheDoor | None:
        """All a supplier offers of what is missing, in one consignment by each way home."""
        chosen = list(self._needed([offer for offer in offers if offer.supplier == supplier.id]))
        if not chosen:
            return None
        what = f"{len(chosen)} offers" if len(chosen) > 1 else chosen[0][0].id
        return AtTheDoor(
            supplier.name, what, tuple(self._quote(supplier, route, chosen) for route in self._routes(supplier))
        )

    def parcel(self, supplier: Supplier, depot: Route, offers: Sequence[Offer]) -> Consignment | None:
        """All a supplier offers of what is missing, fetched from a depot; None if nothing, or it can't be."""
        chosen = list(self._needed([offer for offer in offers if offer.supplier == supplier.id]))
        if not chosen or depot not in self._routes(supplier):
            return None
        found = self._consignment(supplier, depot, chosen)
        return found if isinstance(found, Consignment) else None

    def trips(self, suppliers: Iterable[Supplier], offers: Sequence[Offer]) -> Iterable[TripAtTheDoor]:
        """Collections to come, each with what it costs, and against having the missing parts sent."""
        selling = tuple(suppliers)
        for trip in sorted(self.build.collections, key=lambda trip: (trip.day, trip.id)):
            if trip.day >= self.facts.as_of:
                lines = collection_cost(trip, self.build.owner, self.rates)
                total = total_of(lines, self.build.owner.currency)
                yield TripAtTheDoor(trip.id, trip.day, trip.place, lines, total, self._against(trip, selling, offers))

    def _against(self, trip: Collection, suppliers: Iterable[Supplier], offers: Sequence[Offer]) -> BreakEven | None:
        """The missing parts of suppliers whose goods can be fetched on a trip or sent, both ways."""
        depot = self.build.find("routes", trip.route)
        fetched, sent = [], []
        for supplier in suppliers:
            chosen = list(self._needed([offer for offer in offers if offer.supplier == supplier.id]))
            routes = self._routes(supplier)
            if not chosen or depot not in routes:
                continue
            others = [self._quote(supplier, way, chosen) for way in routes if way is None or way.kind != "collection"]
            costs = [way.cost for way in others if way.cost is not None]
            consignment = self._consignment(supplier, depot, chosen)
            if costs and isinstance(consignment, Consignment):
                fetched.append(replace(consignment, day=trip.day))
                sent.append(min(costs, key=lambda cost: cost.exact))
        if not fetched:
            return None
        return trip_against(self.build, trip, fetched, sent, self.rules, self.rates)

    def _needed(self, offers: Sequence[Offer]) -> Iterable[tuple[Offer, int]]:
        """Units of each offer that bring what is missing: single parts first, the cheapest of them, each part once."""
        contents = {offer.id: offer_contents(self.build, offer) for offer in offers}
        left = self.missing({part for brings in contents.values() for part in brings})
        for offer in sorted(offers, key=lambda offer: (offer.kit is not None, offer.price.amount, offer.id)):
            brings = contents[offer.id]
            wanted = [math.ceil(left[part] / count - 1e-9) for part, count in brings.items() if part in left]
            if wanted:
                yield offer, max(wanted)
                for part in brings:
                    left.pop(part, None)

    def _routes(self, supplier: Supplier) -> Sequence[Route | None]:
        """The routes a supplier states freight for; else those from its country; else its own delivery."""
        stated = [self.build.find("routes", terms.route) for terms in supplier.freight]
        return stated or [route for route in self.build.routes if route.from_country == supplier.country] or [None]

    def _quote(self, supplier: Supplier, route: Route | None, chosen: Sequence[tuple[Offer, int]]) -> WayHome:
        name = route.name if route is not None else "own delivery"
        consignment = self._consignment(supplier, route, chosen)
        if isinstance(consignment, str):
            return WayHome(name, None, consignment)
        return way_home(
            name, consignment, self.build, self.rules, self.rates, next_allowance(self.build, route, self.facts.as_of)
        )

    def _consignment(
        self, supplier: Supplier, route: Route | None, chosen: Sequence[tuple[Offer, int]]
    ) -> Consignment | str:
        """Offers of a supplier as one consignment, or why they cannot be one."""
        if any(offer.price.amount * count > MAX_AMOUNT for offer, count in chosen):
            return "an amount is beyond a million million"
        try:
            paid = [(offer, count, with_core(offer, offer.price, self.rates)) for offer, count in chosen]
        except UnknownRateError as error:
            return f"{error}; enter one among the rates of the build"
        goods = tuple(offered_goods(self.build, offer, count, price) for offer, count, price in paid)
        currencies = sorted({item.value.currency for item in goods})
        if len(currencies) > 1:
            return f"its offers are in several currencies ({', '.join(currencies)})"
        try:
            value = sum((item.value for item in goods[1:]), goods[0].value)
            freight = freight_for(supplier, route, value, chargeable_mass_kg(goods, route))
        except ValidationError:
            return "an amount is beyond a million million"
        except ValueError as error:
            return str(error)
        included = {offer.tax_included for offer, _ in chosen}
        stated = included.pop() if len(included) == 1 else None
        return Consignment(supplier, route, goods, freight, stated, self.facts.as_of)


def trip_against(
    build: Build,
    trip: Collection,
    fetched: Sequence[Consignment],
    sent: Sequence[LandedCost],
    rules: RuleSet,
    rates: Rates,
    *,
    anyway: Sequence[Consignment] = (),
) -> BreakEven | None:
    """A trip against having goods sent, with those on it that are best fetched; None where it can't be reckoned.

    Parameters
    ----------
    fetched : what could come by the trip; sent : what each costs by its cheapest other way
    anyway : what has no other way home: it takes its part of room and allowance, and is in neither sum
    """
    allowance = trip_allowance(build, trip)
    depot: Route = build.find("routes", trip.route)

    def on_trip(places: Sequence[int]) -> list[Consignment]:
        return [*anyway, *(fetched[at] for at in places)]

    def cost(places: Sequence[int]) -> Decimal:
        given = (build.owner, rules, rates, build.rule_overrides)
        costs = landed_trip(on_trip(places), *given, allowance=allowance, with_doubts=False)
        return sum((each.total.amount for each in costs), Decimal(0))

    def carried(places: tuple[int, ...]) -> Decimal | None:
        goods = [item for consignment in on_trip(places) for item in consignment.goods]
        carries = {problem.code for problem in collection_problems(trip, depot, goods)} <= {"closed"}
        return cost(places) - alone if carries else None

    try:
        alone = cost(())
        best = best_fetched([each.total.amount for each in sent], carried) or tuple(range(len(fetched)))
        left = [fetched[at].supplier.name for at in range(len(fetched)) if at not in best]
        by_trip = cost(best) - alone
        by_door = sum((sent[at].total.amount for at in best), Decimal(0))
        home = build.owner.currency
        by_both = [Money(amount=amount, currency=home) for amount in (by_trip, by_door)]
        return weighed(trip, by_both[0], by_both[1], build.owner, rates, left=left)
    except (Refused, UnknownRateError):
        return None


def offered_goods(build: Build, offer: Offer, count: float, price: Money) -> Goods:
    """So many of an offer at a unit price, as goods of a consignment."""
    contents = [(build.find("parts", part), each) for part, each in offer_contents(build, offer).items()]
    headings = {part.heading for part, _ in contents}
    origins = {part.origin for part, _ in contents}
    masses = [part.mass_kg * each for part, each in contents if part.mass_kg is not None]
    boxes = [part.box_mm for part, _ in contents if part.box_mm]
    volumes = [math.prod(part.box_mm) / 1000 * each for part, each in contents if part.box_mm]
    whole = len(volumes) == len(contents)
    return Goods(
        label=offer.id,
        value=price * Decimal(str(count)),
        quantity=count,
        mass_kg=sum(masses) * count if len(masses) == len(contents) else None,
        heading=headings.pop() if len(headings) == 1 else None,
        origin=origins.pop() if len(origins) == 1 else None,
        kind="set" if offer.kit is not None and count == 1 else "goods",
        length_mm=max((max(box) for box in boxes), default=None),
        box_mm=max(boxes, key=lambda box: (girth_mm(box), box), default=None),
        volume_cm3=sum(volumes) * count if whole else None,
        proof=offer.proof_of_origin,
    )


def way_home(
    name: str, consignment: Consignment, build: Build, rules: RuleSet, rates: Rates, allowance: TravelAllowance
) -> WayHome:
    """One consignment by one way home; a refusal or a missing rate becomes words."""
    try:
        (cost,) = landed_trip([consignment], build.owner, rules, rates, build.rule_overrides, allowance=allowance)
    except Refused as refusal:
        return WayHome(name, None, "; ".join(problem.what for problem in refusal.problems))
    except UnknownRateError as error:
        return WayHome(name, None, f"{error}; enter one among the rates of the build")
    fetched = consignment.route is not None and consignment.route.kind == "collection"
    return WayHome(name, cost, fetched=fetched)
