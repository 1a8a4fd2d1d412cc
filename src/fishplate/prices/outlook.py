"""The expected price of each offer, week by week."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from ..build import Assumption, Build, Facts, offer_contents
from ..build.commerce import Offer, PriceChange, SaleWindow, Sighting
from .drift import DAYS_PER_YEAR, Drift, DriftTable, announced_factor, changes_for, drift_assumption, drift_of
from .drift import drift_table as usual_table
from .model import BoolArray, ExpectedSale, FloatArray, Outlook
from .sales import sale_going_on, sale_path, sales_ahead
from .wording import format_chance, format_day, format_price

# A regular price this young is taken as today's; an older one is carried forward with its drift.
FRESH_DAYS = 28


@dataclass(frozen=True, slots=True)
class _Seen:
    """What was seen of an offer up to as_of, in its currency, earliest first."""

    regular: tuple[tuple[date, float], ...]
    sightings: tuple[Sighting, ...]
    known_day: bool
    assumptions: tuple[Assumption, ...]


def outlooks(build: Build, facts: Facts, *, weeks: int, table: DriftTable | None = None) -> Mapping[str, Outlook]:
    """What every offer's price is expected to do.

    Parameters
    ----------
    weeks : how far to look ahead [weeks]
    table : how prices move by category; the one that comes with the program if None

    Returns
    -------
    Outlooks by offer id

    Raises
    ------
    ValueError
        if weeks is below 1
    """
    if weeks < 1:
        raise ValueError("an outlook spans at least one week")
    sightings: dict[str, list[Sighting]] = {}
    for sighting in build.sightings:
        if sighting.day <= facts.as_of:
            sightings.setdefault(sighting.offer, []).append(sighting)
    priors = table or usual_table()
    return {
        offer.id: _outlook(build, offer, sightings.get(offer.id, []), facts.as_of, weeks, priors)
        for offer in build.offers
    }


def _outlook(
    build: Build, offer: Offer, sightings: Sequence[Sighting], as_of: date, weeks: int, table: DriftTable
) -> Outlook:
    categories = categories_of(build, offer)
    changes = changes_for(build, offer, categories)
    prior = table.prior(categories)
    seen = _seen(offer, sightings, as_of)
    drift = drift_of(seen.regular, changes, prior)
    last_day, last_price = seen.regular[-1]
    list_price = _list_path(last_price, last_day, drift, changes, as_of, weeks)
    going_on = sale_going_on(build, offer, seen.sightings, as_of)
    sales = _sales(build, offer, seen, going_on, list_price, as_of)
    now, seen_on = last_price, (last_day if seen.known_day else None)
    if going_on is not None:
        now, seen_on = float(going_on[0].price.amount), going_on[0].day
    chance, sale_price = sale_path(sales, list_price)
    return Outlook(
        offer=offer.id,
        name=build.find("parts", offer.part).name if offer.part else build.find("kits", offer.kit or "").name,
        supplier=offer.supplier,
        currency=offer.price.currency,
        as_of=as_of,
        now=now,
        seen_on=seen_on,
        expected=(1 - chance) * list_price + chance * sale_price,
        list_price=list_price,
        sale_chance=chance,
        sale_price=sale_price,
        drift_yearly=drift.yearly,
        sigma_weekly=drift.wander_weekly,
        scatter=drift.scatter,
        available=_available(offer, as_of, weeks),
        sales=tuple(sales),
        text=_text(offer, now, seen_on, drift, sales, as_of),
        assumptions=(*seen.assumptions, drift_assumption(f"offer {offer.id}", prior, drift)),
    )


def _sales(
    build: Build,
    offer: Offer,
    seen: _Seen,
    going_on: tuple[Sighting, SaleWindow | None] | None,
    list_price: FloatArray,
    as_of: date,
) -> list[ExpectedSale]:
    """The sale that is on, if one was seen to be, and those the windows promise."""
    window = going_on[1] if going_on else None
    weeks = len(list_price)
    ahead = sales_ahead(
        build,
        offer,
        categories_of(build, offer),
        as_of=as_of,
        weeks=weeks,
        regular_seen=seen.regular[-1][0] if seen.known_day else None,
        on_now=window,
    )
    if going_on is None:
        return ahead
    last_week = min(weeks - 1, (window.last - as_of).days // 7) if window else 0
    depth = 1 - float(going_on[0].price.amount) / float(list_price[0]) if list_price[0] > 0 else 0.0
    return [ExpectedSale(window.id if window else "", 0, last_week, 1.0, (depth,), seen=True), *ahead]


def categories_of(build: Build, offer: Offer) -> tuple[str, ...]:
    """Categories of the parts an offer brings, each once, in order of the words."""
    return tuple(sorted({build.find("parts", part).category for part in offer_contents(build, offer)}))


def _seen(offer: Offer, sightings: Sequence[Sighting], as_of: date) -> _Seen:
    """The offer's own price is a regular sighting too, on the day it was seen."""
    about = f"offer {offer.id}"
    notes: list[Assumption] = []
    usable = sorted((s for s in sightings if s.price.currency == offer.price.currency), key=lambda s: (s.day, s.sale))
    if len(usable) < len(sightings):
        text = f"prices seen in another currency than {offer.price.currency} are left out"
        notes.append(Assumption("sighting-currency", about, text))
    regular = [(s.day, float(s.price.amount)) for s in usable if not s.sale]
    own = float(offer.price.amount)
    if offer.seen is not None and offer.seen <= as_of:
        if all(day != offer.seen for day, _ in regular):
            regular.append((offer.seen, own))
    elif not regular:
        text = "the day its price was seen is not known, or still ahead; the price is taken as today's"
        notes.append(Assumption("price-day-unknown", about, text))
        return _Seen(((as_of, own),), tuple(usable), known_day=False, assumptions=tuple(notes))
    regular.sort()
    age_days = (as_of - regular[-1][0]).days
    if age_days > FRESH_DAYS:
        text = f"its regular price was last seen {age_days // 7} weeks ago and is carried forward"
        notes.append(Assumption("price-old", about, text))
    return _Seen(tuple(regular), tuple(usable), known_day=True, assumptions=tuple(notes))


def _list_path(
    price: float, seen: date, drift: Drift, changes: Sequence[PriceChange], as_of: date, weeks: int
) -> FloatArray:
    """Regular price on the first day of each week: drift, and the steps that were announced."""
    start = seen if (as_of - seen).days > FRESH_DAYS else as_of
    years = ((as_of - start).days + 7.0 * np.arange(weeks)) / DAYS_PER_YEAR
    steps = np.array([announced_factor(changes, seen, as_of + timedelta(days=7 * week)) for week in range(weeks)])
    return np.asarray(price * (1 + drift.yearly) ** years * steps, dtype=np.float64)


def _available(offer: Offer, as_of: date, weeks: int) -> BoolArray:
    days = np.arange(weeks) * 7
    first = (offer.available_from - as_of).days if offer.available_from else -1
    last = (offer.available_until - as_of).days if offer.available_until else 7 * weeks
    return np.asarray((days >= first) & (days <= last))


def _text(
    offer: Offer, now: float, seen_on: date | None, drift: Drift, sales: Sequence[ExpectedSale], as_of: date
) -> str:
    day = f" on {format_day(seen_on)}" if seen_on else ""
    parts = [f"{format_price(now, offer.price.currency)}{day}", f"{100 * drift.yearly:+.1f} % a year"]
    for sale in sales[:2]:
        if sale.seen:
            parts.append("a sale is on now")
            continue
        first = as_of + timedelta(days=7 * sale.first_week)
        when = "may be on now" if sale.first_week == 0 else f"may begin about {format_day(first)}"
        parts.append(f"a sale of about {100 * sale.mean_depth:.0f} % {when} (chance {format_chance(sale.chance)})")
    return "; ".join(parts) + "."
