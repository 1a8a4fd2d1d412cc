"""From a build to what the scheduler takes: pieces of jobs, waits between them, the owner's calendar."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise
from typing import Final

import numpy as np

from ..build import Assumption, Build, Facts, date_at
from ..build.calendar import help_chance, hours_assumptions, hours_on
from ..build.jobs import Job
from .hours import draw_hours
from .model import CauseKind, FloatArray, Gates, Spreads
from .network import Piece, WorkNetwork, wanted_jobs, work_network
from .rework import rework_of
from .schedule_model import Hold, ScheduleProblem, Task, Wait

UNITS: Final = 420  # of the hands' time in an hour: a minute a week, shared out over seven days, is a whole number
HORIZON_WEEKS: Final = 520
RUNS: Final = 1000
# What a day later at the finish costs, and beside it an hour with nothing to do and, for an interface surely wrong, an
# hour of the owner's later until it is verified.
FINISH_WORTH: Final = 420_000
STALL_DAYS: Final = 0.1
DOUBT_DAYS: Final = 0.02

Opener = tuple[CauseKind, str]


@dataclass(frozen=True, slots=True)
class Drafted:
    """A build as the scheduler takes it.

    Parameters
    ----------
    tasks_of : by job, its tasks in order: pieces of the owner's hands, then the time away
    opens : by task, the days each thing outside opens for it
    hours : by job, hours left of the owner's own [h]
    relaxed : links whose latest moment is given up, with the hours that costs [h]
    """

    problem: ScheduleProblem
    tasks_of: Mapping[str, tuple[str, ...]]
    opens: Mapping[str, Mapping[Opener, int]]
    hours: Mapping[str, float]
    assumptions: tuple[Assumption, ...]
    relaxed: Mapping[tuple[str, str], float] = field(default_factory=dict)


def drafted(
    build: Build,
    facts: Facts,
    gates: Gates,
    *,
    doubts: Mapping[str, float] | None = None,
    deadline: date | None = None,
    relaxed: Mapping[tuple[str, str], float] | None = None,
    seed: int = 1,
) -> Drafted:
    """What is left of a build, at expected hours and the middle one of each outside moment.

    Parameters
    ----------
    doubts : by interface, the chance that it does not fit; verifying it early is worth that much
    deadline : the day by which all must be done, if there is one
    relaxed : links (before, after) that may come too late, and the hours that costs
    """
    return _Drafting(build, facts, gates, doubts or {}, dict(relaxed or {}), seed).draft(deadline)


def pieces_id(job: str, number: int) -> str:
    """The task of a stretch of a job; no job's id holds a blank."""
    return job if number == 0 else f"{job} {number}"


def _middle(moment: float | FloatArray) -> float:
    return float(np.quantile(moment, 0.5, method="inverted_cdf"))


class _Drafting:
    def __init__(
        self,
        build: Build,
        facts: Facts,
        gates: Gates,
        doubts: Mapping[str, float],
        relaxed: dict[tuple[str, str], float],
        seed: int,
    ) -> None:
        self._build, self._facts, self._gates, self._doubts, self._relaxed = build, facts, gates, doubts, relaxed
        draws = draw_hours(build, facts, wanted_jobs(build, facts), runs=RUNS, seed=seed, spreads=Spreads())
        self._hours = {job: float(draws.hours[row].mean()) for job, row in draws.jobs.items()}
        self._away = {job: math.ceil(float(draws.shop_days[row].mean())) for job, row in draws.shops.items()}
        self._rework = rework_of(build, facts, wanted_jobs(build, facts), draws.pace, seed=seed)
        redone = self._rework.draws(doubts).mean(axis=1)
        for job, row in self._rework.jobs.items():
            self._hours[job] += float(redone[row])
        self._network: WorkNetwork = work_network(build, facts, {})
        self._jobs = self._network.jobs
        self._days = [date_at(facts.as_of, k / 7) for k in range(7 * HORIZON_WEEKS)]
        self._units = tuple(math.floor(UNITS * hours_on(build.owner, day) + 1e-6) for day in self._days)
        self._tasks: dict[str, list[Task]] = defaultdict(list)
        self._opens: dict[str, dict[Opener, int]] = defaultdict(dict)
        self._waits: list[Wait] = []
        self._said = [*hours_assumptions(build.owner), *draws.assumptions]
        self._said += self._rework.assumptions if doubts else ()

    def draft(self, deadline: date | None) -> Drafted:
        for (_, after), hours in self._relaxed.items():
            self._hours[after] = self._hours.get(after, 0.0) + hours
        for piece in sorted(self._network.pieces, key=lambda piece: (piece.node, piece.number)):
            if piece.job is not None:
                self._add_piece(piece, piece.job)
        self._add_links()
        tasks = [self._opened(task) for held in self._tasks.values() for task in held]
        holds = list(self._holds())
        owner = self._build.owner
        capacities = {
            name: owner.bays if name == "bay" else owner.lifts if name == "lift" else 1 for name in _used(holds)
        }
        problem = ScheduleProblem(
            tuple(tasks),
            tuple(dict.fromkeys(self._waits)),
            tuple(holds),
            self._units,
            capacities,
            FINISH_WORTH,
            round(STALL_DAYS * FINISH_WORTH / UNITS),
            None if deadline is None else (deadline - self._facts.as_of).days,
        )
        tasks_of = {job: tuple(task.id for task in held) for job, held in self._tasks.items()}
        return Drafted(problem, tasks_of, self._opens, self._hours, self._assumptions(), self._relaxed)

    # tasks

    def _add_piece(self, piece: Piece, job: Job) -> None:
        hours = self._hours[job.id] * piece.share
        if piece.number:
            hours += job.setting_up_minutes / 60
        windows = self._windows(job)
        length = math.ceil(UNITS * hours)
        first = len(self._tasks[job.id])
        for share in self._cut(length, windows):
            id_ = pieces_id(job.id, len(self._tasks[job.id]))
            self._tasks[job.id].append(Task(id_, share, hands=share > 0, windows=windows))
        self._note_opens(piece, self._tasks[job.id][first].id)
        if piece.last:
            self._end(job)
            self._chain(job.id)

    def _cut(self, length: int, windows: tuple[tuple[int, int], ...]) -> list[int]:
        """A stretch that no window holds is cut into such as do."""
        most = max((sum(self._units[first:after]) for first, after in windows), default=length)
        if 0 < most < length:
            # halves of windows lie more easily than whole ones; one evening is not cut any further
            count = math.ceil(length / most) if self._single_days(windows) else math.ceil(2 * length / most)
            return [length * (k + 1) // count - length * k // count for k in range(count)]
        return [length]

    @staticmethod
    def _single_days(windows: tuple[tuple[int, int], ...]) -> bool:
        return all(after - first == 1 for first, after in windows)

    def _end(self, job: Job) -> None:
        """What verifying is worth, the time away, and what cures after the last of a job."""
        held = self._tasks[job.id]
        verified = (id_ for id_, by in self._rework.interfaces.items() if by == job.id)
        doubt = sum(self._doubts.get(interface, 0.0) for interface in verified)
        if doubt and held[-1].hands:
            held[-1] = replace(held[-1], early=round(DOUBT_DAYS * FINISH_WORTH / UNITS * doubt))
        if job.id in self._away:
            held.append(Task(pieces_id(job.id, len(held)), self._away[job.id]))
        if job.cure_days:
            held[-1] = replace(held[-1], tail=math.ceil(job.cure_days))

    def _chain(self, job: str) -> None:
        self._waits += [Wait(before.id, after.id, fixed=True) for before, after in pairwise(self._tasks[job])]

    def _windows(self, job: Job) -> tuple[tuple[int, int], ...]:
        """Spans of days on which a job can be worked: its months, and the days a second person comes."""
        helped = job.second_person and any(helper.weekdays for helper in self._build.owner.helpers)
        if not job.months and not helped:
            return ()
        open_ = [
            (not job.months or day.month in job.months) and (not helped or help_chance(self._build.owner, day) > 0)
            for day in self._days
        ]
        return _spans(open_)

    def _note_opens(self, piece: Piece, task: str) -> None:
        for kind, id_ in piece.gates:
            moment = getattr(self._gates, kind).get(id_)
            if moment is not None and (day := self._day(_middle(moment))) > 0:
                self._opens[task][_CAUSES[kind], id_] = day
        if piece.number == 0:
            self._note_past(piece.node, task, 0)

    def _note_past(self, node: str, task: str, lag: float) -> None:
        day = math.ceil(self._network.opens_days.get(node, 0.0) + lag - 1e-9)
        if node in self._network.opens_days and day > 0:
            opener: Opener = "cure", self._network.opened_by.get(node, node)
            self._opens[task][opener] = max(day, self._opens[task].get(opener, 0))

    def _day(self, weeks: float) -> int:
        return len(self._units) if math.isinf(weeks) else min(len(self._units), math.ceil(7 * weeks - 1e-6))

    def _opened(self, task: Task) -> Task:
        return replace(task, opens=max(self._opens.get(task.id, {}).values(), default=0))

    # links

    def _add_links(self) -> None:
        """Links between tasks; nodes without work, such as gates, pass on what they wait for."""
        before: dict[str, list[tuple[str, bool, float]]] = defaultdict(list)
        for link in self._network.links:
            before[link.after].append((link.before, link.kind == "start-start", link.lag))
        for job in sorted(self._jobs):
            first = self._tasks[job][0].id
            for source, by_start, lag in self._sources(before, job):
                if source in self._jobs:
                    self._waits.append(self._wait(source, job, by_start, lag))
                else:
                    self._pass_on(source, first, lag)

    def _sources(self, before: Mapping[str, list[tuple[str, bool, float]]], node: str) -> list[tuple[str, bool, float]]:
        """What a node waits for, through nodes without work; those are named as well."""
        found: dict[tuple[str, bool], float] = {}
        todo = [(source, by_start, lag) for source, by_start, lag in before[node]]
        while todo:
            source, by_start, lag = todo.pop()
            if found.get((source, by_start), -1.0) >= lag:
                continue
            found[source, by_start] = lag
            if source not in self._jobs:
                todo += [(other, start, lag + more) for other, start, more in before[source]]
        return [(source, by_start, lag) for (source, by_start), lag in sorted(found.items())]

    def _wait(self, before: str, after: str, by_start: bool, lag: float) -> Wait:
        job = self._build.find("jobs", before)
        least = math.ceil(lag + (0.0 if by_start else job.cure_days) - 1e-9)
        task = self._tasks[before][0 if by_start else -1].id
        most = None if (before, after) in self._relaxed else self._within(before, after, by_start)
        return Wait(task, self._tasks[after][0].id, least, most, by_start)

    def _within(self, before: str, after: str, by_start: bool) -> int | None:
        kind = "start-start" if by_start else "finish-start"
        within = [
            math.floor(link.within_days)
            for link in self._build.find("jobs", after).after
            if link.job == before and link.kind == kind and link.within_days is not None
        ]
        return min(within, default=None)

    def _pass_on(self, node: str, task: str, lag: float) -> None:
        piece = next(piece for piece in self._network.pieces if piece.node == node)
        for kind, id_ in piece.gates:
            moment = getattr(self._gates, kind).get(id_)
            if moment is not None and (day := self._day(_middle(moment) + lag / 7)) > 0:
                self._opens[task][_CAUSES[kind], id_] = day
        self._note_past(node, task, lag)

    # what is held

    def _holds(self) -> Iterable[Hold]:
        """Bay and lift until the cure is over; a part from the start until it is back from where it was sent."""
        sent = {part for job in self._jobs.values() if job.id in self._away for part in job.works_on}
        for id_, job in sorted(self._jobs.items()):
            pieces = [task.id for task in self._tasks[id_] if task.hands]
            cure, away = math.ceil(job.cure_days), self._away.get(id_, 0)
            for name in (["bay"] if job.bay else []) + (["lift"] if job.lift else []):
                yield from (Hold(name, task, cure if task == pieces[-1] else 0) for task in pieces)
            for part in sorted(sent & {*job.works_on, *job.to_try, *job.to_keep}):
                gone = away + cure if part in job.works_on else 0
                yield from (Hold(f"part {part}", task, gone if task == pieces[-1] else 0) for task in pieces)

    def _assumptions(self) -> tuple[Assumption, ...]:
        return (
            Assumption(
                "schedule-middle",
                "build",
                "jobs take their expected hours: pace, discovery and what verifying may bring included; parts, "
                "decisions and shops come at the middle one of their moments, one in two later",
            ),
            Assumption(
                "schedule-worth",
                "build",
                f"an hour with nothing to do counts as {STALL_DAYS:g} days of finish; for an interface that may not "
                f"fit, each own hour until it is verified counts as {DOUBT_DAYS:g} days times the chance (own choice)",
            ),
            *self._help_said(),
            *self._said,
        )

    def _help_said(self) -> list[Assumption]:
        helpers = self._build.owner.helpers
        if not helpers or not any(job.second_person for job in self._jobs.values()):
            return []
        text = "a second person comes on every evening that is said"
        if any(not helper.weekdays for helper in helpers):
            text = "a second person who comes on no fixed day is there when a job wants them"
        return [Assumption("schedule-help", "build", text)]


_CAUSES: dict[str, CauseKind] = {"parts": "part", "decisions": "decision", "interfaces": "interface", "jobs": "job"}


def _used(holds: Iterable[Hold]) -> list[str]:
    return sorted({hold.resource for hold in holds})


def _spans(open_: list[bool]) -> tuple[tuple[int, int], ...]:
    found, first = [], None
    for day, is_open in enumerate([*open_, False]):
        if is_open and first is None:
            first = day
        elif not is_open and first is not None:
            found.append((first, day))
            first = None
    return tuple(found)
