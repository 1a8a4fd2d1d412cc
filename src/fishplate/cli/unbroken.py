"""Figures that stay with their currency or unit where a line is broken."""

from __future__ import annotations

import re
from typing import Final

_WITH_UNIT: Final = re.compile(r"(?<=\d) (?=(?:[A-Z]{3}|kg|mm|km|m³|h)\b|%)")
_BOUND: Final = "\ue000"  # as wide as a space, and never in anybody's words


def bound(words: str) -> str:
    """Words in which no figure parts from its currency or unit where a line is broken; `loosed` gives them back.

    Examples
    --------
    >>> loosed(bound("12.50 EUR")), " " in bound("it costs 12.50 EUR").split("costs ")[1]
    ('12.50 EUR', False)
    """
    return _WITH_UNIT.sub(_BOUND, words)


def loosed(words: str) -> str:
    """Words as they were before they were bound."""
    return words.replace(_BOUND, " ")
