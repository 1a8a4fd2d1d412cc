"""What stands in the way of a purchase plan: the few conditions that clash, and the cheapest way out.

A condition is anything that may be asked of a plan and may also be given up: a part that has to be bought, the money
there is, a hold on an order, a choice that was made, what a trip carries, a seller's least order.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from .grid import compile_grid
from .highs import solve_whole
from .model import PurchasePlan, PurchaseProblem, Recost
from .programme import assemble
from .solve import solve

SECONDS = 5.0
TINY = 1e-6
HARD = 1e5
"""What an unmet part weighs where another measure is to be as small as it can be with all parts bought."""


class Kind(StrEnum):
    """What may be asked of a plan."""

    PART = "part"
    MONEY = "money"
    HOLD = "hold"
    CHOICE = "choice"
    CAPACITY = "capacity"
    MINIMUM = "minimum"


@dataclass(frozen=True, slots=True)
class Condition:
    """Something asked of a plan.

    Parameters
    ----------
    about : part, supplier, trip or candidate it is about; for money empty
    bars : candidates that may not be bought while it stands
    """

    kind: Kind
    about: str = ""
    bars: frozenset[str] = frozenset()

    @property
    def key(self) -> str:
        """A name of its own."""
        return f"{self.kind}:{self.about}"


@dataclass(frozen=True, slots=True)
class WayOut:
    """One condition given up, or eased as little as will do.

    Parameters
    ----------
    amount : the least easing: money beyond the limits [home currency], load beyond the capacity [kg], value the order
        falls short of the least order [home currency]; 0 where it is given up whole
    plan : the cheapest plan then
    """

    condition: Condition
    amount: float
    plan: PurchasePlan


@dataclass(frozen=True, slots=True)
class Clash:
    """Conditions that can't all be kept, none of which could be left out, and ways out, the cheapest first."""

    conditions: tuple[Condition, ...]
    ways_out: tuple[WayOut, ...]


def conditions_of(problem: PurchaseProblem, holds: Iterable[Condition] = ()) -> tuple[Condition, ...]:
    """Everything asked of a plan, in the order in which it is given up: what is hardest to give up comes first.

    Parameters
    ----------
    holds : conditions that bar candidates of the problem
    """
    found = [Condition(Kind.PART, part) for part, need in sorted(problem.needs.items()) if need > TINY]
    found += [Condition(Kind.MONEY)] if problem.cash_limits else []
    found += sorted(holds, key=lambda condition: condition.key)
    found += [Condition(Kind.CHOICE, key) for key in sorted(problem.fixed)]
    found += [Condition(Kind.CAPACITY, trip.id) for trip in problem.trips if trip.capacity_kg is not None]
    found += [Condition(Kind.MINIMUM, supplier) for supplier in sorted(_least_orders(problem))]
    return tuple(found)


def clash(
    problem: PurchaseProblem, conditions: Sequence[Condition], *, recost: Recost, time_limit: float = SECONDS
) -> Clash | None:
    """The few conditions that can't all be kept; None if there is a plan that keeps all.

    Parameters
    ----------
    problem : with every candidate that could be bought if nothing were held
    time_limit : for each question to the solver, aimed at [s]

    Notes
    -----
    A deletion filter over named groups of constraints, large blocks first: what is left out without a plan becoming
    possible is left out for good, so each condition that remains is needed for the clash (Chinneck and Dravnieks
    1991, "Locating minimal infeasible constraint sets in linear programs", ORSA Journal on Computing 3(2)). Without
    conditions any plan will do, so there always is an answer.
    """
    whole = list(conditions)

    def impossible(kept: Sequence[Condition]) -> bool:
        return not is_possible(problem, whole, kept, time_limit=time_limit)

    if not impossible(whole):
        return None
    few = _filtered(whole, impossible)
    ways = [_way_out(problem, whole, few, condition, recost, time_limit) for condition in few]
    ranked = sorted(ways, key=lambda way: (way.plan.total + way.plan.penalty, way.condition.key))
    return Clash(tuple(few), tuple(ranked))


def _filtered(conditions: list[Condition], impossible: Callable[[Sequence[Condition]], bool]) -> list[Condition]:
    """Conditions none of which can be left out, by leaving out blocks of halving size."""
    left, size = list(conditions), max(1, len(conditions) // 2)
    while True:
        start = 0
        while start < len(left):
            rest = left[:start] + left[start + size :]
            if impossible(rest):
                left = rest
            else:
                start += size
        if size == 1:
            return left
        size = max(1, min(size // 2, len(left) // 2))


def is_possible(
    problem: PurchaseProblem, whole: Sequence[Condition], kept: Sequence[Condition], *, time_limit: float = SECONDS
) -> bool:
    """Whether some plan keeps all these conditions; the others are given up."""
    return shortfall(eased(problem, whole, kept), time_limit=time_limit) <= 1e-4


def eased(problem: PurchaseProblem, whole: Sequence[Condition], kept: Sequence[Condition]) -> PurchaseProblem:
    """The problem with only some of its conditions."""
    keys = {condition.key for condition in kept}
    gone = [condition for condition in whole if condition.key not in keys]
    by_kind = {kind: {c.about for c in gone if c.kind is kind} for kind in Kind}
    barred = frozenset().union(*(condition.bars for condition in kept))
    lowest = _least_orders(problem)
    return replace(
        problem,
        needs={part: need for part, need in problem.needs.items() if part not in by_kind[Kind.PART]},
        candidates=tuple(c for c in problem.candidates if c.key not in barred),
        shipments=tuple(
            replace(s, low_value=0.0) if s.key in lowest.get(s.supplier, ()) and s.supplier in by_kind[Kind.MINIMUM]
            else s for s in problem.shipments
        ),
        trips=tuple(replace(t, capacity_kg=None) if t.id in by_kind[Kind.CAPACITY] else t for t in problem.trips),
        cash_limits=() if by_kind[Kind.MONEY] else problem.cash_limits,
        fixed={k: n for k, n in problem.fixed.items() if k not in by_kind[Kind.CHOICE] and k not in barred},
    )  # fmt: skip


def _least_orders(problem: PurchaseProblem) -> dict[str, frozenset[str]]:
    """Supplier to the lowest bands of its shipments, where even these ask for some value."""
    lowest: dict[str, float] = {}
    for shipment in problem.shipments:
        lowest[shipment.group] = min(lowest.get(shipment.group, np.inf), shipment.low_value)
    found: dict[str, set[str]] = {}
    for s in problem.shipments:
        if s.low_value > TINY and s.low_value <= lowest[s.group]:
            found.setdefault(s.supplier, set()).add(s.key)
    return {supplier: frozenset(keys) for supplier, keys in found.items()}


def shortfall(problem: PurchaseProblem, *, time_limit: float = SECONDS) -> float:
    """How far the plan that comes nearest is from keeping to everything [-].

    Quantities of parts that stay unmet, and money beyond the limits as a share of the largest; infinite if choices
    exclude each other.
    """
    most = max((limit for _, limit in problem.cash_limits), default=0.0)
    return _least(problem, {}, part=1.0, money=1.0 / max(most, 1.0), time_limit=time_limit)


def _least(
    problem: PurchaseProblem, weights: Mapping[str, float], *, part: float, money: float, time_limit: float
) -> float:
    """The least sum over all plans of candidates' weights, unmet quantities and money beyond the limits, weighed."""
    grid = compile_grid(problem)
    lost = part * sum(need for _, need in grid.hopeless)
    if not grid.candidates:
        return lost
    programme = assemble(grid, np.ones(len(grid.candidates), dtype=np.bool_))
    columns, costs = programme.columns, np.zeros(programme.columns.size)
    costs[columns.units] = [weights.get(grid.candidates[index].key, 0.0) for index in columns.kept]
    costs[columns.unmet], costs[columns.found] = part, money
    programme.lp.col_cost_ = costs
    found = solve_whole(programme, time_limit=time_limit, gap=0.0, target=-np.inf if weights else TINY)
    return np.inf if found.units is None else lost + found.objective


def _way_out(
    problem: PurchaseProblem,
    whole: Sequence[Condition],
    few: Sequence[Condition],
    condition: Condition,
    recost: Recost,
    time_limit: float,
) -> WayOut:
    """The least easing of one condition with which all others can be kept, or those of the clash if there are more
    clashes; and the cheapest plan then."""
    kept = [other for other in whole if other.key != condition.key]
    if not is_possible(problem, whole, kept, time_limit=time_limit):
        kept = [other for other in few if other.key != condition.key]
    free = eased(problem, whole, kept)
    amount = 0.0
    if condition.kind is Kind.MONEY:
        amount = _least(replace(free, cash_limits=problem.cash_limits), {}, part=HARD, money=1.0, time_limit=time_limit)
        free = replace(free, cash_limits=tuple((month, limit + amount + 0.005) for month, limit in problem.cash_limits))
    elif condition.kind is Kind.CAPACITY:
        by_trip = {s.key for s in problem.shipments if s.collection == condition.about}
        load = {c.key: c.mass_kg for c in problem.candidates if c.shipment in by_trip}
        capacity = next(trip.capacity_kg or 0.0 for trip in problem.trips if trip.id == condition.about)
        amount = _least(free, load, part=HARD, money=HARD, time_limit=time_limit) - capacity
        trips = (replace(t, capacity_kg=capacity + amount + TINY) if t.id == condition.about else t for t in free.trips)
        free = replace(free, trips=tuple(trips))
    firm = replace(free, unmet_penalty=dict.fromkeys(free.needs, HARD), cash_penalty=HARD)
    plan = solve(firm, recost=recost, time_limit=time_limit)
    if condition.kind is Kind.MINIMUM:
        amount = _short_of_least(problem, condition.about, plan)
    return WayOut(condition, amount, plan)


def _short_of_least(problem: PurchaseProblem, supplier: str, plan: PurchasePlan) -> float:
    """How much the plan's orders fall short of a supplier's least order, the most of them [home currency]."""
    values, candidates = dict[str, float](), {candidate.key: candidate for candidate in problem.candidates}
    for line in plan.lines:
        values[line.shipment] = values.get(line.shipment, 0.0) + candidates[line.candidate].value * line.units
    least = {s.key: s.low_value for s in problem.shipments if s.supplier == supplier}
    return max((least[key] - value for key, value in values.items() if key in least), default=0.0)
