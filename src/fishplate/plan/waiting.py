"""The cost of waiting: today's plan with one action put off, and only what that touches planned again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from ..build import Assumption, week_of
from ..build.parts import Phase
from ..work import Gates, WorkReport
from .demand import Entry
from .loop import Round
from .market import Market, arrivals_of
from .model import CostOfWaiting, FloatArray
from .needs import delay_cost, gates_of, measuring_jobs
from .opening import Delays, Holds
from .order_weeks import TRIED_WEEKS
from .places_due import Before, jobs_before
from .recosting import Selection
from .situation import Situation
from .study import Studied, held_up_by

Moments: TypeAlias = Mapping[str, float | FloatArray]
WITHIN_WEEKS = 13.0
MONEY_RESOLUTION = 1.0
"""What a difference of two plans can be told to at best [EUR]."""
MISSED_PREMIUM, MISSED_WEEKS = 0.5, 8.0
HOLDING_KINDS = ("decide", "measure")


@dataclass(frozen=True)
class Outcome:
    """Total expected cost under some delays, with the finish of each run for paired comparison."""

    money: float
    rework: float
    finish: FloatArray | None

    def total(self, studied: Studied) -> float:
        """Money, rework and delay together, home currency."""
        return self.money + self.rework + delay_cost(studied.situation, self.finish)


@dataclass(frozen=True)
class _Placing:
    """Where every line is ordered under some delays, when that is in hand, what it costs, and what can't be had."""

    selection: Selection
    arrivals: Mapping[str, FloatArray]
    money: float
    missed: tuple[tuple[Entry, int], ...]


@dataclass
class Waiting:
    """Prices the delay of actions against one settled plan.

    Parameters
    ----------
    chosen : the settled round
    run : the work as the plan has it, with arrivals
    """

    studied: Studied
    chosen: Round
    run: WorkReport | None

    def __post_init__(self) -> None:
        self._runs = self.studied.situation.waiting_runs
        self._views: dict[int, tuple[FloatArray, FloatArray]] = {}
        self._placings: dict[Hashable, _Placing] = {}
        self._due: dict[str, Before] = {}
        self._ends = {} if self.run is None else self._cut(self.run.ends)
        self._by_part = _entries_by_part(self.chosen.market)
        self._selection = selection_of(self.chosen)
        self._arrived = self._cut(self.chosen.arrivals)
        self._planned = self._cut_gates(self.chosen.gates)
        self._holds = self.studied.opener.holds(self._arrived, self._ends, self.studied.put_off)
        self._measuring = sorted(measuring_jobs(self.studied))
        self._before_measuring = [self.studied.situation.build.find("jobs", job) for job in self._earlier_jobs()]
        self._measured = {part for part, _ in held_up_by(self.studied.situation, self.studied.told)}
        if self.studied.simulator is not None:
            self.studied.simulator.stand_on(self._planned, runs=self._runs)
        self.base = self._outcome(self.studied.put_off)

    def _earlier_jobs(self) -> list[str]:
        """Jobs in which something is measured, and those that come before them."""
        build = self.studied.situation.build
        before = {job.id: [link.job for link in job.after] for job in build.jobs}
        found, left = set(), list(self._measuring)
        while left:
            job = left.pop()
            if job not in found:
                found.add(job)
                left += before[job]
        return sorted(found)

    def cost(self, kind: str, keys: Iterable[str]) -> tuple[CostOfWaiting, float]:
        """Cost of putting an action off, and the most weeks it can be put off without expected loss.

        Parameters
        ----------
        kind : "decide", "measure", "buy", "collect" or "do"
        keys : what it acts on: a decision, dimension, the offers of an order, a collection, a job
        """
        keys = tuple(keys)
        curve, resolution = [], self._least
        for weeks in TRIED_WEEKS:
            loss, error = self._loss(kind, keys, weeks)
            resolution = max(resolution, error)
            curve.append((weeks, loss))
        free = _free_weeks(curve, resolution, lambda weeks: self._loss(kind, keys, weeks)[0])
        return _summary(curve, resolution, self.studied.situation.build.owner.currency), free

    def _loss(self, kind: str, keys: tuple[str, ...], weeks: float) -> tuple[float, float]:
        """Expected loss by a delay, and what of it can't be told from sampling error, home currency."""
        outcome = self._outcome(self.studied.put_off.besides({(kind, key): weeks for key in keys}))
        return outcome.total(self.studied) - self.base.total(self.studied), self._resolution(outcome)

    @property
    def _least(self) -> float:
        return self.studied.situation.in_home(MONEY_RESOLUTION)

    def _resolution(self, outcome: Outcome) -> float:
        if outcome.finish is None or self.base.finish is None:
            return self._least
        paired = np.minimum(outcome.finish, 520) - np.minimum(self.base.finish, 520)
        error = float(np.std(paired)) / np.sqrt(len(paired))
        return float(self._least + 2 * error * self.studied.situation.week_delay_cost)

    def _cut(self, arrays: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
        return {key: self._view(array) for key, array in arrays.items()}

    def _view(self, array: FloatArray) -> FloatArray:
        """The first runs of an array; of the same array the same view, so that a glance tells what is unchanged."""
        if id(array) not in self._views:
            self._views[id(array)] = array, array[: self._runs]
        return self._views[id(array)][1]

    def _cut_gates(self, gates: Gates) -> Gates:
        def cut(moments: Moments) -> Moments:
            return {key: self._view(m) if isinstance(m, np.ndarray) and m.ndim else m for key, m in moments.items()}

        return replace(gates, parts=cut(gates.parts), interfaces=cut(gates.interfaces), decisions=cut(gates.decisions))

    def _outcome(self, delays: Delays) -> Outcome:
        holds: Holds = self.chosen.openings.holds
        if any(kind in HOLDING_KINDS for kind, _ in self._more(delays)):
            holds = self._longer_holds(self._arrived, delays)
        placing = self._placed(holds, delays)
        if not all(_same(placing.arrivals.get(part, 0.0), self._arrived.get(part, 0.0)) for part in self._measured):
            # What is bought later may be what another order waits for.
            holds = self._longer_holds(placing.arrivals, delays)
            placing = self._placed(holds, delays)
        finish = self._finish(placing.arrivals, delays)
        money = placing.money + self._missed(placing, delays)
        return Outcome(money, self.rework(delays), finish)

    def _placed(self, holds: Holds, delays: Delays) -> _Placing:
        """The lines in their places, found once for all delays that hold the same orders up."""
        held = frozenset((offer, hold[0]) for offer, hold in holds.items())
        key = held, frozenset(item for item in delays.weeks.items() if item[0][0] in ("buy", "collect"))
        if key not in self._placings:
            selection = self._moved(holds, delays)
            missed = tuple(self._not_allowed(selection, holds, delays))
            arrivals = self._cut(self._arrivals(selection))
            self._placings[key] = _Placing(selection, arrivals, self._money(selection), missed)
        return self._placings[key]

    def _more(self, delays: Delays) -> dict[tuple[str, str], float]:
        """What is put off beyond what the owner has put off, which the plan goes by already."""
        return {key: weeks for key, weeks in delays.weeks.items() if weeks != self.studied.put_off.of(*key)}

    def _finish(self, arrivals: Mapping[str, FloatArray], delays: Delays) -> FloatArray | None:
        """The finish with these arrivals and delays; what is measured in a job is known when that job is then done."""
        simulator = self.studied.simulator
        if simulator is None:
            return None
        gates = gates_of(self.studied, self.studied.opener.gates(arrivals, self._ends, delays), arrivals, delays)
        if self._moves_measuring(gates):
            ends = {**self._ends, **simulator.ends(gates, self._measuring, runs=self._runs)}
            gates = gates_of(self.studied, self.studied.opener.gates(arrivals, ends, delays), arrivals, delays)
        return simulator.finish_weeks(gates, runs=self._runs)

    def _moves_measuring(self, gates: Gates) -> bool:
        """Whether gates differ from the plan's in something that a job waits for in which something is measured."""
        upstream = self._upstream(gates, self._planned)
        return any(not _same(now.get(key, 0.0), was.get(key, 0.0)) for now, was, key in upstream)

    def _upstream(self, gates: Gates, planned: Gates) -> Iterator[tuple[Moments, Moments, str]]:
        for job in self._before_measuring:
            yield from ((gates.parts, planned.parts, part) for part in (*job.to_try, *job.to_keep))
            yield from ((gates.decisions, planned.decisions, key) for key in job.decisions)
            yield from ((gates.interfaces, planned.interfaces, key) for key in job.interfaces)
            yield gates.jobs, planned.jobs, job.id

    def _longer_holds(self, arrivals: Mapping[str, FloatArray], delays: Delays) -> Holds:
        """The settled plan's holds, with those that the delays make longer."""
        holds = self.studied.opener.holds(arrivals, self._ends, delays)
        longer = {offer: hold for offer, hold in holds.items() if hold[0] > self._holds.get(offer, (0.0, ""))[0] + 1e-6}
        return {**self.chosen.openings.holds, **longer}

    def _arrivals(self, selection: Selection) -> dict[str, FloatArray]:
        arrivals: dict[str, FloatArray] = dict(self.studied.incoming)
        market = self.chosen.market
        fresh: dict[str, FloatArray] = {}
        for lines in selection.values():
            for candidate, _units in lines:
                entry = market.entries[candidate]
                moment = arrivals_of(market, entry)
                for part in entry.candidate.covers:
                    fresh[part] = np.maximum(fresh[part], moment) if part in fresh else moment
        return {**arrivals, **fresh}

    def _money(self, selection: Selection) -> float:
        """Landed money, carrying, risk and trips of a selection; lateness is in the finish."""
        market = self.chosen.market
        costs = self.chosen.recosting.costs(selection)
        late = sum(market.entries[c].late * units for lines in selection.values() for c, units in lines)
        return float(sum(costs.values()) - late + market.trips_cost(selection))

    def _missed(self, placing: _Placing, delays: Delays) -> float:
        """Expected cost of lines that can't be ordered any more once put off: found elsewhere, dearer and later."""
        put_off = max(self._more(delays).values(), default=0.0)
        if not put_off:
            return 0.0
        market = self.chosen.market
        return sum(missed_cost(self.studied, market, entry, units, put_off) for entry, units in placing.missed)

    def _not_allowed(self, selection: Selection, holds: Holds, delays: Delays) -> Iterator[tuple[Entry, int]]:
        """Lines that may not stand where they are, and have no other place."""
        for lines in selection.values():
            for candidate, units in lines:
                entry = self.chosen.market.entries[candidate]
                if not _allowed(self.studied, entry, holds, delays):
                    yield entry, units

    def _moved(self, holds: Holds, delays: Delays) -> Selection:
        """The selection with every line that may not stand moved to its cheapest place."""
        market = self.chosen.market
        kept: dict[str, list[tuple[str, int]]] = defaultdict(list)
        loose: list[tuple[Entry, int]] = []
        for key, lines in self._selection.items():
            for candidate, units in lines:
                entry = market.entries[candidate]
                others = self._by_part[frozenset(entry.candidate.covers)]
                if _allowed(self.studied, entry, holds, delays) or not any(
                    _allowed(self.studied, other, holds, delays) and _buys(other, units) for other in others
                ):
                    kept[key].append((candidate, units))
                else:
                    loose.append((entry, units))
        if not loose:
            return self._selection
        together = self._together(kept, loose, holds, delays)
        apart = self._apart(kept, loose, holds, delays)
        best = min((choice for choice in (together, apart) if choice is not None), key=self._estimate, default=None)
        assert best is not None  # each loose line has a place of its own
        return best

    def _estimate(self, selection: Selection) -> float:
        market = self.chosen.market
        cost = sum(market.entries[c].candidate.cost * units for lines in selection.values() for c, units in lines)
        fixed = sum(market.shipments[key].fixed + market.shipments[key].freight_fixed for key in selection)
        return float(cost + fixed + market.trips_cost(selection))

    def _apart(
        self,
        kept: Mapping[str, list[tuple[str, int]]],
        loose: list[tuple[Entry, int]],
        holds: Holds,
        delays: Delays,
    ) -> Selection | None:
        """Each loose line to its own cheapest place, joining shipments already made."""
        market = self.chosen.market
        placed = {key: list(lines) for key, lines in kept.items()}
        for entry, units in loose:
            choices = [
                (self._joining_cost(other, units, placed), other.candidate.key)
                for other in self._by_part[frozenset(entry.candidate.covers)]
                if _allowed(self.studied, other, holds, delays) and _buys(other, units)
            ]
            if not choices:
                return None
            _, chosen = min(choices)
            placed.setdefault(market.entries[chosen].candidate.shipment, []).append((chosen, units))
        return {key: tuple(lines) for key, lines in placed.items()}

    def _joining_cost(self, entry: Entry, units: int, placed: Mapping[str, object]) -> float:
        market, key = self.chosen.market, entry.candidate.shipment
        shipment = market.shipments[key]
        cost = entry.candidate.cost * units
        if key not in placed:
            if entry.candidate.value * units < shipment.low_value:
                return float("inf")
            cost += shipment.fixed + shipment.freight_fixed
            if shipment.collection and not any(market.shipments[k].collection == shipment.collection for k in placed):
                cost += market.trips[shipment.collection].fixed
        return float(cost)

    def _together(
        self,
        kept: Mapping[str, list[tuple[str, int]]],
        loose: list[tuple[Entry, int]],
        holds: Holds,
        delays: Delays,
    ) -> Selection | None:
        """All loose lines of a supplier to one later shipment of that supplier, where there is one for all."""
        placed = {key: list(lines) for key, lines in kept.items()}
        by_supplier: dict[str, list[tuple[Entry, int]]] = defaultdict(list)
        for entry, units in loose:
            by_supplier[entry.offer.supplier].append((entry, units))
        for lines in by_supplier.values():
            found = self._one_shipment(lines, holds, delays)
            if found is None:
                return None
            for candidate, units in found:
                placed.setdefault(self.chosen.market.entries[candidate].candidate.shipment, []).append(
                    (candidate, units)
                )
        return {key: tuple(lines) for key, lines in placed.items()}

    def _one_shipment(
        self, lines: list[tuple[Entry, int]], holds: Holds, delays: Delays
    ) -> list[tuple[str, int]] | None:
        market = self.chosen.market
        places: dict[str, dict[str, Entry]] = defaultdict(dict)
        wanted = {entry.offer.id for entry, _ in lines}
        for entry, units in lines:
            for other in self._by_part[frozenset(entry.candidate.covers)]:
                if other.offer.id != entry.offer.id or not _allowed(self.studied, other, holds, delays):
                    continue
                here = places[other.candidate.shipment]
                known = here.get(other.offer.id)
                if _buys(other, units) and (known is None or other.candidate.cost < known.candidate.cost):
                    here[other.offer.id] = other
        choices = []
        for key, entries in places.items():
            if set(entries) != wanted:
                continue
            value = sum(entries[entry.offer.id].candidate.value * units for entry, units in lines)
            shipment = market.shipments[key]
            if not shipment.low_value <= value <= shipment.high_value:
                continue
            cost = sum(entries[entry.offer.id].candidate.cost * units for entry, units in lines)
            choices.append((cost + shipment.fixed + shipment.freight_fixed, key))
        if not choices:
            return None
        _, best = min(choices)
        return [(places[best][entry.offer.id].candidate.key, units) for entry, units in lines]

    def rework(self, delays: Delays) -> float:
        """Expected saving of measurements that are lost because the moment they matter comes first."""
        if self.run is None:
            return 0.0
        lost = 0.0
        for measure in self.studied.fit.measures:
            put_off = delays.of("measure", measure.dimension)
            if put_off:
                lost += measure.value * float(np.mean(self._lost_from(measure.interfaces) < put_off))
        for look in self.studied.fit.looks:
            put_off = delays.of("measure", look.key)
            if put_off:
                lost += look.value * float(np.mean(self._lost_from(self.named((look.interface,))) < put_off))
        return lost

    def _matters(self, interfaces: tuple[str, ...]) -> FloatArray:
        """Moment the first job begins before which these interfaces have to be known, shape (runs,)."""
        assert self.run is not None
        moments = [self.run.starts[job][: self._runs] for key in interfaces for job in self._before(key).jobs]
        first: FloatArray = np.minimum.reduce([np.full(self._runs, np.inf), *moments])
        return first

    def _lost_from(self, interfaces: tuple[str, ...]) -> FloatArray:
        """The same of those alone that no job waits for: what is waited for is not missed."""
        return self._matters(tuple(key for key in interfaces if not self._before(key).wait))

    def _before(self, interface: str) -> Before:
        """Jobs still to come before which an interface has to be known."""
        if interface not in self._due:
            build, run = self.studied.situation.build, self.run
            starts = {} if run is None else run.starts
            self._due[interface] = jobs_before(build, build.find("interfaces", interface), starts.__contains__)
        return self._due[interface]

    def named(self, interfaces: tuple[str, ...]) -> tuple[str, ...]:
        """Those of the interfaces of which the owner says before which job they have to be known."""
        return tuple(key for key in interfaces if not self._before(key).why)

    def matters_by(self, interfaces: tuple[str, ...]) -> float:
        """Early (one in ten) moment by which an interface's dimensions matter; infinite if no job says so."""
        return _early(self._matters(interfaces)) if self.run is not None else float("inf")

    def first_before(self, interfaces: tuple[str, ...]) -> tuple[str, str] | None:
        """Of the jobs before which these interfaces have to be known, the first, and why it is one."""
        if self.run is None:
            return None
        found = [(job, self._before(key).why) for key in interfaces for job in self._before(key).jobs]
        starts = self.run.starts
        return min(found, key=lambda item: (_early(starts[item[0]][: self._runs]), item), default=None)

    def first_move(self) -> float:
        """Early (one in ten) moment the vehicle first moves: its first job of commissioning; infinite if none is."""
        if self.run is None:
            return float("inf")
        build = self.studied.situation.build
        starts = [self.run.starts[job.id] for job in build.jobs
                  if job.phase is Phase.COMMISSION and job.id in self.run.starts]  # fmt: skip
        return _early(np.minimum.reduce(starts)) if starts else float("inf")


def _early(moments: FloatArray) -> float:
    """The moment that one run in ten comes before."""
    return float(np.quantile(moments, 0.1, method="inverted_cdf"))


def _same(one: float | FloatArray, other: float | FloatArray) -> bool:
    return one is other or bool(np.array_equal(one, other))


def _buys(entry: Entry, units: int) -> bool:
    """Whether so many units can be bought of an entry, at its price."""
    return entry.candidate.min_units <= units <= entry.candidate.max_units


def _entries_by_part(market: Market) -> dict[frozenset[str], list[Entry]]:
    found: dict[frozenset[str], list[Entry]] = defaultdict(list)
    for entry in market.entries.values():
        found[frozenset(entry.candidate.covers)].append(entry)
    return found


def selection_of(chosen: Round) -> Selection:
    """Shipment -> its lines as (candidate, units)."""
    lines: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for line in chosen.purchase.lines:
        lines[line.shipment].append((line.candidate, line.units))
    return {key: tuple(sorted(items)) for key, items in lines.items()}


def _allowed(studied: Studied, entry: Entry, holds: Holds, delays: Delays) -> bool:
    if entry.week < holds.get(entry.offer.id, (0.0, ""))[0] - 1e-9:
        return False
    if entry.week < delays.of("buy", entry.offer.id):
        return False
    trip = entry.way.collection
    if trip is None:
        return True
    return week_of(studied.situation.as_of, trip.day) >= delays.of("collect", trip.id)


def missed_cost(studied: Studied, market: Market, entry: Entry, units: int, put_off: float) -> float:
    """What it costs more to find elsewhere what this offer brought, some weeks later, home currency."""
    text = (
        f"what no known offer sells any more is found elsewhere at {1 + MISSED_PREMIUM:g} times the price, "
        f"{MISSED_WEEKS:g} weeks later (our own default)"
    )
    market.assumptions.setdefault(("missed-offer", "build"), Assumption("missed-offer", "build", text))
    curves = [studied.late_weeks[part] for part in entry.candidate.covers if part in studied.late_weeks]
    late = max((float(np.interp(put_off + MISSED_WEEKS, *curve)) for curve in curves), default=0.0)
    paid = (entry.candidate.cost - entry.extras) * units
    return paid * MISSED_PREMIUM + late * studied.situation.week_delay_cost


def _summary(curve: list[tuple[float, float]], resolution: float, currency: str) -> CostOfWaiting:
    """The delay with the largest loss per week within thirteen weeks; without any loss, the largest gain."""
    within = [(weeks, loss) for weeks, loss in curve if weeks <= WITHIN_WEEKS]
    losses = [point for point in within if point[1] > resolution]
    gains = [point for point in within if point[1] < -resolution]
    if gains and not losses:
        weeks, loss = min(gains, key=lambda point: (point[1], point[0]))
    else:
        weeks, loss = max(losses or within, key=lambda point: (point[1] / point[0], -point[0]))
    return CostOfWaiting(
        round(loss, 2), currency, weeks, round(resolution, 2), tuple((w, round(x, 2)) for w, x in curve)
    )


def _free_weeks(curve: list[tuple[float, float]], resolution: float, loss_at: Callable[[float], float]) -> float:
    """The last whole week without expected loss, found by halving between the delays tried."""
    free = 0.0
    for weeks, loss in curve:
        if loss > resolution:
            costly = weeks
            break
        free = weeks
    else:
        return free
    while costly - free > 1:
        middle = float((free + costly) // 2)
        if loss_at(middle) > resolution:
            costly = middle
        else:
            free = middle
    return free


def stepped(week: float, loss: float, situation: Situation) -> tuple[CostOfWaiting, float]:
    """Cost of waiting of something whose loss is certain from a week on, and the weeks it is free to wait."""
    curve = [(weeks, loss if weeks > week else 0.0) for weeks in TRIED_WEEKS]
    return _summary(curve, situation.in_home(MONEY_RESOLUTION), situation.build.owner.currency), week
