"""A schedule placed task by task: each as soon as it can be, in an order of priority.

Serial schedule generation, Kolisch (1996), European Journal of Operational Research 90, 320-333. A bound on what is
looked for, a start for the search, and what pulls a found schedule together.
"""

from __future__ import annotations

import heapq
from bisect import insort
from collections import defaultdict
from collections.abc import Mapping

from .schedule_hands import HandsTime
from .schedule_model import Hold, Place, ScheduleProblem, Task, Wait


def placed(problem: ScheduleProblem, hands: HandsTime, priority: Mapping[str, float]) -> dict[str, Place] | None:
    """Every task as soon as it can be, least priority first; None where that leads nowhere.

    Raises
    ------
    ValueError
        if tasks wait for each other in a circle
    """
    places = placed_late(problem, hands, priority)
    return places if places is not None and keeps_most(problem, places) else None


def placed_late(
    problem: ScheduleProblem, hands: HandsTime, priority: Mapping[str, float], *, alone: bool = False
) -> dict[str, Place] | None:
    """The same, where a wait may be longer than it may be; or each task as if the hands had no other, if `alone`."""
    placing = _Placing(problem, hands, alone=alone)
    return placing.places if all(placing.place(task) for task in in_order(problem, priority)) else None


def in_order(problem: ScheduleProblem, priority: Mapping[str, float]) -> list[Task]:
    """Tasks after what they wait for, least priority first; raises ValueError for a circle."""
    by_id = {task.id: task for task in problem.tasks}
    waiting = dict.fromkeys(by_id, 0)
    following: dict[str, list[str]] = defaultdict(list)
    for wait in problem.waits:
        waiting[wait.after] += 1
        following[wait.before].append(wait.after)
    free = [(priority.get(id_, 0.0), id_) for id_, count in waiting.items() if count == 0]
    heapq.heapify(free)
    order = []
    while free:
        _, id_ = heapq.heappop(free)
        order.append(by_id[id_])
        for other in following[id_]:
            waiting[other] -= 1
            if waiting[other] == 0:
                heapq.heappush(free, (priority.get(other, 0.0), other))
    if len(order) < len(by_id):
        stuck = sorted(by_id.keys() - {task.id for task in order})
        raise ValueError(f"tasks wait for each other in a circle: {', '.join(stuck)}")
    return order


def latest_first(problem: ScheduleProblem, hands: HandsTime) -> dict[str, float]:
    """Priority by the latest end, in days, that waits alone allow: the usual rule of thumb."""
    per_day = max(1.0, hands.total / hands.days) if hands.days else 1.0
    days = {task.id: task.length / per_day if task.hands else float(task.length) for task in problem.tasks}
    following: dict[str, list[Wait]] = defaultdict(list)
    for wait in problem.waits:
        following[wait.before].append(wait)
    latest: dict[str, float] = {}
    for task in reversed(in_order(problem, {})):
        limits = [
            latest[wait.after] - days[wait.after] - wait.least + (days[task.id] if wait.by_start else 0.0)
            for wait in following[task.id]
        ]
        latest[task.id] = min([-float(task.tail), *limits])
    return latest


def keeps_most(problem: ScheduleProblem, places: Mapping[str, Place]) -> bool:
    """Whether no wait is longer than it may be."""
    for wait in problem.waits:
        before = places[wait.before]
        since = before.first_day if wait.by_start else before.last_day
        if wait.most is not None and places[wait.after].first_day > since + wait.most:
            return False
    return True


def in_a_row(problem: ScheduleProblem) -> int:
    """A day by which tasks without hands are done one after the other, in any order, once they all may begin."""
    latest = max((first for task in problem.tasks for first, _ in task.windows), default=0)
    opens = max((task.opens for task in problem.tasks), default=0)
    lags = sum(wait.least for wait in problem.waits)
    return sum(task.length for task in problem.tasks) + lags + max(opens, latest)


def finish_of(problem: ScheduleProblem, places: Mapping[str, Place]) -> int:
    """The day all is done, tails included."""
    return max((places[task.id].last_day + task.tail for task in problem.tasks), default=0)


def cost_of(problem: ScheduleProblem, places: Mapping[str, Place]) -> int:
    """What a schedule costs, by the worths of the problem."""
    last = max((places[task.id].end for task in problem.tasks if task.hands), default=0)
    early = sum(task.early * places[task.id].end for task in problem.tasks)
    return problem.finish_worth * finish_of(problem, places) + problem.stall_worth * last + early


class _Placing:
    """Tasks placed so far, and what they leave free."""

    def __init__(self, problem: ScheduleProblem, hands: HandsTime, *, alone: bool = False) -> None:
        self._problem, self._hands, self._alone = problem, hands, alone
        self._by_hand = {task.id for task in problem.tasks if task.hands}
        self.places: dict[str, Place] = {}
        self._worked: list[tuple[int, int]] = []
        self._held: dict[str, list[tuple[int, int, int]]] = defaultdict(list)
        self._used: dict[str, dict[int, int]] = {name: {} for name in problem.capacities}
        self._before: dict[str, list[Wait]] = defaultdict(list)
        for wait in problem.waits:
            self._before[wait.after].append(wait)
        self._holds: dict[str, list[Hold]] = defaultdict(list)
        for hold in problem.holds:
            self._holds[hold.task].append(hold)

    def place(self, task: Task) -> Place | None:
        """Place one task; None if it can be nowhere."""
        start = self._hands_start(task) if task.hands else self._day_start(task)
        if start is None:
            return None
        end = start + task.length
        if task.hands:
            place = Place(start, end, self._hands.start_day(start), self._hands.end_day(end))
            insort(self._worked, (start, end))
            for hold in self._holds[task.id]:
                self._held[hold.resource].append((start, self._freed(hold, end), hold.amount))
        else:
            place = Place(start, end, start, end)
            for name, amount in task.uses.items():
                for day in range(start, end):
                    self._used[name][day] = self._used[name].get(day, 0) + amount
        self.places[task.id] = place
        return place

    def _freed(self, hold: Hold, end: int) -> int:
        if hold.days == 0:
            return end
        return max(end, self._hands.at(self._hands.end_day(end) + hold.days))

    def _earliest_day(self, task: Task) -> int:
        day = task.opens
        for wait in self._before[task.id]:
            place = self.places[wait.before]
            day = max(day, (place.first_day if wait.by_start else place.last_day) + wait.least)
        return day

    def _hands_start(self, task: Task) -> int | None:
        start = self._hands.at(self._earliest_day(task))
        for wait in self._before[task.id]:
            place = self.places[wait.before]
            if wait.before in self._by_hand:
                start = max(start, place.start if wait.by_start else place.end)
        while True:
            moved = self._in_window(task, start)
            if moved is None or moved + task.length > self._hands.total:
                return None
            moved = self._past_work(task, moved)
            moved = self._past_holds(task, moved)
            if moved == start:
                return start
            start = moved

    def _in_window(self, task: Task, start: int) -> int | None:
        if not task.windows:
            return start
        for first, after in task.windows:
            begin = max(start, self._hands.at(first) if task.hands else first)
            if begin + task.length <= (self._hands.at(after) if task.hands else after):
                return begin
        return None

    def _past_work(self, task: Task, start: int) -> int:
        if self._alone:
            return start
        for begin, end in self._worked:
            if begin < start + task.length and start < end:
                start = end
        return start

    def _past_holds(self, task: Task, start: int) -> int:
        for hold in self._holds[task.id]:
            capacity = self._problem.capacities[hold.resource]
            spans = self._held[hold.resource]
            if hold.amount > capacity:
                return self._hands.total + 1
            while True:
                freed = self._freed(hold, start + task.length)
                over = [span for span in spans if span[0] < freed and start < span[1]]
                if _peak(over) + hold.amount <= capacity:
                    break
                start = min(span[1] for span in over)
        return start

    def _day_start(self, task: Task) -> int | None:
        if any(amount > self._problem.capacities[name] for name, amount in task.uses.items()):
            return None
        start: int | None = self._earliest_day(task)
        while start is not None:
            start = self._in_window(task, start)
            if start is None:
                return None
            clash = self._clash(task, start)
            if clash is None:
                return start
            start = clash + 1
        return None

    def _clash(self, task: Task, start: int) -> int | None:
        """The last day on which there is not enough of a resource."""
        for day in range(start + task.length - 1, start - 1, -1):
            for name, amount in task.uses.items():
                if self._used[name].get(day, 0) + amount > self._problem.capacities[name]:
                    return day
        return None


def _peak(spans: list[tuple[int, int, int]]) -> int:
    return max((sum(a for s, e, a in spans if s <= begin < e) for begin, _, _ in spans), default=0)
