"""The relaxation over a large grid, solved on few candidates: add those its prices make attractive, and solve again.

The bound of every round is taken from the prices over the whole grid (`bound.appraise`), so it holds whether or not
the rounds have come to an end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .bound import Appraisal, Prices, appraise, safe_prices
from .effort import Effort
from .grid import BoolArray, FloatArray, Grid, best_of_parts, part_of, tally
from .highs import Relaxation, Relaxed
from .programme import assemble

SMALL = 3000
"""A grid of so many candidates is not sifted."""
FIRST, MORE = 5, 6
"""Candidates of each part to begin with, and added in a round at most."""
ROUNDS = 16
NEAR_ENOUGH = 3e-4
"""Share of the relaxation by which its bound over the whole grid may fall short."""
SHORT = 5e-4
"""The same where no single shipment would gain by what is left out."""
NARROW = 40
"""Candidates of each part that are kept once the first relaxation is known."""


FAR, PATIENT = 0.05, 6
"""Where the bound is short by more than this share after so many rounds, candidates are added by the hundred."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """Plans that make, or leave out, some trips: their relaxation, its best prices and the bound they prove."""

    relaxed: Relaxed
    prices: Prices
    bound: float


class Sifter:
    """A grid and the candidates of it that the relaxation has been found to need."""

    def __init__(self, grid: Grid, keep: BoolArray | None = None) -> None:
        self.grid = grid
        self.keep = _first(grid) if keep is None or keep.size <= SMALL else keep
        self._relaxation = Relaxation(assemble(grid, self.keep))

    def relax(
        self,
        fixings: tuple[tuple[int, float], ...],
        *,
        effort: Effort,
        rounds: int = ROUNDS,
        enough: float = np.inf,
    ) -> Leaf | None:
        """The best bound found with some trips fixed at 0 or 1, or the first that is enough; None if not even the first
        relaxation was solved."""
        made = {trip: value > 0.5 for trip, value in fixings}
        leaf: Leaf | None = None
        for number in range(rounds):
            relaxed = self._relaxation.solve(fixings, effort=effort)
            if relaxed is None:
                return leaf
            prices = safe_prices(self.grid, relaxed.prices)
            appraisal = appraise(self.grid, prices, made)
            attractive = self._attractive(prices, appraisal, made)
            added = best_of_parts(self.grid, appraisal.reduced, attractive, MORE)
            if leaf is None or appraisal.bound > leaf.bound:
                leaf = Leaf(relaxed, prices, appraisal.bound)
            leaf = Leaf(relaxed, leaf.prices, leaf.bound)
            short = relaxed.bound - leaf.bound
            if leaf.bound >= enough or short <= NEAR_ENOUGH * abs(relaxed.bound) or self.keep.all():
                break
            far = short > FAR * abs(relaxed.bound)
            if not added.any() and short <= SHORT * abs(relaxed.bound):
                break
            if not added.any() or (far and number >= PATIENT):
                # Groups that are worth using only under a relief can be missed: what pays by itself is taken in whole.
                paying = (appraisal.reduced < 0) & ~self.keep
                added = paying if paying.any() else ~self.keep
            self.keep |= added
            self._relaxation.renew(assemble(self.grid, self.keep))
        return leaf

    def narrow(self, leaf: Leaf) -> None:
        """Keep what the relaxation of a leaf buys or all but buys, so that others near it are solved sooner."""
        if self.keep.sum() <= max(SMALL, NARROW * len(self.grid.parts)):
            return
        slack = appraise(self.grid, leaf.prices, {}).slack
        kept = best_of_parts(self.grid, slack, self.keep, NARROW) | (leaf.relaxed.units > 1e-6)
        self.keep = self.keep & (kept | (self.grid.forced > 0))
        self._relaxation.renew(assemble(self.grid, self.keep))

    def _attractive(self, prices: Prices, appraisal: Appraisal, made: Mapping[int, bool]) -> BoolArray:
        """Candidates left out that would make a group worth more than those kept do."""
        grid, keep = self.grid, self.keep
        if keep.all():
            return np.zeros(keep.size, dtype=np.bool_)
        used = np.unique(grid.shipment[keep])
        inner = Prices(
            prices.parts, prices.months, prices.kilograms, prices.uses[used], prices.allowances, prices.modes
        )
        taken = np.zeros(grid.groups)
        np.minimum.at(taken, grid.group[used], appraise(part_of(grid, keep), inner, made).worth)
        gains = appraisal.worth < taken[grid.group] - 1e-6
        at = grid.shipment
        return gains[at] & (appraisal.reduced <= appraisal.ratio[at] * grid.value * (1 + 1e-9) + 1e-6) & ~keep


def _first(grid: Grid) -> BoolArray:
    """Candidates to begin with: all of a small grid, else the cheapest of each part, with some of the charges."""
    every = np.ones(len(grid.candidates), dtype=np.bool_)
    if every.size <= SMALL:
        return every
    size = len(grid.candidates)
    charge = 0.3 * (grid.fixed + grid.freight)[grid.shipment]
    quantity = tally(grid.cover_candidate, grid.cover_quantity, size)
    keep = best_of_parts(grid, (grid.cost + charge) / quantity, every, FIRST)
    keep |= best_of_parts(grid, grid.cost + charge - _worth_of_parts(grid), every, FIRST)
    if grid.relief.any():
        # A relief is for one shipment of a supplier: where the cheapest all lie under it, the rest has no way at all.
        plain = ~grid.relief[grid.shipment] & (grid.low[grid.shipment] <= grid.value * grid.most)
        keep |= best_of_parts(grid, (grid.cost + charge) / quantity, plain, FIRST)
    return keep | (grid.forced > 0)


def _worth_of_parts(grid: Grid) -> FloatArray:
    """(candidates,) the least each of its parts can be had for, summed, and a little more."""
    least = grid.unmet_cost.copy()
    parts_of = np.bincount(grid.cover_candidate, minlength=len(grid.candidates))[grid.cover_candidate]
    np.minimum.at(least, grid.cover_part, grid.cost[grid.cover_candidate] / (grid.cover_quantity * parts_of))
    return 1.15 * tally(grid.cover_candidate, least[grid.cover_part] * grid.cover_quantity, len(grid.candidates))
