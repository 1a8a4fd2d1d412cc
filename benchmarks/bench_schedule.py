"""How long a schedule takes: builds of many sizes, and what our layer adds to the bare solver.

For builds the baseline is the same constraint programme given to CP-SAT bare, without bounds, start, short search or
improvement, to the same proof; where no proof comes within the effort there is none. For the published problems of
PSPLIB, where they are beside the project, it is the textbook model with two workers, on one of each parameter group.
"""

from __future__ import annotations

import time
from typing import Any

from fishplate.build import facts_of
from fishplate.work.schedule_hands import HandsTime
from fishplate.work.schedule_model import Found, Limits, ScheduleProblem
from fishplate.work.schedule_solve import schedule
from fishplate.work.schedule_tasks import FINISH_WORTH, drafted

from . import psplib
from .bench_work import AS_OF, gates_for, memory_mib, network

EFFORT = 5.0


def bare_seconds(problem: ScheduleProblem, until: int) -> float | None:
    """The programme alone, to the proof; None if there is none within the effort [s]."""
    from ortools.sat.python import cp_model

    from fishplate.work.schedule_programme import Programme

    begun = time.perf_counter()
    programme = Programme(problem, HandsTime(problem.hours), until)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = EFFORT
    status = solver.solve(programme.model)
    return time.perf_counter() - begun if status == cp_model.OPTIMAL else None


def row(jobs: int) -> dict[str, Any]:
    """A build of so many jobs, drafted and scheduled."""
    build = network(jobs)
    facts = facts_of(build, AS_OF)
    begun = time.perf_counter()
    draft = drafted(build, facts, gates_for(build))
    found = schedule(draft.problem, Limits(effort=EFFORT))
    seconds = time.perf_counter() - begun
    assert isinstance(found, Found)
    gap = (found.cost - found.bound) / FINISH_WORTH
    return {
        "name": f"schedule {jobs} jobs",
        "seconds": seconds,
        "memory_mib": memory_mib(),
        "baseline": "the bare programme to the proof",
        "baseline_seconds": bare_seconds(draft.problem, found.finish + 60),
        "note": f"{found.ended}; proven to within {gap:.1f} days of a finish in {found.finish} days; effort {EFFORT:g}",
    }


def published_row(size: str, seconds: float = 30.0) -> dict[str, Any]:
    """One of each parameter group, by us and plainly; processor time, so that other work on the machine counts less."""
    psplib.warm()
    both = psplib.beside(psplib.instances(size, 10), Limits(effort=1e9, seconds=seconds))
    note = f"ours {psplib.told(both.ours)}; plain {psplib.told(both.plainly)}; {both.overhead:.2f} of what both prove"
    return {
        "name": f"{size} of PSPLIB, processor time, at most {seconds:g} s each",
        "seconds": sum(each.processor for each in both.ours),
        "memory_mib": memory_mib(),
        "baseline": "plain CP-SAT, two workers",
        "baseline_seconds": sum(each.processor for each in both.plainly),
        "note": note,
    }


def rows() -> list[dict[str, Any]]:
    """All timings of the schedule."""
    builds = [row(60), row(100), row(400), row(600)]
    return builds + ([published_row("j30"), published_row("j60")] if psplib.FOLDER.exists() else [])
