"""A plan near the last one: the fewest changes among all plans that cost little more than the best."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .bounding import appraise_all, bound_by_cheapest, usable
from .effort import Effort
from .grid import BoolArray, Grid, IntArray, compile_grid
from .highs import quiet_solver, run_whole
from .model import PurchasePlan, PurchaseProblem, Recost
from .programme import Programme, assemble
from .recosting import cost_exactly, make_plan, selection_faults

MOST = 1500
"""Candidates looked at, at most, the likeliest first; with fewer that could matter the count of changes is proven."""
TRIES = 3
"""Times the room is narrowed and the plan sought again, where exact costs are above the modelled ones."""

Kept = Mapping[str, frozenset[str]]
"""Name of a line of the last plan to the candidates that stand for it today."""


@dataclass(frozen=True, slots=True)
class Steady:
    """A plan near the last one.

    Parameters
    ----------
    plan : with the fewest changes found; the best plan itself where nothing nearer costs so little
    changes : lines of the last plan that are not in it, and lines in it that were not in the last plan
    before : the same count for the best plan
    extra : what it costs more than the best plan [home currency]
    proven : whether no plan within the room has fewer changes, in the linear model
    """

    plan: PurchasePlan
    changes: int
    before: int
    extra: float
    proven: bool


def steadied(
    problem: PurchaseProblem, best: PurchasePlan, last: Kept, *, room: float, recost: Recost, time_limit: float
) -> Steady:
    """The plan with the fewest changes from the last one, among those that cost at most `room` more than the best.

    Parameters
    ----------
    best : the plan to stay near in cost
    last : each line of the last plan that could still be bought, with the candidates that are the same thing today:
        same offer, week and way home, in any band of charges
    room : how much more it may cost, exactly re-costed [home currency]
    time_limit : work to do at most, in seconds of a usual machine

    Notes
    -----
    A mixed-integer programme over every candidate that a plan within the room can hold, as the best plan's proof shows:
    least number of changes, and among those the least cost, subject to cost <= best + room.
    """
    grid = compile_grid(problem)
    at = {candidate.key: index for index, candidate in enumerate(grid.candidates)}
    kept = [sorted(at[key] for key in keys if key in at) for _, keys in sorted(last.items())]
    kept = [indices for indices in kept if indices]
    known = np.zeros(len(grid.candidates), dtype=np.bool_)
    known[[index for indices in kept for index in indices]] = True
    units = _units_of(at, best)
    before = _changes(units, kept, known)
    stay = Steady(best, before, before, 0.0, proven=before == 0)
    if before == 0 or not kept:
        return stay
    limit, effort = best.model_total + best.penalty + room, Effort(time_limit)
    for _ in range(TRIES):
        found, complete = _fewest(grid, best, kept, known, limit, effort)
        if found is None or _changes(found, kept, known) >= before or selection_faults(grid, found):
            return Steady(best, before, before, 0.0, proven=complete and found is not None)
        costed = cost_exactly(grid, found, recost)
        extra = costed.objective - best.total - best.penalty
        if extra <= room + 1e-6:
            plan = make_plan(grid, costed, bound=best.bound, gap=best.gap, multipliers=best.multipliers)
            return Steady(plan, _changes(found, kept, known), before, extra, proven=complete)
        limit -= extra - room + 0.01
        if effort.left() <= 0:
            break
    return stay


def _units_of(at: Mapping[str, int], plan: PurchasePlan) -> IntArray:
    units = np.zeros(len(at), dtype=np.int64)
    for line in plan.lines:
        if line.candidate in at:
            units[at[line.candidate]] = line.units
    return units


def _changes(units: IntArray, kept: list[list[int]], known: BoolArray) -> int:
    dropped = sum(not units[indices].any() for indices in kept)
    return int(dropped + np.count_nonzero(units[~known]))


def _fewest(
    grid: Grid, best: PurchasePlan, kept: list[list[int]], known: BoolArray, limit: float, effort: Effort
) -> tuple[IntArray | None, bool]:
    """Units of the plan with the fewest changes within a modelled cost, and whether that is proven."""
    proof = appraise_all(grid, best.multipliers) if usable(grid, best.multipliers) else bound_by_cheapest(grid)
    order = np.argsort(proof.reach, kind="stable")
    keep = np.zeros(len(grid.candidates), dtype=np.bool_)
    keep[order[:MOST]] = True
    worth = proof.reach <= limit + 1e-6
    complete = not (worth & ~keep).any()
    keep &= worth
    keep |= known
    bought = {line.candidate for line in best.lines}
    keep |= np.array([candidate.key in bought for candidate in grid.candidates])
    programme = assemble(grid, keep)
    columns, proved = _solved(programme, kept, known, min(best.bound, limit), limit, effort)
    if columns is None:
        return None, complete
    units = np.zeros(len(grid.candidates), dtype=np.int64)
    units[programme.columns.kept] = np.rint(columns[programme.columns.units]).astype(np.int64)
    return units, complete and proved


def _solved(
    programme: Programme, kept: list[list[int]], known: BoolArray, floor: float, limit: float, effort: Effort
) -> tuple[Any, bool]:
    """All columns of the programme with its cost as a row and changes counted, and whether it was solved out.

    A change weighs twice as much as costs can differ, so that fewer changes always win; the gap is below a change.
    """
    import highspy

    columns, costs = programme.columns, np.asarray(programme.lp.col_cost_, dtype=np.float64)
    place = {int(candidate): position for position, candidate in enumerate(columns.kept)}
    weight = 2 * max(1.0, limit - floor)
    solver = quiet_solver()
    solver.passModel(programme.lp)
    spent = np.flatnonzero(costs)
    solver.addRow(-np.inf, limit, spent.size, spent.astype(np.int32), costs[spent])
    for candidate in columns.kept[~known[columns.kept]].tolist():  # 1 if a line is bought that is new
        at = place[candidate]
        _count(solver, weight, 0.0, [at], -1.0 / float(columns.most[at]))
    for indices in kept:  # 1 if a line of the last plan is not bought
        _count(solver, weight, 1.0, [place[index] for index in indices], 1.0)
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("mip_abs_gap", 0.4 * weight)
    run_whole(solver, effort)
    if solver.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None, False
    return np.asarray(solver.getSolution().col_value), solver.getModelStatus() == highspy.HighsModelStatus.kOptimal


def _count(solver: Any, weight: float, least: float, columns: Sequence[int], share: float) -> None:
    """A whole column with a weight, and the row that makes it 1: column + share × columns >= least."""
    import highspy

    added = solver.getNumCol()
    solver.addCol(weight, 0.0, 1.0, 0, np.zeros(0, dtype=np.int32), np.zeros(0))
    solver.changeColIntegrality(added, highspy.HighsVarType.kInteger)
    index = np.array([added, *columns], dtype=np.int32)
    solver.addRow(least, np.inf, index.size, index, np.array([1.0, *[share] * len(columns)]))
