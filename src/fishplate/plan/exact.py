"""A full re-plan of each leading action put off, to check the fast cost of waiting."""

from __future__ import annotations

from dataclasses import replace

from .actions import draft_actions
from .loop import Round, settle
from .model import Action, ExactCheck, Plan
from .report import landed_by_line, purchase_summary
from .situation import Situation
from .study import Progress, Studied, study
from .waiting import Waiting, missed_cost

CHECKED_ACTIONS = 16
SOLVER_SECONDS = 2.5


def check_exactly(situation: Situation, plan: Plan, *, progress: Progress | None = None) -> Plan:
    """The plan with an exact check of its leading actions.

    Each is put off by the delay at which the fast figure is largest, and everything is planned again: decisions,
    purchases by the solver, work. The solver is run to a fifth of its usual gap, for the base plan too, because
    a difference smaller than its gap would tell nothing.
    """
    say = progress or (lambda _stage, _share: None)
    tight = replace(situation, target_gap=situation.target_gap / 5, solver_seconds=SOLVER_SECONDS)
    studied = study(tight, lambda _stage, _share: None)
    base, tried = settle(studied, studied.put_off, lambda _stage, _share: None)
    run = studied.simulator.run(base.gates) if studied.simulator else None
    waiting = Waiting(studied, base, run)
    lines = purchase_summary(studied, base, landed_by_line(base)).lines
    keys = {(d.kind, d.key): d.keys for d in draft_actions(studied, base, lines, run, waiting)}
    leading = [action for action in plan.actions if (action.kind, action.key) in keys][:CHECKED_ACTIONS]
    exact: list[tuple[Action, float]] = []
    for number, action in enumerate(leading):
        say("exact check", number / len(leading))
        weeks = action.cost_of_waiting.weeks
        delays = studied.put_off.besides({(str(action.kind), key): weeks for key in keys[action.kind, action.key]})
        delayed, _ = settle(studied, delays, lambda _stage, _share: None, starts=tried)
        loss = delayed.expected_total - base.expected_total + waiting.rework(delays)
        loss += _missed(studied, base, delayed, weeks)
        exact.append((action, loss))
    by_exact = sorted(exact, key=lambda item: -item[1] / item[0].cost_of_waiting.weeks)
    ranks = {(a.kind, a.key): rank for rank, (a, _) in enumerate(by_exact, start=1)}
    checks = tuple(
        ExactCheck(
            a.kind, a.key, a.cost_of_waiting.amount, round(loss, 2), a.cost_of_waiting.weeks, rank, ranks[a.kind, a.key]
        )
        for rank, (a, loss) in enumerate(exact, start=1)
    )
    say("done", 1.0)
    return replace(plan, exact=checks)


def _missed(studied: Studied, base: Round, delayed: Round, weeks: float) -> float:
    """Expected cost of what the base plan buys and the delayed one can't get any more, home currency."""
    market = base.market
    lines = [(market.entries[line.candidate], line.units) for line in base.purchase.lines]
    return sum(
        missed_cost(studied, market, entry, units, weeks)
        for entry, units in lines
        if not entry.candidate.covers.keys() <= delayed.arrivals.keys()
    )
