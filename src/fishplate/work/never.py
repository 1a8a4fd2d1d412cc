"""Jobs that start in no run, and why: nothing is left out of the finish in silence."""

from __future__ import annotations

from calendar import month_name
from collections.abc import Mapping

import numpy as np

from ..build import Problem
from ..build.jobs import Job
from .model import FloatArray, Gates
from .network import Piece, WorkNetwork
from .owner_hours import OwnerHours

_WORDS = {"parts": "part", "decisions": "decision", "interfaces": "interface", "jobs": "moment set for job"}


def never_starting(
    network: WorkNetwork, gates: Gates, hours: OwnerHours, starts: Mapping[str, FloatArray], horizon_weeks: int
) -> tuple[Problem, ...]:
    """A problem for each job that starts in no run, its own reason first, else the job it waits for."""
    stuck = {job for job, moments in starts.items() if not np.isfinite(moments).any()}
    problems = []
    for id_ in sorted(stuck):
        job = network.jobs[id_]
        pieces = [piece for piece in network.pieces if piece.node == id_ and piece.number == 0]
        what, do = _own_reason(job, pieces[0], gates, hours, horizon_weeks) or _waits_for(network, id_, stuck)
        problems.append(Problem(f"jobs ({id_})", "never-starts", f"{job.name} never starts: {what}", "", do))
    return tuple(problems)


def _own_reason(job: Job, piece: Piece, gates: Gates, hours: OwnerHours, horizon_weeks: int) -> tuple[str, str] | None:
    if job.months and job.hours.high > 0 and not hours.has_hours_in(job.months):
        names = ", ".join(month_name[month] for month in sorted(set(job.months)))
        return f"the owner has no hours in its months ({names})", "Give it other months, or hours to those."
    for kind, id_ in piece.gates:
        moment = getattr(gates, kind).get(id_, 0.0)
        if np.min(moment) > horizon_weeks:
            what = f"its {_WORDS[kind]} {id_} does not come within {horizon_weeks} weeks"
            return what, "See what that waits for."
    if not hours.days.any():
        return "the owner has no hours at all", "Enter hours a week, or fewer days off."
    return None


def _waits_for(network: WorkNetwork, node: str, stuck: set[str]) -> tuple[str, str]:
    before = sorted({link.before for link in network.links if link.after == node})
    for other in before:
        if other in stuck:
            return f"it waits for {other}, which never starts", f"See {other}."
    if before:
        return f"what it waits for is not done in time ({', '.join(before)})", "See what holds those."
    return "the hours of the horizon are used up before it", "More hours a week, or less work."
