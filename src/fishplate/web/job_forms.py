"""The form of a job: everything that can be said of it, links with their waits, stop points, places, season, shop."""

from __future__ import annotations

from calendar import month_name
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, get_args

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.jobs import Job, StopPoint
from ..build.jobs import Link as Before
from ..build.parts import Hazard, Phase
from . import job_edits
from .ask import Ask, Asked
from .form import Form, made
from .words import PHASE_WORDS, in_field, number

if TYPE_CHECKING:
    from .desk import View

router = APIRouter()
Options = tuple[tuple[str, str], ...]
BLANK_ROWS: Final = 2
SAID: Final = {"yes": True, "no": False}
USES: Final = (
    ("to_keep", "fitted for good"),
    ("to_try", "tried in mock-up"),
    ("works_on", "in hands or sent away, so that no other job has it"),
)
HAZARDS: Final = tuple((name, name.replace("-", " ")) for name in get_args(Hazard))


@dataclass(frozen=True, slots=True)
class JobGroup:
    """Jobs of a phase, to be ticked."""

    name: str
    jobs: Options


@dataclass(frozen=True, slots=True)
class LinkRow:
    """What comes before a job, as it stands on the form; blank rows to fill in have no job."""

    key: str
    job: str = ""
    kind: str = "finish-start"
    lag: str = ""
    within: str = ""
    redo: str = ""


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part a job takes, and for what."""

    key: str
    part: str = ""
    use: str = "to_keep"


@dataclass(frozen=True, slots=True)
class StopRow:
    """How far a job can go without some parts, as it stands on the form."""

    key: str
    name: str = ""
    percent: str = ""
    without: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JobForm:
    """The form of a job.

    Parameters
    ----------
    hours, rework : low, likely, high as typed
    own_parts : parts it takes, which a stop point can go without
    """

    job: Job
    hours: tuple[str, str, str]
    rework: tuple[str, str, str]
    systems: Options
    jobs: Options
    parts: Options
    own_parts: Options
    links: tuple[LinkRow, ...]
    part_rows: tuple[PartRow, ...]
    stops: tuple[StopRow, ...]
    decisions: Options
    interfaces: Options
    states: Options
    workshops: Options
    months: Options = tuple((str(place), month_name[place]) for place in range(1, 13))
    uses: Options = USES
    hazards: Options = HAZARDS


def jobs_by_phase(build: Build) -> tuple[JobGroup, ...]:
    """Every job by its phase, for a list to tick."""
    found = [
        JobGroup(PHASE_WORDS[phase], tuple((job.id, job.name) for job in build.jobs if job.phase is phase))
        for phase in Phase
    ]
    return tuple(group for group in found if group.jobs)


def job_form(view: View, job: Job) -> JobForm:
    """The form of a job, to change it."""
    build = view.build
    own = {part for use, _ in USES for part in getattr(job, use)}
    stops = [
        StopRow(f"stop-{place}", stop.name, number(round(100 * stop.share, 1)), stop.without)
        for place, stop in enumerate(job.stop_points)
    ]
    return JobForm(
        job=job,
        hours=(in_field(job.hours.low), in_field(job.hours.likely), in_field(job.hours.high)),
        rework=("", "", "") if (again := job.rework) is None
        else (in_field(again.low), in_field(again.likely), in_field(again.high)),
        systems=(("", "none named"), *_named(build, "systems")),
        jobs=(("", "nothing"), *(each for each in _named(build, "jobs") if each[0] != job.id)),
        parts=(("", "none"), *_named(build, "parts")),
        own_parts=tuple(each for each in _named(build, "parts") if each[0] in own),
        links=tuple(_link_rows(job)),
        part_rows=tuple(_part_rows(job)),
        stops=(*stops, StopRow(f"stop-{len(stops)}")),
        decisions=_named(build, "decisions"),
        interfaces=_named(build, "interfaces"),
        states=_named(build, "states"),
        workshops=(("", "nobody: it is done here"), *_named(build, "workshops")),
    )  # fmt: skip


def _named(build: Build, list_name: str) -> Options:
    return tuple((noun.id, noun.name) for noun in getattr(build, list_name))


def _link_rows(job: Job) -> Iterator[LinkRow]:
    for place, link in enumerate(job.after):
        within = "" if link.within_days is None else in_field(link.within_days)
        lag, redo = (in_field(each) if each else "" for each in (link.lag_days, link.redo_hours))
        yield LinkRow(f"link-{place}", link.job, link.kind, lag, within, redo)
    yield from (LinkRow(f"link-{len(job.after) + extra}") for extra in range(BLANK_ROWS))


def _part_rows(job: Job) -> Iterator[PartRow]:
    held = [(part, use) for use, _ in USES for part in getattr(job, use)]
    yield from (PartRow(f"part-{place}", part, use) for place, (part, use) in enumerate(held))
    yield from (PartRow(f"part-{len(held) + extra}") for extra in range(BLANK_ROWS))


# changes


def job_written(build: Build, form: Form, job: Job) -> Build:
    """The build with a job as it is on the form; raises Refused with what it can't be."""
    fields: dict[str, Any] = {
        **told(form, build),
        "after": tuple(_links(form, job, build.index["jobs"].keys() - {job.id})),
        **_parts(form, job, build.index["parts"].keys()),
        "stop_points": tuple(_stops(form, job)),
        "decisions": _ticked(form, "decision", job.decisions),
        "interfaces": _ticked(form, "interface", job.interfaces),
        "settles": _ticked(form, "settles", job.settles),
        "closes": _ticked(form, "closes", job.closes),
        "changes": _ticked(form, "changes", job.changes),
        "rework": form.three_point("rework"),
        "hazards": _ticked(form, "hazard", job.hazards),
        "months": tuple(int(month) for month in form.every("month") if month.isdigit() and len(month) < 3),
        "cure_days": form.maybe_number("cure_days", at_least=0, at_most=3650) or 0,
        "workshop": form.text("workshop") or None,
        "cost": form.maybe_number("cost", at_least=0, at_most=1e9) or 0,
        "tools": tuple(filter(None, (tool.strip() for tool in form.text("tools").split(",")))),
        "bay": form.ticked("bay"),
        "lift": form.ticked("lift"),
        "second_person": form.ticked("helper"),
        "loud": SAID.get(form.text("loud")),
        "dry": SAID.get(form.text("dry")),
        "least_c": form.maybe_number("least_c", at_least=-60, at_most=60),
        "setting_up_minutes": form.maybe_number("setting_up", at_least=0, at_most=1440) or 0,
        "note": form.text("note"),
        "dropped": job.dropped and form.ticked("dropped"),
    }
    if form.text("rework-likely") and not fields["settles"]:
        form.refuse("rework-likely", "it verifies no place", do="Tick the place it verifies, or leave this empty.")
    return build if form.problems else job_edits.changed(build, job.id, **fields)


def _ticked(form: Form, name: str, was: tuple[str, ...]) -> tuple[str, ...]:
    """What is ticked, in the order it was in, and what is new after that."""
    ticked = form.every(name)
    return (*(each for each in was if each in ticked), *(each for each in ticked if each not in was))


def told(form: Form, build: Build) -> dict[str, object]:
    """What is said of any job: name, phase, system, hours."""
    hours = form.three_point("hours")
    if hours is None and not form.problems:
        form.refuse("hours-likely", "nothing was filled in", do="Say how many hours it takes, about.")
    systems = [system.id for system in build.systems]
    return {
        "name": form.required("name", "Say what is to be done."),
        "phase": form.choice("phase", [phase.value for phase in Phase]),
        "hours": hours,
        "system": form.choice("system", systems) or None if form.text("system") else None,
    }


def _links(form: Form, job: Job, others: Collection[str]) -> Iterator[Before]:
    seen = set()
    for row in _link_rows(job):
        before = form.text(row.key)
        if before not in others:
            continue
        if before in seen:
            form.refuse(row.key, "it stands there twice", do="Name each job once.")
        seen.add(before)
        lag = form.maybe_number(f"{row.key}-lag", at_least=0, at_most=3650) or 0
        within = form.maybe_number(f"{row.key}-within", at_least=0, at_most=3650)
        redo = form.maybe_number(f"{row.key}-redo", at_least=0, at_most=1e5) or 0
        if within is not None and within < lag:
            form.refuse(f"{row.key}-within", "shorter than the wait before it", f"{within:g}", "Give at least as many.")
            continue
        kind = "start-start" if form.text(f"{row.key}-kind") == "start-start" else "finish-start"
        yield made(Before, job=before, kind=kind, lag_days=lag, within_days=within, redo_hours=redo)


def _parts(form: Form, job: Job, known: Collection[str]) -> dict[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {use: {} for use, _ in USES}
    for row in _part_rows(job):
        part, use = form.text(row.key), form.text(f"{row.key}-use")
        if part in known:
            found[use if use in found else "to_keep"][part] = None
    return {use: tuple(parts) for use, parts in found.items()}


def _stops(form: Form, job: Job) -> Iterator[StopPoint]:
    for place in range(len(job.stop_points) + 1):
        key = f"stop-{place}"
        percent, without = form.maybe_number(f"{key}-percent", at_least=0, at_most=100), form.every(f"{key}-without")
        if percent is None and not without:
            continue
        if percent is None or not without:
            form.refuse(
                f"{key}-percent", "half of a stop point", do="Say how far it goes, and tick what it goes without."
            )
            continue
        yield made(StopPoint, name=form.text(f"{key}-name"), share=percent / 100, without=without)


# routes


def show_job_form(ask: Ask, id_: str) -> Response:
    """The form of a job."""
    job: Job = ask.find("jobs", id_)
    return ask.show("job_form.html", job_form(ask.view, job), title=job.name)


@router.get("/jobs/{id_}/change")
def show_change(id_: str, ask: Asked) -> Response:
    """A job to be changed."""
    return show_job_form(ask, id_)


@router.post("/jobs/{id_}/change")
def change(id_: str, ask: Asked) -> Response:
    """Change a job."""
    job: Job = ask.find("jobs", id_)
    return ask.write(
        lambda build: job_written(build, ask.form, build.find("jobs", id_)),
        message=f"changed the job {job.name}"[:200], back=f"/jobs/{id_}", again=lambda ask: show_job_form(ask, id_),
        verdicts=True,
    )  # fmt: skip
