"""What no schedule can beat: bounds from the hands' load and from the waits, known before any search."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from .schedule_greedy import in_order, placed_late
from .schedule_hands import HandsTime
from .schedule_model import Place, ScheduleProblem, Wait


@dataclass(frozen=True, slots=True)
class Bounds:
    """The least there can be.

    Parameters
    ----------
    finish : day all is done; end : hands' time by which their last task ends; cost : by the worths of the problem
    heads : start of each task, as if hands and resources were without limit
    """

    finish: int
    end: int
    cost: int
    heads: dict[str, int]


def bounds_of(problem: ScheduleProblem, hands: HandsTime) -> Bounds | None:
    """Bounds of a problem; None where not even unlimited hands can do it.

    Notes
    -----
    One machine with heads and tails: for every set of tasks of the hands, the last of it ends no sooner than the least
    head of the set plus all its lengths (Carlier 1982, European Journal of Operational Research 11, 42-47); what is to
    come after that is at least the least tail of the set, counted in hands' time and, apart from that, in days.
    """
    early = _unlimited(problem, hands)
    if early is None:
        return None
    finish = max((early[task.id].last_day + task.tail for task in problem.tasks), default=0)
    end = max((early[task.id].end for task in problem.tasks if task.hands), default=0)
    work, days = _tails(problem)
    load, least_work, least_days = 0, 1 << 60, 1 << 60
    for task in sorted((t for t in problem.tasks if t.hands), key=lambda t: (-early[t.id].start, t.id)):
        load += task.length
        least_work, least_days = min(least_work, work[task.id]), min(least_days, days[task.id])
        done = early[task.id].start + load
        if done + least_work > hands.total:
            return None
        end = max(end, done + least_work)
        finish = max(finish, hands.end_day(done + least_work), hands.end_day(done) + least_days)
    cost = problem.finish_worth * finish + problem.stall_worth * end
    cost += sum(task.early * early[task.id].end for task in problem.tasks)
    return Bounds(finish, end, cost, {id_: place.start for id_, place in early.items()})


def _unlimited(problem: ScheduleProblem, hands: HandsTime) -> dict[str, Place] | None:
    """Every task as early as waits, openings and windows allow."""
    free = replace(problem, holds=(), tasks=tuple(replace(task, uses={}) for task in problem.tasks))
    return placed_late(free, hands, {}, alone=True)


def _tails(problem: ScheduleProblem) -> tuple[dict[str, int], dict[str, int]]:
    """After each task's end at least: hands' time still to be worked, and days, one without the other."""
    after: dict[str, list[Wait]] = defaultdict(list)
    for wait in problem.waits:
        after[wait.before].append(wait)
    tasks = {task.id: task for task in problem.tasks}
    work: dict[str, int] = {}
    days: dict[str, int] = {}
    for task in reversed(in_order(problem, {})):
        work[task.id], days[task.id] = 0, task.tail
        for wait in after[task.id]:
            # from a start on, the task's own time passes beside the other's
            other, own = tasks[wait.after], task.length if wait.by_start else 0
            mine = own if task.hands else 0
            work[task.id] = max(work[task.id], (other.length if other.hands else 0) + work[other.id] - mine)
            if not wait.by_start:
                days[task.id] = max(days[task.id], wait.least + (0 if other.hands else other.length) + days[other.id])
    return work, days
