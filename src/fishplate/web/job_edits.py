"""What can be changed about a job: hours worked, done, its name and estimate; a new one."""

from __future__ import annotations

from datetime import date

from ..build import Build
from ..build.events import Work
from ..build.jobs import Job
from .desk import fresh_id, put
from .form import made


def logged(
    build: Build, job: str, day: date, hours: float, *, done: bool = False, left: float | None = None, note: str = ""
) -> Build:
    """The build with hours worked on a job.

    Parameters
    ----------
    left : hours that are left, if the owner says so [h]
    """
    work = made(
        Work,
        id=fresh_id(build, "events", f"worked {day.isoformat()} {job}"),
        day=day,
        job=job,
        hours=hours,
        done=done,
        hours_left=None if done else left,
        note=note,
    )
    return put(build, "events", work)


def changed(build: Build, job: str, **fields: object) -> Build:
    """The build with a job's fields as given; raises Refused with what it can't be."""
    return put(build, "jobs", made(Job, **{**dict(build.find("jobs", job)), **fields}))


def added(build: Build, **fields: object) -> Build:
    """The build with a new job; raises Refused with what it can't be."""
    return put(build, "jobs", made(Job, id=fresh_id(build, "jobs", str(fields["name"])), **fields))
