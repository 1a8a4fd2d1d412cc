"""Exchange rates of a day: published ones, the owner's in their place, and how old they are."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from fishplate.build import Build, Money
from fishplate.build.commerce import RateQuote
from fishplate.build.owner import Owner
from fishplate.wiring import load_rates


def test_rates_are_of_the_last_day_published_up_to_the_day() -> None:
    """Published reference rates of Tuesday 31 December 2019: 0.85080 pounds, 1.1234 dollars (ECB)."""
    rates, said = load_rates(date(2020, 1, 1), Build())
    assert rates.day == date(2019, 12, 31)
    assert (rates.per_base["GBP"], rates.per_base["USD"]) == (Decimal("0.8508"), Decimal("1.1234"))
    assert said == ()


def test_another_home_currency_is_the_base() -> None:
    rates, _ = load_rates(date(2020, 1, 1), Build(owner=Owner(country="GB", currency="GBP")))
    assert rates.base == "GBP"
    assert rates.convert(Money.of("0.8508", "GBP"), "EUR").amount.quantize(Decimal("1e-9")) == 1
    assert rates.convert(Money.of("1.1234", "USD"), "GBP").amount.quantize(Decimal("1e-9")) == Decimal("0.8508")


def test_owners_latest_rate_up_to_the_day_wins_and_is_said() -> None:
    quotes = (
        RateQuote(currency="GBP", rate=1.1, day=date(2019, 11, 1), source="bank"),
        RateQuote(currency="GBP", rate=1.25, day=date(2019, 12, 1), source="bank"),
        RateQuote(currency="GBP", rate=9.9, day=date(2020, 2, 1), source="bank"),
    )
    rates, said = load_rates(date(2020, 1, 1), Build(rates=quotes))
    assert rates.convert(Money.of(8, "GBP"), "EUR").amount == 10
    (note,) = [item for item in said if item.code == "rate-entered"]
    assert "1 GBP = 1.25 EUR, entered by the owner on 1 December 2019 (bank)" in str(note)


def test_owners_rate_over_a_year_old_is_flagged() -> None:
    quote = RateQuote(currency="GBP", rate=1.25, day=date(2018, 6, 1), source="bank")
    _, said = load_rates(date(2020, 1, 1), Build(rates=(quote,)))
    assert "rate-old" in {item.code for item in said}


def test_rates_that_end_before_the_day_say_by_how_many_days() -> None:
    late, said = load_rates(date(2200, 1, 1), Build())
    assert late.day < date(2200, 1, 1)
    assert [item.code for item in said] == ["rate-old"]
    after = date.fromordinal(late.day.toordinal() + 40)
    _, said = load_rates(after, Build())
    (note,) = said
    assert "40 days before" in str(note)


def test_day_before_the_history_is_said() -> None:
    _, said = load_rates(date(1998, 1, 1), Build())
    assert [item.code for item in said] == ["rate-day"]


@pytest.mark.parametrize("quoted", [True, False])
def test_home_currency_without_published_rates_needs_one_of_the_owner(quoted: bool) -> None:
    """An Argentine peso has no reference rate; one rate of the euro links it to all others."""
    quotes = (RateQuote(currency="EUR", rate=1600, day=date(2026, 1, 1), source="bank"),) if quoted else ()
    build = Build(owner=Owner(country="AR", currency="ARS"), rates=quotes)
    rates, _ = load_rates(date(2026, 6, 1), build)
    assert rates.base == ("ARS" if quoted else "EUR")
    if quoted:
        gbp = rates.convert(Money.of(1, "GBP"), "EUR").amount
        assert float(rates.convert(Money.of(1, "GBP"), "ARS").amount) == pytest.approx(1600 * float(gbp))
