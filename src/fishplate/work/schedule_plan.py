"""The front door of the schedule: a build in, weeks and sentences out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

from ..build import Build, Facts
from .model import Gates
from .schedule_changes import changes_since
from .schedule_model import Impossible, Limits, Progress, Stop
from .schedule_report import report
from .schedule_result import Opener, WorkSchedule
from .schedule_solve import schedule
from .schedule_tasks import FINISH_WORTH, Drafted, drafted
from .schedule_words import faults_of

STAY_WORTH: Final = FINISH_WORTH  # an order that gains less than a day of finish is not worth the change


def work_schedule(
    build: Build,
    facts: Facts,
    gates: Gates,
    *,
    doubts: Mapping[str, float] | None = None,
    deadline: date | None = None,
    last: WorkSchedule | None = None,
    baseline: WorkSchedule | None = None,
    revision: int = 0,
    limits: Limits | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> WorkSchedule:
    """Week by week what to do, where it stalls, how good that is proven to be, and what moved.

    Parameters
    ----------
    gates : the moments things outside the jobs open
    doubts : by interface, the chance that it does not fit
    deadline : the day by which all is to be done
    last : the schedule made last; its order is kept where another gains less than a day of finish
    baseline : the schedule that changes are told from; `last` if left out
    limits, progress, stop : see `schedule_solve.schedule`

    Returns
    -------
    the schedule; without a finish, and with what is at fault, if there is none

    Raises
    ------
    ValueError
        if jobs wait for each other in a circle
    RuntimeError
        if nothing was found within the limits
    """
    relaxed: dict[tuple[str, str], float] = {}
    while True:
        draft = drafted(build, facts, gates, doubts=doubts, deadline=deadline, relaxed=relaxed)
        near = _near(draft, last, facts)
        found = schedule(draft.problem, limits, near=near, near_worth=STAY_WORTH, progress=progress, stop=stop)
        if not isinstance(found, Impossible):
            break
        more = _to_relax(build, draft, found)
        if not more:
            return _impossible(build, draft, found, facts, revision)
        relaxed.update(more)
    made = report(build, draft, found, facts.as_of, revision=revision)
    since = baseline or last
    if since is None:
        return made
    return replace(made, baseline=since.as_of, changes=changes_since(build, since, made))


def _near(draft: Drafted, last: WorkSchedule | None, facts: Facts) -> dict[str, float] | None:
    """Starts of the tasks as the last schedule had them, in its order within a day; new ones come last."""
    if last is None or not last.starts:
        return None
    known = {
        task: (day - facts.as_of).days + position * 1e-6 for position, (task, day) in enumerate(last.starts.items())
    }
    new = max(known.values()) + 1
    return {task.id: known.get(task.id, new) for task in draft.problem.tasks}


def _to_relax(build: Build, draft: Drafted, found: Impossible) -> dict[tuple[str, str], float]:
    """Latest moments among what is at fault that may be missed at the cost of some hours."""
    job_of = {task: job for job, tasks in draft.tasks_of.items() for task in tasks}
    pairs = {(job_of[rule.about[0]], job_of[rule.about[1]]) for rule in found.rules if rule.kind == "most"}
    redo = {
        (link.job, job.id): link.redo_hours
        for job in build.jobs
        for link in job.after
        if link.within_days is not None and link.redo_hours > 0
    }
    return {pair: redo[pair] for pair in sorted(pairs) if pair in redo}


def _impossible(build: Build, draft: Drafted, found: Impossible, facts: Facts, revision: int) -> WorkSchedule:
    openers = {
        task: Opener(kind, id_, facts.as_of + timedelta(days=day))
        for task, held in draft.opens.items()
        for (kind, id_), day in [max(held.items(), key=lambda item: item[1])]
    }
    return WorkSchedule(
        as_of=facts.as_of,
        revision=revision,
        finish=None,
        gap_days=0.0,
        ended="proven" if found.smallest else "effort",
        stalled_hours=0.0,
        faults=faults_of(build, draft.problem, found.rules, openers, facts.as_of),
        smallest=found.smallest,
        assumptions=draft.assumptions,
    )
