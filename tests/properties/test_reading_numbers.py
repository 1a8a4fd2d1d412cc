"""Cells as people write them: whatever is written one way is read the same way back, and no text breaks a reader."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fishplate.build.base import Id
from fishplate.build.numbers import Unreadable, decimal_mark, is_ambiguous, mark_shown, parse_number
from fishplate.exchange.amounts import find_currency, parse_country, parse_mass_kg, parse_price, parse_quantity
from fishplate.exchange.names import clean_text, match_key, slug
from fishplate.exchange.times import day_order, parse_day, parse_lead_weeks

amounts = st.decimals(min_value="0.01", max_value="9999999.99", places=2)
# thousands mark and decimal mark as lists write them
styles = st.sampled_from(
    [
        ("", "."),
        ("", ","),
        (",", "."),
        (".", ","),
        (" ", ","),
        ("\u202f", ","),
        ("\u00a0", ","),
        ("'", "."),
        ("’", "."),
        (" ", "."),
    ]
)
WIDE = str.maketrans("0123456789,.", "０１２３４５６７８９，．")
ARABIC = str.maketrans("0123456789,.", "٠١٢٣٤٥٦٧٨٩٬٫")


def written(amount: Decimal, style: tuple[str, str]) -> str:
    """An amount with its thousands set apart and its decimal mark."""
    thousands, mark = style
    return f"{amount:,.2f}".replace(",", "T").replace(".", mark).replace("T", thousands)


@given(amounts, styles)
def test_an_amount_with_decimals_is_read_as_it_was_written(amount: Decimal, style: tuple[str, str]) -> None:
    assert parse_number(written(amount, style)) == amount


@given(amounts, styles, st.sampled_from([WIDE, None]))
def test_digits_of_full_width_count_like_others(
    amount: Decimal, style: tuple[str, str], digits: dict[int, str] | None
) -> None:
    text = written(amount, style)
    assert parse_number(text.translate(digits) if digits else text) == amount


@given(amounts)
def test_arabic_digits_and_marks_are_read(amount: Decimal) -> None:
    assert parse_number(f"{amount:,.2f}".translate(ARABIC)) == amount


@given(st.lists(amounts, min_size=1, max_size=12), styles, st.integers(1000, 999_999))
def test_a_column_with_decimals_decides_its_bare_thousands(
    column: list[Decimal], style: tuple[str, str], bare: int
) -> None:
    thousands, mark = style
    texts = [written(amount, style) for amount in column]
    shown = f"{bare:,}".replace(",", thousands)
    found = decimal_mark([*texts, shown])
    assert found == mark
    assert parse_number(shown, found) == bare


@given(st.integers(1, 999), st.integers(0, 999), st.sampled_from([".", ","]))
def test_one_mark_before_three_digits_is_refused_without_a_column_to_decide(whole: int, rest: int, mark: str) -> None:
    text = f"{whole}{mark}{rest:03}"
    assert mark_shown(text) is None
    assert is_ambiguous(text)
    with pytest.raises(Unreadable) as refused:
        parse_number(text)
    assert refused.value.code == "ambiguous-number"
    assert parse_number(text, mark) == Decimal(f"{whole}.{rest:03}")
    assert parse_number(text, "," if mark == "." else ".") == whole * 1000 + rest


CURRENCIES = [
    ("€", "EUR"),
    ("£", "GBP"),
    ("EUR", "EUR"),
    ("gbp", "GBP"),
    ("CHF", "CHF"),
    ("zł", "PLN"),
    ("US$", "USD"),
    ("C$", "CAD"),
]


@given(amounts, styles, st.sampled_from(CURRENCIES), st.booleans(), st.sampled_from(["", " ", "\u00a0"]))
def test_a_currency_before_or_after_the_amount_is_found(
    amount: Decimal, style: tuple[str, str], currency: tuple[str, str], before: bool, space: str
) -> None:
    sign, code = currency
    text = written(amount, style)
    reading = parse_price(f"{sign}{space}{text}" if before else f"{text}{space}{sign}")
    assert (reading.likely, reading.currency.code) == (amount, code)


@given(
    amounts,
    st.sampled_from(
        ["each", "/ea", "per stuk", "incl. VAT", "excl. btw", "inc VAT", "zzgl. MwSt", "TTC", "HT", "p/st"]
    ),
)
def test_words_after_an_amount_do_not_hide_it(amount: Decimal, words: str) -> None:
    assert parse_price(f"€ {amount:.2f} {words}").likely == amount


@given(amounts, amounts, st.sampled_from(["-", " - ", "–", " to ", " bis ", "/"]))
def test_a_range_gives_its_middle_and_both_ends(one: Decimal, other: Decimal, between: str) -> None:
    reading = parse_price(f"{one:.2f}{between}{other:.2f}")
    assert (reading.low, reading.high) == (min(one, other), max(one, other))
    assert reading.likely == (one + other) / 2


@given(
    st.integers(1, 5000), st.sampled_from(["", " off", "x", " x", " pcs", " stuks", " Stk.", " pièces", " uds", " ea"])
)
def test_a_count_is_read_whatever_the_word_behind_it(count: int, word: str) -> None:
    reading = parse_quantity(f"{count}{word}")
    assert (reading.quantity, reading.unit) == (count, "each")


@given(
    st.integers(1, 52),
    st.integers(0, 20),
    st.sampled_from(
        [("weeks", 1.0), ("wk", 1.0), ("Tage", 1 / 7), ("dagen", 1 / 7), ("werkdagen", 0.2), ("mois", 365.25 / 84)]
    ),
)
def test_a_lead_time_is_read_in_weeks_and_rises(low: int, more: int, unit: tuple[str, float]) -> None:
    word, weeks = unit
    estimate, _ = parse_lead_weeks(f"{low}-{low + more} {word}")
    assert estimate is not None
    assert estimate.low == pytest.approx(low * weeks, abs=1e-6)
    assert estimate.high == pytest.approx((low + more) * weeks, abs=1e-6)


@given(
    st.lists(st.dates(date(2000, 1, 1), date(2099, 12, 31)), min_size=1, max_size=8),
    st.sampled_from(["dmy", "mdy"]),
    st.sampled_from("/-."),
)
def test_a_column_of_dates_is_read_in_the_order_it_shows(days: list[date], order: str, mark: str) -> None:
    pattern = {"dmy": "%d{0}%m{0}%Y", "mdy": "%m{0}%d{0}%Y"}[order].format(mark)
    texts = [day.strftime(pattern) for day in days]
    shown = day_order(texts)
    assert shown in (None, order)
    if any(day.day > 12 for day in days):
        assert shown == order
        assert [parse_day(text, shown) for text in texts] == days
    else:
        for day, text in zip(days, texts, strict=True):
            if day.day != day.month:
                with pytest.raises(Unreadable, match="it could be"):
                    parse_day(text, shown)


@given(st.dates(date(1970, 1, 1), date(2099, 12, 31)))
def test_a_day_in_the_standard_order_needs_no_column(day: date) -> None:
    assert parse_day(day.isoformat()) == day


READERS: list[Callable[[str], object]] = [
    parse_number, parse_price, parse_quantity, parse_lead_weeks, parse_day, parse_country, parse_mass_kg, mark_shown,
    find_currency, clean_text, match_key, slug,
]  # fmt: skip
alphabet = st.one_of(st.characters(), st.sampled_from("0123456789.,-+/ '€£$%()xX½ぁ１\u202e\u00a0"))


@given(st.text(alphabet, max_size=40), st.sampled_from(READERS))
def test_any_text_is_read_or_refused_in_words(text: str, read: Callable[[str], object]) -> None:
    try:
        read(text)
    except Unreadable as error:
        refused = error
    else:
        return
    assert refused.what
    assert refused.do
    assert not refused.what.endswith(".")


@given(st.text(max_size=60))
def test_cleaned_text_stays_as_it_is_when_cleaned_again(text: str) -> None:
    cleaned, _ = clean_text(text)
    assert clean_text(cleaned) == (cleaned, False)
    assert not re.search("[\u200e\u200f\u202a-\u202e\u2066-\u2069\x00-\x1f]", cleaned)


@given(st.text(max_size=200), st.integers(0, 3))
def test_a_slug_is_an_id_the_same_each_time_and_free(name: str, taken: int) -> None:
    first = slug(name)
    assert re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,79}", first)
    assert slug(name) == first
    others = [first]
    for _ in range(taken):
        others.append(slug(name, others))
    assert len(set(others)) == len(others)
    assert Id is not None
