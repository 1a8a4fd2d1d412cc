"""The classical problems behind buying in time: when to stop, when to look again, how early to order."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Protocol

import numpy as np

from .model import FloatArray


class PriceDistribution(Protocol):
    """A random price known by the mean of the lower of it and any level."""

    def expected_min(self, level: float) -> float:
        """Mean of the lower of the price and `level`."""


def stopping_values(stages: Sequence[PriceDistribution]) -> FloatArray:
    """Expected cost of buying at the best moment when prices are seen one after another and none comes back.

    Parameters
    ----------
    stages : cost of buying at each stage, independent of each other; the last must be taken

    Returns
    -------
    Expected cost before the price of each stage is seen, shape (stages,). A price at stage k is taken if it is
    at most the value at stage k + 1.

    Raises
    ------
    ValueError
        if there is no stage

    Notes
    -----
    V[n] = E[X[n]], V[k] = E[min(X[k], V[k+1])]: optimal stopping without recall, after Moser (1956) and
    Gilbert & Mosteller (1966), Recognizing the maximum of a sequence, JASA 61, section 5.
    """
    if not stages:
        raise ValueError("there is no week to buy in")
    values = np.empty(len(stages))
    ahead = math.inf
    for position in range(len(stages) - 1, -1, -1):
        ahead = stages[position].expected_min(ahead)
        values[position] = ahead
    return values


def reservation_value(distribution: PriceDistribution, cost: float, *, discount: float = 1.0) -> float:
    """The price above which one more look is worth its cost.

    Parameters
    ----------
    distribution : price the look may find
    cost : of the look, in the same money; above zero
    discount : what money is worth when the look's answer comes, as a share of its worth now; above 0, at most 1

    Returns
    -------
    z with z - discount x E[min(z, P)] = cost; without discounting E[max(0, z - P)] = cost

    Raises
    ------
    ValueError
        if the cost is not above zero, or the discount not a share

    Notes
    -----
    Weitzman (1979), Optimal search for the best alternative, Econometrica 47: look where z is lowest, and stop once
    the best price found is at or below every z left. Prices that come back (recall).

    Examples
    --------
    >>> from fishplate.prices import WeeklyPrice
    >>> reservation_value(WeeklyPrice((100.0, 80.0), (0.5, 0.5)), 5.0)
    90.0
    """
    if not cost > 0:
        raise ValueError("a look must cost something")
    if not 0 < discount <= 1:
        raise ValueError("money later must be worth a share of money now")
    # z - discount x E[min(P, z)] rises and ends in z - discount x E[P], which bounds z from above.
    high = discount * distribution.expected_min(math.inf) + cost
    step = max(cost, abs(high) * 1e-9)
    low = high - step
    while low - discount * distribution.expected_min(low) > cost:
        step *= 2
        low = high - step
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if middle - discount * distribution.expected_min(middle) < cost:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def critical_ratio(underage: float, overage: float) -> float:
    """Share of outcomes to cover when too little costs `underage` and too much `overage` a unit.

    Parameters
    ----------
    underage, overage : cost of one unit short and one unit over, in the same money

    Raises
    ------
    ValueError
        if a cost is below zero or both are zero

    Notes
    -----
    The newsvendor's rule: cover the quantile underage / (underage + overage); e.g. Snyder & Shen, Fundamentals of
    Supply Chain Theory, section 4.3.

    Examples
    --------
    >>> critical_ratio(80, 20)
    0.8
    """
    if underage < 0 or overage < 0 or underage + overage == 0:
        raise ValueError("the costs of too little and too much must not be below zero, nor both zero")
    return underage / (underage + overage)


def lead_allowance(lead_quantile: Callable[[float], float], *, late: float, early: float) -> float:
    """How long before it is needed a part is best ordered, weighing a week late against a week early.

    Parameters
    ----------
    lead_quantile : lead time that is not exceeded with a given chance [weeks]
    late, early : cost of one week late, and of one week too early, in the same money

    Returns
    -------
    weeks from order to need
    """
    return lead_quantile(critical_ratio(late, early))
