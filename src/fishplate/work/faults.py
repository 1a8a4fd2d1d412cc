"""What makes a build impossible before any run: calendars without hours, windows that close before they open.

Each problem names the fewest things that can't all stay as they are, and what to do.
"""

from __future__ import annotations

from calendar import month_name
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import Any

from ..build import Build, Facts, Problem
from ..build.calendar import help_chance, hours_on
from ..build.jobs import Job
from .network import wanted_jobs
from .pattern import pattern_faults

# every month, weekday and holiday comes round in this many days
_YEARS_DAYS = 2 * 366


def impossible(build: Build, facts: Facts) -> tuple[Problem, ...]:
    """What no order of the work can meet; empty if nothing stands against it."""
    jobs = list(wanted_jobs(build, facts).values())
    return (*_calendar(build, facts, jobs), *_windows(build, jobs), *_places(build, jobs), *pattern_faults(build))


def _calendar(build: Build, facts: Facts, jobs: list[Job]) -> Iterator[Problem]:
    days = [day for day in _days(facts.as_of) if hours_on(build.owner, day) > 0]
    if not days:
        if jobs:
            what = f"the owner never has any hours: {_why_none(build, facts.as_of)}"
            yield Problem("owner", "no-hours", what, "", _HOURS)
        return
    for job in jobs:
        if job.hours.high <= 0:
            continue
        months = sorted(set(job.months))
        in_season = [day for day in days if not months or day.month in months]
        if not in_season:
            names = ", ".join(month_name[month] for month in months)
            what = f"{job.name} can only be done in {names}, when the owner has no hours"
            yield Problem(
                f"jobs ({job.id}), months", "season-without-hours", what, "", "Give it other months, or hours to those."
            )
        elif job.second_person and not any(help_chance(build.owner, day) > 0 for day in in_season):
            season = f" in {', '.join(month_name[month] for month in months)}" if months else ""
            what = f"{job.name} takes a second person, who never comes on a day with hours{season}"
            do = "Name a day on which the owner works too, or do without a second person."
            yield Problem(f"jobs ({job.id}), second_person", "helper-never-comes", what, "", do)


_HOURS = "Enter hours a week for some months, days of the week to work on, or fewer days off."


def _days(first: date) -> Iterator[date]:
    count = min(_YEARS_DAYS, (date.max - first).days)
    return (first + timedelta(days=k) for k in range(count + 1))


def _why_none(build: Build, first: date) -> str:
    """The one setting without which there would be hours, where one is enough."""
    owner = build.owner
    lifted: dict[str, dict[str, Any]] = {
        "the days off leave none": {"days_off": ()},
        "the seasons have none": {"seasons": ()},
        "the working days have none": {"weekdays": ()},
        "every day is a holiday": {"works_on_holidays": True},
        "no hours a week are entered": {"hours_per_week": None},
    }
    for words, change in lifted.items():
        other = owner.model_copy(update=change)
        if any(hours_on(other, day) > 0 for day in _days(first)):
            return words
    return "hours a week, seasons and days off together leave none"


def _windows(build: Build, jobs: Iterable[Job]) -> Iterator[Problem]:
    for job in jobs:
        for link in job.after:
            cure = build.find("jobs", link.job).cure_days if link.kind == "finish-start" else 0.0
            if link.within_days is not None and link.within_days < cure + link.lag_days:
                what = (
                    f"{job.name} must begin within {link.within_days:g} days of {link.job}, "
                    f"which takes {cure + link.lag_days:g} days to cure and wait"
                )
                do = "Lengthen the window, or shorten the cure."
                yield Problem(f"jobs ({job.id}), after ({link.job})", "window-closed", what, "", do)


def _places(build: Build, jobs: Iterable[Job]) -> Iterator[Problem]:
    for name, count in (("bay", build.owner.bays), ("lift", build.owner.lifts)):
        users = [job.id for job in jobs if getattr(job, name)]
        if users and count == 0:
            what = f"there is no {name}, and these jobs need one: {', '.join(users)}"
            yield Problem(
                f"owner, {name}s", f"no-{name}", what, "0", f"Say how many {name}s there are, or take it off them."
            )
