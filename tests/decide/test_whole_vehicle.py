"""Whole-vehicle choices: rules as barriers, what stays as decided, why a wish can't be."""

from __future__ import annotations

from fishplate.build import build_from_data
from fishplate.decide.frontier import configurations
from fishplate.decide.impossible import wanted
from fishplate.decide.vehicle import (
    Barrier,
    Choosing,
    Item,
    VehicleChoice,
    Way,
    decided_barriers,
    rule_barriers,
)


def choosing(name: str, *options: str, decided: bool = False) -> Choosing:
    ways = tuple(Way(option, option.upper(), (f"item-{option}",), value=50) for option in options)
    return Choosing(name, name.capitalize(), ways, options[0], decided)


def choice_of(*choosings: Choosing, barriers: tuple[Barrier, ...] = (), **costs: float) -> VehicleChoice:
    items = {f"item-{way.option}": Item(costs.get(way.option, 0)) for each in choosings for way in each.ways}
    return VehicleChoice(choosings, items, (*barriers, *decided_barriers(choosings)))


def excludes(key: str, *options: str) -> Barrier:
    return Barrier("rule", key, f"rule {key}.", frozenset(options))


def test_rules_become_barriers_with_their_reasons() -> None:
    build = build_from_data(
        {
            "decisions": [
                {
                    "id": "tyre",
                    "name": "Tyre",
                    "options": [{"id": "wide", "name": "Wide"}, {"id": "slim", "name": "Slim"}],
                },
                {
                    "id": "rim",
                    "name": "Rim",
                    "options": [{"id": "six", "name": "6 in"}, {"id": "seven", "name": "7 in"}],
                },
                {
                    "id": "arch",
                    "name": "Arch",
                    "options": [{"id": "rolled", "name": "Rolled"}, {"id": "cut", "name": "Cut"}],
                },
            ],
            "rules": [
                {"option": "wide", "also": ["seven"], "requires": "cut", "why": "It stands out."},
                {"option": "six", "excludes": "wide"},
            ],
        }
    )
    needs, against = rule_barriers(build)
    assert needs.text == "“Wide” with “7 in” needs “Cut”. It stands out."
    assert needs.stands_against(frozenset({"wide", "seven", "rolled"}))
    assert not needs.stands_against(frozenset({"wide", "seven", "cut"}))
    assert not needs.stands_against(frozenset({"wide", "six", "rolled"}))
    assert against.text == "“6 in” does not go with “Wide”."
    assert against.stands_against(frozenset({"six", "wide", "cut"}))


def test_what_is_decided_stays_and_is_named_where_a_wish_goes_against_it() -> None:
    choice = choice_of(
        choosing("engine", "diesel", "petrol", decided=True),
        choosing("box", "five", "six"),
        barriers=(excludes("1", "diesel", "six"),),
    )
    assert [item.options for item in configurations(choice).frontier] == [("diesel", "five")]
    found = wanted(choice, ["six"])
    assert not found.is_possible
    assert [barrier.text for barrier in found.fault] == ["rule 1.", "“Engine” is decided: “DIESEL”."]


def test_a_shared_part_is_paid_once() -> None:
    choosings = (
        Choosing("a", "A", (Way("a1", "A1", ("loom", "x")), Way("a2", "A2")), "a1"),
        Choosing("b", "B", (Way("b1", "B1", ("loom",)), Way("b2", "B2")), "b1"),
    )
    choice = VehicleChoice(choosings, {"loom": Item(100, 2), "x": Item(10, 1)}, ())
    assert (choice.of(choice.now).cost, choice.of(choice.now).hours) == (110, 3)


def test_a_wish_costs_what_else_has_to_change() -> None:
    choice = choice_of(
        choosing("tyre", "slim", "wide"), choosing("arch", "rolled", "cut", "flared"),
        barriers=(excludes("1", "wide", "rolled"),), wide=50, cut=400, flared=150,
    )  # fmt: skip
    found = wanted(choice, ["wide"])
    assert found.nearest is not None
    assert found.nearest.changes == ("flared", "wide")
    assert found.nearest.cost - found.now.cost == 200


def test_two_ways_of_one_decision_are_told_as_such() -> None:
    found = wanted(choice_of(choosing("tyre", "slim", "wide")), ["slim", "wide"])
    assert [barrier.text for barrier in found.fault] == ["“SLIM” and “WIDE” are ways of one decision, “Tyre”."]


def test_rules_that_leave_nothing_are_named_and_what_the_plan_goes_by_is_looked_at() -> None:
    choice = choice_of(
        choosing("a", "a1", "a2"), choosing("b", "b1"),
        barriers=(excludes("1", "a1", "b1"), excludes("2", "a2", "b1"), excludes("3", "a1", "a2")),
    )  # fmt: skip
    found = configurations(choice)
    assert found.frontier == ()
    assert [barrier.key for barrier in found.fault] == ["1", "2"]
    assert [barrier.key for barrier in found.against_now] == ["1"]


def test_a_build_without_decisions_has_one_choice() -> None:
    found = configurations(choice_of())
    assert (len(found.frontier), found.count) == (1, 1)
