"""Facts of an offer, a supplier or a trip that purchases rest on."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from ..build import Money, date_at, offer_contents
from ..build.commerce import Collection, Offer, Route, Supplier
from ..landed import (
    Consignment,
    Goods,
    chargeable_mass_kg,
    collection_cost,
    landed_cost,
    offered_goods,
    trip_allowance,
)
from .situation import Situation

PROBE_ITEMS = 2_000
# Goods under a dearer heading than the one tried may save a little more.
PROBE_MARGIN = 1.05
MOST_PACKS = 100_000


def month_index(situation: Situation, week: float) -> int:
    """Calendar months since the month of as_of."""
    day = date_at(situation.as_of, max(0.0, week))
    return (day.year - situation.as_of.year) * 12 + day.month - situation.as_of.month


def most_allowance_saving(situation: Situation, collection: Collection) -> float:
    """The most that the owner's travel allowance can save on a trip, home currency, by trying it on small goods."""
    build = situation.build
    route = build.find("routes", collection.route)
    saving = 0.0
    for supplier in build.suppliers:
        if supplier.country != route.from_country:
            continue
        currency = supplier.currency
        goods = Goods("small things", Money.of(PROBE_ITEMS, currency), quantity=PROBE_ITEMS)
        consignment = Consignment(supplier, route, (goods,), Money.of(0, currency), None, collection.day)
        given = (build.owner, situation.rules, situation.rates, build.rule_overrides)
        without = landed_cost(consignment, *given, with_doubts=False)
        allowed = landed_cost(consignment, *given, allowance=trip_allowance(build, collection), with_doubts=False)
        saving = max(saving, float(without.exact - allowed.exact))
    return saving * PROBE_MARGIN


def trip_cost(situation: Situation, collection: Collection) -> float:
    """What a trip costs by itself, own hours included, home currency."""
    lines = collection_cost(collection, situation.build.owner, situation.rates)
    return float(sum((line.amount.amount for line in lines), Decimal(0)))


def offer_mass(situation: Situation, offer: Offer) -> float:
    """Mass of one unit of an offer [kg]; parts without one count nothing."""
    return sum(
        count * (situation.build.find("parts", part).mass_kg or 0.0)
        for part, count in offer_contents(situation.build, offer).items()
    )


def offer_heading(situation: Situation, offer: Offer) -> str | None:
    """Tariff heading of an offer: its parts' common one, else none."""
    found = {situation.build.find("parts", part).heading for part in offer_contents(situation.build, offer)}
    return found.pop() if len(found) == 1 else None


def offer_origin(situation: Situation, offer: Offer) -> str | None:
    """Country of making of an offer: its parts' common one, else none."""
    found = {situation.build.find("parts", part).origin for part in offer_contents(situation.build, offer)}
    return found.pop() if len(found) == 1 else None


def mixed_freight(supplier: Supplier, route: Route | None) -> str:
    """Why freight on a route can't be added up; empty if it can."""
    terms = next((terms for terms in supplier.freight if route is not None and terms.route == route.id), None)
    if terms is None or terms.per_kg is None or terms.per_kg.currency == terms.fixed.currency:
        return ""
    return f"its freight is stated in {terms.fixed.currency} and in {terms.per_kg.currency}"


def packs_wanted(missing: Mapping[str, float], covers: Mapping[str, float]) -> int:
    """How many of an offer bring all that is missing of what it covers; one over the most where it would be more."""
    packs = max(missing[part] / count if count else math.inf for part, count in covers.items())
    return max(1, math.ceil(min(packs, MOST_PACKS + 1.0) - 1e-9))


def one_unit(situation: Situation, offer: Offer) -> Goods:
    """One unit of an offer, as it is packed and declared; a part without a mass counts none."""
    return replace(offered_goods(situation.build, offer, 1, offer.price), mass_kg=offer_mass(situation, offer))


def charged_mass(situation: Situation, offer: Offer, route: Route | None) -> float:
    """Mass that a carrier charges for one unit of an offer, before it is taken up to a whole step [kg]."""
    plain = None if route is None else route.model_copy(update={"mass_step_kg": 0})
    return chargeable_mass_kg((one_unit(situation, offer),), plain) or 0.0


def crosses_border(situation: Situation, supplier: Supplier) -> bool:
    """Whether a supplier's goods have to be imported."""
    market = situation.rules.single_market
    return not (supplier.country in market and situation.build.owner.country in market)


def partly_in_kits(situation: Situation, missing: Mapping[str, float]) -> set[str]:
    """Missing parts of which some kit brings a part of the wanted quantity only."""
    return {
        item.part
        for kit in situation.build.kits
        for item in kit.contents
        if item.part in missing and item.quantity < missing[item.part]
    }
