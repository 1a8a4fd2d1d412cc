"""The best plan so far, the bound, and the ways to bring them together in the time that is left."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from .basket import Basket, Store
from .bounding import Bounding
from .effort import PIECE, Effort
from .grid import BoolArray, Grid, IntArray, best_of_parts, in_other_bands, part_of, spread_out, tally
from .highs import Outcome, solve_whole
from .model import PurchasePlan
from .polish import neighbourhoods, reoptimised
from .programme import assemble, cost_of
from .search import Shortlist, build_up, improve, insert

FEW, MORE = 600, 2000
STAGES: tuple[tuple[int | None, bool], ...] = ((FEW, False), (None, True), (MORE, False), (None, False))
"""Whole-unit programmes in turn: how many candidates (None: all that could still matter), and whether only cuts."""
MOST = 12_000
"""Candidates that a whole-unit programme is given at most."""
NEAR = 1.35
"""Cuts alone seldom raise the bound by more than a third of the gap, so they are tried only within this share of it."""
SMALL = 3000
"""A grid of so many candidates is searched whole; of a larger one, those that are likely to be in a good plan."""
EACH, NEAREST = 15, 10
"""Of a larger grid: candidates for each part, no two of them alike, and the best of all, alike or not."""
SUPPORT = 5
"""Candidates for each part, besides those the relaxation buys, in the first whole-unit programme of a larger grid."""
SUPPORT_SECONDS = 0.02
"""Work for that programme, for each part [s]."""
TIGHT, GENTLY, FIRMER = 0.25, 2.5, 3.0
"""Worth of money in the relaxation from which it is tight. Then the cost in that programme of money to be found is so
many times that worth, and so much more again where the plan found leaves much to be found: the solver is slow to see a
plan where every little that is missing counts tenfold [-]."""
AROUND, WIDER, WIDEN_AFTER = 25, 12, 15
"""Parts bought anew at a time when a plan is polished; so many more after so many tries in vain."""
MARGIN, SPARE_TRIES = 0.9, 3
"""Share of the gap aimed at once the gap is reached, in so many tries: the proof then outlives small changes."""
FAR = 8.0
"""Times the gap from which a plan is no beginning: better to begin again from what the relaxation buys."""
PATIENCE = 60
"""Neighbourhoods without a better plan after which polishing ends."""
URGENT = 40
"""Parts that a change touches, at most, which are bought anew first."""

Progress = Callable[[str, float], None]


class Pursuit:
    """The best plan so far of one grid, the bound, and the effort left to bring them together.

    Units and reaches are of the whole grid; search and polish work on the `near` part of it, candidates `at`.
    """

    def __init__(self, grid: Grid, *, gap: float, effort: Effort, progress: Progress | None) -> None:
        self.grid, self.gap, self.effort = grid, gap, effort
        self.tell: Progress = progress or (lambda _stage, _cost: None)
        self.bounding = Bounding(-np.inf, grid.cost, np.zeros(grid.cost.size), ())
        self.bound, self.cost = -np.inf, np.inf
        self.units: IntArray = np.zeros(grid.cost.size, dtype=np.int64)
        self.ran_out = False
        self.near, self.at = grid, np.arange(grid.cost.size)
        self._store: Store | None = None

    @property
    def large(self) -> bool:
        """Whether only part of the grid is searched."""
        return self.grid.cost.size > SMALL

    @property
    def store(self) -> Store:
        """The near part by items and groups, built when first needed."""
        if self._store is None:
            self._store = Store(self.near)
        return self._store

    def done(self, share: float = 1.0) -> bool:
        """Whether the plan is within the gap of the bound, or a share of the gap."""
        return bool(np.isfinite(self.cost)) and self.cost - self.bound <= share * self.gap * abs(self.cost) + 1e-9

    def far(self) -> bool:
        """Whether the plan costs so much more than the bound that it leaves out what can be had."""
        return not np.isfinite(self.cost) or self.cost - self.bound > FAR * self.gap * abs(self.cost)

    def prove(self, bounding: Bounding, start: PurchasePlan | None = None) -> None:
        """Take up a bound, and search where it says that good plans lie, and around the last plan."""
        self.bounding, self.bound = bounding, max(self.bound, bounding.bound)
        self.tell("bound", self.bound)
        if self.large:
            every = np.ones(self.grid.cost.size, dtype=np.bool_)
            near = best_of_parts(self.grid, bounding.reach, spread_out(self.grid, bounding.reach), EACH)
            near |= best_of_parts(self.grid, bounding.reach, every, NEAREST)
            last = {line.candidate for line in start.lines} if start else set()
            held = (self.units > 0) | (self.grid.forced > 0)
            held |= np.array([c.key in last for c in self.grid.candidates], dtype=np.bool_)
            near |= (bounding.bought > 1e-6) | in_other_bands(self.grid, held)
            self.at, self.near, self._store = np.flatnonzero(near), part_of(self.grid, near), None

    def take(self, units: IntArray, cost: float) -> None:
        """Keep a plan of the near part if it is the best."""
        if cost < self.cost - 1e-9:
            self.units, self.cost = np.zeros(self.grid.cost.size, dtype=np.int64), cost
            self.units[self.at] = units
            self.tell("plan", cost)

    def _shortlist(self, length: int) -> Shortlist:
        """For each part the items most likely to be in a good plan: bought by the relaxation, else by least reach."""
        store, item_of = self.store, np.array(self.store.item_of, dtype=np.int64)
        reach = np.full(len(store.items), np.inf)
        np.minimum.at(reach, item_of, self.bounding.reach[self.at])
        bought = tally(item_of, self.bounding.bought[self.at], len(store.items)) > 1e-6
        return [sorted(items, key=lambda i: (not bought[i], reach[i], i))[:length] for items in store.by_part]

    def _worn_out(self) -> bool:
        """Count a piece of the plan tried, and whether that was the last."""
        self.effort.spend(PIECE)
        return self.effort.left() <= 0

    def _improve(self, basket: Basket, length: int, passes: int) -> None:
        improve(basket, self._shortlist(length), passes=passes, stop=self._worn_out)
        self.take(basket.units(), basket.cost)

    def first_plan(self, start: PurchasePlan | None) -> None:
        """A plan built up from nothing, or the last one repaired; none where choices are fixed."""
        if self.grid.forced.any() or (self.large and start is None and not self.effort.over()):
            return
        shortlist = self._shortlist(12)
        if start is None:
            basket = build_up(self.store, shortlist)
        else:
            basket = started(self.store, start)
            basket.apply(basket.changed([], insert(basket, [], basket.missing(), shortlist)))
        if self.large:
            self.take(basket.units(), basket.cost)
        else:
            self._improve(basket, 12, 4)

    def whole_units(self) -> None:
        """Whole-unit programmes: of a small grid on few candidates, then cuts on all to raise the bound, then on more
        and all; of a larger one on few candidates, then the plan is polished."""
        if self.large and not self.grid.forced.any():
            if self.far():
                self._support()
            self.polish()
        for size, root_only in STAGES[1 if self.large else 0 :]:
            if self.done() or self.effort.over():
                break
            if root_only and self.cost - self.bound > NEAR * self.gap * abs(self.cost):
                continue
            if self.large and size is None and (self.bounding.reach < self.cost).sum() > MOST:
                continue
            if not self._programme(size, root_only):
                break
        self.ran_out |= not self.done() and self.effort.over()

    def _support(self) -> None:
        """A first plan from the candidates the relaxation buys and a few more; built up if that brings none."""
        reach, bought = self.bounding.reach[self.at], self.bounding.bought[self.at] > 1e-6
        keep = bought | best_of_parts(self.near, reach, spread_out(self.near, reach), SUPPORT)
        exact, effort = assemble(self.near, keep), self.effort.part(self._for_support())
        worth = max((sum(entry.months.values()) for entry in self.bounding.multipliers), default=0.0)
        penalty = GENTLY * worth if worth > TIGHT else self.near.cash_penalty
        while not effort.over():
            gentle = replace(self.near, cash_penalty=min(self.near.cash_penalty, penalty))
            found = solve_whole(assemble(gentle, keep), effort=effort, gap=self.gap)
            cost = np.inf if found.units is None else cost_of(exact, found.units)
            if found.units is not None:
                self.take(found.units, cost)
            if penalty >= self.near.cash_penalty or cost - found.objective <= self.gap * abs(cost):
                break
            penalty *= FIRMER
        if not np.isfinite(self.cost):
            basket = build_up(self.store, self._shortlist(12))
            self.take(basket.units(), basket.cost)

    def _for_support(self) -> float:
        """Work for a first plan: the rest polishes it [s]."""
        return min(self.effort.left() * 0.3, SUPPORT_SECONDS * len(self.near.parts))

    def _take_outcome(self, outcome: Outcome) -> bool:
        """Keep what a programme on the near part found, if it is better."""
        if outcome.units is None or outcome.objective >= self.cost - 1e-9:
            return False
        self.take(outcome.units, outcome.objective)
        return True

    def rebuy(self, parts: BoolArray) -> bool:
        """Buy some parts anew, all other lines staying; whether that was better."""
        found = reoptimised(
            self.near,
            self.units[self.at],
            parts,
            effort=self.effort.part(min(self.effort.left() * 0.5, 5.0)),
            gap=self.gap * 0.1,
        )
        return self._take_outcome(found)

    def polish(self, patience: int = PATIENCE, spare: int = SPARE_TRIES) -> None:
        """Buy neighbourhoods of parts anew until the gap is reached, effort is spent or nothing has long helped."""
        idle, seed = 0, 0
        while idle < patience and np.isfinite(self.cost):
            size = AROUND + WIDER * (idle // WIDEN_AFTER)
            for parts in neighbourhoods(self.near, self.units[self.at], size, seed):
                enough = self.done() and (spare <= 0 or self.done(MARGIN))
                if enough or self.effort.over() or idle >= patience:
                    return
                spare -= self.done()
                before = self.cost
                better = self.rebuy(parts)
                idle = 0 if before - self.cost > 1e-5 * abs(self.cost) else idle + 1
                if better or (idle and idle % WIDEN_AFTER == 0):
                    break
            else:
                return
            seed += 1

    def touched(self, start: PurchasePlan) -> BoolArray:
        """(parts,) whose lines of the last plan are gone or cost otherwise, and of what has become most attractive."""
        near, reach = self.near, self.bounding.reach[self.at]
        costs = {line.candidate: line.cost / line.units for line in start.lines}
        same = {c.key for c, cost in zip(near.candidates, near.cost.tolist(), strict=True)
                if abs(costs.get(c.key, np.inf) - cost) < 1e-6}  # fmt: skip
        lost = {part for line in start.lines if line.candidate not in same for part in line.parts}
        parts = np.array([part in lost for part in near.parts], dtype=np.bool_)
        score = np.where(self.units[self.at] > 0, np.inf, reach)[near.cover_candidate]
        for part in near.cover_part[np.argsort(score, kind="stable")].tolist():
            if parts.sum() >= URGENT:
                break
            parts[part] = True
        return parts

    def _kept(self, size: int | None) -> tuple[BoolArray, bool]:
        """So many candidates of least reach, and whether these are all that a better plan could hold."""
        worth = self.bounding.reach < self.cost - 1e-9
        keep = np.zeros(worth.size, dtype=np.bool_)
        keep[np.argsort(self.bounding.reach, kind="stable")[:size]] = True
        complete = not (worth & ~keep).any()
        return (keep & worth) | (self.units > 0) | (self.bounding.bought > 1e-6), complete

    def _programme(self, size: int | None, root_only: bool) -> bool:
        """One whole-unit programme; whether another, on more candidates, could say more.

        HiGHS tends to overrun its limits, so it is given less than is left.
        """
        keep, complete = self._kept(size)
        outcome = solve_whole(
            assemble(self.grid, keep),
            effort=self.effort.part(self.effort.left() * (0.8 if complete and not root_only else 0.5)),
            gap=self.gap * (0.9 if complete else 0.5),
            target=self.bound / (1 - self.gap) if self.bound > 0 else -np.inf,
            enough=self.cost - self.gap * abs(self.cost) if complete else np.inf,
            root_only=root_only,
        )
        if complete:
            # Candidates left out cannot be part of a plan that costs less than the best before this programme.
            self.bound = max(self.bound, min(outcome.bound, self.cost))
        if outcome.units is not None and outcome.objective < self.cost - 1e-9:
            self.units, self.cost = outcome.units, outcome.objective
            self.tell("plan", self.cost)
            if not self.grid.forced.any() and not self.large:
                self._improve(Basket.of(self.store, outcome.units), 8, 1)
        final = complete and not root_only
        self.ran_out |= final and not self.done() and outcome.status in ("kTimeLimit", "kInterrupt")
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
