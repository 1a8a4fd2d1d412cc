"""Days, amounts and chances as the price engine writes them."""

from __future__ import annotations

from ..build.money import minor_unit


def format_price(amount: float, currency: str) -> str:
    """An expected amount with its currency, to the minor unit.

    Examples
    --------
    >>> format_price(412.0, "EUR")
    '412.00 EUR'
    """
    return f"{amount:.{minor_unit(currency)}f} {currency}"


def format_chance(chance: float) -> str:
    """A chance in whole percent, never 0 % or 100 % unless it is certain.

    Examples
    --------
    >>> format_chance(0.997), format_chance(0.5), format_chance(1.0)
    ('over 99 %', '50 %', '100 %')
    """
    if 0 < chance < 0.005:
        return "under 1 %"
    return "over 99 %" if 0.995 <= chance < 1 else f"{100 * chance:.0f} %"
