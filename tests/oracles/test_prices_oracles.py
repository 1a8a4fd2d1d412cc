"""The price engine against brute force, quadrature and simulation."""

from __future__ import annotations

import itertools
import math
from datetime import date

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from fishplate.prices import (
    ExpectedSale,
    Outlook,
    RateWalk,
    WeeklyPrice,
    price_in,
    reservation_value,
    stopping_values,
    trigger_plan,
)
from fishplate.prices.drift import Slope, drifts
from fishplate.prices.lattice import Lattice
from fishplate.prices.policy import Course, Policy
from fishplate.prices.priors import DriftPrior
from fishplate.prices.recall import held_policy


def outlook_with(path: np.ndarray, sales: tuple[ExpectedSale, ...], scatter: float) -> Outlook:
    weeks = len(path)
    return Outlook(
        offer="a", name="A", supplier="s", currency="EUR", as_of=date(2026, 3, 2), now=float(path[0]), seen_on=None,
        expected=path, list_price=path, sale_chance=np.zeros(weeks), sale_price=path, drift_yearly=0.0,
        sigma_weekly=scatter, scatter=scatter, available=np.ones(weeks, dtype=bool), sales=sales, text="",
    )  # fmt: skip


@pytest.mark.parametrize("sigma", [0.01, 0.1, 0.6])
@pytest.mark.parametrize("level", [40.0, 95.0, 100.0, 170.0])
def test_expected_min_equals_quadrature(sigma: float, level: float) -> None:
    price = WeeklyPrice((100.0,), (1.0,), sigma)
    law = stats.lognorm(s=sigma, scale=100 * math.exp(-(sigma**2) / 2))
    shortfall, _ = integrate.quad(law.cdf, 0, level, points=[100.0] if level > 100 else None, limit=400)
    # E[min(P, k)] = k - integral of the distribution function from 0 to k
    assert price.expected_min(level) == pytest.approx(level - shortfall, abs=1e-6)
    assert price.chance_below(level) == pytest.approx(law.cdf(level), abs=1e-12)


@pytest.mark.parametrize("seed", range(8))
def test_stopping_value_equals_the_best_of_all_policies(seed: int) -> None:
    """Every policy of three weeks with two price levels each is costed: which levels to take in the first two weeks."""
    generator = np.random.default_rng(seed)
    prices = generator.uniform(10, 100, size=(3, 2))
    chances = generator.dirichlet([1, 1], size=3)
    weeks = [WeeklyPrice(tuple(p), tuple(q)) for p, q in zip(prices.tolist(), chances.tolist(), strict=True)]
    best = math.inf
    for takes in itertools.product([False, True], repeat=4):
        cost = chances[2] @ prices[2]
        for week in (1, 0):
            accept = np.array(takes[2 * week : 2 * week + 2])
            cost = chances[week] @ np.where(accept, prices[week], cost)
        best = min(best, float(cost))
    assert stopping_values(weeks)[0] == pytest.approx(best, abs=1e-10)


@pytest.mark.parametrize("look", [0.0, 3.0])
@pytest.mark.parametrize("seed", range(6))
def test_trigger_plan_equals_a_dynamic_programme_over_sale_and_no_sale(seed: int, look: float) -> None:
    """Tiny cases without scatter: in each week look or pass over, then buy or go on, costed outcome by outcome."""
    generator = np.random.default_rng(seed)
    path = generator.uniform(80, 120, size=6)
    sales = (
        ExpectedSale("a", 2, 2, float(generator.uniform(0.2, 0.9)), (0.3, 0.1)),
        ExpectedSale("b", 4, 5, float(generator.uniform(0.2, 0.9)), (0.2,)),
    )
    late = np.sort(generator.uniform(0, 15, size=6))
    carrying = 0.002
    outlook = outlook_with(path, sales, 0.0)
    plan = trigger_plan(outlook, last_week=5, carrying_per_week=carrying, late_cost=late, look_cost=look)

    def going_on(week: int) -> float:
        beginning = [sale for sale in sales if sale.first_week == week]
        outcomes = [(1.0, path[week])]
        for sale in beginning:
            outcomes = [(sale.chance / len(sale.depths), path[week] * (1 - depth)) for depth in sale.depths]
            outcomes.append((1 - sale.chance, path[week]))
        total = look if beginning else 0.0
        for chance, price in outcomes:
            now = price * (1 + carrying * (5 - week)) + late[week]
            total += chance * (now if week == 5 else min(now, going_on(week + 1)))
        return float(total if week == 5 else min(total, going_on(week + 1)))

    if plan.text.startswith("A: no hurry"):
        assert plan.expected_cost == pytest.approx(path[5] + late[5], abs=1e-9)
        return
    assert plan.expected_cost == pytest.approx(going_on(0), abs=1e-9)


@pytest.mark.parametrize(("scatter", "sigma"), [(0.0, 0.0), (0.04, 0.0), (0.0, 0.02)])
def test_following_the_triggers_costs_what_the_plan_says(scatter: float, sigma: float) -> None:
    """Played by hand: regular prices scatter, rates walk, each sale shows in its one week."""
    path = 100 * 1.002 ** np.arange(20)
    sales = (ExpectedSale("a", 6, 6, 0.5, (0.1, 0.2, 0.3)), ExpectedSale("b", 14, 14, 0.7, (0.15, 0.25)))
    outlook = outlook_with(path, sales, scatter)
    carrying, last = 0.001, 17
    late = np.maximum(0, np.arange(20) - 12) * 1.5
    plan = trigger_plan(outlook, last_week=last, carrying_per_week=carrying, late_cost=late, rate_sigma=sigma)
    assert plan.advice == "buy at the trigger"
    generator = np.random.default_rng(5)
    runs = 40_000
    cost, week_bought = np.full(runs, np.nan), np.full(runs, -1)
    policy = policy_of(outlook, last, carrying, late, sigma)
    node = np.zeros(runs, dtype=int)
    for week in range(1, last + 1):
        node += generator.choice((-1, 0, 1), size=runs, p=Lattice(sigma).chances)
        price = path[week] * np.exp(scatter * generator.standard_normal(runs) - scatter**2 / 2)
        for sale in sales:
            if sale.first_week == week:
                on = generator.random(runs) < sale.chance
                price[on] = path[week] * (1 - generator.choice(sale.depths, size=int(on.sum())))
        at = node + week if sigma else node * 0
        price = price * Lattice(sigma).factors(week)[at]
        paid = price * (1 + carrying * (last - week)) + late[week]
        stops = (week_bought < 0) & (paid <= policy.going_on[week][at])
        week_bought[stops] = week
        cost[stops] = paid[stops]
    assert (week_bought > 0).all()
    assert abs(cost.mean() - plan.expected_cost) < 3 * cost.std() / math.sqrt(runs)
    chance = (week_bought < plan.bought_by).mean() if sigma else (week_bought < last).mean()
    seen = policy.stops[: plan.bought_by].sum() if sigma else plan.chance_to_see
    assert abs(chance - seen) < 3 * math.sqrt(chance * (1 - chance) / runs) + 1e-9
    today = path[0] * (1 + carrying * last) + late[0]
    assert abs(today - cost.mean() - plan.expected_saving) < 3 * cost.std() / math.sqrt(runs)


def policy_of(outlook: Outlook, last: int, carrying: float, late: np.ndarray, sigma: float) -> Policy:
    weeks = np.arange(last + 1)
    return Policy(
        Course(
            outlook.list_price[: last + 1], 1 + carrying * (last - weeks), late[: last + 1],
            outlook.available[: last + 1], np.zeros(last + 1), outlook.scatter, Lattice(sigma), outlook.sales,
        )
    )  # fmt: skip


@pytest.mark.parametrize("sigma", [0.0, 0.05])
@pytest.mark.parametrize("seed", range(6))
def test_the_trigger_plan_equals_every_branch_of_a_small_tree(seed: int, sigma: float) -> None:
    """Five weeks with a sale of two or three weeks, week by week and branch by branch: sale, depth, rate."""
    generator = np.random.default_rng(seed)
    path, last = generator.uniform(80, 120, size=5), 4
    first = int(generator.integers(1, 3))
    sale = ExpectedSale("a", first, first + 1 + seed % 2, float(generator.uniform(0.2, 0.9)), (0.3, 0.1))
    late, keeping = np.sort(generator.uniform(0, 15, size=5)), np.sort(generator.uniform(0, 0.1, size=5))[::-1]
    outlook = outlook_with(path, (sale,), 0.0)
    plan = trigger_plan(outlook, last_week=last, late_cost=late, keeping=keeping, rate_sigma=sigma)
    step = sigma * math.sqrt(3)
    up = (1 - math.exp(-step)) / (math.exp(step) - math.exp(-step)) / 3 if sigma else 0.0
    moves = ((step, up), (0.0, 2 / 3 if sigma else 1.0), (-step, 1 / 3 - up if sigma else 0.0))

    def going_on(week: int, rate: float, depth: float | None) -> float:
        """Mean cost of not buying in a week; `depth` of the sale that is on."""
        if week == last:
            return math.inf
        total = 0.0
        for move, chance in moves:
            if chance:
                total += chance * next_week(week + 1, rate * math.exp(move), depth)
        return total

    def next_week(week: int, rate: float, depth: float | None) -> float:
        if depth is not None and week <= sale.last_week:
            outcomes = [(1.0, depth)]
        elif week == sale.first_week:
            outcomes = [*((sale.chance / 2, each) for each in sale.depths), (1 - sale.chance, None)]
        else:
            outcomes = [(1.0, None)]
        return sum(
            chance * min(
                path[week] * rate * (1 - (on or 0.0)) * (1 + keeping[week]) + late[week], going_on(week, rate, on)
            )
            for chance, on in outcomes
        )  # fmt: skip

    today = path[0] * (1 + keeping[0]) + late[0]
    waiting = going_on(0, 1.0, None)
    assert plan.prices[0] * (1 + keeping[0]) + late[0] == pytest.approx(waiting, abs=1e-9)
    if plan.advice == "buy at the trigger":
        assert plan.expected_cost == pytest.approx(waiting, abs=1e-9)
        assert plan.expected_saving == pytest.approx(today - waiting, abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_holding_prices_seen_equals_every_branch_of_a_small_tree(seed: int) -> None:
    """With recall: the lowest price seen is carried from branch to branch, and a look may be left out."""
    generator = np.random.default_rng(seed)
    path, last, look = generator.uniform(80, 120, size=5), 4, 1.0
    sales = (
        ExpectedSale("a", 1, 1, float(generator.uniform(0.2, 0.9)), (0.3, 0.1)),
        ExpectedSale("b", 3, 3, float(generator.uniform(0.2, 0.9)), (0.2,)),
    )
    keeping = np.sort(generator.uniform(0, 0.1, size=5))[::-1]
    late = np.sort(generator.uniform(0, 6, size=5))
    outlook = outlook_with(path, sales, 0.0)
    course = Course(
        path, 1 + keeping, late, outlook.available, np.array([0, look, 0, look, 0]), 0.0, Lattice(0.0), sales
    )
    laws = [price_in(outlook, week) for week in range(5)]
    found, stops = held_policy(course, [(np.array(law.means), np.array(law.weights)) for law in laws], path[0])

    def going_on(week: int, held: float) -> float:
        if week == last:
            return math.inf
        law = laws[week + 1]
        looked = course.look[week + 1] + sum(
            chance * value(week + 1, min(held, price)) for price, chance in zip(law.means, law.weights, strict=True)
        )
        return min(value(week + 1, held), looked)

    def value(week: int, held: float) -> float:
        return min(held * course.share[week] + late[week], going_on(week, held))

    assert found == pytest.approx(going_on(0, path[0]), abs=1e-9)
    for week in range(last):
        if 0 < stops[week] < 1.1 * path[0]:
            for held, buys in ((stops[week] * 0.95, True), (stops[week] * 1.05, False)):
                assert bool(held * course.share[week] + late[week] <= going_on(week, held) + 1e-9) is buys


def test_no_other_constant_trigger_beats_the_plan() -> None:
    path, last = np.full(16, 100.0), 15
    outlook = outlook_with(path, (ExpectedSale("a", 8, 8, 0.6, (0.2,)),), 0.05)
    plan = trigger_plan(outlook, last_week=last, carrying_per_week=0.0)

    def cost_of(level: float) -> float:
        cost = price_in(outlook, last).mean
        for week in range(last - 1, 0, -1):
            price = price_in(outlook, week)
            taken = price.chance_below(level)
            below = price.expected_min(level) - level * (1 - taken)
            cost = below + (1 - taken) * cost
        return cost

    best = optimize.minimize_scalar(cost_of, bounds=(60, 110), method="bounded").fun
    assert plan.expected_cost <= best + 1e-9


def test_with_ever_more_weeks_the_trigger_becomes_the_reservation_price() -> None:
    """Steady prices and a cost a look: the horizon's end no longer matters (search theory, no deadline)."""
    outlook = outlook_with(np.full(400, 100.0), (), 0.1)
    plan = trigger_plan(outlook, last_week=399, carrying_per_week=0.0, look_cost=1.0)
    assert plan.prices[1] == pytest.approx(reservation_value(price_in(outlook, 1), 1.0), abs=1e-9)


WALK = RateWalk("EUR", ("GBP", "PLN", "USD"), ((4e-4, 1e-4, -2e-4), (1e-4, 9e-4, 0.0), (-2e-4, 0.0, 1e-4)))


def test_the_rate_walk_has_the_moments_of_a_geometric_walk() -> None:
    """Closed form: log variance s^2 t, mean 1 at every week (a martingale), covariance c t between currencies."""
    weeks, runs = 52, 40_000
    drawn = WALK.draws(np.random.default_rng(3), weeks, runs)
    for week in (1, 13, 52):
        paths = np.array([drawn[code][week] for code in WALK.currencies])
        logs = np.log(paths)
        expected = np.asarray(WALK.covariance) * week
        # sampling error of a covariance: sqrt((c_ii c_jj + c_ij^2) / n)
        error = np.sqrt((np.outer(np.diag(expected), np.diag(expected)) + expected**2) / runs)
        assert (abs(np.cov(logs) - expected) < 4 * error).all()
        assert (abs(paths.mean(axis=1) - 1) < 4 * paths.std(axis=1) / math.sqrt(runs)).all()


def test_the_rate_walk_forgets_where_it_came_from() -> None:
    """Martingale: what it does after a week is uncorrelated with what it did before, and averages one."""
    drawn = WALK.draws(np.random.default_rng(4), 30, 40_000)["GBP"]
    onward, before = drawn[30] / drawn[10], drawn[10]
    assert abs(np.corrcoef(onward, before)[0, 1]) < 4 / math.sqrt(len(before))
    assert abs(onward[before > 1.1].mean() - 1) < 4 * onward.std() / math.sqrt((before > 1.1).sum())


def test_the_drift_equals_a_joint_normal_posterior() -> None:
    """Two layers by hand against conditioning one joint normal: category effect, offers' rises, their own slopes."""
    prior = DriftPrior(index=0.02, over_index=0.02, spread=0.04, shared=0.025, step=0.03, scatter=0.0)
    slopes = {"a": Slope(0.09, 0.02**2, 0.0, 4), "b": Slope(0.01, 0.05**2, 0.0, 3), "c": Slope(None, math.inf, 0.0, 1)}
    found = drifts(slopes, dict.fromkeys(slopes, prior), dict.fromkeys(slopes, "steering"))
    rises = 0.025**2 * np.ones((3, 3)) + (0.04**2 - 0.025**2) * np.eye(3)
    seen = [0, 1]
    gain = rises[:, seen] @ np.linalg.inv(rises[np.ix_(seen, seen)] + np.diag([0.02**2, 0.05**2]))
    mean = math.log1p(0.04)
    posterior = mean + gain @ (np.array([0.09, 0.01]) - mean)
    spread = np.sqrt(np.diag(rises - gain @ rises[seen, :]))
    for at, offer in enumerate("abc"):
        assert math.log1p(found[offer].yearly) == pytest.approx(posterior[at], abs=1e-12)
        assert found[offer].spread == pytest.approx(spread[at], abs=1e-12)
