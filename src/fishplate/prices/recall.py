"""At which price to stop looking where a price once seen stays open, as one that a seller holds does."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from .model import FloatArray
from .policy import TIE, Course

# More prices in hand than this are not told apart; between those that are, and below all, so many stand evenly apart.
MOST_LEVELS, EVEN_LEVELS = 241, 49


def held_policy(
    course: Course, stages: Sequence[tuple[FloatArray, FloatArray]], today: float
) -> tuple[float, FloatArray]:
    """The best rule where a price once seen stays open (recall), at today's rate.

    Parameters
    ----------
    stages : prices that a look in each week may find, and their chances
    today : price today

    Returns
    -------
    mean cost of going on from today's price; the price in hand at which to stop, by week, shape (weeks,)

    Notes
    -----
    Backward induction over the lowest price in hand: buy it, or look on. Search with recall: Lippman and McCall (1976),
    The economics of job search, Economic Inquiry 14.
    """
    grid = _grid(stages, today)
    value = grid * course.share[-1] + course.extra[-1]
    stops, going_on = np.full(course.last + 1, math.inf), value
    for week in range(course.last - 1, -1, -1):
        found = _lower_of(grid, value, *stages[week + 1])
        # the price in hand can be left to stand without a look
        going_on = np.minimum(value, course.look[week + 1] + found)
        now = grid * course.share[week] + course.extra[week]
        stops[week] = _crossing(grid, now - going_on)
        value = np.minimum(now, going_on)
    return float(np.interp(today, grid, going_on)), stops


def _grid(stages: Sequence[tuple[FloatArray, FloatArray]], today: float) -> FloatArray:
    """Prices in hand that are followed: all that may be seen, or as many evenly apart where they are too many."""
    seen = np.unique(np.concatenate([prices for prices, _ in stages] + [[today]]))
    top = 1.2 * float(seen[-1])
    if len(seen) > MOST_LEVELS:
        return np.append(np.linspace(float(seen[0]), float(seen[-1]), MOST_LEVELS), top)
    return np.unique(np.concatenate([seen, np.linspace(0, top, EVEN_LEVELS)]))


def _lower_of(grid: FloatArray, value: FloatArray, prices: FloatArray, chances: FloatArray) -> FloatArray:
    """Mean value of the lower of each price in hand and a price to be seen, shape (levels,)."""
    order = np.argsort(prices)
    prices, chances = prices[order], chances[order]
    below = np.concatenate([[0.0], np.cumsum(chances)])
    worth = np.concatenate([[0.0], np.cumsum(chances * np.interp(prices, grid, value))])
    at = np.searchsorted(prices, grid, side="right")
    return np.asarray(worth[at] + value * (1 - below[at]))


def _crossing(grid: FloatArray, excess: FloatArray) -> float:
    """The highest level up to which a rising excess is not above zero."""
    above = np.flatnonzero(excess > TIE)
    if not len(above):
        return math.inf
    first = int(above[0])
    if first == 0:
        return 0.0
    low, high = excess[first - 1], excess[first]
    share = -low / (high - low) if high > low else 0.0
    return float(grid[first - 1] + max(0.0, share) * (grid[first] - grid[first - 1]))
