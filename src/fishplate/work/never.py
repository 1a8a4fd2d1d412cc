"""Jobs that start in no run, and why: nothing is left out of the finish in silence."""

from __future__ import annotations

from calendar import month_name
from collections.abc import Mapping

import numpy as np

from ..build import Problem
from ..build.calendar import help_chance
from ..build.jobs import Job
from ..build.owner import Owner
from ..build.words import joined
from .model import FloatArray, Gates
from .network import Piece, WorkNetwork
from .owner_hours import OwnerHours

_WORDS = {"parts": "part", "decisions": "decision", "interfaces": "interface", "jobs": "moment set for job"}


def never_starting(
    owner: Owner,
    network: WorkNetwork,
    gates: Gates,
    hours: OwnerHours,
    starts: Mapping[str, FloatArray],
    horizon_weeks: int,
) -> tuple[Problem, ...]:
    """A problem for each job that starts in no run: its own reason, else the job it waits for ("never-reached")."""
    stuck = {job for job, moments in starts.items() if not np.isfinite(moments).any()}
    problems = []
    for id_ in sorted(stuck):
        job = network.jobs[id_]
        pieces = [piece for piece in network.pieces if piece.node == id_ and piece.number == 0]
        own = _own_reason(job, pieces[0], owner, gates, hours, horizon_weeks)
        what, do = own or _waits_for(network, id_, stuck)
        code = "never-reached" if own is None and stuck & _jobs_before(network, id_) else "never-starts"
        problems.append(Problem(f"jobs ({id_})", code, f"“{job.name}” never starts: {what}", "", do))
    return tuple(problems)


def _own_reason(
    job: Job, piece: Piece, owner: Owner, gates: Gates, hours: OwnerHours, horizon_weeks: int
) -> tuple[str, str] | None:
    if job.months and job.hours.high > 0 and not hours.has_hours_in(job.months):
        names = ", ".join(month_name[month] for month in sorted(set(job.months)))
        return f"the owner has no hours in its months ({names})", "Give it other months, or hours to those."
    for place, count in (("bay", owner.bays), ("lift", owner.lifts)):
        if getattr(job, place) and count == 0:
            return f"it needs a {place}, and there is none", f"Say how many {place}s there are, or take it off the job."
    if job.second_person and hours.days.any() and not _ever_helped(job, owner, hours):
        what = "it takes a second person, who never comes on a day with hours on which it can be done"
        return what, "Name a day on which the owner works too, or do without a second person."
    for kind, id_ in piece.gates:
        moment = getattr(gates, kind).get(id_, 0.0)
        if np.min(moment) > horizon_weeks:
            what = f"its {_WORDS[kind]} {id_} does not come within {horizon_weeks} weeks"
            return what, "See what that waits for."
    if not hours.days.any():
        return "the owner has no hours at all", "Enter hours a week, or fewer days off."
    return None


def _jobs_before(network: WorkNetwork, node: str) -> set[str]:
    """Jobs a node waits for, seen through gates and jobs that are not called for."""
    found: set[str] = set()
    for link in network.links:
        if link.after == node:
            found |= {link.before} if link.before in network.jobs else _jobs_before(network, link.before)
    return found


def _ever_helped(job: Job, owner: Owner, hours: OwnerHours) -> bool:
    return any(
        help_chance(owner, day) > 0
        for day, has in zip(hours.dates, hours.days, strict=True)
        if has > 0 and (not job.months or day.month in job.months)
    )


def _waits_for(network: WorkNetwork, node: str, stuck: set[str]) -> tuple[str, str]:
    before = sorted(_jobs_before(network, node))
    for other in before:
        if other in stuck:
            name = f"“{network.jobs[other].name}”"
            return f"it waits for {name}, which never starts", f"See {name}."
    if before:
        names = joined([f"“{network.jobs[other].name}”" for other in before])
        return f"what it waits for is not done in time ({names})", "See what holds those."
    return "the hours of the horizon are used up before it", "More hours a week, or less work."
