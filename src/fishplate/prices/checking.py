"""Which old prices to look up again first, and when to stop looking."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ..build import Build, Facts
from ..build.commerce import Offer
from .drift import DAYS_PER_YEAR
from .model import Outlook, PriceCheck, WeeklyPrice
from .priors import drift_table
from .seen import FRESH_DAYS, categories_of
from .stopping import reservation_value


def prices_to_check(
    build: Build,
    facts: Facts,
    outlooks: Mapping[str, Outlook],
    needs: Mapping[str, float],
    rates: Mapping[str, float],
    *,
    look_cost: float,
) -> tuple[PriceCheck, ...]:
    """For each missing part with several offers, the old prices worth the time it takes to look them up, in order.

    Parameters
    ----------
    needs : part -> how many are missing
    rates : currency -> home currency for one unit of it
    look_cost : own time and money one look-up takes [home currency]; above zero

    Notes
    -----
    An old price stands for a lognormal about its outlook whose spread grows with age by the category's spread of
    yearly drift. Weitzman's rule: the lowest reservation price first, as long as the best known price is above it.
    """
    found: list[PriceCheck] = []
    for part, missing in sorted(needs.items()):
        if missing <= 0:
            continue
        known, old = math.inf, []
        for offer in build.offers:
            outlook = outlooks[offer.id]
            if offer.part != part or offer.price.currency not in rates or not outlook.available[0]:
                continue
            cost = math.ceil(missing / offer.pack - 1e-9) * outlook.today * rates[offer.price.currency]
            price = _price_again(build, facts, offer, outlook, cost)
            if price is None:
                known = min(known, cost)
            else:
                old.append((reservation_value(price, look_cost), offer.id))
        if len(old) + (known < math.inf) > 1:
            found += [_check(build, offer, part, level) for level, offer in sorted(old) if level < known]
    return tuple(found)


def _price_again(build: Build, facts: Facts, offer: Offer, outlook: Outlook, cost: float) -> WeeklyPrice | None:
    """What looking an old price up again may find, for all that is missing; None where the price is still fresh."""
    age_days = 3650 if outlook.seen_on is None else min(3650, (facts.as_of - outlook.seen_on).days)
    if age_days <= FRESH_DAYS:
        return None
    spread = drift_table().prior(categories_of(build, offer), offer.price.currency).spread
    return WeeklyPrice((cost,), (1.0,), spread * math.sqrt(age_days / DAYS_PER_YEAR))


def _check(build: Build, offer_id: str, part: str, level: float) -> PriceCheck:
    seller = build.find("suppliers", build.find("offers", offer_id).supplier).name
    text = (
        f"{build.find('parts', part).name}: look up the price at {seller} again, unless the lot is known for "
        f"{level:.0f} {build.owner.currency} or less by then."
    )
    return PriceCheck(offer_id, part, level, text)
