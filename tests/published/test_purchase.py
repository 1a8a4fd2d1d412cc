"""Buying examples of the literature through the purchase programme. Sources stand in purchase.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from fishplate.buy import Candidate, PurchasePlan, PurchaseProblem, Shipment, recost_by_model, solve, solve_fixed

TABLES: dict[str, Any] = tomllib.loads(Path(__file__).with_name("purchase.toml").read_text(encoding="utf-8"))


def best(problem: PurchaseProblem) -> PurchasePlan:
    plan = solve(problem, recost=recost_by_model(problem), time_limit=30, gap=0.0)
    assert plan.optimal
    return plan


def lot_sizing(demand: Sequence[float], setup: Sequence[float], holding: float) -> PurchaseProblem:
    """Each month's demand is a part; each order month a shipment that may carry it, at the cost of holding it."""
    months = range(len(demand))
    shipments = tuple(Shipment(f"m{t:02}", f"m{t:02}", "works", None, None, t, float(setup[t])) for t in months)
    candidates = tuple(
        Candidate(f"m{t:02}for{k:02}", "lot", f"m{t:02}", {f"d{k:02}": 1.0}, holding * (k - t) * demand[k], demand[k])
        for t in months
        for k in months[t:]
    )
    return PurchaseProblem({f"d{k:02}": 1.0 for k in months}, candidates, shipments)


def lots(plan: PurchasePlan, demand: Sequence[float]) -> list[float]:
    bought = [0.0] * len(demand)
    for line in plan.lines:
        bought[line.week] += demand[int(next(iter(line.parts))[1:])]
    return bought


@pytest.mark.parametrize("months", range(1, 13))
def test_wagner_whitin_cost_of_every_horizon(months: int) -> None:
    table = TABLES["wagner_whitin"]
    plan = best(lot_sizing(table["demand"][:months], table["setup"][:months], table["holding"]))
    assert plan.total == pytest.approx(table["cost_to_horizon"][months - 1], abs=1e-6)


def test_wagner_whitin_lots_are_the_printed_ones() -> None:
    table = TABLES["wagner_whitin"]
    assert lots(best(lot_sizing(table["demand"], table["setup"], table["holding"])), table["demand"]) == table["lots"]


def test_snyder_shen_lots_and_cost() -> None:
    table = TABLES["snyder_shen_3_9"]
    plan = best(lot_sizing(table["demand"], table["setup"], table["holding"]))
    assert plan.total == pytest.approx(table["total"], abs=1e-6)
    assert lots(plan, table["demand"]) == table["lots"]


def shopping(table: dict[str, Any]) -> PurchaseProblem:
    free = table.get("free_from", {})
    shipments = tuple(
        Shipment(s, s, s, None, None, 0, 0.0, float(d), free.get(s)) for s, d in table["delivery"].items()
    )
    candidates = tuple(
        Candidate(f"{s}:{k}", f"{s}:{k}", s, {f"item{k}": 1.0}, float(price), float(price))
        for s, prices in table["price"].items()
        for k, price in enumerate(prices)
    )
    return PurchaseProblem(
        {f"item{k}": 1.0 for k in range(len(next(iter(table["price"].values()))))}, candidates, shipments
    )


def bought_at(problem: PurchaseProblem, shops: Sequence[str]) -> float:
    units = {f"{shop}:{k}": 1 for k, shop in enumerate(shops)}
    return solve_fixed(problem, units, recost=recost_by_model(problem)).total


def test_six_shops_best_mix() -> None:
    table = TABLES["six_shops"]
    plan = best(shopping(table))
    assert plan.total == pytest.approx(table["total"], abs=1e-6)
    assert sorted(line.candidate for line in plan.lines) == sorted(f"{s}:{k}" for k, s in enumerate(table["shops"]))


@pytest.mark.parametrize("shop", sorted(TABLES["six_shops"]["single_shop"]))
def test_six_shops_everything_at_one(shop: str) -> None:
    table = TABLES["six_shops"]
    assert bought_at(shopping(table), [shop] * 5) == pytest.approx(table["single_shop"][shop], abs=1e-6)


def test_six_shops_each_book_where_it_is_cheapest() -> None:
    table = TABLES["six_shops"]
    cheapest = [min(table["price"], key=lambda s: table["price"][s][k]) for k in range(5)]
    assert bought_at(shopping(table), cheapest) == pytest.approx(table["cheapest_each"], abs=1e-6)


def test_delivery_is_free_from_a_spend_threshold() -> None:
    table = TABLES["free_delivery"]
    problem = shopping(table)
    assert best(problem).total == pytest.approx(table["total"], abs=1e-6)
    assert bought_at(problem, ["shop2", "shop2"]) == pytest.approx(table["shop2_only"], abs=1e-6)
    assert bought_at(problem, ["shop1", "shop2"]) == pytest.approx(table["apart"], abs=1e-6)


def rationing(cost: Sequence[Sequence[float]], worth: Sequence[float], budget: Sequence[float]) -> PurchaseProblem:
    """A project is a part that nothing but money limits; leaving it out costs what it is worth.

    Money is limited cumulatively, so a limit of one year alone is written as the step from the year before.
    """
    shipments = tuple(Shipment(f"p{k}", f"p{k}", f"p{k}", None, None, 0, 0.0) for k in range(len(worth)))
    candidates = []
    for k in range(len(worth)):
        outlays = [row[k] for row in cost]
        steps = tuple((m, o - (outlays[m - 1] if m else 0.0)) for m, o in enumerate(outlays))
        candidates.append(Candidate(f"p{k}", f"p{k}", f"p{k}", {f"p{k}": 1.0}, 0.0, 1.0, cash=steps))
    return PurchaseProblem(
        {f"p{k}": 1.0 for k in range(len(worth))},
        tuple(candidates),
        shipments,
        cash_limits=tuple((m, float(b)) for m, b in enumerate(budget)),
        unmet_penalty={f"p{k}": max(float(w), 0.0) for k, w in enumerate(worth)},
        cash_penalty=1e4,
    )


@pytest.mark.parametrize("name", ["nine_projects", "five_investments", "two_years", "knapsack_ten", "knapsack_seven"])
def test_rationed_money_takes_the_printed_set(name: str) -> None:
    table = TABLES[name]
    plan = best(rationing(table["cost"], table["worth"], table["budget"]))
    chosen = sorted(int(line.candidate[1:]) + 1 for line in plan.lines if table["worth"][int(line.candidate[1:])] > 0)
    assert chosen == table["chosen"]
    assert sum(table["worth"][k - 1] for k in chosen) == pytest.approx(table["total"], abs=0.005)
    assert not plan.cash_over


def test_exclusive_versions_of_a_proposal_are_bands_of_one_group() -> None:
    table = TABLES["versions"]
    most = {name: max(worth for _, worth in options) for name, options in table["options"].items()}
    shipments, candidates = [], []
    for name, options in table["options"].items():
        for k, (cost, worth) in enumerate(options):
            key = f"{name}:{k}"
            shipments.append(Shipment(key, name, name, None, None, 0, 0.0))
            candidates.append(Candidate(key, key, key, {name: 1.0}, most[name] - worth, 1.0, cash=((0, float(cost)),)))
    problem = PurchaseProblem(
        dict.fromkeys(table["options"], 1.0), tuple(candidates), tuple(shipments),
        cash_limits=((0, float(table["budget"])),), unmet_penalty=most, cash_penalty=1e4,
    )  # fmt: skip
    plan = best(problem)
    assert sorted(line.candidate for line in plan.lines) == table["chosen"]
    assert sum(most.values()) - plan.total - plan.penalty == pytest.approx(table["total"], abs=0.005)
