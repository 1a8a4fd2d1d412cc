"""The loop of the main job: when work needs things, what to buy, work again with arrivals, until dates stop moving."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..buy import PurchasePlan, seconds_for, solve
from ..work import Gates, WorkReport
from .demand import Demand
from .market import Market, arrivals_of
from .model import FloatArray
from .needs import UNDATED_CURVE, delay_cost, earliest_arrivals, needs_of, played
from .opening import Delays, Holds, Openings, decision_weeks
from .recosting import Recosting
from .study import Progress, Studied

MAX_ROUNDS, MAX_REPAIRS = 3, 4
ROUGH_EFFORT, ROUGH_GAP = 0.5, 1.5
"""Shares of the effort and the gap for a round: only the one that is kept is worth a proof."""
NO_BETTER = 0.5
"""A round that costs less by no more than this is no better [EUR]."""


@dataclass(frozen=True)
class Round:
    """One settled set of dates and purchases, and its arrivals played through the work.

    Parameters
    ----------
    run : the work with these arrivals; None if nothing dates it
    too_soon : holds of offers that are ordered before what they wait for has come by these very dates
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
    run: WorkReport | None
    too_soon: Holds
    money: float
    expected_total: float

    @property
    def ends(self) -> Mapping[str, FloatArray]:
        """Job -> moment it is done, shape (runs,)."""
        return {} if self.run is None else self.run.ends


@dataclass(frozen=True)
class Soonest:
    """Everything as soon as can be.

    Parameters
    ----------
    holds : offer -> (first week it may be ordered, what it waits for)
    arrivals : part -> moment it is in hand at the soonest
    run : the work with these arrivals
    """

    holds: Holds
    arrivals: Mapping[str, FloatArray]
    run: WorkReport | None


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
    soonest = _soonest(studied, delays)
    holds, arrivals = soonest.holds, soonest.arrivals
    before: Round | None = None
    best: Round | None = None
    tried: list[PurchasePlan] = []
    rounds, no_better = 0, studied.situation.in_home(NO_BETTER)
    while rounds < MAX_ROUNDS:
        progress(f"purchases, round {len(tried) + 1}", min(0.7, 0.4 + 0.15 * len(tried)))
        start = starts[min(len(tried), len(starts) - 1)] if starts else before.purchase if before else None
        settled = _one_round(studied, soonest, before, holds, delays, start)
        tried.append(settled.purchase)
        if settled.too_soon:
            never = math.inf if len(tried) > MAX_REPAIRS else 0.0
            holds = {**holds, **{offer: (max(week, never), why) for offer, (week, why) in settled.too_soon.items()}}
        else:
            rounds += 1
            if best is not None and settled.expected_total >= best.expected_total - no_better:
                break
            best = settled
            if _moved(arrivals, settled.arrivals) < 0.5:
                break
        before, arrivals = settled, settled.arrivals
    assert best is not None
    return _proven(studied, best, delays, tried), tuple(tried)


def _proven(studied: Studied, kept: Round, delays: Delays, tried: list[PurchasePlan]) -> Round:
    """The kept round, its purchases sought with all effort; what was found is added to those that were tried."""
    if kept.purchase.optimal and kept.purchase.gap <= studied.situation.target_gap:
        return kept
    purchase = _solved(studied, kept.market, kept.recosting, kept.purchase)
    tried.append(purchase)
    found = played_round(
        *(studied, kept.demand, kept.market, kept.recosting, purchase, kept.openings.holds, kept.ends, delays)
    )
    return kept if found.too_soon or found.expected_total > kept.expected_total else found


def _solved(
    studied: Studied, market: Market, recosting: Recosting, start: PurchasePlan | None, *, rough: bool = False
) -> PurchasePlan:
    situation, problem = studied.situation, market.problem()
    return solve(
        problem,
        recost=recosting.costs,
        time_limit=seconds_for(len(problem.candidates), situation.solver_seconds) * (ROUGH_EFFORT if rough else 1.0),
        gap=situation.target_gap * (ROUGH_GAP if rough else 1.0),
        start=start,
    )


def _moved(before: Mapping[str, FloatArray], after: Mapping[str, FloatArray]) -> float:
    return max((abs(float(np.median(after[p]) - np.median(before[p]))) for p in after if p in before), default=0.0)


def _soonest(studied: Studied, delays: Delays) -> Soonest:
    """Holds with every part as soon as can be, and those arrivals: an order may wait for what itself is held."""
    ends = {} if studied.free_run is None else studied.free_run.ends
    holds: Holds = {}
    earlier: Holds = {}
    for _ in range(len(studied.situation.build.releases) + 2):
        arrivals = {**studied.incoming, **earliest_arrivals(studied, holds)}
        opened, _gates, run = played(studied, arrivals, ends, delays)
        if opened.holds == holds:
            return Soonest(holds, arrivals, run)
        holds, earlier = opened.holds, holds
        ends = {} if run is None else run.ends
    # What still moves waits for itself in a circle and never opens.
    holds = {o: (week if week == earlier.get(o, (0.0, ""))[0] else math.inf, why) for o, (week, why) in holds.items()}
    arrivals = {**studied.incoming, **earliest_arrivals(studied, holds)}
    return Soonest(holds, arrivals, played(studied, arrivals, ends, delays)[2])


def _one_round(
    studied: Studied, soonest: Soonest, before: Round | None, holds: Holds, delays: Delays, start: PurchasePlan | None
) -> Round:
    situation = studied.situation
    needs: Mapping[str, FloatArray] = {}
    if soonest.run is not None:
        needs = needs_of(studied, soonest.run, before.run if before else None, before.arrivals if before else {})
    demand = _demand(studied, holds, needs, delays)
    not_before = {key: week for (kind, key), week in delays.weeks.items() if kind == "buy"}
    market = Market(situation, studied.outlooks, studied.deliveries, demand, not_before, studied.doors)
    recosting = Recosting(market)
    purchase = _solved(studied, market, recosting, start, rough=True)
    ends = before.ends if before else soonest.run.ends if soonest.run else {}
    return played_round(studied, demand, market, recosting, purchase, holds, ends, delays)


def played_round(
    studied: Studied,
    demand: Demand,
    market: Market,
    recosting: Recosting,
    purchase: PurchasePlan,
    holds: Holds,
    ends: Mapping[str, FloatArray],
    delays: Delays,
) -> Round:
    """Purchases played through the work, with what they cost.

    Parameters
    ----------
    holds : those the market was made with
    ends : job -> moment it is done, to begin with
    """
    situation = studied.situation
    arrived = {**studied.incoming, **bought_arrivals(market, purchase)}
    opened, gates, run = played(studied, arrived, ends, delays)
    late = sum(market.entries[line.candidate].late * line.units for line in purchase.lines)
    money = purchase.total - late
    total = money + delay_cost(situation, None if run is None else run.finish_weeks)
    weeks = {market.entries[line.candidate].offer.id: line.week for line in purchase.lines}
    too_soon = {offer: hold for offer, hold in opened.holds.items() if weeks.get(offer, math.inf) < hold[0] - 1e-6}
    opened = replace(opened, holds=holds)
    return Round(opened, demand, market, recosting, purchase, arrived, gates, run, too_soon, money, total)


def _demand(studied: Studied, holds: Holds, needs: Mapping[str, FloatArray], delays: Delays) -> Demand:
    situation = studied.situation
    undecided: dict[str, float] = {}
    for decision, week in decision_weeks(situation.build, studied.decided.modelled_weeks, delays).items():
        for option in situation.build.find("decisions", decision).options:
            for part in option.parts:
                undecided[part] = max(undecided.get(part, 0.0), week)
    return Demand(
        missing=situation.missing_parts,
        needs=needs,
        late_weeks={part: studied.late_weeks.get(part, UNDATED_CURVE) for part in needs},
        misfit=studied.fit.misfit_chance,
        holds=holds,
        undecided=undecided,
        planned=studied.planned,
    )


def bought_arrivals(market: Market, purchase: PurchasePlan) -> dict[str, FloatArray]:
    """Part -> moment all that is bought of it is in hand, shape (runs,)."""
    arrivals: dict[str, FloatArray] = {}
    for line in purchase.lines:
        moment = arrivals_of(market, market.entries[line.candidate])
        for part in line.parts:
            arrivals[part] = np.maximum(arrivals[part], moment) if part in arrivals else moment
    return arrivals
