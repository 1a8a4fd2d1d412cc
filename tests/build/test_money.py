"""Money: exact amounts in a currency, rounded only when asked."""

from __future__ import annotations

import pickle
from datetime import date
from decimal import Decimal

import pytest
from pydantic import ValidationError

from fishplate.build import Money, Rates, UnknownRateError
from fishplate.build.money import known_currencies, minor_unit


@pytest.mark.parametrize(
    ("amount", "currency", "text"),
    [
        ("12.345", "EUR", "12.35 EUR"),
        ("12.344999", "EUR", "12.34 EUR"),
        ("12.355", "EUR", "12.36 EUR"),
        ("-12.345", "EUR", "-12.35 EUR"),
        ("0.5", "JPY", "1 JPY"),
        ("1.0005", "KWD", "1.001 KWD"),
        ("-0.001", "EUR", "0.00 EUR"),
        ("1e3", "EUR", "1000.00 EUR"),
        ("1000000000000", "EUR", "1000000000000.00 EUR"),
    ],
)
def test_an_amount_is_rounded_half_up_and_shown_as_rounded(amount: str, currency: str, text: str) -> None:
    money = Money.of(amount, currency)
    assert str(money) == text
    assert f"{money.rounded().amount} {currency}" == text


def test_arithmetic_does_not_round() -> None:
    third = Money.of("0.333", "EUR")
    assert (third + third + third).amount == Decimal("0.999")
    assert (third * 3 - third).amount == Decimal("0.666")
    assert (third * Decimal("0.5")).amount == Decimal("0.1665")


def test_a_float_is_read_by_its_shortest_text() -> None:
    assert Money.of(0.1, "EUR") + Money.of(0.2, "EUR") == Money.of("0.3", "EUR")


@pytest.mark.parametrize("mix", [lambda a, b: a + b, lambda a, b: a - b])
def test_currencies_are_not_mixed(mix: object) -> None:
    with pytest.raises(ValueError, match="cannot add GBP to EUR without a rate"):
        mix(Money.of(1, "EUR"), Money.of(1, "GBP"))  # type: ignore[operator]


def test_money_times_a_float_is_refused() -> None:
    with pytest.raises(TypeError):
        Money.of(1, "EUR") * 1.5  # type: ignore[operator]


@pytest.mark.parametrize("amount", ["NaN", "Infinity", "-Infinity", "1e12e", "1000000000000.01", "1e400"])
def test_an_amount_that_is_none_is_refused(amount: str) -> None:
    with pytest.raises(ValidationError):
        Money.model_validate({"amount": amount, "currency": "EUR"})


@pytest.mark.parametrize("code", ["EURO", "eur", "", "€", "XYZ"])
def test_a_currency_that_is_none_is_refused(code: str) -> None:
    with pytest.raises(ValidationError, match="not an ISO 4217 currency code"):
        Money.of(1, code)


def test_a_currency_off_the_beaten_track_is_known() -> None:
    assert Money.of(1, "ISK").currency == "ISK"
    assert {"EUR", "GBP", "USD", "JPY"} <= known_currencies()


RATES = Rates(base="EUR", per_base={"GBP": Decimal("0.8"), "USD": Decimal("1.25")}, day=date(2026, 3, 2), source="own")


def test_a_rate_between_two_currencies_goes_through_the_base() -> None:
    # 0.8 GBP and 1.25 USD are a euro each, so a dollar is 0.64 pounds
    assert RATES.rate("USD", "GBP") == Decimal("0.64")
    assert RATES.rate("GBP", "USD") == Decimal("1.5625")
    assert RATES.convert(Money.of(100, "USD"), "GBP") == Money.of("64", "GBP")
    assert RATES.convert(Money.of(100, "NOK"), "NOK") == Money.of(100, "NOK")


def test_an_unknown_rate_names_both_currencies() -> None:
    with pytest.raises(UnknownRateError, match="no exchange rate is known from NOK to EUR") as caught:
        RATES.convert(Money.of(1, "NOK"), "EUR")
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


@pytest.mark.parametrize("rate", ["0", "-1", "NaN", "Infinity"])
def test_a_rate_that_is_not_above_zero_is_refused(rate: str) -> None:
    with pytest.raises(ValidationError):
        Rates(base="EUR", per_base={"GBP": Decimal(rate)}, day=date(2026, 3, 2), source="own")


def test_minor_units_are_a_hundredth_unless_listed() -> None:
    assert [minor_unit(code) for code in ("EUR", "JPY", "TND", "CLF", "HUF", "RSD")] == [2, 0, 3, 4, 2, 2]
