"""The constraint programme of a schedule, for CP-SAT (ortools)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import TYPE_CHECKING

from ortools.sat.python import cp_model

from .schedule_bound import Bounds
from .schedule_hands import HandsTime
from .schedule_model import Place, Rule, ScheduleProblem, Task, Wait

if TYPE_CHECKING:
    Variable = cp_model.IntVar
    Literals = list[cp_model.IntVar]


class Programme:
    """Variables and constraints.

    Parameters
    ----------
    until : the last day that is looked at
    bounds : what is known beforehand
    explaining : every rule can be let go by a literal of its own; nothing is minimised then
    """

    def __init__(
        self,
        problem: ScheduleProblem,
        hands: HandsTime,
        until: int,
        *,
        bounds: Bounds | None = None,
        explaining: bool = False,
    ) -> None:
        self._bounds = bounds
        self.problem, self._hands, self._until, self._explaining = problem, hands, until, explaining
        self.model = cp_model.CpModel()
        self.rules: dict[Rule, Variable] = {}
        self._tasks = {task.id: task for task in problem.tasks}
        self._runs = hands.runs(until + 1)
        self._first: dict[str, Variable] = {}
        self._last: dict[str, Variable] = {}
        self.start = {task.id: self._started(task) for task in problem.tasks}
        for task in problem.tasks:
            self._bounded(task)
        for wait in problem.waits:
            self._waiting(wait)
        self._one_pair_of_hands()
        self._resources()
        self._aimed()

    def hint(self, places: Mapping[str, Place]) -> None:
        """Begin the search at a schedule."""
        for id_, place in places.items():
            self.model.add_hint(self.start[id_], place.start)
            if id_ in self._first:
                self.model.add_hint(self._first[id_], place.first_day)
            if id_ in self._last:
                self.model.add_hint(self._last[id_], place.last_day)

    def in_this_order(self, before: str, after: str) -> None:
        """One task after another of its axis."""
        self.model.add(self.start[after] >= self.start[before] + self._tasks[before].length)

    def cost_less_than(self, cost: int) -> None:
        """Nothing that is not better than this."""
        self.model.add(self._worth <= cost - 1)

    def places(self, solver: cp_model.CpSolver) -> dict[str, Place]:
        """Where the tasks lie in what was found."""
        found = {}
        for id_, task in self._tasks.items():
            start = solver.value(self.start[id_])
            end = start + task.length
            days = (self._hands.start_day(start), self._hands.end_day(end)) if task.hands else (start, end)
            found[id_] = Place(start, end, *days)
        return found

    def _kept(self, rule: Rule) -> Literals:
        """What a rule holds under: nothing, or its literal."""
        if not self._explaining:
            return []
        if rule not in self.rules:
            self.rules[rule] = self.model.new_bool_var(" ".join([rule.kind, *rule.about]))
        return [self.rules[rule]]

    def _started(self, task: Task) -> Variable:
        top = self._hands.at(self._until + 1) if task.hands else self._until
        if task.length > top:
            self.model.add_bool_or([])
        latest = max(0, top - task.length)
        return self.model.new_int_var(min(self._head(task), latest), latest, "")

    def _head(self, task: Task) -> int:
        return 0 if self._bounds is None else self._bounds.heads[task.id]

    def _bounded(self, task: Task) -> None:
        start = self.start[task.id]
        if task.opens > 0:
            least = self._hands.at(task.opens) if task.hands else task.opens
            if task.hands and task.opens >= self._hands.days:
                least = self._hands.total + 1
            self.model.add(start >= least).only_enforce_if(*self._kept(Rule("opens", (task.id,))))
        if task.windows:
            spans = [(self._hands.at(a), self._hands.at(b)) if task.hands else (a, b) for a, b in task.windows]
            fitting = [[begin, end - task.length] for begin, end in spans if end - begin >= task.length]
            kept = self._kept(Rule("windows", (task.id,)))
            domain = cp_model.Domain.from_intervals(fitting)
            self.model.add_linear_expression_in_domain(start, domain).only_enforce_if(*kept)

    def _waiting(self, wait: Wait) -> None:
        before, after = self._tasks[wait.before], self._tasks[wait.after]
        kept = [] if wait.fixed else self._kept(Rule("least", (before.id, after.id)))
        length = 0 if wait.by_start else before.length
        if before.hands == after.hands:
            lag = 0 if before.hands else wait.least
            self.model.add(self.start[after.id] >= self.start[before.id] + length + lag).only_enforce_if(*kept)
        if before.hands != after.hands or (before.hands and wait.least > 0):
            self.model.add(self.first(after) >= self._since(before, wait) + wait.least).only_enforce_if(*kept)
        if wait.most is not None:
            kept = self._kept(Rule("most", (before.id, after.id)))
            self.model.add(self.first(after) <= self._since(before, wait) + wait.most).only_enforce_if(*kept)

    def _since(self, task: Task, wait: Wait) -> cp_model.LinearExprT:
        return self.first(task) if wait.by_start else self.last(task)

    def first(self, task: Task) -> cp_model.LinearExprT:
        """The day a task begins on."""
        if not task.hands:
            return self.start[task.id]
        if task.id not in self._first:
            self._first[task.id] = self._day_of(self.start[task.id], 0, self._head(task))
        return self._first[task.id]

    def last(self, task: Task) -> cp_model.LinearExprT:
        """The day from which what waits for a task's end can begin."""
        if not task.hands:
            return self.start[task.id] + task.length
        if task.id not in self._last:
            self._last[task.id] = self._day_of(self.start[task.id], task.length - 1, self._head(task))
        return self._last[task.id]

    def _day_of(self, start: Variable, offset: int, least: int) -> Variable:
        """The day on which the unit of the hands' time so far after a start falls: one literal for each run of days."""
        day = self.model.new_int_var(0, self._until, "")
        chosen = []
        for run in self._runs:
            if run.end <= least + offset:
                continue
            literal = self.model.new_bool_var("")
            chosen.append(literal)
            self.model.add_linear_constraint(day, run.first, run.after - 1).only_enforce_if(literal)
            # begin + units × (day - first) <= start + offset < begin + units × (day - first + 1)
            over = start - run.units * day
            low = run.begin - run.units * run.first - offset
            self.model.add_linear_constraint(over, low, low + run.units - 1).only_enforce_if(literal)
        self.model.add_exactly_one(chosen)
        return day

    def _one_pair_of_hands(self) -> None:
        kept = self._kept(Rule("hands"))
        tasks = [task for task in self.problem.tasks if task.hands]
        self.model.add_no_overlap([self._interval(self.start[task.id], task.length, kept) for task in tasks])

    def _interval(self, start: Variable, length: int, kept: Literals) -> cp_model.IntervalVar:
        if kept:
            return self.model.new_optional_fixed_size_interval_var(start, length, kept[0], "")
        return self.model.new_fixed_size_interval_var(start, length, "")

    def _resources(self) -> None:
        takers: dict[str, list[tuple[cp_model.IntervalVar, int]]] = defaultdict(list)
        for task in self.problem.tasks:
            for name, amount in task.uses.items():
                if amount > 0 and task.length > 0:
                    kept = self._kept(Rule("capacity", (name,)))
                    takers[name].append((self._interval(self.start[task.id], task.length, kept), amount))
        for hold in self.problem.holds:
            kept = self._kept(Rule("capacity", (hold.resource,)))
            takers[hold.resource].append((self._held(self._tasks[hold.task], hold.days, kept), hold.amount))
        for name, held in takers.items():
            capacity = self.problem.capacities[name]
            self.model.add_cumulative([span for span, _ in held], [amount for _, amount in held], capacity)

    def _held(self, task: Task, days: int, kept: Literals) -> cp_model.IntervalVar:
        """From a task's start until some days after its end, on the axis of the hands' time."""
        start = self.start[task.id]
        if days == 0:
            return self._interval(start, task.length, kept)
        size = self.model.new_int_var(task.length, self._hands.total, "")
        freed = self.model.new_int_var(task.length, self._hands.total, "")
        self.model.add(freed >= start + task.length)
        chosen = []
        for run in self._hands.runs(self._hands.days, idle=True):
            literal = self.model.new_bool_var("")
            chosen.append(literal)
            day = self.last(task) + days
            last = run.after - 1 if run.after < self._hands.days else self._hands.days + days
            self.model.add_linear_constraint(day, run.first, last).only_enforce_if(literal)
            self.model.add(freed >= run.begin + run.units * (day - run.first)).only_enforce_if(literal)
        self.model.add_exactly_one(chosen)
        if kept:
            return self.model.new_optional_interval_var(start, size, freed, kept[0], "")
        return self.model.new_interval_var(start, size, freed, "")

    def _aimed(self) -> None:
        """When all is done, and what that and the rest is worth."""
        problem = self.problem
        covered: dict[str, int] = {}
        for wait in problem.waits:
            if not wait.by_start:
                covered[wait.before] = max(covered.get(wait.before, 0), wait.least)
        finish = self.model.new_int_var(0, self._until + max((task.tail for task in problem.tasks), default=0), "")
        for task in problem.tasks:
            if covered.get(task.id, -1) < task.tail:
                self.model.add(finish >= self.last(task) + task.tail)
        if problem.deadline is not None:
            self.model.add(finish <= problem.deadline).only_enforce_if(*self._kept(Rule("deadline")))
        if self._explaining:
            return
        if self._bounds is not None:
            self.model.add(finish >= self._bounds.finish)
        worth = problem.finish_worth * finish
        by_hand = [task for task in problem.tasks if task.hands]
        if problem.stall_worth and by_hand:
            end = self.model.new_int_var(0, self._hands.at(self._until + 1), "")
            if self._bounds is not None:
                self.model.add(end >= self._bounds.end)
            for task in by_hand:
                self.model.add(end >= self.start[task.id] + task.length)
            worth += problem.stall_worth * end
        worth += sum(task.early * (self.start[task.id] + task.length) for task in problem.tasks if task.early)
        self._worth = worth
        self.model.minimize(worth)
