"""Which old prices to look up again first, and when to stop looking."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ..build import Build, Facts, offer_contents
from .drift import drift_table
from .model import Outlook, PriceCheck, WeeklyPrice
from .outlook import FRESH_DAYS, categories_of
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
    for part in sorted(needs):
        known, boxes = math.inf, []
        for offer in build.offers:
            if needs[part] <= 0 or offer.part != part or offer.price.currency not in rates:
                continue
            outlook = outlooks[offer.id]
            units = math.ceil(needs[part] / offer_contents(build, offer)[part] - 1e-9)
            cost = units * outlook.today * rates[offer.price.currency]
            age_days = math.inf if outlook.seen_on is None else (facts.as_of - outlook.seen_on).days
            if age_days <= FRESH_DAYS or not outlook.available[0]:
                known = min(known, cost) if outlook.available[0] else known
                continue
            spread = drift_table().prior(categories_of(build, offer)).spread
            sigma = spread * math.sqrt(min(age_days, 3650) / 365.25)
            boxes.append((reservation_value(WeeklyPrice((cost,), (1.0,), sigma), look_cost), offer))
        if len(boxes) + (known < math.inf) < 2:
            continue
        for reservation, offer in sorted(boxes, key=lambda box: (box[0], box[1].id)):
            if reservation < known:
                name, seller = build.find("parts", part).name, build.find("suppliers", offer.supplier).name
                text = (
                    f"{name}: look up the price at {seller} again, unless the lot is known for "
                    f"{reservation:.0f} {build.owner.currency} or less by then."
                )
                found.append(PriceCheck(offer.id, part, reservation, text))
    return tuple(found)
