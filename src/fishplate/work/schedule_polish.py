"""Better schedules from a good one: a stretch of it is ordered anew, the rest keeps its order, again and again.

Large neighbourhood search, Shaw (1998), Principles and Practice of Constraint Programming, 417-431; stretches in time
as by Palpant, Artigues & Michelon (2004), Annals of Operations Research 131, 237-257.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from ortools.sat.python import cp_model

from .schedule_bound import Bounds
from .schedule_greedy import cost_of
from .schedule_hands import HandsTime
from .schedule_model import Limits, Place, ScheduleProblem, Task
from .schedule_programme import Programme

STRETCHES: Final = (16, 22, 28, 36)
EFFORT_EACH: Final = 0.05
LEAST_EFFORT: Final = 0.005
Places = dict[str, Place]


@dataclass
class Polish:
    """A search beside the main one, that owes it nothing: the same limits give the same schedule.

    Parameters
    ----------
    pull : pulls a schedule together
    """

    problem: ScheduleProblem
    hands: HandsTime
    bounds: Bounds | None
    limits: Limits
    pull: Callable[[Places], Places]

    def run(self, begun: Places, over: threading.Event) -> Places:
        """The best schedule found from one, until the effort is used up or the other search is over."""
        draw = random.Random(self.limits.seed)
        best, cost = begun, cost_of(self.problem, begun)
        least = 0 if self.bounds is None else self.bounds.cost
        effort = seconds = 0.0
        while not over.is_set() and cost > least and effort < self.limits.effort:
            if self.limits.seconds is not None and seconds >= self.limits.seconds:
                break
            found, solver = self._once(best, cost, _stretch(best, draw))
            effort += max(solver.response_proto.deterministic_time, LEAST_EFFORT)
            seconds += solver.wall_time
            if found is not None:
                best = self.pull(found)
                cost = cost_of(self.problem, best)
        return best

    def _once(
        self, places: Places, cost: int, free: frozenset[str]
    ) -> tuple[Places | None, cp_model.CpSolver]:  # fmt: skip
        until = max(place.last_day for place in places.values())
        programme = Programme(self.problem, self.hands, until, bounds=self.bounds)
        for before, after in self._kept(places, free):
            programme.in_this_order(before, after)
        programme.cost_less_than(cost)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = self.limits.seed
        solver.parameters.linearization_level = 0
        # so short a search is over before presolving pays
        solver.parameters.cp_model_presolve = False
        solver.parameters.max_deterministic_time = EFFORT_EACH
        status = solver.solve(programme.model)
        found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        return (programme.places(solver) if found else None), solver

    def _kept(self, places: Mapping[str, Place], free: frozenset[str]) -> Iterator[tuple[str, str]]:
        """Pairs that keep their order: of the hands, and of what takes the same resource."""
        by_start = sorted(self.problem.tasks, key=lambda task: (places[task.id].start, places[task.id].end, task.id))
        hands = [task.id for task in by_start if task.hands]
        yield from _chain(hands, free)
        sharing = [task for task in by_start if task.uses]
        for position, after in enumerate(sharing):
            told: list[Task] = []
            earlier = [task for task in sharing[:position] if places[task.id].end <= places[after.id].start]
            for before in sorted(earlier, key=lambda task: -places[task.id].end):
                if _kept_apart(before, after, free) and not any(
                    # follows from another pair
                    places[before.id].end <= places[between.id].start and _kept_apart(before, between, free)
                    for between in told
                ):
                    told.append(before)
                    yield before.id, after.id


def _kept_apart(one: Task, other: Task, free: frozenset[str]) -> bool:
    return not (one.id in free and other.id in free) and not one.uses.keys().isdisjoint(other.uses)


def _stretch(places: Places, draw: random.Random) -> frozenset[str]:
    """Tasks to be ordered anew: some that begin one after the other."""
    order = sorted(places, key=lambda id_: (places[id_].first_day, places[id_].start, id_))
    count = min(draw.choice(STRETCHES), len(order))
    begin = draw.randint(1 - count // 2, len(order) - count // 2)
    return frozenset(order[max(0, begin) : begin + count])


def _chain(order: Sequence[str], free: frozenset[str]) -> Iterator[tuple[str, str]]:
    """Tasks one after the other, those that are free between the ones on either side of them."""
    held = [id_ for id_ in order if id_ not in free]
    yield from pairwise(held)
    before: str | None = None
    open_: list[str] = []
    for id_ in order:
        if id_ in free:
            open_.append(id_)
            if before is not None:
                yield before, id_
        else:
            yield from ((other, id_) for other in open_)
            open_ = []
            before = id_
