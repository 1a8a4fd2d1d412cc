"""What one future would have cost at best, had it been known: the best purchases found, and what none can undercut."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..buy import Candidate, PurchasePlan, PurchaseProblem, Shipment, recost_by_model, solve
from .demand import Entry
from .every_way import MOST_WAYS, Choice, best_of_all, bought
from .futures import Futures
from .loop import Round
from .market import Market
from .model import FloatArray
from .offered import month_index
from .study import Studied
from .tried import MARGIN, Bought, Trier

FEW, VERY_MANY = 2_500, 30_000
"""Candidates up to which the best is sought until it is proven, and from which few futures are looked at."""
FUTURES_OF_FEW, FUTURES_OF_MANY, FUTURES_OF_VERY_MANY = 20, 8, 3
"""Futures that are looked at where there are few candidates, many, and very many."""
IN_FULL = 2.0
CHARGES_OF_FEW: Final = (0.5, IN_FULL, 0.5, 1.0, 0.5, 1.0)
CHARGES_OF_MANY: Final = (1.0, IN_FULL)
"""How lateness is charged, one after another: half or all of each offer's share in it, for a bound, or all of it."""
FEW_SECONDS, SECONDS = 2.0, 1.0
GAP = 0.002
"""As good as proven, where there are many candidates."""
CLOSE = 0.5
"""Between what was found and what is proven no more is sought than this [EUR]."""


@dataclass(frozen=True, slots=True)
class _Group:
    """One offer by one way at one price by count, week by week.

    Parameters
    ----------
    bands : shipment that stands for a band -> the candidate of each entry in it, still without its price
    early : weeks that each entry lies in each future; late : what it costs by coming late, all else in hand; shape
        (entries, runs) each
    risk : what may not fit, shape (entries,) [home currency]
    share : of a finish put off, what this offer may be charged with, so that no finish is charged twice [-]
    """

    entries: list[Entry]
    bands: Mapping[str, list[Candidate]]
    weeks: FloatArray
    early: FloatArray
    late: FloatArray
    risk: FloatArray
    share: float


@dataclass(frozen=True, slots=True)
class Regret:
    """What knowing each future beforehand would have saved, at least and at most, shape (runs,), home currency."""

    least: FloatArray
    most: FloatArray


class Foresight:
    """Finds what would have been bought in single futures, had they been known.

    Parameters
    ----------
    runs : in how many futures, the first of those drawn; None: the more, the fewer candidates there are

    Notes
    -----
    The best is over the weeks, offers and ways the plan chose from, for the parts it buys, within the money at expected
    prices. A finish is put off by at least what any one purchase alone puts it off, so a mean of these over all
    purchases, with weights that add up to one, is a bound; and where half of it is charged, what is left over for one
    late purchase is the other half. It takes for granted that nothing finishes sooner because a part comes later.
    """

    def __init__(self, studied: Studied, chosen: Round, runs: int | None = None) -> None:
        self.market = chosen.market
        self.problem = _bought_only(self.market.problem(), chosen.purchase)
        self.few = len(self.problem.candidates) <= FEW
        many = FUTURES_OF_MANY if len(self.problem.candidates) < VERY_MANY else FUTURES_OF_VERY_MANY
        runs = runs or (FUTURES_OF_FEW if self.few else many)
        self.trier = Trier(studied, chosen, min(runs, studied.situation.runs))
        by_offer: dict[tuple[str, str, int, float], dict[int, Entry]] = defaultdict(dict)
        for entry in self.market.entries.values():
            by_offer[entry.offer.id, entry.way.key, entry.count, entry.level].setdefault(entry.week, entry)
        self._entries = [[found[week] for week in sorted(found)] for found in by_offer.values()]
        self._shares = _shares(self.market, self.problem)
        self._each = _one_line_each(self._entries, self.market, self.problem)
        self._shipments: dict[str, Shipment] = {}
        self._groups: dict[float, list[_Group]] = {}
        self.base = self.trier.delay([], [])

    def regret(self, drawn: Futures, plan: Bought, others: Iterable[Bought], tell: Callable[[float], None]) -> Regret:
        """What a plan costs more than the best there was in each future, by the linear model.

        Parameters
        ----------
        others : purchases that may be better; tell : told the share that is done
        """
        runs = self.trier.runs
        seen = drawn.first(runs)
        cost, *rest = (self.trier.cost(bought.first(runs).modelled(), seen) for bought in (plan, *others))
        known, below = self.best_in_each(seen, np.minimum.reduce([cost, *rest]), tell)
        return Regret(cost - known, cost - below)

    def best_in_each(
        self, drawn: Futures, known: FloatArray, tell: Callable[[float], None]
    ) -> tuple[FloatArray, FloatArray]:
        """Look for the best purchases in every future, one after another, or in all at once where there are few ways.

        Parameters
        ----------
        known : cost of the best purchases known so far, by the linear model, shape (runs,)

        Returns
        -------
        the same with what was found; what no purchases undercut; shape (runs,) each, home currency
        """
        if self._each:
            return best_of_all(self.trier, drawn, self._choices(drawn), self.base, known)
        below = np.zeros(known.shape)
        for future in range(len(known)):
            known, below[future] = self.best(drawn, future, known)
            tell((future + 1) / len(known))
        return known, np.minimum(below, known)

    def best(self, drawn: Futures, future: int, known: FloatArray) -> tuple[FloatArray, float]:
        """Look for the best purchases in one future.

        Parameters
        ----------
        known : cost of the best purchases known so far in each future, by the linear model, shape (runs,)

        Returns
        -------
        the same with what was found; what no purchases undercut in this future, home currency
        """
        situation = self.trier.studied.situation
        below, close = 0.0, situation.in_home(CLOSE) if self.few else GAP * float(known[future])
        most, plan = np.inf, None
        for charge in CHARGES_OF_FEW if self.few else CHARGES_OF_MANY:
            found = self._solved(drawn, future, most, charge, plan)
            if found is None:
                return known, float(known[future])
            plan, entries = found
            lines = [entries[line.candidate] for line in plan.lines]
            if not plan.cash_over:
                known = np.minimum(known, self.trier.cost(bought(lines, [line.units for line in plan.lines]), drawn))
            if charge < IN_FULL:
                least = float(self.base[future]) + plan.bound
                below = max(below, least)
                if charge < 1.0:
                    most = (float(known[future]) - least) / (1.0 - charge)
            if known[future] - below <= close:
                break
        return known, min(below, float(known[future]))

    def _solved(
        self, drawn: Futures, future: int, most: float, charge: float, start: PurchasePlan | None
    ) -> tuple[PurchasePlan, Mapping[str, Entry]] | None:
        """The purchases of one future, lateness charged so much; None where nothing that is left covers every need."""
        entries: dict[str, Entry] = {}
        candidates: list[Candidate] = []
        for group in self._known(drawn):
            for candidate, entry in self._candidates(group, drawn, future, most, charge):
                candidates.append(candidate)
                entries[candidate.key] = entry
        if self.problem.needs.keys() - {part for candidate in candidates for part in candidate.covers}:
            return None
        used = {candidate.shipment for candidate in candidates}
        shipments = tuple(shipment for key, shipment in self._shipments.items() if key in used)
        problem = replace(self.problem, candidates=tuple(candidates), shipments=shipments)
        seconds, gap = (FEW_SECONDS, 0.0) if self.few else (SECONDS, GAP)
        return solve(problem, recost=recost_by_model(problem), time_limit=seconds, gap=gap, start=start), entries

    def _known(self, drawn: Futures) -> list[_Group]:
        """What does not change from future to future but for prices."""
        if drawn.lead_factor not in self._groups:
            self._groups[drawn.lead_factor] = [self._group(entries, drawn) for entries in self._entries]
        return self._groups[drawn.lead_factor]

    def _group(self, entries: list[Entry], drawn: Futures) -> _Group:
        trier, first = self.trier, entries[0]
        needs = [trier.chosen.demand.needs[p][: trier.runs] for p in first.candidate.covers
                 if p in trier.chosen.demand.needs]  # fmt: skip
        moments = np.array(
            [np.broadcast_to(trier.arrival(e, np.array([e.week]), drawn), (trier.runs,)) for e in entries]
        )
        late = np.zeros(moments.shape)
        for row, entry in enumerate(entries):
            if any((moments[row] > need).any() for need in needs):
                late[row] = np.maximum(0.0, trier.delay([entry], [moments[row]]) - self.base)
        return _Group(
            entries,
            self._bare(entries),
            np.array([entry.week for entry in entries]),
            trier.early(first, moments),
            late / first.whole,
            np.array([float(trier.risk(entry, np.array([entry.week]))[0]) for entry in entries]),
            sum(self._shares.get(part, 0.0) for part in first.candidate.covers),
        )

    def _choices(self, drawn: Futures) -> list[list[Choice]]:
        """By part, its offers in every week, each with the least it can cost."""
        found: dict[str, list[Choice]] = defaultdict(list)
        for group in self._known(drawn):
            first = group.entries[0]
            prices = drawn.price(first.offer.id)[group.weeks.astype(int)] * first.level
            held = 1 + self.trier.studied.situation.keeping_per_week * group.early
            bands = [self.trier.line(first, pattern) for pattern in self.trier.bands_of(first).values()]
            paid = np.min([line.cost_at_zero + line.cost_slope * prices for line in bands], axis=0) * first.count
            orders = [self.market.shipments[pattern] for pattern in self.trier.bands_of(first).values()]
            fixed = min(o.fixed + (o.freight_fixed if o.free_freight_from is None else 0.0) for o in orders)
            for row, entry in enumerate(group.entries):
                cost = paid[row] * held[row] + group.risk[row]
                found[next(iter(first.candidate.covers))].append(Choice(entry, cost, group.late[row], fixed))
        return [found[part] for part in sorted(found)]

    def _candidates(
        self, group: _Group, drawn: Futures, future: int, most: float, charge: float
    ) -> Iterator[tuple[Candidate, Entry]]:
        """An offer in each week and band, at one future's prices; none so late that this alone costs too much."""
        trier, first = self.trier, group.entries[0]
        prices = drawn.price(first.offer.id)[group.weeks.astype(int), future] * first.level
        held = 1 + trier.studied.situation.keeping_per_week * group.early[:, future]
        late = group.late[:, future]
        beyond = late * (1.0 if charge == IN_FULL else charge * group.share) + group.risk
        for pattern, bare in group.bands.items():
            line = trier.line(first, pattern)
            paid = (line.cost_at_zero + line.cost_slope * prices) * first.count
            value = line.value_slope * prices * first.count
            high = self.market.shipments[pattern].high_value + MARGIN
            possible = (late * first.whole <= most) & (value * first.candidate.min_units <= high)
            costs, values = (paid * held + beyond).tolist(), value.tolist()
            for row in np.flatnonzero(possible).tolist():
                c = bare[row]
                # made anew field by field: `replace` takes four times as long, and there are very many
                priced = Candidate(
                    *(c.key, c.offer, c.shipment, c.covers, costs[row], values[row]),
                    *(c.mass_kg, c.cash, c.max_units, c.min_units, c.relieved, c.volume_m3),
                )
                yield priced, group.entries[row]

    def _bare(self, entries: list[Entry]) -> dict[str, list[Candidate]]:
        """Band -> the candidate of each entry in it, still without its price."""
        found: dict[str, list[Candidate]] = {}
        for position, pattern in self.trier.bands_of(entries[0]).items():
            found[pattern] = []
            for entry in entries:
                shipment = self._shipment(pattern, entry, position)
                key = f"{entry.offer.id}|{shipment}|{entry.count}|{entry.candidate.min_units}"
                found[pattern].append(replace(entry.candidate, key=key, shipment=shipment, relieved=0.0))
        return found

    def _shipment(self, pattern: str, entry: Entry, position: str) -> str:
        """The key of a band of one order, made after the same band in another week."""
        group = f"{entry.offer.supplier}|{entry.way.key}|{entry.week}"
        key = f"{group}|{position}"
        if key not in self._shipments:
            like = self.market.shipments[pattern]
            month = month_index(self.trier.studied.situation, entry.week)
            self._shipments[key] = replace(like, key=key, group=group, week=entry.week, cash_month=month)
        return key


def _bought_only(problem: PurchaseProblem, plan: PurchasePlan) -> PurchaseProblem:
    """What the plan buys, with nothing counted but money and lateness; where the plan overspends, by no more."""
    needs = {part: count - plan.unmet.get(part, 0.0) for part, count in problem.needs.items()}
    return replace(
        problem,
        needs={part: count for part, count in needs.items() if count > 0},
        trips=tuple(replace(trip, allowance=0.0) for trip in problem.trips),
        cash_limits=tuple((month, limit + plan.cash_over.get(month, 0.0)) for month, limit in problem.cash_limits),
        credit_cost=0.0,
        supplier_cost=0.0,
    )


def _shares(market: Market, problem: PurchaseProblem) -> dict[str, float]:
    """Part -> its share of a finish put off: by what it costs at least, as a dear part tempts to wait."""
    least: dict[str, float] = {}
    for entry in market.entries.values():
        for part in entry.candidate.covers:
            if part in problem.needs:
                cost = max(0.0, entry.candidate.cost - entry.extras) * entry.whole
                least[part] = min(least.get(part, cost), cost)
    total = sum(least.values())
    return {part: cost / total if total else 1 / len(least) for part, cost in least.items()}


def _one_line_each(entries: list[list[Entry]], market: Market, problem: PurchaseProblem) -> bool:
    """Whether each part is bought whole in one line, the ways are few, and neither money nor a least order bars any."""
    by_part: dict[str, int] = defaultdict(int)
    dearest: dict[str, float] = defaultdict(float)
    for group in entries:
        for entry in group:
            covers = entry.candidate.covers
            part = next(iter(covers))
            if len(covers) > 1 or covers[part] < problem.needs.get(part, math.inf) or entry.candidate.min_units > 1:
                return False
            by_part[part] += 1
            dearest[part] = max(dearest[part], sum(amount for _, amount in entry.candidate.cash if amount > 0))
    least = min((limit for _, limit in problem.cash_limits), default=math.inf)
    charges = max((s.fixed + s.freight_fixed for s in market.shipments.values()), default=0.0)
    spent = sum(dearest.values()) + len(dearest) * charges + sum(trip.fixed for trip in problem.trips)
    build = market.situation.build
    sellers = {build.find("suppliers", shipment.supplier) for shipment in market.shipments.values()}
    barred = spent > least or any(seller.minimum_order is not None for seller in sellers)
    barred = barred or any((trip.capacity_kg, trip.capacity_m3) != (None, None) for trip in problem.trips)
    return by_part.keys() == problem.needs.keys() and math.prod(by_part.values()) <= MOST_WAYS and not barred
