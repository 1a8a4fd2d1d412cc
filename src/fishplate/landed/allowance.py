"""Which items fill an allowance: they are indivisible, so it is a question of packing."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal

from .limits import TAIL, plain, within

MOST_STEPS = 2_000_000


def fill_allowance(values: Sequence[Decimal], counts: Sequence[int], limit: Decimal) -> tuple[int, ...]:
    """How many items of each kind go free, so that they use as much of the limit as can be used.

    Parameters
    ----------
    values : value of one item of each kind, in the currency of the limit
    counts : how many there are of each kind
    limit : the allowance

    Returns
    -------
    free items of each kind; among equal fillings, the one with most of the earliest kinds

    Notes
    -----
    Values are taken in hundredths, rounded up, so that what is free never exceeds the limit (in coarser steps where it
    is very large), and a second time in shares of the limit, so that whole cents of another currency fill it exactly;
    the better filling counts. The reachable sums are the bits of one integer. Items of one kind go in bundles of 1, 2,
    4, ... so that thousands of bolts cost no more than a dozen bundles.

    Examples
    --------
    >>> fill_allowance([Decimal(300), Decimal(70)], [1, 2], Decimal(430))
    (1, 1)
    """
    step = max(Decimal("0.01"), limit / MOST_STEPS)
    sizes = [int(plain(value / step).to_integral_value(ROUND_CEILING)) for value in values]
    found = _filled(sizes, counts, int(plain(limit / step)))
    if _used(values, found) == limit or limit <= 0:
        return found
    shares = [int((value / limit * MOST_STEPS).to_integral_value(ROUND_HALF_EVEN)) for value in values]
    other = _filled(shares, counts, MOST_STEPS + len(values))
    better = _used(values, other) - _used(values, found) > TAIL and within(_used(values, other), limit)
    return other if better else found


def _used(values: Sequence[Decimal], counts: Sequence[int]) -> Decimal:
    """What so many items of each kind come to."""
    return sum((value * many for value, many in zip(values, counts, strict=True)), Decimal(0))


def _filled(sizes: Sequence[int], counts: Sequence[int], room: int) -> tuple[int, ...]:
    """The filling of a room by as much as can be, in whole steps."""
    bundles = [
        (kind, many)
        for kind, (size, count) in enumerate(zip(sizes, counts, strict=True))
        for many in _bundles(min(count, room // size) if size else count)
    ]
    # layer i holds the sums that the last i bundles can make; walking back from the whole keeps the earliest ones
    layers = [1]
    mask = (1 << (room + 1)) - 1
    for kind, many in reversed(bundles):
        layers.append((layers[-1] | layers[-1] << many * sizes[kind]) & mask)
    left = layers[-1].bit_length() - 1
    free = [0] * len(sizes)
    for place, (kind, many) in enumerate(bundles):
        rest = left - many * sizes[kind]
        if rest >= 0 and layers[len(bundles) - 1 - place] >> rest & 1:
            free[kind] += many
            left = rest
    return tuple(free)


def _bundles(count: int) -> list[int]:
    """Bundles of 1, 2, 4, ... and a rest, of which some make any number up to the count."""
    made = []
    many = 1
    while count > 0:
        made.append(min(many, count))
        count -= made[-1]
        many *= 2
    return made


def free_worth(values: Sequence[Decimal], counts: Sequence[int], limit: Decimal, exceeded: str) -> tuple[Decimal, ...]:
    """How much of each kind of item is free of charges.

    Parameters
    ----------
    values, counts : of one item, and how many there are, by kind
    limit : the allowance, in the same currency
    exceeded : "whole" all is taxed above the limit, "excess" what exceeds it, "item" the items that do not fit

    Examples
    --------
    >>> [int(free) for free in free_worth([Decimal(300)], [2], Decimal(430), "item")]
    [300]
    """
    worth = [value * count for value, count in zip(values, counts, strict=True)]
    total = sum(worth, Decimal(0))
    if within(total, limit):
        return tuple(worth)
    if exceeded == "excess":
        return tuple(value * limit / total for value in worth)
    if exceeded == "item":
        return tuple(value * many for value, many in zip(values, fill_allowance(values, counts, limit), strict=True))
    return tuple(Decimal(0) for _ in worth)
