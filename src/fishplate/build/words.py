"""How names are put together in a sentence."""

from __future__ import annotations

from collections.abc import Sequence


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
