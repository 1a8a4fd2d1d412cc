"""Why a wished-for combination is impossible, or what it takes."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from ..build import Build, Facts
from .vehicle import Barrier, Choosing, VehicleChoice, Wanted, Way, decided_barriers, rule_barriers


def wanted(choice: VehicleChoice, options: Collection[str]) -> Wanted:
    """What comes of wanting some options together.

    Parameters
    ----------
    options : ids of options; raises KeyError if there is none
    """
    named = tuple(choice.ways[option].option for option in options)
    now = choice.of(choice.now)
    rivals = _two_ways_of_one(choice, named)
    if rivals is not None:
        return Wanted(named, (rivals,), now, None)
    fault = smallest_fault(choice, named)
    if fault is not None:
        return Wanted(named, fault, now, None)
    return Wanted(named, (), now, choice.of(_nearest(choice, named)))


def _two_ways_of_one(choice: VehicleChoice, options: Sequence[str]) -> Barrier | None:
    for choosing in choice.choosings:
        both = [way for way in choosing.ways if way.option in options]
        if len(both) > 1:
            names = " and ".join(f"“{way.name}”" for way in both)
            text = f"{names} are ways of one decision, “{choosing.name}”."
            return Barrier("one-way", choosing.decision, text, frozenset(way.option for way in both))
    return None


def no_way(build: Build, facts: Facts) -> tuple[Barrier, ...]:
    """The fewest rules and taken decisions that leave no way to go on; none where there is one.

    Quick where what the build is planned with keeps every rule: then that is a way. Nothing is said where two options
    have one id, which is a fault by itself.
    """
    ids = [option.id for decision in build.decisions for option in decision.options]
    if len(set(ids)) < len(ids):
        return ()
    choosings = tuple(
        Choosing(
            decision.id, decision.name, tuple(Way(option.id, option.name) for option in decision.options),
            facts.choices[decision.id].option.id, facts.choices[decision.id].decided,
        )
        for decision in build.decisions
    )  # fmt: skip
    barriers = (*rule_barriers(build), *decided_barriers(choosings))
    choice = VehicleChoice(choosings, {}, barriers)
    if not choice.against(choice.now):
        return ()
    return smallest_fault(choice, ()) or ()


def smallest_fault(choice: VehicleChoice, options: Collection[str]) -> tuple[Barrier, ...] | None:
    """The fewest barriers that together leave no choice with some options; None if there is one.

    Notes
    -----
    Smallest set by hitting sets: whatever is at fault has a barrier in common with every set of barriers that some
    choice goes against (Ignatiev, Previti, Liffiton and Marques-Silva, Smallest MUS extraction with minimal hitting set
    dualization, CP 2015). Proven by the constraint solver.
    """
    against: list[frozenset[int]] = []
    while True:
        held = _least_hitting(against)
        broken = _least_broken(choice, options, held)
        if broken is None:
            return tuple(choice.barriers[place] for place in sorted(held))
        if not broken:
            return None
        against.append(broken)


def _least_hitting(sets: Sequence[frozenset[int]]) -> frozenset[int]:
    """The fewest barriers of which every set has one; the first in order among equals."""
    if not sets:
        return frozenset()
    from ortools.sat.python import cp_model

    from .programme import solver_of

    model = cp_model.CpModel()
    has: dict[int, Any] = {place: model.new_bool_var(str(place)) for place in sorted(frozenset.union(*sets))}
    for each in sets:
        model.add_bool_or([has[place] for place in sorted(each)])
    scale = 1 + len(has) ** 2
    model.minimize(sum((scale + rank) * has[place] for rank, place in enumerate(sorted(has))))
    solver = solver_of()
    solver.solve(model)
    return frozenset(place for place, each in has.items() if solver.value(each))


def _least_broken(
    choice: VehicleChoice, options: Collection[str], held: Collection[int]
) -> frozenset[int] | None:  # fmt: skip
    """The barriers that a choice goes against, as few as can be while some are held; None if there is no choice."""
    from .programme import Programme

    programme = Programme(choice)
    programme.take(options)
    programme.keep(choice.barriers[place] for place in held)
    broken: dict[int, Any] = {}
    for place, barrier in enumerate(choice.barriers):
        if place not in held:
            broken[place] = programme.model.new_bool_var(f"against {place}")
            programme.model.add_bool_or([*programme.clause(barrier), broken[place]])
    programme.model.minimize(sum(broken.values()) if broken else 0)
    solved = programme.solve()
    if solved is None:
        return None
    return frozenset(place for place in broken if choice.barriers[place].stands_against(solved[0]))


def _nearest(choice: VehicleChoice, options: Collection[str]) -> frozenset[str]:
    """The possible choice with some options that changes least of what the plan goes by, and costs least."""
    from .programme import Programme

    programme = Programme(choice)
    programme.take(options)
    programme.keep(choice.barriers)
    changes = sum(has for option, has in programme.taken.items() if option not in choice.now)
    programme.model.minimize((1 + programme.reach) * changes + programme.cost)
    solved = programme.solve()
    assert solved is not None  # the caller knows that there is one
    return solved[0]
