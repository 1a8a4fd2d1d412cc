"""The bound from prices holds for any prices, and what it says of single candidates too."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf

import numpy as np
import pytest

from fishplate.buy import Candidate, PurchaseProblem, Shipment, Trip, recost_by_model, solve
from fishplate.buy.basket import Basket, Store
from fishplate.buy.bound import Prices, appraise
from fishplate.buy.bounding import bound_by_cheapest, bound_plans
from fishplate.buy.effort import Effort
from fishplate.buy.grid import Grid, compile_grid, part_of


def market(seed: int) -> PurchaseProblem:
    """Six parts, two suppliers abroad in bands with a relief, one at home, a trip, money limits."""
    rng = np.random.default_rng(seed)
    shipments = [Shipment(f"home{w}", f"home{w}", "home", None, None, w, 0.0, 8.0, 60.0) for w in range(3)]
    for supplier in ("n", "s"):
        for w in range(3):
            key, fee = f"{supplier}{w}", float(rng.integers(5, 20))
            shipments.append(
                Shipment(f"{key}r", key, supplier, "post", None, w, 0.0, 6.0, None, 0.0, 50.0, relief=True)
            )
            shipments.append(Shipment(f"{key}a", key, supplier, "post", None, w, fee, 6.0, 80.0, 0.0, 90.0))
            shipments.append(Shipment(f"{key}b", key, supplier, "post", None, w, fee + 9, 6.0, 80.0, 90.0, inf))
    shipments += [Shipment(f"d{w}", f"d{w}", "n", "depot", "van", w, 2.0, cash_month=w) for w in range(2)]
    candidates = []
    for number in range(10):
        covers = {f"p{int(k)}": 1.0 for k in rng.choice(6, int(rng.integers(1, 3)), replace=False)}
        supplier, price = ("home", "n", "s")[int(rng.integers(3))], float(rng.integers(10, 45)) * len(covers)
        candidates += [
            Candidate(f"o{number}{s.key}", f"o{number}", s.key, covers, price + s.week, price, 2.0, ((s.week, price),))
            for s in shipments
            if s.supplier == supplier
        ]
    needs = {f"p{k}": 1.0 for k in range(6)}
    limits = ((0, 120.0), (2, 400.0))
    trips = (Trip("van", 15.0, 9.0, cash_month=1),)
    return PurchaseProblem(needs, tuple(candidates), tuple(shipments), trips, limits, dict.fromkeys(needs, 90.0))


def any_prices(grid: Grid, rng: np.random.Generator) -> Prices:
    return Prices(
        rng.uniform(-5, 120, len(grid.parts)),
        rng.uniform(-1, 2, len(grid.months)),
        rng.uniform(-1, 3, len(grid.trips)),
        rng.uniform(-1, 6, len(grid.shipments)),
        rng.uniform(-0.5, 1.5, len(grid.trips)),
        rng.uniform(-1, 20, len(grid.modes.names)),
    )


def optimum(problem: PurchaseProblem) -> float:
    plan = solve(problem, recost=recost_by_model(problem), time_limit=30, gap=0.0)
    return plan.total + plan.penalty


def cramped(seed: int) -> PurchaseProblem:
    """The same with room on the trip for one or two things, where its mass would let four come."""
    problem = market(seed)
    candidates = tuple(replace(c, volume_m3=0.2 + 0.1 * (number % 3)) for number, c in enumerate(problem.candidates))
    return replace(problem, candidates=candidates, trips=(replace(problem.trips[0], fixed=1.0, capacity_m3=0.5),))


@pytest.mark.parametrize(("made", "seed"), [*((market, seed) for seed in range(6)), (cramped, 0), (cramped, 1)])
def test_no_prices_put_the_bound_above_the_optimum(made: Callable[[int], PurchaseProblem], seed: int) -> None:
    problem = made(seed)
    grid, best, rng = compile_grid(problem), optimum(problem), np.random.default_rng(seed)
    for _ in range(200):
        prices = any_prices(grid, rng)
        assert appraise(grid, prices).bound <= best + 1e-6
        split = min(appraise(grid, prices, {0: True}).bound, appraise(grid, any_prices(grid, rng), {0: False}).bound)
        assert split <= best + 1e-6
    assert bound_by_cheapest(grid).bound <= best + 1e-6
    relaxed = bound_plans(grid, effort=Effort(10))
    assert relaxed is not None
    assert 0 < relaxed.bound <= best + 1e-6


@pytest.mark.parametrize("supplier", ["n", "s", "home"])
def test_the_bound_holds_without_any_one_supplier(supplier: str) -> None:
    problem = market(4)
    grid, rng = compile_grid(problem), np.random.default_rng(4)
    assert {shipment.supplier for shipment in grid.shipments} == {"n", "s", "home"}
    sold_by = {shipment.key: shipment.supplier for shipment in problem.shipments}
    fewer = replace(problem, candidates=tuple(c for c in problem.candidates if sold_by[c.shipment] != supplier))
    rest = part_of(grid, np.array([grid.shipments[at].supplier != supplier for at in grid.shipment]))
    best = optimum(fewer)
    assert all(appraise(rest, any_prices(rest, rng)).bound <= best + 1e-6 for _ in range(100))


@pytest.mark.parametrize("seed", range(2))
def test_the_reach_of_a_candidate_is_below_the_best_plan_with_it(seed: int) -> None:
    problem = market(seed)
    grid = compile_grid(problem)
    bounding = bound_plans(grid, effort=Effort(10))
    assert bounding is not None
    tight = 0
    for index in range(0, len(grid.candidates), 5):
        forced = replace(problem, fixed={grid.candidates[index].key: 1})
        try:
            best = optimum(forced)
        except ValueError:
            continue
        assert bounding.reach[index] <= best + 1e-6
        tight += bounding.reach[index] > bounding.bound + 1.0
    assert tight > 3


def test_a_change_costs_beforehand_what_the_basket_costs_afterwards() -> None:
    problem = market(3)
    grid = compile_grid(problem)
    store, rng = Store(grid), np.random.default_rng(5)
    basket, made = Basket(store), 0
    for _ in range(400):
        item = int(rng.integers(len(store.items)))
        held = [(i, n) for contents in basket.contents.values() for i, n in contents.items()]
        remove = [held[int(rng.integers(len(held)))]] if held and rng.random() < 0.6 else []
        changes = basket.changed(remove, [(item, 1)])
        cost = basket.after(changes)
        if np.isfinite(cost):
            basket.apply(changes)
            made += 1
            assert basket.cost == pytest.approx(cost, abs=1e-9)
            assert Basket.of(store, basket.units()).cost == pytest.approx(cost, abs=1e-6)
    assert made > 60
