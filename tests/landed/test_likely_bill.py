"""The likely bill is kept with an order when it is placed, and the bill that came is compared with it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from fishplate.build import Build, Money, Refused, facts_of, format_document, parse_document
from fishplate.build.commerce import Collection, Offer, Route, RuleOverride, Supplier
from fishplate.build.events import Order, OrderLine, Payment
from fishplate.build.owner import Owner
from fishplate.build.parts import Part
from fishplate.landed import cost_when_ordered, load_rules
from fishplate.wiring import bill_report, load_rates, with_likely_bills

DAY = date(2026, 11, 24)
COURIER = Route(
    id="courier", name="Courier", kind="courier", from_country="GB", fees_as_of=DAY, entry_fee=Money.of(5, "EUR")
)
DEPOT = Route(id="depot", name="Depot", kind="collection", from_country="GB")
TRIP = Collection(id="trip", route="depot", day=date(2026, 12, 11), ferry=Money.of(100, "EUR"), absence_hours=30)
BEFORE = Build(
    owner=Owner(country="NL", currency="EUR", card_markup_percent=0),
    parts=(Part(id="hub", name="Hub", heading="870850"), Part(id="arm", name="Arm", heading="870880")),
    suppliers=(Supplier(id="mill", name="Mill", country="GB", currency="EUR", origin_tax="none"),),
    routes=(COURIER, DEPOT),
    collections=(TRIP,),
    offers=(
        Offer(id="hub-o", supplier="mill", part="hub", price=Money.of(400, "EUR")),
        Offer(id="arm-o", supplier="mill", part="arm", price=Money.of(300, "EUR")),
    ),
)


def order(id_: str, offer: str, price: int, *, route: str | None = None, collection: str | None = None) -> Order:
    lines = (OrderLine(offer=offer, price=Money.of(price, "EUR")),)
    return Order(id=id_, day=DAY, supplier="mill", route=route, collection=collection, lines=lines)


def with_events(*events: Order | Payment, build: Build = BEFORE) -> Build:
    return build.model_copy(update={"events": (*build.events, *events)})


ORDERED = with_likely_bills(BEFORE, with_events(order("o", "hub-o", 400, route="courier")))


def test_order_keeps_what_is_likely_to_be_asked_with_the_rule_of_each_line() -> None:
    (placed,) = ORDERED.events
    assert isinstance(placed, Order)
    kept = {each.label: each for each in placed.likely_bill or ()}
    assert kept["customs entry"].amount == Money.of("5.00", "EUR")
    assert kept["import tax"].rule
    assert sum(each.amount.amount for each in kept.values()) > Decimal(80)
    assert parse_document(format_document(ORDERED).encode()) == ORDERED


def test_what_is_kept_stands_though_rates_change_and_a_wrong_line_stands_out() -> None:
    (placed,) = ORDERED.events
    assert isinstance(placed, Order)
    tax = next(each.amount for each in placed.likely_bill or () if each.label == "import tax")
    owned = RuleOverride(rule="nl.vat", value=5, source="test", day=DAY)
    later = with_events(
        Payment(id="p-tax", day=DAY, order="o", amount=tax, what="tax"),
        Payment(id="p-fee", day=DAY, order="o", amount=Money.of(31, "EUR"), what="fees", note="customs entry"),
        build=ORDERED.model_copy(update={"rule_overrides": (owned,)}),
    )
    report, kept = bill_report(later, "o", DAY)
    assert kept
    assert [line.label for line in report.lines if line.odd] == ["customs entry"]


def test_order_without_one_is_reckoned_anew_and_an_unknown_order_is_refused() -> None:
    bare = with_events(order("o", "hub-o", 400, route="courier"))
    report, kept = bill_report(bare, "o", DAY)
    assert not kept
    assert report.expected.amount > 80
    with pytest.raises(Refused, match="no such order"):
        bill_report(bare, "gone", DAY)


def test_nothing_is_kept_where_there_are_no_rules_and_orders_of_before_are_left_alone() -> None:
    nowhere = BEFORE.model_copy(update={"owner": Owner(country="AQ", currency="EUR")})
    placed = with_events(order("o", "hub-o", 400, route="courier"), build=nowhere)
    assert with_likely_bills(nowhere, placed) is placed
    again = with_events(order("o", "hub-o", 400, route="courier"))
    assert with_likely_bills(again, again) is again


def test_two_orders_on_one_trip_do_not_each_use_the_whole_allowance() -> None:
    first = with_events(order("a", "hub-o", 400, collection="trip"))
    both = with_events(order("b", "arm-o", 300, collection="trip"), build=first)
    rules, (rates, _) = load_rules("NL"), load_rates(DAY, BEFORE)
    alone = cost_when_ordered(first, facts_of(first, DAY), "a", rules, rates)
    second = cost_when_ordered(both, facts_of(both, DAY), "b", rules, rates)
    assert alone.free_value == Money.of(400, "EUR")  # one thing within 430 EUR
    assert second.free_value.amount == 0
    assert second.sum_of("tax").amount > 0
