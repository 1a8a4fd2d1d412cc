"""What was seen of each offer's price up to a day: regular prices, and sales by their flag or by a dip that passed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ..build import Assumption, Build, offer_contents
from ..build.commerce import Offer, Sighting
from ..build.quotes import regular_before_quote

# A regular price this young is taken as today's; an older one is carried forward with its drift.
FRESH_DAYS = 28
# A price this far below the ones seen before and after it, each within so many days, was a sale that nobody flagged.
DIP, DIP_DAYS = 0.07, 120
# Where more than this share of an offer's prices would be dips, it is how its price scatters.
MOST_DIPS = 0.25


@dataclass(frozen=True, slots=True)
class SaleSeen:
    """A sale price seen in the past.

    Parameters
    ----------
    depth : reduction against the regular price seen nearest to it, as a share [-]
    flagged : it was written down as a sale; otherwise the price dipped and came back
    """

    day: date
    depth: float
    flagged: bool


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen of an offer, in its currency, earliest first.

    Parameters
    ----------
    regular : day and regular price, the offer's own price among them
    sightings : all in its currency, sales too
    known_day : whether the day of the last regular price is known
    quoted : the offer's own price is a quote below the regular one, which it is told apart from
    """

    regular: tuple[tuple[date, float], ...]
    sightings: tuple[Sighting, ...]
    sales: tuple[SaleSeen, ...]
    known_day: bool
    assumptions: tuple[Assumption, ...]
    quoted: bool = False


def seen_offers(build: Build, as_of: date) -> Mapping[str, Seen]:
    """What was seen of every offer up to a day, by offer id."""
    sightings: dict[str, list[Sighting]] = {}
    for sighting in build.sightings:
        if sighting.day <= as_of:
            sightings.setdefault(sighting.offer, []).append(sighting)
    return {offer.id: seen_of(offer, sightings.get(offer.id, ()), as_of) for offer in build.offers}


def categories_of(build: Build, offer: Offer) -> tuple[str, ...]:
    """Categories of the parts an offer brings, each once, in order of the words."""
    return tuple(sorted({build.find("parts", part).category for part in offer_contents(build, offer)}))


def seen_of(offer: Offer, sightings: Sequence[Sighting], as_of: date) -> Seen:
    """What was seen of one offer; its own price is a regular sighting too, on the day it was seen, if it is no quote.

    Parameters
    ----------
    sightings : of this offer, none after as_of
    """
    about = f"offer {offer.id}"
    notes: list[Assumption] = []
    usable = sorted((s for s in sightings if s.price.currency == offer.price.currency), key=lambda s: (s.day, s.sale))
    if len(usable) < len(sightings):
        text = f"prices seen in another currency than {offer.price.currency} are left out"
        notes.append(Assumption("sighting-currency", about, text))
    points = [(s.day, float(s.price.amount)) for s in usable if not s.sale]
    own = float(offer.price.amount)
    known_day, quoted = True, regular_before_quote(offer, usable, as_of) is not None
    if quoted:
        points = [point for point in points if point != (offer.seen, own)]
    elif offer.seen is not None and offer.seen <= as_of:
        if all(day != offer.seen for day, _ in points):
            points.append((offer.seen, own))
    elif not points:
        text = "the day its price was seen is not known, or still ahead; the price is taken as today's"
        notes.append(Assumption("price-day-unknown", about, text))
        points, known_day = [(as_of, own)], False
    points.sort()
    low = _dips(points)
    regular = tuple(point for position, point in enumerate(points) if position not in low)
    age_days = (as_of - regular[-1][0]).days
    if age_days > FRESH_DAYS:
        text = f"its regular price was last seen {age_days // 7} weeks ago and is carried forward"
        notes.append(Assumption("price-old", about, text))
    sales = [(s.day, float(s.price.amount), True) for s in usable if s.sale]
    sales += [(*points[position], False) for position in low]
    found = [
        SaleSeen(day, 1 - price / usual, flagged)
        for day, price, flagged in sorted(sales)
        if (usual := _nearest(regular, day)) > price
    ]
    return Seen(regular, tuple(usable), tuple(found), known_day, tuple(notes), quoted)


def _dips(points: Sequence[tuple[date, float]]) -> frozenset[int]:
    """Positions of prices that lie DIP below the ones before and after; none where they are too many to be sales."""
    found = set()
    for position in range(1, len(points) - 1):
        (before, earlier), (day, price), (after, later) = points[position - 1 : position + 2]
        near = (day - before).days <= DIP_DAYS and (after - day).days <= DIP_DAYS
        if near and price <= (1 - DIP) * min(earlier, later):
            found.add(position)
    return frozenset(found) if len(found) <= MOST_DIPS * len(points) else frozenset()


def _nearest(regular: Sequence[tuple[date, float]], day: date) -> float:
    """The regular price seen nearest to a day."""
    return min(regular, key=lambda point: (abs((point[0] - day).days), point[0]))[1]
