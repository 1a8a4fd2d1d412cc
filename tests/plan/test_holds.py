"""Nothing is ordered before what holds it is known, decided and seen to fit; what is settled is honoured."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import Any

import pytest
from plan_builds import AS_OF, asked, build_of, job, offer, part, plan_of, supplier

from fishplate.build import Build
from fishplate.plan import Plan

SHAFT_FINAL = {"made_to_order": True, "returns": {"days": 0}}
SOON = {"low": 0.2, "likely": 0.2, "high": 0.2}


def line_of(plan: Plan, offer_id: str) -> Any:
    """The planned line of an offer; None if it is not bought."""
    return next((line for line in plan.purchase.lines if line.offer == offer_id), None)


def shaft_build(**lists: Any) -> Build:
    """A shaft made to length for the last job, held by what the lists say."""
    base: dict[str, Any] = {
        "suppliers": [supplier("shop")],
        "parts": [part("shaft"), part("hub")],
        "offers": [offer("shaft-offer", "shaft", "200 EUR", **SHAFT_FINAL), offer("hub-offer", "hub", "90 EUR")],
        "jobs": [job("strip", 12), job("frame", 60, "strip"), job("fit", 12, "frame", to_keep=["shaft", "hub"])],
    }
    return build_of(**{**base, **lists})


def test_an_order_waits_for_a_dimension_that_has_no_reading() -> None:
    build = shaft_build(
        dimensions=[{"id": "span", "name": "Span", "job": "strip"}],
        releases=[{"id": "hold", "part": "shaft", "dimensions": ["span"]}],
    )
    plan = plan_of(build)
    # the strip is 12 h at 6 h a week; the span is measured within a week of it
    assert line_of(plan, "shaft-offer").order_week >= 3
    assert "measurement: Span" in plan.purchase.held["shaft-offer"]


def test_a_reading_that_still_holds_releases_the_order() -> None:
    held = {
        "dimensions": [{"id": "span", "name": "Span", "job": "frame"}],
        "releases": [{"id": "hold", "part": "shaft", "dimensions": ["span"]}],
        "states": [{"id": "old-springs", "name": "On its old springs"}],
    }
    reading = {
        "id": "r", "dimension": "span", "value": 400, "spread": 1, "day": date(2026, 2, 1), "against": "old-springs",
    }  # fmt: skip
    fresh = plan_of(shaft_build(**held, readings=[reading]))
    assert "shaft-offer" not in fresh.purchase.held
    changed = [{"id": "e", "kind": "changed", "day": date(2026, 2, 20), "state": "old-springs"}]
    stale = plan_of(shaft_build(**held, readings=[reading], events=changed))
    assert "measurement: Span" in stale.purchase.held["shaft-offer"]


def test_an_open_decision_holds_what_could_not_go_back_and_not_what_could() -> None:
    decision = {
        "id": "axle",
        "name": "Axle",
        "think_weeks": 5,
        "options": [{"id": "wide", "name": "Wide", "parts": ["shaft", "hub"]}],
        "leading": "wide",
    }
    plan = plan_of(shaft_build(decisions=[decision]))
    assert line_of(plan, "shaft-offer").order_week >= 5
    assert plan.purchase.held == {"shaft-offer": "decision: Axle"}
    taken = plan_of(shaft_build(decisions=[{**decision, "chosen": "wide", "chosen_on": AS_OF}]))
    assert taken.purchase.held == {}


def test_an_open_decision_holds_the_jobs_that_need_it() -> None:
    decision = {"id": "axle", "name": "Axle", "think_weeks": 30, "options": [{"id": "wide", "name": "Wide"}]}
    jobs = [job("strip", 6), job("frame", 6, "strip", decisions=["axle"])]
    plan = plan_of(build_of(jobs=jobs, decisions=[decision]))
    assert plan.finish.p10 is not None
    # thirty weeks of thought, then an hour's week of work
    assert plan.finish.p10 >= AS_OF + timedelta(weeks=30)


def test_an_order_waits_until_the_part_it_is_measured_on_is_in_hand() -> None:
    """The hub is needed late and would be bought late; the shaft is measured on it and takes long to make."""
    lists: dict[str, Any] = {
        "suppliers": [supplier("shop"), supplier("maker")],
        "offers": [
            offer("shaft-offer", "shaft", "200 EUR", "maker", **SHAFT_FINAL, lead_weeks=[4, 5, 6]),
            offer("hub-offer", "hub", "90 EUR", lead_weeks=[1, 2, 3]),
        ],
        "jobs": [job("strip", 12), job("frame", 120, "strip"), job("fit", 12, "frame", to_keep=["shaft", "hub"])],
        "dimensions": [{"id": "spline", "name": "Spline depth", "part": "hub"}],
        "releases": [{"id": "hold", "part": "shaft", "dimensions": ["spline"]}],
        "enquiries": [asked("shop", "hub-offer")],
    }
    plan = plan_of(shaft_build(**lists))
    hub, shaft = line_of(plan, "hub-offer"), line_of(plan, "shaft-offer")
    assert shaft.order_by >= hub.arrives_p50
    # and the hub is bought in time for that
    alone = plan_of(shaft_build(**{**lists, "releases": []}))
    assert hub.order_week < line_of(alone, "hub-offer").order_week


def test_orders_that_wait_for_each_other_are_not_made_and_that_is_said() -> None:
    build = shaft_build(
        dimensions=[{"id": "spline", "name": "Spline", "part": "hub"}, {"id": "end", "name": "End", "part": "shaft"}],
        releases=[
            {"id": "a", "part": "shaft", "dimensions": ["spline"]},
            {"id": "b", "part": "hub", "dimensions": ["end"]},
        ],
        enquiries=[asked("shop", "shaft-offer", "hub-offer")],
    )
    plan = plan_of(build)
    assert plan.purchase.lines == ()
    assert set(plan.purchase.unmet) == {"shaft", "hub"}
    assert any("Shaft" in note and "not ordered" in note and "Spline" in note for note in plan.notes)


def test_what_can_never_be_measured_is_never_ordered_and_that_is_said() -> None:
    build = shaft_build(
        parts=[part("shaft"), part("hub"), part("rare")],
        dimensions=[{"id": "bore", "name": "Bore", "part": "rare"}],
        releases=[{"id": "hold", "part": "shaft", "dimensions": ["bore"]}],
    )
    plan = plan_of(build)
    assert line_of(plan, "shaft-offer") is None
    assert "shaft" in plan.purchase.unmet
    assert any("Shaft" in note and "not ordered" in note and "Bore" in note for note in plan.notes)


def test_a_dimension_that_holds_an_order_is_something_to_measure_though_no_condition_uses_it() -> None:
    build = shaft_build(
        dimensions=[{"id": "span", "name": "Span at droop", "minutes": 25}],
        releases=[{"id": "hold", "part": "shaft", "dimensions": ["span"]}],
    )
    plan = plan_of(build)
    action = next(action for action in plan.actions if action.kind == "measure")
    assert action.what == "Measure: Span at droop (25 min)"
    assert any("It holds the order of “Shaft" in reason for reason in action.reasons)


def test_a_dimension_of_the_part_itself_is_told_by_its_drawing_before_the_order() -> None:
    build = shaft_build(
        dimensions=[{"id": "own", "name": "Barrel", "part": "shaft"}],
        releases=[{"id": "hold", "part": "shaft", "dimensions": ["own"]}],
    )
    plan = plan_of(build)
    assert plan.purchase.held["shaft-offer"] == "measurement: Barrel"
    assert line_of(plan, "shaft-offer").order_week >= 1


# what is owned, ordered and paid


def events_of(*, arrived: bool = False) -> list[dict[str, Any]]:
    order = {
        "id": "o1",
        "kind": "ordered",
        "day": date(2026, 2, 16),
        "supplier": "shop",
        "lines": [{"offer": "shaft-offer", "quantity": 1, "price": "200 EUR"}],
        "freight": "0 EUR",
        "promised": date(2026, 3, 30),
    }
    lines = [{"part": "shaft", "quantity": 1}]
    receipt = {"id": "a1", "kind": "arrived", "day": date(2026, 2, 28), "order": "o1", "lines": lines}
    return [order, receipt] if arrived else [order]


@pytest.mark.parametrize("arrived", [False, True])
def test_what_is_on_its_way_or_in_hand_is_not_bought_again(*, arrived: bool) -> None:
    plan = plan_of(shaft_build(events=events_of(arrived=arrived)))
    assert [line.offer for line in plan.purchase.lines] == ["hub-offer"]


def test_what_is_owned_in_part_is_bought_in_part() -> None:
    build = shaft_build(
        parts=[part("shaft"), part("hub", quantity=4)], stock=[{"id": "s", "part": "hub", "quantity": 3}]
    )
    assert line_of(plan_of(build), "hub-offer").units == 1


def test_what_is_still_to_be_paid_on_an_order_is_in_the_money() -> None:
    plan = plan_of(shaft_build(events=events_of()))
    march = next(line for line in plan.cash if line.month == "2026-03")
    assert march.p50 >= 200
    payment = {"id": "p", "kind": "paid", "day": date(2026, 2, 17), "order": "o1", "amount": "200 EUR", "what": "goods"}
    paid = [*events_of(), payment]
    after = plan_of(shaft_build(events=paid))
    before_march = next((line.p50 for line in after.cash if line.month == "2026-03"), 0.0)
    assert march.p50 - before_march == pytest.approx(200, abs=1)


def test_what_the_chosen_option_does_not_call_for_is_not_bought() -> None:
    decision = {
        "id": "axle",
        "name": "Axle",
        "options": [{"id": "a", "name": "A", "parts": ["shaft"]}, {"id": "b", "name": "B", "parts": ["hub"]}],
        "chosen": "b",
    }
    assert [line.offer for line in plan_of(shaft_build(decisions=[decision])).purchase.lines] == ["hub-offer"]


# shelf life and the right to return


def test_what_does_not_keep_is_bought_when_it_can_be_used() -> None:
    """Ten weeks of work come first; the sealer keeps for four, and a sale now would not pay for a second one."""
    lists: dict[str, Any] = {
        "suppliers": [supplier("shop")],
        "parts": [part("sealer", shelf_weeks=4)],
        "offers": [offer("sealer-offer", "sealer", "100 EUR")],
        "jobs": [job("strip", 120), job("seal", 6, "strip", to_keep=["sealer"])],
        "price_changes": [{"id": "rise", "day": date(2026, 3, 20), "percent": 12, "offer": "sealer-offer"}],
    }
    keeps = plan_of(build_of(**{**lists, "parts": [part("sealer")]}))
    assert line_of(keeps, "sealer-offer").order_week <= 2
    spoils = plan_of(build_of(**lists))
    assert line_of(spoils, "sealer-offer").order_week >= 11


def test_a_right_of_return_that_lapses_before_the_part_is_tried_is_not_counted_on() -> None:
    """Two offers at nearly one price: one that can go back for a week, one for a year. A misfit shows in months."""
    lists: dict[str, Any] = {
        "suppliers": [supplier("shop")],
        "parts": [part("rack")],
        "offers": [
            offer("short", "rack", "300 EUR", returns={"days": 7}, available_until=date(2026, 3, 8)),
            offer("long", "rack", "304 EUR", returns={"days": 365}, available_until=date(2026, 3, 8)),
        ],
        "jobs": [job("strip", 150), job("steer", 6, "strip", to_keep=["rack"])],
        "interfaces": [{"id": "rack-sump", "name": "Rack and sump", "parts": ["rack"]}],
        "dimensions": [{"id": "gap", "name": "Gap"}],
        "readings": [{"id": "r", "dimension": "gap", "value": 10, "spread": 10, "day": AS_OF}],
        "conditions": [
            {"id": "c", "interface": "rack-sump", "name": "Clears", "expression": "gap", "at_least": "5 mm"}
        ],
    }
    assert [line.offer for line in plan_of(build_of(**lists)).purchase.lines] == ["long"]
    sure = {**lists, "readings": [{"id": "r", "dimension": "gap", "value": 50, "spread": 1, "day": AS_OF}]}
    assert [line.offer for line in plan_of(build_of(**sure)).purchase.lines] == ["short"]


def test_no_order_is_dated_before_today_or_on_a_day_that_never_comes() -> None:
    plan = plan_of(shaft_build())
    for line in plan.purchase.lines:
        assert line.order_by is not None
        assert line.order_by >= AS_OF
        assert math.isfinite(line.landed)


@pytest.mark.parametrize(("returns", "before"), [(0, True), (30, False)])
def test_what_decides_the_fit_of_what_cannot_go_back_is_measured_before_its_order(returns: int, before: bool) -> None:
    length = {"id": "l", "dimension": "long", "value": 399, "spread": 1, "day": date(2026, 2, 1)}
    build = shaft_build(
        offers=[
            offer("shaft-offer", "shaft", "200 EUR", returns={"days": returns}),
            offer("hub-offer", "hub", "90 EUR"),
        ],
        dimensions=[{"id": "span", "name": "Span"}, {"id": "long", "name": "Length", "part": "shaft"}],
        interfaces=[{"id": "in-frame", "name": "Shaft in the frame", "parts": ["shaft"], "settle_by": "fit"}],
        conditions=[{"id": "gap", "interface": "in-frame", "name": "Gap", "expression": "span - long",
                     "at_least": "1 mm", "early_hours": 1, "late_hours": [4, 8, 16]}],
        readings=[length],
    )  # fmt: skip
    plan = plan_of(build)
    (action,) = [action for action in plan.actions if action.key == "span"]
    ordered = line_of(plan, "shaft-offer").order_by
    assert (action.by <= ordered) == before
    assert (action.free_until <= ordered) == before
    assert any("can't go back and is ordered" in reason for reason in action.reasons) == before
