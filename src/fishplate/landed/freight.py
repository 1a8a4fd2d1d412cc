"""Freight, limits of a route, and what a trip to fetch goods costs."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from ..build.commerce import Collection, FreightTerms, Route, Supplier
from ..build.money import Money, Rates
from ..build.owner import Owner
from ..build.problem import Assumption, Problem
from .model import CostLine, Goods, LineKind
from .rules import practice_value


def freight_terms(supplier: Supplier, route: Route | None) -> FreightTerms | None:
    """The supplier's freight terms for a route, if it has any."""
    return next((terms for terms in supplier.freight if route is not None and terms.route == route.id), None)


def freight_for(supplier: Supplier, route: Route | None, goods_value: Money, mass_kg: float | None) -> Money:
    """What a supplier asks for freight, without the route's fuel surcharge.

    Parameters
    ----------
    goods_value : the order at offered prices
    mass_kg : mass of the order [kg]; None: not known, freight by mass is then left out

    Returns
    -------
    freight in the currency of the terms; zero where there are none, see `freight_assumption`

    Raises
    ------
    ValueError
        if the goods are not in the currency that free freight is stated in
    """
    terms = freight_terms(supplier, route)
    if terms is None:
        return Money(amount=Decimal(0), currency=supplier.currency)
    if terms.free_from is not None:
        if goods_value.currency != terms.free_from.currency:
            raise ValueError(f"free freight is stated in {terms.free_from.currency}, goods in {goods_value.currency}")
        if goods_value.amount >= terms.free_from.amount:
            return Money(amount=Decimal(0), currency=terms.fixed.currency)
    if terms.per_kg is None or mass_kg is None:
        return terms.fixed
    return terms.fixed + terms.per_kg * Decimal(str(mass_kg))


def freight_assumption(supplier: Supplier, route: Route | None, mass_kg: float | None) -> Assumption | None:
    """What is taken for granted about freight; None if nothing is."""
    about = f"supplier {supplier.id}"
    terms = freight_terms(supplier, route)
    if terms is None:
        way = f"by {route.name}" if route is not None else "for its own delivery"
        return Assumption("freight-unknown", about, f"{supplier.name} gives no freight {way}: none is counted")
    if terms.per_kg is not None and mass_kg is None:
        return Assumption("mass-unknown", about, f"a mass is not known: freight by mass of {supplier.name} is left out")
    return None


def route_problem(
    supplier: Supplier, route: Route | None, goods: Sequence[Goods], single_market: frozenset[str]
) -> Problem | None:
    """Why goods cannot come home by a route; None if they can as far as is known.

    Parameters
    ----------
    single_market : countries between which nothing is imported
    """
    if route is None:
        return None
    where = f"route {route.id}"
    start, seller = route.from_country, supplier.country
    if start != seller and not (start in single_market and seller in single_market):
        what = f"goods of {seller} would first be brought to {start}, and there are no rules yet for that"
        return Problem(where, "two-borders", what, "", f"Use a route from {seller}.")
    mass = sum(item.mass_kg or 0 for item in goods)
    if route.max_mass_kg is not None and mass > route.max_mass_kg:
        what = f"the consignment is heavier than the {route.max_mass_kg:g} kg this route takes"
        return Problem(where, "too-heavy", what, f"{mass:g} kg", "Use another route.")
    length = max((item.length_mm or 0 for item in goods), default=0)
    if route.max_length_mm is not None and length > route.max_length_mm:
        what = f"a piece is longer than the {route.max_length_mm:g} mm this route takes"
        return Problem(where, "too-long", what, f"{length:g} mm", "Use another route.")
    return None


def collection_cost(collection: Collection, owner: Owner, rates: Rates) -> tuple[CostLine, ...]:
    """What a trip itself costs, own hours at the owner's worth of an hour included.

    Returns
    -------
    lines in home currency, rounded to the minor unit; a note says where a default was used

    Raises
    ------
    UnknownRateError
        if a currency has no rate
    """
    per_km, said = collection.per_km, ""
    if per_km is None:
        per_km, said = Money(amount=practice_value("general.per_km"), currency="EUR"), ", assumed"
    distance = Decimal(str(collection.distance_km))
    lines = []
    if distance:
        note = f"{collection.distance_km:g} km at {per_km.amount:f} {per_km.currency} a km{said}"
        rule = "general.per_km" if said else "general.trip"
        lines.append(("driving", per_km * distance, rule, note))
    for label, money in (("ferry", collection.ferry), ("tolls", collection.tolls)):
        if money is not None and money.amount:
            lines.append((label, money, "general.trip", "as entered for the trip"))
    if collection.hours:
        worth = owner.hour_worth if owner.hour_worth is not None else practice_value("general.hour_worth")
        said = "" if owner.hour_worth is not None else ", assumed"
        hours = Money(amount=worth * Decimal(str(collection.hours)), currency=owner.currency)
        note = f"{collection.hours:g} h at {worth:f} {owner.currency}{said}"
        lines.append(("own hours", hours, "general.hour_worth", note))
    kind: LineKind = "freight"
    return tuple(
        CostLine(label, rates.convert(money, owner.currency).rounded(), kind, rule, note)
        for label, money, rule, note in lines
    )
