"""A plan in the hand: what each group of bands holds, what that costs, and what a change to it would cost."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from .grid import MARGIN, FloatArray, Grid, IntArray

Contents = dict[int, int]
"""Item to units."""


@dataclass(frozen=True, slots=True)
class Item:
    """One offer in one group, whatever the band: band (shipment index) to candidate index."""

    group: int
    week: int
    covers: tuple[tuple[int, float], ...]
    bands: Mapping[int, int]
    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Holding:
    """The cheapest band for the contents of a group: cost, band, money spent by each limit."""

    cost: float
    band: int


NOTHING = Holding(0.0, -1)
IMPOSSIBLE = Holding(inf, -1)


def _paid(grid: Grid) -> list[list[tuple[int, float]]]:
    """What one unit of each candidate costs by which limit."""
    paid: list[list[tuple[int, float]]] = [[] for _ in grid.candidates]
    for candidate, limit, amount in zip(
        grid.cash_candidate.tolist(), grid.cash_limit.tolist(), grid.cash_amount.tolist(), strict=True
    ):
        paid[candidate].append((limit, amount))
    return paid


class Store:
    """The grid by items and groups; built once a problem, read by every basket."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        group = grid.group.tolist()
        covers: list[list[tuple[int, float]]] = [[] for _ in grid.candidates]
        for candidate, part, quantity in zip(
            grid.cover_candidate.tolist(), grid.cover_part.tolist(), grid.cover_quantity.tolist(), strict=True
        ):
            covers[candidate].append((part, quantity))
        self.cost, self.value = grid.cost.tolist(), grid.value.tolist()
        self.mass, self.volume = grid.mass.tolist(), grid.volume.tolist()
        self.relieved, self.least, self.most = grid.relieved.tolist(), grid.least.tolist(), grid.most.tolist()
        self.paid = _paid(grid)
        self.bands = list(
            zip(grid.fixed.tolist(), grid.freight.tolist(), grid.free_from.tolist(), grid.low.tolist(),
                grid.high.tolist(), grid.relief.tolist(), strict=True)
        )  # fmt: skip
        self.items: list[Item] = []
        self.item_of = [0] * len(grid.candidates)
        self.by_part: list[list[int]] = [[] for _ in grid.parts]
        self.group_bands: list[list[int]] = [[] for _ in range(grid.groups)]
        for band, owner in enumerate(group):
            self.group_bands[owner].append(band)
        for owner, bands in self._by_item(covers):
            self._add_item(owner, bands, covers)
        self.supplier = {g: int(s) for g, s in zip(group, grid.supplier.tolist(), strict=True)}
        self.crossing = dict(zip(group, grid.crossing.tolist(), strict=True))
        self.trip = dict(zip(group, grid.trip.tolist(), strict=True))
        self.need = grid.need.tolist()
        self._alone: dict[tuple[int, int], float] = {}
        self.unmet_cost = grid.unmet_cost.tolist()

    def _by_item(self, covers: list[list[tuple[int, float]]]) -> Iterator[tuple[int, dict[int, int]]]:
        """Candidates that are the same thing in several bands of a group: group, and band to candidate."""
        shipment, group = self.grid.shipment.tolist(), self.grid.group.tolist()
        keys: dict[tuple[Any, ...], dict[int, int]] = {}
        seen: dict[tuple[Any, ...], int] = {}
        for index, candidate in enumerate(self.grid.candidates):
            band, content = shipment[index], (candidate.offer, self.least[index], *covers[index])
            ordinal = seen.get((band, content), 0)
            seen[band, content] = ordinal + 1
            keys.setdefault((group[band], content, ordinal), {})[band] = index
        for (owner, _, _), bands in keys.items():
            yield owner, bands

    def _add_item(self, group: int, bands: dict[int, int], covers: list[list[tuple[int, float]]]) -> None:
        index = len(self.items)
        first = next(iter(bands.values()))
        week = self.grid.shipments[next(iter(bands))].week
        self.items.append(Item(group, week, tuple(covers[first]), bands, self.least[first], self.most[first]))
        for candidate in bands.values():
            self.item_of[candidate] = index
        for part, _ in covers[first]:
            self.by_part[part].append(index)

    def alone(self, item: int, units: int) -> float:
        """Least cost of a shipment of its own for some units of an item: a floor under any way to add it."""
        key = item, units
        if key not in self._alone:
            self._alone[key] = self.hold(self.items[item].group, {item: units}, True).cost
        return self._alone[key]

    def hold(self, group: int, contents: Contents, relief: bool) -> Holding:
        """The cheapest band for some contents."""
        if not contents:
            return NOTHING
        best, at = inf, -1
        for band in self.group_bands[group]:
            fixed, freight, free_from, low, high, is_relief = self.bands[band]
            if is_relief and not relief:
                continue
            cost, value = fixed, 0.0
            for item, units in contents.items():
                candidate = self.items[item].bands.get(band)
                if candidate is None or not self.least[candidate] <= units <= self.most[candidate]:
                    break
                cost += units * self.cost[candidate]
                value += units * self.value[candidate]
            else:
                if low - MARGIN <= value <= high + MARGIN:
                    if value + MARGIN < free_from:
                        cost += freight
                    if cost < best:
                        best, at = cost, band
        return Holding(best, at)


class Basket:
    """Contents of every group, with cost kept up to date."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.contents: dict[int, Contents] = {}
        self.holdings: dict[int, Holding] = {}
        self.spendings: dict[int, FloatArray] = {}
        self.covered = [0.0] * len(store.need)
        self.spent: FloatArray = np.zeros(len(store.grid.months))
        self.cost = self._penalties(self.covered, self.spent)

    @classmethod
    def of(cls, store: Store, units: IntArray) -> Basket:
        """The basket of a selection; bands are chosen anew, the cheapest the contents allow."""
        basket = cls(store)
        changes: dict[int, Contents] = {}
        for candidate in np.flatnonzero(units).tolist():
            item = store.item_of[candidate]
            changes.setdefault(store.items[item].group, {})[item] = int(units[candidate])
        basket.apply(changes)
        return basket

    def units(self) -> IntArray:
        """Units of every candidate of the grid."""
        units = np.zeros(len(self.store.grid.candidates), dtype=np.int64)
        for group, contents in self.contents.items():
            for item, count in contents.items():
                units[self.store.items[item].bands[self.holdings[group].band]] = count
        return units

    def _penalties(self, covered: list[float], spent: FloatArray) -> float:
        store = self.store
        lost = 0.0
        for cost, need, got in zip(store.unmet_cost, store.need, covered, strict=True):
            if got < need - 1e-9:
                lost += cost * (need - got)
        return float(lost + store.grid.penalty_of_money(spent))

    def _supplier_groups(self, suppliers: set[int], changes: Mapping[int, Contents]) -> dict[int, list[int]]:
        found: dict[int, list[int]] = {supplier: [] for supplier in suppliers}
        for group in [*self.contents, *(g for g in changes if g not in self.contents)]:
            supplier = self.store.supplier[group]
            if supplier in found and (changes[group] if group in changes else self.contents[group]):
                found[supplier].append(group)
        return found

    def rehold(self, changes: Mapping[int, Contents]) -> dict[int, Holding]:
        """New holdings of all groups a change touches: its own, and others of the supplier if the relief moves."""
        store = self.store
        holdings: dict[int, Holding] = {group: NOTHING for group, contents in changes.items() if not contents}
        for groups in self._supplier_groups({store.supplier[g] for g in changes}, changes).values():
            crossing = sum(store.crossing[group] for group in groups)
            for group in groups:
                sole = crossing == 1
                held = self.holdings.get(group)
                stale = (
                    group in changes or held is None or ((sole or store.bands[held.band][5]) and store.crossing[group])
                )
                if stale:
                    contents = changes[group] if group in changes else self.contents[group]
                    holdings[group] = store.hold(group, contents, sole)
        return holdings

    def _trips(self, changes: Mapping[int, Contents]) -> tuple[float, bool]:
        """Cost of all trips made after a change, less what is saved on them, and whether one would be overloaded."""
        store = self.store
        grid = store.grid
        if not grid.trips:
            return 0.0, False
        load: dict[int, float] = {}
        filled: dict[int, float] = {}
        borne: dict[int, float] = {}
        for group, contents in {**self.contents, **changes}.items():
            trip = store.trip[group]
            if contents and trip >= 0:
                held = [(next(iter(store.items[i].bands.values())), n) for i, n in contents.items()]
                load[trip] = load.get(trip, 0.0) + sum(n * store.mass[c] for c, n in held)
                filled[trip] = filled.get(trip, 0.0) + sum(n * store.volume[c] for c, n in held)
                borne[trip] = borne.get(trip, 0.0) + sum(n * store.relieved[c] for c, n in held)
        over = any(load[trip] > grid.capacity[trip] + 1e-6 or filled[trip] > grid.room[trip] + 1e-6 for trip in load)
        saved = sum(min(amount, float(grid.allowance[trip])) for trip, amount in borne.items())
        return sum(float(grid.trip_fixed[trip]) for trip in load) - saved, over

    def _bought_from(self, changes: Mapping[int, Contents]) -> float:
        """What the suppliers bought from after a change count."""
        if self.store.grid.supplier_cost <= 0:
            return 0.0
        groups = [group for group, contents in {**self.contents, **changes}.items() if contents]
        return self.store.grid.supplier_cost * len({self.store.supplier[group] for group in groups})

    def _spending(self, group: int, contents: Contents, holding: Holding) -> FloatArray:
        store, band = self.store, holding.band
        spent = np.zeros(len(store.grid.months) + 1)
        if band >= 0:
            charge = holding.cost
            for item, units in contents.items():
                candidate = store.items[item].bands[band]
                charge -= store.cost[candidate] * units
                for limit, amount in store.paid[candidate]:
                    spent[limit] += amount * units
            spent[store.grid.charge_limit[band]] += charge
        return np.cumsum(spent[:-1])

    def after(self, changes: Mapping[int, Contents]) -> float:
        """Cost of the whole basket after a change, penalties included; infinite if it cannot travel so."""
        holdings = self.rehold(changes)
        goods = self.goods + sum(h.cost - self.holdings.get(g, NOTHING).cost for g, h in holdings.items())
        if goods == inf:
            return inf
        trips, overloaded = self._trips(changes)
        if overloaded:
            return inf
        penalties = self._penalties(self._cover_after(changes), self._spent_after(changes, holdings))
        return goods + trips + self._bought_from(changes) + penalties

    @property
    def goods(self) -> float:
        """Cost of all shipments."""
        return sum(holding.cost for holding in self.holdings.values())

    def _cover_after(self, changes: Mapping[int, Contents]) -> list[float]:
        covered = self.covered.copy()
        for group, contents in changes.items():
            for sign, held in ((-1, self.contents.get(group, {})), (1, contents)):
                for item, units in held.items():
                    for part, quantity in self.store.items[item].covers:
                        covered[part] += sign * units * quantity
        return covered

    def _spent_after(self, changes: Mapping[int, Contents], holdings: Mapping[int, Holding]) -> FloatArray:
        if not self.spent.size:
            return self.spent
        spent = self.spent.copy()
        for group, holding in holdings.items():
            contents = changes.get(group, self.contents.get(group, {}))
            spent += self._spending(group, contents, holding)
            if group in self.spendings:
                spent -= self.spendings[group]
        grid = self.store.grid
        if grid.trips:
            before = {self.store.trip[g] for g in self.contents} - {-1}
            later = {self.store.trip[g] for g, c in {**self.contents, **changes}.items() if c} - {-1}
            for trip in later ^ before:
                spent[grid.trip_limit[trip] :] += grid.trip_fixed[trip] if trip in later else -grid.trip_fixed[trip]
        return spent

    def apply(self, changes: Mapping[int, Contents]) -> None:
        """Make a change; the caller has seen that it is possible."""
        holdings = self.rehold(changes)
        self.cost = self.after(changes)
        self.covered, self.spent = self._cover_after(changes), self._spent_after(changes, holdings)
        for group, contents in changes.items():
            self.contents[group] = dict(contents)
        self.holdings.update(holdings)
        if self.spent.size:
            self.spendings |= {g: self._spending(g, self.contents[g], holding) for g, holding in holdings.items()}
        for group in [group for group, contents in self.contents.items() if not contents]:
            del self.contents[group]
            self.holdings.pop(group, None)
            self.spendings.pop(group, None)

    def changed(
        self, remove: Iterable[tuple[int, int]] = (), add: Iterable[tuple[int, int]] = ()
    ) -> dict[int, Contents]:
        """The change that takes out and puts in units of items."""
        changes: dict[int, Contents] = {}
        for sign, moves in ((-1, remove), (1, add)):
            for item, units in moves:
                group = self.store.items[item].group
                contents = changes.setdefault(group, dict(self.contents.get(group, {})))
                contents[item] = contents.get(item, 0) + sign * units
                if contents[item] <= 0:
                    del contents[item]
        return changes

    def holds(self, item: int, units: int) -> bool:
        """Whether the basket still holds just so many units of an item."""
        return self.contents.get(self.store.items[item].group, {}).get(item) == units

    def missing(self, remove: Iterable[tuple[int, int]] = ()) -> dict[int, float]:
        """Part to quantity not covered, after taking out some units of items."""
        covered = self.covered.copy()
        for item, units in remove:
            for part, quantity in self.store.items[item].covers:
                covered[part] -= units * quantity
        return {
            p: need - got
            for p, (need, got) in enumerate(zip(self.store.need, covered, strict=True))
            if got < need - 1e-9
        }
