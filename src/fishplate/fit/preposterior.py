"""Expected value of sample information: what a signal, before it is seen, is worth to a choice between actions.

The signal has a spread of its own. Before it, one takes the better action on average; after it, the better one given
what was read: the value is the expected difference, never negative (Raiffa and Schlaifer, Applied Statistical Decision
Theory, 1961).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .cells import Cells, Floats

FIGURE_CELLS = 400
# A reading this much finer than a cell of the prior is taken to tell all.
PERFECT = 0.15
# A reading's error reaches so many standard deviations, and is told in steps of so small a share of one.
_REACH, _STEPS = 4.0, 3.0

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


class Reading(NamedTuple):
    """A reading to come, with a normal error.

    Parameters
    ----------
    weights : (odd number,) how its values are spread about the true one, adding up to one
    fold : how many steps of the weights make a cell
    """

    weights: Floats
    fold: int


def reading_of(cells: Cells, sd: float) -> Reading:
    """A reading of a quantity before it is taken; `sd` is the standard deviation of its own error."""
    wide = spread_in_cells(cells, sd)
    fold = max(1, math.ceil(_STEPS * cells.width / wide))
    step = cells.width / fold
    half = math.ceil(_REACH * wide / step)
    weights = np.exp(-0.5 * (np.arange(-half, half + 1) * (step / wide)) ** 2)
    return Reading(weights / weights.sum(), fold)


def spread_in_cells(cells: Cells, sd: float) -> float:
    """Standard deviation of a reading about the middle of the cell the quantity lies in."""
    return math.hypot(sd, cells.width / math.sqrt(12))


def value_of_reading(reading: Reading, sums: Floats) -> float:
    """Value of a reading before choosing between doing nothing and an action.

    Parameters
    ----------
    sums : (cells,) expected cost of the action, less that of doing nothing, by cell of what is read

    Returns
    -------
    E[min(0, gain given the reading)] less min(0, E[gain]); never negative

    Notes
    -----
    The action is taken inside one stretch of readings, or outside one: exact for limits on one side and on both, as the
    error is normal and so adds no change of sign. It keeps the scatter of the draws from being taken for knowledge. A
    gain linear in a normal quantity gives the unit normal loss integral.
    """
    fine = np.zeros((len(sums), reading.fold))
    fine[:, reading.fold // 2] = sums
    return _best_stretch(np.convolve(fine.reshape(-1), reading.weights))


def value_of_knowing(order: NDArray[np.intp], gain: Floats) -> float:
    """Value of knowing a quantity exactly, as `value_of_reading`.

    Parameters
    ----------
    order : (draws,) positions of the draws by rising value of the quantity; gain : (draws,) on the same draws
    """
    return _best_stretch(gain[order] / gain.size)


def value_by_figure(figure: Floats, gain: Floats) -> float:
    """Value of a figure that readings come to, as `value_of_knowing`; draws without one are one stretch of their own.

    Parameters
    ----------
    figure, gain : (draws,) the figure, and what acting gains, on the same draws
    """
    known = np.isfinite(figure)
    low, high = (float(figure[known].min()), float(figure[known].max())) if known.any() else (0.0, 0.0)
    cell = np.full(figure.size, FIGURE_CELLS)
    share = (figure[known] - low) / (high - low) if high > low else np.zeros(np.count_nonzero(known))
    cell[known] = np.minimum((share * FIGURE_CELLS).astype(np.intp), FIGURE_CELLS - 1)
    return _best_stretch(np.bincount(cell, weights=gain, minlength=FIGURE_CELLS + 1) / gain.size)


def _best_stretch(expected: Floats) -> float:
    """What acting in the best stretch, or outside it, saves over acting always or never."""
    running = np.zeros(len(expected) + 1)
    np.add.accumulate(expected, out=running[1:])
    whole = float(running[-1])
    least = float(np.minimum.reduce(running - np.maximum.accumulate(running)))
    most = float(np.maximum.reduce(running - np.minimum.accumulate(running)))
    return max(0.0, min(whole, 0.0) - min(least, whole - most, whole, 0.0))
