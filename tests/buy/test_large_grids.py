"""A grid too large to be searched whole: sifted bound, polished plan, patched arrays, renewed proof."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.markets import generated

from fishplate.buy import (
    Candidate,
    PurchasePlan,
    PurchaseProblem,
    Selection,
    Shipment,
    recost_by_model,
    sifting,
    solve,
    solve_fixed,
)
from fishplate.buy.bounding import bound_plans
from fishplate.buy.effort import Effort
from fishplate.buy.grid import WEEKS_ALIKE, compile_grid, in_other_bands, spread_out
from fishplate.buy.highs import Relaxation
from fishplate.buy.patching import grid_of
from fishplate.buy.programme import assemble
from fishplate.buy.pursuit import SMALL
from fishplate.buy.sifting import Sifter


@pytest.fixture(scope="module")
def problem() -> PurchaseProblem:
    return generated(30, 80, weeks=40, seed=3)


@pytest.fixture(scope="module")
def plan(problem: PurchaseProblem) -> PurchasePlan:
    return solve(problem, recost=recost_by_model(problem), time_limit=40, gap=0.04)


def test_the_sifted_relaxation_is_the_whole_one(problem: PurchaseProblem) -> None:
    grid = compile_grid(problem)
    assert len(grid.candidates) > SMALL
    whole = Relaxation(assemble(grid, np.ones(len(grid.candidates), dtype=np.bool_))).solve((), effort=Effort(60))
    sifter = Sifter(grid)
    leaf = sifter.relax((), effort=Effort(60))
    assert whole is not None
    assert leaf is not None
    assert sifter.keep.sum() < 0.5 * sifter.keep.size
    assert leaf.relaxed.bound >= whole.bound - 1e-6
    assert leaf.bound == pytest.approx(whole.bound, rel=2e-3)


def test_the_plan_is_bought_in_full_and_costs_what_it_says(problem: PurchaseProblem, plan: PurchasePlan) -> None:
    again = solve_fixed(problem, plan.units, recost=recost_by_model(problem))
    assert again.total + again.penalty == pytest.approx(plan.total + plan.penalty, abs=1e-6)
    assert not plan.unmet
    assert plan.optimal
    assert plan.bound <= plan.total + plan.penalty


def test_the_bound_stays_below_every_plan_of_the_same_market(problem: PurchaseProblem, plan: PurchasePlan) -> None:
    bounding = bound_plans(compile_grid(problem), effort=Effort(60))
    assert bounding is not None
    assert bounding.bound <= plan.total + plan.penalty + 1e-6
    held = [c.key in plan.units for c in compile_grid(problem).candidates]
    assert (bounding.reach[np.array(held)] <= plan.total + plan.penalty + 1e-6).all()


def dearer(problem: PurchaseProblem, offer: str, factor: float) -> PurchaseProblem:
    changed = tuple(
        replace(c, cost=c.cost * factor, cash=tuple((m, a * factor) for m, a in c.cash)) if c.offer == offer else c
        for c in problem.candidates
    )
    return replace(problem, candidates=changed)


def test_patched_arrays_are_the_compiled_ones(problem: PurchaseProblem, plan: PurchasePlan) -> None:
    grid_of(problem)
    changed = dearer(problem, plan.lines[0].offer, 1.2)
    patched, compiled = grid_of(changed), compile_grid(changed)
    for name in ("cost", "value", "cash_amount", "unmet_cost", "most", "shipment"):
        assert (getattr(patched, name) == getattr(compiled, name)).all(), name
    assert patched.candidates == compiled.candidates
    assert (patched.cost != grid_of(problem).cost).any()


def test_what_was_left_out_of_the_arrays_stays_out_whatever_it_costs() -> None:
    home = Shipment("home", "home", "near", None, None, 0, 5.0, low_value=100.0)
    items = tuple(Candidate(key, key, "home", {"a": 1.0}, cost, cost) for key, cost in (("x", 120.0), ("y", 130.0)))
    far = Shipment("far", "far", "far", None, None, 0, 5.0, low_value=500.0)
    out = Candidate("z", "z", "far", {"a": 1.0}, 40.0, 40.0)
    asked = PurchaseProblem({"a": 1.0}, (*items, out), (home, far))
    grid = grid_of(asked)
    assert [c.key for c in grid.candidates] == ["x", "y"]
    cheaper = replace(asked, candidates=(*items, replace(out, cost=10.0)))
    assert grid_of(cheaper).candidates == grid.candidates
    counted = replace(asked, candidates=(*items, replace(out, value=600.0)))
    assert [c.key for c in grid_of(counted).candidates] == ["z", "x", "y"]
    both = replace(counted, candidates=(replace(items[0], cost=99.0), items[1], replace(out, value=600.0, cost=1.0)))
    patched, compiled = grid_of(both), compile_grid(both)
    assert (patched.cost == compiled.cost).all()
    assert patched.candidates == compiled.candidates


def test_more_than_prices_is_compiled_anew(problem: PurchaseProblem) -> None:
    grid_of(problem)
    first = replace(problem.candidates[0], max_units=problem.candidates[0].max_units + 5, mass_kg=77.0)
    changed = replace(problem, candidates=(first, *problem.candidates[1:]))
    assert 77.0 in grid_of(changed).mass
    fewer = replace(problem, needs={part: n for part, n in problem.needs.items() if part != "p0"})
    assert "p0" not in grid_of(fewer).parts


def test_a_changed_price_is_planned_again_within_the_gap(problem: PurchaseProblem, plan: PurchasePlan) -> None:
    gap = max(plan.gap, 0.04)
    for factor in (1.15, 0.8):
        changed = dearer(problem, plan.lines[len(plan.lines) // 2].offer, factor)
        again = solve(changed, recost=recost_by_model(changed), time_limit=40, gap=gap, start=plan)
        assert again.optimal
        assert not again.unmet
        unmoved = solve_fixed(changed, plan.units, recost=recost_by_model(changed))
        assert again.bound <= unmoved.total + unmoved.penalty + 1e-6
        assert again.total + again.penalty <= unmoved.total + unmoved.penalty + 1e-6


def test_a_large_grid_out_of_time_still_brings_a_plan(problem: PurchaseProblem) -> None:
    def recost(selection: Selection) -> dict[str, float]:
        return dict(recost_by_model(problem)(selection))

    plan = solve(problem, recost=recost, time_limit=0.0, gap=0.0)
    assert not plan.unmet
    assert 0 <= plan.gap <= 1


def test_of_weeks_alike_the_best_stands_for_all(problem: PurchaseProblem) -> None:
    grid = compile_grid(problem)
    score = np.random.default_rng(2).permutation(grid.cost.size).astype(np.float64)
    best: dict[tuple[object, ...], int] = {}
    for index, candidate in enumerate(grid.candidates):
        sent = grid.shipments[grid.shipment[index]]
        alike = candidate.offer, candidate.min_units, sent.week // WEEKS_ALIKE, sent.collection, sent.relief
        if alike not in best or score[index] < score[best[alike]]:
            best[alike] = index
    assert set(np.flatnonzero(spread_out(grid, score)).tolist()) == set(best.values())
    assert len(best) < 0.5 * grid.cost.size


def test_an_offer_is_found_in_every_band_of_its_consignment(problem: PurchaseProblem) -> None:
    grid = compile_grid(problem)
    among = np.random.default_rng(3).random(grid.cost.size) < 0.01

    def places(indices: list[int]) -> list[tuple[str, str]]:
        return [(grid.candidates[i].offer, grid.shipments[grid.shipment[i]].group) for i in indices]

    wanted = set(places(np.flatnonzero(among).tolist()))
    expected = [place in wanted for place in places(list(range(grid.cost.size)))]
    assert in_other_bands(grid, among).tolist() == expected
    assert sum(expected) > among.sum()


def test_a_bound_from_a_narrowed_relaxation_still_holds(
    problem: PurchaseProblem, plan: PurchasePlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sifting, "NARROW", 1)
    monkeypatch.setattr(sifting, "SMALL", 10)
    sifter = Sifter(compile_grid(problem))
    first = sifter.relax((), effort=Effort(60))
    assert first is not None
    before = int(sifter.keep.sum())
    sifter.narrow(first)
    assert sifter.keep.sum() < before
    again = sifter.relax((), effort=Effort(60))
    assert again is not None
    assert again.bound == pytest.approx(first.bound, rel=2e-3)
    assert again.bound <= plan.total + plan.penalty + 1e-6


def test_sifting_ends_as_soon_as_the_bound_is_enough(problem: PurchaseProblem) -> None:
    whole = Sifter(compile_grid(problem))
    best = whole.relax((), effort=Effort(60))
    assert best is not None
    enough = 0.9 * best.bound
    early = Sifter(compile_grid(problem))
    found = early.relax((), effort=Effort(60), enough=enough)
    assert found is not None
    assert enough <= found.bound
    assert early.keep.sum() < whole.keep.sum()


def test_a_dearer_line_is_bought_anew_before_its_proof_is_renewed(problem: PurchaseProblem, plan: PurchasePlan) -> None:
    told: list[str] = []
    line = sorted(plan.lines, key=lambda line: -line.cost)[5]  # one that is had elsewhere for little more
    changed = dearer(problem, line.offer, 1.5)
    unmoved = solve_fixed(changed, plan.units, recost=recost_by_model(changed))
    gap = max(plan.gap, 0.04)
    assert unmoved.total + unmoved.penalty > plan.bound / (1 - gap)
    solve(
        changed,
        recost=recost_by_model(changed),
        time_limit=40,
        gap=gap,
        start=plan,
        progress=lambda stage, _cost: told.append(stage),
    )
    assert told == ["bound", "plan", "plan", "re-costed"]
