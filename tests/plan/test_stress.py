"""The plan over many futures, where the right answer is known by hand."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from plan_builds import AS_OF, OWNER, build_of, job, offer, part, situation_of, supplier

from fishplate.build import Build
from fishplate.plan.futures import Futures, World
from fishplate.plan.main_job import settled
from fishplate.plan.stress import RuleResult, Stress, stress

PRICE, DEPTH, SALE_WEEK = 1000.0, 30.0, 6


def build(chance: float = 1.0, **owner: Any) -> Build:
    """A gearbox that may be 30 % cheaper from week 6 on, needed only long after that, whose price stands still."""
    first = AS_OF + timedelta(weeks=SALE_WEEK)
    sale = {
        "id": "spring",
        "supplier": "shop",
        "chance": chance,
        "depth_percent": [DEPTH] * 3,
        "first": first,
        "last": first + timedelta(days=13),
    }
    return build_of(
        owner={**OWNER, "carrying_percent": 0, **owner},
        suppliers=[supplier("shop")],
        parts=[part("gearbox")],
        offers=[offer("gearbox-shop", "gearbox", f"{PRICE:.2f} EUR", "shop")],
        sale_windows=[sale],
        jobs=[job("strip", 180), job("fit", 6, "strip", to_keep=["gearbox"])],
    )


def stressed(build: Build) -> Stress:
    studied, chosen, _, _ = settled(situation_of(build), progress=lambda _stage, _share: None)
    return stress(studied, chosen, lambda _stage, _share: None, futures=100, foreseen_in=3)


def rules(found: Stress, world: World) -> dict[str, RuleResult]:
    return {rule.name: rule for rule in next(each for each in found.worlds if each.world == world).rules}


def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """Prices that keep to their path."""
    monkeypatch.setattr(Futures, "_regular", lambda self, outlook: np.full((len(outlook.list_price), self.runs), PRICE))


def keeping(weeks: float) -> float:
    """Keeping a gearbox bought at full price: 6 % of its price a year, the money itself free."""
    return PRICE * 0.06 / 52 * weeks


def test_a_certain_sale_beats_buying_now_by_its_depth_and_the_keeping(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both come before the need, by at most 14 days of return right: the rest of the difference is what may not fit."""
    still(monkeypatch)
    found = stressed(build())
    now = rules(found, World.OWN)["all now"]
    saved = PRICE * DEPTH / 100
    assert now.low > 0
    # at least the sale; besides it less keeping of a dearer gearbox, and less lost if it does not fit (4 % of cases)
    assert saved < now.difference < saved + keeping(60) + 0.04 * PRICE
    assert not now.wins


def test_the_difference_is_the_sale_to_the_cent_where_nothing_else_differs(monkeypatch: pytest.MonkeyPatch) -> None:
    still(monkeypatch)
    monkeypatch.setattr("fishplate.plan.tried.Trier._keeping", lambda self, *_: np.zeros(self.runs))
    monkeypatch.setattr("fishplate.plan.tried.Trier._risk", lambda self, *_: np.zeros(self.runs))
    now = rules(stressed(build()), World.OWN)["all now"]
    assert now.difference == pytest.approx(PRICE * DEPTH / 100, abs=0.01)
    assert (now.low, now.high) == (now.difference, now.difference)


def test_without_the_sale_the_plain_rule_that_does_not_wait_is_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    still(monkeypatch)
    found = stressed(build())
    none = rules(found, World.NO_SALE)
    own = rules(found, World.OWN)
    assert none["all now"].difference == pytest.approx(own["all now"].difference - PRICE * DEPTH / 100, abs=25)


def test_where_a_plain_rule_wins_it_is_said() -> None:
    found = stressed(build())
    won = [rule for world in found.worlds for rule in world.rules if rule.wins]
    said = [line for line in found.text if "BETTER than the plan" in line]
    assert len(said) == len(won)
    assert any("own dates" in note for note in found.notes)


def test_the_same_random_numbers_in_every_world() -> None:
    studied, _, _, _ = settled(situation_of(build(0.5)), progress=lambda _stage, _share: None)
    own, none = (Futures(studied, world, 50) for world in (World.OWN, World.NO_SALE))
    held = own.reduction("gearbox-shop")[SALE_WEEK] > 0
    assert 0.3 < held.mean() < 0.7
    assert np.array_equal(own.price("gearbox-shop")[:, ~held], none.price("gearbox-shop")[:, ~held])
    assert np.allclose(own.price("gearbox-shop")[SALE_WEEK, held], 0.7 * none.price("gearbox-shop")[SALE_WEEK, held])


def test_slow_deliveries_cost_a_rule_that_orders_late_more_than_one_that_orders_now() -> None:
    """Against the same world without slowness, ordering on the last safe date loses more than ordering at once."""
    late = build_of(
        owner=OWNER,
        suppliers=[supplier("shop")],
        parts=[part("gearbox")],
        offers=[offer("gearbox-shop", "gearbox", "1000.00 EUR", "shop", lead_weeks=[5, 6, 7])],
        jobs=[job("strip", 120), job("fit", 60, "strip", to_keep=["gearbox"])],
    )
    found = stressed(late)
    own, slow = (rules(found, world) for world in (World.OWN, World.SLOW))
    assert slow["last safe date"].mean > own["last safe date"].mean + 20
    assert slow["all now"].mean == pytest.approx(own["all now"].mean, abs=25)
    assert slow["all now"].difference < own["all now"].difference


def test_the_mean_of_the_own_outlook_is_the_plans_expected_total() -> None:
    """The plan's expected cost comes from the market's own averages, the futures' from draws."""
    studied, chosen, _, _ = settled(situation_of(build(0.5), runs=1000), progress=lambda _stage, _share: None)
    found = stress(studied, chosen, lambda _stage, _share: None, futures=1000, foreseen_in=1)
    own = found.worlds[0]
    assert own.mean == pytest.approx(chosen.expected_total, rel=0.02)
    assert own.p90 >= own.mean
    assert all(world.regret >= 0 for world in found.worlds)
