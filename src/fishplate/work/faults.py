"""What makes a build impossible before any run: calendars without hours, windows that close before they open.

Each problem names the fewest things that can't all stay as they are, the jobs that it holds, and what to do.
"""

from __future__ import annotations

from calendar import month_name
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from itertools import combinations
from typing import Any, Final

from ..build import Build, Facts, Problem
from ..build.calendar import help_chance, hours_on
from ..build.jobs import Job
from ..build.owner import Owner
from ..build.words import joined
from .job_fault import JobFault
from .network import wanted_jobs
from .pattern import pattern_faults
from .windows import closed_windows

# every month, weekday and holiday comes round in this many days
_YEARS_DAYS = 2 * 366


def impossible(build: Build, facts: Facts) -> tuple[Problem, ...]:
    """What no order of the work can meet; empty if nothing stands against it."""
    return tuple(fault.problem for fault in job_faults(build, facts))


def job_faults(build: Build, facts: Facts) -> Iterator[JobFault]:
    """What no order of the work can meet, with the jobs that each fault holds."""
    jobs = wanted_jobs(build, facts)
    yield from _calendar(build, facts, [*jobs.values()])
    yield from closed_windows(jobs, build.gates)
    yield from _places(build, jobs.values())
    yield from pattern_faults(build)


def _calendar(build: Build, facts: Facts, jobs: list[Job]) -> Iterator[JobFault]:
    owner, first = build.owner, facts.as_of
    days = [day for day in _days(first) if hours_on(owner, day) > 0]
    if not days:
        if jobs:
            what = f"the owner never has any hours: {_why_none(owner, _days(first))}"
            held = tuple(job.id for job in jobs if job.hours.high > 0)
            yield JobFault(Problem("owner", "no-hours", what, "", _HOURS), held, by_calendar=True)
        return
    in_months = {day.month for day in days}
    helped = {day.month for day in days if help_chance(owner, day) > 0}
    for job in jobs:
        months = set(job.months) or in_months
        if job.hours.high <= 0:
            continue
        if not months & in_months:
            why = _why_none(owner, (day for day in _days(first) if day.month in months))
            what = f"“{job.name}” can only be done in {_named(months)}, when the owner has no hours: {why}"
            where, do = f"jobs ({job.id}), months", "Give it other months, or hours to those."
            yield JobFault(Problem(where, "season-without-hours", what, "", do), (job.id,), by_calendar=True)
        elif job.second_person and not months & helped:
            season = f" in {_named(months)}" if job.months else ""
            what = f"“{job.name}” takes a second person, who never comes on a day with hours{season}"
            do = "Name a day on which the owner works too, or do without a second person."
            where = f"jobs ({job.id}), second_person"
            yield JobFault(Problem(where, "helper-never-comes", what, "", do), (job.id,), by_calendar=True)


_HOURS = "Enter hours a week for some months, days of the week to work on, or fewer days off."
# What a calendar is made of, in words, and as it stands where nothing of the kind is said.
_SETTINGS: Final[Mapping[str, tuple[str, Any]]] = {
    "days_off": ("the days off", ()),
    "seasons": ("the seasons", ()),
    "weekdays": ("the working days", ()),
    "works_on_holidays": ("the holidays", True),
    "hours_per_week": ("the hours a week", None),
}


def _days(first: date) -> Iterator[date]:
    count = min(_YEARS_DAYS, (date.max - first).days)
    return (first + timedelta(days=k) for k in range(count + 1))


def _named(months: Iterable[int]) -> str:
    return joined([month_name[month] for month in sorted(months)])


def _why_none(owner: Owner, days: Iterable[date]) -> str:
    """The fewest settings that by themselves leave no hours on any of the days."""
    looked_at = [*days]
    for size in range(1, len(_SETTINGS) + 1):
        for some in combinations(_SETTINGS, size):
            lifted = {name: as_unsaid for name, (_, as_unsaid) in _SETTINGS.items() if name not in some}
            alone = owner.model_copy(update=lifted)
            if not any(hours_on(alone, day) > 0 for day in looked_at):
                words = [_SETTINGS[name][0] for name in some]
                together = " together" if size > 1 else ""
                return f"{joined(words)}{together} leave none"
    raise AssertionError("all settings together leave none")  # the caller found no hours


def _places(build: Build, jobs: Iterable[Job]) -> Iterator[JobFault]:
    found = [*jobs]
    for name, count in (("bay", build.owner.bays), ("lift", build.owner.lifts)):
        held = [job for job in found if getattr(job, name)]
        users = [f"“{job.name}”" for job in held]
        if users and count == 0:
            need, off = ("this job needs", "the job") if len(users) == 1 else ("these jobs need", "these jobs")
            what = f"there is no {name}, and {need} one: {joined(users)}"
            do = f"Say how many {name}s there are, or take it off {off}."
            problem = Problem(f"owner, {name}s", f"no-{name}", what, "0", do)
            yield JobFault(problem, tuple(job.id for job in held))
