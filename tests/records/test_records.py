"""Orders, returns and money, from events alone."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from fishplate.build import Build, Money, facts_of
from fishplate.build.commerce import Offer, ReturnTerms, Sighting, Supplier
from fishplate.build.events import (
    Cancellation,
    Check,
    Event,
    Fitting,
    Order,
    OrderLine,
    PartCount,
    Payment,
    Receipt,
    Return,
)
from fishplate.build.jobs import Allowance
from fishplate.build.parts import Kit, KitContent, Part, System
from fishplate.records import against_list, ledger, order_states, return_rights
from fishplate.starters import demo_as_of, load_demo

DAY = date(2026, 3, 2)
NOW = DAY + timedelta(days=40)


def eur(amount: str) -> Money:
    return Money.of(amount, "EUR")


def gbp(amount: str) -> Money:
    return Money.of(amount, "GBP")


def home(money: Money, day: date) -> Money | None:
    """A pound is 1.20 euro on every day; nothing is known of other currencies."""
    if money.currency == "EUR":
        return money
    return Money(amount=money.amount * Decimal("1.2"), currency="EUR") if money.currency == "GBP" else None


def build_of(*events: Event, **fields: Any) -> Build:
    given: dict[str, Any] = {
        "systems": (System(id="brakes", name="Brakes"), System(id="body", name="Body")),
        "parts": (
            Part(id="hose", name="Hose", quantity=2, system="brakes"),
            Part(id="disc", name="Disc", quantity=2, system="brakes"),
            Part(id="sill", name="Sill", system="body"),
        ),
        "kits": (Kit(id="kit", name="Kit", contents=(KitContent(part="hose"), KitContent(part="sill"))),),
        "suppliers": (Supplier(id="shop", name="Shop", country="NL", currency="EUR"),),
        "offers": (
            Offer(id="hose-offer", supplier="shop", part="hose", price=eur("30"), pack=2,
                  returns=ReturnTerms(days=60, ended_by=("offered-up",), restocking_percent=10)),
            Offer(id="disc-offer", supplier="shop", part="disc", price=eur("50"), seen=DAY - timedelta(days=3)),
            Offer(id="sill-offer", supplier="shop", part="sill", price=eur("80"), made_to_order=True),
            Offer(id="kit-offer", supplier="shop", kit="kit", price=eur("100"),
                  returns=ReturnTerms(days=60)),
        ),
    }  # fmt: skip
    return Build(events=events, **{**given, **fields})


def order(*lines: OrderLine, id_: str = "o", **fields: Any) -> Order:
    return Order(id=id_, day=DAY, supplier="shop", lines=lines, **fields)


HOSES = OrderLine(offer="hose-offer", quantity=1, price=eur("30"))
DISCS = OrderLine(offer="disc-offer", quantity=2, price=eur("50"))


def receipt(part: str, quantity: float, *, id_: str = "r", days: int = 5, order_id: str | None = "o") -> Receipt:
    counted = (PartCount(part=part, quantity=quantity),)
    return Receipt(id=id_, day=DAY + timedelta(days=days), order=order_id, lines=counted)


# orders


def test_an_order_is_open_until_the_last_of_it_has_come() -> None:
    (state,) = order_states(build_of(order(HOSES, DISCS), receipt("hose", 2)), NOW)
    assert state.is_open
    assert [(line.part, line.waiting) for line in state.waiting] == [("disc", 2)]
    both = build_of(order(HOSES, DISCS), receipt("hose", 2), receipt("disc", 2, id_="r2"))
    assert not order_states(both, NOW)[0].is_open


def test_what_is_waited_for_is_what_the_facts_call_incoming() -> None:
    build, as_of = load_demo(), demo_as_of()
    waiting = {(state.order.id, line.part): line.waiting for state in order_states(build, as_of)
               for line in state.waiting}  # fmt: skip
    incoming = {(item.order, item.part): item.quantity for item in facts_of(build, as_of).incoming}
    assert waiting == incoming
    assert waiting


def test_nothing_of_a_cancelled_order_is_waited_for() -> None:
    gone = Cancellation(id="c", day=DAY + timedelta(days=9), order="o")
    (state,) = order_states(build_of(order(DISCS), receipt("disc", 1), gone), NOW)
    assert state.waiting == ()
    assert state.share_due(0) == Decimal("0.5")  # one of two discs came


# returns


def test_a_part_can_go_back_by_its_terms_counted_from_the_day_it_came() -> None:
    (right,) = return_rights(build_of(order(HOSES), receipt("hose", 2)), NOW)
    assert right.until == DAY + timedelta(days=5 + 60)
    assert not right.assumed
    # one unit of the offer holds two hoses at 30: 15 each, less 10 %
    assert right.refund(1) == eur("13.50")
    assert right.refund(2) == eur("27.00")


def test_without_terms_fourteen_days_are_taken_and_said_and_are_over_on_the_fifteenth() -> None:
    build = build_of(order(DISCS), receipt("disc", 2))
    (right,) = return_rights(build, DAY + timedelta(days=19))
    assert right.assumed
    assert return_rights(build, DAY + timedelta(days=20)) == ()


def test_what_is_made_to_order_and_states_no_terms_cannot_go_back() -> None:
    sill = OrderLine(offer="sill-offer", price=eur("80"))
    assert return_rights(build_of(order(sill), receipt("sill", 1)), DAY + timedelta(days=6)) == ()


def test_what_was_fitted_or_sent_back_is_taken_from_what_came_first() -> None:
    events = (
        order(OrderLine(offer="hose-offer", quantity=2, price=eur("30"))),
        receipt("hose", 2),
        receipt("hose", 2, id_="r2", days=20),
        Fitting(id="f", day=DAY + timedelta(days=25), part="hose", quantity=1),
        Return(id="b", day=DAY + timedelta(days=26), order="o", part="hose", quantity=2, refund=eur("27")),
    )
    (right,) = return_rights(build_of(*events), NOW)
    assert (right.came, right.quantity) == (DAY + timedelta(days=20), 1)


def test_offering_it_up_ends_the_right_where_the_terms_say_so() -> None:
    check = Check(id="c", day=DAY + timedelta(days=7), part="hose", how="offered-up")
    assert return_rights(build_of(order(HOSES), receipt("hose", 2), check), NOW) == ()


def test_a_kit_has_no_refund_by_part() -> None:
    kit = OrderLine(offer="kit-offer", price=eur("100"))
    (right,) = return_rights(build_of(order(kit), receipt("hose", 1)), NOW)
    assert right.refund(1) is None


# money


def test_paid_is_payments_less_refunds_with_what_sending_back_cost() -> None:
    events = (
        order(HOSES, freight=eur("5")),
        Payment(id="p", day=DAY, order="o", amount=eur("35")),
        receipt("hose", 2),
        Return(id="b", day=DAY + timedelta(days=9), order="o", part="hose", quantity=1, refund=eur("13.50"),
               cost=eur("4")),
    )  # fmt: skip
    books = ledger(build_of(*events), NOW, home)
    assert books.paid == eur("25.50")  # 35 - 13.50 + 4
    assert books.owed == eur("0")
    (account,) = books.accounts
    assert account.owed.rounded() == eur("0.00")
    assert account.charges == eur("4")


def test_owed_is_lines_and_freight_less_payments_on_them_and_charges_do_not_count() -> None:
    events = (
        order(HOSES, DISCS, freight=eur("7")),
        Payment(id="p", day=DAY, order="o", amount=eur("40"), what="deposit"),
        Payment(id="t", day=DAY, order="o", amount=eur("9"), what="tax"),
    )
    books = ledger(build_of(*events), NOW, home)
    assert books.owed == eur("97")  # 30 + 100 + 7 - 40
    assert books.paid == eur("49")


def test_what_was_paid_beyond_an_order_is_owed_back_and_is_not_taken_from_others() -> None:
    events = (
        order(HOSES),
        Payment(id="p", day=DAY, order="o", amount=eur("50")),
        order(DISCS, id_="o2"),
    )
    books = ledger(build_of(*events), NOW, home)
    assert [account.owed for account in books.accounts] == [eur("-20"), eur("100")]
    assert books.owed == eur("100")


def test_a_cancelled_order_is_owed_only_for_what_came() -> None:
    gone = Cancellation(id="c", day=DAY + timedelta(days=9), order="o", refund=eur("50"))
    paid = Payment(id="p", day=DAY, order="o", amount=eur("100"))
    books = ledger(build_of(order(DISCS), paid, receipt("disc", 1), gone), NOW, home)
    assert books.accounts[0].owed.rounded() == eur("0.00")  # one disc at 50, 100 paid, 50 back
    assert books.paid == eur("50")


def test_the_banks_figure_goes_before_the_days_rate_and_no_rate_is_said() -> None:
    events = (
        Payment(id="p1", day=DAY, amount=gbp("10")),
        Payment(id="p2", day=DAY, amount=gbp("10"), home_amount=eur("12.34")),
        Payment(id="p3", day=DAY, amount=Money.of(10, "USD")),
    )
    books = ledger(build_of(*events), NOW, home)
    assert books.paid == eur("24.34")  # 12.00 + 12.34
    assert [line.event for line in books.without_rate] == ["p3"]
    assert {line.event: line.booked for line in books.lines} == {"p1": False, "p2": True, "p3": False}


def test_an_order_in_another_currency_is_owed_in_it_and_summed_at_home() -> None:
    pounds = order(OrderLine(offer="hose-offer", quantity=1, price=gbp("30")), freight=gbp("5"))
    books = ledger(build_of(pounds, Payment(id="p", day=DAY, order="o", amount=gbp("10"))), NOW, home)
    assert books.accounts[0].owed == gbp("25")
    assert books.owed == eur("30")


def test_a_payment_goes_to_the_systems_of_the_orders_lines_by_their_value() -> None:
    sill = OrderLine(offer="sill-offer", price=eur("70"))
    kit = OrderLine(offer="kit-offer", price=eur("100"))
    events = (order(HOSES, sill, kit), Payment(id="p", day=DAY, order="o", amount=eur("200")))
    books = ledger(build_of(*events), NOW, home)
    # 30 to brakes, 70 to body; the kit's parts belong to both, so its 100 count under no system
    assert {item.system: item.paid for item in books.systems} == {
        "brakes": eur("30"), "body": eur("70"), None: eur("100"),
    }  # fmt: skip


def test_systems_add_up_to_what_was_paid_and_owed() -> None:
    build = load_demo()
    books = ledger(build, demo_as_of(), home_of_the_demo)
    assert sum((item.paid for item in books.systems), eur("0")).rounded() == books.paid.rounded()
    assert sum((item.owed for item in books.systems), eur("0")).rounded() == books.owed.rounded()


def home_of_the_demo(money: Money, day: date) -> Money | None:
    return home(money, day) or Money(amount=money.amount * Decimal("0.9"), currency="EUR")


def test_what_an_allowance_paid_for_is_drawn_from_it() -> None:
    allowance = Allowance(id="small", kind="small-things", money_percent=9, system="body")
    paid = Payment(id="p", day=DAY, allowance="small", amount=eur("8.40"), what="other")
    books = ledger(build_of(paid, allowances=(allowance,)), NOW, home)
    assert [(use.allowance, use.drawn) for use in books.allowances] == [("small", eur("8.40"))]
    assert [(item.system, item.paid) for item in books.systems] == [("body", eur("8.40"))]


def test_a_return_whose_refund_is_not_written_down_stays_open() -> None:
    back = Return(id="b", day=DAY + timedelta(days=9), order="o", part="hose", quantity=1)
    assert ledger(build_of(order(HOSES), receipt("hose", 2), back), NOW, home).refunds_open == ("b",)


def test_events_after_the_day_do_not_count() -> None:
    build = build_of(order(HOSES), Payment(id="p", day=NOW + timedelta(days=1), order="o", amount=eur("30")))
    assert ledger(build, NOW, home).paid == eur("0")
    assert order_states(build, DAY - timedelta(days=1)) == ()


# against the offer's price


@pytest.mark.parametrize(
    ("sightings", "listed", "seen_days", "saved"),
    [
        ((), "50", -3, "20"),  # as listed three days before the order
        (((-1, "55", False),), "55", -1, "30"),  # the last one before it
        (((-1, "35", True),), "50", -3, "20"),  # a sale price is not the regular one
        (((4, "60", False),), "50", -3, "20"),  # what came later does not count
    ],
)
def test_saving_is_against_the_regular_price_last_seen_by_then(
    sightings: tuple[tuple[int, str, bool], ...], listed: str, seen_days: int, saved: str
) -> None:
    seen = tuple(
        Sighting(offer="disc-offer", day=DAY + timedelta(days=days), price=eur(price), sale=sale)
        for days, price, sale in sightings
    )
    build = build_of(order(OrderLine(offer="disc-offer", quantity=2, price=eur("40"))), sightings=seen)
    (line,) = against_list(build, NOW, home)
    assert line.listed == eur(listed)
    assert line.seen == DAY + timedelta(days=seen_days)
    assert line.saved == line.saved_home == eur(saved)


def test_no_price_in_the_orders_currency_is_not_known_rather_than_nothing() -> None:
    build = build_of(order(OrderLine(offer="disc-offer", price=gbp("40"))))
    (line,) = against_list(build, NOW, home)
    assert (line.listed, line.saved, line.saved_home) == (None, None, None)
