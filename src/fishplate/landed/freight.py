"""Freight, limits of a route, and what a trip to fetch goods costs."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

from ..build.commerce import Collection, FreightTerms, Route, Supplier
from ..build.defaults import hour_worth
from ..build.money import Money, Rates
from ..build.owner import Owner
from ..build.problem import Assumption, Problem
from .figures import limit_words
from .model import Consignment, CostLine, Goods, LineKind
from .rules import practice_of, practice_value

# Chapter 77 is empty, and 98 and 99 hold what nations put there, not goods (Harmonized System).
_HEADING = re.compile(r"(?!00|77|98|99)[0-9]{4}([0-9]{2}){0,3}")
_COUNTRY = re.compile(r"[A-Z]{2}")


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
        if route is not None and route.kind == "collection":
            text = f"what {supplier.name} asks to bring it to where it is fetched is not known: none is counted"
            return Assumption("freight-unknown", about, text)
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
    length = max((max(item.length_mm or 0, *(item.box_mm or (0,))) for item in goods), default=0)
    if route.max_length_mm is not None and length > route.max_length_mm:
        what = f"a piece is longer than the {route.max_length_mm:g} mm this route takes"
        return Problem(where, "too-long", what, f"{length:g} mm", "Use another route.")
    girth = max((girth_mm(item.box_mm) for item in goods if item.box_mm), default=0)
    if route.max_girth_mm is not None and girth > route.max_girth_mm:
        what = f"length and girth of a piece are more than the {route.max_girth_mm:g} mm this route takes"
        return Problem(where, "too-bulky", what, f"{girth:g} mm", "Use another route.")
    return None


def unchecked_limits(goods: Sequence[Goods], route: Route | None) -> Iterable[Assumption]:
    """Limits of a route that can't be held against goods, because a mass or a size is not known."""
    if route is None:
        return
    about = f"route {route.id}"
    if route.max_mass_kg is not None and any(item.mass_kg is None for item in goods):
        yield Assumption("mass-limit", about, f"a mass is not known: that {route.name} takes it is not checked")
    sized = route.max_length_mm is not None or route.max_girth_mm is not None
    unsized = any(item.box_mm is None and (item.length_mm is None or route.max_girth_mm is not None) for item in goods)
    if sized and unsized:
        yield Assumption("size-limit", about, f"a size is not known: that {route.name} takes it is not checked")
    if route.volumetric_cm3_per_kg and any(volume_cm3(item) is None for item in goods):
        text = f"a size is not known: if it is bulky, {route.name} charges for more than its mass"
        yield Assumption("volume-missing", about, text)


def girth_mm(box_mm: tuple[float, float, float]) -> float:
    """Longest side, and twice the other two [mm]."""
    short, middle, long = sorted(box_mm)
    return long + 2 * (short + middle)


def chargeable_mass_kg(goods: Sequence[Goods], route: Route | None) -> float | None:
    """The mass a carrier charges: the true one or the volume by its divisor, whichever is more.

    Parameters
    ----------
    goods : with the mass of all units, and the box of one unit
    route : with the carrier's divisor [cm³/kg] and step [kg], where it has them

    Returns
    -------
    [kg], up to the next whole step; None where a mass is not known

    Examples
    --------
    >>> from fishplate.build import Money
    >>> parcel = Goods("lamp", Money.of(10, "EUR"), 1, 4.0, box_mm=(400, 400, 500))
    >>> way = Route(id="way", name="Way", kind="courier", from_country="GB", volumetric_cm3_per_kg=5000)
    >>> chargeable_mass_kg([parcel], way)
    16.0
    """
    if any(item.mass_kg is None for item in goods):
        return None
    total = 0.0
    for item in goods:
        charged, volume = item.mass_kg or 0.0, volume_cm3(item)
        if route is not None and route.volumetric_cm3_per_kg and volume is not None:
            charged = max(charged, volumetric_mass(volume, route.volumetric_cm3_per_kg))
        total += charged
    return whole_steps(total, route.mass_step_kg if route is not None else 0)


def volume_assumption(goods: Sequence[Goods], route: Route | None) -> Assumption | None:
    """What is taken for granted about bulky goods on a route without a carrier's divisor; None if nothing is."""
    if route is None or route.kind in ("collection", "delivery") or route.volumetric_cm3_per_kg:
        return None
    divisor = float(practice_value("general.volumetric"))
    true = chargeable_mass_kg(goods, route)
    by_volume = chargeable_mass_kg(goods, route.model_copy(update={"volumetric_cm3_per_kg": divisor}))
    if true is None or by_volume is None or by_volume <= true:
        return None
    text = (
        f"{route.name} has no divisor for volume: {true:g} kg is counted, by the usual {divisor:g} cm³/kg it would be"
    )
    return Assumption("volume-unknown", f"route {route.id}", f"{text} {round(by_volume, 1):g} kg")


def volume_cm3(item: Goods) -> float | None:
    """Of all units packed [cm³]; None where no box is known."""
    if item.volume_cm3 is not None or item.box_mm is None:
        return item.volume_cm3
    return item.quantity * math.prod(item.box_mm) / 1000


def volumetric_mass(volume: float, divisor: float) -> float:
    """Mass that a volume counts as: volume by the carrier's divisor, both in the carrier's own units.

    Parameters
    ----------
    volume : [cm³] or [in³]
    divisor : [cm³/kg] or [in³/lb]

    Returns
    -------
    [kg] or [lb], before it is taken up to a whole step

    Raises
    ------
    ValueError
        if the divisor is not above zero

    Examples
    --------
    >>> round(volumetric_mass(10 * 15 * 20, 166), 2)
    18.07
    """
    if divisor <= 0:
        raise ValueError("a carrier's divisor is above zero")
    return volume / divisor


def whole_steps(mass: float, step: float) -> float:
    """A mass up to the next whole step of a carrier; as it is where there is no step.

    Examples
    --------
    >>> whole_steps(31.08, 1), whole_steps(16.0, 0.5), whole_steps(2.3, 0)
    (32, 16.0, 2.3)
    """
    return math.ceil(mass / step - 1e-9) * step if step else mass


def consignment_problems(consignment: Consignment) -> list[Problem]:
    """What cannot be about the goods of a consignment."""
    found = []
    if not consignment.goods:
        do = "Enter what is bought."
        found.append(Problem("consignment", "empty", "there are no goods in it", "", do))
    for item in consignment.goods:
        where = f"consignment, {item.label}"
        if item.mass_kg is not None and not 0 <= item.mass_kg < math.inf:
            found.append(
                Problem(
                    f"{where}, mass",
                    "mass",
                    "a mass cannot be below zero or endless",
                    f"{item.mass_kg:g} kg",
                    "Enter it in kilograms.",
                )
            )
        if not 0 < item.quantity < math.inf:
            found.append(
                Problem(
                    f"{where}, quantity",
                    "quantity",
                    "there is at least some of it",
                    f"{item.quantity:g}",
                    "Enter how many.",
                )
            )
        if item.value.amount < 0:
            found.append(
                Problem(
                    f"{where}, price", "price", "a price cannot be below zero", str(item.value), "Enter what is paid."
                )
            )
        if item.heading is not None and not _HEADING.fullmatch(item.heading):
            do = "Enter 4, 6, 8 or 10 digits without dots, or leave it out."
            found.append(Problem(f"{where}, heading", "heading", "not a tariff heading of goods", item.heading, do))
        if item.origin is not None and not _COUNTRY.fullmatch(item.origin):
            found.append(
                Problem(f"{where}, origin", "country", "not a country code", item.origin, "Enter two letters, as GB.")
            )
    if consignment.freight.amount < 0:
        found.append(
            Problem(
                "consignment, freight",
                "price",
                "freight cannot be below zero",
                str(consignment.freight),
                "Enter what is asked.",
            )
        )
    inland, freight = consignment.freight_inland, consignment.freight
    if inland is not None and (inland.currency != freight.currency or not 0 <= inland.amount <= freight.amount):
        what = "the part beyond the border is between nothing and the whole freight, in its currency"
        found.append(
            Problem("consignment, freight inland", "price", what, str(inland), "Enter the part of the freight.")
        )
    return found


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
        usual = practice_of("general.per_km")
        per_km = Money(amount=practice_value(usual.id), currency="EUR")
        said = f", assumed ({usual.source}, {usual.status_words})"
    distance = Decimal(str(collection.distance_km))
    lines = []
    if distance:
        note = f"{collection.distance_km:g} km at {limit_words(per_km.amount, per_km.currency)} a km{said}"
        rule = "general.per_km" if said else "general.trip"
        lines.append(("driving", per_km * distance, rule, note))
    for label, money in (("ferry", collection.ferry), ("tolls", collection.tolls)):
        if money is not None and money.amount:
            lines.append((label, money, "general.trip", "as entered for the trip"))
    if collection.hours:
        worth = Money.of(hour_worth(owner), owner.currency)
        said = "" if owner.hour_worth is not None else ", assumed"
        note = f"{collection.hours:g} h at {hour_worth(owner):.10g} {worth.currency}{said}"
        lines.append(("own hours", worth * Decimal(str(collection.hours)), "general.hour_worth", note))
    kind: LineKind = "freight"
    return tuple(
        CostLine(label, rates.convert(money, owner.currency).rounded(), kind, rule, note)
        for label, money, rule, note in lines
    )
