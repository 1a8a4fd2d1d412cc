"""The schedule: the best that can be found within limits, with the bound that is proven."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final

from .schedule_bound import Bounds, bounds_of
from .schedule_greedy import cost_of, finish_of, in_a_row, latest_first, placed, placed_late
from .schedule_hands import HandsTime
from .schedule_model import Ending, Found, Impossible, Limits, Place, Progress, ScheduleProblem, Stop

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

    from .schedule_orders import Orders

LOOK_SECONDS: Final = 0.1
SHORT_EFFORT: Final = 0.5
# one worker: its search is the same every time, and proves these problems sooner than several on as many cores
WORKERS: Final = 1
BREEDING: Final = 0.75
"""Share of the time beside the proof that goes to breeding orders, where that can be done."""
BRED_BEFORE: Final = 0.02
BRED_BETWEEN: Final = 0.5
"""Effort of breeding before the short proof, and before the long one: a proof is sooner done the better it begins."""


def schedule(
    problem: ScheduleProblem,
    limits: Limits | None = None,
    *,
    near: Mapping[str, float] | None = None,
    near_worth: int = 0,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Found | Impossible:
    """Schedule tasks, or say which rules can't all be kept.

    Parameters
    ----------
    near : starts of an earlier schedule; where its order costs no more than `near_worth` above the best, it is kept
    progress : told what is done and the share of the proof, 0 to 1, as schedules are found
    stop : asked ten times a second; once it says True the best schedule so far is given

    Returns
    -------
    the schedule, every task as early as its order allows; or the smallest set of rules at fault

    Raises
    ------
    ValueError
        if tasks wait for each other in a circle
    RuntimeError
        if neither a schedule nor a proof that there is none was found within the limits
    """
    hands, limits = HandsTime(problem.hours), limits or Limits()
    begun = _begun(problem, hands, near or {})
    until = _horizon(problem, hands)
    if begun is not None and problem.finish_worth > 0:
        # whatever costs no more is finished by then
        until = min(until, cost_of(problem, begun) // problem.finish_worth)
    bounds = bounds_of(problem, hands)
    if begun is not None and bounds is not None and cost_of(problem, begun) == bounds.cost:
        found: Found | Impossible = _known(problem, begun)
    else:
        found = _Search(problem, hands, limits, bounds, progress or _silent, stop).run(until, begun)
    (progress or _silent)("scheduled", 1.0)
    stay = placed(problem, hands, near) if near else None
    return found if isinstance(found, Impossible) or stay is None else _stayed(problem, found, stay, near_worth)


def _stayed(problem: ScheduleProblem, found: Found, stay: Mapping[str, Place], worth: int) -> Found:
    """The earlier order, where the best gains no more than so much."""
    cost, finish = cost_of(problem, stay), finish_of(problem, stay)
    if cost > found.cost + worth or (problem.deadline is not None and finish > problem.deadline):
        return found
    return Found(stay, finish, cost, found.bound, cost == found.bound, found.ended)


def _silent(_stage: str, _share: float) -> None:
    pass


def _begun(problem: ScheduleProblem, hands: HandsTime, near: Mapping[str, float]) -> dict[str, Place] | None:
    """The cheapest of the simple schedules: that in the order of the earlier one, if it is no dearer."""
    orders = [near] if near else []
    orders.append(latest_first(problem, hands))
    found = [places for order in orders if (places := placed(problem, hands, order)) is not None]
    kept = [places for places in found if problem.deadline is None or finish_of(problem, places) <= problem.deadline]
    return min(kept, key=lambda places: cost_of(problem, places), default=None)


def _horizon(problem: ScheduleProblem, hands: HandsTime) -> int:
    if hands.days:
        loose = placed_late(problem, hands, latest_first(problem, hands))
        # whoever can't keep the latest moments in twice the time and a year, can't keep them
        return hands.days if loose is None else min(hands.days, 2 * finish_of(problem, loose) + 366)
    return in_a_row(problem)


def _known(problem: ScheduleProblem, places: Mapping[str, Place]) -> Found:
    """A schedule that no other can beat."""
    cost = cost_of(problem, places)
    return Found(places, finish_of(problem, places), cost, cost, True, "proven")


@dataclass(frozen=True)
class _Search:
    """A search by CP-SAT."""

    problem: ScheduleProblem
    hands: HandsTime
    limits: Limits
    bounds: Bounds | None
    progress: Progress
    stop: Stop | None

    def run(self, until: int, begun: Mapping[str, Place] | None) -> Found | Impossible:
        """The best schedule up to a day, from a simple one if there is one.

        A short search first, which proves most problems; then a long one, and beside it one that only improves. Neither
        knows of the other, so that what comes of them does not depend on which is faster. Where hands are not in
        question orders are bred before each.
        """
        clock, orders = time.monotonic(), self._orders()
        short = replace(self.limits, effort=min(SHORT_EFFORT, self.limits.effort))
        with _Watch(self.stop) as watch:
            if orders is not None and begun is not None:
                begun = self._bred(orders, begun, _share_of(self.limits, BRED_BEFORE), self._least(), watch.over)
                until = cost_of(self.problem, begun) // self.problem.finish_worth
                if cost_of(self.problem, begun) <= self._least():
                    return _known(self.problem, begun)
            first = self._by_proof(until, begun, short, watch)
            if isinstance(first, Impossible) or first.optimal or watch.stopped or short == self.limits:
                return first
            if orders is not None:
                few = _share_of(self.limits, BRED_BETWEEN)
                first = self._with(first, self._bred(orders, first.places, few, first.bound, watch.over), first.bound)
            if first.optimal:
                return first
            return self._side_by_side(first, orders, _left(self.limits, time.monotonic() - clock), watch)

    def _least(self) -> int:
        return 0 if self.bounds is None else self.bounds.cost

    def _orders(self) -> Orders | None:
        if any(task.hands for task in self.problem.tasks):
            return None
        from .schedule_orders import Orders, only_days

        return Orders(self.problem, self.hands, self.limits.seed) if only_days(self.problem) else None

    def _bred(
        self, orders: Orders, places: Mapping[str, Place], limits: Limits, least: int, over: threading.Event
    ) -> Mapping[str, Place]:
        """The better one of a schedule and the best that is bred, until it costs no more than the least."""
        bred = orders.best(limits, -(-least // self.problem.finish_worth), over)
        return places if bred is None or cost_of(self.problem, bred) >= cost_of(self.problem, places) else bred

    def _with(self, found: Found, places: Mapping[str, Place], bound: int) -> Found:
        """What was found, or what came from another search if it is better; whether a bound proves it."""
        if cost_of(self.problem, places) >= found.cost:
            places = found.places
        cost = cost_of(self.problem, places)
        least = min(cost, max(bound, found.bound))
        ended: Ending = "proven" if least >= cost else found.ended
        return Found(places, finish_of(self.problem, places), cost, least, least >= cost, ended)

    def _side_by_side(self, first: Found, orders: Orders | None, limits: Limits, watch: _Watch) -> Found:
        until = (
            first.cost // self.problem.finish_worth if self.problem.finish_worth else _horizon(self.problem, self.hands)
        )
        better, over = dict(first.places), watch.over

        def improve() -> None:
            better.update(self._improved(first, orders, limits, over))

        beside = threading.Thread(target=improve, daemon=True)
        beside.start()
        found = self._by_proof(until, first.places, limits, watch)
        assert isinstance(found, Found)
        if found.optimal or watch.stopped:
            over.set()
        beside.join()
        return self._with(found, better, first.bound)

    def _improved(
        self, first: Found, orders: Orders | None, limits: Limits, over: threading.Event
    ) -> Mapping[str, Place]:  # fmt: skip
        """A better schedule before the limits are reached: where hands are not in question by breeding orders first."""
        from .schedule_polish import Polish

        places, polish = first.places, limits
        if orders is not None:
            places = self._bred(orders, places, _part_of(limits, BREEDING), first.bound, over)
            polish = _part_of(limits, 1 - BREEDING)
        pull = partial(_pulled_together, self.problem, self.hands)
        return Polish(self.problem, self.hands, self.bounds, polish, pull).run(dict(places), over)

    def _by_proof(
        self, until: int, begun: Mapping[str, Place] | None, limits: Limits, watch: _Watch
    ) -> Found | Impossible:  # fmt: skip
        from ortools.sat.python import cp_model

        from .schedule_fault import smallest_fault
        from .schedule_programme import Programme

        programme = Programme(self.problem, self.hands, until, bounds=self.bounds)
        if begun is not None:
            programme.hint(begun)
        solver = _solver(limits)
        watch.solver = solver
        status = solver.solve(programme.model, _telling(self.progress))
        if status == cp_model.INFEASIBLE:
            self.progress("looking for what can't be kept", 0.9)
            return smallest_fault(self.problem, self.hands, _horizon(self.problem, self.hands), stop=self.stop)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            places = _pulled_together(self.problem, self.hands, programme.places(solver))
        elif begun is not None:
            places = dict(begun)
        else:
            raise RuntimeError("no schedule was found within the limits")
        if status == cp_model.OPTIMAL:
            return _known(self.problem, places)
        ended: Ending = "stopped" if watch.stopped else _ending(solver, limits)
        cost, bound = cost_of(self.problem, places), math.ceil(solver.best_objective_bound - 1e-6)
        least = max(bound, 0 if self.bounds is None else self.bounds.cost)
        return Found(places, finish_of(self.problem, places), cost, min(least, cost), least >= cost, ended)


def _share_of(limits: Limits, effort: float) -> Limits:
    """So much of the effort, if there is as much."""
    return replace(limits, effort=min(effort, limits.effort))


def _part_of(limits: Limits, share: float) -> Limits:
    seconds = None if limits.seconds is None else share * limits.seconds
    return replace(limits, effort=share * limits.effort, seconds=seconds)


def _left(limits: Limits, gone: float) -> Limits:
    """What is left after so many seconds."""
    return limits if limits.seconds is None else replace(limits, seconds=max(0.0, limits.seconds - gone))


def _solver(limits: Limits) -> cp_model.CpSolver:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = limits.seed
    # clause learning alone; the linear relaxation of these problems says little and costs much
    solver.parameters.linearization_level = 0
    solver.parameters.max_deterministic_time = limits.effort
    if limits.seconds is not None:
        solver.parameters.max_time_in_seconds = limits.seconds
    return solver


def _ending(solver: cp_model.CpSolver, limits: Limits) -> Ending:
    by_clock = limits.seconds is not None and solver.response_proto.deterministic_time < limits.effort
    return "clock" if by_clock else "effort"


def _pulled_together(problem: ScheduleProblem, hands: HandsTime, places: dict[str, Place]) -> dict[str, Place]:
    """The same order with every task as early as can be, unless that costs more."""
    order = {id_: (place.first_day + place.start / (hands.total + 1)) for id_, place in places.items()}
    earlier = placed(problem, hands, order)
    if earlier is None or cost_of(problem, earlier) > cost_of(problem, places):
        return places
    return earlier


class _Watch:
    """Stops a search once it is asked to.

    Parameters
    ----------
    solver : what is searching now; over : told as well, and ends what searches beside it
    """

    def __init__(self, stop: Stop | None) -> None:
        self.solver: cp_model.CpSolver | None = None
        self.over = threading.Event()
        self.stopped = False
        self._stop, self._done = stop, threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True) if stop is not None else None

    def __enter__(self) -> _Watch:
        if self._thread is not None:
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._done.set()
        if self._thread is not None:
            self._thread.join()

    def _look(self) -> None:
        while self._stop is not None and not self._done.wait(LOOK_SECONDS):
            if self._stop():
                self.stopped = True
                self.over.set()
                if self.solver is not None:
                    self.solver.stop_search()


def _telling(progress: Progress) -> cp_model.CpSolverSolutionCallback:
    """What the solver calls with every better schedule."""
    from ortools.sat.python import cp_model

    class Telling(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            cost, bound = self.objective_value, self.best_objective_bound
            progress("scheduling", min(0.89, bound / cost if cost > 0 else 0.0))

    return Telling()
