"""Whether a worth keeps to a limit: both may come through an exchange rate, which leaves a tail after the last cent."""

from __future__ import annotations

from decimal import Decimal

TAIL = Decimal("1e-9")


def within(worth: Decimal, limit: Decimal) -> bool:
    """Whether a worth is at most a limit.

    Examples
    --------
    >>> limit = 150 / Decimal("0.00074891")
    >>> worth = limit.quantize(Decimal("1e-12"))
    >>> worth <= limit, within(worth, limit)
    (False, True)
    """
    return worth - limit <= TAIL


def under(worth: Decimal, limit: Decimal) -> bool:
    """Whether a worth is less than a limit."""
    return worth - limit < -TAIL


def plain(worth: Decimal) -> Decimal:
    """A worth without the tail, to be compared with the steps of a table."""
    return worth.quantize(TAIL)
