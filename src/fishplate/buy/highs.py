"""Running a programme on HiGHS: one thread, one seed, and no trust in its word alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .bound import Prices
from .effort import LEAST, Effort, branching_seconds, simplex_iterations, simplex_seconds
from .grid import FloatArray, IntArray
from .programme import Programme, cost_of

SEED = 7
DUAL, PRIMAL = 1, 4
"""Simplex strategies: the first for changed limits, the second for added columns."""
THREADS = 1
"""HiGHS refuses a second thread count within one process, so this is the only one used."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the solver found: units of every candidate of the grid (None: nothing), their cost, a bound."""

    units: IntArray | None
    objective: float
    bound: float
    status: str


def quiet_solver() -> Any:
    """A silent solver of one thread and one seed."""
    import highspy

    class Quiet(highspy.Highs):
        """Switched off before it first speaks: it would print its name on standard output."""

        def enableCallbacks(self) -> None:  # noqa: N802 (its name there)
            self.setOptionValue("output_flag", False)

    solver: Any = Quiet()  # type: ignore[no-untyped-call]
    solver.setOptionValue("threads", THREADS)
    solver.setOptionValue("parallel", "off")
    solver.setOptionValue("random_seed", SEED)
    return solver


@dataclass(frozen=True, slots=True)
class Relaxed:
    """The relaxation's optimum, its prices, the units bought and the trips made (fractions), and what was fixed."""

    bound: float
    prices: Prices
    units: FloatArray
    trips: FloatArray
    fixings: tuple[tuple[int, float], ...]


class Relaxation:
    """The relaxation, kept in the solver so that it can be solved again with trips made or left out."""

    def __init__(self, programme: Programme) -> None:
        self.programme = programme
        self._solver = quiet_solver()
        self._solver.setOptionValue("solve_relaxation", True)
        self._solver.passModel(programme.lp)

    def renew(self, programme: Programme) -> None:
        """Take another programme over the same grid, to be solved from where the last one ended."""
        import highspy

        solver = self._solver
        last, before = solver.getBasis(), self.programme
        self.programme = programme
        solver.passModel(programme.lp)
        basis = highspy.HighsBasis()
        resting, slack = highspy.HighsBasisStatus.kLower, highspy.HighsBasisStatus.kBasic
        basis.col_status = _carried(before.column_names, last.col_status, programme.column_names, resting)
        basis.row_status = _carried(before.row_names, last.row_status, programme.row_names, slack)
        basis.valid = True
        solver.setBasis(basis)
        solver.setOptionValue("simplex_strategy", PRIMAL)

    def solve(self, fixings: tuple[tuple[int, float], ...], *, effort: Effort) -> Relaxed | None:
        """Optimum with some trips fixed at 0 or 1; None if it was not found with that effort or there is none."""
        import highspy

        programme, solver = self.programme, self._solver
        fixed = dict(fixings)
        for trip, noun in enumerate(programme.grid.trips):
            low, high = (fixed[trip], fixed[trip]) if trip in fixed else (float(noun.paid_anyway), 1.0)
            solver.changeColBounds(programme.columns.trip.start + trip, low, high)
        entries = len(programme.lp.a_matrix_.value_)
        solver.setOptionValue("simplex_iteration_limit", simplex_iterations(max(effort.left(), LEAST), entries))
        solver.setOptionValue("time_limit", solver.getRunTime() + max(effort.clock(), LEAST))
        solver.run()
        effort.spend(simplex_seconds(solver.getInfo().simplex_iteration_count, entries))
        solver.setOptionValue("simplex_strategy", DUAL)
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = solver.getSolution()
        dual, values = np.asarray(solution.row_dual), np.asarray(solution.col_value)
        grid = programme.grid
        at = programme.columns
        kilograms, uses, allowances = (
            np.zeros(len(grid.trips)),
            np.zeros(len(grid.shipments)),
            np.zeros(len(grid.trips)),
        )
        kilograms[programme.carrying] = -dual[programme.rows["carry"]]
        uses[programme.use_of] = -dual[programme.rows["use"]]
        allowances[at.saving_of] = -dual[programme.rows["save"]]
        modes = -dual[programme.rows["mode"]]
        weights = np.append(-dual[programme.rows["cash"]], 0.0)
        prices = Prices(dual[programme.rows["cover"]], -np.diff(weights), kilograms, uses, allowances, modes)
        bought = np.zeros(len(grid.candidates))
        bought[at.kept] = values[at.units]
        return Relaxed(solver.getInfo().objective_function_value, prices, bought, values[at.trip], fixings)


def _carried(before: IntArray, statuses: Any, names: IntArray, new: Any) -> list[Any]:
    """Statuses by name; what was not there before gets the status of a newcomer."""
    order = np.argsort(before)
    at = order[np.clip(np.searchsorted(before[order], names), 0, before.size - 1)]
    known = before[at] == names
    return [statuses[i] if seen else new for i, seen in zip(at.tolist(), known.tolist(), strict=True)]


def run_whole(solver: Any, effort: Effort, *, enough: float = np.inf) -> None:
    """Solve a whole-unit programme until its bound proves enough, as it does not know the plan it is to prove, or all
    effort is spent."""
    import highspy

    entries, seconds, looks = solver.getNumNz(), max(effort.left(), LEAST), 0

    def watch(_kind: Any, _message: str, data: Any, reply: Any, _user: Any) -> None:
        nonlocal looks
        looks += 1
        reply.user_interrupt = data.mip_dual_bound >= enough or branching_seconds(looks, entries) >= seconds

    solver.setOptionValue("time_limit", max(effort.clock(), LEAST))
    solver.setCallback(watch, None)
    solver.startCallback(highspy.cb.HighsCallbackType.kCallbackMipInterrupt)
    solver.run()
    effort.spend(branching_seconds(looks, entries))


def solve_whole(
    programme: Programme,
    *,
    effort: Effort,
    gap: float,
    target: float = -np.inf,
    enough: float = np.inf,
    root_only: bool = False,
) -> Outcome:
    """Solve in whole units, until the gap, the target objective, a bound that is enough, or all effort is spent.

    With `root_only` it does not branch: that raises the bound and seldom finds a plan.

    The solver is given no plan to start from: HiGHS 1.16 then reports objectives that its own units contradict.
    """
    import highspy

    solver = quiet_solver()
    solver.setOptionValue("mip_rel_gap", gap)
    if np.isfinite(target):
        solver.setOptionValue("objective_target", target)
    if root_only:
        solver.setOptionValue("mip_max_nodes", 1)
        solver.setOptionValue("mip_heuristic_effort", 0.0)
    solver.passModel(programme.lp)
    run_whole(solver, effort, enough=enough)
    status, info = solver.getModelStatus(), solver.getInfo()
    bound = info.mip_dual_bound if np.isfinite(info.mip_dual_bound) else -np.inf
    if status == highspy.HighsModelStatus.kObjectiveTarget:
        bound = -np.inf  # it then repeats the objective
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Outcome(None, np.inf, bound, status.name)
    units = np.zeros(len(programme.grid.candidates), dtype=np.int64)
    values = np.asarray(solver.getSolution().col_value)
    units[programme.columns.kept] = np.rint(values[programme.columns.units]).astype(np.int64)
    objective = cost_of(programme, units)
    # Counted again from the units alone: a solver that contradicts this has not proved its bound either.
    if objective > info.objective_function_value + 1e-4 * max(1.0, abs(objective)):
        bound = -np.inf
    return Outcome(units, objective, bound, status.name)
