"""How a job hangs together with others, in words: how long it waits, what it shows, covers up and takes away."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ..build.jobs import Job, Link
from .words import chance, listed, number

if TYPE_CHECKING:
    from .desk import View


def hangs_together(view: View, job: Job) -> Iterator[str]:
    """A sentence for whatever is more than that one job follows another."""
    for link in job.after:
        yield from _link(view, link)
    yield from _shows(view, job)
    if job.works_on:
        parts = listed([f"“{view.build.find('parts', id_).name}”" for id_ in job.works_on])
        yield f"It works on {parts}, or sends it away, between trying and fitting for good."
    yield from sets_finish(view, "jobs", job.id)


def sets_finish(view: View, list_name: str, id_: str) -> Iterator[str]:
    """How often a job, a part or a decision sets the finish, by the last plan."""
    for line in () if view.plan is None else view.plan.deciding:
        if (line.kind, line.id) == (list_name, id_):
            what = "It is on the chain of work that" if list_name == "jobs" else "Waiting for it"
            yield f"{what} sets the finish, with a chance of {chance(line.chance)}."
            return


def _link(view: View, link: Link) -> Iterator[str]:
    name = f"“{view.build.find('jobs', link.job).name}”"
    moment = "has begun" if link.kind == "start-start" else "is done"
    if link.kind == "start-start" or link.lag_days:
        wait = f"{_days(link.lag_days)} after" if link.lag_days else "once"
        yield f"It can begin {wait} {name} {moment}."
    if link.within_days is not None:
        late = f"; later, it takes {number(link.redo_hours)} h more" if link.redo_hours else ""
        yield f"It has to begin within {_days(link.within_days)} after {name} {moment}{late}."


def _days(days: float) -> str:
    return "one day" if days == 1 else f"{number(days)} days"


def _shows(view: View, job: Job) -> Iterator[str]:
    build, settled = view.build, view.facts.settled
    for id_ in job.settles:
        if id_ in settled and settled[id_].good:
            continue
        again = job.rework
        early = max((it.early_hours for it in build.conditions if it.interface == id_), default=0.0)
        if again is not None:
            cost = f"{number(again.low)} to {number(again.high)} h more, about {number(again.likely)}"
        elif early > 0:
            cost = f"about {number(early)} h more"
        else:
            cost = "hours more"
        place = f"“{build.find('interfaces', id_).name}”"
        yield f"It shows on the vehicle whether {place} is right; if not, it takes {cost}."
    if job.closes:
        covered = listed([f"“{build.find('interfaces', id_).name}”" for id_ in job.closes])
        yield f"It covers up {covered}."
