"""Prices by count: how many of an offer one line brings, and at which price."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from ..build.commerce import Offer


@dataclass(frozen=True, slots=True)
class Level:
    """One way to buy an offer: so many at a price.

    Parameters
    ----------
    count : how many of the offer one unit of the candidate stands for
    least, most : units that can be bought at this price
    whole : units that bring all that is wanted
    share : price of one, over that of one bought by itself [-]
    """

    count: int
    least: int
    most: int
    whole: int
    share: float


def levels_of(offer: Offer, wanted: int, *, in_one: bool) -> Iterator[Level]:
    """The ways to buy what is wanted of an offer; more than is wanted, where the lower price makes it cheaper.

    Parameters
    ----------
    wanted : how many of the offer bring all that is missing
    in_one : the whole quantity comes in one line, or in any number of single ones
    """
    shares = _shares(offer)
    reached = max(units for units in shares if units <= wanted)
    enough = wanted * shares[reached]
    if in_one:
        yield Level(wanted, 1, 1, 1, shares[reached])
    else:
        starts = sorted(shares)
        for units, after in zip(starts, [*starts[1:], math.inf], strict=True):
            if units <= wanted:
                yield Level(1, units, int(min(after - 1, wanted)), wanted, shares[units])
    for units in sorted(shares):
        if units > wanted and units * shares[units] < enough:
            yield Level(units, 1, 1, 1, shares[units]) if in_one else Level(1, units, units, wanted, shares[units])


def _shares(offer: Offer) -> dict[int, float]:
    """Count from which a price holds -> that price over the price of one."""
    price = float(offer.price.amount)
    if price <= 0:
        return {1: 1.0}
    return {1: 1.0} | {each.units: float(each.price.amount) / price for each in offer.breaks}
