"""A bill against the estimate: an odd line stands out, exchange and rounding do not."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from fishplate.build import Money, Rates, Refused
from fishplate.build.commerce import Route, Supplier
from fishplate.build.owner import Owner
from fishplate.landed import BillLine, Consignment, Goods, compare_bill, landed_cost, likely_bill, load_rules

DAY = date(2026, 11, 24)
ROUTE = Route(
    id="way", name="Way", kind="courier", from_country="GB", advance_percent=2.5, fees_as_of=DAY,
    advance_minimum=Money.of(15, "EUR"), entry_fee=Money.of(5, "EUR"),
)  # fmt: skip
SELLER = Supplier(id="seller", name="Seller", country="GB", currency="EUR", origin_tax="none")
COST = landed_cost(
    Consignment(
        SELLER, ROUTE, (Goods("part", Money.of(400, "EUR"), heading="870830"),), Money.of(20, "EUR"), False, DAY
    ),
    Owner(card_markup_percent=0), load_rules("NL"), Rates(base="EUR", per_base={}, day=DAY, source="test"),
)  # fmt: skip


def line(label: str, amount: str, kind: str) -> BillLine:
    return BillLine(label, Money.of(amount, "EUR"), kind)  # type: ignore[arg-type]


HONEST = [
    line("duty", "18.90", "duty"),
    line("VAT", "92.17", "tax"),
    line("customs entry", "5.00", "fee"),
    line("advance", "15.00", "fee"),
    line("VAT on fees", "4.20", "tax"),
]


def test_likely_bill_holds_what_is_asked_on_arrival_and_nothing_else() -> None:
    bill = {item.label: item.amount.amount for item in likely_bill(COST)}
    assert bill == {
        "duty, heading 870830": Decimal("18.90"),
        "import tax": Decimal("92.17"),
        "advancing duty and tax": Decimal("15.00"),
        "customs entry": Decimal("5.00"),
        "tax on the carrier's fees": Decimal("4.20"),
    }


def test_bill_as_expected_is_not_odd_whatever_its_lines_are_called() -> None:
    report = compare_bill(COST, HONEST)
    assert not report.odd
    assert report.expected == report.billed == Money.of("135.27", "EUR")


def test_a_little_exchange_is_not_odd_and_a_wrong_rate_is() -> None:
    moved = [line("duty", "19.30", "duty"), *HONEST[1:]]
    assert not compare_bill(COST, moved).odd
    wrong = [line("duty", "42.00", "duty"), *HONEST[1:]]
    (odd,) = [item for item in compare_bill(COST, wrong).lines if item.odd]
    assert odd.kind == "duty"
    assert "23.10 EUR more" in odd.text
    assert "which heading the entry used" in odd.text


def test_fee_that_was_not_expected_stands_out_with_what_to_ask() -> None:
    report = compare_bill(COST, [*HONEST, line("storage", "12.00", "fee")])
    (odd,) = [item for item in report.lines if item.odd]
    assert (odd.label, odd.expected) == ("storage", None)
    assert "what the fee is for" in odd.text


def test_line_that_is_missing_may_come_later_and_is_not_odd() -> None:
    report = compare_bill(COST, HONEST[:2])
    assert not report.odd
    assert sum("may come later" in item.text for item in report.lines) == 3


def test_bill_in_another_currency_is_refused() -> None:
    with pytest.raises(Refused, match="bill, duty: the bill is not in EUR"):
        compare_bill(COST, [BillLine("duty", Money.of(1, "GBP"), "duty")])
