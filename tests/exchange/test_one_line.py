"""One part in a line of text, as a person types it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fishplate.build import Build
from fishplate.build.commerce import Supplier
from fishplate.exchange.one_line import OneLine, read_one_line

BUILD = Build(
    suppliers=(
        Supplier(id="saltmere", name="Saltmere Stores", country="CA", currency="CAD"),
        Supplier(id="noord", name="Noord", country="NL", currency="EUR"),
    )
)


def read(text: str) -> OneLine:
    return read_one_line(text, BUILD)


@pytest.mark.parametrize(
    ("text", "name", "quantity", "unit", "price", "weeks", "supplier"),
    [
        ("2 brake hose front 38.50 EUR 3 wk", "brake hose front", 2, "each", "38.50 EUR", (3, 3), ""),
        ("brake hose", "brake hose", None, "each", None, None, ""),
        (
            "4 tyre 215/75 R 16 C £120 each 2-3 weeks @ Noord",
            "tyre 215/75 R 16 C",
            4,
            "each",
            "120 GBP",
            (2, 3),
            "Noord",
        ),
        ("3 m fuel hose 8 mm 4,20 €", "fuel hose 8 mm", 3, "m", "4.20 EUR", None, ""),
        ("280 mm disc 40 EUR", "280 mm disc", None, "each", "40 EUR", None, ""),
        ("12 V relay 4 EUR", "12 V relay", None, "each", "4 EUR", None, ""),
        ("hose front x2 €38,50 in stock", "hose front", 2, "each", "38.50 EUR", (0, 1), ""),
        ("2x hose from Noord 38.50 EUR", "hose", 2, "each", "38.50 EUR", None, "Noord"),
        ("10 bolts @ 2.50", "bolts", 10, "each", "2.50 EUR", None, ""),
        ("2 pair seals", "seals", 2, "pair", None, None, ""),
        ("½ sheet steel 2 mm 80 EUR", "steel 2 mm", Decimal("0.5"), "sheet", "80 EUR", None, ""),
        ("bolt M8x1.25 0.40 EUR 10 working days", "bolt M8x1.25", None, "each", "0.40 EUR", (2, 2), ""),
        ("2 hose 77 EUR together", "hose", 2, "each", "38.5 EUR", None, ""),
        ("2 hub $12 from Saltmere Stores", "hub", 2, "each", "12 CAD", None, "Saltmere Stores"),
    ],
)
def test_a_line_is_read_piece_by_piece(
    text: str,
    name: str,
    quantity: Decimal | None,
    unit: str,
    price: str | None,
    weeks: tuple[float, float] | None,
    supplier: str,
) -> None:
    found = read(text)
    assert (found.name, found.quantity, found.unit, found.supplier) == (name, quantity, unit, supplier)
    shown = None if found.price is None else f"{found.price.amount.normalize():f} {found.price.currency}"
    assert shown == (None if price is None else f"{Decimal(price.split()[0]).normalize():f} {price.split()[1]}")
    assert (found.lead_weeks and (found.lead_weeks.low, found.lead_weeks.high)) == weeks
    assert not found.problems


@pytest.mark.parametrize(
    ("text", "field", "what"),
    [
        ("2 hose $12", "price", "could be USD or CAD"),
        ("hub 1.234 EUR", "price", "could be 1234 or 1.234"),
        ("-2 bolts 3 EUR", "quantity", "below zero"),
        ("50 EUR", "name", "no name"),
        ("   ", "name", "no name"),
    ],
)
def test_what_can_be_read_two_ways_or_not_at_all_is_a_problem_and_never_a_guess(
    text: str, field: str, what: str
) -> None:
    problems = read(text).problems
    assert [problem.where for problem in problems] == [field]
    assert what in problems[0].what


def test_what_was_taken_for_granted_is_said() -> None:
    said = " ".join(read("hose 12.50").said)
    assert "1 is taken" in said
    assert "EUR is taken, your own currency" in said
    assert "the supplier's currency" in " ".join(read("2 hose 12.50 from Saltmere Stores").said)


def test_tax_words_behind_a_price_are_read() -> None:
    assert read("2 hub 88 EUR excl vat 3-4 wk").tax_included is False
    assert read("2 hub 88 EUR incl btw").tax_included is True


def test_a_number_without_currency_that_may_be_a_size_stays_in_the_name() -> None:
    found = read("2 pair seals 19")
    assert (found.name, found.price) == ("seals 19", None)


@given(st.text(max_size=120))
def test_any_line_is_read_or_refused_and_never_fails(text: str) -> None:
    found = read(text)
    assert found.name or found.problems
    assert found.quantity is None or found.quantity > 0
    assert found.price is None or found.price.amount > 0
