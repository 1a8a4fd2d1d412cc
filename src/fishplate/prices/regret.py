"""How often a purchase will be regretted: the rule played over drawn prices."""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .lattice import Lattice
from .model import FloatArray
from .policy import TIE, Policy

IntArray: TypeAlias = NDArray[np.int_]


def simulated(
    policy: Policy, generator: np.random.Generator, runs: int, *, buys_today: bool
) -> tuple[FloatArray, IntArray]:
    """Prices drawn, and the week in which the rule buys.

    Parameters
    ----------
    buys_today : it is bought today whatever the rule says

    Returns
    -------
    prices at today's rate, factor included, shape (weeks, runs), not finite where it can't be ordered; weeks, shape
    (runs,)
    """
    course = policy.course
    prices, bought = np.full((course.last + 1, runs), math.inf), np.full(runs, 0 if buys_today else -1)
    node, sale_on = np.zeros(runs, dtype=int), np.full(runs, -1)
    depth = np.zeros(runs, dtype=int)
    if (number := policy.on_now(0)) is not None:
        sale_on[:] = number
    for week in range(course.last + 1):
        if week:
            node = node + _moves(course.lattice, generator, runs)
        _end_and_begin(policy, week, sale_on, depth, generator)
        at = node + week if course.lattice.sigma else node
        factor = course.lattice.factors(week)[at]
        level, ahead = course.level[week] * factor, policy.going_on[week][at]
        if course.scatter and week:
            level = level * np.exp(course.scatter * generator.standard_normal(runs) - course.scatter**2 / 2)
        for number in range(len(course.sales)):
            held = sale_on == number
            if held.any():
                parts = 1 - np.asarray(course.sales[number].depths)[depth[held]]
                level[held] = course.level[week] * factor[held] * parts
                ahead[held] = policy.in_sale[number, week][depth[held], at[held]]
        if course.is_open[week]:
            prices[week] = level
            seen = (sale_on >= 0) | (policy.looked[week] <= policy.going_on[week] + TIE)[at]
            takes = level * course.share[week] + course.extra[week] <= ahead + TIE
            bought[(bought < 0) & seen & takes & (week > 0)] = week
    return prices, bought


def _moves(lattice: Lattice, generator: np.random.Generator, runs: int) -> IntArray:
    """Steps of the factor: -1, 0 or 1."""
    if lattice.sigma == 0:
        return np.zeros(runs, dtype=int)
    down, stay, _up = lattice.chances
    drawn = generator.random(runs)
    return np.asarray((drawn >= down).astype(int) + (drawn >= down + stay) - 1)


def _end_and_begin(
    policy: Policy, week: int, sale_on: IntArray, depth: IntArray, generator: np.random.Generator
) -> None:
    """Sales that are over end and those that may begin do, by their chances."""
    course, runs = policy.course, len(sale_on)
    for number, sale in enumerate(course.sales):
        if course.lasts(sale) < week:
            sale_on[sale_on == number] = -1
    if not week or not policy.beginning(week):
        return
    free, chosen, reached = sale_on < 0, generator.random(runs), 0.0
    for number, sale, chance in policy.beginning(week):
        starts = free & (chosen >= reached) & (chosen < reached + chance)
        reached += chance
        sale_on[starts] = number
        depth[starts] = generator.integers(0, len(sale.depths), size=int(starts.sum()))


def chance_of_regret(
    policy: Policy, generator: np.random.Generator, *, buys_today: bool, look: float, runs: int = 600
) -> float:
    """Chance that buying later on, or today, would have cost less in all, by more than a look is worth.

    What having it early and coming late costs is counted: a price that was lower, but would have meant keeping it for a
    year, is no regret.

    Parameters
    ----------
    buys_today : it is bought today; otherwise the rule is followed from next week on
    look : in the offer's currency
    """
    prices, bought = simulated(policy, generator, runs, buys_today=buys_today)
    costs = prices * policy.course.share[:, None] + policy.course.extra[:, None]
    spent = costs[bought, np.arange(runs)]
    weeks = np.arange(len(costs))[:, None]
    later = np.where(weeks > bought, costs, math.inf).min(axis=0)
    return float(np.mean((later < spent - look) | (costs[0] < spent - look)))
