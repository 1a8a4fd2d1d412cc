"""Better schedules of tasks that need no hands, from many orders bred beside each other."""

from __future__ import annotations

import threading
import time
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from .kernel_types import Ints
from .schedule_greedy import in_a_row, in_order, latest_first, placed
from .schedule_hands import HandsTime
from .schedule_model import Limits, Place, ScheduleProblem, Task, Wait
from .schedule_orders_kernel import LANE, Bench, Yard, bred, drawn, tried

IN_A_POOL: Final = 400
POOLS_JOINED: Final = 4
MOST_JOINED: Final = 6
TIMES_BRED: Final = 100
# about a second of an unhurried machine, for sixty tasks
TRIED_PER_EFFORT: Final = 60_000
_PER_WORD: Final = 64 // LANE


def only_days(problem: ScheduleProblem) -> bool:
    """Whether a problem is of tasks on the axis of days, of which only the finish counts, without windows."""
    return (
        problem.deadline is None
        and problem.finish_worth > 0
        and len(problem.tasks) > 1
        and all(not (task.hands or task.windows or task.early) for task in problem.tasks)
        and all(wait.most is None and not wait.by_start for wait in problem.waits)
        and all(capacity < 1 << (LANE - 1) for capacity in problem.capacities.values())
        and all(n <= problem.capacities[name] for task in problem.tasks for name, n in task.uses.items())
    )


@dataclass
class Orders:
    """Pools of orders: each bred until it stands still; the best of four make a new one, and so on upwards.

    Parameters
    ----------
    problem : one of which `only_days` is true
    """

    problem: ScheduleProblem
    hands: HandsTime
    seed: int

    def __post_init__(self) -> None:
        self._tasks = in_order(self.problem, {})
        self._yard, size = _yard(self.problem, self._tasks, self.hands), len(self._tasks)
        days = in_a_row(self.problem) + max(task.tail for task in self._tasks)
        free = np.zeros((days + 1, self._yard.capacity.size), np.int64)
        start, key, order, child = np.zeros((4, size), np.int64)
        taken, places = np.zeros(size, np.bool_), np.zeros(days + 3, np.int64)
        self._bench = Bench(free, places, start, key, order, child, taken)
        self.tried = 0
        self.finish: int | None = None
        self._best = np.zeros(size, np.int64)
        self._seed = self.seed
        self._rounds = self.rounds()

    def best(self, limits: Limits, least: int, over: threading.Event) -> dict[str, Place] | None:
        """The best schedule found until the limits, a finish that can't be beaten, or until another search is over.

        Asked again, it goes on from where it was.
        """
        begun, most = time.monotonic(), self.tried + limits.effort * TRIED_PER_EFFORT
        while self.finish is None or self.finish > least:
            next(self._rounds)
            late = limits.seconds is not None and time.monotonic() - begun >= limits.seconds
            if over.is_set() or late or self.tried >= most:
                break
        return self.places()

    def places(self) -> dict[str, Place] | None:
        """The best schedule so far."""
        if self.finish is None:
            return None
        rank: Mapping[str, float] = {self._tasks[task].id: float(at) for at, task in enumerate(self._best)}
        return placed(self.problem, self.hands, rank)

    def rounds(self) -> Iterator[int]:
        """Breed without end; the best finish after each round of a pool."""
        waiting: dict[int, list[tuple[Ints, Ints]]] = defaultdict(list)
        while True:
            level, orders, finish = 0, *self._new_pool()
            yield self._noted(orders, finish)
            while True:
                yield from self._bred(orders, finish)
                best = np.argsort(finish, kind="stable")[: IN_A_POOL // POOLS_JOINED]
                waiting[level].append((orders[best], finish[best]))
                if len(waiting[level]) < POOLS_JOINED or level + 1 == MOST_JOINED:
                    break
                joined = waiting.pop(level)
                orders = np.concatenate([each for each, _ in joined])
                finish = np.concatenate([each for _, each in joined])
                level += 1

    def _new_pool(self) -> tuple[Ints, Ints]:
        """Orders drawn at random, some more loosely than others, tried."""
        orders = np.zeros((IN_A_POOL, len(self._tasks)), np.int64)
        finish = np.zeros(IN_A_POOL, np.int64)
        for at in range(IN_A_POOL):
            self._seed += 1
            drawn(self._yard, self._bench, 5.0 + at % 20, orders[at], self._seed)
            finish[at] = tried(self._yard, self._bench, orders[at])
        return orders, finish

    def _bred(self, orders: Ints, finish: Ints) -> Iterator[int]:
        """Breed a pool until all its orders are as good, or it stands still."""
        still = 0
        for _ in range(TIMES_BRED):
            least = finish.min()
            if finish.max() == least or still > TIMES_BRED // 4:
                return
            self._seed += 1
            bred(self._yard, self._bench, orders, finish, IN_A_POOL, self._seed)
            still = 0 if finish.min() < least else still + 1
            yield self._noted(orders, finish)

    def _noted(self, orders: Ints, finish: Ints) -> int:
        self.tried += IN_A_POOL
        at = int(finish.argmin())
        if self.finish is None or finish[at] < self.finish:
            self.finish = int(finish[at])
            self._best[:] = orders[at]
        return self.finish


def _yard(problem: ScheduleProblem, tasks: list[Task], hands: HandsTime) -> Yard:
    row = {task.id: at for at, task in enumerate(tasks)}
    urgent = latest_first(problem, hands)
    names = sorted(problem.capacities)
    need = np.array([[task.uses.get(name, 0) for name in names] for task in tasks], np.int64).reshape(len(tasks), -1)
    capacity = np.array([[problem.capacities[name] for name in names]], np.int64).reshape(1, -1)
    return Yard(
        np.array([task.length for task in tasks], np.int64),
        np.array([task.opens for task in tasks], np.int64),
        np.array([task.tail for task in tasks], np.int64),
        _in_words(need),
        _in_words(capacity)[0],
        int(np.array([sum(1 << (LANE * lane + LANE - 1) for lane in range(_PER_WORD))], np.uint64).view(np.int64)[0]),
        *_linked([(row[wait.after], row[wait.before], wait) for wait in problem.waits], len(tasks)),
        *_linked([(row[wait.before], row[wait.after], wait) for wait in problem.waits], len(tasks)),
        np.array([urgent[task.id] for task in tasks]),
    )


def _in_words(amounts: Ints) -> Ints:
    """(N, resources) to (N, words): four resources side by side."""
    words = np.zeros((amounts.shape[0], -(-amounts.shape[1] // _PER_WORD)), np.uint64)
    for at in range(amounts.shape[1]):
        words[:, at // _PER_WORD] |= amounts[:, at].astype(np.uint64) << np.uint64(LANE * (at % _PER_WORD))
    return words.view(np.int64)


def _linked(links: list[tuple[int, int, Wait]], size: int) -> tuple[Ints, Ints, Ints]:
    """First link of each task, the other end, the days between."""
    ordered = sorted(links, key=lambda link: link[:2])
    first = np.searchsorted([of for of, _, _ in ordered], np.arange(size + 1))
    other = np.array([to for _, to, _ in ordered], np.int64)
    return first.astype(np.int64), other, np.array([wait.least for _, _, wait in ordered], np.int64)
