"""How far the work is: hours planned, earned and spent, and what they say of the rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from ..build import Build, Facts
from ..build.jobs import Job
from .allowances import discovery_percent
from .model import Spreads
from .network import share_done


@dataclass(frozen=True, slots=True)
class Earned:
    """Earned value, in hours or any other one unit.

    Parameters
    ----------
    planned : what was to be done by now; None without an earlier plan
    earned : what is done, at what it was estimated to take
    spent : what it took
    whole : the estimate of all

    Notes
    -----
    ISO 21508:2018, Earned value management in project and programme management.
    """

    planned: float | None
    earned: float
    spent: float
    whole: float

    @property
    def saved(self) -> float:
        """Cost variance: earned less spent; negative where it took more than estimated."""
        return self.earned - self.spent

    @property
    def ahead(self) -> float | None:
        """Schedule variance: earned less planned; negative where behind the plan."""
        return None if self.planned is None else self.earned - self.planned

    @property
    def done_per_spent(self) -> float | None:
        """Cost performance index: earned for each unit spent; None before anything is spent."""
        return self.earned / self.spent if self.spent > 0 else None

    @property
    def done_per_planned(self) -> float | None:
        """Schedule performance index: earned for each unit planned by now."""
        return self.earned / self.planned if self.planned else None

    @property
    def at_completion(self) -> float | None:
        """Estimate at completion, if the rest goes as what is done: the whole over done per spent."""
        return self.whole / self.done_per_spent if self.done_per_spent else None

    @property
    def to_complete(self) -> float | None:
        """Estimate to complete: what is still to be spent, if the rest goes as what is done."""
        return None if self.at_completion is None else self.at_completion - self.spent

    @property
    def at_completion_saved(self) -> float | None:
        """Variance at completion: the whole less the estimate at completion."""
        return None if self.at_completion is None else self.whole - self.at_completion

    @property
    def share(self) -> float:
        """Share of the whole that is done."""
        return self.earned / self.whole if self.whole > 0 else 0.0


@dataclass(frozen=True, slots=True)
class SystemProgress:
    """One area of the vehicle: its hours, and what is set aside for what is found on the way.

    Parameters
    ----------
    discovery : hours set aside on its listed jobs at the percentage in force; used : hours its done jobs took more than
        estimated, as far as they did
    """

    system: str | None
    earned: Earned
    discovery: float
    used: float


@dataclass(frozen=True, slots=True)
class Progress:
    """The whole build and its systems, with sentences to read aloud."""

    whole: Earned
    systems: tuple[SystemProgress, ...]
    text: tuple[str, ...]


def progress(build: Build, facts: Facts, *, planned: Mapping[str, date] | None = None) -> Progress:
    """How far the work is on the day.

    A job's estimate is its likely hours; it is earned by the share done, which is worked over worked and left where the
    owner said what is left, else worked over likely, 95 % at most until it is done.

    Parameters
    ----------
    planned : by job, the day an earlier plan had it done by; None without one
    """
    jobs = [job for job in build.jobs if job.id in facts.wanted_jobs]
    whole = _earned(jobs, facts, planned)
    systems = sorted({job.system for job in jobs}, key=lambda system: system or "")
    by_system = tuple(
        _system(build, facts, system, [job for job in jobs if job.system == system], planned) for system in systems
    )
    return Progress(whole, by_system, _sentences(whole))


def _share(job: Job, facts: Facts) -> float:
    return 1.0 if facts.is_done(job.id) else share_done(job, facts)


def _earned(jobs: list[Job], facts: Facts, planned: Mapping[str, date] | None) -> Earned:
    due = None
    if planned is not None:
        due = sum(job.hours.likely for job in jobs if job.id in planned and planned[job.id] <= facts.as_of)
    return Earned(
        planned=due,
        earned=sum(job.hours.likely * _share(job, facts) for job in jobs),
        spent=sum(facts.jobs[job.id].hours_worked for job in jobs if job.id in facts.jobs),
        whole=sum(job.hours.likely for job in jobs),
    )


def _system(
    build: Build, facts: Facts, system: str | None, jobs: list[Job], planned: Mapping[str, date] | None
) -> SystemProgress:
    spreads = Spreads()
    percent = discovery_percent(build, facts, system, spreads.discovery_before_percent)
    done = [job for job in jobs if facts.is_done(job.id)]
    over = sum(facts.jobs[job.id].hours_worked - job.hours.likely for job in done)
    earned = _earned(jobs, facts, planned)
    return SystemProgress(system, earned, earned.whole * percent / 100, max(0.0, over))


def _sentences(earned: Earned) -> tuple[str, ...]:
    if earned.whole <= 0:
        return ("No jobs are listed.",)
    said = [f"{earned.earned:.0f} of {earned.whole:.0f} estimated hours are done, in {earned.spent:.0f} hours worked."]
    if earned.done_per_spent is not None and earned.earned > 0:
        said.append(f"What was to take one hour has taken {60 / earned.done_per_spent:.0f} minutes so far.")
        if earned.to_complete is not None and earned.share < 1:
            said.append(f"If the rest goes the same way, {earned.to_complete:.0f} hours are left.")
    if earned.ahead is not None and earned.planned is not None:
        if abs(earned.ahead) < 0.5:
            said.append("That is as the earlier plan had it.")
        else:
            words = "more" if earned.ahead > 0 else "fewer"
            said.append(f"That is {abs(earned.ahead):.0f} hours {words} than the earlier plan had done by now.")
    return tuple(said)
