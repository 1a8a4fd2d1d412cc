"""From a schedule of tasks to weeks, jobs and stalls."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Final

from ..build import Build
from .schedule_hands import HandsTime
from .schedule_model import Found
from .schedule_openers import Openers
from .schedule_result import Opener, PlannedJob, Stall, Week, WeekJob, WorkSchedule
from .schedule_tasks import FINISH_WORTH, UNITS, Drafted
from .schedule_words import day_words, hours_words, name_of, opener_words, quoted, week_sentence

LEAST_UNITS: Final = UNITS // 12  # five minutes with nothing to do are no stall


def report(build: Build, drafted: Drafted, found: Found, as_of: date, *, revision: int = 0) -> WorkSchedule:
    """A schedule in weeks and sentences."""
    return _Report(build, drafted, found, as_of).made(revision)


class _Report:
    def __init__(self, build: Build, drafted: Drafted, found: Found, as_of: date) -> None:
        self._build, self._drafted, self._found, self._as_of = build, drafted, found, as_of
        self._hands = HandsTime(drafted.problem.hours)
        self._tasks = {task.id: task for task in drafted.problem.tasks}
        self._openers = Openers(build, drafted, found, self._hands, as_of)
        worked = max((found.places[task].end for task in self._openers.order), default=0)
        self._over = max(worked, self._hands.at(found.finish))
        self._job_of = {task: job for job, tasks in drafted.tasks_of.items() for task in tasks}

    def made(self, revision: int) -> WorkSchedule:
        """The report."""
        found = self._found
        spans = list(self._stalls())
        stalls = tuple(stall for stall, _, _ in spans)
        gap = (found.cost - found.bound) / FINISH_WORTH
        opens = {
            f"{kind} {id_}": self._day(day)
            for held in self._drafted.opens.values()
            for (kind, id_), day in held.items()
        }
        weeks = tuple(_merged(self._build, list(self._weeks([(begin, end) for _, begin, end in spans], stalls))))
        return WorkSchedule(
            as_of=self._as_of,
            revision=revision,
            finish=self._day(found.finish),
            gap_days=gap,
            ended=found.ended,
            stalled_hours=sum(stall.hours for stall in stalls),
            weeks=weeks,
            jobs=tuple(sorted(self._jobs(), key=lambda item: (item.first, item.last, item.job))),
            stalls=stalls,
            opens=dict(sorted(opens.items())),
            starts=self._starts(),
            given_up=tuple(self._given_up()),
            assumptions=self._drafted.assumptions,
        )

    def _day(self, day: int) -> date:
        return self._as_of + timedelta(days=day)

    def _starts(self) -> dict[str, date]:
        places = self._found.places
        order = sorted(places, key=lambda task: (places[task].first_day, places[task].start, task))
        return {task: self._day(places[task].first_day) for task in order}

    def _jobs(self) -> Iterator[PlannedJob]:
        for job, tasks in self._drafted.tasks_of.items():
            own = [self._found.places[task] for task in tasks if self._tasks[task].hands] or [
                self._found.places[tasks[0]]
            ]
            yield PlannedJob(
                job=job,
                hours=round(self._drafted.hours.get(job, 0.0), 2),
                first=self._day(own[0].first_day),
                last=self._day(own[-1].last_day),
                done=self._day(self._found.places[tasks[-1]].last_day),
                opener=self._openers.of(tasks[0]),
                resumed=self._resumed(tasks),
            )

    def _resumed(self, tasks: tuple[str, ...]) -> Opener | None:
        places = self._found.places
        put_off = [
            after
            for before, after in pairwise(tasks)
            if self._tasks[after].hands and places[after].start > places[before].end
        ]
        return self._openers.of(put_off[-1]) if put_off else None

    # stalls

    def _stalls(self) -> Iterator[tuple[Stall, int, int]]:
        """Stalls, with where they lie on the axis of the hands' time."""
        for task in self._openers.order:
            units, place = self._openers.stalled(task), self._found.places[task]
            opener = self._openers.of(task)
            if units >= LEAST_UNITS and opener is not None:
                yield self._stall(place.start - units, place.start, self._job_of[task], opener)
        last = max((self._found.places[task].end for task in self._openers.order), default=0)
        finish = self._hands.at(self._found.finish)
        if finish - last >= LEAST_UNITS:
            yield self._stall(last, finish, "", self._last_opener())

    def _stall(self, begin: int, end: int, waiting: str, opener: Opener) -> tuple[Stall, int, int]:
        first, last = self._day(self._hands.start_day(begin)), self._day(self._hands.end_day(end))
        hours = (end - begin) / UNITS
        clause = opener_words(self._build, opener, self._as_of)
        what = f"{hours_words(hours)} with nothing to do from {day_words(first, beside=self._as_of)}"
        text = f"{what}: {clause}."
        if waiting and waiting != opener.id:
            text = f"{what}: {quoted(self._build, 'job', waiting)} waits until {clause}."
        return Stall(first, last, round(hours, 2), waiting, opener, text), begin, end

    def _last_opener(self) -> Opener:
        """What is still to come once the hands are done: the last thing back from a shop, or cured."""
        task = max(self._tasks.values(), key=lambda task: (self._found.places[task.id].last_day + task.tail, task.id))
        job = self._build.find("jobs", self._job_of[task.id])
        day = self._day(self._found.finish)
        if not task.hands and job.workshop is not None:
            return Opener("workshop", job.workshop, day)
        return Opener("cure", job.id, day)

    # weeks

    def _weeks(self, spans: list[tuple[int, int]], stalls: tuple[Stall, ...]) -> Iterator[Week]:
        end = self._day(self._found.finish)
        first = self._as_of
        while first <= end:
            last = min(first + timedelta(days=6 - first.weekday()), end)
            yield self._week(first, last, spans, stalls)
            first = last + timedelta(days=1)

    def _week(self, first: date, last: date, spans: list[tuple[int, int]], stalls: tuple[Stall, ...]) -> Week:
        begin = self._hands.at((first - self._as_of).days)
        end = min(self._over, self._hands.at((last - self._as_of).days + 1))
        jobs = tuple(self._worked(begin, end))
        idle = [
            ((min(end, b) - max(begin, a)) / UNITS, stall)
            for (a, b), stall in zip(spans, stalls, strict=True)
            if min(end, b) > max(begin, a)
        ]
        text = [week_sentence(self._build, item, self._drafted.hours.get(item.job, 0.0)) for item in jobs]
        text += self._news(first, last)
        for hours, stall in idle:
            clause = opener_words(self._build, stall.opener, self._as_of)
            text.append(f"{hours_words(hours)} with nothing to do, until {clause}.")
        if not text:
            text.append("No hours at the vehicle.")
        stalled = sum(hours for hours, _ in idle)
        return Week(first, last, round((end - begin) / UNITS, 2), round(stalled, 2), jobs, tuple(text))

    def _worked(self, begin: int, end: int) -> Iterator[WeekJob]:
        hours: dict[str, int] = {}
        for task in self._openers.order:
            place = self._found.places[task]
            worked = min(end, place.end) - max(begin, place.start)
            if worked > 0:
                job = self._job_of[task]
                hours[job] = hours.get(job, 0) + worked
        for job, units in hours.items():
            own = [self._found.places[task] for task in self._drafted.tasks_of[job] if self._tasks[task].hands]
            yield WeekJob(job, round(units / UNITS, 2), begin <= own[0].start, own[-1].end <= end)

    def _news(self, first: date, last: date) -> Iterator[str]:
        """What goes to a shop and what comes back."""
        for job, tasks in sorted(self._drafted.tasks_of.items()):
            task, noun = tasks[-1], self._build.find("jobs", job)
            if noun.workshop is None or self._tasks[task].hands:
                continue
            place, shop = self._found.places[task], name_of(self._build, "workshop", noun.workshop)
            if first <= self._day(place.first_day) <= last:
                back = day_words(self._day(place.last_day), beside=self._as_of)
                yield f"{noun.name}: it goes to {shop}, back about {back}."
            if first <= self._day(place.last_day) <= last:
                yield f"{noun.name}: it is back from {shop}."

    def _given_up(self) -> Iterator[str]:
        for (before, after), hours in sorted(self._drafted.relaxed.items()):
            names = [quoted(self._build, "job", id_) for id_ in (before, after)]
            yield f"{names[1]} can't begin soon enough after {names[0]}: {hours_words(hours)} more are reckoned for it."


def _merged(build: Build, weeks: list[Week]) -> Iterator[Week]:
    """Weeks one after the other that are alike are told together: one job goes on, nothing to do, or no hours."""
    held: Week | None = None
    for week in weeks:
        if held is None:
            held = week
        elif _kind(held) is not None and _kind(held) == _kind(week):
            held = _joined(build, held, week)
        else:
            yield held
            held = week
    if held is not None:
        yield held


def _kind(week: Week) -> str | None:
    if len(week.text) != 1:
        return None
    if not week.jobs:
        # what is waited for, without the hours before it
        return week.text[0].partition(", until ")[2] or week.text[0]
    item = week.jobs[0]
    return None if item.begins or item.ends else item.job


def _joined(build: Build, held: Week, week: Week) -> Week:
    hours, stalled = round(held.hours + week.hours, 2), round(held.stalled + week.stalled, 2)
    jobs: tuple[WeekJob, ...] = ()
    text = held.text[0]
    if held.jobs:
        jobs = (replace(week.jobs[0], hours=round(held.jobs[0].hours + week.jobs[0].hours, 2)),)
        text = week_sentence(build, jobs[0], 0.0)
    elif stalled > 0:
        text = f"{hours_words(stalled)} with nothing to do, until {text.partition(', until ')[2]}"
    return Week(held.first, week.last, hours, stalled, jobs, (text,))
