"""What offers cost at the door by each way home, as straight lines in their price; worked out once for all rounds."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, TypeVar, cast

from ..build import Money
from ..build.commerce import Collection, Offer, Route, Supplier
from ..landed import (
    ChargeBand,
    Consignment,
    CostLine,
    charge_bands,
    landed_cost,
    longest_mm,
    offered_goods,
    route_problem,
    trip_allowance,
    trip_volume_m3,
)
from .demand import Way
from .offered import (
    charged_mass,
    mixed_freight,
    most_allowance_saving,
    offer_heading,
    offer_mass,
    offer_origin,
    one_unit,
    trip_cost,
)
from .situation import Situation
from .storage import kept_until

T = TypeVar("T")
PRICE_STEP = 0.02
"""Prices apart by no more than this share are taken to save alike under an allowance."""


@dataclass(frozen=True, slots=True)
class BandLine:
    """Cost and value of one unit as straight lines in its price."""

    cost_at_zero: float
    cost_slope: float
    value_slope: float

    def cost(self, price: float) -> float:
        """Cost of one unit at the door [home currency]."""
        return self.cost_at_zero + self.cost_slope * price

    def value(self, price: float) -> float:
        """What one unit counts towards the band's limits [home currency]."""
        return self.value_slope * price


class Doors:
    """Import charges of every supplier, way and offer of one situation, each asked of the rules once."""

    def __init__(self, situation: Situation) -> None:
        self.situation = situation
        self._known: dict[Hashable, Any] = {}

    def _once(self, key: Hashable, work_out: Callable[[], T]) -> T:
        if key not in self._known:
            self._known[key] = work_out()
        return cast(T, self._known[key])

    def problem(self, supplier: Supplier, way: Way) -> str:
        """Why nothing can come from a supplier by a way; empty if something can."""

        def find() -> str:
            mixed = mixed_freight(supplier, way.route)
            if mixed:
                return mixed
            found = route_problem(supplier, way.route, (), self.situation.rules.single_market)
            return "" if found is None else found.what

        return self._once(("way", supplier.id, way.key), find)

    def offer_problem(self, supplier: Supplier, way: Way, offer: Offer) -> str:
        """Why an offer can't come by a way; empty if it can."""

        def find() -> str:
            goods = (one_unit(self.situation, offer),)
            found = route_problem(supplier, way.route, goods, self.situation.rules.single_market)
            longest = None if way.collection is None else way.collection.longest_mm
            if found is None and longest is not None and longest_mm(goods) > longest:
                return f"a piece is longer than the {longest:g} mm that trip carries"
            return "" if found is None else found.what

        return self._once(("offer", way.key, offer.id), find)

    def bands(self, supplier: Supplier, way: Way, offers: list[Offer]) -> tuple[ChargeBand, ...]:
        """Charges by value of the goods, for consignments of some offers."""
        situation = self.situation

        def find() -> tuple[ChargeBand, ...]:
            return charge_bands(
                *(supplier, way.route, situation.build.owner, situation.rules, situation.rates, situation.as_of),
                situation.build.rule_overrides,
                headings=sorted({self.heading(offer) for offer in offers}, key=str),
                origins=sorted({self.origin(offer) for offer in offers}, key=str),
            )

        route = way.route.id if way.route else None
        return self._once(("bands", supplier.id, route, tuple(offer.id for offer in offers)), find)

    def lines(self, offer: Offer, way: Way, bands: tuple[ChargeBand, ...]) -> list[BandLine]:
        """One unit of an offer in each of some bands."""
        route = way.route.id if way.route else None
        return self._once(
            ("lines", offer.id, route, *map(id, bands)), lambda: [self.line(offer, way.route, band) for band in bands]
        )

    def line(self, offer: Offer, route: Route | None, band: ChargeBand) -> BandLine:
        """Cost and value of one unit of an offer in a band, as straight lines in its price."""
        heading, origin = self.heading(offer), self.origin(offer)
        mass = self._once(
            ("charged", offer.id, route.id if route else None), lambda: charged_mass(self.situation, offer, route)
        )
        currency = offer.price.currency
        zero = band.unit_cost(Money.of(0, currency), mass, heading, origin, offer.tax_included, offer.proof_of_origin)
        thousand = band.unit_cost(
            Money.of(1000, currency), mass, heading, origin, offer.tax_included, offer.proof_of_origin
        )
        value = band.value(Money.of(1000, currency), offer.tax_included)
        return BandLine(zero, (thousand - zero) / 1000, value / 1000)

    def heading(self, offer: Offer) -> str | None:
        """Tariff heading of an offer."""
        return self._once(("heading", offer.id), lambda: offer_heading(self.situation, offer))

    def origin(self, offer: Offer) -> str | None:
        """Country of making of an offer."""
        return self._once(("origin", offer.id), lambda: offer_origin(self.situation, offer))

    def mass(self, offer: Offer) -> float:
        """Mass of one unit of an offer [kg]."""
        return self._once(("mass", offer.id), lambda: offer_mass(self.situation, offer))

    def volume(self, offer: Offer) -> float:
        """Room that one unit of an offer takes, as far as its boxes are known [m³]."""
        return self._once(("volume", offer.id), lambda: trip_volume_m3((one_unit(self.situation, offer),)))

    def storage(self, collection: Collection, arrives: date) -> CostLine | None:
        """What the depot of a trip asks for keeping a consignment from a day on; None if nothing."""
        return self._once(("storage", collection.id, arrives), lambda: kept_until(self.situation, collection, arrives))

    def trip_cost(self, trip: str) -> float:
        """What making a trip costs by itself; nothing if it is made anyway, home currency."""
        collection: Collection = self.situation.build.find("collections", trip)
        return self._once(("trip", trip), lambda: 0.0 if collection.decided else trip_cost(self.situation, collection))

    def allowance(self, collection: Collection) -> float:
        """The most that the owner's allowance can save on a trip, home currency."""
        return self._once(("allowance", collection.id), lambda: most_allowance_saving(self.situation, collection))

    def relieved(self, offer: Offer, way: Way, count: int, price: float) -> float:
        """What the owner's allowance saves on so many of an offer brought alone, home currency.

        Parameters
        ----------
        price : of one, in the offer's currency
        """
        if way.collection is None or price <= 0 or self.allowance(way.collection) <= 0:
            return 0.0
        step = round(math.log(price) / PRICE_STEP)
        at = math.exp(step * PRICE_STEP)
        saved = self._once(("relieved", offer.id, way.key, count, step), lambda: self._saving(offer, way, count, at))
        return saved * price / at

    def _saving(self, offer: Offer, way: Way, count: int, price: float) -> float:
        build, collection = self.situation.build, way.collection
        assert collection is not None
        supplier = build.find("suppliers", offer.supplier)
        goods = offered_goods(build, offer, count, Money.of(round(price, 2), offer.price.currency))
        goods = replace(goods, mass_kg=self.mass(offer) * count)
        freight = Money.of(0, supplier.currency)
        consignment = Consignment(supplier, way.route, (goods,), freight, offer.tax_included, collection.day)
        given = (build.owner, self.situation.rules, self.situation.rates, build.rule_overrides)
        without = landed_cost(consignment, *given, with_doubts=False)
        allowed = landed_cost(consignment, *given, allowance=trip_allowance(build, collection), with_doubts=False)
        return max(0.0, float(without.exact - allowed.exact))


def half_a_step(supplier: Supplier, route: Route | None, band: ChargeBand) -> float:
    """What taking a consignment's mass up to a whole step of the carrier adds on average, home currency."""
    if route is None or not route.mass_step_kg:
        return 0.0
    return band.unit_cost(Money.of(0, supplier.currency), route.mass_step_kg / 2)
