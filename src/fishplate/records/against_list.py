"""What was paid against the price the offer had then."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from ..build import Build, Money
from ..build.commerce import Offer, Sighting
from ..build.events import Order, OrderLine
from ..build.quotes import regular_before_quote
from .model import LineAgainstList, ToHome


def against_list(build: Build, as_of: date, to_home: ToHome) -> tuple[LineAgainstList, ...]:
    """Every ordered line against its offer's regular price at the time, latest first.

    The regular price is the last one seen up to the day of the order; if none was seen by then, the first one after it.
    """
    orders = [event for event in build.events if isinstance(event, Order) and event.day <= as_of]
    orders.sort(key=lambda order: (order.day, order.id), reverse=True)
    seen: dict[str, list[Sighting]] = defaultdict(list)
    for sighting in build.sightings:
        seen[sighting.offer].append(sighting)
    return tuple(_line(build, order, line, seen[line.offer], to_home) for order in orders for line in order.lines)


def _line(
    build: Build, order: Order, line: OrderLine, sightings: Sequence[Sighting], to_home: ToHome
) -> LineAgainstList:  # fmt: skip
    listed: Money | None
    seen: date | None
    if line.listed is not None and line.listed.currency == line.price.currency:
        listed, seen = line.listed, order.day  # frozen with the order
    else:
        listed, seen = _listed(sightings, build.find("offers", line.offer), order.day, line.price.currency)
    saved = None if listed is None else (listed - line.price) * Decimal(str(line.quantity))
    home = None if saved is None else to_home(saved, order.day)
    return LineAgainstList(order.id, order.day, line.offer, line.quantity, line.price, listed, seen, saved, home)


def listed_price(build: Build, offer: Offer, day: date, currency: str) -> Money | None:
    """The regular price of an offer last seen up to a day, in a currency; None if none was seen by then."""
    price, seen = _listed(build.sightings, offer, day, currency)
    return price if seen is not None and seen <= day else None


def _listed(
    sightings: Sequence[Sighting], offer: Offer, day: date, currency: str
) -> tuple[Money | None, date | None]:  # fmt: skip
    seen = [
        (sighting.day, sighting.price)
        for sighting in sightings
        if sighting.offer == offer.id and not sighting.sale and sighting.price.currency == currency
    ]
    mine = [sighting for sighting in sightings if sighting.offer == offer.id]
    quoted = regular_before_quote(offer, mine, max(day, offer.seen or day)) is not None
    if quoted:  # what was quoted to the owner is no regular price
        seen = [found for found in seen if found != (offer.seen, offer.price)]
    elif offer.seen is not None and offer.price.currency == currency:
        seen.append((offer.seen, offer.price))
    seen.sort(key=lambda found: found[0])
    before = [found for found in seen if found[0] <= day]
    found = before[-1:] or seen[:1]
    return (found[0][1], found[0][0]) if found else (None, None)
