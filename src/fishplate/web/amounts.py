"""Money on the pages: home currency first, the amount as it was asked or paid beside it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from ..build import Build, Money, UnknownRateError
from ..build.formats import CANONICAL
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
    return CANONICAL.amount(value, currency, minor_unit(currency))


def typed(value: float | Decimal | None, currency: str) -> str:
    """An amount as a field is filled with it; empty for none.

    A decimal amount keeps digits finer than the minor unit, so that an untouched field changes nothing; one that was
    reckoned is given to the minor unit.

    Examples
    --------
    >>> typed(82.0, "GBP"), typed(Decimal("0.125"), "GBP"), typed(None, "GBP")
    ('82.00', '0.125', '')
    """
    if value is None:
        return ""
    digits = minor_unit(currency)
    if isinstance(value, Decimal):
        digits = max(digits, -int(value.normalize().as_tuple().exponent))
    return CANONICAL.typed(Decimal(f"{value:.{digits}f}"))


def as_typed(money: Money | None, currency: str = "") -> str:
    """An amount as its field holds it; one in another currency than the field's says so.

    Examples
    --------
    >>> as_typed(Money.of(12, "EUR"), "GBP"), as_typed(Money.of(12, "GBP"), "GBP"), as_typed(None, "GBP")
    ('12.00 EUR', '12.00', '')
    """
    if money is None:
        return ""
    text = typed(money.amount, money.currency)
    return text if money.currency == (currency or money.currency) else f"{text} {money.currency}"
