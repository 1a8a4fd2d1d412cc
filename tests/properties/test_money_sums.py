"""Money behaves as sums of money do."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import CURRENCIES

from fishplate.build import Money, Rates
from fishplate.build.money import minor_unit

amounts = st.decimals(-(10**9), 10**9, places=4)
codes = st.sampled_from(CURRENCIES)


@given(st.lists(amounts, max_size=20), codes, st.randoms(use_true_random=False))
def test_a_total_is_exact_whatever_the_order(parts: list[Decimal], code: str, random: object) -> None:
    shuffled = list(parts)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    total = sum((Money.of(part, code) for part in shuffled), Money.of(0, code))
    assert Fraction(total.amount) == sum(map(Fraction, parts))


@given(amounts, amounts, codes)
def test_adding_and_taking_away_cancel(first: Decimal, second: Decimal, code: str) -> None:
    one, other = Money.of(first, code), Money.of(second, code)
    assert one + other - other == one
    assert one + -one == Money.of(0, code)


@given(amounts, st.integers(-1000, 1000), codes)
def test_so_many_times_is_so_many_added(amount: Decimal, count: int, code: str) -> None:
    assert Fraction((Money.of(amount, code) * count).amount) == Fraction(amount) * count


@given(st.decimals(-(10**9), 10**9, places=5), codes)
def test_rounding_goes_to_the_nearest_minor_unit_and_half_away_from_zero(amount: Decimal, code: str) -> None:
    rounded = Fraction(Money.of(amount, code).rounded().amount)
    step = Fraction(1, 10 ** minor_unit(code))
    assert rounded % step == 0
    off = abs(rounded - Fraction(amount))
    assert off < step / 2 or (off == step / 2 and abs(rounded) > abs(amount))


@given(amounts, codes)
def test_rounding_twice_is_rounding_once_and_is_what_is_shown(amount: Decimal, code: str) -> None:
    money = Money.of(amount, code)
    assert money.rounded().rounded() == money.rounded()
    assert str(money) == str(money.rounded())
    assert Decimal(str(money).split()[0]) == money.rounded().amount


@given(amounts, amounts, st.lists(codes, min_size=2, max_size=2, unique=True))
def test_two_currencies_are_never_added(first: Decimal, second: Decimal, pair: list[str]) -> None:
    with pytest.raises(ValueError, match="without a rate"):
        Money.of(first, pair[0]) + Money.of(second, pair[1])


rates = st.fixed_dictionaries(
    {code: st.decimals("0.001", "1000", places=6) for code in CURRENCIES if code != "EUR"}
).map(lambda per_base: Rates(base="EUR", per_base=per_base, day=date(2026, 3, 2), source="own"))


@given(rates, st.decimals(1, 10**6, places=2), codes, codes, codes)
def test_exchanging_there_and_back_or_by_a_third_currency_loses_nothing(
    table: Rates, amount: Decimal, first: str, second: str, third: str
) -> None:
    money = Money.of(amount, first)
    there = table.convert(money, second)
    assert float(table.convert(there, first).amount) == pytest.approx(float(amount), rel=1e-15)
    direct, detour = table.convert(money, third), table.convert(there, third)
    assert float(detour.amount) == pytest.approx(float(direct.amount), rel=1e-15)


@given(amounts, codes)
def test_money_in_a_document_reads_back_to_the_last_digit(amount: Decimal, code: str) -> None:
    money = Money.of(amount, code)
    again = Money.model_validate_json(money.model_dump_json())
    assert again == money
    assert again.amount.as_tuple() == money.amount.as_tuple()
