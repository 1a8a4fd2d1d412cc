"""The best purchases for one future, had it been known beforehand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from math import inf

import numpy as np

from ..build import week_of
from ..buy import Candidate, PurchasePlan, PurchaseProblem, recost_by_model, solve
from .demand import MISSED_TRIP_WEEKS, Entry
from .futures import Futures
from .loop import Round
from .model import FloatArray
from .study import Studied
from .tried import READY_WEEKS

SECONDS, GAP, CHEAPEST_WEEKS = 0.3, 0.2, 2


class Foresight:
    """Finds what would have been bought in single futures of a world, had they been known.

    Parameters
    ----------
    drawn : the futures
    """

    def __init__(self, studied: Studied, chosen: Round, drawn: Futures) -> None:
        self.studied, self.chosen, self.drawn = studied, chosen, drawn
        self.problem: PurchaseProblem = chosen.market.problem()
        groups: dict[tuple[str, str], list[Entry]] = defaultdict(list)
        for entry in chosen.market.entries.values():
            groups[entry.offer.id, entry.way.key].append(entry)
        self.planned: dict[str, set[int]] = defaultdict(set)
        for bought in chosen.purchase.lines:
            self.planned[chosen.market.entries[bought.candidate].offer.supplier].add(bought.week)
        self.groups = [(entries, self._moments(entries)) for entries in groups.values()]

    def best(self, future: int) -> PurchasePlan:
        """A good plan for one future: its prices, rates, deliveries and needs known; by local search from the plan.

        Lateness is counted part by part, as the purchase programme does.
        """
        known: dict[str, Candidate] = {}
        for entries, moments in self.groups:
            known |= self._candidates(entries, moments[:, future], future)
        candidates = tuple(known[candidate.key] for candidate in self.problem.candidates if candidate.key in known)
        shipments = {candidate.shipment for candidate in candidates}
        kept = tuple(shipment for shipment in self.problem.shipments if shipment.key in shipments)
        problem = replace(self.problem, candidates=candidates, shipments=kept)
        return solve(problem, recost=recost_by_model(problem), time_limit=SECONDS, gap=GAP, start=self.chosen.purchase)

    def _moments(self, entries: list[Entry]) -> FloatArray:
        """Arrival of each entry of one offer by one way, shape (entries, runs)."""
        first, runs, deliveries = entries[0], self.drawn.runs, self.studied.deliveries
        weeks = np.array([entry.week for entry in entries])[:, None]
        lead = deliveries.lead_weeks(first.offer)[:runs] * self.drawn.lead_factor
        if first.way.collection is None:
            return np.asarray(weeks + lead + deliveries.travel_weeks(first.offer, first.way.route)[:runs])
        trip, ready = week_of(self.studied.situation.as_of, first.way.collection.day), weeks + lead + READY_WEEKS
        return np.where(ready <= trip, trip, np.maximum(ready, trip + MISSED_TRIP_WEEKS))

    def _candidates(self, entries: list[Entry], moments: FloatArray, future: int) -> dict[str, Candidate]:
        market, situation, demand = self.chosen.market, self.studied.situation, self.chosen.demand
        first = entries[0]
        price = self.drawn.price(first.offer.id)[:, future]
        late, early, dated = np.zeros(len(entries)), np.zeros(len(entries)), 0
        for part in first.candidate.covers:
            need, curve = demand.needs.get(part), demand.late_weeks.get(part)
            if need is None or curve is None:
                continue
            dated += 1
            late = late + np.interp(np.maximum(0.0, moments - need[future]), *curve) * situation.week_delay_cost
            early = early + np.maximum(0.0, need[future] - moments)
        early = early / max(1, dated)
        found: dict[str, Candidate] = {}
        for entry, lateness, weeks in zip(entries, late.tolist(), early.tolist(), strict=True):
            candidate = entry.candidate
            line = market.door.line(entry.offer, entry.way.route, market.bands[candidate.shipment])
            paid = (line.cost_at_zero + line.cost_slope * float(price[entry.week]) * entry.level) * entry.count
            cost = paid * (1 + situation.keeping_per_week * weeks) + lateness / entry.whole + entry.risk
            value = line.value_slope * float(price[entry.week]) * entry.level * entry.count
            found[candidate.key] = replace(candidate, cost=cost, value=value)
        return self._worthy(entries, found)

    def _worthy(self, entries: list[Entry], found: dict[str, Candidate]) -> dict[str, Candidate]:
        """The cheapest weeks of an offer, and those in which the plan orders from its seller."""
        by_week: dict[int, float] = {}
        for entry in entries:
            cost = found[entry.candidate.key].cost
            by_week[entry.week] = min(by_week.get(entry.week, inf), cost)
        weeks = set(sorted(by_week, key=lambda week: (by_week[week], week))[:CHEAPEST_WEEKS])
        weeks |= self.planned[entries[0].offer.supplier]
        return {entry.candidate.key: found[entry.candidate.key] for entry in entries if entry.week in weeks}
