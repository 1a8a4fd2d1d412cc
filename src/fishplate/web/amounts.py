"""Money on the pages: home currency first, the amount as it was asked or paid beside it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from ..build import Build, Money, UnknownRateError
from ..build.money import minor_unit
from ..records import ToHome
from ..wiring import load_rates
from .desk import View
from .words import exact


def to_home(build: Build) -> ToHome:
    """Converts money at the reference rate of its day, or at a rate the owner entered."""
    home = build.owner.currency

    def convert(money: Money, day: date) -> Money | None:
        if money.currency == home:
            return money
        rates, _ = load_rates(day, build)
        try:
            return rates.convert(money, home)
        except UnknownRateError:
            return None

    return convert


def rates_today(view: View) -> Mapping[str, float]:
    """Home currency for one unit of each currency a rate is known for."""
    rates, _ = load_rates(view.as_of, view.build)
    codes = {view.currency, rates.base, *rates.per_base}
    found = {view.currency: 1.0}
    for code in codes:
        try:
            found[code] = float(rates.rate(code, view.currency))
        except UnknownRateError:
            continue
    return found


def with_original(home: Money | None, original: Money) -> str:
    """Home currency, and the original beside it where it is another.

    Examples
    --------
    >>> with_original(Money.of("111.40", "EUR"), Money.of(95, "GBP"))
    '111.40 EUR (95.00 GBP)'
    >>> with_original(None, Money.of(95, "GBP"))
    '95.00 GBP, no rate known'
    """
    if original.currency == (home.currency if home else ""):
        return exact(original)
    return f"{exact(original)}, no rate known" if home is None else f"{exact(home)} ({exact(original)})"


def to_the_cent(value: float, currency: str) -> str:
    """An amount to the minor unit.

    Examples
    --------
    >>> to_the_cent(1118.026, "EUR")
    '1,118.03 EUR'
    """
    return f"{value:,.{minor_unit(currency)}f} {currency}"


def typed(value: float | None, currency: str) -> str:
    """An amount as a field is filled with it; empty for none.

    Examples
    --------
    >>> typed(82.0, "GBP"), typed(None, "GBP")
    ('82.00', '')
    """
    return "" if value is None else f"{value:.{minor_unit(currency)}f}"
