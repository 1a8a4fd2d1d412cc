"""What moved since an earlier schedule, and why: a sentence for each job."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Final

from ..build import Build
from .schedule_result import Opener, PlannedJob, ScheduleChange, WorkSchedule
from .schedule_words import day_words, hours_words, name_of, quoted

MOVED_DAYS: Final = 7
MOVED_HOURS: Final = 0.5
_OUTSIDE: Final = ("part", "decision", "interface", "job")
_VERBS: Final = {"part": "comes", "decision": "is taken", "interface": "is settled", "job": "can begin"}


def changes_since(build: Build, before: WorkSchedule, now: WorkSchedule) -> tuple[ScheduleChange, ...]:
    """Jobs whose end moved by a week or more, that are new, or that are done or no longer called for.

    The cause is looked for along what a job waited for: in the new schedule if it is later, in the old one if it is
    sooner, back to the first thing that is otherwise now.
    """
    if now.finish is None or before.finish is None:
        return ()
    return tuple(_Telling(build, before, now).changes())


class _Telling:
    def __init__(self, build: Build, before: WorkSchedule, now: WorkSchedule) -> None:
        self._build, self._was, self._is = build, before, now
        self._old = {job.job: job for job in before.jobs}
        self._new = {job.job: job for job in now.jobs}

    def changes(self) -> Iterator[ScheduleChange]:
        for job in self._is.jobs:
            old = self._old.get(job.job)
            if old is None:
                end = day_words(job.done, beside=self._is.as_of)
                yield ScheduleChange(job.job, None, job.done, f"{self._name(job.job)} is new: done {end}.")
            elif abs((job.done - old.done).days) >= MOVED_DAYS:
                yield ScheduleChange(job.job, old.done, job.done, self._moved(job, old))
        for job in self._was.jobs:
            if job.job not in self._new:
                gone = "is done" if job.job in self._build.index["jobs"] else "was taken out"
                yield ScheduleChange(job.job, job.done, None, f"{self._name(job.job)} {gone}.")

    def _name(self, job: str) -> str:
        return quoted(self._build, "job", job)

    def _moved(self, job: PlannedJob, old: PlannedJob) -> str:
        days = (job.done - old.done).days
        weeks = round(abs(days) / 7)
        much = f"{weeks} week{'' if weeks == 1 else 's'} {'later' if days > 0 else 'sooner'}"
        end = day_words(job.done, beside=self._is.as_of)
        cause = self._cause(job.job, later=days > 0)
        return f"{self._name(job.job)} moved {much}, to {end}{': ' + cause if cause else ''}."

    def _cause(self, job: str, *, later: bool) -> str:
        """The first thing along what it waited for that is otherwise now; else what took its turn."""
        held: Mapping[str, PlannedJob] = self._new if later else self._old
        seen: set[str] = set()
        turn = ""
        here: str | None = job
        while here is not None and here not in seen and here in held:
            seen.add(here)
            if (said := self._hours(here)) or (said := self._appeared(here)):
                return said
            opener = held[here].resumed or held[here].opener
            if opener is None:
                break
            if opener.kind in _OUTSIDE and (said := self._opened(opener)):
                return said
            if opener.kind == "workshop" and (said := self._away(opener, held)):
                return said
            turn = turn or self._turn(here, opener, later=later)
            here = self._before(opener, held)
        return turn or (self._start() if later else "the hands are free for it sooner")

    def _turn(self, job: str, opener: Opener, *, later: bool) -> str:
        """That the hands were at another job first and are no longer, or the other way round."""
        if opener.kind != "hands" or not {job, opener.id} <= self._old.keys() & self._new.keys():
            return ""
        before, now = self._old[opener.id].last <= self._old[job].last, self._new[opener.id].last <= self._new[job].last
        if before == now:
            return ""
        return f"{self._name(opener.id)} comes {'before' if later else 'after'} it now"

    def _hours(self, job: str) -> str:
        old, new = self._old.get(job), self._new.get(job)
        if old is None or new is None or abs(new.hours - old.hours) < MOVED_HOURS:
            return ""
        return f"{self._name(job)} takes {hours_words(new.hours)} now, not {hours_words(old.hours)}"

    def _appeared(self, job: str) -> str:
        if job not in self._old:
            return f"{self._name(job)} is to be done before it"
        return f"{self._name(job)} need not be waited for any more" if job not in self._new else ""

    def _opened(self, opener: Opener) -> str:
        key = f"{opener.kind} {opener.id}"
        old, new = (self._was.opens or {}).get(key), (self._is.opens or {}).get(key)
        if old == new:
            return ""
        what = quoted(self._build, opener.kind, opener.id)
        what = f"the decision on {what}" if opener.kind == "decision" else what
        if new is None:
            return f"{what} is no longer waited for"
        instead = f" instead of {self._day(old)}" if old is not None else ""
        return f"{what} {_VERBS[opener.kind]} on {self._day(new)}{instead}"

    def _away(self, opener: Opener, held: Mapping[str, PlannedJob]) -> str:
        job = self._sent(opener, held)
        old, new = self._old.get(job or ""), self._new.get(job or "")
        if old is None or new is None:
            return ""
        was, now = (old.done - old.last).days, (new.done - new.last).days
        if abs(now - was) < 2:
            return ""
        return f"{name_of(self._build, 'workshop', opener.id)} takes {now} days, not {was}"

    def _sent(self, opener: Opener, held: Mapping[str, PlannedJob]) -> str | None:
        """The job that was away until something opened."""
        sent = [job for job in held.values() if self._shop(job.job) == opener.id and job.done <= opener.day]
        return max(sent, key=lambda job: job.done).job if sent else None

    def _shop(self, job: str) -> str | None:
        noun = self._build.index["jobs"].get(job)
        return None if noun is None else noun.workshop

    def _before(self, opener: Opener, held: Mapping[str, PlannedJob]) -> str | None:
        if opener.kind == "workshop":
            return self._sent(opener, held)
        return opener.id if opener.kind in ("after", "hands", "cure") else None

    def _start(self) -> str:
        if self._is.as_of == self._was.as_of:
            return ""
        return f"less was done since {self._day(self._was.as_of)} than was planned"

    def _day(self, day: date) -> str:
        return day_words(day, beside=self._is.as_of)
