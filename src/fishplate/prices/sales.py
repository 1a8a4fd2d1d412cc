"""The sales an offer may see: from the windows ahead, and from a sale price seen just now."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date, timedelta

import numpy as np

from ..build.base import ThreePoint
from ..build.commerce import Offer, Sighting
from .model import ExpectedSale, FloatArray
from .windows import Window

# A triangular depth stands as this many equally likely ones.
DEPTHS = 15
# A sale price this old still tells that the sale is on, where no window says how long it lasts.
SALE_FRESH_DAYS = 7


def triangular_quantile(estimate: ThreePoint, chance: float) -> float:
    """The value a triangular distribution does not exceed with a given chance.

    Examples
    --------
    >>> triangular_quantile(ThreePoint(low=0, likely=1, high=2), 0.5)
    1.0
    """
    low, mode, high = estimate.low, estimate.likely, estimate.high
    if high == low:
        return low
    if chance < (mode - low) / (high - low):
        return low + math.sqrt(chance * (high - low) * (mode - low))
    return high - math.sqrt((1 - chance) * (high - low) * (high - mode))


def triangular_points(estimate: ThreePoint, count: int = DEPTHS) -> tuple[float, ...]:
    """Equally likely values that stand for a triangular distribution: its middle quantiles, with its exact mean.

    Examples
    --------
    >>> [round(value, 3) for value in triangular_points(ThreePoint(low=10, likely=20, high=30), 3)]
    [15.774, 20.0, 24.226]
    """
    values = [triangular_quantile(estimate, (position + 0.5) / count) for position in range(count)]
    shift = estimate.mean - math.fsum(values) / count
    return tuple(min(estimate.high, max(estimate.low, value + shift)) for value in values)


def sale_going_on(
    windows: Iterable[Window], offer: Offer, sightings: Iterable[Sighting], as_of: date
) -> tuple[Sighting, Window | None] | None:
    """The sale sighting that tells a sale is on today, and its window if one spans it."""
    latest = max(sightings, key=lambda sighting: (sighting.day, sighting.sale), default=None)
    if latest is None or not latest.sale:
        return None
    for window in windows:
        if window.supplier == offer.supplier and window.first <= latest.day and as_of <= window.last:
            return latest, window
    fresh = (as_of - latest.day).days <= SALE_FRESH_DAYS
    return (latest, None) if fresh else None


def sales_ahead(
    windows: Iterable[Window], *, as_of: date, weeks: int, regular_seen: date | None, on_now: Window | None
) -> list[ExpectedSale]:
    """The sales that an offer's windows promise within the horizon, earliest first.

    Parameters
    ----------
    windows : those that take in the offer
    regular_seen : day its regular price was last seen; None if not known

    Notes
    -----
    A window that has begun without the sale, as a regular price seen in it shows, keeps the share of its chance that is
    left of its days.
    """
    last_day = as_of + timedelta(days=7 * weeks - 1)
    found = []
    for window in windows:
        if window.last < as_of or window.first > last_day or window is on_now:
            continue
        chance = window.chance
        if regular_seen is not None and window.first <= regular_seen:
            chance *= (window.last - regular_seen).days / ((window.last - window.first).days + 1)
        first = max(0, (window.first - as_of).days // 7)
        last = min(weeks - 1, (window.last - as_of).days // 7)
        depths = tuple(depth / 100 for depth in triangular_points(window.depth_percent))
        if chance > 0:
            found.append(
                ExpectedSale(
                    window.id, first, last, chance, depths, first=window.first, last=window.last, ground=window.ground
                )
            )
    return sorted(found, key=lambda sale: (sale.first_week, sale.window))


def sale_path(sales: Iterable[ExpectedSale], list_price: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Chance that any sale is on and the expected price if one is, week by week, both of shape (weeks,).

    Where windows overlap they are independent and the deepest on average counts.
    """
    weeks = len(list_price)
    none_on = np.ones(weeks)
    spent = np.zeros(weeks)
    for sale in sorted(sales, key=lambda sale: (-sale.mean_depth, sale.window)):
        span = slice(sale.first_week, sale.last_week + 1)
        counts = none_on[span] * sale.chance
        spent[span] += counts * list_price[span] * (1 - sale.mean_depth)
        none_on[span] *= 1 - sale.chance
    chance = 1 - none_on
    price = np.divide(spent, chance, out=list_price.copy(), where=chance > 0)
    return chance, price
