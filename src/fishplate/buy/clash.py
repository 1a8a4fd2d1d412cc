"""What stands in the way of a purchase plan: the few conditions that clash, and the cheapest way out.

A condition is anything that may be asked of a plan and may also be given up: a part that has to be bought, the money
there is, a hold on an order, a choice that was made, what a trip carries or has room for, a seller's least order.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import inf

import numpy as np

from .effort import Effort, seconds_for
from .grid import compile_grid
from .highs import Relaxation, solve_whole
from .model import PurchasePlan, PurchaseProblem, Recost
from .programme import assemble
from .recosting import recost_by_model
from .solve import solve

SECONDS = 3.0
GAP = 1e-4
ENOUGH = 1e-4
TINY = 1e-6
MOST_ASKED = 80
"""Questions to the solver for one clash, of a problem of usual size."""
MOST_EASED = 2
"""Conditions that a way out is sought for where there was no time to narrow them down."""
HARD = 1e5
"""What an unmet part weighs where another measure is to be as small as it can be with all parts bought."""


class Kind(StrEnum):
    """What may be asked of a plan."""

    EVERYTHING = "everything"
    PART = "part"
    MONEY = "money"
    HOLD = "hold"
    CHOICE = "choice"
    CAPACITY = "capacity"
    ROOM = "room"
    MINIMUM = "minimum"


@dataclass(frozen=True, slots=True)
class Condition:
    """Something asked of a plan.

    Parameters
    ----------
    about : part, supplier, trip or candidate it is about; empty for money, and where every part has to be bought
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
    amount : the least easing: money beyond the limits [home currency], load beyond the capacity [kg], volume beyond
        the room [m³], value the order falls short of the least order [home currency]; 0 where it is given up whole
    plan : the cheapest plan then
    """

    condition: Condition
    amount: float
    plan: PurchasePlan


@dataclass(frozen=True, slots=True)
class Clash:
    """Conditions that can't all be kept, none of which could be left out, and ways out, the cheapest first.

    Parameters
    ----------
    narrowed : False where there was no time to leave out all that has no part in it; then not all ways out are sought
    """

    conditions: tuple[Condition, ...]
    ways_out: tuple[WayOut, ...]
    narrowed: bool = True


def conditions_of(problem: PurchaseProblem, holds: Iterable[Condition] = ()) -> tuple[Condition, ...]:
    """Everything asked of a plan; what comes first is left out of a clash first.

    Parameters
    ----------
    holds : conditions that bar candidates of the problem
    """
    found = [Condition(Kind.CAPACITY, trip.id) for trip in problem.trips if trip.capacity_kg is not None]
    found += [Condition(Kind.ROOM, trip.id) for trip in problem.trips if trip.capacity_m3 is not None]
    found += [Condition(Kind.MINIMUM, supplier) for supplier in sorted(_least_orders(problem))]
    found += sorted(holds, key=lambda condition: condition.key)
    found += [Condition(Kind.CHOICE, key) for key in sorted(problem.fixed)]
    found += [Condition(Kind.MONEY)] if problem.cash_limits else []
    return (*found, Condition(Kind.EVERYTHING))


def clash(
    problem: PurchaseProblem, conditions: Sequence[Condition], *, recost: Recost, time_limit: float = SECONDS
) -> Clash | None:
    """The few conditions that can't all be kept; None if there is a plan that keeps all.

    Parameters
    ----------
    problem : with every candidate that could be bought if nothing were held
    time_limit : work for each question to the solver about a problem of usual size, in seconds of a usual machine

    Notes
    -----
    A deletion filter over named groups of constraints, large blocks first: what is left out without a plan becoming
    possible is left out for good, so each condition that remains is needed for the clash (Chinneck and Dravnieks
    1991, "Locating minimal infeasible constraint sets in linear programs", ORSA Journal on Computing 3(2)). Without
    conditions any plan will do, so there always is an answer. That every part is bought is one condition against
    money, since leaving out any of many would do; where no money is in the clash it is narrowed to the few parts. A
    plan that is not found in the time of a question counts as impossible. A problem of very many candidates is asked
    fewer questions, since each takes longer.
    """
    whole, asked = list(conditions), 0
    size = seconds_for(len(problem.candidates), 1.0)
    most, time_limit = int(MOST_ASKED / size), time_limit * size

    def impossible(kept: Sequence[Condition]) -> bool | None:
        nonlocal asked
        asked += 1
        return None if asked > most else not is_possible(problem, whole, kept, time_limit=time_limit)

    if not impossible(whole):
        return None
    few = _filtered(whole, impossible)
    kinds = {condition.kind for condition in few}
    if Kind.EVERYTHING in kinds and Kind.MONEY not in kinds and asked < most:
        parts = [Condition(Kind.PART, part) for part, need in sorted(problem.needs.items()) if need > TINY]
        few = _filtered([*parts, *(c for c in few if c.kind is not Kind.EVERYTHING)], impossible)
    eased_first = few if asked < most else few[-MOST_EASED:]
    ways = [_way_out(problem, whole, few, condition, recost, time_limit) for condition in eased_first]
    ranked = sorted(filter(None, ways), key=lambda way: (way.plan.total + way.plan.penalty, way.condition.key))
    return Clash(tuple(few), tuple(ranked), asked <= most)


def _filtered(conditions: list[Condition], impossible: Callable[[Sequence[Condition]], bool | None]) -> list[Condition]:
    """Conditions none of which can be left out, by leaving out blocks of halving size, until no more may be asked."""
    left, size = list(conditions), max(1, len(conditions) // 2)
    while True:
        start = 0
        while start < len(left):
            rest = left[:start] + left[start + size :]
            answer = impossible(rest)
            if answer is None:
                return left
            if answer:
                left = rest
            else:
                start += size
        if size == 1:
            return left
        size = max(1, min(size // 2, len(left) // 2))


def is_possible(
    problem: PurchaseProblem, whole: Sequence[Condition], kept: Sequence[Condition], *, time_limit: float = SECONDS
) -> bool:
    """Whether some plan keeps all these conditions, the others given up; a plan not found in time counts as none."""
    free = eased(problem, whole, kept)
    if _least(free, {}, part=1.0, money=1.0, time_limit=time_limit, fractions=True) > ENOUGH:
        return False
    return firm_plan(free, recost=recost_by_model(free), time_limit=time_limit) is not None


def firm_plan(problem: PurchaseProblem, *, recost: Recost, time_limit: float = SECONDS) -> PurchasePlan | None:
    """A cheap plan that buys every part within the money and makes the fixed choices; None if none was found."""
    try:
        plan = solve(_firm(problem), recost=recost, time_limit=time_limit)
    except ValueError:  # the fixed choices exclude each other
        return None
    unmet = plan.unmet.keys() & problem.needs.keys()
    return None if unmet or max(plan.cash_over.values(), default=0.0) > ENOUGH else plan


def _firm(problem: PurchaseProblem) -> PurchaseProblem:
    return replace(problem, unmet_penalty=dict.fromkeys(problem.needs, HARD), cash_penalty=HARD)


def eased(problem: PurchaseProblem, whole: Sequence[Condition], kept: Sequence[Condition]) -> PurchaseProblem:
    """The problem with only some of its conditions."""
    keys = {condition.key for condition in kept}
    gone = [condition for condition in whole if condition.key not in keys]
    by_kind = {kind: {c.about for c in gone if c.kind is kind} for kind in Kind}
    barred = frozenset().union(*(condition.bars for condition in kept))
    lowest = _least_orders(problem)
    return replace(
        problem,
        needs={part: n for part, n in problem.needs.items() if {f"{Kind.PART}:{part}", f"{Kind.EVERYTHING}:"} & keys},
        candidates=tuple(c for c in problem.candidates if c.key not in barred),
        shipments=tuple(
            replace(s, low_value=0.0) if s.key in lowest.get(s.supplier, ()) and s.supplier in by_kind[Kind.MINIMUM]
            else s for s in problem.shipments
        ),
        trips=tuple(
            replace(
                t,
                capacity_kg=None if t.id in by_kind[Kind.CAPACITY] else t.capacity_kg,
                capacity_m3=None if t.id in by_kind[Kind.ROOM] else t.capacity_m3,
            )
            for t in problem.trips
        ),
        cash_limits=() if by_kind[Kind.MONEY] else problem.cash_limits,
        fixed={k: n for k, n in problem.fixed.items() if k not in by_kind[Kind.CHOICE] and k not in barred},
    )  # fmt: skip


def _least_orders(problem: PurchaseProblem) -> dict[str, frozenset[str]]:
    """Supplier to the lowest bands of its shipments, where even these ask for some value."""
    lowest: dict[str, float] = {}
    for shipment in problem.shipments:
        lowest[shipment.group] = min(lowest.get(shipment.group, inf), shipment.low_value)
    found: dict[str, set[str]] = {}
    for s in problem.shipments:
        if s.low_value > TINY and s.low_value <= lowest[s.group]:
            found.setdefault(s.supplier, set()).add(s.key)
    return {supplier: frozenset(keys) for supplier, keys in found.items()}


def _least(
    problem: PurchaseProblem,
    weights: Mapping[str, float],
    *,
    part: float,
    money: float,
    time_limit: float,
    fractions: bool = False,
) -> float:
    """The least sum over all plans of candidates' weights, unmet quantities and money beyond the limits, weighed.

    Parameters
    ----------
    fractions : units may be fractions too: less than the least, and quick
    """
    grid = compile_grid(problem)
    lost = part * sum(need for _, need in grid.hopeless)
    if not grid.candidates:
        return lost
    programme = assemble(grid, np.ones(len(grid.candidates), dtype=np.bool_))
    columns, costs = programme.columns, np.zeros(programme.columns.size)
    costs[columns.units] = [weights.get(grid.candidates[index].key, 0.0) for index in columns.kept]
    costs[columns.unmet], costs[columns.found] = part, money
    programme.lp.col_cost_ = costs
    if fractions:
        relaxed = Relaxation(programme).solve((), effort=Effort(time_limit))
        return lost if relaxed is None else lost + relaxed.bound
    found = solve_whole(programme, effort=Effort(time_limit), gap=GAP)
    return inf if found.units is None else lost + found.objective


def _way_out(
    problem: PurchaseProblem,
    whole: Sequence[Condition],
    few: Sequence[Condition],
    condition: Condition,
    recost: Recost,
    time_limit: float,
) -> WayOut | None:
    """The least easing of one condition with which all others can be kept, or those of the clash if there are more
    clashes; and the cheapest plan then. None if fixed choices of a clash not narrowed down still exclude each other."""
    gone = {condition.key, f"{Kind.EVERYTHING}:"} if condition.kind is Kind.PART else {condition.key}
    kept = [*(other for other in whole if other.key not in gone), *(c for c in few if c.key not in gone)]
    if condition.kind is Kind.PART:
        kept += [Condition(Kind.PART, part) for part in sorted(problem.needs) if part != condition.about]
    if not is_possible(problem, whole, kept, time_limit=time_limit):
        kept = [other for other in few if other.key != condition.key]
    free = eased(problem, whole, kept)
    amount = 0.0
    if condition.kind is Kind.MONEY:
        amount = _least(replace(free, cash_limits=problem.cash_limits), {}, part=HARD, money=1.0, time_limit=time_limit)
        free = replace(free, cash_limits=tuple((month, limit + amount + 0.005) for month, limit in problem.cash_limits))
    elif condition.kind in (Kind.CAPACITY, Kind.ROOM):
        amount, free = _carrying_more(problem, free, condition, time_limit)
    if not np.isfinite(amount):
        return None
    firm = _firm(free)
    if condition.kind is Kind.EVERYTHING:  # as much as can be had; what is left out is counted as the problem has it
        firm = replace(free, needs=problem.needs, cash_penalty=HARD)
    try:
        plan = solve(firm, recost=recost, time_limit=time_limit)
    except ValueError:
        return None
    if condition.kind is Kind.MINIMUM:
        amount = _short_of_least(problem, condition.about, plan)
    return WayOut(condition, amount, plan)


def _carrying_more(
    problem: PurchaseProblem, free: PurchaseProblem, condition: Condition, time_limit: float
) -> tuple[float, PurchaseProblem]:
    """The least a trip has to carry more, as mass or as volume, and the problem with it carrying that."""
    bulky = condition.kind is Kind.ROOM
    by_trip = {s.key for s in problem.shipments if s.collection == condition.about}
    load = {c.key: c.volume_m3 if bulky else c.mass_kg for c in problem.candidates if c.shipment in by_trip}
    asked = next(trip for trip in problem.trips if trip.id == condition.about)
    trip = next(trip for trip in free.trips if trip.id == condition.about)
    needed = _least(free, load, part=HARD, money=HARD, time_limit=time_limit)
    if bulky:
        carried, larger = asked.capacity_m3 or 0.0, replace(trip, capacity_m3=needed + TINY)
    else:
        carried, larger = asked.capacity_kg or 0.0, replace(trip, capacity_kg=needed + TINY)
    return needed - carried, replace(free, trips=tuple(larger if t is trip else t for t in free.trips))


def _short_of_least(problem: PurchaseProblem, supplier: str, plan: PurchasePlan) -> float:
    """How much the plan's orders fall short of a supplier's least order, the most of them [home currency]."""
    values, candidates = dict[str, float](), {candidate.key: candidate for candidate in problem.candidates}
    for line in plan.lines:
        values[line.shipment] = values.get(line.shipment, 0.0) + candidates[line.candidate].value * line.units
    least = {s.key: s.low_value for s in problem.shipments if s.supplier == supplier}
    return max((least[key] - value for key, value in values.items() if key in least), default=0.0)
