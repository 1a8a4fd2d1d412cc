"""What each shipment is worth at given prices, filled greedily with fractions of goods. Compiled by numba.

A shipment pays its freight, or is worth enough to have it free; either way its goods lie within its band. Where a line
must be reached, a good counts for no more than the line, as it would in whole units; the larger of the costs with and
without that cut is taken, both being below the cost in whole units.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, cast

import numba
import numpy as np

from .grid import MARGIN, FloatArray, Grid

_Function = TypeVar("_Function", bound=Callable[..., Any])


def _compiled(function: _Function) -> _Function:
    njit: Any = numba.njit
    try:
        return cast(_Function, njit(cache=True, error_model="numpy")(function))
    except RuntimeError:  # nowhere to keep a cache
        return cast(_Function, njit(error_model="numpy")(function))


class Worths(NamedTuple):
    """Least reduced cost of each shipment's goods and charges, paying freight or free of it, (shipments,) each.

    `ratio` is what the last bit of value cost where a line had to be reached; `cut` the line that goods were cut to.
    """

    paid: FloatArray
    paid_ratio: FloatArray
    paid_cut: FloatArray
    free: FloatArray
    free_ratio: FloatArray
    free_cut: FloatArray

    @property
    def least(self) -> FloatArray:
        """Least reduced cost of using each shipment."""
        return np.minimum(self.paid, self.free)


@_compiled
def _reached(
    begin: int, end: int, gain: FloatArray, value: FloatArray, most: FloatArray, cut: float, line: float
) -> tuple[float, float]:
    """Least cost of goods worth a line, each cut to `cut`, and the cost of the last bit of value; all gains taken."""
    cost, missing, last = 0.0, line, -1.0
    for i in range(begin, end):
        if gain[i] < 0.0:
            cost += gain[i] * most[i]
            missing -= min(value[i], cut) * most[i]
    while missing > 1e-9:
        best, at = np.inf, -1
        for i in range(begin, end):
            if gain[i] >= 0.0 and value[i] > 0.0:
                ratio = gain[i] / min(value[i], cut)
                if last < ratio < best:
                    best, at = ratio, i
        if at < 0:
            break
        last = best
        for i in range(begin, end):
            if gain[i] >= 0.0 and value[i] > 0.0 and gain[i] / min(value[i], cut) == best:
                step = min(missing, min(value[i], cut) * most[i])
                cost += step * best
                missing -= step
    return cost, max(last, 0.0)


@_compiled
def _capped(begin: int, end: int, gain: FloatArray, value: FloatArray, most: FloatArray, high: float) -> float:
    """Least cost of goods worth no more than a limit."""
    cost, room, last = 0.0, high, -np.inf
    for i in range(begin, end):
        if gain[i] < 0.0 and value[i] <= 0.0:
            cost += gain[i] * most[i]
    while room > 1e-9:
        best = 0.0
        for i in range(begin, end):
            if gain[i] < 0.0 and value[i] > 0.0:
                ratio = gain[i] / value[i]
                if ratio > last and ratio < best:
                    best = ratio
        if best >= 0.0:
            break
        last = best
        for i in range(begin, end):
            if gain[i] < 0.0 and value[i] > 0.0 and gain[i] / value[i] == best:
                step = min(room, value[i] * most[i])
                cost += step * best
                room -= step
    return cost


@_compiled
def _stretched(
    begin: int, end: int, gain: FloatArray, value: FloatArray, most: FloatArray, line: float
) -> tuple[float, float, float]:
    """The dearer of reaching a line with goods as they are and cut to it: cost, ratio, cut."""
    cost, ratio = _reached(begin, end, gain, value, most, np.inf, line)
    cut_cost, cut_ratio = _reached(begin, end, gain, value, most, line, line)
    if cut_cost > cost:
        return cut_cost, cut_ratio, line
    return cost, ratio, np.inf


@_compiled
def _fill(
    first: Any, gain: FloatArray, value: FloatArray, most: FloatArray, low: FloatArray, high: FloatArray,
    free_from: FloatArray, freight: FloatArray, charge: FloatArray, out: FloatArray,
) -> None:  # fmt: skip
    for s in range(low.size):
        begin, end = first[s], first[s + 1]
        natural, full, cost = 0.0, 0.0, 0.0
        for i in range(begin, end):
            full += value[i] * most[i]
            if gain[i] < 0.0:
                natural += value[i] * most[i]
                cost += gain[i] * most[i]
        if natural > high[s]:
            cost = _capped(begin, end, gain, value, most, high[s])
            natural = high[s]
        least = min(low[s], full)
        out[2, s] = out[5, s] = np.inf
        out[0, s] = cost
        if least > natural + 1e-9:
            out[0, s], out[1, s], out[2, s] = _stretched(begin, end, gain, value, most, least)
        out[3, s] = np.inf
        if freight[s] > 0.0 and full + MARGIN >= free_from[s]:
            line = min(max(least, free_from[s]), full)
            out[3, s] = cost
            if line > natural + 1e-9:
                out[3, s], out[4, s], out[5, s] = _stretched(begin, end, gain, value, most, line)
            out[3, s] += charge[s] - freight[s]
        out[0, s] += charge[s]


def worths(grid: Grid, reduced: FloatArray, charge: FloatArray, freight: FloatArray) -> Worths:
    """What each shipment is worth.

    Parameters
    ----------
    reduced : (candidates,) cost of one unit less what its parts are worth [home currency]
    charge, freight : (shipments,) what using it costs, and what of that free freight takes off [home currency]
    """
    out = np.zeros((6, len(grid.shipments)))
    most = grid.most.astype(np.float64)
    _fill(grid.first, reduced, grid.value, most, grid.low, grid.high, grid.free_from, freight, charge, out)
    return Worths(*out)
