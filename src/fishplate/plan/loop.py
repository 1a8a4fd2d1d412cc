"""The loop of the main job: decide and fit, when work needs things, what to buy, work again with arrivals."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import networkx as nx
import numpy as np

from ..build import Assumption, Build, facts_of, offer_contents
from ..buy import PurchasePlan, solve
from ..decide import DecisionReport, order_decisions
from ..fit import FitReport, assess
from ..prices import Outlook, outlooks
from ..work import Gates, WorkReport, with_phase_jobs
from .draws import Deliveries
from .market import HORIZON_WEEKS, Demand, Market, arrivals_of
from .memory import PRICED, Forgetful, Memo, Remembered, RememberedSimulator, digest_of
from .model import FloatArray
from .opening import (
    MEASURE_WITHIN_WEEKS,
    Delays,
    Holds,
    Openings,
    held_parts,
    jobs_waiting_for,
    openings,
    put_off_by_owner,
)
from .recosting import Recosting
from .situation import Situation

Progress: TypeAlias = Callable[[str, float], None]
MAX_ROUNDS, MAX_REPAIRS = 3, 4
LAST_WEEK = 520.0
SHORT_TRAVEL_WEEKS = 0.5
PROBED_WEEKS = (4.0, 13.0, 26.0)
PROBE_RUNS = 160
LEAST_LATE_SHARE = 0.02
UNDATED_CURVE = (np.array((0.0, 520.0)), np.array((0.0, 520.0 * LEAST_LATE_SHARE)))


@dataclass(frozen=True)
class Studied:
    """What does not change while purchases are tried: engines' frozen results for one build on one day."""

    situation: Situation
    fit: FitReport
    decided: DecisionReport
    outlooks: Mapping[str, Outlook]
    simulator: RememberedSimulator | None
    remembered: Remembered
    deliveries: Deliveries
    incoming: Mapping[str, FloatArray]
    free_run: WorkReport | None
    late_weeks: Mapping[str, tuple[FloatArray, FloatArray]]
    waiting_jobs: Mapping[str, frozenset[str]]
    put_off: Delays
    assumptions: tuple[Assumption, ...]


@dataclass(frozen=True)
class Round:
    """One settled set of dates and purchases, and its arrivals played through the work.

    Parameters
    ----------
    money : landed money, carrying, risk and trips, home currency
    expected_total : landed money, carrying, risk, trips, and finish delay at the owner's week, home currency
    """

    openings: Openings
    demand: Demand
    market: Market
    recosting: Recosting
    purchase: PurchasePlan
    arrivals: Mapping[str, FloatArray]
    gates: Gates
    finish: FloatArray | None
    money: float
    expected_total: float


def study(situation: Situation, progress: Progress, memo: Memo | None = None) -> Studied:
    """Run every engine that does not depend on what is bought."""
    build, phase_assumptions = _with_dates(situation)
    if build is not situation.build:
        situation = replace(situation, build=build, facts=facts_of(build, situation.as_of))
    key = digest_of(build, situation.as_of, situation.seed, situation.runs, without=PRICED)
    remembered = Remembered(memo or Forgetful(), key)
    progress("fit", 0.05)
    fit: FitReport = remembered.recall("fit", lambda: assess(build, situation.facts, seed=situation.seed))
    progress("prices", 0.15)
    seen = outlooks(build, situation.facts, weeks=HORIZON_WEEKS)
    progress("work", 0.2)
    simulator = _simulator(build, situation, remembered)
    deliveries = Deliveries(build, situation.facts, situation.runs, situation.seed)
    incoming = deliveries.incoming()
    free_run = simulator.run(Gates()) if simulator else None
    decided = order_decisions(build, situation.facts, start_weeks=_latest_starts(free_run), order_by_weeks={})
    assumptions = (*situation.assumptions(), *phase_assumptions, *fit.assumptions, *decided.assumptions)
    if simulator is not None:
        assumptions += tuple(simulator.assumptions)
    late_weeks = _late_curves(situation, simulator, free_run)
    return Studied(
        situation,
        fit,
        decided,
        seen,
        simulator,
        remembered,
        deliveries,
        incoming,
        free_run,
        late_weeks,
        jobs_waiting_for(build),
        put_off_by_owner(build, situation.as_of),
        assumptions,
    )


def _with_dates(situation: Situation) -> tuple[Build, tuple[Assumption, ...]]:
    """The build with a job for each phase, where it says by phase but not by job when its parts are needed."""
    build = situation.build
    if not any(part.phase is not None for part in build.parts):
        return build, ()
    return with_phase_jobs(build, situation.facts)


def _simulator(build: Build, situation: Situation, remembered: Remembered) -> RememberedSimulator | None:
    if not any(job.id in situation.facts.wanted_jobs for job in build.jobs):
        return None
    return RememberedSimulator(build, situation.facts, runs=situation.runs, seed=situation.seed, remembered=remembered)


def _latest_starts(free_run: WorkReport | None) -> dict[str, float]:
    """Job -> early (one in ten) start put off by its slack: begun later, it moves the finish."""
    if free_run is None:
        return {}
    starts = {job: float(np.quantile(moments, 0.1, method="inverted_cdf")) for job, moments in free_run.starts.items()}
    return {job: week + max(0.0, free_run.slack_weeks.get(job, 0.0)) for job, week in starts.items()}


def _late_curves(
    situation: Situation, simulator: RememberedSimulator | None, free_run: WorkReport | None
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Part -> (weeks late, weeks the finish then moves), by making it late and looking: a missed season shows."""
    if simulator is None or free_run is None:
        return {}
    few = min(PROBE_RUNS, situation.runs)
    base = np.minimum(simulator.finish_weeks(Gates(), runs=few), LAST_WEEK)
    late = np.array((0.0, *PROBED_WEEKS))
    curves = {}
    for part in sorted(missing_parts(situation)):
        need = free_run.need_weeks.get(part)
        if need is None:
            continue
        moved = [0.0]
        for weeks in PROBED_WEEKS:
            finish = np.minimum(simulator.finish_weeks(Gates(parts={part: need + weeks}), runs=few), LAST_WEEK)
            # A part that stops nothing still costs a little patience when it is late.
            moved.append(max(moved[-1], float(np.mean(finish - base)), LEAST_LATE_SHARE * weeks))
        curves[part] = _extended(late, np.array(moved))
    for earlier, later in held_up_by(situation):
        # A part whose dimension holds an order is as late as what is then ordered late.
        if later in curves:
            own = curves.get(earlier, curves[later])
            curves[earlier] = own[0], np.maximum(own[1], curves[later][1])
    return curves


def held_up_by(situation: Situation) -> list[tuple[str, str]]:
    """(part, part whose order waits for a dimension of the first), in the order in which they are bought."""
    graph: nx.DiGraph[str] = nx.DiGraph()
    for release in situation.build.releases:
        for key in release.dimensions:
            part = situation.build.find("dimensions", key).part
            if part is not None:
                graph.add_edges_from((part, held) for held in held_parts(situation.build, release) if held != part)
    components = nx.condensation(graph)
    order = {part: n for n, c in enumerate(nx.topological_sort(components)) for part in components.nodes[c]["members"]}
    # later ones first, so that what is passed on is complete
    return sorted(graph.edges, key=lambda edge: (-order[edge[1]], edge))


def _extended(late: FloatArray, moved: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The curve continued beyond the last probe at one week for a week."""
    return np.append(late, late[-1] + 520), np.append(moved, moved[-1] + 520)


def settle(
    studied: Studied, delays: Delays, progress: Progress, *, starts: Sequence[PurchasePlan] = ()
) -> tuple[Round, tuple[PurchasePlan, ...]]:
    """Repeat needs, purchases and work until dates stop moving; keep the cheapest round.

    A round that orders something before what holds it has come, as its own dates have it, is not a plan: the hold is
    put off to those dates, and the round is made again.

    Parameters
    ----------
    starts : purchases of the rounds of an earlier plan, to start each from; the last stands in for further ones

    Returns
    -------
    the best round, and the purchases of every round that was run
    """
    ends = {} if studied.free_run is None else studied.free_run.ends
    holds, earliest = _soonest(studied, ends, delays)
    arrivals: Mapping[str, FloatArray] = {**studied.incoming, **earliest}
    best: Round | None = None
    tried: list[PurchasePlan] = []
    rounds = 0
    while rounds < MAX_ROUNDS:
        progress(f"purchases, round {len(tried) + 1}", min(0.7, 0.4 + 0.15 * len(tried)))
        start = starts[min(len(tried), len(starts) - 1)] if starts else best.purchase if best else None
        opened = replace(_opened(studied, arrivals, ends, delays), holds=holds)
        settled = _one_round(studied, opened, arrivals, earliest, delays, start)
        tried.append(settled.purchase)
        ends = studied.simulator.run(settled.gates).ends if studied.simulator else {}
        too_soon = _ordered_too_soon(studied, settled, ends, delays)
        if too_soon:
            never = math.inf if len(tried) > MAX_REPAIRS else 0.0
            holds = {**holds, **{offer: (max(week, never), why) for offer, (week, why) in too_soon.items()}}
            arrivals = settled.arrivals
            continue
        rounds += 1
        moved = _moved(arrivals, settled.arrivals)
        if best is not None and settled.expected_total >= best.expected_total - 0.5:
            break
        best = settled
        if moved < 0.5:
            break
        arrivals = settled.arrivals
    assert best is not None
    return best, tuple(tried)


def _moved(before: Mapping[str, FloatArray], after: Mapping[str, FloatArray]) -> float:
    return max((abs(float(np.median(after[p]) - np.median(before[p]))) for p in after if p in before), default=0.0)


def _opened(
    studied: Studied, arrivals: Mapping[str, FloatArray], ends: Mapping[str, FloatArray], delays: Delays
) -> Openings:
    modelled, waiting_jobs = studied.decided.modelled_weeks, studied.waiting_jobs
    return openings(studied.situation, studied.fit, modelled, arrivals, ends, waiting_jobs, delays)


def _soonest(studied: Studied, ends: Mapping[str, FloatArray], delays: Delays) -> tuple[Holds, dict[str, FloatArray]]:
    """Holds with every part as soon as can be, and those arrivals: an order may wait for what itself is held."""
    holds: Holds = {}
    earliest = earliest_arrivals(studied)
    for _ in range(len(studied.situation.build.releases) + 2):
        found = _opened(studied, {**studied.incoming, **earliest}, ends, delays).holds
        if found == holds:
            return holds, earliest
        holds, before = found, holds
        earliest = earliest_arrivals(studied, holds)
    # What still moves waits for itself in a circle and never opens.
    holds = {o: (week if week == before.get(o, (0.0, ""))[0] else math.inf, why) for o, (week, why) in holds.items()}
    return holds, earliest_arrivals(studied, holds)


def _ordered_too_soon(studied: Studied, settled: Round, ends: Mapping[str, FloatArray], delays: Delays) -> Holds:
    """Holds of offers that a round orders before what they wait for has come by the round's own dates."""
    holds = _opened(studied, settled.arrivals, ends, delays).holds
    weeks = {settled.market.entries[line.candidate].offer.id: line.week for line in settled.purchase.lines}
    return {offer: hold for offer, hold in holds.items() if weeks.get(offer, math.inf) < hold[0] - 1e-6}


def earliest_arrivals(studied: Studied, holds: Mapping[str, tuple[float, str]] | None = None) -> dict[str, FloatArray]:
    """Part still to be bought -> soonest it could be in hand, by any offer ordered today or once its hold ends."""
    situation = studied.situation
    soonest: dict[str, FloatArray] = {}
    missing = missing_parts(situation)
    for offer in situation.build.offers:
        held = (holds or {}).get(offer.id, (0.0, ""))[0]
        if held == math.inf:
            continue
        moment = held + studied.deliveries.lead_weeks(offer) + SHORT_TRAVEL_WEEKS
        for part in offer_contents(situation.build, offer):
            if part in missing:
                soonest[part] = np.minimum(soonest.get(part, moment), moment)
    return soonest


def missing_parts(situation: Situation) -> dict[str, float]:
    """Wanted parts neither owned nor on their way, and how many."""
    counts = {part: situation.facts.missing(situation.build, part) for part in sorted(situation.facts.wanted_parts)}
    return {part: count for part, count in counts.items() if count > 1e-9}


def _one_round(
    studied: Studied,
    opened: Openings,
    arrivals: Mapping[str, FloatArray],
    earliest: Mapping[str, FloatArray],
    delays: Delays,
    start: PurchasePlan | None,
) -> Round:
    situation = studied.situation
    needs = _needs(studied, opened, arrivals, earliest, delays)
    demand = _demand(studied, opened, needs)
    not_before = {key: week for (kind, key), week in delays.weeks.items() if kind == "buy"}
    market = Market(situation, studied.outlooks, studied.deliveries, demand, not_before)
    recosting = Recosting(market)
    purchase = solve(
        market.problem(),
        recost=recosting.costs,
        time_limit=situation.solver_seconds,
        gap=situation.target_gap,
        start=start,
    )
    arrived = {**studied.incoming, **bought_arrivals(market, purchase)}
    gates = gates_of(studied, opened, arrived, delays)
    finish = studied.simulator.finish_weeks(gates) if studied.simulator else None
    late = sum(market.entries[line.candidate].late * line.units for line in purchase.lines)
    money = purchase.total - late
    total = money + delay_cost(situation, finish)
    return Round(opened, demand, market, recosting, purchase, arrived, gates, finish, money, total)


def delay_cost(situation: Situation, finish: FloatArray | None) -> float:
    """Expected cost of the time until the finish, home currency."""
    if finish is None:
        return 0.0
    return float(np.mean(np.minimum(finish, LAST_WEEK))) * situation.week_delay_cost


def gates_of(studied: Studied, opened: Openings, arrivals: Mapping[str, FloatArray], delays: Delays) -> Gates:
    """Everything that holds jobs, with the moment it opens."""
    jobs = {key: week for (kind, key), week in delays.weeks.items() if kind == "do"}
    parts: dict[str, float | FloatArray] = dict(arrivals)
    for part in missing_parts(studied.situation):
        # What nobody sells yet is taken to be found in time, and said in the assumptions.
        parts.setdefault(part, 0.0)
    return Gates(parts=parts, decisions=opened.decisions, interfaces=opened.interfaces, jobs=jobs)


def _needs(
    studied: Studied,
    opened: Openings,
    arrivals: Mapping[str, FloatArray],
    earliest: Mapping[str, FloatArray],
    delays: Delays,
) -> dict[str, FloatArray]:
    """Part -> moment it is needed, given what else holds its job up."""
    if studied.simulator is None:
        return {}
    known: dict[str, FloatArray] = dict(studied.incoming)
    run = studied.simulator.run(gates_of(studied, opened, {**known, **earliest}, delays))
    needs = dict(run.need_weeks)
    if any(part not in earliest for part in arrivals):
        planned = studied.simulator.run(gates_of(studied, opened, arrivals, delays))
        for part, need in planned.need_weeks.items():
            arrival = arrivals.get(part)
            if arrival is not None and part in needs:
                # Where something else held the job longer, the part may come that much later.
                needs[part] = np.where(arrival < need - 0.01, need, needs[part])
    needs = {part: np.minimum(need, LAST_WEEK) for part, need in _with_undated(studied, needs, run).items()}
    return _with_held_orders(studied, needs)


def _with_held_orders(studied: Studied, needs: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """A part whose dimension holds an order is needed a week before that order has to go out."""
    build = studied.situation.build
    for earlier, later in held_up_by(studied.situation):
        offers = [offer for offer in build.offers if later in offer_contents(build, offer)]
        if later not in needs or not offers or not studied.situation.facts.missing(build, later):
            continue
        lead = min(float(np.quantile(studied.deliveries.lead_weeks(offer), 0.9)) for offer in offers)
        order = np.maximum(needs[later] - lead - SHORT_TRAVEL_WEEKS - MEASURE_WITHIN_WEEKS, 0.0)
        needs[earlier] = np.minimum(needs.get(earlier, order), order)
    return needs


def _with_undated(studied: Studied, needs: dict[str, FloatArray], run: WorkReport) -> dict[str, FloatArray]:
    """Parts no job names are needed by the first job of their phase, or by the end."""
    build = studied.situation.build
    for part_id in missing_parts(studied.situation):
        if part_id in needs:
            continue
        part = build.find("parts", part_id)
        later = [
            run.starts[job.id]
            for job in build.jobs
            if job.id in run.starts and part.phase is not None and job.phase.order >= part.phase.order
        ]
        needs[part_id] = np.minimum.reduce(later) if later else np.maximum(run.finish_weeks - 4, 0)
    return needs


def _demand(studied: Studied, opened: Openings, needs: Mapping[str, FloatArray]) -> Demand:
    situation = studied.situation
    undecided: dict[str, float] = {}
    for decision, week in opened.decisions.items():
        for option in situation.build.find("decisions", decision).options:
            for part in option.parts:
                undecided[part] = max(undecided.get(part, 0.0), week)
    return Demand(
        missing=missing_parts(situation),
        needs=needs,
        late_weeks={part: studied.late_weeks.get(part, UNDATED_CURVE) for part in needs},
        misfit=studied.fit.misfit_chance,
        holds=opened.holds,
        undecided=undecided,
    )


def bought_arrivals(market: Market, purchase: PurchasePlan) -> dict[str, FloatArray]:
    """Part -> moment all that is bought of it is in hand, shape (runs,)."""
    arrivals: dict[str, FloatArray] = {}
    for line in purchase.lines:
        moment = arrivals_of(market, market.entries[line.candidate])
        for part in line.parts:
            arrivals[part] = np.maximum(arrivals.get(part, moment), moment)
    return arrivals
