"""What the purchases serve, and what ordering in a week leads to: late, early, lapsed, spoilt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ..build import offer_contents, week_of
from ..build.commerce import Collection, Offer, Route
from ..buy import Candidate
from .draws import Deliveries
from .model import FloatArray
from .situation import Situation

MISSED_TRIP_WEEKS = 8.0
READY_WEEKS = 0.3
"""From dispatch to the depot where goods are fetched, their papers made out [weeks]."""
UNDATED_LAPSE = 0.5


@dataclass(frozen=True, slots=True)
class Way:
    """One way home for a supplier's goods."""

    route: Route | None
    collection: Collection | None

    @property
    def key(self) -> str:
        """Stable name of the way."""
        return f"{self.route.id if self.route else 'own'}|{self.collection.id if self.collection else ''}"

    @property
    def name(self) -> str:
        """The way in words."""
        return self.route.name if self.route else "seller's own delivery"


@dataclass(frozen=True, slots=True)
class Entry:
    """What stands behind a candidate.

    Parameters
    ----------
    price : expected price of one unit on its week, offer currency
    count : how many of the offer one unit of the candidate stands for: the whole quantity wanted, unless a kit
        brings some of it
    late, carrying, risk : expected cost of one unit being late, early, or not fitting, home currency
    core : of what is paid for one unit, money that comes back with the old part, home currency
    level : price of one where so many are bought, over that of one bought by itself [-]
    whole : units that bring all that is wanted
    """

    candidate: Candidate
    offer: Offer
    way: Way
    week: int
    count: int
    price: float
    late: float
    carrying: float
    risk: float
    core: float = 0.0
    level: float = 1.0
    whole: int = 1

    @property
    def extras(self) -> float:
        """Expected cost of one unit beyond what is paid, less what comes back, home currency."""
        return self.late + self.carrying + self.risk - self.core


@dataclass(frozen=True, slots=True)
class Demand:
    """What the purchases serve.

    Parameters
    ----------
    missing : part -> how many are wanted
    needs : part -> moment it is first needed, weeks, shape (runs,); absent: no date known
    late_weeks : part -> (weeks late, weeks the finish then moves), a rising curve from (0, 0)
    misfit : part -> chance that it does not go where it must
    holds : offer -> week before which it must not be ordered, and why
    undecided : part -> week until which the decision that calls for it is open
    planned : offer -> weeks in which the last plan orders it
    """

    missing: Mapping[str, float]
    needs: Mapping[str, FloatArray]
    late_weeks: Mapping[str, tuple[FloatArray, FloatArray]]
    misfit: Mapping[str, float]
    holds: Mapping[str, tuple[float, str]]
    undecided: Mapping[str, float]
    planned: Mapping[str, frozenset[int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Expected:
    """What ordering in a week leads to.

    Parameters
    ----------
    late : expected cost of lateness, home currency
    early_weeks : weeks held before it is needed
    lapsed : chance that the return right has ended by then; spoilt : that the shelf life has
    """

    late: float
    early_weeks: float
    lapsed: float
    spoilt: float


class Timing:
    """Expected lateness, earliness and lapse of the return right, for one offer by one way."""

    def __init__(
        self, situation: Situation, deliveries: Deliveries, demand: Demand, offer: Offer, way: Way, return_days: int
    ) -> None:
        lead = deliveries.lead_weeks(offer)
        travel = deliveries.travel_weeks(offer, way.route)
        self._way = way
        self._lead, self._travel = lead, travel
        self.lead_median = deliveries.lead_quantile(offer, 0.5)
        self._trip_week = week_of(situation.as_of, way.collection.day) if way.collection else None
        self._return_weeks = return_days / 7
        shelf = [situation.build.find("parts", part).shelf_weeks for part in offer_contents(situation.build, offer)]
        self._shelf_weeks = min((weeks for weeks in shelf if weeks is not None), default=np.inf)
        parts = [part for part in offer_contents(situation.build, offer) if demand.missing.get(part, 0) > 0]
        self._needs = [(demand.needs.get(part), demand.late_weeks.get(part)) for part in parts]
        self._delay_cost = situation.week_delay_cost
        self._known: dict[int, Expected] = {}

    def arrival(self, week: int) -> FloatArray:
        """Moment the goods are in hand if ordered in a week, shape (runs,)."""
        if self._trip_week is None:
            return week + self._lead + self._travel
        ready = week + self._lead + READY_WEEKS
        return np.where(
            ready <= self._trip_week, self._trip_week, np.maximum(ready, self._trip_week + MISSED_TRIP_WEEKS)
        )

    def at_depot(self, week: int) -> float:
        """Moment goods ordered in a week are likely to reach the depot where they are fetched, weeks."""
        return week + self.lead_median + READY_WEEKS

    def possible(self, week: int) -> bool:
        """Whether goods ordered in a week can go by this way at all."""
        if self._trip_week is None:
            return True
        ready = self.at_depot(week)
        storage = self._way.collection.storage_weeks if self._way.collection else 0
        return self._trip_week - storage <= ready <= self._trip_week

    def expected(self, week: int) -> Expected:
        """What ordering in a week leads to, reckoned once for all bands of charges."""
        if week not in self._known:
            self._known[week] = self._reckoned(week)
        return self._known[week]

    def _reckoned(self, week: int) -> Expected:
        arrival = self.arrival(week)
        late = early = lapsed = spoilt = 0.0
        dated = 0
        for need, curve in self._needs:
            if need is None or curve is None:
                # no date is known: only the slow cost of money speaks for later, and nothing for earlier
                continue
            dated += 1
            slack = need - arrival
            behind = np.maximum(0.0, -slack)
            if behind.any():
                late += float(np.interp(behind, *curve).sum()) / slack.size * self._delay_cost
            early += float(np.maximum(0.0, slack).sum()) / slack.size
            lapsed += np.count_nonzero(slack > self._return_weeks) / slack.size
            if self._shelf_weeks < np.inf:
                spoilt = max(spoilt, np.count_nonzero(slack > self._shelf_weeks) / slack.size)
        lapsed = lapsed / dated if dated else UNDATED_LAPSE
        if self._return_weeks == 0:
            lapsed = 1.0
        return Expected(late, early / max(1, dated), lapsed, spoilt)
