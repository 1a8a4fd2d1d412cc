"""The cost of waiting and the free date are what their definitions say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from plan_builds import AS_OF, build_of, job, offer, part, plan_of, situation_of, supplier

from fishplate.build import Build
from fishplate.plan import Action, Plan, plan
from fishplate.plan.model import CostOfWaiting
from fishplate.plan.waiting import _free_weeks, _summary


def action_of(plan: Plan, kind: str, key: str = "") -> Action:
    return next(action for action in plan.actions if action.kind == kind and key in action.key)


def loss_at(action: Action, weeks: float) -> float:
    return dict(action.cost_of_waiting.curve)[weeks]


def one_part(price: str = "100 EUR", hours_before: float = 6, **lists: Any) -> Build:
    """A part of a certain lead time for the last job, after so many hours of other work."""
    base: dict[str, Any] = {
        "suppliers": [supplier("shop")],
        "parts": [part("rack")],
        "offers": [offer("rack-offer", "rack", price, lead_weeks=[2, 2, 2])],
        "jobs": [job("strip", hours_before), job("fit", 12, "strip", to_keep=["rack"])],
    }
    return build_of(**{**base, **lists})


def test_delays_of_one_four_and_thirteen_weeks_are_tried() -> None:
    curve = dict(action_of(plan_of(one_part()), "buy").cost_of_waiting.curve)
    assert {1.0, 4.0, 13.0} <= set(curve)


def test_an_order_already_late_costs_what_the_finish_slips_by() -> None:
    """The strip takes a week and the part 2.6: each week later moves the finish by one, at 50 EUR."""
    action = action_of(plan_of(one_part()), "buy")
    assert loss_at(action, 4) == pytest.approx(4 * 50, abs=15)
    assert loss_at(action, 13) - loss_at(action, 4) == pytest.approx(9 * 50, abs=15)
    assert action.cost_of_waiting.per_week == pytest.approx(50, abs=5)
    assert action.free_until == AS_OF


def test_an_order_with_time_in_hand_is_free_to_wait_until_lateness_begins() -> None:
    """Sixty hours at six a week are ten weeks; lead time, slippage and travel take about three and a half."""
    action = action_of(plan_of(one_part(hours_before=60)), "buy")
    assert loss_at(action, 1) <= action.cost_of_waiting.resolution
    free = (action.free_until - AS_OF).days / 7
    assert 2 <= free <= 8
    assert loss_at(action, 13) > 100


def test_a_decision_put_off_delays_the_jobs_it_holds() -> None:
    """Two weeks of thought, then work: put off four weeks the decision is taken four weeks later."""
    decision = {"id": "axle", "name": "Axle", "think_weeks": 2, "options": [{"id": "a", "name": "A"}]}
    build = build_of(jobs=[job("frame", 30, decisions=["axle"])], decisions=[decision])
    action = action_of(plan_of(build), "decide")
    assert loss_at(action, 4) == pytest.approx(200, abs=20)
    assert loss_at(action, 13) == pytest.approx(650, abs=20)


def test_a_measurement_put_off_delays_the_job_its_interface_gates() -> None:
    build = build_of(
        jobs=[job("weld", 30, interfaces=["edge"])],
        interfaces=[{"id": "edge", "name": "Edge"}],
        dimensions=[{"id": "gap", "name": "Gap"}],
        conditions=[{"id": "c", "interface": "edge", "name": "Clears", "expression": "gap", "at_least": "5 mm"}],
    )
    action = action_of(plan_of(build), "measure")
    assert loss_at(action, 4) == pytest.approx(200, abs=20)


def test_a_job_put_off_costs_the_hours_it_would_have_used() -> None:
    build = build_of(jobs=[job("strip", 60), job("fit", 12, "strip")])
    action = action_of(plan_of(build), "do", "strip")
    assert loss_at(action, 4) == pytest.approx(200, abs=20)


def test_a_job_with_slack_is_free_to_wait() -> None:
    build = build_of(jobs=[job("frame", 120), job("trim", 6), job("drive", 6, "frame", "trim")])
    actions = {action.key: action for action in plan_of(build).actions}
    assert actions["trim"].free_until > AS_OF + timedelta(weeks=8)
    assert actions["trim"].cost_of_waiting.per_week <= actions["frame"].cost_of_waiting.per_week


def test_putting_off_what_is_only_offered_now_costs_and_never_saves() -> None:
    """The only offer ends in a week: put off, the part has to be found elsewhere, dearer and later."""
    offers = [offer("rack-offer", "rack", "100 EUR", lead_weeks=[2, 2, 2], available_until=date(2026, 3, 8))]
    result = plan_of(one_part(hours_before=60, offers=offers))
    action = action_of(result, "buy")
    assert loss_at(action, 4) >= 50
    assert action.free_until <= AS_OF + timedelta(weeks=1)
    assert any(item.code == "missed-offer" for item in result.assumptions)


def test_a_trip_put_off_past_its_day_sends_its_goods_another_way_at_that_cost() -> None:
    depot = {"id": "depot", "name": "Depot", "kind": "collection", "from_country": "GB", "weeks": [0.3, 0.3, 0.3]}
    courier = {"id": "courier", "name": "Courier", "kind": "courier", "from_country": "GB", "weeks": [1, 1, 1]}
    freight = [{"route": "depot", "fixed": "5 GBP"}, {"route": "courier", "fixed": "190 GBP"}]
    build = one_part(
        "400 GBP",
        hours_before=90,
        routes=[depot, courier],
        suppliers=[supplier("shop", "GB", "GBP", origin_tax="taken-off", freight=freight)],
        collections=[{"id": "ferry", "route": "depot", "day": date(2026, 4, 20), "ferry": "60 EUR", "hours": 2}],
    )
    action = action_of(plan_of(build), "collect")
    # the courier's 190 GBP (224 EUR) instead of 5 GBP, a 60 EUR ferry and two hours
    assert loss_at(action, 13) > 80
    assert action.free_until >= AS_OF + timedelta(weeks=6)
    assert action.by == date(2026, 4, 20)


def test_the_list_is_in_order_of_the_largest_loss_a_week_within_thirteen_weeks() -> None:
    result = plan_of(one_part(hours_before=30, jobs=[
        job("strip", 30), job("fit", 12, "strip", to_keep=["rack"]), job("trim", 6), job("paint", 60),
    ]))  # fmt: skip
    worst = []
    for action in result.actions:
        cost = action.cost_of_waiting
        losses = [loss / weeks for weeks, loss in cost.curve if weeks <= 13 and loss > cost.resolution]
        worst.append(max(losses, default=0.0))
    assert worst == sorted(worst, reverse=True)


def test_a_loss_that_sampling_can_not_tell_counts_as_none() -> None:
    assert CostOfWaiting(3.0, "EUR", 1.0, 5.0).per_week == 0
    assert CostOfWaiting(30.0, "EUR", 4.0, 5.0).per_week == 7.5


def test_a_real_loss_later_is_not_hidden_by_noise_now() -> None:
    cost = _summary([(1.0, 4.9), (4.0, 6.0), (13.0, 40.0)], 5.0, "EUR")
    assert (cost.weeks, cost.amount) == (13.0, 40.0)


def test_a_gain_by_waiting_is_shown_as_one() -> None:
    cost = _summary([(1.0, 0.0), (4.0, -30.0), (13.0, -20.0)], 5.0, "EUR")
    assert (cost.weeks, cost.amount) == (4.0, -30.0)
    assert cost.per_week < 0


def test_the_free_date_is_found_to_the_week() -> None:
    curve = [(weeks, 0.0 if weeks <= 6 else 9.0) for weeks in (1.0, 2.0, 4.0, 8.0, 13.0, 26.0)]
    assert _free_weeks(curve, 5.0, lambda weeks: 0.0 if weeks <= 6 else 9.0) == 6.0


def test_base_and_delayed_plans_share_their_draws() -> None:
    """With common random numbers the loss has hardly any sampling error, though the finish spreads by weeks."""
    situation = situation_of(one_part(jobs=[
        {**job("strip", 6), "hours": [3, 6, 20]}, {**job("fit", 12, "strip", to_keep=["rack"]), "hours": [6, 12, 40]},
    ]))  # fmt: skip
    losses = [loss_at(action_of(plan(replace(situation, seed=seed)), "buy"), 13) for seed in range(1, 6)]
    # spread of the finish is several weeks of 50 EUR; that of the loss is far under one
    assert float(np.std(losses)) < 25


def test_every_action_says_why_and_by_when() -> None:
    for action in plan_of(one_part(hours_before=60)).actions:
        assert action.by >= AS_OF
        assert action.free_until >= AS_OF
        assert action.reasons
        assert action.cost_of_waiting.currency == "EUR"
