"""Goods outside a build's offers by every way home: the build's own ways, and the usual kinds it has none of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType
from typing import Final, Literal

from ..build.commerce import Route, Supplier
from ..build.document import Build
from ..build.money import Money, Rates
from ..build.problem import Assumption
from .fetching import next_allowance
from .freight import chargeable_mass_kg, freight_for
from .model import Consignment, Goods, TravelAllowance
from .offers import WayHome, way_home
from .rules import RuleSet

PLAIN_WAYS: Final[Mapping[str, str]] = MappingProxyType({
    "courier": "Any courier",
    "post": "The post",
    "freight": "Freight on a pallet",
    "delivery": "The seller's own delivery",
})  # fmt: skip
SENT: Final[tuple[Literal["courier", "post", "freight"], ...]] = ("courier", "post", "freight")


@dataclass(frozen=True, slots=True)
class AskedGoods:
    """Goods that travel together, outside the offers of a build.

    Parameters
    ----------
    goods : all priced in the seller's currency
    route : the one way home that is asked for; empty for every one
    freight : what is asked for sending it, by every way home; it counts for one that is fetched only where no other
        is asked about; None: by the seller's terms, if they are known
    inland : the part of that freight which lies beyond the border, where it is shown apart
    """

    seller: Supplier
    goods: tuple[Goods, ...]
    freight: Money | None
    tax_included: bool | None
    route: str = ""
    gift: bool = False
    returning: bool = False
    inland: Money | None = None

    @property
    def value(self) -> Money:
        """What all of it costs, as offered."""
        return sum((item.value for item in self.goods[1:]), self.goods[0].value)


def ways_for(build: Build, asked: AskedGoods, day: date, single_market: frozenset[str]) -> list[Route | None]:
    """Every way home for goods: the build's routes from their country, and the usual kinds it has none of."""
    start = asked.seller.country
    mine = [route for route in build.routes if route.from_country == start]
    stated = {terms.route for terms in asked.seller.freight}
    found: list[Route | None] = [route for route in mine if not stated or route.id in stated]
    kinds = {route.kind for route in mine}
    usual = () if stated else [kind for kind in SENT if kind not in kinds]
    found += [
        Route(id=f"any-{kind}", name=PLAIN_WAYS[kind], kind=kind, from_country=start, fees_as_of=day) for kind in usual
    ]
    if start in single_market and not found:
        found.append(None)
    chosen = [route for route in found if asked.route in ("", "any-delivery" if route is None else route.id)]
    wanted = build.index["routes"].get(asked.route)
    return chosen or ([wanted] if wanted is not None else found)


def by_every_way(
    build: Build,
    asked: AskedGoods,
    ways: Sequence[Route | None],
    rules: RuleSet,
    rates: Rates,
    day: date,
    *,
    allowance: TravelAllowance | None = None,
) -> list[WayHome]:
    """Goods by each of some ways home, on a day.

    Parameters
    ----------
    allowance : how the owner travels to fetch them; as on the next trip to the depot if left out
    """
    alone = len(ways) == 1
    fetched = replace(asked, freight=None, inland=None)
    return [
        _by(build, asked if alone or route is None or route.kind != "collection" else fetched,
            route, rules, rates, day, allowance or next_allowance(build, route, day))
        for route in ways
    ]  # fmt: skip


def _by(
    build: Build,
    asked: AskedGoods,
    route: Route | None,
    rules: RuleSet,
    rates: Rates,
    day: date,
    allowance: TravelAllowance,
) -> WayHome:
    name = route.name if route is not None else PLAIN_WAYS["delivery"]
    freight = asked.freight
    if freight is None:
        try:
            freight = freight_for(asked.seller, route, asked.value, chargeable_mass_kg(asked.goods, route))
        except ValueError as error:
            return WayHome(name, None, str(error))
    consignment = Consignment(
        asked.seller, route, asked.goods, freight, asked.tax_included, day,
        freight_inland=asked.inland, gift=asked.gift, returning=asked.returning,
    )  # fmt: skip
    return way_home(name, consignment, build, rules, rates, allowance)


def unknown_fees(
    asked: AskedGoods, ways: Sequence[Route | None], single_market: frozenset[str]
) -> Iterator[Assumption]:
    """What is not counted, because nothing tells it."""
    plain = any(route is not None and route.id.startswith("any-") for route in ways)
    if plain and asked.seller.country not in single_market:
        text = (
            "fees for entry and for advancing duty and tax are not known where the build has no route: none are counted"
        )
        yield Assumption("carrier-unknown", "goods", text)
