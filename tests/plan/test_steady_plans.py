"""A new plan stays near the last one, says what that costs, and says what is changed and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from plan_builds import AS_OF, OWNER, build_of, job, offer, part, plan_of, supplier

from fishplate.build import Build
from fishplate.plan import Plan
from fishplate.plan.steady import LEAST_ROOM, Earlier, Touched

SHIPPING = {"route": "post", "fixed": "10 EUR"}
WEEK = timedelta(weeks=1)


def build(far: float = 100.0, near: float = 104.0) -> Build:
    """A hub that two shops sell at nearly the same price, needed by a job to come."""
    return build_of(
        owner=OWNER,
        routes=[{"id": "post", "name": "Post", "kind": "post", "from_country": "NL"}],
        suppliers=[supplier("far", freight=[SHIPPING]), supplier("near", freight=[SHIPPING])],
        parts=[part("hub")],
        offers=[offer("hub-far", "hub", f"{far:.2f} EUR", "far"), offer("hub-near", "hub", f"{near:.2f} EUR", "near")],
        jobs=[job("strip", 30), job("fit", 6, "strip", to_keep=["hub"])],
    )


def bought(plan: Plan) -> list[str]:
    return [line.offer for line in plan.purchase.lines]


@pytest.fixture(scope="module")
def last() -> Plan:
    plan = plan_of(build())
    assert bought(plan) == ["hub-far"]
    return plan


def again(build: Build, last: Plan, *touched: Touched, **fields: Any) -> Plan:
    return plan_of(build, as_of=AS_OF + WEEK, earlier=Earlier(last, last, touched), **fields)


def test_a_week_later_nothing_is_changed_where_nothing_happened(last: Plan) -> None:
    plan = again(build(), last)
    assert bought(plan) == ["hub-far"]
    assert plan.stability is not None
    assert (plan.stability.stay, plan.stability.changes) == (1, 0)
    assert plan.changes == ()


def test_a_small_saving_elsewhere_is_left_for_a_steady_plan_and_its_price_is_said(last: Plan) -> None:
    plan = again(build(near=96.0), last)
    assert bought(plan) == ["hub-far"], "the other shop is cheaper by less than the room"
    assert plan.stability is not None
    cheapest = plan_of(build(near=96.0), as_of=AS_OF + WEEK)
    assert bought(cheapest) == ["hub-near"]
    assert plan.stability.cost == pytest.approx(plan.expected_total - cheapest.expected_total, abs=0.02)
    assert 3.5 < plan.stability.cost <= LEAST_ROOM
    assert f"staying with them costs {plan.stability.cost:.0f} EUR more" in plan.stability.text


def test_a_large_saving_moves_the_order_and_the_price_is_named_as_the_cause(last: Plan) -> None:
    was, now = build(), build(near=60.0)
    noun = [each.find("offers", "hub-near").model_dump(mode="json") for each in (was, now)]
    plan = again(now, last, Touched("offers", "hub-near", *noun))
    assert bought(plan) == ["hub-near"]
    (change,) = plan.changes
    assert (change.kind, change.part) == ("elsewhere", "Hub")
    assert change.cause == "the price went from 104.00 EUR to 60.00 EUR"
    assert "from Near, not from Far" in change.text
    assert plan.stability is not None
    assert plan.stability.stay == 0


def test_an_order_that_was_placed_is_told_as_that(last: Plan) -> None:
    event = {"id": "o1", "kind": "ordered", "lines": [{"offer": "hub-far", "quantity": 1}]}
    fewer = build_of(**{**_lists(build()), "parts": [part("hub", quantity=1)], "stock": [{"id": "s", "part": "hub"}]})
    plan = again(fewer, last, Touched("events", "o1", None, event))
    assert [(change.kind, change.text) for change in plan.changes] == [("ordered", "Hub was ordered.")]


def test_what_cannot_be_told_is_said_to_be_so(last: Plan) -> None:
    plan = again(build(near=60.0), last)
    assert plan.changes[0].cause == ""
    assert plan.changes[0].text.endswith("; no single cause can be told.")


def test_the_same_earlier_plan_gives_the_same_plan(last: Plan) -> None:
    first, second = again(build(near=96.0), last), again(build(near=96.0), last)
    assert replace(first, revision=0) == replace(second, revision=0)


def _lists(build: Build) -> dict[str, Any]:
    data = build.model_dump(mode="json", exclude_defaults=True)
    return {name: data[name] for name in ("owner", "routes", "suppliers", "offers", "jobs")}
