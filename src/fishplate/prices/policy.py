"""What going on waiting is worth in every week, and what following it leads to: backward, then forward."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .lattice import Lattice
from .model import BoolArray, ExpectedSale, FloatArray

# Costs this close are the same; the earlier week is taken.
TIE = 1e-9


@dataclass(frozen=True, slots=True)
class Course:
    """What buying costs in each week, in the offer's currency at today's rate: price x factor x share + extra.

    Parameters
    ----------
    level : regular price, shape (weeks,)
    share : cost of having it by then, on top of the price, as a share of it, plus 1; shape (weeks,)
    extra : cost of being late, shape (weeks,)
    is_open : whether it can be ordered, shape (weeks,); the last week must be
    look : cost of looking at the price, shape (weeks,)
    scatter : of the regular price from week to week, standard deviation of the logarithm [-]
    lattice : the factor, exchange rates as they are
    sales : that may begin, or are on
    """

    level: FloatArray
    share: FloatArray
    extra: FloatArray
    is_open: BoolArray
    look: FloatArray
    scatter: float
    lattice: Lattice
    sales: tuple[ExpectedSale, ...] = ()

    @property
    def last(self) -> int:
        """The week in which it is bought at any price."""
        return len(self.level) - 1

    def cost(self, week: int, part: float | FloatArray = 1.0) -> FloatArray:
        """Cost of buying in a week at a part of the regular price, by node; not finite where it can't be ordered."""
        if not self.is_open[week]:
            return np.full(np.broadcast_shapes(np.shape(part), self.lattice.factors(week).shape), math.inf)
        return np.asarray(self.share[week] * self.level[week] * part * self.lattice.factors(week) + self.extra[week])

    def begins(self, sale: ExpectedSale) -> int:
        """Week in which it shows whether a sale is on: its first after today."""
        return 0 if sale.seen and sale.first_week == 0 else max(1, sale.first_week)

    def lasts(self, sale: ExpectedSale) -> int:
        """Its last week, cut to the last one."""
        return min(sale.last_week, self.last)


class Policy:
    """The best rule for one course, by backward induction.

    Parameters
    ----------
    course : what buying costs in each week

    Attributes
    ----------
    going_on : by week, mean cost of not buying then while no sale is on, shape (nodes,)
    looked : by week, mean cost of looking and taking the better of buying and going on, shape (nodes,)
    in_sale : by (number of the sale, week), mean cost of not buying then while it is on, shape (depths, nodes)

    Notes
    -----
    Optimal stopping without recall (`stopping.stopping_values`) where the price also carries a factor that wanders, and
    a sale once seen stays on to its last week. Sales that begin in one week are independent and the deepest on average
    counts; one that begins while another is on is taken to be missed, which understates waiting a little.
    """

    def __init__(self, course: Course) -> None:
        self.course = course
        self.going_on: list[FloatArray] = []
        self.looked: list[FloatArray] = []
        self.in_sale: dict[tuple[int, int], FloatArray] = {}
        self._by_week: list[list[tuple[int, ExpectedSale]]] = [[] for _ in range(course.last + 1)]
        for number, sale in enumerate(course.sales):
            for week in range(course.begins(sale), course.lasts(sale) + 1):
                self._by_week[week].append((number, sale))
        ahead = np.full(course.lattice.factors(course.last).shape, math.inf)
        value = ahead
        for week in range(course.last, -1, -1):
            if week < course.last:
                ahead = course.lattice.ahead(value)
            self.going_on.insert(0, ahead)
            on_sale = [self._sale(number, sale, week, ahead) for number, sale in self._by_week[week]]
            looked = course.look[week] + self._seen(week, ahead, dict(on_sale))
            self.looked.insert(0, looked)
            value = np.minimum(ahead, looked)

    def _sale(self, number: int, sale: ExpectedSale, week: int, ahead: FloatArray) -> tuple[int, FloatArray]:
        """Value of each depth of a sale that is on, shape (depths, nodes); keeps that of leaving it."""
        parts = 1 - np.asarray(sale.depths)[:, None]
        leaving = np.broadcast_to(ahead, (len(parts), len(ahead)))
        if week < self.course.lasts(sale):
            leaving = self.course.lattice.ahead(self._value_of_sale(number, week + 1, parts))
        self.in_sale[number, week] = leaving
        return number, np.minimum(self.course.cost(week, parts), leaving)

    def _value_of_sale(self, number: int, week: int, parts: FloatArray) -> FloatArray:
        return np.minimum(self.course.cost(week, parts), self.in_sale[number, week])

    def beginning(self, week: int) -> list[tuple[int, ExpectedSale, float]]:
        """Sales that may begin in a week, each with the chance that it is the one that counts."""
        course, none_on, found = self.course, 1.0, []
        running = [(number, sale) for number, sale in self._by_week[week] if course.begins(sale) == week]
        for number, sale in sorted(running, key=lambda each: (-each[1].mean_depth, each[1].window)):
            found.append((number, sale, none_on * sale.chance))
            none_on *= 1 - sale.chance
        return found

    def _seen(self, week: int, ahead: FloatArray, on_sale: dict[int, FloatArray]) -> FloatArray:
        """Mean cost once the week's price is seen, no sale being on before."""
        total, left = np.zeros(len(ahead)), 1.0
        for number, _sale, chance in self.beginning(week):
            total = total + chance * on_sale[number].mean(axis=0)
            left -= chance
        return total + left * self._regular(week, ahead) if left > 0 else total

    def _regular(self, week: int, ahead: FloatArray) -> FloatArray:
        """Mean of the lower of buying at the regular price and going on."""
        course = self.course
        if not course.is_open[week]:
            return ahead
        if course.scatter == 0:
            return np.minimum(course.cost(week), ahead)
        mean = course.level[week] * course.lattice.factors(week)
        trigger = (ahead - course.extra[week]) / course.share[week]
        return np.asarray(course.share[week] * _expected_min(mean, course.scatter, trigger) + course.extra[week])

    @cached_property
    def triggers(self) -> FloatArray:
        """The price at which buying costs as much as going on, at today's rate, shape (weeks,); zero where closed."""
        course = self.course
        found = np.zeros(course.last + 1)
        for week in range(course.last + 1):
            number = self.on_now(week)
            ahead = self.going_on[week] if number is None else self.in_sale[number, week][0]
            level = (float(ahead[len(ahead) // 2]) - course.extra[week]) / course.share[week]
            found[week] = max(0.0, level) if course.is_open[week] else 0.0
        return found

    def on_now(self, week: int) -> int | None:
        """Number of the sale seen to be on today, if it is still on in a week."""
        running = (number for number, sale in self._by_week[week] if self.course.begins(sale) == 0)
        return next(running, None)

    @property
    def waiting(self) -> float:
        """Mean cost of not buying today and following the rule."""
        number = self.on_now(0)
        return float(self.going_on[0][0] if number is None else self.in_sale[number, 0][0][0])

    @cached_property
    def stops(self) -> FloatArray:
        """Chance that the rule buys in each week, given that it does not buy today, shape (weeks,)."""
        course, found = self.course, np.zeros(self.course.last + 1)
        number = self.on_now(0)
        mass = np.ones(1) if number is None else np.zeros(1)
        on = {} if number is None else {number: np.ones((1, 1))}
        for week in range(1, course.last + 1):
            mass = course.lattice.onward(mass)
            on = {each: course.lattice.onward(there) for each, there in on.items()}
            for each in [each for each in on if course.lasts(course.sales[each]) < week]:
                mass = mass + on.pop(each).sum(axis=0)
            watched = np.where(self.looked[week] <= self.going_on[week] + TIE, mass, 0.0)
            left = watched
            for each, sale, chance in self.beginning(week):
                on[each] = np.tile(chance * watched / len(sale.depths), (len(sale.depths), 1))
                left = left - chance * watched
            bought = left * self._taken(week)
            found[week] += bought.sum()
            mass = mass - watched + left - bought
            for each, there in on.items():
                parts = 1 - np.asarray(course.sales[each].depths)[:, None]
                takes = course.cost(week, parts) <= self.in_sale[each, week] + TIE
                found[week] += there[takes].sum()
                on[each] = np.where(takes, 0.0, there)
        return found

    def _taken(self, week: int) -> FloatArray:
        """Chance that the regular price is low enough to buy at, by node."""
        course, ahead = self.course, self.going_on[week]
        if not course.is_open[week]:
            return np.zeros(len(ahead))
        if course.scatter == 0:
            return np.asarray(course.cost(week) <= ahead + TIE, dtype=float)
        mean = course.level[week] * course.lattice.factors(week)
        return _chance_below(mean, course.scatter, (ahead - course.extra[week]) / course.share[week])


def _expected_min(mean: FloatArray, sigma: float, level: FloatArray) -> FloatArray:
    """E[min(P, k)] for lognormal P of given means, as `WeeklyPrice.expected_min` has it."""
    from scipy.special import ndtr

    with np.errstate(divide="ignore", invalid="ignore"):
        distance = np.log(np.maximum(level, 0) / mean) / sigma
        found = mean * ndtr(distance - sigma / 2) + np.where(
            np.isfinite(level), level * ndtr(-distance - sigma / 2), 0.0
        )
    return np.where((mean <= 0) | (level <= 0), np.minimum(mean, level), found)


def _chance_below(mean: FloatArray, sigma: float, level: FloatArray) -> FloatArray:
    from scipy.special import ndtr

    with np.errstate(divide="ignore", invalid="ignore"):
        found = ndtr(np.log(np.maximum(level, 0) / mean) / sigma + sigma / 2)
    return np.where((mean <= 0) | (level <= 0), mean <= level, found)
