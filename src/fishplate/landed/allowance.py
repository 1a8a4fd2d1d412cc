"""Which items fill an allowance: they are indivisible, so it is a question of packing."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

MOST_STEPS = 2_000_000


def fill_allowance(items: Sequence[Decimal], limit: Decimal) -> frozenset[int]:
    """Positions of the items that together use as much of the limit as can be used.

    Parameters
    ----------
    items : value of each item, in the currency of the limit
    limit : the allowance

    Returns
    -------
    positions of the free items; among equal fillings, the one with the earliest items

    Notes
    -----
    Values are taken in hundredths, rounded up, so that what is free never exceeds the limit. The reachable sums are
    the bits of one integer; very large limits (in a small currency) are taken in coarser steps.

    Examples
    --------
    >>> sorted(fill_allowance([Decimal(300), Decimal(70), Decimal(70)], Decimal(430)))
    [0, 1]
    """
    step = max(Decimal("0.01"), limit / MOST_STEPS)
    room = int(limit / step)
    sizes = [-int(-value / step // 1) for value in items]
    # item i may be used in layers[i] and later; walking from the last item back keeps the earliest ones
    layers = [1]
    mask = (1 << (room + 1)) - 1
    for size in reversed(sizes):
        before = layers[-1]
        layers.append((before | before << size) & mask if size <= room else before)
    target = layers[-1].bit_length() - 1
    chosen = set()
    for position, size in enumerate(sizes):
        without, rest = layers[len(sizes) - 1 - position], target - size
        if rest >= 0 and without >> rest & 1:
            chosen.add(position)
            target = rest
    return frozenset(chosen)


def free_items(items: Sequence[Decimal], limit: Decimal, exceeded: str) -> tuple[Decimal, ...]:
    """How much of each item is free of charges.

    Parameters
    ----------
    items, limit : values, and the allowance in the same currency
    exceeded : "whole" all is taxed above the limit, "excess" what exceeds it, "item" the items that do not fit

    Examples
    --------
    >>> [int(free) for free in free_items([Decimal(300), Decimal(300)], Decimal(430), "item")]
    [300, 0]
    """
    total = sum(items, Decimal(0))
    if total <= limit:
        return tuple(items)
    if exceeded == "excess":
        return tuple(value * limit / total for value in items)
    if exceeded == "item":
        free = fill_allowance(items, limit)
        return tuple(value if position in free else Decimal(0) for position, value in enumerate(items))
    return tuple(Decimal(0) for _ in items)
