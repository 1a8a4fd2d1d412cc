"""A bound from prices: what every part is worth at most, and so what no plan can undercut.

Put a price on each part, on money before each limit, on a kilogram of each trip and on each use of a trip. Then
every shipment stands alone: it is worth its goods' prices less its cost, filled greedily between its value limits.
The sum over shipments of what they would gain bounds every plan from below, for any prices (Lagrangian duality;
Geoffrion 1974, "Lagrangean relaxation for integer programming", Mathematical Programming Study 2).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from .grid import MARGIN, FloatArray, Grid, IntArray, tally
from .modes import modes_of


@dataclass(frozen=True, slots=True)
class Prices:
    """Multipliers: parts [home currency per unit], money by each limit [-], trips [per kg], shipments (for use of
    their trip), trips again (share of an allowance that goes to what it is saved on) [-]."""

    parts: FloatArray
    months: FloatArray
    kilograms: FloatArray
    uses: FloatArray
    allowances: FloatArray
    modes: FloatArray = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True, slots=True)
class Appraisal:
    """The bound, and what it says of each candidate.

    Parameters
    ----------
    bound : no plan costs less [home currency]
    slack : (candidates,) how much the bound rises at least if the candidate must be bought [home currency]
    """

    bound: float
    slack: FloatArray


def safe_prices(grid: Grid, prices: Prices) -> Prices:
    """The nearest prices the bound is valid for: not negative, parts no dearer than leaving them out."""
    parts = np.clip(prices.parts, 0.0, grid.unmet_cost)
    months = np.maximum(prices.months, 0.0)
    if months.sum() > grid.cash_penalty:
        months = months * (grid.cash_penalty / months.sum())
    kilograms = np.where(np.isfinite(grid.capacity), np.maximum(prices.kilograms, 0.0), 0.0)
    uses = np.where(grid.trip >= 0, np.maximum(prices.uses, 0.0), 0.0)
    modes = np.maximum(prices.modes, 0.0)
    return Prices(parts, months, kilograms, uses, np.clip(prices.allowances, 0.0, 1.0), modes)


def reduced_costs(grid: Grid, prices: Prices) -> FloatArray:
    """(candidates,) cost of one unit less what its parts are worth, its money and its place in the trip priced."""
    size = len(grid.candidates)
    reduced = grid.cost - tally(grid.cover_candidate, prices.parts[grid.cover_part] * grid.cover_quantity, size)
    if grid.months:
        weight = grid.weight_of_money(prices.months)
        reduced += tally(grid.cash_candidate, grid.cash_amount * weight[grid.cash_limit], size)
    if grid.trips:
        trip = grid.trip[grid.shipment]
        inside = trip >= 0
        trip = trip[inside]
        reduced[inside] += prices.kilograms[trip] * grid.mass[inside] - prices.allowances[trip] * grid.relieved[inside]
    return reduced


@dataclass(frozen=True, slots=True)
class _Filling:
    """Each shipment's candidates in order of gain per value, with running sums: a convex curve of cost over value."""

    order: IntArray
    ratio: FloatArray
    filled: FloatArray
    paid: FloatArray
    first: IntArray
    natural: FloatArray

    def at(self, target: FloatArray, shipments: IntArray) -> tuple[FloatArray, IntArray, FloatArray]:
        """Least cost of contents of exactly the target value; last whole position and the fraction of the next."""
        begin, end = self.first[shipments], self.first[shipments + 1]
        reach = self.filled[begin] + target + 1e-9
        position = np.clip(np.searchsorted(self.filled, reach, side="right") - 1, begin, end)
        rest = np.maximum(self.filled[begin] + target - self.filled[position], 0.0)
        following = np.minimum(position, self.ratio.size - 1)
        more = (position < end) & (rest > 1e-9)
        ratio = np.where(more, self.ratio[following], 0.0)
        step = np.where(more, rest, 0.0)
        return self.paid[position] - self.paid[begin] + step * ratio, position, step


def _filling(grid: Grid, reduced: FloatArray) -> _Filling:
    weight = grid.value * grid.most
    gain = reduced * grid.most
    weightless = weight <= 0
    ratio = np.where(weightless, np.where(reduced < 0, -np.inf, np.inf), gain / np.where(weightless, 1.0, weight))
    gain = np.where(weightless & (reduced >= 0), 0.0, gain)
    order = np.lexsort((ratio, grid.shipment))
    filled = np.concatenate(([0.0], np.cumsum(weight[order])))
    paid = np.concatenate(([0.0], np.cumsum(gain[order])))
    natural = tally(grid.shipment, np.where(reduced < 0, weight, 0.0), len(grid.shipments))
    return _Filling(order, ratio[order], filled, paid, grid.first, natural)


def _charges(grid: Grid, prices: Prices) -> tuple[FloatArray, FloatArray]:
    """What a shipment costs to use, and what free freight takes off, at these prices."""
    counted = 1.0 + grid.weight_of_money(prices.months)[grid.charge_limit]
    return grid.fixed * counted + grid.freight * counted + prices.uses, grid.freight * counted


@dataclass(frozen=True, slots=True)
class _Worth:
    """Least reduced cost of using each shipment, paying freight or free of it, with the marginal cost of value."""

    paid: FloatArray
    paid_ratio: FloatArray
    free: FloatArray
    free_ratio: FloatArray

    @property
    def least(self) -> FloatArray:
        return np.minimum(self.paid, self.free)


def _option(filling: _Filling, target: FloatArray, shipments: IntArray) -> tuple[FloatArray, FloatArray]:
    """Least cost of contents worth the target, and what the last bit of value cost where the line had to be reached."""
    cost, position, step = filling.at(target, shipments)
    last = np.clip(np.where(step > 0, position, position - 1), 0, filling.ratio.size - 1)
    stretched = target > filling.natural[shipments] + 1e-9
    ratio = np.where(stretched & np.isfinite(filling.ratio[last]), np.maximum(filling.ratio[last], 0.0), 0.0)
    return cost, ratio


def _worths(grid: Grid, prices: Prices, filling: _Filling) -> _Worth:
    every = np.arange(len(grid.shipments))
    charge, freight = _charges(grid, prices)
    full = filling.filled[grid.first[1:]] - filling.filled[grid.first[:-1]]
    target = np.clip(filling.natural, np.minimum(grid.low, full), grid.high)
    paid, paid_ratio = _option(filling, target, every)
    free, free_ratio = np.full(every.size, np.inf), np.zeros(every.size)
    able = np.flatnonzero((grid.freight > 0) & (full + MARGIN >= grid.free_from))
    if able.size:
        raised = np.minimum(np.maximum(target[able], grid.free_from[able]), full[able])
        cost, free_ratio[able] = _option(filling, raised, able)
        free[able] = cost + charge[able] - freight[able]
    return _Worth(paid + charge, paid_ratio, free, free_ratio)


def _forced(grid: Grid, reduced: FloatArray, worth: _Worth) -> FloatArray:
    """How much more a shipment costs at least if it must hold a unit of the candidate."""
    at = grid.shipment
    paid = worth.paid[at] + np.maximum(reduced - worth.paid_ratio[at] * grid.value, 0.0)
    free = worth.free[at] + np.maximum(reduced - worth.free_ratio[at] * grid.value, 0.0)
    return np.asarray(np.minimum(paid, free) - worth.least[at], dtype=np.float64)


def _least(values: FloatArray, index: IntArray, size: int) -> FloatArray:
    least = np.full(size, np.inf)
    np.minimum.at(least, index, values)
    return least


def _suppliers_best(grid: Grid, worth: FloatArray, plain: FloatArray, relieved: FloatArray) -> tuple[float, FloatArray]:
    """Sum of each supplier's best combination, and how much that rises if a shipment must be used.

    A supplier either sends nothing, or any number of shipments, or one under relief as the sole one that crosses a
    border besides any that do not. `plain` and `relieved` are what the prices of modes give back in each.
    """
    groups, suppliers = grid.groups, grid.suppliers
    supplier_of_group = np.zeros(groups, dtype=np.int64)
    supplier_of_group[grid.group] = grid.supplier
    normal = np.where(grid.relief, np.inf, worth)
    taken = np.minimum(_least(normal, grid.group, groups), 0.0)
    crossing = np.zeros(groups, dtype=np.bool_)
    crossing[grid.group] = grid.crossing
    several = tally(supplier_of_group, np.where(crossing, taken, 0.0), suppliers)
    local = tally(supplier_of_group, np.where(crossing, 0.0, taken), suppliers)
    several = several - plain
    sole = _least(np.where(grid.relief, worth, np.inf), grid.supplier, suppliers) - relieved
    chosen = np.minimum(several, sole)
    total = np.minimum(local + chosen + grid.supplier_cost, -plain)
    opened = local + chosen + grid.supplier_cost - total
    forced_normal = worth - taken[grid.group] + np.where(grid.crossing, (several - chosen)[grid.supplier], 0.0)
    forced_sole = worth - (relieved + chosen)[grid.supplier]
    regret = np.where(grid.relief, forced_sole, forced_normal) + opened[grid.supplier]
    return float(total.sum()), np.maximum(regret, 0.0)


def _lease(grid: Grid, prices: Prices, made: Mapping[int, bool]) -> float:
    """What trips add to the bound: their cost less what their users pay for them."""
    at = grid.trip[grid.trip >= 0]
    uses = tally(at, prices.uses[grid.trip >= 0], len(grid.trips))
    capacity = np.where(np.isfinite(grid.capacity), grid.capacity, 0.0)
    counted = 1.0 + grid.weight_of_money(prices.months)[grid.trip_limit]
    lease = grid.trip_fixed * counted - uses - prices.kilograms * capacity - (1.0 - prices.allowances) * grid.allowance
    total = 0.0
    for index, trip in enumerate(grid.trips):
        go = made.get(index, True if trip.paid_anyway else None)
        total += float(lease[index]) if go else (0.0 if go is False else min(float(lease[index]), 0.0))
    return total


def appraise(grid: Grid, prices: Prices, made: Mapping[int, bool] | None = None) -> Appraisal:
    """The bound at some prices, for all plans or for those that make, or leave out, some trips.

    The prices are first made safe, so any will do; good ones come from a relaxation (`bounding`).
    """
    made = made or {}
    prices = safe_prices(grid, prices)
    reduced = reduced_costs(grid, prices)
    plain = relieved = np.zeros(grid.suppliers)
    if prices.modes.any():
        modes = modes_of(grid)
        reduced = reduced + np.where(modes.row >= 0, prices.modes[modes.row], 0.0)
        plain, relieved = modes.paid_back(grid, prices.modes)
    filling = _filling(grid, reduced)
    worth = _worths(grid, prices, filling)
    barred = np.isin(grid.trip, [trip for trip, go in made.items() if not go])
    least = np.where(barred, np.inf, worth.least)
    total, regret = _suppliers_best(grid, least, plain, relieved)
    slack = np.where(barred[grid.shipment], np.inf, regret[grid.shipment] + _forced(grid, reduced, worth))
    credit = grid.credit * min(grid.credit_cost - float(prices.months.sum()), 0.0)
    bound = float(prices.parts @ grid.need) + total - float(prices.months @ grid.limits) + credit
    bound += _lease(grid, prices, made)
    return Appraisal(bound, slack)
