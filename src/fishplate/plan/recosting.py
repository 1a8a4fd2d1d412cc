"""Every planned consignment costed again exactly, those of one trip together."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

from ..build import Money, date_at
from ..build.commerce import Route, Supplier
from ..build.money import minor_unit
from ..landed import (
    Consignment,
    Goods,
    LandedCost,
    chargeable_mass_kg,
    freight_for,
    landed_cost,
    landed_trip,
    offered_goods,
    trip_allowance,
    with_core,
)
from .demand import Entry
from .market import Market
from .offered import offer_mass
from .storage import with_storage

Lines: TypeAlias = tuple[tuple[str, int], ...]
Contents: TypeAlias = tuple[tuple[Entry, int], ...]
Selection: TypeAlias = Mapping[str, Lines]
Group: TypeAlias = tuple[tuple[str, Lines, Lines], ...]


class Recosting:
    """Landed cost of what a plan buys, to the cent, each consignment or trip reckoned once.

    Parameters
    ----------
    market : what stands behind the candidates
    """

    def __init__(self, market: Market) -> None:
        self._market = market
        self._known: dict[tuple[Group, frozenset[str]], dict[str, LandedCost]] = {}

    def landed(self, selection: Selection) -> dict[str, LandedCost]:
        """Shipment -> its landed cost; the trip that fetches it is counted apart."""
        found: dict[str, LandedCost] = {}
        for group, trips in self._groups(selection):
            if (group, trips) not in self._known:
                self._known[group, trips] = self._reckoned(group, trips)
            found |= self._known[group, trips]
        return found

    def costs(self, selection: Selection) -> dict[str, float]:
        """Shipment -> landed cost and what being late, early or wrong is expected to cost, home currency."""
        landed = self.landed(selection)
        effort = self._market.situation.order_effort
        costs = {
            key: float(landed[key].total.amount) + effort + self._extras(lines) for key, lines in selection.items()
        }
        for keys in self._fetched_together(selection):
            # What the solver counts as saved on a trip is given back where it was saved: landed costs hold the truth.
            told = sum(self._market.saved({key: selection[key] for key in keys}).values())
            freed = [float(landed[key].free_value.amount) for key in keys]
            for key, value in zip(keys, freed, strict=True):
                costs[key] += told * (value / sum(freed) if sum(freed) else 1 / len(keys))
        return costs

    def doubted(self, selection: Selection) -> dict[str, LandedCost]:
        """Shipment -> its landed cost with what could fall out otherwise."""
        found: dict[str, LandedCost] = {}
        for group, trips in self._groups(selection):
            found |= self._reckoned(group, trips, with_doubts=True)
        return found

    def _groups(self, selection: Selection) -> Iterator[tuple[Group, frozenset[str]]]:
        """What travels together, with the trips that the plan makes where one fetches it."""
        beside = lines_beside(self._market, selection)
        fetched = frozenset(filter(None, (self._market.shipments[key].collection for key in selection)))
        for keys in self._fetched_together(selection):
            group = tuple((key, selection[key], beside.get(key, ())) for key in keys)
            yield group, fetched if self._market.shipments[keys[0]].collection else frozenset()

    def _extras(self, lines: Lines) -> float:
        return sum(self._market.entries[candidate].extras * units for candidate, units in lines)

    def _fetched_together(self, selection: Selection) -> list[tuple[str, ...]]:
        """Shipments by the trip that fetches them; others alone."""
        groups: dict[str, list[str]] = defaultdict(list)
        for key in sorted(selection):
            trip = self._market.shipments[key].collection
            groups[f"trip {trip}" if trip else key].append(key)
        return [tuple(keys) for _, keys in sorted(groups.items())]

    def _reckoned(self, group: Group, trips: frozenset[str], *, with_doubts: bool = False) -> dict[str, LandedCost]:
        situation = self._market.situation
        owner, rules, rates = situation.build.owner, situation.rules, situation.rates
        overrides = situation.build.rule_overrides
        trip = self._market.shipments[group[0][0]].collection
        if trip is None:
            found = list(self._parcels(*group[0]))
            costs = [landed_cost(each, owner, rules, rates, overrides, with_doubts=with_doubts) for each in found]
            return {group[0][0]: together(costs)}
        consignments = [
            consignment_of(self._market, key, contents_of(self._market, lines), contents_of(self._market, beside))
            for key, lines, beside in group
        ]
        collection = situation.build.find("collections", trip)
        allowance = trip_allowance(situation.build, collection, trips)
        declared = [replace(consignment, day=collection.day) for consignment in consignments]
        fetched = landed_trip(declared, owner, rules, rates, overrides, allowance=allowance)
        return {
            key: with_storage(situation, cost, self._market.storage_of(lines))
            for (key, lines, _), cost in zip(group, fetched, strict=True)
        }

    def _parcels(self, key: str, lines: Lines, beside: Lines) -> Iterator[Consignment]:
        """A shipment as what is declared: each parcel, with all else that was divided from it."""
        parcels, others = parcels_of(self._market, key, lines), contents_of(self._market, beside)
        for place, contents in enumerate(parcels):
            rest = (entry for other in (*parcels[:place], *parcels[place + 1 :]) for entry in other)
            yield consignment_of(self._market, key, contents, (*rest, *others))


def lines_beside(market: Market, selection: Selection) -> dict[str, Lines]:
    """Shipment -> lines of its supplier that the plan brings over the border in other consignments, where it does."""
    crossing: dict[str, list[str]] = defaultdict(list)
    for key in sorted(selection):
        if market.shipments[key].crosses_border:
            crossing[market.shipments[key].supplier].append(key)
    return {
        key: tuple(line for other in keys if other != key for line in selection[other])
        for keys in crossing.values()
        for key in keys
        if len(keys) > 1
    }


def contents_of(market: Market, lines: Lines) -> Contents:
    """Entries of a shipment, and how many of each offer."""
    return tuple(
        (entry, units * entry.count)
        for entry, units in ((market.entries[candidate], units) for candidate, units in lines)
    )


def parcels_of(market: Market, key: str, lines: Lines) -> list[Contents]:
    """What a shipment holds, in as many parcels as its route's greatest mass asks for, the heaviest packed first."""
    shipment, contents = market.shipments[key], contents_of(market, lines)
    route = market.situation.build.find("routes", shipment.route) if shipment.route else None
    most = math.inf if route is None or route.max_mass_kg is None else route.max_mass_kg
    mass = {entry.offer.id: offer_mass(market.situation, entry.offer) for entry, _ in contents}
    if sum(mass[entry.offer.id] * count for entry, count in contents) <= most:
        return [contents]
    parcels: list[tuple[float, list[tuple[Entry, int]]]] = []
    for entry, count in sorted(contents, key=lambda item: (-mass[item[0].offer.id], item[0].offer.id)):
        each, left = mass[entry.offer.id], count
        for position, (load, packed) in enumerate(parcels):
            fits = min(left, int((most - load + 1e-9) / each)) if each else left
            if fits:
                packed.append((entry, fits))
                parcels[position] = load + fits * each, packed
                left -= fits
        while left:
            fits = min(left, max(1, int((most + 1e-9) / each)))
            parcels.append((fits * each, [(entry, fits)]))
            left -= fits
    return [tuple(packed) for _, packed in parcels]


def together(costs: Sequence[LandedCost]) -> LandedCost:
    """The landed cost of several parcels of one order as one."""
    first = costs[0]
    if len(costs) == 1:
        return first
    return replace(
        first,
        lines=tuple(line for cost in costs for line in cost.lines),
        total=sum((cost.total for cost in costs[1:]), first.total),
        flags=tuple(dict.fromkeys(flag for cost in costs for flag in cost.flags)),
        assumptions=tuple(sorted({item for cost in costs for item in cost.assumptions})),
        doubts=tuple(doubt for cost in costs for doubt in cost.doubts),
        range=_together([cost.ends for cost in costs]),
        exact=sum((cost.exact for cost in costs[1:]), first.exact),
        free_value=sum((cost.free_value for cost in costs[1:]), first.free_value),
        rules=tuple(dict.fromkeys(rule for cost in costs for rule in cost.rules)),
    )


def _together(ends: Sequence[tuple[Money, Money]]) -> tuple[Money, Money] | None:
    lowest, highest = (sum(each[1:], each[0]) for each in zip(*ends, strict=True))
    return None if lowest == highest else (lowest, highest)


def consignment_of(market: Market, key: str, entries: Contents, beside: Contents) -> Consignment:
    """A planned shipment, or a parcel of it, as what is declared; beside it what else was divided of its supplier."""
    situation, shipment = market.situation, market.shipments[key]
    supplier = situation.build.find("suppliers", shipment.supplier)
    route = situation.build.find("routes", shipment.route) if shipment.route else None
    currencies = {entry.offer.price.currency for entry, _ in entries}
    currency = currencies.pop() if len(currencies) == 1 else supplier.currency
    goods = tuple(_goods(market, entry, count, currency) for entry, count in entries)
    value = sum((item.value for item in goods[1:]), goods[0].value)
    mass = chargeable_mass_kg(goods, route)
    stated = {entry.offer.tax_included for entry, _ in entries}
    return Consignment(
        supplier=supplier,
        route=route,
        goods=goods,
        freight=freight_for(supplier, route, _in_terms_currency(market, supplier, route, value), mass),
        tax_included=stated.pop() if len(stated) == 1 else None,
        day=date_at(situation.as_of, shipment.week),
        divided=bool(beside),
        beside=tuple(_goods(market, entry, count, entry.offer.price.currency) for entry, count in beside),
    )


def _in_terms_currency(market: Market, supplier: Supplier, route: Route | None, value: Money) -> Money:
    """An order's value in the currency in which free freight is stated."""
    terms = next((terms for terms in supplier.freight if route is not None and terms.route == route.id), None)
    if terms is None or terms.free_from is None:
        return value
    return market.situation.rates.convert(value, terms.free_from.currency)


def _goods(market: Market, entry: Entry, count: int, currency: str) -> Goods:
    offer, situation = entry.offer, market.situation
    price = Money.of(round(entry.price, minor_unit(offer.price.currency)), offer.price.currency)
    price = with_core(offer, price, situation.rates)
    if currency != offer.price.currency:
        price = situation.rates.convert(price, currency).rounded()
    goods = offered_goods(situation.build, offer, count, price)
    return replace(goods, mass_kg=offer_mass(situation, offer) * count)
