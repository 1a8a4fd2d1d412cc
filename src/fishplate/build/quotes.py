"""A price that was quoted to the owner alone, told from a seller's regular one."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from .commerce import Offer, Sighting


def regular_before_quote(offer: Offer, sightings: Iterable[Sighting], as_of: date) -> tuple[date, Sighting] | None:
    """The regular price an offer's own price undercuts for as long as the seller stands by it.

    Parameters
    ----------
    sightings : of this offer

    Returns
    -------
    The day of the offer's price, and the last regular price seen before it; None where the offer's price is the regular
    one: nothing says until when it holds, or none seen before is higher.
    """
    day = offer.seen or as_of
    if offer.price_until is None or day > as_of:
        return None
    regular = [s for s in sightings if not s.sale and s.day <= day and s.price.currency == offer.price.currency]
    last = max(regular, key=lambda sighting: sighting.day, default=None)
    return (day, last) if last is not None and last.price.amount > offer.price.amount else None
