"""A core charge is paid with the part, counts at the border, and comes back with the old part."""

from __future__ import annotations

from typing import Any

import pytest
from plan_builds import build_of, job, offer, part, plan_of, situation_of, supplier

from fishplate.build import Build
from fishplate.landed import offers_at_the_door
from fishplate.plan import Plan

COURIER = {"id": "courier", "name": "Courier", "kind": "courier", "from_country": "US", "weeks": [0.4, 0.5, 0.6]}
BY_COURIER = [{"route": "courier", "fixed": "20 USD"}]


def build(country: str, currency: str, *offers: dict[str, Any], **seller: Any) -> Build:
    return build_of(
        routes=[COURIER],
        suppliers=[supplier("shop", country, currency, **seller)],
        parts=[part("starter", heading="851140")],
        offers=list(offers),
        jobs=[job("fit", 6, to_keep=["starter"])],
    )


def bought(plan: Plan) -> str:
    (line,) = plan.purchase.lines
    return line.offer


def test_money_that_comes_back_does_not_make_an_offer_dear() -> None:
    exchange = offer("exchange", "starter", "100 EUR", core_charge="80 EUR")
    new = offer("new", "starter", "150 EUR")
    plan = plan_of(build("NL", "EUR", exchange, new))
    assert bought(plan) == "exchange"
    assert plan.purchase.consignments[0].total == 180  # what is paid, until the old part is back
    assert plan.purchase.total == pytest.approx(180)
    assert plan.expected_total < 1000
    assert sum(line.p50 for line in plan.cash) == pytest.approx(100, abs=0.1)
    assert any(item.code == "core-charge" and "offer exchange" in item.about for item in plan.assumptions)


def test_at_a_border_duty_and_tax_are_paid_on_the_core_charge_too_and_do_not_come_back() -> None:
    seller = {"freight": BY_COURIER, "origin_tax": "none"}
    with_core = build("US", "USD", offer("exchange", "starter", "200 USD", core_charge="100 USD"), **seller)
    dear = build("US", "USD", offer("plain", "starter", "300 USD"), **seller)
    cheap = build("US", "USD", offer("plain", "starter", "200 USD"), **seller)
    (one,), (other,), (least,) = (plan_of(b).purchase.consignments for b in (with_core, dear, cheap))
    assert one.total == other.total
    situation = situation_of(with_core)
    (row,) = offers_at_the_door(with_core, situation.facts, situation.rules, situation.rates).alone
    (way,) = row.ways
    assert way.cost is not None
    assert float(way.cost.total.amount) == pytest.approx(one.total)
    net = one.total - 100 / 1.10
    assert net > least.total  # by the duty and tax on what comes back


def test_what_is_said_of_a_core_charge_names_days_and_doubt() -> None:
    given = build("NL", "EUR", offer("exchange", "starter", "100 EUR", core_charge="80 EUR", core_days=21))
    situation = situation_of(given)
    said = offers_at_the_door(given, situation.facts, situation.rules, situation.rates).assumptions
    (text,) = [item.text for item in said if item.code == "core-charge"]
    assert "80.00 EUR" in text
    assert "within 21 days" in text
    assert "ask the seller" in text
