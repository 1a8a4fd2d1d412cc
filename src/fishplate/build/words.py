"""How names and days are put into a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date


def joined(words: Sequence[str]) -> str:
    """Words as a list in a sentence; empty for none.

    Examples
    --------
    >>> joined(["tyres", "wheels", "two orders"])
    'tyres, wheels and two orders'
    >>> joined(["tyres"]), joined([])
    ('tyres', '')
    """
    return "".join(words) if len(words) < 2 else f"{', '.join(words[:-1])} and {words[-1]}"


def day_words(value: date) -> str:
    """A day in words, as every sentence holds it until it is told in the owner's locale.

    Examples
    --------
    >>> day_words(date(2027, 2, 3))
    '3 February 2027'
    """
    return f"{value.day} {value:%B %Y}"


def month_words(value: str) -> str:
    """A month such as "2027-03" in words.

    Examples
    --------
    >>> month_words("2027-03")
    'March 2027'
    """
    return f"{date.fromisoformat(f'{value}-01'):%B %Y}"
