"""What the scheduler is given and what it finds: tasks, waits, holds, hands.

Two axes. Tasks of the owner's hands lie on the axis of the hands' time, on which only hours count that the owner has,
so that a task is as long in winter as in summer; tasks without hands (an outside shop) lie on the axis of days. Day n
is the n-th day after the first; a moment is the day it falls on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

Ending = Literal["proven", "effort", "clock", "stopped"]
RuleKind = Literal["least", "most", "opens", "windows", "hands", "capacity", "deadline"]
Stop = Callable[[], bool]
Progress = Callable[[str, float], None]


class Rule(NamedTuple):
    """One thing that limits a schedule: of a wait both tasks, else the task or resource it is about."""

    kind: RuleKind
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Task:
    """Something to be done in one go.

    Parameters
    ----------
    length : in units of the hands' time, or in days without hands
    hands : whether it takes the owner's hands, of which there is one pair
    uses : how much of each resource it takes; only without hands
    opens : the first day it can begin
    windows : spans of days (first, first after) one of which it must lie in; empty: any
    tail : days after its end that count for the finish
    early : worth of ending one unit of its axis sooner
    """

    id: str
    length: int
    hands: bool = False
    uses: Mapping[str, int] = field(default_factory=dict)
    opens: int = 0
    windows: tuple[tuple[int, int], ...] = ()
    tail: int = 0
    early: int = 0


@dataclass(frozen=True, slots=True)
class Wait:
    """One task waits for the end of another, or for its start.

    Parameters
    ----------
    least, most : days in between; most None: any number
    fixed : lies in the nature of the thing, and is never at fault
    """

    before: str
    after: str
    least: int = 0
    most: int | None = None
    by_start: bool = False
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Hold:
    """A resource held from the start of a task of the hands until some days after its end."""

    resource: str
    task: str
    days: int = 0
    amount: int = 1


@dataclass(frozen=True, slots=True)
class ScheduleProblem:
    """What is to be scheduled.

    Parameters
    ----------
    hours : units of the hands' time on each day of the horizon
    capacities : of each resource
    finish_worth : worth of finishing a day sooner
    stall_worth : worth of one unit less of the hands' time before their last task ends, all work being what it is
    deadline : the last day on which it may finish, if there is one

    Raises
    ------
    ValueError
        if a task is named twice, is unknown, or asks for what there can't be
    """

    tasks: tuple[Task, ...]
    waits: tuple[Wait, ...] = ()
    holds: tuple[Hold, ...] = ()
    hours: tuple[int, ...] = ()
    capacities: Mapping[str, int] = field(default_factory=dict)
    finish_worth: int = 1
    stall_worth: int = 0
    deadline: int | None = None

    def __post_init__(self) -> None:
        known = {task.id: task for task in self.tasks}
        if len(known) != len(self.tasks):
            raise ValueError("two tasks have the same name")
        named = {name for wait in self.waits for name in (wait.before, wait.after)} | {it.task for it in self.holds}
        if named - known.keys():
            raise ValueError(f"no such tasks: {', '.join(sorted(named - known.keys()))}")
        if any(task.length < 0 or task.opens < 0 for task in self.tasks):
            raise ValueError("a length or an opening is negative")
        if any(task.hands and (task.uses or task.length == 0) for task in self.tasks):
            raise ValueError("a task of the hands has a length, and takes other resources by a hold")
        if any(not known[hold.task].hands for hold in self.holds):
            raise ValueError("only a task of the hands holds a resource")
        used = {name for task in self.tasks for name in task.uses} | {hold.resource for hold in self.holds}
        if used - self.capacities.keys():
            raise ValueError(f"no capacity is given for: {', '.join(sorted(used - self.capacities.keys()))}")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a task lies: start and end on its axis, and the days these fall on.

    The last day is that on which its end falls: the day something that waits for it can begin.
    """

    start: int
    end: int
    first_day: int
    last_day: int


@dataclass(frozen=True, slots=True)
class Limits:
    """How long to look. The same limits on the same input give the same schedule, but for `seconds`.

    Parameters
    ----------
    effort : deterministic time, about a second of an unhurried machine each
    seconds : the clock's limit, if any; a schedule cut off by it may differ the next time
    """

    effort: float = 20.0
    seconds: float | None = None
    seed: int = 1


@dataclass(frozen=True, slots=True)
class Found:
    """A schedule.

    Parameters
    ----------
    places : by task
    finish : the day all is done, tails included
    cost, bound : worth of this schedule, and the least that any can cost, both proven
    optimal : whether they meet
    ended : what ended the search: "proven", "effort", "clock" or "stopped"
    """

    places: Mapping[str, Place]
    finish: int
    cost: int
    bound: int
    optimal: bool
    ended: Ending


@dataclass(frozen=True, slots=True)
class Impossible:
    """No schedule exists.

    Parameters
    ----------
    rules : a smallest set that can't all be kept: without any one of them the others can
    smallest : False if the search for the smallest set was cut short
    """

    rules: tuple[Rule, ...]
    smallest: bool = True
