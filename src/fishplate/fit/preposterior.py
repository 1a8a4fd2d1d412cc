"""Expected value of sample information: what a signal, before it is seen, is worth to a choice between actions.

The signal has a spread of its own. Before it, one takes the better action on average; after it, the better one given
what was read: the value is the expected difference, never negative (Raiffa and Schlaifer, Applied Statistical Decision
Theory, 1961).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .points import Single

CELLS = 192
# A reading this much finer than a cell of the prior is taken to tell all.
PERFECT = 0.5
_REACH = 4.0

Floats = NDArray[np.float64]
Table = Mapping[str, Mapping[str, float]]


def value_of_signal(prior: Mapping[str, float], payoff: Table, likelihood: Table) -> float:
    """Value of a signal with a few outcomes, on a state with a few values.

    Parameters
    ----------
    prior : state -> chance; payoff : action -> state -> gain; likelihood : signal -> state -> chance of the signal

    Examples
    --------
    >>> prior = {"oil": 0.25, "dry": 0.75}
    >>> payoff = {"drill": {"oil": 700, "dry": -100}, "sell": {"oil": 90, "dry": 90}}
    >>> survey = {"good": {"oil": 0.6, "dry": 0.2}, "bad": {"oil": 0.4, "dry": 0.8}}
    >>> round(value_of_signal(prior, payoff, survey), 9)
    53.0
    """
    before = max(sum(prior[state] * gain for state, gain in gains.items()) for gains in payoff.values())
    after = 0.0
    for chances in likelihood.values():
        joint = {state: prior[state] * chances[state] for state in prior}
        after += max(sum(joint[state] * gain for state, gain in gains.items()) for gains in payoff.values())
    return max(0.0, after - before)


class Cells(NamedTuple):
    """A quantity in cells of equal width.

    Parameters
    ----------
    cell : (draws,) the cell of each draw; share, middle, spread : (cells,) chance, mean and standard deviation
    """

    cell: NDArray[np.intp]
    share: Floats
    middle: Floats
    spread: Floats


def cells_of(values: Floats | Single) -> Cells:
    """Draws of a quantity in cells; empty ones are left out."""
    exact = np.asarray(values, dtype=np.float64)
    low, high = float(exact.min()), float(exact.max())
    scale = CELLS / (high - low) if high > low else 0.0
    cell = np.minimum(((exact - low) * scale).astype(np.intp), CELLS - 1)
    counts = np.bincount(cell, minlength=CELLS)
    kept = counts > 0
    cell, counts = (np.cumsum(kept) - 1)[cell], counts[kept]
    middle = np.bincount(cell, weights=exact) / counts
    square = np.bincount(cell, weights=(exact - middle[cell]) ** 2) / counts
    return Cells(cell, counts / counts.sum(), middle, np.sqrt(square))


def mean_by_cell(cells: Cells, gain: Floats) -> Floats:
    """Mean of a gain, known on every draw, in each cell."""
    size = len(cells.share)
    found: Floats = np.bincount(cells.cell, weights=gain, minlength=size) / np.bincount(cells.cell, minlength=size)
    return found


def reading_of(cells: Cells, sd: float) -> Floats:
    """A reading of a quantity with a normal error, before it is taken: (readings, cells) joint chance of both.

    Parameters
    ----------
    sd : standard deviation of the reading's own error, above zero
    """
    wide = np.hypot(sd, cells.spread)
    low = float((cells.middle - _REACH * wide).min())
    high = float((cells.middle + _REACH * wide).max())
    count = int(np.clip((high - low) / sd * 4, 96, 512))
    readings = np.linspace(low, high, count)
    apart = ((readings[:, None] - cells.middle) / wide) ** 2
    # against the nearest reading, so that none is too far off to count
    density = np.exp(-0.5 * (apart - apart.min(axis=0)))
    joint: Floats = cells.share * density / density.sum(axis=0)
    return joint


def value_of_reading(reading: Floats, gain: Floats) -> float:
    """Value of a reading before choosing between doing nothing and an action.

    Parameters
    ----------
    reading : (readings, cells) joint chance, from `reading_of`
    gain : (cells,) mean cost of the action, less that of doing nothing, in each cell of what is read

    Returns
    -------
    E[min(0, gain given the reading)] less min(0, E[gain]); never negative

    Notes
    -----
    The action is taken inside one stretch of readings, or outside one: exact for limits on one side and on both, as the
    error is normal and so adds no change of sign. It keeps the scatter of the draws from being taken for knowledge. A
    gain linear in a normal quantity gives the unit normal loss integral.
    """
    return _best_stretch(reading @ gain)


def value_of_knowing(order: NDArray[np.intp], gain: Floats) -> float:
    """Value of knowing a quantity exactly, as `value_of_reading`.

    Parameters
    ----------
    order : (draws,) positions of the draws by rising value of the quantity; gain : (draws,) on the same draws
    """
    return _best_stretch(gain[order] / gain.size)


def _best_stretch(expected: Floats) -> float:
    """What acting in the best stretch, or outside it, saves over acting always or never."""
    running = np.concatenate([[0.0], np.cumsum(expected)])
    whole = float(running[-1])
    least = float((running - np.maximum.accumulate(running)).min())
    most = float((running - np.minimum.accumulate(running)).max())
    return max(0.0, min(whole, 0.0) - min(least, whole - most, whole, 0.0))
