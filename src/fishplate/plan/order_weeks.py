"""Weeks worth ordering in: now, sales and rises, holds ending, money coming, need dates less lead time, a thin grid."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from ..build import offer_contents, week_of
from ..build.commerce import Offer, Supplier
from ..prices import Outlook
from .choices import Choices
from .demand import READY_WEEKS, Demand
from .draws import Deliveries
from .situation import Situation

HORIZON_WEEKS = 104
TRIED_WEEKS = (1.0, 2.0, 4.0, 8.0, 13.0, 26.0)


@dataclass(frozen=True)
class OrderWeeks:
    """Finds the weeks in which offers may be ordered.

    Parameters
    ----------
    earliest : first week an offer may be ordered
    money : first weeks of the months whose money is waited for
    """

    situation: Situation
    outlooks: Mapping[str, Outlook]
    deliveries: Deliveries
    demand: Demand
    choices: Choices
    earliest: Callable[[Offer], float]
    money: frozenset[int] = frozenset()

    def of_supplier(self, supplier: Supplier, offers: list[Offer]) -> tuple[int, ...]:
        """Weeks worth ordering from a supplier in."""
        exact: set[int] = {0, 1, 2, 4, 8, 13, 26, *self.money}
        about: set[float] = set(range(8, HORIZON_WEEKS, 8))
        for offer in offers:
            exact |= self._price_weeks(offer)
            exact.add(math.ceil(self.earliest(offer) - 1e-9))
            about |= self._need_weeks(offer)
        for collection in self.situation.build.collections:
            if any(terms.route == collection.route for terms in supplier.freight):
                ready = week_of(self.situation.as_of, collection.day)
                leads = [self.deliveries.lead_quantile(offer, 0.9) for offer in offers]
                exact |= {math.floor(ready - lead - READY_WEEKS) for lead in leads}
        last = self._last_week(offers)
        return tuple(sorted({week for week in exact | {_thin(week) for week in about} if 0 <= week <= last}))

    def of_offer(self, offer: Offer) -> set[int]:
        """Weeks in which the last plan orders an offer, from which a held one may be if its hold is put off, at which
        the owner's choices begin or end, and in which the owner means to order it."""
        held, own = self.earliest(offer), own_week(self.situation, offer)
        planned = {week for week in self.demand.planned.get(offer.id, ()) if week < HORIZON_WEEKS}
        planned |= {week for week in self.choices.weeks(offer) if week < HORIZON_WEEKS}
        planned |= set() if own is None or own >= HORIZON_WEEKS else {own}
        if held == 0:
            return planned
        moments = [held + weeks for weeks in TRIED_WEEKS] + [weeks + 1 for weeks in TRIED_WEEKS]
        return planned | {math.ceil(moment - 1e-9) for moment in moments if moment <= self._last_week([offer])}

    def _price_weeks(self, offer: Offer) -> set[int]:
        """Weeks around which the expected price moves."""
        listed = self.outlooks[offer.id].expected
        moves = np.flatnonzero(np.abs(np.diff(listed)) > 0.01 * np.maximum(listed[:-1], 1e-9))
        return {int(week) for week in moves} | {int(week) + 1 for week in moves}

    def _need_weeks(self, offer: Offer) -> set[float]:
        found: set[float] = set()
        for part in offer_contents(self.situation.build, offer):
            need = self.demand.needs.get(part)
            if need is not None:
                lead = self.deliveries.lead_quantile(offer, 0.8) + 1
                found |= {math.floor(float(np.quantile(need, p)) - lead) for p in (0.02, 0.1, 0.3)}
        return found

    def _last_week(self, offers: list[Offer]) -> int:
        latest = 0.0
        for offer in offers:
            for part in offer_contents(self.situation.build, offer):
                need = self.demand.needs.get(part)
                latest = max(latest, 8.0 if need is None else float(np.quantile(need, 0.9)))
            latest = max(latest, self.earliest(offer))
        # every delay that waiting is priced at has to be possible
        return int(min(HORIZON_WEEKS - 1, max(latest + 4, 26)))


def own_week(situation: Situation, offer: Offer) -> int | None:
    """Week in which the owner means to order an offer, by the first day stated for a part it brings; None without."""
    parts = [
        situation.build.find("parts", part)
        for part in offer_contents(situation.build, offer)
        if situation.missing_parts.get(part, 0) > 0
    ]
    days = [part.order_on for part in parts if part.order_on is not None]
    return max(0, math.floor(week_of(situation.as_of, min(days)) + 1e-9)) if days else None


def _thin(week: float) -> int:
    """Far weeks are planned on a coarser grid: they are planned again before they come."""
    if week < 12:
        return int(week)
    return int(week) // 2 * 2 if week < 30 else int(week) // 4 * 4
