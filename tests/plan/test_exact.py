"""The fast cost of waiting against a full re-plan of every leading action."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from plan_builds import build_of, job, offer, part, situation_of, supplier
from test_repeatable import workshop_build

from fishplate.build import Build
from fishplate.plan import Plan, Situation, check_exactly, plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.wiring import situation

TOP_EXACT, TOP_FAST = 5, 10
TELLING = 1.0
"""Less than this a week, home currency, no rank is told apart."""


def missing_from_the_top(result: Plan) -> list[str]:
    """Actions among the exact top five, telling ones, that are not among the fast top ten."""
    return [
        f"{check.kind} {check.key}: exact {check.exact} rank {check.exact_rank}, fast rank {check.fast_rank}"
        for check in result.exact
        if check.exact_rank <= TOP_EXACT and check.exact / check.weeks > TELLING and check.fast_rank > TOP_FAST
    ]


def checked(start: Situation) -> Plan:
    return check_exactly(start, plan(start))


def shop_build() -> Build:
    """Five orders from three suppliers, two of them pressing."""
    names = ["rack", "hub", "seal", "hose", "loom"]
    return build_of(
        suppliers=[supplier("shop"), supplier("maker", craft=True), supplier("yard")],
        parts=[part(name) for name in names],
        offers=[
            offer("rack-offer", "rack", "400 EUR", "maker", lead_weeks=[4, 6, 9]),
            offer("hub-offer", "hub", "120 EUR", lead_weeks=[1, 2, 3]),
            offer("seal-offer", "seal", "15 EUR", "yard"),
            offer("hose-offer", "hose", "60 EUR", "yard", lead_weeks=[1, 1, 2]),
            offer("loom-offer", "loom", "300 EUR"),
        ],
        jobs=[
            job("strip", 12), job("front", 24, "strip", to_keep=["rack", "hub"]),
            job("seals", 12, "front", to_keep=["seal", "hose"]), job("wiring", 60, "seals", to_keep=["loom"]),
        ],
        price_changes=[{"id": "rise", "day": "2026-04-20", "percent": 9, "offer": "loom-offer"}],
    )  # fmt: skip


@pytest.mark.parametrize("build", [shop_build(), workshop_build()], ids=["shop", "workshop"])
def test_no_pressing_action_by_a_full_re_plan_is_missing_from_the_fast_list(build: Build) -> None:
    result = checked(situation_of(build))
    assert result.exact
    assert missing_from_the_top(result) == []


def test_fast_and_exact_agree_on_what_an_order_costs_to_put_off() -> None:
    result = checked(situation_of(shop_build()))
    pressing = [check for check in result.exact if check.exact / check.weeks > TELLING]
    assert pressing
    for check in pressing:
        assert check.fast == pytest.approx(check.exact, rel=0.25, abs=15)


def test_what_can_not_be_bought_any_more_costs_in_both() -> None:
    build = build_of(
        suppliers=[supplier("shop")],
        parts=[part("rack")],
        offers=[offer("rack-offer", "rack", "200 EUR", lead_weeks=[2, 2, 2], available_until=date(2026, 3, 8))],
        jobs=[job("strip", 60), job("fit", 12, "strip", to_keep=["rack"])],
    )
    (check,) = [check for check in checked(situation_of(build)).exact if check.kind == "buy"]
    assert check.exact > 50
    assert check.fast > 50


def test_an_exact_check_leaves_the_plan_as_it_was() -> None:
    start = situation_of(shop_build())
    before = plan(start)
    after = check_exactly(start, before)
    assert replace(after, exact=()) == before
    assert {check.key for check in after.exact} <= {action.key for action in before.actions}


@pytest.mark.long
def test_in_the_demo_no_action_of_the_exact_top_five_is_missing_from_the_fast_top_ten() -> None:
    result = checked(situation(load_demo(), demo_as_of()))
    assert missing_from_the_top(result) == []
