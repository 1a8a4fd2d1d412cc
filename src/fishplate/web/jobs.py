"""Jobs: all of them by phase with what each waits for, hours in two taps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.jobs import Job, Link
from ..build.parts import Phase
from . import job_edits, job_forms, part_twice
from .ask import Ask, Asked
from .desk import Edit, View
from .holdings import holdings
from .job import JobPage, job_page, state_of
from .job_forms import told
from .ready import Ready, closed_interfaces, ready_now
from .unfolding import list_behind
from .verdicts import fitted_by_plan
from .waits import due_of

router = APIRouter()
router.include_router(job_forms.router)
router.include_router(part_twice.router)
MINUTES: Final = (30, 60, 90, 120)
MOST_HOURS: Final = 24.0
FOLDED_FROM: Final = 300
"""From so many jobs on, one phase is shown at a time."""


@dataclass(frozen=True, slots=True)
class Row:
    """A job as it stands in its phase."""

    id: str
    name: str
    said: str


@dataclass(frozen=True, slots=True)
class PhaseGroup:
    """The jobs of a phase: those to do, those done, those that only another choice calls for.

    Parameters
    ----------
    folded : what is in it, in words, where its jobs are not shown on this page
    """

    phase: str
    name: str
    said: str
    folded: str
    open: tuple[Row, ...]
    done: tuple[Row, ...]
    elsewhere: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Query:
    """What is asked: the job that is unfolded, or the phase that is shown where there are many jobs."""

    open: str = ""
    phase: str = ""

    @property
    def path(self) -> str:
        """Address of the page."""
        given = {name: value for name, value in (("open", self.open), ("phase", self.phase)) if value}
        return f"/jobs?{urlencode(given)}" if given else "/jobs"


@dataclass(frozen=True, slots=True)
class JobsPage:
    """All jobs.

    Parameters
    ----------
    open : the job that is unfolded, if any
    """

    query: Query
    groups: tuple[PhaseGroup, ...]
    count: int
    open: JobPage | None
    phases: tuple[tuple[str, str], ...]
    systems: tuple[tuple[str, str], ...]
    others: tuple[tuple[str, str], ...]


def jobs_page(view: View, query: Query, closed: Mapping[str, str]) -> JobsPage:
    """The page of all jobs.

    Parameters
    ----------
    closed : interfaces that do not fit for sure, with their verdict
    """
    by_id = {item.job.job: item for item in ready_now(view, closed)}
    known = view.build.index["jobs"]
    return JobsPage(
        query=query,
        groups=tuple(_groups(view, query, closed, by_id)),
        count=len(view.build.jobs),
        open=job_page(view, query.open, closed, by_id) if query.open in known else None,
        phases=PHASES,
        systems=(("", "none named"), *((system.id, system.name) for system in view.build.systems)),
        others=(("", "nothing that is listed"), *((job.id, job.name) for job in view.build.jobs)),
    )


def _phase_name(phase: Phase) -> str:
    return phase.value.replace("-", " ").capitalize()


PHASES: Final = tuple((phase.value, _phase_name(phase)) for phase in Phase)


def _groups(
    view: View, query: Query, closed: Mapping[str, str], ready: Mapping[str, Ready]
) -> Iterator[PhaseGroup]:  # fmt: skip
    shown = _shown_phase(view, query)
    for phase in Phase:
        jobs = [job for job in view.build.jobs if job.phase is phase]
        if not jobs:
            continue
        done = [job for job in jobs if view.facts.is_done(job.id)]
        elsewhere = [job for job in jobs if job.id not in view.facts.wanted_jobs and not view.facts.is_done(job.id)]
        open_ = [job for job in jobs if job.id in view.facts.wanted_jobs and not view.facts.is_done(job.id)]
        said = f"{len(done)} of {len(done) + len(open_)} done" if open_ else ""
        if shown not in (None, phase):
            now = sum(job.id in ready for job in jobs)
            many = "1 job" if len(jobs) == 1 else f"{len(jobs)} jobs"
            folded = f"Its {many}{f', {now} of which can go on now' if now else ''}"
            yield PhaseGroup(phase.value, _phase_name(phase), said, folded, (), (), ())
        else:
            rows = [tuple(_rows(view, kind, closed, ready)) for kind in (open_, done, elsewhere)]
            yield PhaseGroup(phase.value, _phase_name(phase), said, "", *rows)


def _shown_phase(view: View, query: Query) -> Phase | None:
    """The one phase that is shown, the first with work left unless another is asked for; None where all are."""
    if len(view.build.jobs) < FOLDED_FROM:
        return None
    unfolded = view.build.index["jobs"].get(query.open)
    if unfolded is not None:
        return Phase(unfolded.phase)
    if query.phase in [phase.value for phase in Phase]:
        return Phase(query.phase)
    left = {job.phase for job in view.build.jobs if job.id in view.facts.wanted_jobs and not view.facts.is_done(job.id)}
    return next((phase for phase in Phase if phase in left), view.build.jobs[0].phase)


def _rows(
    view: View, jobs: Sequence[Job], closed: Mapping[str, str], ready: Mapping[str, Ready]
) -> Iterator[Row]:  # fmt: skip
    held, due = view.once(holdings), view.once(due_of)
    for job in jobs:
        yield Row(job.id, job.name, state_of(view, job, held, closed, ready, due).said)


# routes


def closed_for(ask: Ask) -> Mapping[str, str]:
    """Interfaces that do not fit for sure, by what is known now: of the build as it stands, or of the last plan."""
    view = ask.view
    found = ask.desk.verdicts.of(view).value if view.build.interfaces else None
    return closed_interfaces(found or (fitted_by_plan(view.build, view.plan) if view.plan else None))


def query_of(asked: Mapping[str, Sequence[str]]) -> Query:
    """What is asked, from an address."""
    return Query((asked.get("open") or [""])[0], (asked.get("phase") or [""])[0])


def show_jobs(ask: Ask, query: Query | None = None) -> Response:
    """The page."""
    params = ask.request.query_params
    asked = query or query_of({key: params.getlist(key) for key in params})
    return ask.show("jobs.html", jobs_page(ask.view, asked, closed_for(ask)), title="Jobs")


def show_job(ask: Ask, id_: str) -> Response:
    """A job: by itself, as the piece that unfolds in the list, or in the list where a form of it was refused there."""
    query = list_of(ask)
    if query is not None and ask.request.method != "GET":
        return show_jobs(ask, Query(id_))
    ask.find("jobs", id_)
    closed = closed_for(ask)
    ready = {item.job.job: item for item in ready_now(ask.view, closed)}
    page = job_page(ask.view, id_, closed, ready)
    return ask.show("job_piece.html" if ask.in_place else "job.html", page, title=page.name)


def list_of(ask: Ask) -> Query | None:
    """The list that a form was sent from; None if it stood on a page of its own."""
    asked = list_behind(ask, "/jobs")
    return None if asked is None else query_of(asked)


def write(ask: Ask, id_: str, edit: Edit, message: str) -> Response:
    """Change something about a job, and go back to where it was shown."""
    query = list_of(ask)
    back = f"/jobs/{id_}" if query is None else Query(id_).path
    return ask.write(edit, message=message[:200], back=back, again=lambda ask: show_job(ask, id_))


@router.get("/jobs")
def show(ask: Asked) -> Response:
    """The page."""
    return show_jobs(ask)


@router.get("/jobs/{id_}")
def show_one(id_: str, ask: Asked) -> Response:
    """One job."""
    return show_job(ask, id_)


@router.post("/jobs")
def add(ask: Asked) -> Response:
    """A new job."""
    name = ask.form.text("name")

    def edit(build: Build) -> Build:
        form = ask.form
        after = form.text("after")
        given = {**told(form, build), "after": (Link(job=after),) if after in build.index["jobs"] else ()}
        return build if form.problems else job_edits.added(build, **given)

    return ask.write(edit, message=f"added the job {name[:150]}", back="/jobs", again=show_jobs)


@router.post("/jobs/{id_}/hours")
def log_hours(id_: str, ask: Asked) -> Response:
    """Hours worked on a job, by a button of so many minutes or as typed; and whether it is done."""
    edit, message = hours_edit(ask, id_)
    return write(ask, id_, edit, message)


def hours_edit(ask: Ask, id_: str) -> tuple[Edit, str]:
    """What a form of hours asks to be written, and what the history says of it."""
    name = ask.find("jobs", id_).name
    tapped = ask.form.text("minutes")

    def edit(build: Build) -> Build:
        form = ask.form
        hours, done = _hours(ask, tapped), form.ticked("done") or tapped == "done"
        left, day = form.maybe_number("left", at_least=0, at_most=1e5), _past_day(ask)
        if form.problems:
            return build
        return job_edits.logged(build, id_, day, hours, done=done, left=left, note=form.text("note"))

    return edit, f"{'done' if tapped == 'done' else 'hours on'}: {name}"


def _hours(ask: Ask, tapped: str) -> float:
    if tapped in map(str, MINUTES):
        return int(tapped) / 60
    if tapped == "done":
        return ask.form.maybe_number("hours", at_least=0, at_most=MOST_HOURS) or 0.0
    return ask.form.number("hours", at_least=0, at_most=MOST_HOURS)


def _past_day(ask: Ask) -> date:
    day = ask.form.day("day", ask.today)
    if day > ask.today:
        ask.form.refuse("day", "after today", day.isoformat(), "Give the day it was done.")
    return day
