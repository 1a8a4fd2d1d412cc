"""Which readings to take together: exact among a dozen, greedy within a bound beyond."""

from collections.abc import Mapping, Sequence
from itertools import combinations, product
from math import inf

import numpy as np
import pytest

from fishplate.fit.choosing import EXACT, Chosen, Offered, choose, joint_value, pooled


class Told:
    """Conditions that save something once all, or any, of their dimensions are told."""

    def __init__(self, *conditions: tuple[float, str, Sequence[str]]) -> None:
        self.conditions = {f"c{number}": each for number, each in enumerate(conditions)}

    def at_condition(self, key: str, spreads: Mapping[str, float]) -> float:
        value, needs, names = self.conditions[key]
        told = sum(name in spreads for name in names)
        if needs == "all":
            return value if told == len(names) else 0.0
        # each further one tells half as much as the one before
        return value * (1 - 0.5**told)

    def conditions_of(self, names: Sequence[str]) -> tuple[str, ...]:
        return tuple(key for key, (_, _, own) in self.conditions.items() if set(own) & set(names))


def things(*rows: tuple[str, float, float]) -> list[Offered]:
    return [Offered(name, ((name, 1.0),), minutes, money, minutes / 4 + money) for name, minutes, money in rows]


def net(values: Told, items: Sequence[Offered]) -> float:
    return joint_value(values, items) - sum(item.cost for item in items)


def test_two_that_tell_the_same_are_not_both_taken() -> None:
    values = Told((40, "any", ["a", "b"]))
    assert choose(values, things(("a", 40, 0), ("b", 60, 0))).ids == ("a",)


def test_two_that_tell_only_together_are_both_taken() -> None:
    values = Told((40, "all", ["a", "b"]))
    found = choose(values, things(("a", 40, 0), ("b", 60, 0)))
    assert (found.ids, found.value, found.cost, found.exact) == (("a", "b"), 40, 25, True)


def test_the_budget_of_minutes_and_of_money_is_kept() -> None:
    values = Told((100, "all", ["a"]), (80, "all", ["b"]), (60, "all", ["c"]))
    offered = things(("a", 60, 20), ("b", 30, 0), ("c", 40, 0))
    assert choose(values, offered, minutes=70).ids == ("b", "c")
    assert choose(values, offered, money=10).ids == ("b", "c")
    assert choose(values, offered, minutes=95).ids == ("a", "b")
    assert choose(values, offered, minutes=0).ids == ()


def test_what_costs_more_than_it_saves_is_left() -> None:
    found = choose(Told((5, "all", ["a"])), things(("a", 60, 0)))
    assert found == Chosen((), 0.0, 0, 0.0, exact=True)


def test_readings_of_one_dimension_are_pooled() -> None:
    two = [Offered("x", (("a", 3.0),), 1, 0, 0), Offered("y", (("a", 4.0), ("b", 1.0)), 1, 0, 0)]
    assert pooled(two) == {"a": pytest.approx(2.4), "b": pytest.approx(1.0)}
    assert pooled([*two, Offered("z", (("a", 0.0),), 1, 0, 0)])["a"] == 0


def random_case(seed: int, count: int) -> tuple[Told, list[Offered], float]:
    random = np.random.default_rng(seed)
    names = [f"d{number:02d}" for number in range(count)]
    conditions = [
        (float(random.uniform(5, 90)), ("all", "any")[int(random.integers(2))],
         [str(name) for name in random.choice(names, int(random.integers(1, 4)), replace=False)])
        for _ in range(count)
    ]  # fmt: skip
    offered = things(*((name, float(random.uniform(5, 60)), float(random.choice([0, 0, 8]))) for name in names))
    return Told(*conditions), offered, float(random.uniform(40, 200))


@pytest.mark.parametrize("money", [None, 20.0])
@pytest.mark.parametrize("seed", range(4))
def test_beyond_a_dozen_nothing_passes_the_bound_and_little_is_lost(seed: int, money: float | None) -> None:
    values, offered, minutes = random_case(seed, EXACT + 2)
    found = choose(values, offered, minutes=minutes, money=money)
    taken = [item for item in offered if item.id in found.ids]
    sets = [items for size in range(len(offered) + 1) for items in combinations(offered, size)]
    assert len(sets) == 2 ** len(offered)
    most = inf if money is None else money
    within = [
        items for items in sets
        if sum(item.minutes for item in items) <= minutes and sum(item.money for item in items) <= most
    ]  # fmt: skip
    assert tuple(taken) in within
    best = max(net(values, items) for items in within)
    assert best <= found.bound + 1e-9
    assert found.value - found.cost >= 0.85 * best
    assert found.value - found.cost == pytest.approx(net(values, taken))


class Finer(Told):
    """Conditions that a finer reading tells more of."""

    def at_condition(self, key: str, spreads: Mapping[str, float]) -> float:
        told = super().at_condition(key, spreads)
        own = [spreads[name] for name in self.conditions[key][2] if name in spreads]
        return told / (1 + max(own)) if own else 0.0


def with_instruments(offered: Sequence[Offered]) -> list[Offered]:
    """Every other thing with a coarse, quick instrument too, every third with a fine, slow one."""
    more = [
        Offered(f"{item.id} {name}", ((item.id, sd),), item.minutes * takes, item.money, item.cost * takes, item.id)
        for number, item in enumerate(offered)
        for name, sd, takes, every in (("coarse", 1.4, 0.6, 2), ("fine", 0.3, 1.5, 3))
        if number % every == 0
    ]
    return [*offered, *more]


@pytest.mark.parametrize("count", [5, EXACT])
@pytest.mark.parametrize("seed", range(4))
def test_of_several_instruments_at_most_one_is_taken(seed: int, count: int) -> None:
    told, plain, minutes = random_case(seed + 90, count)
    values, offered = Finer(*told.conditions.values()), with_instruments(plain)
    found = choose(values, offered, minutes=minutes)
    taken = [item for item in offered if item.id in found.ids]
    assert len({item.thing for item in taken}) == len(taken)
    assert sum(item.minutes for item in taken) <= minutes
    assert found.value - found.cost == pytest.approx(net(values, taken))
    assert found.bound + 1e-9 >= found.value - found.cost
    if count < EXACT:
        choices = [[item for item in offered if item.thing == each.id] for each in plain]
        sets = [
            [item for item in picked if item is not None] for picked in product(*([None, *each] for each in choices))
        ]
        best = max(net(values, items) for items in sets if sum(item.minutes for item in items) <= minutes)
        assert found.exact
        assert found.value - found.cost == pytest.approx(best)


@pytest.mark.parametrize("seed", range(4))
def test_among_a_dozen_the_best_of_all_sets_is_found(seed: int) -> None:
    values, offered, minutes = random_case(seed + 50, 8)
    found = choose(values, offered, minutes=minutes, money=9)
    best = -inf
    for size in range(9):
        for items in combinations(offered, size):
            if sum(i.minutes for i in items) <= minutes and sum(i.money for i in items) <= 9:
                best = max(best, net(values, items))
    assert found.exact
    assert found.value - found.cost == pytest.approx(best)
