"""The expected price of each offer, week by week."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from ..build import Build, Facts
from ..build.commerce import Offer, PriceChange, Sighting
from ..build.words import day_words
from .drift import DAYS_PER_YEAR, Drift, announced_factor, changes_for, drift_assumption, drifts, slope_of
from .model import BoolArray, ExpectedSale, FloatArray, Ground, Outlook
from .priors import DriftPrior, drift_table
from .sales import sale_going_on, sale_path, sales_ahead
from .seen import FRESH_DAYS, Seen, categories_of, seen_offers
from .windows import Window, windows_ahead
from .wording import format_chance, format_price


@dataclass(frozen=True, slots=True)
class _Read:
    """One offer with all that its outlook is made of."""

    offer: Offer
    name: str
    seen: Seen
    changes: tuple[PriceChange, ...]
    prior: DriftPrior
    drift: Drift
    windows: tuple[Window, ...]


def outlooks(
    build: Build,
    facts: Facts,
    *,
    weeks: int,
    offers: Sequence[str] | None = None,
) -> Mapping[str, Outlook]:
    """What offers' prices are expected to do.

    Parameters
    ----------
    weeks : how far to look ahead [weeks]
    offers : ids of those wanted, all if None; what was seen of the others still counts for their category and seller

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
    wanted = tuple(offer.id for offer in build.offers) if offers is None else tuple(offers)
    found = _read(build, facts.as_of, weeks, frozenset(wanted))
    return {offer: _outlook(found[offer], facts.as_of, weeks) for offer in wanted}


def _read(build: Build, as_of: date, weeks: int, wanted: frozenset[str]) -> dict[str, _Read]:
    seen, table = seen_offers(build, as_of), drift_table()
    categories = {offer.id: categories_of(build, offer) for offer in build.offers}
    # parts without a category have nothing in common
    groups = {id_: tuple(map(str.lower, words)) if any(words) else id_ for id_, words in categories.items()}
    told = {groups[id_] for id_ in wanted}
    telling = [offer for offer in build.offers if groups[offer.id] in told]
    changes = {offer.id: changes_for(build, offer, categories[offer.id]) for offer in telling}
    priors = {offer.id: table.prior(categories[offer.id], offer.price.currency) for offer in telling}
    slopes = {id_: slope_of(seen[id_].regular, changes[id_], priors[id_]) for id_ in changes}
    found = drifts(slopes, priors, groups)
    windows = windows_ahead(build, seen, as_of, as_of + timedelta(days=7 * weeks))
    return {
        offer.id: _Read(
            offer,
            build.find("parts", offer.part).name if offer.part else build.find("kits", offer.kit or "").name,
            seen[offer.id],
            changes[offer.id],
            priors[offer.id],
            found[offer.id],
            tuple(window for window in windows if window.holds_for(offer, categories[offer.id])),
        )
        for offer in telling
        if offer.id in wanted
    }


def _outlook(read: _Read, as_of: date, weeks: int) -> Outlook:
    offer, seen, drift = read.offer, read.seen, read.drift
    last_day, last_price = seen.regular[-1]
    list_price = _list_path(last_price, last_day, drift, read.changes, as_of, weeks)
    if not seen.quoted and offer.price_until is not None:
        held = 7 * np.arange(weeks) <= (offer.price_until - as_of).days
        list_price = np.where(held, last_price, list_price)
    going_on = sale_going_on(read.windows, offer, seen.sightings, as_of)
    sales = _sales(read, going_on, list_price, as_of)
    now, seen_on = last_price, (last_day if seen.known_day else None)
    if going_on is not None:
        now, seen_on = float(going_on[0].price.amount), going_on[0].day
    quote = _quote(read, list_price, as_of)
    if quote is not None and (going_on is None or float(offer.price.amount) < now):
        sales = [quote, *(sale for sale in sales if not sale.seen)]
        now, seen_on = float(offer.price.amount), offer.seen
    chance, sale_price = sale_path(sales, list_price)
    if quote is not None:  # what was quoted does not drift with the regular price
        sale_price[: quote.last_week + 1] = np.minimum(sale_price[: quote.last_week + 1], float(offer.price.amount))
    return Outlook(
        offer=offer.id,
        name=read.name,
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
        assumptions=(*seen.assumptions, drift_assumption(f"offer {offer.id}", read.prior, drift)),
        grounds=tuple(_grounds(read, sales, as_of)),
    )


def _sales(
    read: _Read, going_on: tuple[Sighting, Window | None] | None, list_price: FloatArray, as_of: date
) -> list[ExpectedSale]:
    """The sale that is on, if one was seen to be, and those the windows promise."""
    window = going_on[1] if going_on else None
    weeks = len(list_price)
    ahead = sales_ahead(
        read.windows,
        as_of=as_of,
        weeks=weeks,
        regular_seen=read.seen.regular[-1][0] if read.seen.known_day else None,
        on_now=window,
    )
    if going_on is None:
        return ahead
    last_week = min(weeks - 1, (window.last - as_of).days // 7) if window else 0
    depth = 1 - float(going_on[0].price.amount) / float(list_price[0]) if list_price[0] > 0 else 0.0
    ground = f"its sale price was seen on {day_words(going_on[0].day)}"
    on = ExpectedSale(
        window=window.id if window else "",
        first_week=0,
        last_week=last_week,
        chance=1.0,
        depths=(depth,),
        seen=True,
        first=window.first if window else None,
        last=window.last if window else None,
        ground=ground,
    )
    return [on, *ahead]


def _quote(read: _Read, list_price: FloatArray, as_of: date) -> ExpectedSale | None:
    """A quote that still holds, as a price surely below the regular one until its last day."""
    offer, until = read.offer, read.offer.price_until
    depth = 1 - float(offer.price.amount) / float(list_price[0]) if list_price[0] > 0 else 0.0
    if not read.seen.quoted or until is None or until < as_of or depth <= 0:
        return None
    return ExpectedSale(
        window="",
        first_week=0,
        last_week=min(len(list_price) - 1, (until - as_of).days // 7),
        chance=1.0,
        depths=(depth,),
        seen=True,
        first=offer.seen,
        last=until,
        ground="it was quoted to you",
        quoted=True,
    )


def _list_path(
    price: float, seen: date, drift: Drift, changes: Sequence[PriceChange], as_of: date, weeks: int
) -> FloatArray:
    """Regular price on the first day of each week: drift, and the steps that were announced."""
    start = seen if (as_of - seen).days > FRESH_DAYS else as_of
    years = ((as_of - start).days + 7.0 * np.arange(weeks)) / DAYS_PER_YEAR
    steps = np.ones(weeks)
    if changes:
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
    day = f" on {day_words(seen_on)}" if seen_on else ""
    parts = [f"{format_price(now, offer.price.currency)}{day}", f"{100 * drift.yearly:+.1f} % a year"]
    for sale in sales[:2]:
        if sale.quoted:
            parts.append(f"quoted to you, until {day_words(sale.last)}" if sale.last else "quoted to you")
            continue
        if sale.seen:
            parts.append("a sale is on now")
            continue
        first = as_of + timedelta(days=7 * sale.first_week)
        first = first if sale.first is None else max(first, sale.first)
        when = "may be on now" if first <= as_of else f"may begin about {day_words(first)}"
        parts.append(f"a sale of about {100 * sale.mean_depth:.0f} % {when} (chance {format_chance(sale.chance)})")
    return "; ".join(parts) + "."


def _grounds(read: _Read, sales: Sequence[ExpectedSale], as_of: date) -> Iterator[Ground]:
    """What an outlook rests on: the rise by its weights, announced changes, sales, and until when it is sold."""
    drift, prior = read.drift, read.prior
    if drift.own:
        yield Ground(f"its own {drift.own_sightings} regular prices seen", drift.own)
    if drift.category:
        yield Ground("what other offers of its category did", drift.category)
    usual = (
        f"consumer prices, {100 * prior.index:g} % a year ({prior.index_source}), and {100 * prior.over_index:g} % "
        "more for its category (common practice)"
    )
    yield Ground(usual, 1 - drift.own - drift.category)
    for change in read.changes:
        if change.day > as_of:
            note = f": {change.note}" if change.note else ""
            yield Ground(f"{change.percent:+g} % announced for {day_words(change.day)}{note}")
    for sale in sales:
        if sale.quoted and sale.last is not None:
            yield Ground(f"they stand by {format_price(float(read.offer.price.amount), read.offer.price.currency)} for "
                         f"you until {day_words(sale.last)}; then the regular price counts again")  # fmt: skip
            continue
        when = "a sale is on now" if sale.seen or sale.first is None else f"a sale from {day_words(sale.first)}"
        yield Ground(f"{when}: {sale.ground}")
    until = read.offer.price_until
    if until is not None and not read.seen.quoted and until >= as_of:
        yield Ground(f"the seller stands by its price until {day_words(until)}")
    if until is not None and read.seen.quoted and until < as_of:
        yield Ground(f"what was quoted to you ended on {day_words(until)}; the regular price counts again")
    if read.offer.available_until is not None and read.offer.available_until >= as_of:
        yield Ground(f"it can be ordered until {day_words(read.offer.available_until)}")
