"""The arrays of a problem that differs from the last one in a few prices: patched, where compiling takes longer."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np

from .grid import MARGIN, Grid, compile_grid, tally, unmet_costs
from .model import Candidate, PurchaseProblem, check_problem

SAME = ("key", "offer", "shipment", "covers", "mass_kg", "volume_m3", "max_units", "min_units")
"""What a candidate must have kept for its arrays to be patched: all but cost, value, relief and the amounts paid."""
_last: list[tuple[PurchaseProblem, Grid]] = []


def grid_of(problem: PurchaseProblem) -> Grid:
    """As `compile_grid`; the last problem is kept, since the next is often the same but for some prices."""
    held = _last[0] if _last else None
    grid = None if held is None else _patched(problem, *held)
    if grid is None:
        grid = compile_grid(problem)
    _last[:] = [(problem, grid)]
    return grid


def _patched(problem: PurchaseProblem, before: PurchaseProblem, grid: Grid) -> Grid | None:
    """The last grid with new prices; None if more than prices has changed."""
    others = [name.name for name in fields(problem) if name.name != "candidates"]
    if len(problem.candidates) != len(before.candidates) or any(
        getattr(problem, name) != getattr(before, name) for name in others
    ):
        return None
    moved = [
        (old, new)
        for old, new in zip(before.candidates, problem.candidates, strict=True)
        if new is not old and new != old
    ]
    if not moved:
        return grid
    check_problem(replace(problem, candidates=tuple(new for _, new in moved), fixed={}))
    if not all(_differ_in_prices(old, new) for old, new in moved):
        return None
    rows, inside = list[int](), list[Candidate]()
    for old, new in moved:
        row = bisect_left(grid.candidates, (new.shipment, new.key), key=lambda c: (c.shipment, c.key))
        if row < len(grid.candidates) and grid.candidates[row].key == new.key:
            rows.append(row)
            inside.append(new)
        elif old.value != new.value:  # it was left out for what it counts toward a band, never for its cost
            return None
    return _repriced(problem, grid, rows, inside)


def _differ_in_prices(old: Candidate, new: Candidate) -> bool:
    """Whether two candidates differ in nothing but prices, and are paid in the same months."""
    same_months = [month for month, _ in old.cash] == [month for month, _ in new.cash]
    return same_months and all(getattr(old, name) == getattr(new, name) for name in SAME)


def _repriced(problem: PurchaseProblem, grid: Grid, rows: list[int], moved: Sequence[Candidate]) -> Grid | None:
    cost, value, relieved, amount = (a.copy() for a in (grid.cost, grid.value, grid.relieved, grid.cash_amount))
    candidates = list(grid.candidates)
    paid = np.searchsorted(grid.cash_candidate, rows)
    for row, new, entry in zip(rows, moved, paid.tolist(), strict=True):
        cost[row], value[row], relieved[row], candidates[row] = new.cost, new.value, new.relieved, new
        if grid.months:
            amount[entry : entry + len(new.cash)] = [each for _, each in new.cash]
    reach = tally(grid.shipment, value * grid.most, len(grid.shipments))
    if (reach + MARGIN < grid.low).any() or (value * grid.least > grid.high[grid.shipment] + MARGIN).any():
        return None
    grid = replace(grid, candidates=tuple(candidates), cost=cost, value=value, relieved=relieved, cash_amount=amount)
    return replace(grid, unmet_cost=unmet_costs(problem, grid.parts, grid))
