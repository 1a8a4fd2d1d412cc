"""Until when each offer may be waited for, by the plan's own dates."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from ..build import date_at, offer_contents
from ..build.commerce import Offer, Route
from ..build.defaults import LOOK_HOURS
from ..prices import Waits, critical_ratio
from .demand import Entry
from .loop import Round
from .model import FloatArray, OfferTiming
from .needs import UNDATED_CURVE
from .offered import packs_wanted
from .order_weeks import HORIZON_WEEKS
from .study import LAST_WEEK, Studied

# Where nothing says when a part is needed, its price is taken to matter for half a year.
OPEN_END_WEEKS: Final = 26
SLOPE_WEEKS: Final = 4.0
FIRST_NEEDED: Final = 0.1
# A curve of waiting is kept at about so many weeks.
MOST_KNOTS: Final = 12


def offer_timings(studied: Studied, chosen: Round) -> tuple[OfferTiming, ...]:
    """Every offer of something missing that can be ordered."""
    return tuple(_timings(studied, chosen))


def _timings(studied: Studied, chosen: Round) -> Iterator[OfferTiming]:
    situation, demand = studied.situation, chosen.demand
    look = LOOK_HOURS * situation.hour_worth
    ways = _cheapest_ways(chosen)
    routes = {offer: entries[0].way.route for offer, entries in ways.items()}
    for offer in situation.build.offers:
        counts = {p: n for p, n in offer_contents(situation.build, offer).items() if demand.missing.get(p, 0) > 0}
        if not counts or offer.id not in routes:
            continue
        units = packs_wanted(demand.missing, counts)
        needs = [demand.needs[part] for part in counts if part in demand.needs]
        first = np.minimum.reduce(needs) if needs else None
        week = _last_safe(studied, offer, routes[offer.id], first, list(counts))
        yield OfferTiming(
            offer=offer.id,
            units=units,
            needed=None if first is None else date_at(situation.as_of, float(np.quantile(first, FIRST_NEEDED))),
            last_safe=date_at(situation.as_of, week),
            keeping_per_week=situation.keeping_per_week,
            look_cost=look / units,
            waits=Waits() if first is None else _waits(ways[offer.id]),
        )


def _cheapest_ways(chosen: Round) -> dict[str, list[Entry]]:
    """Offer -> its candidates by the way home of the cheapest of them, one a week, by week."""
    best: dict[str, Entry] = {}
    for entry in chosen.market.entries.values():
        known = best.get(entry.offer.id)
        if known is None or entry.candidate.cost < known.candidate.cost:
            best[entry.offer.id] = entry
    found: dict[str, dict[int, Entry]] = {offer: {} for offer in best}
    for entry in chosen.market.entries.values():
        if entry.way == best[entry.offer.id].way:
            found[entry.offer.id].setdefault(entry.week, entry)
    return {offer: [by_week[week] for week in sorted(by_week)] for offer, by_week in found.items()}


def _waits(entries: list[Entry]) -> Waits:
    """What ordering in a week costs beyond the price, as the purchases are reckoned."""
    step = max(1, -(-len(entries) // MOST_KNOTS))
    kept = [*entries[:-1:step], entries[-1]]
    paid = [entry.candidate.cost - entry.extras for entry in kept]
    return Waits(
        weeks=tuple(float(entry.week) for entry in kept),
        late=tuple(round(entry.late / entry.count, 2) for entry in kept),
        keeping=tuple(
            round((entry.carrying + entry.risk) / cost, 5) if cost > 0 else 0.0
            for entry, cost in zip(kept, paid, strict=True)
        ),
    )


def _last_safe(studied: Studied, offer: Offer, route: Route | None, need: FloatArray | None, parts: list[str]) -> float:
    """The moment to order at the latest: late about as often as a week's lateness and a week's keeping weigh, weeks."""
    if need is None:
        return float(OPEN_END_WEEKS)
    situation = studied.situation
    latest = need - studied.deliveries.lead_weeks(offer) - studied.deliveries.travel_weeks(offer, route)
    late = max(_late_per_week(studied, part) for part in parts) * situation.week_delay_cost
    early = situation.home(offer.price) * situation.keeping_per_week
    chance_late = 1 - critical_ratio(late, early) if late + early > 0 else 0.5
    week = float(np.quantile(np.minimum(latest, LAST_WEEK), chance_late))
    return min(max(0.0, week), HORIZON_WEEKS - 1.0)


def _late_per_week(studied: Studied, part: str) -> float:
    """How far the finish moves for a week that a part is late, taken over the first weeks of lateness."""
    weeks, moved = studied.late_weeks.get(part, UNDATED_CURVE)
    return float(np.interp(SLOPE_WEEKS, weeks, moved)) / SLOPE_WEEKS
