"""From the problem to a plan: bound, first plan, whole-unit programme on the candidates that matter, exact costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from .bounding import appraise_all, bound_again, bound_by_cheapest, bound_plans, usable
from .effort import Effort
from .grid import Grid, IntArray, compile_grid
from .highs import solve_whole
from .model import PurchasePlan, PurchaseProblem, Recost
from .patching import grid_of
from .programme import Surcharge, assemble
from .pursuit import Progress, Pursuit
from .recosting import Costed, cost_exactly, make_plan, selection_faults

FEW = 600
"""Candidates of the programme that is solved again after re-costing."""
RETRIES = 12
"""Neighbourhoods tried in vain before the proof of the last plan is given up."""
RESOLVES = 3
"""Times the model is corrected and solved again after re-costing, at most."""
REPAIR = 0.4
"""Share of the effort for repairing an earlier plan and its proof; the rest is kept for a proof of its own."""
DISAGREEMENT = 0.005
"""Share of the total by which exact and modelled costs may differ before the model is corrected."""


def solve(
    problem: PurchaseProblem,
    *,
    recost: Recost,
    time_limit: float,
    gap: float = 0.01,
    start: PurchasePlan | None = None,
    progress: Progress | None = None,
) -> PurchasePlan:
    """The cheapest way to buy what is needed, by a mixed-integer programme, with every shipment re-costed exactly.

    Parameters
    ----------
    recost : exact expected cost of each used shipment of a selection [home currency]
    time_limit : work to do at most, in seconds of a usual machine; a plan is returned in any case
    gap : good enough, as a share of the cost [-]
    start : an earlier plan, tried first; its proof is used again if it still shows enough
    progress : told a stage and its figure: the bound, each better plan, the re-costed total [home currency]

    Returns
    -------
    The plan with the least re-costed cost. The bound is for the dates among the candidates, in the linear model.

    Raises
    ------
    ValueError if the problem contradicts itself, or its fixed choices exclude each other.
    """
    grid = grid_of(problem)
    if not grid.candidates:
        nothing = Costed(np.zeros(0, dtype=np.int64), {}, {}, 0.0)
        return make_plan(grid, nothing, bound=0.0, gap=gap)
    whole = Effort(time_limit)
    search = Pursuit(grid, gap=gap, effort=whole.part(REPAIR * time_limit), progress=progress)
    good = start is not None and _still_good(search, start)
    search.effort = whole
    if not good:
        search.prove(bound_plans(grid, effort=search.effort.part(time_limit * 0.6)) or bound_by_cheapest(grid), start)
        search.first_plan(start)
        search.whole_units()
    if not np.isfinite(search.cost):
        raise ValueError("the fixed choices cannot be met together: bands, reliefs or trips exclude each other")
    best, rounds, apart = _settle(search, recost)
    search.tell("re-costed", best.total)
    return make_plan(
        grid, best, bound=search.bound, gap=gap, rounds=rounds, apart=apart,
        ran_out=search.ran_out, by_clock=search.effort.by_clock, multipliers=search.bounding.multipliers,
    )  # fmt: skip


def _still_good(search: Pursuit, start: PurchasePlan) -> bool:
    """Whether the last plan, repaired, is good enough by the last proof; both are kept in any case."""
    if search.grid.forced.any() or not usable(search.grid, start.multipliers):
        return False
    search.prove(appraise_all(search.grid, start.multipliers), start)
    search.first_plan(start)
    if search.large and not search.done():
        # First what the change touches is bought anew; then the proof need be renewed only as far as that plan asks.
        if not search.far():
            search.rebuy(search.touched(start))
        if not search.done():
            enough, effort = search.cost * (1 - search.gap), search.effort.part(search.effort.left() * 0.3)
            search.prove(bound_again(search.grid, search.bounding, enough=enough, effort=effort), start)
        if not search.done() and not search.far():
            search.rebuy(search.touched(start))
            search.polish(RETRIES, spare=0)
    return search.done()


def _settle(search: Pursuit, recost: Recost) -> tuple[Costed, int, float]:
    """Re-cost; where the model is off by too much, correct it and solve again; the best of all rounds.

    The first correction puts the difference on the shipment's charge, as if any contents were off by so much; the
    next on those contents alone. Returns the best round, how many there were, and how far the first was off (share).
    """
    grid = search.grid
    best = costed = cost_exactly(grid, search.units, recost)
    apart, rounds = costed.apart, 1
    seen = {search.units.tobytes(): costed}
    while costed.apart > DISAGREEMENT and rounds <= RESOLVES and not search.effort.over() and not grid.forced.any():
        units = _solve_again(search, list(seen.values()), by_contents=rounds % 2 == 0)
        rounds += 1
        if units.tobytes() not in seen:
            costed = seen[units.tobytes()] = cost_exactly(grid, units, recost)
            best = min(best, costed, key=lambda entry: entry.objective)
    return best, rounds, apart


def _solve_again(search: Pursuit, rounds: list[Costed], *, by_contents: bool) -> IntArray:
    """The corrected programme on the candidates that mattered, and on all that were in an earlier round."""
    grid = search.grid
    keep = np.zeros(len(grid.candidates), dtype=np.bool_)
    keep[np.argsort(search.bounding.reach, kind="stable")[:FEW]] = True
    for costed in rounds:
        keep |= costed.units > 0
    if by_contents:
        programme = assemble(grid, keep, _surcharges(grid, rounds))
    else:
        programme = assemble(_with_corrected_charges(grid, rounds), keep)
    outcome = solve_whole(programme, effort=search.effort.part(search.effort.left() * 0.5), gap=search.gap * 0.3)
    return rounds[-1].units if outcome.units is None else outcome.units


def _with_corrected_charges(grid: Grid, rounds: list[Costed]) -> Grid:
    at = {shipment.key: index for index, shipment in enumerate(grid.shipments)}
    fixed = grid.fixed.copy()
    for costed in rounds:
        for key, exact in costed.exact.items():
            fixed[at[key]] = max(0.0, grid.fixed[at[key]] + exact - costed.modelled[key])
    return replace(grid, fixed=fixed)


def _surcharges(grid: Grid, rounds: list[Costed]) -> list[Surcharge]:
    """What each shipment's contents cost more, or less, than modelled, in any earlier round."""
    found: dict[tuple[tuple[int, int], ...], float] = {}
    for costed in rounds:
        contents: dict[str, list[tuple[int, int]]] = {}
        for index in np.flatnonzero(costed.units).tolist():
            contents.setdefault(grid.candidates[index].shipment, []).append((index, int(costed.units[index])))
        for key, lines in contents.items():
            if abs(costed.exact[key] - costed.modelled[key]) > 0.005:
                found[tuple(lines)] = costed.exact[key] - costed.modelled[key]
    return sorted(found.items())


def solve_fixed(problem: PurchaseProblem, units: Mapping[str, int], *, recost: Recost) -> PurchasePlan:
    """The exact cost of a selection somebody else made; nothing is optimised and no bound is claimed.

    Parameters
    ----------
    units : candidate key to units bought

    Raises
    ------
    ValueError if a candidate is unknown, or the selection cannot travel so: a band's limits, two bands of one
    shipment, a relief beside another shipment of the supplier, an overloaded trip.
    """
    grid = compile_grid(replace(problem, fixed={key: count for key, count in units.items() if count > 0}))
    if faults := selection_faults(grid, grid.forced):
        raise ValueError("; ".join(faults))
    return make_plan(grid, cost_exactly(grid, grid.forced, recost), bound=-np.inf, gap=0.0)
