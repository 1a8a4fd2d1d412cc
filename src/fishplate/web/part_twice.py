"""A part that is tried bare, taken off, finished and fitted for good: its four jobs, written down at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.jobs import Link
from ..work import four_jobs
from .ask import Ask, Asked
from .desk import put_all
from .form import Form

router = APIRouter()
PATH: Final = "/jobs/of-a-part"
Options = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class TwicePage:
    """What can be chosen; `part` is chosen already, empty if none is."""

    parts: Options
    workshops: Options
    jobs: Options
    part: str


def twice_page(build: Build, part: str = "") -> TwicePage:
    """The form, for the parts that are not worked on yet."""
    worked_on = {id_ for job in build.jobs for id_ in job.works_on}
    return TwicePage(
        parts=tuple((it.id, it.name) for it in build.parts if not it.dropped and it.id not in worked_on),
        workshops=(("", "at home"), *((it.id, it.name) for it in build.workshops)),
        jobs=(("", "nothing that is listed"), *((it.id, it.name) for it in build.jobs if not it.dropped)),
        part=part if part in build.index["parts"] else "",
    )


def written(build: Build, form: Form) -> Build:
    """The build with the four jobs of a part."""
    part = build.index["parts"].get(form.text("part"))
    if part is None:
        form.refuse("part", "no part of this build", form.text("part"), "Choose one of the list.")
    hours = {name: form.three_point(name) for name in ("mock-up", "finish", "assembly")}
    for name, points in hours.items():
        if points is None:
            form.refuse(f"{name}-likely", "no hours are given", do="Say about how long it takes.")
    cure = form.maybe_number("cure_days", at_least=0, at_most=3650) or 0
    after, shop = form.text("after"), form.text("workshop")
    mock_up, finish, assembly = hours.values()
    if form.problems or part is None or mock_up is None or finish is None or assembly is None:
        return build
    jobs = four_jobs(
        part, mock_up=mock_up, finish=finish, assembly=assembly, cure_days=cure,
        after=(Link(job=after),) if after in build.index["jobs"] else (),
        workshop=shop if shop in build.index["workshops"] else None,
        hazards=build.find("systems", part.system).hazards if part.system else (),
    )  # fmt: skip
    taken = [job.name for job in jobs if job.id in build.index["jobs"]]
    if taken:
        form.refuse("part", "has such a job already", taken[0], "Change the jobs it has.")
        return build
    return put_all(build, "jobs", {job.id: job for job in jobs})


# routes


def show_twice(ask: Ask) -> Response:
    """The form."""
    page = twice_page(ask.view.build, ask.request.query_params.get("part", ""))
    return ask.show("part_twice.html", page, title="A part that is fitted twice")


@router.get(PATH)
def show(ask: Asked) -> Response:
    """The four jobs of a part, to be written."""
    return show_twice(ask)


@router.post(PATH)
def write(ask: Asked) -> Response:
    """Write the four jobs of a part."""
    part = ask.view.build.index["parts"].get(ask.form.text("part"))
    name = "" if part is None else part.name
    return ask.write(
        lambda build: written(build, ask.form), message=f"four jobs of {name}"[:200], back="/jobs", again=show_twice
    )
