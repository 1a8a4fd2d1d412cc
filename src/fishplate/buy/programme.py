"""The linear programme over part of the grid, handed to HiGHS on one thread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .bound import Prices
from .grid import BoolArray, FloatArray, Grid, IntArray, tally

SEED = 7
THREADS = 1
"""HiGHS refuses a second thread count within one process, so this is the only one used."""


@dataclass(slots=True)
class _Rows:
    """Rows gathered block by block: entries as (row, column, value), and the limits of each row."""

    row: list[IntArray]
    column: list[IntArray]
    value: list[FloatArray]
    lower: list[FloatArray]
    upper: list[FloatArray]
    count: int = 0

    def add(
        self, size: int, lower: FloatArray | float, upper: FloatArray | float, *entries: tuple[Any, Any, Any]
    ) -> slice:
        """Add `size` rows; each entry is (row within the block, column, value)."""
        for row, column, value in entries:
            row, column, value = np.broadcast_arrays(np.asarray(row), np.asarray(column), np.asarray(value, float))
            self.row.append(row.ravel() + self.count)
            self.column.append(column.ravel())
            self.value.append(value.ravel())
        self.lower.append(np.broadcast_to(np.asarray(lower, dtype=np.float64), (size,)))
        self.upper.append(np.broadcast_to(np.asarray(upper, dtype=np.float64), (size,)))
        self.count += size
        return slice(self.count - size, self.count)


@dataclass(frozen=True, slots=True)
class Programme:
    """A programme over the candidates `kept` and the shipments `used`, and where its columns and rows lie."""

    lp: Any
    grid: Grid
    kept: IntArray
    used: IntArray
    units: slice
    open_: slice
    free: slice
    free_of: IntArray
    sole: slice
    sole_of: IntArray
    trip: slice
    unmet: slice
    borrowed: slice
    rows: dict[str, slice]
    use_of: IntArray
    carrying: IntArray


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the solver returned: units of every candidate of the grid, objective, bound."""

    units: IntArray | None
    objective: float
    bound: float
    status: str


def _layout(sizes: Sequence[int]) -> list[slice]:
    ends = np.cumsum(sizes)
    return [slice(int(end - size), int(end)) for size, end in zip(sizes, ends, strict=True)]


def assemble(grid: Grid, keep: BoolArray) -> Programme:
    """The programme on some candidates; every part may also stay unmet, and money be found, at a penalty."""
    kept = np.flatnonzero(keep | (grid.forced > 0))
    used = np.unique(grid.shipment[kept])
    at = np.searchsorted(used, grid.shipment[kept])
    value, most = grid.value[kept], grid.most[kept].astype(np.float64)
    reach = tally(at, value * most, used.size)
    free_of = np.flatnonzero((grid.freight[used] > 0) & (reach + 1e-6 >= grid.free_from[used]))
    sole_of = np.unique(grid.supplier[used[grid.relief[used]]])
    sizes = [kept.size, used.size, free_of.size, sole_of.size, len(grid.trips), len(grid.parts), len(grid.months)]
    units, open_, free, sole, trip, unmet, borrowed = _layout(sizes)
    rows = _Rows([], [], [], [], [])
    found: dict[str, slice] = {}
    columns = np.full(len(grid.candidates), -1)
    columns[kept] = np.arange(kept.size)
    covering = columns[grid.cover_candidate] >= 0
    found["cover"] = rows.add(
        len(grid.parts), grid.need, np.inf,
        (grid.cover_part[covering], columns[grid.cover_candidate[covering]], grid.cover_quantity[covering]),
        (np.arange(len(grid.parts)), unmet.start + np.arange(len(grid.parts)), 1.0),
    )  # fmt: skip
    each = np.arange(kept.size)
    rows.add(kept.size, -np.inf, 0.0, (each, each, 1.0), (each, open_.start + at, -most))
    _value_rows(rows, grid, used, at, value, reach, open_, free, free_of)
    _group_rows(rows, grid, used, open_, sole, sole_of)
    use_of, carrying = _trip_rows(rows, found, grid, kept, used, at, open_, trip)
    _cash_rows(rows, found, grid, kept, used, free_of, open_, free, trip, borrowed)
    costs = np.concatenate([
        grid.cost[kept], grid.fixed[used] + grid.freight[used], -grid.freight[used[free_of]], np.zeros(sole_of.size),
        grid.trip_fixed, grid.unmet_cost, np.full(len(grid.months), grid.cash_penalty),
    ])  # fmt: skip
    upper = np.concatenate([
        most, np.ones(trip.stop - units.stop), grid.need, np.full(len(grid.months), _most_money(grid)),
    ])  # fmt: skip
    lower = np.zeros(upper.size)
    lower[units] = grid.forced[kept]
    lower[trip] = [float(t.paid_anyway) for t in grid.trips]
    whole = np.zeros(upper.size, dtype=np.bool_)
    whole[: free.stop] = True
    whole[trip] = True
    lp = _to_highs(rows, costs, lower, upper, whole)
    return Programme(
        lp, grid, kept, used, units, open_, free, free_of, sole, sole_of, trip, unmet, borrowed, found, use_of, carrying
    )


def _most_money(grid: Grid) -> float:
    """More money than all candidates, charges and trips together: a finite limit, as HiGHS 1.16 errs without one."""
    goods = float(np.maximum(grid.spend, 0.0).sum(axis=0) @ grid.most) if grid.months else 0.0
    return 1.0 + goods + float((grid.fixed + grid.freight).sum() + grid.trip_fixed.sum() + np.abs(grid.limits).sum())


def _value_rows(
    rows: _Rows, grid: Grid, used: IntArray, at: IntArray, value: FloatArray, reach: FloatArray,
    open_: slice, free: slice, free_of: IntArray,
) -> None:  # fmt: skip
    """Bands: low <= value <= high; free freight: value >= line. Item values are cut to the line, which is tighter."""

    def block(chosen: IntArray, line: FloatArray, column: IntArray, cut: bool) -> None:
        place = np.full(used.size, -1)
        place[chosen] = np.arange(chosen.size)
        inside = np.flatnonzero(place[at] >= 0)
        row = place[at[inside]]
        amount = np.minimum(value[inside], line[row]) if cut else value[inside]
        limits = (0.0, np.inf) if cut else (-np.inf, 0.0)
        rows.add(chosen.size, *limits, (row, inside, amount), (np.arange(chosen.size), column, -line))

    high = np.flatnonzero(reach > grid.high[used] + 1e-6)
    block(high, grid.high[used[high]], open_.start + high, False)
    low = np.flatnonzero(grid.low[used] > 0)
    block(low, grid.low[used[low]], open_.start + low, True)
    block(free_of, grid.free_from[used[free_of]], free.start + np.arange(free_of.size), True)
    each = np.arange(free_of.size)
    rows.add(free_of.size, -np.inf, 0.0, (each, free.start + each, 1.0), (each, open_.start + free_of, -1.0))


def _group_rows(rows: _Rows, grid: Grid, used: IntArray, open_: slice, sole: slice, sole_of: IntArray) -> None:
    """One band a group; a relief only for the supplier's sole shipment across a border."""
    relief, group, supplier = grid.relief[used], grid.group[used], grid.supplier[used]
    watched = np.isin(supplier, sole_of) & grid.crossing[used] & ~relief
    each = np.arange(used.size)
    names, row = np.unique(group, return_inverse=True)
    several = np.bincount(row) > 1
    inside = several[row]
    rows.add(names.size, -np.inf, 1.0, (row[inside], open_.start + each[inside], 1.0))
    names, row = np.unique(group[watched], return_inverse=True)
    owner = np.zeros(names.size, dtype=np.int64)
    owner[row] = np.searchsorted(sole_of, supplier[watched])
    rows.add(names.size, -np.inf, 1.0, (row, open_.start + each[watched], 1.0),
             (np.arange(names.size), sole.start + owner, 1.0))  # fmt: skip
    row = np.searchsorted(sole_of, supplier[relief])
    rows.add(sole_of.size, -np.inf, 0.0, (row, open_.start + each[relief], 1.0),
             (np.arange(sole_of.size), sole.start + np.arange(sole_of.size), -1.0))  # fmt: skip


def _trip_rows(
    rows: _Rows, found: dict[str, slice], grid: Grid, kept: IntArray, used: IntArray, at: IntArray,
    open_: slice, trip: slice,
) -> tuple[IntArray, IntArray]:  # fmt: skip
    """A shipment to be collected needs its trip; a trip carries so much."""
    use_of = np.flatnonzero(grid.trip[used] >= 0)
    each = np.arange(use_of.size)
    found["use"] = rows.add(use_of.size, -np.inf, 0.0, (each, open_.start + use_of, 1.0),
                            (each, trip.start + grid.trip[used[use_of]], -1.0))  # fmt: skip
    carrying = np.flatnonzero(np.isfinite(grid.capacity))
    place = np.full(len(grid.trips) + 1, -1)
    place[carrying] = np.arange(carrying.size)
    row = place[grid.trip[used[at]]]
    inside = np.flatnonzero(row >= 0)
    each = np.arange(carrying.size)
    found["carry"] = rows.add(carrying.size, -np.inf, 0.0, (row[inside], inside, grid.mass[kept[inside]]),
                              (each, trip.start + carrying, -grid.capacity[carrying]))  # fmt: skip
    return used[use_of], carrying


def _cash_rows(
    rows: _Rows, found: dict[str, slice], grid: Grid, kept: IntArray, used: IntArray, free_of: IntArray,
    open_: slice, free: slice, trip: slice, borrowed: slice,
) -> None:  # fmt: skip
    """Money spent by the end of each month, less what had to be found by then, within the limit."""
    months = len(grid.months)
    entries = []
    for first, amounts in (
        (0, grid.spend[:, kept]),
        (open_.start, grid.charge_counts[:, used] * (grid.fixed + grid.freight)[used]),
        (free.start, grid.charge_counts[:, used[free_of]] * -grid.freight[used[free_of]]),
        (trip.start, grid.trip_counts * grid.trip_fixed),
        (borrowed.start, -np.tri(months)),
    ):
        row, column = np.nonzero(amounts)
        entries.append((row, first + column, amounts[row, column]))
    found["cash"] = rows.add(months, -np.inf, grid.limits, *entries)


def _to_highs(rows: _Rows, costs: FloatArray, lower: FloatArray, upper: FloatArray, whole: BoolArray) -> Any:
    import highspy
    from scipy.sparse import csc_array

    entries = (np.concatenate(rows.value), (np.concatenate(rows.row), np.concatenate(rows.column)))
    matrix = csc_array(entries, shape=(rows.count, costs.size))
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = costs.size, rows.count
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = costs, lower, upper
    lp.row_lower_, lp.row_upper_ = np.concatenate(rows.lower), np.concatenate(rows.upper)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = costs.size, rows.count
    lp.a_matrix_.start_, lp.a_matrix_.index_ = matrix.indptr.astype(np.int32), matrix.indices.astype(np.int32)
    lp.a_matrix_.value_ = matrix.data
    lp.integrality_ = [highspy.HighsVarType.kInteger if w else highspy.HighsVarType.kContinuous for w in whole]
    return lp


def _solver(time_limit: float) -> Any:
    import highspy

    class Quiet(highspy.Highs):
        """Switched off before it first speaks: it would print its name on standard output."""

        def enableCallbacks(self) -> None:  # noqa: N802 (its name there)
            self.setOptionValue("output_flag", False)

    solver: Any = Quiet()  # type: ignore[no-untyped-call]
    solver.setOptionValue("threads", THREADS)
    solver.setOptionValue("parallel", "off")
    solver.setOptionValue("random_seed", SEED)
    solver.setOptionValue("time_limit", max(time_limit, 0.05))
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
        self._solver = _solver(60.0)
        self._solver.setOptionValue("solve_relaxation", True)
        self._solver.passModel(programme.lp)

    def solve(self, fixings: tuple[tuple[int, float], ...], *, time_limit: float) -> Relaxed | None:
        """Optimum with some trips fixed at 0 or 1; None if it was not found in time or there is none."""
        import highspy

        programme, solver = self.programme, self._solver
        fixed = dict(fixings)
        for trip, noun in enumerate(programme.grid.trips):
            low, high = (fixed[trip], fixed[trip]) if trip in fixed else (float(noun.paid_anyway), 1.0)
            solver.changeColBounds(programme.trip.start + trip, low, high)
        solver.setOptionValue("time_limit", solver.getRunTime() + max(time_limit, 0.05))
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = solver.getSolution()
        dual, values = np.asarray(solution.row_dual), np.asarray(solution.col_value)
        grid = programme.grid
        kilograms, uses = np.zeros(len(grid.trips)), np.zeros(len(grid.shipments))
        kilograms[programme.carrying] = -dual[programme.rows["carry"]]
        uses[programme.use_of] = -dual[programme.rows["use"]]
        prices = Prices(dual[programme.rows["cover"]], -dual[programme.rows["cash"]], kilograms, uses)
        bought = np.zeros(len(grid.candidates))
        bought[programme.kept] = values[programme.units]
        return Relaxed(solver.getInfo().objective_function_value, prices, bought, values[programme.trip], fixings)


def solve_whole(programme: Programme, *, time_limit: float, gap: float, target: float = -np.inf) -> Outcome:
    """Solve in whole units, until the gap, the target objective or the time limit is reached.

    The solver is given no plan to start from: HiGHS 1.16 then reports objectives that its own units contradict.
    """
    import highspy

    solver = _solver(time_limit)
    solver.setOptionValue("mip_rel_gap", gap)
    if np.isfinite(target):
        solver.setOptionValue("objective_target", target)
    solver.passModel(programme.lp)
    solver.run()
    status, info = solver.getModelStatus(), solver.getInfo()
    bound = info.mip_dual_bound if np.isfinite(info.mip_dual_bound) else -np.inf
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Outcome(None, np.inf, bound, status.name)
    units = np.zeros(len(programme.grid.candidates), dtype=np.int64)
    values = np.asarray(solver.getSolution().col_value)
    units[programme.kept] = np.rint(values[programme.units]).astype(np.int64)
    objective = float(np.asarray(programme.lp.col_cost_) @ complete(programme, units))
    # Counted again from the units alone: a solver that contradicts this has not proved its bound either.
    if objective > info.objective_function_value + 1e-4 * max(1.0, abs(objective)):
        bound = -np.inf
    return Outcome(units, objective, bound, status.name)


def complete(programme: Programme, units: IntArray) -> FloatArray:
    """All columns of a plan given by its units, as a start for the solver."""
    grid = programme.grid
    columns = np.zeros(programme.borrowed.stop)
    columns[programme.units] = units[programme.kept]
    value = tally(grid.shipment, units * grid.value, len(grid.shipments))
    opened = tally(grid.shipment, units, len(grid.shipments)) > 0
    columns[programme.open_] = opened[programme.used]
    free = programme.used[programme.free_of]
    columns[programme.free] = opened[free] & (value[free] + 1e-6 >= grid.free_from[free])
    columns[programme.sole] = np.isin(programme.sole_of, grid.supplier[opened & grid.relief])
    made = np.isin(np.arange(len(grid.trips)), grid.trip[opened]) | np.array([t.paid_anyway for t in grid.trips], bool)
    columns[programme.trip] = made
    covered = tally(
        grid.cover_part,
        units[grid.cover_candidate] * grid.cover_quantity,
        len(grid.parts),
    )
    columns[programme.unmet] = np.maximum(grid.need - covered, 0.0)
    if grid.months:
        charge = np.where(opened, grid.fixed + grid.freight, 0.0)
        charge[free] -= grid.freight[free] * columns[programme.free]
        spent = grid.spend @ units + grid.charge_counts @ charge + grid.trip_counts @ (grid.trip_fixed * made)
        peak = np.maximum.accumulate(np.maximum(spent - grid.limits, 0.0))
        columns[programme.borrowed] = np.diff(peak, prepend=0.0)
    return columns
