"""Defaults in the owner's currency: plain figures, near the day's reference rate, and said."""

from __future__ import annotations

from datetime import date

import pytest

from fishplate.build import Build
from fishplate.build.defaults import PER_EURO, hour_worth, in_home, owner_assumed, week_delay_cost
from fishplate.build.owner import Owner
from fishplate.wiring import load_rates

LAST_KNOWN = date(2100, 1, 1)


def test_rounded_rates_are_near_the_last_reference_rates_held() -> None:
    rates, _ = load_rates(LAST_KNOWN, Build())
    for code, rate in rates.per_base.items():
        assert PER_EURO[code] == pytest.approx(float(rate), rel=0.15), f"{code} has moved: round it anew"


@pytest.mark.parametrize(
    ("currency", "hour", "week"), [("EUR", 15, 75), ("GBP", 13, 64), ("NOK", 160, 790), ("JPY", 2600, 13_000)]
)
def test_an_hour_and_a_week_are_plain_figures_of_the_home_currency(currency: str, hour: float, week: float) -> None:
    owner = Owner(currency=currency)
    assert (hour_worth(owner), week_delay_cost(owner)) == (hour, week)
    told = {item.code: item.text for item in owner_assumed(owner)}
    assert f"{hour:,} {currency}" in told["hour-worth-default"]
    assert f"{week:,} {currency}" in told["week-delay-default"]
    assert ("about 15 EUR" in told["hour-worth-default"]) == (currency != "EUR")


def test_the_owners_own_figure_is_left_alone() -> None:
    owner = Owner(currency="JPY", hour_worth="123.4", week_delay_cost=0)
    assert (hour_worth(owner), week_delay_cost(owner)) == (123.4, 0)
    assert {item.code for item in owner_assumed(owner)} == {"carrying-default"}


def test_a_currency_without_a_rounded_rate_is_said_to_be_unknown() -> None:
    owner = Owner(currency="XOF")
    assert in_home(15, owner) == 15
    assert any("not known here" in item.text for item in owner_assumed(owner))
