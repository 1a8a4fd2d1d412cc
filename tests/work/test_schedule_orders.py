"""Bred orders: what comes of them is a schedule, as good as any where all can be tried, and the same each time."""

from __future__ import annotations

import threading
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.work.schedule_greedy import finish_of, placed
from fishplate.work.schedule_hands import HandsTime
from fishplate.work.schedule_model import Found, Limits, Place, ScheduleProblem, Task, Wait
from fishplate.work.schedule_orders import Orders, only_days
from fishplate.work.schedule_solve import schedule

NO_HANDS = HandsTime(())


@st.composite
def yards(draw: st.DrawFn) -> ScheduleProblem:
    """Up to six tasks over five resources, so that they take more than one word."""
    names = [f"r{n}" for n in range(5)]
    count = draw(st.integers(2, 6))
    tasks = tuple(
        Task(
            f"t{n}",
            draw(st.integers(0, 4)),
            uses={name: draw(st.integers(0, 3)) for name in draw(st.sets(st.sampled_from(names), max_size=3))},
            opens=draw(st.integers(0, 3)),
            tail=draw(st.integers(0, 2)),
        )
        for n in range(count)
    )
    pairs = [(a, b) for b in range(count) for a in range(b)]
    waits = tuple(
        Wait(f"t{a}", f"t{b}", least=draw(st.integers(0, 2)))
        for a, b in draw(st.sets(st.sampled_from(pairs), max_size=5))
    )
    return ScheduleProblem(tasks, waits, capacities=dict.fromkeys(names, 4))


def bred(problem: ScheduleProblem, tried: int = 400) -> dict[str, Place]:
    effort = tried / 60_000
    orders = Orders(problem, NO_HANDS, 1)
    found = orders.best(Limits(effort=effort), 0, threading.Event())
    assert found is not None
    # an order in which something comes before what it waits for would promise too early a finish
    assert orders.finish is not None
    assert finish_of(problem, found) <= orders.finish
    return found


def kept(problem: ScheduleProblem, places: dict[str, Place]) -> bool:
    """Whether waits, openings and capacities are kept, day by day."""
    tasks = {task.id: task for task in problem.tasks}
    waits = all(places[w.after].start >= places[w.before].end + w.least for w in problem.waits)
    opens = all(places[id_].start >= task.opens for id_, task in tasks.items())
    return (
        waits
        and opens
        and all(
            sum(tasks[id_].uses.get(name, 0) for id_, p in places.items() if p.start <= day < p.end) <= capacity
            for name, capacity in problem.capacities.items()
            for day in range(finish_of(problem, places))
        )
    )


@settings(max_examples=60, deadline=None)
@given(yards())
def test_the_best_of_all_orders_is_found(problem: ScheduleProblem) -> None:
    assert only_days(problem)
    places = bred(problem)
    assert kept(problem, places)
    every = (placed(problem, NO_HANDS, dict(zip(order, map(float, range(6)), strict=False)))
             for order in permutations(task.id for task in problem.tasks))  # fmt: skip
    assert finish_of(problem, places) == min(finish_of(problem, each) for each in every if each is not None)


def test_a_yard_of_many_tasks_is_the_same_each_time() -> None:
    tasks = tuple(Task(f"t{n:02d}", 1 + n * 7 % 5, uses={"r": 1 + n % 3}) for n in range(40))
    waits = tuple(Wait(f"t{n:02d}", f"t{n + 7:02d}") for n in range(33))
    problem = ScheduleProblem(tasks, waits, capacities={"r": 4})
    first, again = bred(problem, 2000), bred(problem, 2000)
    assert first == again
    assert kept(problem, first)
    found = schedule(problem, Limits(effort=0.3))
    assert isinstance(found, Found)
    assert found.bound <= found.finish <= finish_of(problem, first)


def test_breeding_goes_on_where_it_was() -> None:
    tasks = tuple(Task(f"t{n:02d}", 1 + n * 7 % 5, uses={"r": 1 + n % 3}) for n in range(30))
    orders = Orders(ScheduleProblem(tasks, capacities={"r": 4}), NO_HANDS, 1)
    orders.best(Limits(effort=0.01), 0, threading.Event())
    first, tried = orders.finish, orders.tried
    orders.best(Limits(effort=0.01), 0, threading.Event())
    assert first is not None
    assert orders.finish is not None
    assert orders.finish <= first
    assert orders.tried == 2 * tried


@pytest.mark.parametrize(
    "problem",
    [
        ScheduleProblem((Task("a", 2, hands=True), Task("b", 1)), hours=(4,) * 9),
        ScheduleProblem((Task("a", 2), Task("b", 1)), (Wait("a", "b", most=3),)),
        ScheduleProblem((Task("a", 2), Task("b", 1)), (Wait("a", "b", by_start=True),)),
        ScheduleProblem((Task("a", 2, windows=((0, 9),)), Task("b", 1))),
        ScheduleProblem((Task("a", 2, uses={"r": 2}), Task("b", 1)), capacities={"r": 1}),
        ScheduleProblem((Task("a", 2, uses={"r": 2}), Task("b", 1)), capacities={"r": 1 << 15}),
    ],
)
def test_what_has_more_to_it_is_left_to_the_other_searches(problem: ScheduleProblem) -> None:
    assert not only_days(problem)
