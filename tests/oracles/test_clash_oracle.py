"""Clashing conditions, against the enumeration of every plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from test_buy_oracles import bulky, cost_of, most_useful, tiny

from fishplate.buy import Candidate, PurchaseProblem, recost_by_model, solve
from fishplate.buy.clash import Condition, Kind, clash, conditions_of, eased

FAR = 1e5


def possible(problem: PurchaseProblem) -> bool:
    """Whether some selection meets every need within the money, the fixed choices made."""
    strict = replace(problem, unmet_penalty=dict.fromkeys(problem.needs, 1e7), cash_penalty=1e7)
    ranges = [
        [strict.fixed[c.key]] if c.key in strict.fixed else range(_most(strict, c) + 1) for c in strict.candidates
    ]
    keys = [c.key for c in strict.candidates]
    return any(cost_of(strict, dict(zip(keys, counts, strict=True))) < FAR for counts in product(*ranges))


def _most(problem: PurchaseProblem, candidate: Candidate) -> int:
    """What brings nothing that is needed is not bought, even to fill up an order."""
    needs = {part: problem.needs.get(part, 0.0) for part in candidate.covers}
    return most_useful(replace(problem, needs=needs), candidate) if any(needs.values()) else 0


def crowded(seed: int) -> tuple[PurchaseProblem, tuple[Condition, ...]]:
    """A tiny problem with little money, little room in the van, a choice made and an order held."""
    rng = np.random.default_rng(seed)
    problem = tiny(seed)
    limits = ((0, float(rng.integers(10, 120))), (2, float(rng.integers(60, 260)))) if rng.random() < 0.6 else ()
    trips = (replace(problem.trips[0], capacity_kg=float(rng.integers(1, 6))),)
    fixed = {problem.candidates[0].key: 1} if rng.random() < 0.3 else {}
    bars = frozenset(c.key for c in problem.candidates if rng.random() < 0.4 and c.key not in fixed)
    holds = [Condition(Kind.HOLD, "release", bars)]
    sold = {part for c in problem.candidates for part in c.covers}
    needs = {part: need for part, need in problem.needs.items() if part in sold}
    problem = replace(problem, needs=needs, cash_limits=limits, trips=trips, fixed=fixed)
    return problem, conditions_of(problem, holds)


def kept(problem: PurchaseProblem, whole: Sequence[Condition], few: Sequence[Condition]) -> bool:
    return possible(eased(problem, whole, few))


def test_the_conditions_named_clash_and_none_of_them_could_be_left_out() -> None:
    kinds: set[Kind] = set()
    for seed in range(45):
        problem, whole = crowded(seed)
        found = clash(problem, whole, recost=recost_by_model(problem))
        assert (found is None) == kept(problem, whole, whole), seed
        if found is None:
            continue
        few = found.conditions
        assert not kept(problem, whole, few), seed
        for condition in few:
            assert kept(problem, whole, [other for other in few if other is not condition]), (seed, condition)
        kinds |= {condition.kind for condition in few}
    assert len(kinds) >= 4


def test_a_clash_that_is_not_narrowed_down_says_so_and_is_one_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fishplate.buy.clash.MOST_ASKED", 2)
    broad = 0
    for seed in range(20):
        problem, whole = crowded(seed)
        found = clash(problem, whole, recost=recost_by_model(problem))
        if found is None or found.narrowed:
            continue
        broad += 1
        assert not kept(problem, whole, found.conditions), seed
        assert found.ways_out or problem.fixed, seed
    assert broad > 4


def least_money(problem: PurchaseProblem) -> float:
    """The least money beyond the limits with which every part can be bought, by enumeration."""
    strict = replace(problem, unmet_penalty=dict.fromkeys(problem.needs, 1e7), cash_penalty=0.0)
    charged = replace(strict, cash_penalty=1.0)
    keys = [c.key for c in problem.candidates]
    least = np.inf
    for counts in product(*[range(_most(problem, c) + 1) for c in problem.candidates]):
        units = dict(zip(keys, counts, strict=True))
        cost = cost_of(strict, units)
        if cost < FAR:
            least = min(least, cost_of(charged, units) - cost)
    return float(least)


def test_the_money_that_is_missing_is_the_least_that_would_do() -> None:
    compared = 0
    for seed in range(60):
        problem = replace(tiny(seed), cash_limits=((0, 20.0), (2, 60.0)))
        found = clash(problem, conditions_of(problem), recost=recost_by_model(problem))
        money = [way for way in found.ways_out if way.condition.kind is Kind.MONEY] if found else []
        least = least_money(problem)
        if not money or least == np.inf:
            continue
        assert money[0].amount == pytest.approx(least, abs=1e-4), seed
        assert not money[0].plan.unmet
        assert not money[0].plan.cash_over
        assert [way.plan.total + way.plan.penalty for way in found.ways_out] == sorted(
            way.plan.total + way.plan.penalty for way in found.ways_out
        )
        compared += 1
    assert compared > 10


def test_a_fixed_choice_is_planned_with_at_any_gap() -> None:
    """No plan yet is not a plan within the gap."""
    problem, _ = crowded(12)
    assert problem.fixed
    plan = solve(replace(problem, cash_limits=()), recost=recost_by_model(problem), time_limit=10, gap=0.05)
    assert all(plan.units[key] == units for key, units in problem.fixed.items())


def least_room(problem: PurchaseProblem) -> float:
    """The least volume on the van with which every part can be bought, by enumeration [m³]."""
    roomy = replace(problem, trips=tuple(replace(trip, capacity_m3=None) for trip in problem.trips))
    strict = replace(roomy, unmet_penalty=dict.fromkeys(problem.needs, 1e7))
    fetched = {s.key for s in problem.shipments if s.collection is not None}
    keys, least = [c.key for c in problem.candidates], np.inf
    for counts in product(*[range(_most(problem, c) + 1) for c in problem.candidates]):
        if cost_of(strict, dict(zip(keys, counts, strict=True))) < FAR:
            loads = zip(problem.candidates, counts, strict=True)
            least = min(least, sum(c.volume_m3 * n for c, n in loads if c.shipment in fetched))
    return float(least)


def test_the_room_that_is_missing_is_the_least_that_would_do() -> None:
    compared = 0
    for seed in range(16):
        problem = bulky(seed)
        sold = {part for c in problem.candidates for part in c.covers}
        problem = replace(
            problem, needs={part: need for part, need in problem.needs.items() if part in sold}, cash_limits=(),
            trips=tuple(replace(trip, capacity_m3=0.1) for trip in problem.trips),
        )  # fmt: skip
        found = clash(problem, conditions_of(problem), recost=recost_by_model(problem))
        room = [way for way in found.ways_out if way.condition.kind is Kind.ROOM] if found else []
        least = least_room(problem)
        if room and least < np.inf:  # else more than room is in the way
            assert room[0].amount == pytest.approx(least - 0.1, abs=1e-4), seed
            assert not room[0].plan.unmet
            compared += 1
    assert compared > 2
