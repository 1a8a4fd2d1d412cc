"""What one change to a plan costs: a part ordered later, or bought elsewhere; all the rest stays."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

import numpy as np

from .basket import Basket, Contents, Store
from .grid import IntArray, compile_grid
from .model import PurchasePlan, PurchaseProblem, Recost
from .search import Moves, insert, ways

FINALISTS = 3
"""Changes that are re-costed exactly, out of all the linear model has ranked."""

Allowed = Callable[[int], bool]


class Changes:
    """A plan with everything prepared to ask many what-ifs of it.

    Examples
    --------
    `Changes(problem, plan, recost).cheapest("hub", not_before_week=6)` is what waiting until week 6 with the hub costs.
    """

    def __init__(self, problem: PurchaseProblem, plan: PurchasePlan, recost: Recost) -> None:
        self.problem, self.plan, self.recost = problem, plan, recost
        self.grid = compile_grid(problem)
        self.store = Store(self.grid)
        units: IntArray = np.zeros(len(self.grid.candidates), dtype=np.int64)
        at = {candidate.key: index for index, candidate in enumerate(self.grid.candidates)}
        for line in plan.lines:
            if line.candidate in at:
                units[at[line.candidate]] = line.units
        self.basket = Basket.of(self.store, units)
        if not np.isfinite(self.basket.cost):
            raise ValueError("the plan does not fit the problem: a shipment of it cannot travel so")
        self._supplier_of = {s.key: int(self.grid.supplier[i]) for i, s in enumerate(self.grid.shipments)}
        everyone = set(self._supplier_of.values())
        self._exact: dict[tuple[tuple[str, tuple[tuple[str, int], ...]], ...], float] = {}
        self.costs = dict(recost(self._selection({}, everyone))) if self.basket.contents else {}

    def cheapest(self, part: str, not_before_week: float) -> float:
        """Extra cost if the part may not be ordered before a week; zero if its lines already wait [home currency]."""
        return self.later(part, not_before_week)[0]

    def later(self, part: str, not_before_week: float) -> tuple[float, Moves]:
        """The same, and what is bought instead."""
        return self._cheapest(part, lambda item: self.store.items[item].week >= not_before_week)

    def without_offer(self, part: str, offers: frozenset[str]) -> tuple[float, Moves]:
        """Extra cost if the part may not be bought by some offers, and what is bought instead."""
        return self._cheapest(part, lambda item: self.offer(item) not in offers)

    def offer(self, item: int) -> str:
        """The offer of an item."""
        return self.grid.candidates[next(iter(self.store.items[item].bands.values()))].offer

    def lines_of(self, part: str) -> Moves:
        """Items and units of the plan that cover a part."""
        if part not in self.grid.parts:
            return []
        wanted = set(self.store.by_part[self.grid.parts.index(part)])
        held = [(item, n) for contents in self.basket.contents.values() for item, n in contents.items()]
        return sorted((item, units) for item, units in held if item in wanted)

    def _cheapest(self, part: str, allowed: Allowed) -> tuple[float, Moves]:
        removed = [(item, units) for item, units in self.lines_of(part) if not allowed(item)]
        if not removed:
            return 0.0, []
        best, moves = inf, list[tuple[int, int]]()
        for added in self._alternatives(self.grid.parts.index(part), removed, allowed):
            cost = self._exactly(self.basket.changed(removed, added))
            if cost < best - 1e-9:
                best, moves = cost, added
        return best, moves

    def _alternatives(self, part: int, removed: Moves, allowed: Allowed) -> list[Moves]:
        """The few cheapest ways, in the linear model, to cover again what the removed lines covered."""
        basket = self.basket
        touched = {p for item, _ in removed for p, _ in self.store.items[item].covers}
        missing = {p: q for p, q in basket.missing(removed).items() if p in touched}
        others = {p: q for p, q in missing.items() if p != part}
        near = self._near(others)
        near[part] = [item for item in self.store.by_part[part] if allowed(item)]
        rest = insert(basket, removed, others, near) if others else []
        found = [rest]
        for _, added in ways(basket, removed, [], missing, near[part], best=FINALISTS):
            found.append([*added, *insert(basket, removed, self._still_missing(added, missing), near)])
        if rest:
            found += [added for _, added in ways(basket, removed, rest, missing, near[part], best=1)]
        return found

    def _still_missing(self, added: Moves, missing: dict[int, float]) -> dict[int, float]:
        left = dict(missing)
        for item, units in added:
            for part, quantity in self.store.items[item].covers:
                if part in left:
                    left[part] -= quantity * units
        return {part: quantity for part, quantity in left.items() if quantity > 1e-9}

    def _near(self, parts: dict[int, float]) -> list[list[int]]:
        """For each part a dozen items of least unit cost, and those in shipments of the plan."""
        near: list[list[int]] = [[] for _ in self.grid.parts]
        for part in parts:
            items = sorted(self.store.by_part[part], key=lambda i: (self.store.items[i].least_cost, i))
            joining = [i for i in items[12:] if self.store.items[i].group in self.basket.contents]
            near[part] = items[:12] + joining
        return near

    def _exactly(self, changes: dict[int, Contents]) -> float:
        """Extra cost of a change, the shipments of every supplier it touches re-costed."""
        basket, store = self.basket, self.store
        if not np.isfinite(basket.after(changes)):
            return inf
        suppliers = {store.supplier[group] for group in changes}
        selection = self._selection(changes, suppliers)
        key = tuple(sorted(selection.items()))
        if key not in self._exact:
            self._exact[key] = sum(self.recost(selection).values()) if selection else 0.0
        before = sum(cost for shipment, cost in self.costs.items() if self._supplier_of[shipment] in suppliers)
        trips = basket.trips_after(changes) - basket.trips_after({})
        return self._exact[key] - before + trips + basket.penalty_after(changes) - basket.penalty_after({})

    def _selection(self, changes: dict[int, Contents], suppliers: set[int]) -> dict[str, tuple[tuple[str, int], ...]]:
        """All shipments of some suppliers after a change."""
        holdings = {**self.basket.holdings, **self.basket.rehold(changes)}
        selection = {}
        for group, contents in {**self.basket.contents, **changes}.items():
            if contents and self.store.supplier[group] in suppliers:
                band = holdings[group].band
                lines = [(self.grid.candidates[self.store.items[i].bands[band]].key, n) for i, n in contents.items()]
                selection[self.grid.shipments[band].key] = tuple(sorted(lines))
        return selection


_last: list[Changes] = []


def changes_of(problem: PurchaseProblem, plan: PurchasePlan, recost: Recost) -> Changes:
    """The prepared what-ifs of a plan; the last one is kept, since many questions are asked of one plan."""
    held = _last[0] if _last else None
    if held is None or held.problem is not problem or held.plan is not plan or held.recost is not recost:
        _last[:] = [held := Changes(problem, plan, recost)]
    return held


def cheapest_change(
    problem: PurchaseProblem, plan: PurchasePlan, part: str, not_before_week: float, recost: Recost
) -> float:
    """Extra total cost if a part's lines may not be ordered before a week, all else staying as it is.

    Parameters
    ----------
    not_before_week : earliest order week allowed, counted from as_of [weeks]

    Returns
    -------
    Cost of the plan with only the part's lines planned again (another week, offer or shipment, alone or joining one)
    less the plan's, re-costed exactly, unmet parts at their penalty [home currency]. Zero if the lines already wait;
    negative if waiting is better, which a plan within its gap of the best can leave open.
    """
    return changes_of(problem, plan, recost).cheapest(part, not_before_week)
