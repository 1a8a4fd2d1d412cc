"""The plan over many futures, where the right answer is known by hand."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from plan_builds import AS_OF, OWNER, build_of, job, offer, part, situation_of, supplier

from fishplate.build import Build
from fishplate.build.parts import Stock
from fishplate.plan.futures import Futures, World
from fishplate.plan.main_job import settled
from fishplate.plan.plain_rules import plain_rules
from fishplate.plan.stress import RuleResult, Stress, _rule_words, stress

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


def stressed(build: Build, foreseen_in: int = 3) -> Stress:
    studied, chosen, _, _ = settled(situation_of(build), progress=lambda _stage, _share: None)
    return stress(studied, chosen, lambda _stage, _share: None, futures=100, foreseen_in=foreseen_in)


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
    monkeypatch.setattr("fishplate.plan.tried.Trier.risk", lambda *_: np.zeros(1))
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


def test_where_nothing_is_left_to_be_known_hindsight_saves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sale that is certain, as deep as expected, at a price that stands still: the plan is the best there is."""
    still(monkeypatch)
    own = stressed(build()).worlds[0]
    assert own.regret_known
    assert own.regret == pytest.approx(0.0, abs=1.0)


def test_hindsight_saves_no_more_than_the_sale_that_was_missed() -> None:
    """One part and one sale of 30 %: to know it beforehand is worth at most its depth and what early keeping costs."""
    missed = build(0.3)
    found = stressed(missed.model_copy(update={"sale_windows": ()}))
    assert all(world.regret <= world.regret_most <= 0.05 * PRICE for world in found.worlds)
    found = stressed(missed)
    assert all(0 <= world.regret <= world.regret_most <= PRICE * DEPTH / 100 + 0.05 * PRICE for world in found.worlds)


def test_where_nothing_is_left_to_be_bought_it_is_said_in_figures_all_the_same() -> None:
    owned = build().model_copy(update={"stock": (Stock(id="there", part="gearbox"),)})
    found = stressed(owned)
    assert all(world.regret == world.regret_most == 0 for world in found.worlds)
    assert all(rule.difference == 0 for world in found.worlds for rule in world.rules)


def test_hindsight_spends_no_more_than_there_is() -> None:
    """Buying all at once would be cheapest and can't be paid: it is told as a rule, and is not what hindsight knows."""
    poor = dated(None, None)
    poor = poor.model_copy(update={"owner": poor.owner.model_copy(update={"cash_now": 0, "cash_per_month": 60})})
    found = stressed(poor, foreseen_in=1)
    now = rules(found, World.OWN)["all now"]
    assert now.over > 0
    assert now.difference < -100
    assert found.worlds[0].regret < 50


def dated(first: str | None, second: str | None) -> Build:
    """Two parts, needed at once after a long strip, with days of the owner's own to order them on."""
    days = ({} if day is None else {"order_on": day} for day in (first, second))
    return build_of(
        owner={**OWNER, "cash_now": 500, "cash_per_month": 400},
        suppliers=[supplier("shop")],
        parts=[part("gearbox", **next(days)), part("clutch", **next(days))],
        offers=[
            offer("gearbox-shop", "gearbox", "1000.00 EUR", "shop"),
            offer("clutch-shop", "clutch", "300.00 EUR", "shop"),
        ],
        jobs=[job("strip", 180), job("fit", 6, "strip", to_keep=["gearbox", "clutch"])],
    )


def bought_by_rule(build: Build) -> dict[str, tuple[dict[str, int], float]]:
    """Rule -> (offer -> week, money beyond what there is)."""
    studied, chosen, _, _ = settled(situation_of(build), progress=lambda _stage, _share: None)
    entries = chosen.market.entries
    return {
        rule.name: ({entries[line].offer.id: entries[line].week for line in rule.bought.lines}, rule.over)
        for rule in plain_rules(studied, chosen)
    }


def test_the_owners_own_dates_are_a_plain_rule() -> None:
    found = bought_by_rule(dated("2026-04-20", "2026-05-05"))
    assert found["own dates"][0] == {"gearbox-shop": 7, "clutch-shop": 9}


def test_a_part_without_a_day_of_its_own_is_bought_as_planned() -> None:
    undated = dated("2026-04-20", None)
    studied, chosen, _, _ = settled(situation_of(undated), progress=lambda _stage, _share: None)
    planned = {line.offer: line.week for line in chosen.purchase.lines}
    assert bought_by_rule(undated)["own dates"][0] == {"gearbox-shop": 7, "clutch-shop": planned["clutch-shop"]}
    found = stress(studied, chosen, lambda _stage, _share: None, futures=20, foreseen_in=1)
    assert any("1 of 2 parts" in note for note in found.notes)


def test_a_day_gone_by_means_now_and_no_days_mean_no_rule() -> None:
    assert bought_by_rule(dated("2025-01-01", None))["own dates"][0]["gearbox-shop"] == 0
    assert "own dates" not in bought_by_rule(dated(None, None))


def test_a_rule_that_spends_what_is_not_there_yet_says_how_much() -> None:
    """1300 at once, of 500 and the 400 of the first month."""
    weeks, over = bought_by_rule(dated(None, None))["all now"]
    assert set(weeks.values()) == {0}
    assert over == pytest.approx(1300 - 900, abs=20)
    rule = RuleResult("all now", 120.0, 140.0, -20.0, -25.0, -15.0, over)
    assert f"takes up to {over:,.0f} EUR more than you have" in _rule_words(rule, "EUR")


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
