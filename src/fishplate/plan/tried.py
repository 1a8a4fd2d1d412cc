"""What purchases cost in drawn futures: at the door, for keeping, for what may not fit, and for a later finish."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..build import week_of
from ..buy import PurchasePlan
from .demand import MISSED_TRIP_WEEKS, READY_WEEKS, Entry
from .futures import Futures
from .loop import Round
from .market import Market
from .model import FloatArray
from .needs import gates_of
from .study import LAST_WEEK, Studied

Weeks = NDArray[np.integer[Any]]
MARGIN = 1e-6


@dataclass(frozen=True, slots=True)
class Bought:
    """What is bought, and when in each future.

    Parameters
    ----------
    lines : candidates; units : of each; weeks : order weeks of each, shape (1,) or (runs,)
    exact : what all of it costs at the door at expected prices, trips and own time for orders included; None where it
        was not reckoned, and the linear model alone counts; home currency
    """

    lines: tuple[str, ...]
    units: tuple[int, ...]
    weeks: tuple[Weeks, ...]
    exact: float | None

    @classmethod
    def of(cls, market: Market, plan: PurchasePlan) -> Bought:
        """The lines of a purchase plan, in its weeks."""
        extras = sum(market.entries[line.candidate].extras * line.units for line in plan.lines)
        return cls(
            tuple(line.candidate for line in plan.lines),
            tuple(line.units for line in plan.lines),
            tuple(np.array([line.week]) for line in plan.lines),
            plan.total - extras,
        )

    def at(self, weeks: Sequence[Weeks]) -> Bought:
        """The same lines in other weeks."""
        return replace(self, weeks=tuple(weeks))

    def first(self, runs: int) -> Bought:
        """The same in the first few futures."""
        return replace(self, weeks=tuple(week[:runs] for week in self.weeks))

    def modelled(self) -> Bought:
        """The same, its charges by the linear model alone."""
        return replace(self, exact=None)


class Trier:
    """Costs purchases in futures.

    Parameters
    ----------
    runs : how many futures, the first of the plan's draws of deliveries and work
    """

    def __init__(self, studied: Studied, chosen: Round, runs: int) -> None:
        self.studied, self.chosen, self.market, self.runs = studied, chosen, chosen.market, runs
        self._ends = {job: moments[:runs] for job, moments in chosen.ends.items()}
        self._bands: dict[tuple[str, str], dict[str, str]] = defaultdict(dict)
        for key, shipment in self.market.shipments.items():
            head, position = key.rsplit("|", 1)
            self._bands[shipment.supplier, head.split("|", 1)[1].rsplit("|", 1)[0]][position] = key
        self._travel: dict[tuple[str, str], FloatArray] = {}
        self._lines: dict[tuple[str, str, int], Any] = {}
        self._risks = {(*_line_key(entry), entry.week): entry.risk for entry in self.market.entries.values()}

    def cost(self, bought: Bought, drawn: Futures) -> FloatArray:
        """Everything the purchases are expected to cost in each future, home currency, shape (runs,)."""
        entries = [self.market.entries[line] for line in bought.lines]
        weeks = [np.broadcast_to(week, (self.runs,)) for week in bought.weeks]
        prices = [
            self._at(drawn.price(entry.offer.id), week) * entry.level
            for entry, week in zip(entries, weeks, strict=True)
        ]
        door, paid = self.door(entries, bought.units, weeks, prices)
        arrivals = [self.arrival(entry, week, drawn) for entry, week in zip(entries, weeks, strict=True)]
        total = door + self._beyond_model(bought, entries) + self.delay(entries, arrivals)
        for entry, units, week, moment, spent in zip(entries, bought.units, weeks, arrivals, paid, strict=True):
            total = total + self._keeping(entry, moment, spent) + self.risk(entry, week) * units
        return np.asarray(total)

    def _beyond_model(self, bought: Bought, entries: Sequence[Entry]) -> float:
        """What the exact charges at expected prices add to those of the linear model."""
        if bought.exact is None:
            return 0.0
        usual = [np.array([entry.price]) for entry in entries]
        planned = [np.array([entry.week]) for entry in entries]
        modelled, _ = self.door(entries, bought.units, planned, usual)
        return bought.exact - float(modelled[0])

    @staticmethod
    def _at(price: FloatArray, week: Weeks) -> FloatArray:
        return price[np.minimum(week, len(price) - 1), np.arange(price.shape[1])]

    # at the door

    def door(
        self, entries: Sequence[Entry], units: Sequence[int], weeks: Sequence[Weeks], prices: Sequence[FloatArray]
    ) -> tuple[FloatArray, list[FloatArray]]:
        """Cost at the door by the linear model, trips included, and what of it each line bears by itself.

        Parameters
        ----------
        weeks, prices : of each line, in each future [offer currency, rate over today's included]
        """
        runs = len(prices[0]) if prices else 1
        total: FloatArray = np.zeros(runs)
        paid: list[FloatArray] = [np.zeros(runs) for _ in entries]
        groups: dict[tuple[str, str], list[int]] = defaultdict(list)
        for index, entry in enumerate(entries):
            groups[entry.offer.supplier, entry.way.key].append(index)
        used = {
            (key, week): np.any([weeks[i] == week for i in lines], axis=0)
            for key, lines in groups.items()
            for week in sorted({int(w) for i in lines for w in np.unique(weeks[i])})
        }
        crossings: dict[str, FloatArray] = defaultdict(lambda: np.zeros(runs))
        for (key, _week), mask in used.items():
            if self._crosses(key):
                crossings[key[0]] = crossings[key[0]] + mask
        for (key, week), mask in used.items():
            lines = [i for i in groups[key] if np.any(weeks[i] == week)]
            cost = self._shipment(key, lines, entries, units, weeks, prices, week, crossings[key[0]] <= 1, paid)
            total = total + np.where(mask, cost, 0.0)
        for trip in {entry.way.collection.id for entry in entries if entry.way.collection is not None}:
            total = total + self.market.trips[trip].fixed
        return total, paid

    def _crosses(self, key: tuple[str, str]) -> bool:
        return any(self.market.shipments[shipment].crosses_border for shipment in self._bands[key].values())

    def _shipment(
        self,
        key: tuple[str, str],
        lines: Sequence[int],
        entries: Sequence[Entry],
        units: Sequence[int],
        weeks: Sequence[Weeks],
        prices: Sequence[FloatArray],
        week: int,
        sole: Any,
        paid: list[FloatArray],
    ) -> FloatArray:
        """Cost of one shipment in the cheapest band its value allows; a relief only for the supplier's sole one."""
        runs = len(prices[lines[0]])
        best, forced = np.full(runs, np.inf), np.full(runs, np.inf)
        shares = {i: np.zeros(runs) for i in lines}
        for shipment_key in self._bands[key].values():
            shipment = self.market.shipments[shipment_key]
            cost, value = np.full(runs, shipment.fixed), np.zeros(runs)
            own = {}
            for i in lines:
                here, count = weeks[i] == week, entries[i].count * units[i]
                line = self.line(entries[i], shipment_key)
                own[i] = np.where(here, (line.cost_at_zero + line.cost_slope * prices[i]) * count, 0.0)
                cost = cost + own[i]
                value = value + np.where(here, line.value_slope * prices[i] * count, 0.0)
            free = shipment.free_freight_from
            cost = cost + (
                shipment.freight_fixed if free is None else np.where(value < free, shipment.freight_fixed, 0.0)
            )
            fits = (value >= shipment.low_value - MARGIN) & (value <= shipment.high_value + MARGIN)
            allowed = fits & (sole if shipment.relief else True)
            better = allowed & (cost < best)
            for i in lines:
                shares[i] = np.where(better | ~np.isfinite(best), own[i], shares[i])
            best = np.where(better, cost, best)
            forced = forced if shipment.relief else np.minimum(forced, cost)
        for i in lines:
            paid[i] = paid[i] + shares[i]
        return np.where(np.isfinite(best), best, forced)

    def bands_of(self, entry: Entry) -> dict[str, str]:
        """Each band of charges that an entry's orders may fall into -> a shipment that stands for it."""
        return self._bands[entry.offer.supplier, entry.way.key]

    def line(self, entry: Entry, shipment: str) -> Any:
        """Cost and value of one unit in a shipment's band, as straight lines in its price."""
        band = self.market.bands[shipment]
        key = entry.offer.id, entry.way.key, id(band)
        if key not in self._lines:
            self._lines[key] = self.market.door.line(entry.offer, entry.way.route, band)
        return self._lines[key]

    # time

    def arrival(self, entry: Entry, week: Weeks, drawn: Futures) -> FloatArray:
        """Moment an entry's goods are in hand if ordered in given weeks, broadcast to (..., runs)."""
        deliveries = self.studied.deliveries
        lead = deliveries.lead_weeks(entry.offer)[: self.runs] * drawn.lead_factor
        if entry.way.collection is None:
            key = entry.offer.supplier, entry.way.key
            if key not in self._travel:
                self._travel[key] = deliveries.travel_weeks(entry.offer, entry.way.route)[: self.runs]
            return np.asarray(week + lead + self._travel[key])
        trip, ready = week_of(self.studied.situation.as_of, entry.way.collection.day), week + lead + READY_WEEKS
        return np.where(ready <= trip, trip, np.maximum(ready, trip + MISSED_TRIP_WEEKS))

    def delay(self, entries: Sequence[Entry], arrivals: Sequence[FloatArray]) -> FloatArray:
        """The finish in each future at what the owner's week is worth."""
        studied = self.studied
        if studied.simulator is None:
            return np.zeros(self.runs)
        moments = {part: moment[: self.runs] for part, moment in studied.incoming.items()}
        fresh: dict[str, FloatArray] = {}
        for entry, moment in zip(entries, arrivals, strict=True):
            for part in entry.candidate.covers:
                fresh[part] = np.maximum(fresh.get(part, moment), moment)
        moments |= fresh
        gates = gates_of(studied, studied.opener.gates(moments, self._ends, studied.put_off), moments, studied.put_off)
        finish = np.minimum(studied.simulator.finish_weeks(gates, runs=self.runs), LAST_WEEK)
        return np.asarray(finish * studied.situation.week_delay_cost)

    def early(self, entry: Entry, moment: FloatArray) -> FloatArray:
        """Weeks that an entry's parts lie before they are needed, on average, shape as of the moments."""
        needs = [
            self.chosen.demand.needs[p][: self.runs] for p in entry.candidate.covers if p in self.chosen.demand.needs
        ]
        if not needs:
            return np.zeros_like(moment)
        return np.asarray(np.mean([np.maximum(0.0, need - moment) for need in needs], axis=0))

    def _keeping(self, entry: Entry, moment: FloatArray, paid: FloatArray) -> FloatArray:
        return np.asarray(paid * self.studied.situation.keeping_per_week * self.early(entry, moment))

    def risk(self, entry: Entry, week: Weeks) -> FloatArray:
        """What may not fit, as the market has it for an order in that week."""
        key = _line_key(entry)
        return np.array([self._risks.get((*key, int(each)), entry.risk) for each in week])


def _line_key(entry: Entry) -> tuple[str, str, int, float]:
    return entry.offer.id, entry.way.key, entry.count, entry.level
