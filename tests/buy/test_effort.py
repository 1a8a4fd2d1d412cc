"""A search stops at its limit of work, which no clock moves; the clock ends it only as a backstop, and that is said."""

from __future__ import annotations

from itertools import count

import pytest
from benchmarks.markets import generated

from fishplate.buy import PurchasePlan, PurchaseProblem, solve
from fishplate.buy import effort as efforts
from fishplate.buy.effort import Effort
from fishplate.buy.recosting import recost_by_model


@pytest.fixture(scope="module")
def problem() -> PurchaseProblem:
    return generated(14, 36, weeks=26, seed=5)


def searched(problem: PurchaseProblem) -> PurchasePlan:
    return solve(problem, recost=recost_by_model(problem), time_limit=0.6, gap=0.0)


def test_a_slow_clock_changes_nothing(problem: PurchaseProblem, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = searched(problem)
    ticks = count()
    monkeypatch.setattr(efforts, "perf_counter", lambda: next(ticks) * 1e-3)
    slow = searched(problem)
    assert (slow.lines, slow.bound, slow.total) == (plan.lines, plan.bound, plan.total)
    assert "time-limit" not in {item.code for item in slow.assumptions}


def test_a_search_the_clock_ends_says_so(problem: PurchaseProblem, monkeypatch: pytest.MonkeyPatch) -> None:
    ticks = count()
    monkeypatch.setattr(efforts, "perf_counter", lambda: next(ticks) * 100.0)
    plan = searched(problem)
    assert [item.code for item in plan.assumptions if item.code.endswith("-limit")] == ["time-limit"]
    assert not plan.unmet


def test_what_a_part_spends_is_spent_of_the_whole() -> None:
    whole = Effort(10.0)
    part = whole.part(4.0)
    part.spend(3.0)
    assert part.left() == pytest.approx(1.0)
    assert whole.left() == pytest.approx(7.0)
    assert whole.part(100.0).left() == pytest.approx(7.0)
