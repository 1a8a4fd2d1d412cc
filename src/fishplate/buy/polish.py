"""Make a good plan better: take a neighbourhood of parts, leave all other lines as they are, and solve for it exactly.

Fix-and-optimise, after Helber and Sahling (2010), "A fix-and-optimize approach for the multi-level capacitated lot
sizing problem", International Journal of Production Economics 123.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from .effort import Effort
from .grid import BoolArray, Grid, IntArray
from .highs import Outcome, solve_whole
from .programme import assemble

SEED = 20
WEEKS_APART = 10.0
"""Two lines of one supplier so many weeks apart are as near as two of the same week from different suppliers."""


def neighbourhoods(grid: Grid, units: IntArray, size: int, seed: int) -> Iterator[BoolArray]:
    """Endlessly, sets of parts whose lines lie near each other, by week, by supplier or both, (parts,) each.

    One set in four is of parts that a trip brings or could bring, since a trip is only made, or left out, for many.
    """
    rng = np.random.default_rng(SEED + seed)
    entries = np.flatnonzero(units[grid.cover_candidate] > 0)
    line, part = grid.cover_candidate[entries], grid.cover_part[entries]
    shipment = grid.shipment[line]
    week = np.array([s.week for s in grid.shipments], dtype=np.float64)[shipment]
    supplier = grid.supplier[shipment]
    bought = np.isin(np.arange(len(grid.parts)), part)
    by_trip = _parts_by_trip(grid, np.ones(units.size, dtype=np.bool_)), _parts_by_trip(grid, units > 0)
    while part.size:
        if len(grid.trips) and rng.random() < 0.25:
            trip = int(rng.integers(len(grid.trips)))
            rank = rng.random(bought.size) - by_trip[1][trip] + 2.0 * ~by_trip[0][trip]
            chosen = ~bought
            chosen[np.argsort(rank, kind="stable")[: size * 3 // 2]] = True
            yield chosen
            continue
        centre, by_week = int(rng.integers(part.size)), float(rng.choice([0.2, 1.0, 5.0]))
        apart = by_week * np.abs(week - week[centre]) / WEEKS_APART + (supplier != supplier[centre])
        order = np.argsort(apart + rng.uniform(0, 0.6, apart.size), kind="stable")
        chosen = ~bought
        chosen[part[order[:size]]] = True
        yield chosen


def _parts_by_trip(grid: Grid, among: BoolArray) -> BoolArray:
    """(trips, parts) whether one of some candidates brings the part by the trip."""
    found = np.zeros((len(grid.trips), len(grid.parts)), dtype=np.bool_)
    trip = grid.trip[grid.shipment[grid.cover_candidate]]
    inside = (trip >= 0) & among[grid.cover_candidate]
    found[trip[inside], grid.cover_part[inside]] = True
    return found


def reoptimised(grid: Grid, units: IntArray, parts: BoolArray, *, effort: Effort, gap: float) -> Outcome:
    """The best plan in which lines that cover none of some parts stay as they are."""
    touched = np.zeros(units.size, dtype=np.bool_)
    touched[grid.cover_candidate[parts[grid.cover_part]]] = True
    fixed = (units > 0) & ~touched
    held = replace(grid, forced=np.where(fixed, units, grid.forced), most=np.where(fixed, units, grid.most))
    return solve_whole(assemble(held, fixed | touched), effort=effort, gap=gap)
