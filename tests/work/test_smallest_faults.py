"""What can't be is named by the fewest things at fault: against every set of them, on small builds made at random."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import Any, TypeVar

import networkx as nx
import pytest

from fishplate.build import Build, build_from_data, facts_of
from fishplate.build.calendar import hours_on
from fishplate.build.document import check_build
from fishplate.build.jobs import Gate
from fishplate.build.owner import Owner
from fishplate.decide import order_decisions
from fishplate.decide.impossible import no_way
from fishplate.work.faults import impossible
from fishplate.work.windows import Least, closed_windows, fewest, least_times

AS_OF = date(2026, 11, 16)
Each = TypeVar("Each")


def smallest(things: Sequence[Each], holds: Callable[[Sequence[Each]], bool]) -> int | None:
    """How many of the things are enough for them not to hold together; None if all of them do."""
    for size in range(len(things) + 1):
        if any(not holds(some) for some in itertools.combinations(things, size)):
            return size
    return None


def job(id_: str, *after: dict[str, Any], **fields: Any) -> dict[str, Any]:
    return {
        "id": id_, "name": f"Job {id_}", "phase": "structure", "hours": {"low": 1, "likely": 1, "high": 1},
        "after": list(after), **fields,
    }  # fmt: skip


# circles


@pytest.mark.parametrize("seed", range(15))
def test_no_circle_of_jobs_is_shorter_than_the_one_named(seed: int) -> None:
    draw = random.Random(seed)
    ids = "abcdef"
    links = {id_: draw.sample(ids.replace(id_, ""), draw.randint(0, 2)) for id_ in ids}
    data = {"jobs": [job(id_, *({"job": other} for other in links[id_])) for id_ in ids]}
    found = [problem.got for problem in check_build(Build.model_validate(data)) if problem.code == "loop"]
    graph = nx.DiGraph((other, id_) for id_ in ids for other in links[id_])
    groups = [group for group in nx.strongly_connected_components(graph) if len(group) > 1]
    shortest = sorted(min(len(it) for it in nx.simple_cycles(graph.subgraph(group))) for group in groups)
    assert sorted(text.count("→") for text in found) == shortest


# calendars


def calendar(draw: random.Random) -> dict[str, Any]:
    days = tuple(sorted(draw.sample(range(1, 8), draw.randint(0, 2))))
    off = [{"first": "2026-01-01", "last": "2029-12-31"}] if draw.random() < 0.25 else []
    if not off and draw.random() < 0.5:  # every day of some days of the week
        gone = draw.sample(range(1, 8), 2)
        off = [
            {"first": str(day), "last": str(day)}
            for day in (AS_OF + timedelta(days=k) for k in range(740))
            if day.isoweekday() in gone
        ]
    seasons = [{"months": [*range(1, 13)], "hours": draw.choice((0, 5))}] if draw.random() < 0.4 else []
    hours = draw.choice((None, 0, 6))
    return {"hours_per_week": hours, "weekdays": days, "days_off": off, "seasons": seasons}


SETTINGS = {
    "the days off": {"days_off": ()}, "the seasons": {"seasons": ()}, "the working days": {"weekdays": ()},
    "the holidays": {"works_on_holidays": True}, "the hours a week": {"hours_per_week": None},
}  # fmt: skip


@pytest.mark.parametrize("seed", range(25))
def test_no_fewer_settings_leave_the_owner_without_hours(seed: int) -> None:
    build = build_from_data({"owner": {"country": "NL", **calendar(random.Random(seed))}, "jobs": [job("a")]})

    def holds(some: Sequence[str]) -> bool:
        lifted = {key: value for words, it in SETTINGS.items() if words not in some for key, value in it.items()}
        owner: Owner = build.owner.model_copy(update=lifted)
        return any(hours_on(owner, AS_OF + timedelta(days=k)) > 0 for k in range(733))

    size = smallest([*SETTINGS], holds)
    told = [problem for problem in impossible(build, facts_of(build, AS_OF)) if problem.code == "no-hours"]
    assert bool(told) == (size is not None)
    for problem in told:
        named = [words for words in SETTINGS if words in problem.what]
        assert len(named) == size
        assert not holds(named)


# windows


def feasible(some: Sequence[Least]) -> bool:
    """By another's search for circles: least times can be kept if none has a positive sum."""
    graph = nx.DiGraph()
    jobs = {moment[0] for item in some for moment in (item.before, item.after)}
    stays = [((id_, "start"), (id_, "end"), 0.0) for id_ in jobs]
    for before, after, days in [*((item.before, item.after, item.days) for item in some), *stays]:
        held = graph.get_edge_data(before, after, {"weight": float("inf")})["weight"]
        graph.add_edge(before, after, weight=min(held, -days))
    return not nx.negative_edge_cycle(graph)


@pytest.mark.parametrize("seed", range(20))
def test_no_fewer_windows_and_waits_contradict_each_other(seed: int) -> None:
    draw = random.Random(seed)
    ids = "abcd"
    made = []
    for place, id_ in enumerate(ids):
        links = []
        for other in ids[:place]:
            if draw.random() < 0.6:
                lag = draw.choice((0, 0, 2))
                within = {"within_days": lag + draw.choice((1, 3))} if draw.random() < 0.5 else {}
                links.append(
                    {"job": other, "lag_days": lag, "kind": draw.choice(("finish-start", "start-start")), **within}
                )
        made.append(job(id_, *links, cure_days=draw.choice((0, 0, 2, 5))))
    build = build_from_data({"jobs": made})
    told = [fault.problem for fault in closed_windows(build.index["jobs"])]
    every = [*least_times(build.index["jobs"])]
    size = smallest(every, feasible)
    assert bool(told) == (size is not None)
    if size is not None:
        fault = fewest(every)
        assert len(fault) == size
        assert not feasible(fault)
        assert any(all(item.text in problem.what for item in fault) for problem in told)


def test_a_gate_that_takes_too_long_is_named_with_the_window() -> None:
    jobs = [job("a"), job("b", {"job": "a"}, cure_days=4), job("c"), job("d", {"job": "a", "within_days": 2})]
    gate = Gate(id="dry", name="Dry build", kind="dry-build", after=("c",), before=("d",))
    build = build_from_data({"jobs": [*jobs[:2], job("c", {"job": "b"}), jobs[3]]})
    ((told, held, _),) = closed_windows(build.index["jobs"], [gate])
    assert sorted(held) == ["a", "b", "c", "d"]
    assert "“Job d” must begin within 2 days of “Job a”" in told.what
    assert "the gate “Dry build” holds “Job d” until “Job c” is done" in told.what
    assert "“Job c” waits for “Job b” and 4 days more" in told.what
    assert not [*closed_windows(build.index["jobs"])]


# rules


def choices(seed: int) -> Build:
    draw = random.Random(seed)
    decisions = []
    for name in "pqrs":
        options = [{"id": f"{name}{k}", "name": f"Way {name}{k}"} for k in range(2)]
        chosen = {"chosen": draw.choice(options)["id"]} if draw.random() < 0.4 else {}
        decisions.append({"id": name, "name": f"Decision {name}", "options": options, **chosen})
    ids = [f"{name}{k}" for name in "pqrs" for k in range(2)]
    rules = []
    for _ in range(7):
        one, other = draw.sample(ids, 2)
        rules.append({"option": one, draw.choice(("requires", "excludes")): other})
    return build_from_data({"decisions": decisions, "rules": rules})


@pytest.mark.parametrize("seed", range(20))
def test_no_fewer_rules_and_decisions_leave_no_way(seed: int) -> None:
    build = choices(seed)
    facts = facts_of(build, AS_OF)
    ways = [[option.id for option in decision.options] for decision in build.decisions]
    held: list[tuple[str, Any]] = [
        *(("rule", rule) for rule in build.rules),
        *(("decided", decision.chosen) for decision in build.decisions if decision.chosen),
    ]

    def keeps(taken: tuple[str, ...], kind: str, it: Any) -> bool:
        if kind == "decided":
            return it in taken
        if it.option not in taken:
            return True
        return (it.requires is None or it.requires in taken) and (it.excludes is None or it.excludes not in taken)

    def holds(some: Sequence[tuple[str, Any]]) -> bool:
        return any(all(keeps(taken, *each) for each in some) for taken in itertools.product(*ways))

    size = smallest(held, holds)
    fault = no_way(build, facts)
    assert len(fault) == (size or 0)
    told = [item for item in order_decisions(build, facts, start_weeks={}, order_by_weeks={}).problems
            if item.code == "no-way-left"]  # fmt: skip
    assert bool(told) == (sum(barrier.kind == "rule" for barrier in fault) > 1)
    for problem in told:
        assert all(barrier.text.rstrip(".") in problem.what for barrier in fault)
