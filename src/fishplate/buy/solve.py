"""From the problem to a plan: bound, first plan, whole-unit programme on the candidates that matter, exact costs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from time import perf_counter

import numpy as np

from .basket import Basket, Store
from .bounding import Bounding, appraise_all, bound_plans, usable
from .grid import FloatArray, Grid, IntArray, compile_grid
from .model import PurchasePlan, PurchaseProblem, Recost
from .programme import assemble, solve_whole
from .recosting import Costed, cost_exactly, make_plan
from .search import Shortlist, build_up, improve, insert

SIZES = (600, 2000)
"""Candidates in the first whole-unit programmes; the last holds every one that could still matter."""
ROUNDS = 3
"""Re-solves after re-costing, at most."""
DISAGREEMENT = 0.005
"""Share of the total by which exact and modelled costs may differ before the model is corrected."""

Progress = Callable[[str, float], None]


@dataclass(slots=True)
class _Clock:
    """Time left, and whether it ran out."""

    stop_at: float
    ran_out: bool = False

    def left(self) -> float:
        return self.stop_at - perf_counter()


def _shortlist(store: Store, bounding: Bounding, length: int) -> Shortlist:
    """For each part the items most likely to be in a good plan: bought by the relaxation, else by least reach."""
    reach = np.full(len(store.items), np.inf)
    np.minimum.at(reach, np.array(store.item_of, dtype=np.int64), bounding.reach)
    bought = np.bincount(store.item_of, weights=bounding.bought, minlength=len(store.items)) > 1e-6
    return [sorted(items, key=lambda i: (not bought[i], reach[i], i))[:length] for items in store.by_part]


def _good_enough(cost: float, bound: float, gap: float) -> bool:
    return cost - bound <= gap * max(abs(cost), 1e-9) + 1e-9


def _started(store: Store, grid: Grid, start: PurchasePlan) -> Basket:
    """The last plan on today's grid: lines that still exist, in the same groups; impossible shipments left out."""
    at = {candidate.key: index for index, candidate in enumerate(grid.candidates)}
    units = np.zeros(len(grid.candidates), dtype=np.int64)
    for line in start.lines:
        if line.candidate in at:
            units[at[line.candidate]] = min(line.units, grid.most[at[line.candidate]])
    basket = Basket(store)
    whole = Basket.of(store, units)
    if np.isfinite(whole.cost):
        return whole
    for group, contents in sorted(whole.contents.items()):
        if np.isfinite(basket.after({group: contents})):
            basket.apply({group: contents})
    return basket


def _first_plan(store: Store, grid: Grid, bounding: Bounding, start: PurchasePlan | None) -> Basket:
    shortlist = _shortlist(store, bounding, 12)
    if start is None:
        basket = build_up(store, shortlist)
    else:
        basket = _started(store, grid, start)
        basket.apply(basket.changed([], insert(basket, [], basket.missing(), shortlist)))
    improve(basket, shortlist)
    return basket


def _programme_rounds(
    grid: Grid, store: Store, bounding: Bounding, units: IntArray, cost: float, gap: float, clock: _Clock
) -> tuple[IntArray, float, float]:
    """Whole-unit programmes on more and more candidates, until the plan is good enough; plan, cost, bound."""
    bound = bounding.bound
    order = np.argsort(bounding.reach, kind="stable")
    for size in (*SIZES, order.size):
        worth = bounding.reach < cost - 1e-9
        keep = np.zeros(order.size, dtype=np.bool_)
        keep[order[:size]] = True
        keep &= worth
        complete = keep.sum() == worth.sum()
        keep |= (units > 0) | (bounding.bought > 1e-6)
        left = clock.left()
        if left <= 0.05:
            clock.ran_out = True
            break
        limit = left * (0.85 if complete else 0.5)
        outcome = solve_whole(
            assemble(grid, keep), time_limit=limit, gap=gap / 3 if not complete else gap * 0.9,
            target=bound / (1 - gap) if bound > 0 else -np.inf, start=units if cost < np.inf else None,
        )  # fmt: skip
        if outcome.units is not None and outcome.objective < cost - 1e-9:
            units, cost = outcome.units, outcome.objective
            if not grid.forced.any():
                basket = Basket.of(store, units)
                improve(basket, _shortlist(store, bounding, 8), passes=1)
                if basket.cost < cost:
                    units, cost = basket.units(), basket.cost
        if complete:
            bound = max(bound, min(outcome.bound, cost))
        if _good_enough(cost, bound, gap) or complete:
            clock.ran_out |= outcome.status == "kTimeLimit" and not _good_enough(cost, bound, gap)
            break
    return units, cost, bound


def _plan_units(
    grid: Grid, bounding: Bounding, start: PurchasePlan | None, gap: float, clock: _Clock, progress: Progress
) -> tuple[IntArray, float, float]:
    """A plan of the linear model: units, cost with penalties, bound."""
    store = Store(grid)
    units, cost = np.zeros(len(grid.candidates), dtype=np.int64), np.inf
    if not grid.forced.any():
        basket = _first_plan(store, grid, bounding, start)
        units, cost = basket.units(), basket.cost
        progress("first plan", cost)
    if _good_enough(cost, bounding.bound, gap):
        return units, cost, bounding.bound
    units, cost, bound = _programme_rounds(grid, store, bounding, units, cost, gap, clock)
    if not np.isfinite(cost):
        raise ValueError("the fixed choices cannot be met together: bands, reliefs or trips exclude each other")
    progress("whole units", cost)
    return units, cost, bound


def _no_progress(_stage: str, _cost: float) -> None:
    """Nobody is watching."""


def _empty(grid: Grid) -> Bounding:
    none = np.zeros(0)
    return Bounding(0.0, none, none, ())


def solve(
    problem: PurchaseProblem,
    *,
    recost: Recost,
    time_limit: float,
    gap: float = 0.01,
    start: PurchasePlan | None = None,
    progress: Progress | None = None,
) -> PurchasePlan:
    """The cheapest way to buy what is needed, by a mixed-integer programme, with every shipment re-costed exactly.

    Parameters
    ----------
    recost : exact expected cost of each used shipment of a selection [home currency]
    time_limit : aimed at, not guaranteed [s]; a plan is returned in any case
    gap : good enough, as a share of the total [-]
    start : an earlier plan, tried first; its bound is reused if it still proves enough
    progress : told a stage and the cost of the best plan so far

    Returns
    -------
    The plan with the least re-costed total. The bound is for the dates among the candidates, in the linear model.

    Raises
    ------
    ValueError if the problem contradicts itself, or its fixed choices exclude each other.
    """
    clock, progress = _Clock(perf_counter() + time_limit), progress or _no_progress
    grid = compile_grid(problem)
    if not grid.candidates:
        empty = np.zeros(0, dtype=np.int64)
        return make_plan(grid, Costed(empty, {}, {}, 0.0), _empty(grid), 0.0, gap, 1, 0.0, False)
    bounding, units, cost, bound = _quick(grid, start, gap, clock) or _slow(grid, start, gap, clock, progress)
    best, rounds, first_apart = _settle(grid, bounding, units, cost, recost, gap, clock)
    progress("re-costed", best.total)
    return make_plan(grid, best, bounding, bound, gap, rounds, first_apart, clock.ran_out)


_Found = tuple[Bounding, IntArray, float, float]


def _quick(grid: Grid, start: PurchasePlan | None, gap: float, clock: _Clock) -> _Found | None:
    """The last plan repaired, if the last proof shows that it is still good enough."""
    if start is None or grid.forced.any() or not usable(grid, start.multipliers):
        return None
    bounding = appraise_all(grid, start.multipliers)
    store = Store(grid)
    basket = _first_plan(store, grid, bounding, start)
    if _good_enough(basket.cost, bounding.bound, gap):
        return bounding, basket.units(), basket.cost, bounding.bound
    return None


def _slow(grid: Grid, start: PurchasePlan | None, gap: float, clock: _Clock, progress: Progress) -> _Found:
    bounding = bound_plans(grid, time_limit=max(clock.left() * 0.6, 0.05))
    if bounding is None:
        clock.ran_out = True
        bounding = Bounding(-np.inf, grid.cost.copy(), np.zeros(len(grid.candidates)), ())
    progress("bound", bounding.bound)
    units, cost, bound = _plan_units(grid, bounding, start, gap, clock, progress)
    return bounding, units, cost, bound


def _settle(
    grid: Grid, bounding: Bounding, units: IntArray, cost: float, recost: Recost, gap: float, clock: _Clock
) -> tuple[Costed, int, float]:
    """Re-cost; where the model is off by too much, correct the shipments' charges and solve again; the best round."""
    best = costed = cost_exactly(grid, units, recost)
    first_apart, rounds = costed.apart, 1
    correction: FloatArray = np.zeros(len(grid.shipments))
    seen = {units.tobytes()}
    while costed.apart > DISAGREEMENT and rounds <= ROUNDS and clock.left() > 0.05:
        at = {shipment.key: index for index, shipment in enumerate(grid.shipments)}
        for key, exact in costed.exact.items():
            correction[at[key]] = exact - costed.modelled[key]
        corrected = replace(grid, fixed=np.maximum(grid.fixed + correction, 0.0))
        units = _solve_again(corrected, bounding, units, gap, clock)
        rounds += 1
        if units.tobytes() in seen:
            break
        seen.add(units.tobytes())
        costed = cost_exactly(grid, units, recost)
        if costed.objective < best.objective - 1e-9:
            best = costed
    return best, rounds, first_apart


def _solve_again(grid: Grid, bounding: Bounding, units: IntArray, gap: float, clock: _Clock) -> IntArray:
    """The corrected programme on the candidates that mattered, from the plan in hand."""
    keep = np.zeros(units.size, dtype=np.bool_)
    keep[np.argsort(bounding.reach, kind="stable")[: SIZES[1]]] = True
    keep |= units > 0
    if grid.forced.any():
        return units
    basket = Basket.of(Store(grid), units)
    improve(basket, _shortlist(basket.store, bounding, 12))
    outcome = solve_whole(assemble(grid, keep), time_limit=clock.left() * 0.5, gap=gap / 2, start=basket.units())
    if outcome.units is not None and outcome.objective < basket.cost - 1e-9:
        return outcome.units
    return basket.units()
