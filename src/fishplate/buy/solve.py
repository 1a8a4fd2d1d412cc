"""From the problem to a plan: bound, first plan, whole-unit programme on the candidates that matter, exact costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from time import perf_counter

import numpy as np

from .basket import Basket, Store
from .bounding import Bounding, appraise_all, bound_by_cheapest, bound_plans, usable
from .grid import BoolArray, Grid, IntArray, compile_grid, tally
from .highs import solve_whole
from .model import PurchasePlan, PurchaseProblem, Recost
from .programme import Surcharge, assemble
from .recosting import Costed, cost_exactly, make_plan, selection_faults
from .search import Shortlist, build_up, improve, insert

FEW, MORE = 600, 2000
STAGES: tuple[tuple[int | None, bool], ...] = ((FEW, False), (None, True), (MORE, False), (None, False))
"""Whole-unit programmes in turn: how many candidates (None: all that could still matter), and whether only cuts."""
NEAR = 1.35
"""Cuts alone seldom raise the bound by more than a third of the gap, so they are tried only within this share of it."""
RESOLVES = 3
"""Times the model is corrected and solved again after re-costing, at most."""
DISAGREEMENT = 0.005
"""Share of the total by which exact and modelled costs may differ before the model is corrected."""

Progress = Callable[[str, float], None]


class _Search:
    """The best plan so far of one grid, the bound, and the time left to bring them together."""

    def __init__(self, grid: Grid, *, gap: float, stop_at: float, progress: Progress | None) -> None:
        self.grid, self.gap, self.stop_at = grid, gap, stop_at
        self.tell: Progress = progress or (lambda _stage, _cost: None)
        self.store = Store(grid)
        self.bounding = Bounding(-np.inf, grid.cost, np.zeros(grid.cost.size), ())
        self.bound, self.cost = -np.inf, np.inf
        self.units: IntArray = np.zeros(grid.cost.size, dtype=np.int64)
        self.ran_out = False

    def left(self) -> float:
        """Time left [s]."""
        return self.stop_at - perf_counter()

    def done(self) -> bool:
        """Whether the plan is within the gap of the bound."""
        return bool(np.isfinite(self.cost)) and self.cost - self.bound <= self.gap * abs(self.cost) + 1e-9

    def shortlist(self, length: int) -> Shortlist:
        """For each part the items most likely to be in a good plan: bought by the relaxation, else by least reach."""
        bounding, store = self.bounding, self.store
        reach = np.full(len(store.items), np.inf)
        np.minimum.at(reach, np.array(store.item_of, dtype=np.int64), bounding.reach)
        bought = tally(np.array(store.item_of), bounding.bought, len(store.items)) > 1e-6
        return [sorted(items, key=lambda i: (not bought[i], reach[i], i))[:length] for items in store.by_part]

    def prove(self, bounding: Bounding) -> None:
        """Take up a bound."""
        self.bounding, self.bound = bounding, max(self.bound, bounding.bound)
        self.tell("bound", self.bound)

    def take(self, units: IntArray, cost: float) -> None:
        """Keep a plan if it is the best."""
        if cost < self.cost - 1e-9:
            self.units, self.cost = units, cost
            self.tell("plan", cost)

    def polish(self, basket: Basket, length: int, passes: int) -> None:
        """Local search on a plan, and keep what comes out."""
        improve(basket, self.shortlist(length), passes=passes, stop=lambda: self.left() <= 0)
        self.take(basket.units(), basket.cost)

    def first_plan(self, start: PurchasePlan | None) -> None:
        """A plan built up from nothing, or the last one repaired; none where choices are fixed."""
        if self.grid.forced.any():
            return
        shortlist = self.shortlist(12)
        if start is None:
            basket = build_up(self.store, shortlist)
        else:
            basket = started(self.store, start)
            basket.apply(basket.changed([], insert(basket, [], basket.missing(), shortlist)))
        self.polish(basket, 12, 4)

    def whole_units(self) -> None:
        """Whole-unit programmes: on few candidates, then cuts on all to raise the bound, then on more and all."""
        for size, root_only in STAGES:
            if self.done() or self.left() <= 0.05:
                break
            if root_only and self.cost - self.bound > NEAR * self.gap * abs(self.cost):
                continue
            if not self._programme(size, root_only):
                break
        self.ran_out |= not self.done() and self.left() <= 0.05

    def _kept(self, size: int | None) -> tuple[BoolArray, bool]:
        """So many candidates of least reach, and whether these are all that a better plan could hold."""
        worth = self.bounding.reach < self.cost - 1e-9
        keep = np.zeros(worth.size, dtype=np.bool_)
        keep[np.argsort(self.bounding.reach, kind="stable")[:size]] = True
        complete = not (worth & ~keep).any()
        return (keep & worth) | (self.units > 0) | (self.bounding.bought > 1e-6), complete

    def _programme(self, size: int | None, root_only: bool) -> bool:
        """One whole-unit programme; whether another, on more candidates, could say more.

        HiGHS tends to overrun its time, so it is given less than is left.
        """
        keep, complete = self._kept(size)
        outcome = solve_whole(
            assemble(self.grid, keep),
            time_limit=self.left() * (0.8 if complete and not root_only else 0.5),
            gap=self.gap * (0.9 if complete else 0.5),
            target=self.bound / (1 - self.gap) if self.bound > 0 else -np.inf,
            enough=self.cost - self.gap * abs(self.cost) if complete else np.inf,
            root_only=root_only,
        )
        if complete:
            # Candidates left out cannot be part of a plan that costs less than the best before this programme.
            self.bound = max(self.bound, min(outcome.bound, self.cost))
        if outcome.units is not None and outcome.objective < self.cost - 1e-9:
            self.take(outcome.units, outcome.objective)
            if not self.grid.forced.any():
                self.polish(Basket.of(self.store, outcome.units), 8, 1)
        final = complete and not root_only
        self.ran_out |= final and outcome.status == "kTimeLimit"
        return not final


def started(store: Store, start: PurchasePlan) -> Basket:
    """The last plan on today's grid: lines that still exist, in their groups; impossible shipments left out."""
    grid = store.grid
    at = {candidate.key: index for index, candidate in enumerate(grid.candidates)}
    units = np.zeros(len(grid.candidates), dtype=np.int64)
    for line in start.lines:
        if line.candidate in at:
            units[at[line.candidate]] = min(line.units, grid.most[at[line.candidate]])
    whole = Basket.of(store, units)
    if np.isfinite(whole.cost):
        return whole
    basket = Basket(store)
    for group, contents in sorted(whole.contents.items()):
        if np.isfinite(basket.after({group: contents})):
            basket.apply({group: contents})
    return basket


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
    time_limit : aimed at, not guaranteed [s]; a plan is returned in any case
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
    grid = compile_grid(problem)
    if not grid.candidates:
        nothing = Costed(np.zeros(0, dtype=np.int64), {}, {}, 0.0)
        return make_plan(grid, nothing, bound=0.0, gap=gap)
    search = _Search(grid, gap=gap, stop_at=perf_counter() + time_limit, progress=progress)
    if not (start and _still_good(search, start)):
        search.prove(bound_plans(grid, time_limit=search.left() * 0.6) or bound_by_cheapest(grid))
        search.first_plan(start)
        search.whole_units()
    if not np.isfinite(search.cost):
        raise ValueError("the fixed choices cannot be met together: bands, reliefs or trips exclude each other")
    best, rounds, apart = _settle(search, recost)
    search.tell("re-costed", best.total)
    return make_plan(
        grid, best, bound=search.bound, gap=gap, rounds=rounds, apart=apart,
        ran_out=search.ran_out, multipliers=search.bounding.multipliers,
    )  # fmt: skip


def _still_good(search: _Search, start: PurchasePlan) -> bool:
    """Whether the last plan, repaired, is good enough by the last proof; both are kept in any case."""
    if search.grid.forced.any() or not usable(search.grid, start.multipliers):
        return False
    search.prove(appraise_all(search.grid, start.multipliers))
    search.first_plan(start)
    return search.done()


def _settle(search: _Search, recost: Recost) -> tuple[Costed, int, float]:
    """Re-cost; where the model is off by too much, correct it and solve again; the best of all rounds.

    The first correction puts the difference on the shipment's charge, as if any contents were off by so much; the
    next on those contents alone. Returns the best round, how many there were, and how far the first was off (share).
    """
    grid = search.grid
    best = costed = cost_exactly(grid, search.units, recost)
    apart, rounds = costed.apart, 1
    seen = {search.units.tobytes(): costed}
    while costed.apart > DISAGREEMENT and rounds <= RESOLVES and search.left() > 0.05 and not grid.forced.any():
        units = _solve_again(search, list(seen.values()), by_contents=rounds % 2 == 0)
        rounds += 1
        if units.tobytes() not in seen:
            costed = seen[units.tobytes()] = cost_exactly(grid, units, recost)
            best = min(best, costed, key=lambda entry: entry.objective)
    return best, rounds, apart


def _solve_again(search: _Search, rounds: list[Costed], *, by_contents: bool) -> IntArray:
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
    outcome = solve_whole(programme, time_limit=search.left() * 0.5, gap=search.gap * 0.3)
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
