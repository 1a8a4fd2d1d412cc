"""Which readings to take together within minutes and money.

Values of readings don't add up: two may tell the same, or only tell together. Among a dozen, every set is tried.
Beyond, things are added one at a time, or by the few that a condition lacks together, by what they add after their
cost; the bound is the best that any set could do if every reading added the most it can add to any other set. Of
things that are one with different instruments at most one is taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import prod
from typing import NamedTuple, Protocol

EXACT = 12
# Conditions that more things than this bear on are bounded by all they could save.
_TOGETHER = 6


class Values(Protocol):
    """What sets of readings save, condition by condition."""

    def at_condition(self, key: str, spreads: Mapping[str, float]) -> float:
        """Saving at one condition by readings with these spreads."""
        ...

    def conditions_of(self, names: Sequence[str]) -> tuple[str, ...]:
        """Conditions that any of these dimensions bears on."""
        ...


class Offered(NamedTuple):
    """Something that can be done: what it tells with what spread, and what it takes.

    Parameters
    ----------
    one_of : at most one with this name is taken; all of them tell of the same dimensions
    """

    id: str
    spreads: tuple[tuple[str, float], ...]
    minutes: float
    money: float
    cost: float
    one_of: str = ""

    @property
    def thing(self) -> str:
        """What it is, by whatever instrument."""
        return self.one_of or self.id


@dataclass(frozen=True, slots=True)
class Chosen:
    """A set of things to do; no set within the budget saves more than `bound` after its cost."""

    ids: tuple[str, ...]
    value: float
    cost: float
    bound: float
    exact: bool


def choose(
    values: Values, offered: Sequence[Offered], *, minutes: float | None = None, money: float | None = None
) -> Chosen:  # fmt: skip
    """The set that saves most after its cost within the minutes and the money; fewest things where several do."""
    fitting = [item for item in offered if _within([item], minutes, money)]
    if prod(len(each) + 1 for each in _by_thing(fitting)) <= 2**EXACT:
        best = _best_of_all(values, fitting, minutes, money)
        value, cost = joint_value(values, best), sum(item.cost for item in best)
        return Chosen(tuple(item.id for item in best), value, cost, value - cost, exact=True)
    best = _greedy(values, fitting, minutes, money)
    value, cost = joint_value(values, best), sum(item.cost for item in best)
    bound = max(value - cost, _bound(values, _at_best(fitting), minutes, money))
    tight = bound - (value - cost) <= 1e-9 * max(1.0, bound)
    return Chosen(tuple(sorted(item.id for item in best)), value, cost, bound, exact=tight)


def joint_value(values: Values, items: Sequence[Offered]) -> float:
    """What several things save together; two readings of one dimension are pooled."""
    spreads = pooled(items)
    return sum(values.at_condition(key, spreads) for key in values.conditions_of(tuple(sorted(spreads))))


def pooled(items: Sequence[Offered]) -> dict[str, float]:
    """Spread of each dimension after all readings of it; an exact one stays exact."""
    weights: dict[str, float] = {}
    for item in items:
        for name, sd in item.spreads:
            weights[name] = weights.get(name, 0.0) + (sd**-2 if sd > 0 else float("inf"))
    return {name: weight**-0.5 if weight < float("inf") else 0.0 for name, weight in weights.items()}


def _by_thing(offered: Sequence[Offered]) -> tuple[tuple[Offered, ...], ...]:
    """What is offered, with those together of which at most one is taken."""
    found: dict[str, list[Offered]] = {}
    for item in offered:
        found.setdefault(item.thing, []).append(item)
    return tuple(tuple(each) for each in found.values())


def _at_best(offered: Sequence[Offered]) -> list[Offered]:
    """Each thing with its finest instrument at the least it takes with any: no set of them saves less."""
    return [
        Offered(
            each[0].id,
            min((item.spreads for item in each), key=lambda spreads: [sd for _, sd in spreads]),
            *(min(taken) for taken in zip(*(item[2:5] for item in each), strict=True)),
        )
        for each in _by_thing(offered)
    ]


def _within(items: Sequence[Offered], minutes: float | None, money: float | None) -> bool:
    time = minutes is None or sum(item.minutes for item in items) <= minutes + 1e-9
    return time and (money is None or sum(item.money for item in items) <= money + 1e-9)


def _best_of_all(
    values: Values, offered: Sequence[Offered], minutes: float | None, money: float | None
) -> Sequence[Offered]:  # fmt: skip
    best: tuple[float, Sequence[Offered]] = (0.0, ())
    things = _by_thing(offered)
    sets = (
        items
        for size in range(1, len(things) + 1)
        for picked in combinations(things, size)
        for items in product(*picked)
    )
    for items in sets:
        if _within(items, minutes, money):
            net = joint_value(values, items) - sum(item.cost for item in items)
            if net > best[0] + 1e-9:
                best = net, items
    return best[1]


# --- greedy, and its bound -------------------------------------------------------------------------------------------


def _greedy(
    values: Values, offered: Sequence[Offered], minutes: float | None, money: float | None
) -> list[Offered]:  # fmt: skip
    """Added by net saving, and by net saving per share of the budget: the better of the two."""
    bundles = list(_bundles(values, offered))
    found = [_added(values, bundles, minutes, money, by_share=by_share) for by_share in (False, True)]
    return max(found, key=lambda items: joint_value(values, items) - sum(item.cost for item in items))


def _bundles(values: Values, offered: Sequence[Offered]) -> Iterator[tuple[Offered, ...]]:
    """Each thing alone, and the things that bear on one condition together where there are few, as first offered."""
    yield from ((item,) for item in offered)
    names = sorted({name for item in offered for name, _ in item.spreads})
    firsts = [each[0] for each in _by_thing(offered)]
    for key in values.conditions_of(names):
        bearing = [item for item in firsts if key in values.conditions_of([name for name, _ in item.spreads])]
        if len(bearing) <= _TOGETHER:
            for size in range(2, len(bearing) + 1):
                yield from combinations(bearing, size)


def _added(
    values: Values,
    bundles: Sequence[tuple[Offered, ...]],
    minutes: float | None,
    money: float | None,
    *,
    by_share: bool,
) -> list[Offered]:
    taken: list[Offered] = []
    while True:
        now = joint_value(values, taken)
        best: tuple[float, list[Offered]] = (1e-9, [])
        for bundle in bundles:
            new = [item for item in bundle if item not in taken]
            kept = [item for item in taken if all(item.thing != other.thing for other in new)]
            if not new or not _within([*kept, *new], minutes, money):
                continue
            gain = joint_value(values, [*kept, *new]) - sum(item.cost for item in new)
            gain -= now - sum(item.cost for item in taken if item not in kept)
            rate = gain / _share(new, minutes, money) if by_share and gain > 0 else gain
            if rate > best[0]:
                best = rate, [*kept, *new]
        if not best[1]:
            return taken
        taken = best[1]


def _share(items: Sequence[Offered], minutes: float | None, money: float | None) -> float:
    """Share of the budget that some things take; of their own cost where there is no budget."""
    time = sum(item.minutes for item in items) / minutes if minutes else 0.0
    outlay = sum(item.money for item in items) / money if money else 0.0
    return max(time + outlay, 1e-6 * (1 + sum(item.cost for item in items)))


def _bound(values: Values, offered: Sequence[Offered], minutes: float | None, money: float | None) -> float:
    """No set saves more: every thing at the most it adds to any set, filled into either budget by fractions."""
    most = {item.id: 0.0 for item in offered}
    for key in values.conditions_of(sorted({name for item in offered for name, _ in item.spreads})):
        bearing = [item for item in offered if key in values.conditions_of([name for name, _ in item.spreads])]
        for item in bearing:
            most[item.id] += _most_added(values, key, item, [other for other in bearing if other is not item])
    nets = [(most[item.id] - item.cost, item) for item in offered if most[item.id] > item.cost]
    bounds = [sum(net for net, _ in nets)]
    if minutes is not None:
        bounds.append(_filled([(net, item.minutes) for net, item in nets], minutes))
    if money is not None:
        bounds.append(_filled([(net, item.money) for net, item in nets], money))
    return min(bounds)


def _most_added(values: Values, key: str, item: Offered, others: Sequence[Offered]) -> float:
    """The most a thing adds at a condition, whatever else is done."""
    if len(others) >= _TOGETHER:
        return values.at_condition(key, pooled([item, *others]))
    sets = [each for size in range(len(others) + 1) for each in combinations(others, size)]
    return max(
        values.at_condition(key, pooled([item, *each])) - (values.at_condition(key, pooled(each)) if each else 0.0)
        for each in sets
    )


def _filled(nets: Sequence[tuple[float, float]], room: float) -> float:
    """Best saving by fractions of things within one budget."""
    total = 0.0
    for net, size in sorted(nets, key=lambda pair: -pair[0] / max(pair[1], 1e-12)):
        part = 1.0 if size <= room else room / size
        total += net * part
        room -= size * part
        if room <= 0 and size > 0:
            break
    return total
