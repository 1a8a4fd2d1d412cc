"""Money by month: how far exchange rates spread it, and what no date puts into a month."""

from __future__ import annotations

from typing import Any

import pytest
from plan_builds import build_of, job, offer, part, plan_of, situation_of, supplier

from fishplate.plan.cash import cash_by_month
from fishplate.plan.loop import settle
from fishplate.plan.report import landed_by_line
from fishplate.plan.study import study
from fishplate.prices import RateWalk

RESTLESS = RateWalk("EUR", ("GBP",), ((0.02**2,),))


def months_of(walk: RateWalk, **more: Any) -> tuple[list[float], list[float], list[str]]:
    """Even money and the spread from one in ten to nine in ten of every month, and what is said."""
    offers = [offer("pump-uk", "pump", "800 GBP", "isles"), offer("lamp-shop", "lamp", "500 EUR")]
    build = build_of(
        parts=[part("pump"), part("lamp")],
        suppliers=[supplier("shop"), supplier("isles", "GB", "GBP")],
        offers=[{**each, "lead_weeks": [1, 1, 1]} for each in offers],
        jobs=[job("strip", 110), job("fit", 12, "strip", to_keep=["pump"]), job("light", 6, "strip", to_keep=["lamp"])],
        **more,
    )
    studied = study(situation_of(build, rate_walk=walk), lambda _stage, _share: None)
    chosen, _ = settle(studied, studied.put_off, lambda _stage, _share: None)
    lines, said = cash_by_month(studied, chosen, None, landed_by_line(chosen))
    return [line.p50 for line in lines], [line.p90 - line.p10 for line in lines], [item.code for item in said]


def test_a_restless_rate_spreads_the_months_in_which_foreign_money_is_paid() -> None:
    calm_even, calm, _ = months_of(RateWalk())
    even, restless, said = months_of(RESTLESS)
    assert max(restless) > max(calm) + 20
    # on average a walk leaves money where it is
    assert sum(even) == pytest.approx(sum(calm_even), rel=0.05)
    assert said == []


def test_what_nothing_dates_is_said_to_be_left_out() -> None:
    plan = plan_of(build_of(parts=[part("lamp")], suppliers=[supplier("shop")],
                            offers=[offer("lamp-shop", "lamp", "500 EUR")]))  # fmt: skip
    assert plan.cash == ()
    (said,) = [item for item in plan.assumptions if item.code == "cash-undated"]
    assert "1 purchase of 500 EUR" in said.text
