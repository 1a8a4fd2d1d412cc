"""What let each task begin no sooner."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from ..build import Build
from .schedule_hands import HandsTime
from .schedule_model import Found, Task, Wait
from .schedule_result import Opener, OpenerKind
from .schedule_tasks import Drafted


class Openers:
    """What opened the tasks of a schedule.

    Parameters
    ----------
    found : the schedule of what was drafted
    """

    def __init__(self, build: Build, drafted: Drafted, found: Found, hands: HandsTime, as_of: date) -> None:
        self._build, self._drafted, self._found, self._hands, self._as_of = build, drafted, found, hands, as_of
        self._tasks = {task.id: task for task in drafted.problem.tasks}
        by_hand = [id_ for id_, task in self._tasks.items() if task.hands]
        order = sorted(by_hand, key=lambda id_: found.places[id_].start)
        self._hands_before = dict(zip(order[1:], order, strict=False))
        self.order = tuple(order)

    def of(self, task: str) -> Opener | None:
        """What let a task begin no sooner; None if it begins at once."""
        place = self._found.places[task]
        if not self._tasks[task].hands:
            candidates = list(self._candidates(self._tasks[task]))
            return max(candidates, key=lambda item: item.day) if candidates and place.start > 0 else None
        before = self._hands_before.get(task)
        free = 0 if before is None else self._found.places[before].end
        opened = max(self._opened(task), default=(0, None), key=lambda item: item[0])
        if opened[1] is not None and opened[0] >= place.start and opened[0] > 0:
            return opened[1]
        if before is not None and free == place.start:
            return self._opener("hands", _job(before), self._found.places[before].last_day)
        if place.start == 0:
            return None
        kind: OpenerKind = "place" if not self._tasks[task].windows else "season" if self._seasonal(task) else "helper"
        return self._opener(kind, _job(task), place.first_day)

    def stalled(self, task: str) -> int:
        """Units of the hands' time with nothing to do before a task of theirs."""
        before = self._hands_before.get(task)
        return self._found.places[task].start - (0 if before is None else self._found.places[before].end)

    def _seasonal(self, task: str) -> bool:
        return bool(self._build.find("jobs", _job(task)).months)

    def _opened(self, task: str) -> Iterator[tuple[int, Opener | None]]:
        """Moments of the hands' time from which a task could begin, with what opened then."""
        for opener in self._candidates(self._tasks[task]):
            moment = self._hands.at((opener.day - self._as_of).days)
            if opener.kind == "after":
                # the other's end, not the day it falls on
                moment = max((self._found.places[other].end for other in self._of_job(task, opener.id)), default=moment)
            yield moment, opener

    def _of_job(self, task: str, job: str) -> Iterator[str]:
        for wait in self._drafted.problem.waits:
            if wait.after == task and _job(wait.before) == job and self._tasks[wait.before].hands and not wait.by_start:
                yield wait.before

    def _candidates(self, task: Task) -> Iterator[Opener]:
        for (kind, id_), day in self._drafted.opens.get(task.id, {}).items():
            yield self._opener(kind, id_, day)
        for wait in self._drafted.problem.waits:
            if wait.after == task.id and _job(wait.before) != _job(task.id):
                yield self._waited(wait)

    def _waited(self, wait: Wait) -> Opener:
        place, job = self._found.places[wait.before], _job(wait.before)
        day = (place.first_day if wait.by_start else place.last_day) + wait.least
        workshop = self._build.find("jobs", job).workshop
        if not self._tasks[wait.before].hands and workshop is not None and not wait.by_start:
            return self._opener("workshop", workshop, day)
        return self._opener("cure" if wait.least else "after", job, day)

    def _opener(self, kind: OpenerKind, id_: str, day: int) -> Opener:
        return Opener(kind, id_, self._as_of + timedelta(days=min(day, self._hands.days)))


def _job(task: str) -> str:
    return task.split(" ")[0]
