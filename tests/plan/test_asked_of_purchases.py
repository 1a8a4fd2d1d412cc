"""What may be asked of the purchases: prices by count, least orders, credit, few sellers, an allowance, own choices."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from plan_builds import AS_OF, build_of, job, offer, part, plan_of, supplier

from fishplate.build import Money
from fishplate.build.commerce import Offer, PriceBreak
from fishplate.plan import Plan
from fishplate.plan.levels import levels_of


def bought(plan: Plan) -> dict[str, int]:
    return {line.offer: line.units for line in plan.purchase.lines}


def of_parts(*offers: dict[str, Any], quantity: int = 1, **lists: Any) -> Plan:
    """The plan of a build whose one job needs every part on offer."""
    parts = sorted({str(each["part"]) for each in offers})
    given = {"parts": [part(id_, quantity=quantity) for id_ in parts], "suppliers": [supplier("shop")], **lists}
    return plan_of(build_of(jobs=[job("fit", 4, to_keep=parts)], offers=list(offers), **given))


def breaks(*pairs: tuple[int, str]) -> list[dict[str, Any]]:
    return [{"units": units, "price": price} for units, price in pairs]


def test_the_price_for_so_many_is_paid_for_so_many() -> None:
    plan = of_parts(offer("tyre-a", "tyre", "100 EUR", breaks=breaks((4, "80 EUR"), (8, "60 EUR"))), quantity=4)
    assert bought(plan) == {"tyre-a": 4}
    assert plan.purchase.total == pytest.approx(320, abs=0.01)


def test_more_than_is_wanted_is_bought_where_that_is_cheaper() -> None:
    plan = of_parts(offer("bolt-a", "bolt", "10 EUR", breaks=breaks((10, "5 EUR"))), quantity=8)
    assert bought(plan) == {"bolt-a": 10}
    assert plan.purchase.total == pytest.approx(50, abs=0.01)


def test_a_level_is_reached_by_single_units_where_a_kit_brings_some() -> None:
    bolt = Offer(
        id="bolt", supplier="shop", part="bolt", price=Money.of(10, "EUR"),
        breaks=(PriceBreak(units=3, price=Money.of(8, "EUR")), PriceBreak(units=9, price=Money.of(4, "EUR"))),
    )  # fmt: skip
    found = [(level.count, level.least, level.most, level.share) for level in levels_of(bolt, 5, in_one=False)]
    assert found == [(1, 1, 2, 1.0), (1, 3, 5, 0.8), (1, 9, 9, 0.4)]


def test_a_least_order_is_kept_to() -> None:
    shops = [supplier("shop", minimum_order="100 EUR"), supplier("other")]
    small = offer("clip-a", "clip", "20 EUR"), offer("clip-b", "clip", "35 EUR", "other")
    assert bought(of_parts(*small, suppliers=shops)) == {"clip-b": 1}
    pump = offer("pump-a", "pump", "110 EUR")
    assert bought(of_parts(*small, pump, suppliers=shops)) == {"clip-a": 1, "pump-a": 1}


def test_what_only_a_least_order_keeps_from_being_bought_is_said() -> None:
    plan = of_parts(offer("clip-a", "clip", "20 EUR"), suppliers=[supplier("shop", minimum_order="100 EUR")])
    assert plan.purchase.unmet == {"clip": 1.0}
    assert plan.purchase.clash is not None
    assert any("least order" in condition for condition in plan.purchase.clash.conditions)


def test_a_choice_is_bought_though_it_is_dearer_and_says_why() -> None:
    offers = offer("pump-a", "pump", "100 EUR"), offer("pump-b", "pump", "140 EUR")
    assert bought(of_parts(*offers)) == {"pump-a": 1}
    chosen = [{"id": "mine", "offer": "pump-b", "why": "its seller answers the telephone"}]
    plan = of_parts(*offers, fixed_choices=chosen)
    assert bought(plan) == {"pump-b": 1}
    assert "its seller answers" in plan.purchase.lines[0].why
    refused = [{"id": "not-that", "offer": "pump-a", "wanted": False}]
    assert bought(of_parts(*offers, fixed_choices=refused)) == {"pump-b": 1}


@pytest.mark.parametrize("wanted", [True, False])
def test_a_chosen_time_is_kept_to(wanted: bool) -> None:
    first, last = AS_OF + timedelta(weeks=5), AS_OF + timedelta(weeks=9, days=6)
    spell = {"id": "then", "part": "pump", "wanted": wanted, "first": first, "last": last}
    (line,) = of_parts(offer("pump-a", "pump", "100 EUR"), fixed_choices=[spell]).purchase.lines
    assert (5 <= line.order_week <= 9) == wanted


def test_choices_that_cannot_be_met_are_named_with_the_cheapest_way_out() -> None:
    offers = (
        offer("pump-a", "pump", "100 EUR", available_until=AS_OF + timedelta(weeks=2)),
        offer("cap", "cap", "9 EUR"),
    )
    late = [{"id": "late", "offer": "pump-a", "first": AS_OF + timedelta(weeks=10)}]
    plan = of_parts(*offers, fixed_choices=late)
    assert set(bought(plan)) == {"cap"}
    assert plan.purchase.clash is not None
    assert any(text.startswith("you want Pump from Shop ordered from") for text in plan.purchase.clash.conditions)
    assert any(way.startswith("give up that you want Pump") for way in plan.purchase.clash.ways_out)


def test_a_credit_is_drawn_before_money_is_said_to_be_missing() -> None:
    costly = offer("engine-a", "engine", "900 EUR")
    poor = {"cash_per_month": 1, "cash_now": 10}
    without = of_parts(costly, owner=poor)
    assert without.purchase.clash is not None
    helped = of_parts(costly, owner={**poor, "credit": 1000, "credit_percent": 8})
    assert bought(helped) == {"engine-a": 1}
    assert helped.purchase.clash is None
    assert any(item.code == "credit-cost" and "8 %" in item.text for item in helped.assumptions)


def test_one_supplier_fewer_is_paid_for_up_to_what_it_is_worth() -> None:
    shops = [supplier("shop"), supplier("other")]
    offers = (
        offer("cap-a", "cap", "20 EUR"),
        offer("cap-b", "cap", "14 EUR", "other"),
        offer("pump-a", "pump", "90 EUR"),
    )
    few = {"hour_worth": 0}
    assert bought(of_parts(*offers, suppliers=shops, owner=few)) == {"cap-b": 1, "pump-a": 1}
    assert bought(of_parts(*offers, suppliers=shops, owner={**few, "supplier_worth": 10})) == {"cap-a": 1, "pump-a": 1}


def test_what_would_spoil_is_not_bought_so_early() -> None:
    glue = part("glue", shelf_weeks=3)
    wait = job("wait", 240)
    build = build_of(
        parts=[glue], suppliers=[supplier("shop")], offers=[offer("glue-a", "glue", "20 EUR")],
        jobs=[wait, job("fit", 4, "wait", to_keep=["glue"])],
    )  # fmt: skip
    (line,) = plan_of(build).purchase.lines
    assert line.order_week > 25
