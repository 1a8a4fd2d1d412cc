"""The scheduler by itself: against every order tried by hand, and in its promises."""

from __future__ import annotations

import random
from itertools import pairwise, permutations

import pytest

from fishplate.work.schedule_greedy import cost_of, keeps_most
from fishplate.work.schedule_hands import HandsTime
from fishplate.work.schedule_model import Found, Hold, Impossible, Limits, Rule, ScheduleProblem, Task, Wait
from fishplate.work.schedule_solve import schedule


def found(problem: ScheduleProblem, **options: object) -> Found:
    result = schedule(problem, **options)  # type: ignore[arg-type]
    assert isinstance(result, Found), result
    return result


def by_hand(problem: ScheduleProblem) -> int:
    """The least cost over every order of the hands' tasks, worked out day by day without the scheduler's own code."""
    hands = [task.id for task in problem.tasks if task.hands]
    costs = [_stepped(problem, order) for order in permutations(hands)]
    return min(cost for cost in costs if cost is not None)


def _stepped(problem: ScheduleProblem, order: tuple[str, ...]) -> int | None:
    """Each unit of time in turn to the next task of the order, which stands still until it can begin."""
    tasks, waits = {task.id: task for task in problem.tasks}, problem.waits
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    worked: dict[str, int] = {}
    left = list(order)
    done_units = end_units = early = 0

    def opened(name: str, day: int) -> bool:
        if tasks[name].opens > day:
            return False
        for wait in waits:
            if wait.after == name:
                since = first.get(wait.before) if wait.by_start else last.get(wait.before)
                if since is None or since + wait.least > day:
                    return False
        return True

    for day, units in enumerate(problem.hours):
        for _ in range(units + 1):  # once more than there are units: what ends on this day may open something on it
            for name, task in tasks.items():
                if not task.hands and name not in first and opened(name, day):
                    first[name] = day
            for name in [name for name in first if not tasks[name].hands]:
                if first[name] + tasks[name].length <= day:
                    last[name] = first[name] + tasks[name].length
        for _ in range(units):
            done_units += 1
            if left and (left[0] in worked or opened(left[0], day)):
                name = left[0]
                first.setdefault(name, day)
                worked[name] = worked.get(name, 0) + 1
                if worked[name] == tasks[name].length:
                    last[name] = day
                    end_units, early = done_units, early + tasks[name].early * done_units
                    left.pop(0)
                    for other, task in tasks.items():
                        if not task.hands and other not in first and opened(other, day):
                            first[other] = day
                            if task.length == 0:
                                last[other] = day
    if len(last) < len(tasks):
        return None
    finish = max(last[name] + task.tail for name, task in tasks.items())
    return problem.finish_worth * finish + problem.stall_worth * end_units + early


def small(seed: int) -> ScheduleProblem:
    """Five tasks of the hands and two without, on an uneven calendar."""
    r = random.Random(seed)
    names = [f"h{k}" for k in range(5)] + ["d0", "d1"]
    order = r.sample(names, len(names))
    tasks = [
        Task(
            name, r.randint(1, 6), hands=True, opens=r.choice([0, 0, 4, 9]), tail=r.choice([0, 0, 3]),
            early=r.choice([0, 0, 2]),
        )
        if name[0] == "h"
        else Task(name, r.randint(0, 8))
        for name in names
    ]  # fmt: skip
    waits = [
        Wait(a, b, r.choice([0, 0, 2, 5]), by_start=r.random() < 0.2)
        for k, a in enumerate(order)
        for b in order[k + 1 :]
        if r.random() < 0.3
    ]
    hours = tuple(r.choice([0, 1, 1, 2, 3]) for _ in range(120))
    return ScheduleProblem(tuple(tasks), tuple(waits), hours=hours, finish_worth=50, stall_worth=r.choice([0, 3]))


@pytest.mark.parametrize("seed", range(25))
def test_no_order_tried_by_hand_is_better(seed: int) -> None:
    problem = small(seed)
    result = found(problem)
    assert result.optimal
    assert result.cost == by_hand(problem)


def checked(problem: ScheduleProblem, result: Found) -> None:
    """Every promise of a schedule, looked at unit by unit."""
    hands, places = HandsTime(problem.hours), result.places
    units = [unit for task in problem.tasks if task.hands for unit in range(places[task.id].start, places[task.id].end)]
    assert len(units) == len(set(units))
    for task in problem.tasks:
        place = places[task.id]
        assert place.end == place.start + task.length
        assert place.first_day >= task.opens
        if task.hands:
            assert hands.at(place.first_day) <= place.start < hands.at(place.first_day + 1)
            assert hands.at(place.last_day) < place.end <= hands.at(place.last_day + 1)
    for wait in problem.waits:
        before, after = places[wait.before], places[wait.after]
        assert after.first_day >= (before.first_day if wait.by_start else before.last_day) + wait.least
    assert keeps_most(problem, places)
    assert result.cost == cost_of(problem, places)


@pytest.mark.parametrize("seed", range(10))
def test_promises_are_kept_with_latest_moments_and_a_bay_that_cures(seed: int) -> None:
    r = random.Random(seed)
    base = small(seed)
    waits = [
        Wait(w.before, w.after, w.least, w.least + 40 if r.random() < 0.5 else None, w.by_start) for w in base.waits
    ]
    holds = tuple(Hold("bay", task.id, r.choice([0, 3])) for task in base.tasks if task.hands and r.random() < 0.7)
    problem = ScheduleProblem(base.tasks, tuple(waits), holds, base.hours, {"bay": 1}, 50, 3)
    result = found(problem)
    checked(problem, result)
    hands = HandsTime(problem.hours)
    spans = sorted(
        (result.places[hold.task].start, max(result.places[hold.task].end, freed), hold.task)
        for hold in holds
        for freed in [hands.at(result.places[hold.task].last_day + hold.days) if hold.days else 0]
    )
    assert all(a[1] <= b[0] for a, b in pairwise(spans))


def test_what_comes_too_late_is_put_off_with_what_it_waits_for() -> None:
    # primer takes top coat within 3 days, and the paint comes on day 20: the primer waits as well
    tasks = (Task("primer", 2, hands=True), Task("top-coat", 2, hands=True, opens=20))
    problem = ScheduleProblem(tasks, (Wait("primer", "top-coat", 1, 3),), hours=(2,) * 60)
    result = found(problem)
    assert result.places["top-coat"].first_day == 20
    assert 17 <= result.places["primer"].last_day <= 19


def test_work_is_not_cut_by_a_season_unless_it_must_be() -> None:
    windows = ((0, 3), (30, 40))
    problem = ScheduleProblem((Task("paint", 4, hands=True, windows=windows),), hours=(1,) * 60)
    assert found(problem).places["paint"].first_day == 30


@pytest.mark.parametrize("seed", [3, 4])
def test_the_same_input_gives_the_same_schedule(seed: int) -> None:
    problem = small(seed)
    assert found(problem) == found(problem)


def test_an_earlier_order_is_kept_where_nothing_is_gained() -> None:
    tasks = tuple(Task(name, 3, hands=True) for name in "abcd")
    problem = ScheduleProblem(tasks, hours=(1,) * 40)
    near = {"c": 0.0, "a": 3.0, "d": 6.0, "b": 9.0}
    places = found(problem, near=near).places
    assert sorted(places, key=lambda name: places[name].start) == ["c", "a", "d", "b"]


def test_a_stopped_search_gives_what_it_has_and_says_so() -> None:
    r = random.Random(1)
    tasks = tuple(Task(f"t{k}", r.randint(1, 9), uses={"crew": r.randint(1, 6)}) for k in range(60))
    waits = tuple(Wait(f"t{r.randrange(k)}", f"t{k}") for k in range(1, 60) for _ in range(2))
    problem = ScheduleProblem(tasks, waits, capacities={"crew": 7})
    told: list[float] = []
    result = found(problem, stop=lambda: True, limits=Limits(effort=1e6), progress=lambda _, share: told.append(share))
    assert result.ended in ("stopped", "proven")
    assert result.bound <= result.cost
    assert told[-1] == 1.0
    cut = found(problem, limits=Limits(effort=0.001))
    assert cut == found(problem, limits=Limits(effort=0.001))


def fault(problem: ScheduleProblem) -> set[Rule]:
    result = schedule(problem)
    assert isinstance(result, Impossible)
    assert result.smallest
    return set(result.rules)


def test_the_smallest_set_at_fault_leaves_out_the_innocent() -> None:
    tasks = (
        Task("primer", 2, hands=True),
        Task("top-coat", 2, hands=True),
        Task("cure-shop", 30),
        Task("trim", 3, hands=True, opens=4),
    )
    waits = (
        Wait("primer", "cure-shop"),
        Wait("cure-shop", "top-coat"),
        Wait("primer", "top-coat", 0, 7),
        Wait("top-coat", "trim"),
    )
    assert fault(ScheduleProblem(tasks, waits, hours=(2,) * 200)) == {
        Rule("least", ("primer", "cure-shop")),
        Rule("least", ("cure-shop", "top-coat")),
        Rule("most", ("primer", "top-coat")),
    }


def test_a_deadline_that_can_not_be_met_names_what_holds_it() -> None:
    tasks = (Task("strip", 5, hands=True), Task("engine-in", 5, hands=True, opens=50), Task("trim", 1, hands=True))
    rules = fault(ScheduleProblem(tasks, hours=(1,) * 200, deadline=40))
    assert rules == {Rule("deadline"), Rule("opens", ("engine-in",))}


def test_too_much_work_for_the_hands_is_at_fault_by_itself() -> None:
    tasks = (Task("a", 30, hands=True), Task("b", 30, hands=True))
    assert fault(ScheduleProblem(tasks, hours=(1,) * 100, deadline=40)) == {Rule("deadline"), Rule("hands")}


def test_no_room_at_all_is_named() -> None:
    tasks = (Task("lift-off", 3, hands=True),)
    problem = ScheduleProblem(tasks, holds=(Hold("lift", "lift-off"),), hours=(1,) * 30, capacities={"lift": 0})
    assert fault(problem) == {Rule("capacity", ("lift",))}


def test_more_work_than_the_calendar_holds_is_said_by_an_empty_set() -> None:
    assert fault(ScheduleProblem((Task("a", 30, hands=True),), hours=(1,) * 20)) == set()


def test_a_circle_is_refused() -> None:
    tasks = (Task("a", 1), Task("b", 1))
    with pytest.raises(ValueError, match="circle: a, b"):
        schedule(ScheduleProblem(tasks, (Wait("a", "b"), Wait("b", "a"))))


@pytest.mark.parametrize(
    ("tasks", "holds", "message"),
    [
        ((Task("a", 1), Task("a", 1)), (), "same name"),
        ((Task("a", -1),), (), "negative"),
        ((Task("a", 0, hands=True),), (), "has a length"),
        ((Task("a", 1, uses={"crew": 1}),), (), "no capacity"),
        ((Task("a", 1),), (Hold("bay", "a"),), "only a task of the hands"),
    ],
)
def test_nonsense_is_refused(tasks: tuple[Task, ...], holds: tuple[Hold, ...], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        ScheduleProblem(tasks, holds=holds, hours=(1,), capacities={"bay": 1} if holds else {})
