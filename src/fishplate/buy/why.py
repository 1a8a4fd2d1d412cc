"""Why this and not that: the best plan with one part bought otherwise, and what that costs more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from .grid import compile_grid
from .model import Candidate, PurchasePlan, PurchaseProblem, Recost, Shipment
from .solve import solve

GAP = 0.001
SECONDS = 4.0
NEAR_GAP = 0.02
AS_GOOD = 1.0
"""A plan dearer by less than this is taken where fewer other parts move with it [home currency]."""

Allowed = Callable[[Candidate, Shipment], bool]


@dataclass(frozen=True, slots=True)
class Alternative:
    """The best plan with a part bought otherwise, beside the best with the part bought as it is.

    Parameters
    ----------
    plan : with the part bought otherwise; None if there is no such way to buy it
    as_it_is : with the part's lines as the given plan has them, all else as cheap as can be
    extra : cost of the one less that of the other, unmet parts and money to be found at their penalties [home currency]
    low, high : what `extra` can be at least and at most, by what is proved of both plans [home currency]
    """

    plan: PurchasePlan | None
    as_it_is: PurchasePlan
    extra: float
    low: float
    high: float


def otherwise(
    problem: PurchaseProblem,
    plan: PurchasePlan,
    part: str,
    allowed: Allowed,
    *,
    recost: Recost,
    as_it_is: PurchasePlan | None = None,
    time_limit: float = SECONDS,
    gap: float = GAP,
) -> Alternative:
    """The best plan in which a part is bought only in an allowed way; everything else may move with it.

    Parameters
    ----------
    plan : a plan of the problem; both sides of the comparison start from it and from its proof
    allowed : whether a candidate that covers the part may be bought
    as_it_is : what `as_cheap_as_it_is` gave, where several questions are asked of one part
    time_limit : for each of the two plans, aimed at [s]; gap : good enough, as a share of the cost [-]

    Examples
    --------
    What buying the hub from another supplier than `north` costs more:
    `otherwise(problem, plan, "hub", lambda _, shipment: shipment.supplier != "north", recost=recost).extra`
    """
    base = as_it_is or as_cheap_as_it_is(problem, plan, part, recost=recost, time_limit=time_limit, gap=gap)
    changed = only(problem, part, allowed)
    if not any(part in candidate.covers for candidate in changed.candidates):
        return Alternative(None, base, float("inf"), float("inf"), float("inf"))
    found = solve(changed, recost=recost, time_limit=time_limit, gap=gap, start=plan)
    bound = found.model_total + found.penalty - _doubt(found)
    near = solve(changed, recost=recost, time_limit=time_limit, gap=NEAR_GAP, start=base)
    if near.total + near.penalty <= found.total + found.penalty + AS_GOOD * (gap > 0):
        found = near  # fewer other parts move
    extra = found.total + found.penalty + _lost(problem, changed)
    extra -= base.total + base.penalty + _lost(problem, as_bought(problem, plan, part))
    low = extra - max(0.0, found.model_total + found.penalty - bound)
    return Alternative(found, base, extra, low, extra + _doubt(base))


def as_cheap_as_it_is(
    problem: PurchaseProblem,
    plan: PurchasePlan,
    part: str,
    *,
    recost: Recost,
    time_limit: float = SECONDS,
    gap: float = GAP,
) -> PurchasePlan:
    """The best plan with a part's lines as a plan has them; what `otherwise` compares with."""
    return solve(as_bought(problem, plan, part), recost=recost, time_limit=time_limit, gap=gap, start=plan)


def _lost(problem: PurchaseProblem, changed: PurchaseProblem) -> float:
    """What parts count that nobody can deliver once ways to buy them are taken away; plans leave them uncounted."""
    before = dict(compile_grid(problem).hopeless)
    return sum(_unmet_cost(problem, part) * need for part, need in compile_grid(changed).hopeless if part not in before)


def _unmet_cost(problem: PurchaseProblem, part: str) -> float:
    """The penalty of a missing unit; by default, as the solver has it, ten times the dearest way to buy one."""
    if part in problem.unmet_penalty:
        return problem.unmet_penalty[part]
    charges = {s.key: s.fixed + s.freight_fixed for s in problem.shipments}
    bought = [
        (c.cost + charges[c.shipment]) / min(c.covers[part], 1.0) for c in problem.candidates if c.covers.get(part)
    ]
    return 10 * max(bought, default=0.1)


def only(problem: PurchaseProblem, part: str, allowed: Allowed) -> PurchaseProblem:
    """The problem with a part covered in allowed ways alone."""
    shipments = {shipment.key: shipment for shipment in problem.shipments}
    kept = tuple(c for c in problem.candidates if part not in c.covers or allowed(c, shipments[c.shipment]))
    return replace(problem, candidates=kept)


def as_bought(problem: PurchaseProblem, plan: PurchasePlan, part: str) -> PurchaseProblem:
    """The problem with a part bought by the offers, ways and weeks of a plan, in whatever band of charges."""
    groups = {shipment.key: shipment.group for shipment in problem.shipments}
    lines = {(line.offer, groups[line.shipment]) for line in plan.lines if part in line.parts}
    if not lines:  # the plan leaves it out
        return only(problem, part, lambda _candidate, _shipment: False)
    return only(problem, part, lambda candidate, shipment: (candidate.offer, shipment.group) in lines)


def _doubt(plan: PurchasePlan) -> float:
    """How much cheaper than a plan another one could still be, in the linear model [home currency]."""
    return max(0.0, plan.model_total + plan.penalty - plan.bound)
