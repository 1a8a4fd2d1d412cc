"""A bound from prices: what every part is worth at most, and so what no plan can undercut.

Put a price on each part, on money before each limit, on a kilogram of each trip (or on its room, where that is likelier
to give out) and on each use of a trip. Then every shipment stands alone: it is worth its goods' prices less its cost,
filled greedily between its value limits. The sum over shipments of what they would gain bounds every plan from below,
for any prices (Lagrangian duality; Geoffrion 1974, "Lagrangean relaxation for integer programming", Mathematical
Programming Study 2).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from .filling import Worths, worths
from .grid import FloatArray, Grid, IntArray, tally


@dataclass(frozen=True, slots=True)
class Prices:
    """Multipliers: parts [home currency per unit], money by each limit [-], trips [per kg, or m³], shipments (for use
    of their trip), trips again (share of an allowance that goes to what it is saved on) [-]."""

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
    reduced : (candidates,) cost of one unit less what its parts are worth [home currency]
    worth : (shipments,) least cost of using the shipment, its goods priced so; below zero it is worth using
    ratio : (shipments,) what the last bit of value costs where goods fill it up to a line [-]
    """

    bound: float
    slack: FloatArray
    reduced: FloatArray
    worth: FloatArray
    ratio: FloatArray


def safe_prices(grid: Grid, prices: Prices) -> Prices:
    """The nearest prices the bound is valid for: not negative, parts no dearer than leaving them out."""
    parts = np.clip(prices.parts, 0.0, grid.unmet_cost)
    months = np.maximum(prices.months, 0.0)
    if months.sum() > grid.cash_penalty:
        months = months * (grid.cash_penalty / months.sum())
    kilograms = np.where(np.isfinite(grid.carried(grid.bulky)[1]), np.maximum(prices.kilograms, 0.0), 0.0)
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
        load = grid.carried(grid.bulky)[0][inside]
        reduced[inside] += prices.kilograms[trip] * load - prices.allowances[trip] * grid.relieved[inside]
    return reduced


def _charges(grid: Grid, prices: Prices) -> tuple[FloatArray, FloatArray]:
    """What a shipment costs to use, and what free freight takes off, at these prices."""
    counted = 1.0 + grid.weight_of_money(prices.months)[grid.charge_limit]
    return grid.fixed * counted + grid.freight * counted + prices.uses, grid.freight * counted


def _forced(grid: Grid, reduced: FloatArray, worth: Worths) -> FloatArray:
    """How much more a shipment costs at least if it must hold a unit of the candidate."""
    at = grid.shipment
    paid_value, free_value = np.minimum(grid.value, worth.paid_cut[at]), np.minimum(grid.value, worth.free_cut[at])
    paid = worth.paid[at] + np.maximum(reduced - worth.paid_ratio[at] * paid_value, 0.0)
    free = worth.free[at] + np.maximum(reduced - worth.free_ratio[at] * free_value, 0.0)
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
    carries = grid.carried(grid.bulky)[1]
    capacity = np.where(np.isfinite(carries), carries, 0.0)
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
        modes = grid.modes
        reduced = reduced + np.where(modes.row >= 0, prices.modes[modes.row], 0.0)
        plain, relieved = modes.paid_back(grid.suppliers, prices.modes)
    worth = worths(grid, reduced, *_charges(grid, prices))
    barred = np.isin(grid.trip, [trip for trip, go in made.items() if not go])
    least = np.where(barred, np.inf, worth.least)
    total, regret = _suppliers_best(grid, least, plain, relieved)
    slack = np.where(barred[grid.shipment], np.inf, regret[grid.shipment] + _forced(grid, reduced, worth))
    credit = grid.credit * min(grid.credit_cost - float(prices.months.sum()), 0.0)
    bound = float(prices.parts @ grid.need) + total - float(prices.months @ grid.limits) + credit
    bound += _lease(grid, prices, made)
    return Appraisal(bound, slack, reduced, least, np.maximum(worth.paid_ratio, worth.free_ratio))
