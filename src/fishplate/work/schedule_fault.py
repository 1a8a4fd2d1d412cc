"""Why no schedule exists: a smallest set of rules that can't all be kept."""

from __future__ import annotations

from collections.abc import Sequence

from ortools.sat.python import cp_model

from .schedule_hands import HandsTime
from .schedule_model import Impossible, Rule, ScheduleProblem, Stop
from .schedule_programme import Programme

EFFORT_EACH = 2.0


def smallest_fault(problem: ScheduleProblem, hands: HandsTime, until: int, *, stop: Stop | None = None) -> Impossible:
    """A smallest set of rules without a schedule: no rule of it can be left out.

    The solver names a set that is enough; then each rule in turn is let go, and left out for good if there is still no
    schedule (deletion filter, Chinneck & Dravnieks 1991, ORSA Journal on Computing 3, 157-168).

    Parameters
    ----------
    until : the last day looked at; an empty set says that even without any rule not all fits before it
    """
    programme = Programme(problem, hands, until, explaining=True)
    core = _conflict(programme, tuple(programme.rules))
    if core is None:
        return Impossible(tuple(programme.rules), smallest=False)
    smallest = True
    # what is said about single tasks is tried first, so that the broad rules go if they can
    for rule in sorted(core, key=lambda rule: (-len(rule.about), rule)):
        if stop is not None and stop():
            return Impossible(tuple(sorted(core)), smallest=False)
        if rule not in core:
            continue
        fewer = _conflict(programme, [other for other in core if other != rule])
        if fewer is None:
            smallest = smallest and not _undecided(programme, [other for other in core if other != rule])
        else:
            core = fewer
    return Impossible(tuple(sorted(core)), smallest)


def _conflict(programme: Programme, rules: Sequence[Rule]) -> tuple[Rule, ...] | None:
    """Rules among those given that are enough for there to be no schedule; None if there may be one."""
    status, solver = _solved(programme, rules)
    if status != cp_model.INFEASIBLE:
        return None
    named = {programme.rules[rule].index: rule for rule in rules}
    return tuple(named[k] for k in solver.sufficient_assumptions_for_infeasibility() if k in named)


def _undecided(programme: Programme, rules: Sequence[Rule]) -> bool:
    return _solved(programme, rules)[0] == cp_model.UNKNOWN


def _solved(programme: Programme, rules: Sequence[Rule]) -> tuple[cp_model.CpSolverStatus, cp_model.CpSolver]:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = EFFORT_EACH
    programme.model.clear_assumptions()
    programme.model.add_assumptions([programme.rules[rule] for rule in rules])
    return solver.solve(programme.model), solver
