"""Sums in sentences, canonical, so that whoever tells them finds them."""

from __future__ import annotations

from decimal import Decimal

from ..build.formats import CANONICAL
from ..build.money import Money


def money_words(money: Money) -> str:
    """A sum to its minor unit.

    Examples
    --------
    >>> money_words(Money.of("1234.5", "EUR")), money_words(Money.of(1234, "JPY"))
    ('1,234.50 EUR', '1,234 JPY')
    """
    return CANONICAL.money(money)


def limit_words(amount: Decimal, currency: str) -> str:
    """A sum of a rule or a table, with no more digits than it has.

    Examples
    --------
    >>> limit_words(Decimal(10000), "JPY"), limit_words(Decimal("2.69"), "USD")
    ('10,000 JPY', '2.69 USD')
    """
    return f"{amount:,f} {currency}"
