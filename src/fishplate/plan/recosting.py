"""Every planned consignment costed again exactly, those of one trip together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from typing import TypeAlias

from ..build import Money, date_at
from ..landed import Consignment, Goods, LandedCost, freight_for, landed_cost, landed_trip
from .market import Entry, Market, offer_heading, offer_length, offer_mass, offer_origin, travel_allowance

Lines: TypeAlias = tuple[tuple[str, int], ...]
Selection: TypeAlias = Mapping[str, Lines]


class Recosting:
    """Landed cost of what a plan buys, to the cent, each consignment or trip reckoned once.

    Parameters
    ----------
    market : what stands behind the candidates
    """

    def __init__(self, market: Market) -> None:
        self._market = market
        self._known: dict[tuple[tuple[str, Lines, bool], ...], dict[str, LandedCost]] = {}

    def landed(self, selection: Selection) -> dict[str, LandedCost]:
        """Shipment -> its landed cost; the trip that fetches it is counted apart."""
        divided = divided_suppliers(self._market, selection)
        found: dict[str, LandedCost] = {}
        for keys in self._fetched_together(selection):
            group = tuple((key, selection[key], self._market.shipments[key].supplier in divided) for key in keys)
            if group not in self._known:
                self._known[group] = self._reckoned(group)
            found |= self._known[group]
        return found

    def costs(self, selection: Selection) -> dict[str, float]:
        """Shipment -> landed cost and what being late, early or wrong is expected to cost, home currency."""
        landed = self.landed(selection)
        effort = self._market.situation.order_effort
        costs = {
            key: float(landed[key].total.amount) + effort + self._extras(lines) for key, lines in selection.items()
        }
        for keys in self._fetched_together(selection):
            # What the solver was told a trip may save is given back where it was saved: landed costs hold the truth.
            saver = max(keys, key=lambda key: (landed[key].free_value.amount, key))
            costs[saver] += self._market.told_saving(self._market.shipments[saver].collection)
        return costs

    def doubted(self, selection: Selection) -> dict[str, LandedCost]:
        """Shipment -> its landed cost with what could fall out otherwise."""
        divided = divided_suppliers(self._market, selection)
        found: dict[str, LandedCost] = {}
        for keys in self._fetched_together(selection):
            group = tuple((key, selection[key], self._market.shipments[key].supplier in divided) for key in keys)
            found |= self._reckoned(group, with_doubts=True)
        return found

    def _extras(self, lines: Lines) -> float:
        return sum(self._market.entries[candidate].extras * units for candidate, units in lines)

    def _fetched_together(self, selection: Selection) -> list[tuple[str, ...]]:
        """Shipments by the trip that fetches them; others alone."""
        groups: dict[str, list[str]] = defaultdict(list)
        for key in sorted(selection):
            trip = self._market.shipments[key].collection
            groups[f"trip {trip}" if trip else key].append(key)
        return [tuple(keys) for _, keys in sorted(groups.items())]

    def _reckoned(
        self, group: tuple[tuple[str, Lines, bool], ...], *, with_doubts: bool = False
    ) -> dict[str, LandedCost]:
        situation = self._market.situation
        owner, rules, rates = situation.build.owner, situation.rules, situation.rates
        consignments = [consignment_of(self._market, key, lines, divided=divided) for key, lines, divided in group]
        trip = self._market.shipments[group[0][0]].collection
        if trip is None:
            cost = landed_cost(
                consignments[0], owner, rules, rates, situation.build.rule_overrides, with_doubts=with_doubts
            )
            return {group[0][0]: cost}
        collection = situation.build.find("collections", trip)
        allowance = travel_allowance(collection)
        declared = [replace(consignment, day=collection.day) for consignment in consignments]
        costs = landed_trip(declared, owner, rules, rates, situation.build.rule_overrides, allowance=allowance)
        return {key: cost for (key, _, _), cost in zip(group, costs, strict=True)}


def divided_suppliers(market: Market, selection: Selection) -> frozenset[str]:
    """Suppliers whose lines the plan sends in more than one consignment: they get no low-value relief."""
    suppliers = [market.shipments[key].supplier for key in selection if market.shipments[key].crossing]
    return frozenset(supplier for supplier in suppliers if suppliers.count(supplier) > 1)


def consignment_of(market: Market, key: str, lines: Lines, *, divided: bool) -> Consignment:
    """A planned shipment as the consignment that is declared."""
    situation, shipment = market.situation, market.shipments[key]
    entries = [(market.entries[candidate], units) for candidate, units in lines]
    supplier = situation.build.find("suppliers", shipment.supplier)
    route = situation.build.find("routes", shipment.route) if shipment.route else None
    goods = tuple(_goods(market, entry, units * entry.count) for entry, units in entries)
    value = sum((item.value for item in goods[1:]), goods[0].value)
    mass = sum((item.mass_kg or 0.0) for item in goods)
    return Consignment(
        supplier=supplier,
        route=route,
        goods=goods,
        freight=freight_for(supplier, route, value, mass),
        tax_included=entries[0][0].offer.tax_included,
        day=date_at(situation.as_of, shipment.week),
        divided=divided,
    )


def _goods(market: Market, entry: Entry, count: int) -> Goods:
    offer, situation = entry.offer, market.situation
    price = Money.of(round(entry.price, 2), offer.price.currency)
    return Goods(
        label=offer.id,
        value=price * count,
        quantity=count,
        mass_kg=offer_mass(situation, offer) * count,
        heading=offer_heading(situation, offer),
        origin=offer_origin(situation, offer),
        kind="set" if offer.kit else "goods",
        length_mm=offer_length(situation, offer),
    )
