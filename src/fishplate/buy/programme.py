"""The linear programme over part of the grid: its columns, its rows, and any plan as its columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .grid import MARGIN, BoolArray, FloatArray, Grid, IntArray, tally
from .modes import no_modes

Surcharge = tuple[tuple[tuple[int, int], ...], float]
"""Contents, as (candidate, units), and what they cost more than modelled if all of it is bought; below zero: less."""


BLOCK = 100_000_000
"""Names of rows and columns are a block's number times this, and the number of what they are about."""


@dataclass(slots=True)
class _Rows:
    """Rows gathered block by block: entries as (row, column, value), the limits of each row, and its lasting name."""

    row: list[IntArray]
    column: list[IntArray]
    value: list[FloatArray]
    lower: list[FloatArray]
    upper: list[FloatArray]
    names: list[IntArray]
    count: int = 0

    def add(
        self,
        size: int,
        lower: FloatArray | float,
        upper: FloatArray | float,
        *entries: tuple[Any, Any, Any],
        of: IntArray | None = None,
    ) -> slice:
        """Add `size` rows; each entry is (row within the block, column, value); `of` is what each row is about."""
        for row, column, value in entries:
            row, column, value = np.broadcast_arrays(np.asarray(row), np.asarray(column), np.asarray(value, float))
            self.row.append(row.ravel() + self.count)
            self.column.append(column.ravel())
            self.value.append(value.ravel())
        self.lower.append(np.broadcast_to(np.asarray(lower, dtype=np.float64), (size,)))
        self.upper.append(np.broadcast_to(np.asarray(upper, dtype=np.float64), (size,)))
        self.names.append(len(self.names) * BLOCK + (np.arange(size) if of is None else of))
        self.count += size
        return slice(self.count - size, self.count)


@dataclass(frozen=True, slots=True)
class Columns:
    """The candidates `kept`, the shipments `used`, and where the columns lie.

    `at`, `value`, `most` are of the kept candidates (position of the shipment among the used; value; most units);
    `reach` is the most a used shipment can be worth; `free_of` are those that can reach free freight, `sole_of` the
    suppliers with a relief, `lot_of` the kept candidates sold from some number on, `supplied_of` the suppliers if each
    costs something, `saving_of` the trips with an allowance.
    """

    kept: IntArray
    used: IntArray
    at: IntArray
    value: FloatArray
    most: FloatArray
    reach: FloatArray
    free_of: IntArray
    sole_of: IntArray
    lot_of: IntArray
    supplied_of: IntArray
    saving_of: IntArray
    units: slice
    opened: slice
    free: slice
    lot: slice
    trip: slice
    sole: slice
    supplied: slice
    saved: slice
    unmet: slice
    found: slice
    drawn: slice
    left: slice
    extra: slice

    @property
    def size(self) -> int:
        """Number of columns."""
        return int(self.extra.stop)


@dataclass(frozen=True, slots=True)
class Programme:
    """A programme as the solver takes it, its columns, and the rows whose prices matter.

    `use_of` are the shipments with a trip, `carrying` the trips with a capacity, in the order of their rows. Names of
    columns and rows stay the same from one programme over a grid to another, whatever candidates they keep.
    """

    lp: Any
    grid: Grid
    columns: Columns
    rows: dict[str, slice]
    use_of: IntArray
    carrying: IntArray
    column_names: IntArray
    row_names: IntArray
    surcharges: tuple[Surcharge, ...] = ()


def _columns(grid: Grid, keep: BoolArray, surcharges: int) -> Columns:
    kept = np.flatnonzero(keep | (grid.forced > 0))
    used = np.unique(grid.shipment[kept])
    at = np.searchsorted(used, grid.shipment[kept])
    value, most = grid.value[kept], grid.most[kept].astype(np.float64)
    reach = tally(at, value * most, used.size)
    free_of = np.flatnonzero((grid.freight[used] > 0) & (reach + MARGIN >= grid.free_from[used]))
    sole_of = np.unique(grid.supplier[used[grid.relief[used]]])
    lot_of = np.flatnonzero((grid.least[kept] > 1) & (grid.forced[kept] == 0))
    supplied_of = np.unique(grid.supplier[used]) if grid.supplier_cost > 0 else np.zeros(0, dtype=np.int64)
    saving_of = np.flatnonzero(grid.allowance > 0)
    months = len(grid.months)
    sizes = [
        *(kept.size, used.size, free_of.size, lot_of.size, len(grid.trips), sole_of.size, supplied_of.size),
        *(saving_of.size, len(grid.parts), months, min(months, 1), months, surcharges),
    ]
    ends = np.cumsum(sizes).tolist()
    places = [slice(end - size, end) for size, end in zip(sizes, ends, strict=True)]
    return Columns(kept, used, at, value, most, reach, free_of, sole_of, lot_of, supplied_of, saving_of, *places)


def assemble(grid: Grid, keep: BoolArray, surcharges: Sequence[Surcharge] = ()) -> Programme:
    """The programme on some candidates; every part may also stay unmet, and money be found, at a penalty.

    Columns: units of each candidate, shipments opened, freight free, lots opened, trips; suppliers' sole use of a
    relief, suppliers bought from, allowances saved, parts unmet, money found by month, credit drawn, money left by
    month, surcharges in force. Units are linked to shipments one by one: trials showed a bound nearly 4 % tighter than
    by sums.
    """
    at = _columns(grid, keep, len(surcharges))
    rows, found = _Rows([], [], [], [], [], []), dict[str, slice]()
    found["cover"] = _cover_rows(rows, grid, at)
    each = np.arange(at.kept.size)
    rows.add(each.size, -np.inf, 0.0, (each, each, 1.0), (each, at.opened.start + at.at, -at.most), of=at.kept)
    _lot_rows(rows, grid, at)
    _value_rows(rows, grid, at)
    _group_rows(rows, grid, at)
    found["mode"] = _mode_rows(rows, grid, at)
    _supplier_rows(rows, grid, at)
    use_of = np.flatnonzero(grid.trip[at.used] >= 0)
    load, carries = grid.carried(grid.bulky)
    carrying = np.flatnonzero(np.isfinite(carries))
    found["use"] = _trip_rows(rows, grid, at, use_of)
    found["carry"] = _carry_rows(rows, grid, at, carrying, carries, load)
    # The measure of a trip that is less likely to give out has no price in the bound, which holds all the same.
    load, carries = grid.carried(~grid.bulky)
    _carry_rows(rows, grid, at, np.flatnonzero(np.isfinite(carries)), carries, load)
    found["save"] = _saving_rows(rows, grid, at)
    found["cash"] = _cash_rows(rows, grid, at)
    _surcharge_rows(rows, grid, at, surcharges)
    lp = _to_highs(rows, costs_of(grid, at, surcharges), *_limits(grid, at))
    names = _column_names(grid, at), np.concatenate(rows.names)
    return Programme(lp, grid, at, found, at.used[use_of], carrying, *names, tuple(surcharges))


def _column_names(grid: Grid, at: Columns) -> IntArray:
    months = np.arange(len(grid.months))
    abouts = [
        *(at.kept, at.used, at.used[at.free_of], at.kept[at.lot_of], np.arange(len(grid.trips)), at.sole_of),
        *(at.supplied_of, at.saving_of, np.arange(len(grid.parts)), months, months[:1], months),
        np.arange(at.extra.stop - at.extra.start),
    ]
    return np.concatenate([block * BLOCK + about for block, about in enumerate(abouts)])


def costs_of(grid: Grid, at: Columns, surcharges: Sequence[Surcharge] = ()) -> FloatArray:
    """Cost of every column [home currency]."""
    return np.concatenate([
        grid.cost[at.kept], (grid.fixed + grid.freight)[at.used], -grid.freight[at.used[at.free_of]],
        np.zeros(at.lot_of.size), grid.trip_fixed, np.zeros(at.sole_of.size),
        np.full(at.supplied_of.size, grid.supplier_cost), np.full(at.saving_of.size, -1.0), grid.unmet_cost,
        np.full(len(grid.months), grid.cash_penalty), np.full(at.drawn.stop - at.drawn.start, grid.credit_cost),
        np.zeros(len(grid.months)), np.array([amount for _, amount in surcharges]),
    ])  # fmt: skip


def _limits(grid: Grid, at: Columns) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Least and most of every column, and which are whole."""
    lower, upper, whole = np.zeros(at.size), np.ones(at.size), np.zeros(at.size, dtype=np.bool_)
    lower[at.units], upper[at.units] = grid.forced[at.kept], at.most
    lower[at.trip] = [float(trip.paid_anyway) for trip in grid.trips]
    upper[at.saved], upper[at.drawn] = grid.allowance[at.saving_of], grid.credit
    upper[at.unmet], upper[at.found] = grid.need, _most_money(grid)
    upper[at.left] = upper[at.extra] = np.inf
    whole[: at.trip.stop] = True
    return lower, upper, whole


def _most_money(grid: Grid) -> float:
    """More money than all candidates, charges and trips together; HiGHS 1.16 erred where this had no limit."""
    goods = float(np.maximum(grid.cash_amount, 0.0) @ grid.most[grid.cash_candidate])
    return 1.0 + goods + float((grid.fixed + grid.freight).sum() + grid.trip_fixed.sum() + np.abs(grid.limits).sum())


def _place(grid: Grid, at: Columns) -> IntArray:
    """(candidates,) column of each candidate, -1 if left out."""
    place = np.full(len(grid.candidates), -1)
    place[at.kept] = np.arange(at.kept.size)
    return place


def _cover_rows(rows: _Rows, grid: Grid, at: Columns) -> slice:
    """What is bought and what stays unmet make up the need."""
    column = _place(grid, at)[grid.cover_candidate]
    inside, parts = column >= 0, np.arange(len(grid.parts))
    bought = (grid.cover_part[inside], column[inside], grid.cover_quantity[inside])
    return rows.add(parts.size, grid.need, np.inf, bought, (parts, at.unmet.start + parts, 1.0))


def _value_rows(rows: _Rows, grid: Grid, at: Columns) -> None:
    """Bands: low <= value <= high; free freight: value >= line. Item values are cut to the line, which is tighter."""

    def block(chosen: IntArray, line: FloatArray, column: IntArray, cut: bool) -> None:
        place = np.full(at.used.size, -1)
        place[chosen] = np.arange(chosen.size)
        inside = np.flatnonzero(place[at.at] >= 0)
        row = place[at.at[inside]]
        amount = np.minimum(at.value[inside], line[row]) if cut else at.value[inside]
        limits = (0.0, np.inf) if cut else (-np.inf, 0.0)
        rows.add(
            chosen.size, *limits, (row, inside, amount), (np.arange(chosen.size), column, -line), of=at.used[chosen]
        )

    high = np.flatnonzero(at.reach > grid.high[at.used] + MARGIN)
    block(high, grid.high[at.used[high]], at.opened.start + high, False)
    low = np.flatnonzero(grid.low[at.used] > 0)
    block(low, grid.low[at.used[low]], at.opened.start + low, True)
    each = np.arange(at.free_of.size)
    block(at.free_of, grid.free_from[at.used[at.free_of]], at.free.start + each, True)
    opened = (each, at.opened.start + at.free_of, -1.0)
    rows.add(each.size, -np.inf, 0.0, (each, at.free.start + each, 1.0), opened, of=at.used[at.free_of])


def _group_rows(rows: _Rows, grid: Grid, at: Columns) -> None:
    """One band a group; a relief only for the supplier's sole shipment across a border."""
    relief, group, supplier = grid.relief[at.used], grid.group[at.used], grid.supplier[at.used]
    opened, sole = at.opened.start + np.arange(at.used.size), at.sole.start + np.arange(at.sole_of.size)
    names, row = np.unique(group, return_inverse=True)
    several = (np.bincount(row) > 1)[row]
    rows.add(names.size, -np.inf, 1.0, (row[several], opened[several], 1.0), of=names)
    watched = np.isin(supplier, at.sole_of) & grid.crossing[at.used] & ~relief
    names, row = np.unique(group[watched], return_inverse=True)
    owner = np.zeros(names.size, dtype=np.int64)
    owner[row] = np.searchsorted(at.sole_of, supplier[watched])
    rows.add(names.size, -np.inf, 1.0, (row, opened[watched], 1.0), (np.arange(names.size), sole[owner], 1.0), of=names)
    row = np.searchsorted(at.sole_of, supplier[relief])
    rows.add(sole.size, -np.inf, 0.0, (row, opened[relief], 1.0), (np.arange(sole.size), sole, -1.0), of=at.sole_of)


def _mode_rows(rows: _Rows, grid: Grid, at: Columns) -> slice:
    """An offer is bought under relief, or without: so many units in the mode its supplier is in, none in the other."""
    modes = no_modes(len(grid.candidates)) if grid.forced.any() else grid.modes
    row, size = modes.row[at.kept], len(modes.names)
    bought = np.flatnonzero(row >= 0)
    watched = np.flatnonzero(np.isin(modes.supplier, at.sole_of))
    sole = at.sole.start + np.searchsorted(at.sole_of, modes.supplier[watched])
    signed = np.where(modes.relief, -modes.most, modes.most)
    upper = np.where(modes.relief, 0.0, modes.most)
    return rows.add(size, -np.inf, upper, (row[bought], bought, 1.0), (watched, sole, signed[watched]))


def _trip_rows(rows: _Rows, grid: Grid, at: Columns, use_of: IntArray) -> slice:
    """A shipment to be collected needs its trip."""
    each = np.arange(use_of.size)
    needed = (each, at.trip.start + grid.trip[at.used[use_of]], -1.0)
    return rows.add(use_of.size, -np.inf, 0.0, (each, at.opened.start + use_of, 1.0), needed, of=at.used[use_of])


def _carry_rows(
    rows: _Rows, grid: Grid, at: Columns, carrying: IntArray, capacity: FloatArray, load: FloatArray
) -> slice:
    """A trip carries so much: `capacity` of each trip, and what one unit of each candidate takes of it."""
    place = np.full(len(grid.trips) + 1, -1)
    place[carrying] = np.arange(carrying.size)
    row = place[grid.trip[at.used[at.at]]]
    inside = np.flatnonzero(row >= 0)
    room = (np.arange(carrying.size), at.trip.start + carrying, -capacity[carrying])
    return rows.add(carrying.size, -np.inf, 0.0, (row[inside], inside, load[at.kept[inside]]), room)


def _lot_rows(rows: _Rows, grid: Grid, at: Columns) -> None:
    """What is sold from some number on: none, or at least so many."""
    each, lots = np.arange(at.lot_of.size), at.lot.start + np.arange(at.lot_of.size)
    rows.add(each.size, -np.inf, 0.0, (each, at.lot_of, 1.0), (each, lots, -at.most[at.lot_of]), of=at.kept[at.lot_of])
    rows.add(
        each.size,
        0.0,
        np.inf,
        (each, at.lot_of, 1.0),
        (each, lots, -grid.least[at.kept[at.lot_of]]),
        of=at.kept[at.lot_of],
    )


def _supplier_rows(rows: _Rows, grid: Grid, at: Columns) -> None:
    """A supplier is bought from if any of its groups is used."""
    if not at.supplied_of.size:
        return
    names, row = np.unique(grid.group[at.used], return_inverse=True)
    owner = np.zeros(names.size, dtype=np.int64)
    owner[row] = np.searchsorted(at.supplied_of, grid.supplier[at.used])
    opened = (row, at.opened.start + np.arange(at.used.size), 1.0)
    rows.add(names.size, -np.inf, 0.0, opened, (np.arange(names.size), at.supplied.start + owner, -1.0), of=names)


def _saving_rows(rows: _Rows, grid: Grid, at: Columns) -> slice:
    """An allowance saves no more than what its trip brings would bear, and nothing if the trip is not made."""
    each = np.arange(at.saving_of.size)
    saved = (each, at.saved.start + each, 1.0)
    rows.add(each.size, -np.inf, 0.0, saved, (each, at.trip.start + at.saving_of, -grid.allowance[at.saving_of]))
    place = np.full(len(grid.trips) + 1, -1)
    place[at.saving_of] = each
    row = place[grid.trip[at.used[at.at]]]
    inside = np.flatnonzero((row >= 0) & (grid.relieved[at.kept] > 0))
    return rows.add(each.size, -np.inf, 0.0, (row[inside], inside, -grid.relieved[at.kept[inside]]), saved)


def _cash_rows(rows: _Rows, grid: Grid, at: Columns) -> slice:
    """What is left of the money by each limit carries over to the next; it may not fall below zero."""
    size = len(grid.months)
    if not size:
        return rows.add(0, 0.0, 0.0)
    each = np.arange(size)
    unit = _place(grid, at)[grid.cash_candidate]
    paid = (unit >= 0) & (grid.cash_limit < size)
    charged = np.flatnonzero(grid.charge_limit[at.used] < size)
    freed = np.flatnonzero(grid.charge_limit[at.used[at.free_of]] < size)
    driven = np.flatnonzero(grid.trip_limit < size)
    shipment, free = at.used[charged], at.used[at.free_of[freed]]
    step = np.diff(grid.limits, prepend=0.0)
    return rows.add(
        *(size, step, step),
        (grid.cash_limit[paid], unit[paid], grid.cash_amount[paid]),
        (grid.charge_limit[shipment], at.opened.start + charged, (grid.fixed + grid.freight)[shipment]),
        (grid.charge_limit[free], at.free.start + freed, -grid.freight[free]),
        (grid.trip_limit[driven], at.trip.start + driven, grid.trip_fixed[driven]),
        (each, at.found.start + each, -1.0),
        (0, at.drawn.start, -1.0),
        (each, at.left.start + each, 1.0),
        (each[1:], at.left.start + each[:-1], -1.0),
    )


def _surcharge_rows(rows: _Rows, grid: Grid, at: Columns, surcharges: Sequence[Surcharge]) -> None:
    """A surcharge is in force if all its contents are bought; a discount only then."""
    place = _place(grid, at)
    for column, (contents, amount) in enumerate(surcharges, start=at.extra.start):
        members = place[[candidate for candidate, _ in contents]]
        shares = 1.0 / np.array([units for _, units in contents])
        each = np.arange(members.size)
        if amount > 0:
            rows.add(1, -np.inf, members.size - 1.0, (0, members, shares), (0, column, -1.0))
        else:
            rows.add(each.size, 0.0, np.inf, (each, members, shares), (each, column, -1.0))


def complete(programme: Programme, units: IntArray) -> FloatArray:
    """All columns of a plan given by its units, so that its objective can be counted without the solver."""
    grid, at = programme.grid, programme.columns
    columns = np.zeros(at.size)
    columns[at.units] = units[at.kept]
    value = tally(grid.shipment, units * grid.value, len(grid.shipments))
    opened = tally(grid.shipment, units, len(grid.shipments)) > 0
    columns[at.opened] = opened[at.used]
    free = at.used[at.free_of]
    columns[at.free] = opened[free] & (value[free] + 1e-6 >= grid.free_from[free])
    columns[at.lot] = units[at.kept[at.lot_of]] > 0
    made = np.isin(np.arange(len(grid.trips)), grid.trip[opened]) | np.array([t.paid_anyway for t in grid.trips], bool)
    columns[at.trip] = made
    columns[at.sole] = np.isin(at.sole_of, grid.supplier[opened & grid.relief])
    columns[at.supplied] = np.isin(at.supplied_of, grid.supplier[opened])
    columns[at.saved] = savings(grid, units)[at.saving_of]
    covered = tally(grid.cover_part, units[grid.cover_candidate] * grid.cover_quantity, len(grid.parts))
    columns[at.unmet] = np.maximum(grid.need - covered, 0.0)
    if grid.months:
        charge = np.where(opened, grid.fixed + grid.freight, 0.0)
        charge[free] -= grid.freight[free] * columns[at.free]
        _complete_money(grid, at, columns, grid.spent(units, charge, grid.trip_fixed * made))
    columns[at.extra] = [_in_force(units, contents, amount) for contents, amount in programme.surcharges]
    return columns


def cost_of(programme: Programme, units: IntArray) -> float:
    """Cost of a plan given by its units, by the programme's own figures [home currency]."""
    return float(np.asarray(programme.lp.col_cost_) @ complete(programme, units))


def _complete_money(grid: Grid, at: Columns, columns: FloatArray, spent: FloatArray) -> None:
    over = np.maximum(spent - grid.limits, 0.0)
    drawn = min(float(over.max()), grid.credit) if grid.credit_cost < grid.cash_penalty else 0.0
    found = np.maximum.accumulate(np.maximum(over - drawn, 0.0))
    columns[at.drawn] = drawn
    columns[at.found] = np.diff(found, prepend=0.0)
    columns[at.left] = grid.limits + found + drawn - spent


def savings(grid: Grid, units: IntArray) -> FloatArray:
    """(trips,) what the allowance of each trip saves on what it brings [home currency]."""
    trip = grid.trip[grid.shipment]
    inside = trip >= 0
    borne = tally(trip[inside], (units * grid.relieved)[inside], len(grid.trips))
    return np.minimum(borne, grid.allowance)


def _in_force(units: IntArray, contents: tuple[tuple[int, int], ...], amount: float) -> float:
    shares = [float(units[candidate]) / count for candidate, count in contents]
    return max(0.0, sum(shares) - len(shares) + 1.0) if amount > 0 else min(1.0, min(shares))


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
