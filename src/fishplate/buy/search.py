"""A good plan quickly: put parts in one by one, then move lines and whole shipments while that helps."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import ceil, inf

from .basket import Basket, Store

Moves = list[tuple[int, int]]

Shortlist = Sequence[Sequence[int]]
"""Items by part, the most promising first."""


def units_for(store: Store, item: int, missing: Mapping[int, float]) -> int:
    """Units of an item that cover what is missing of its parts."""
    wanted = [
        ceil(missing[part] / quantity - 1e-9)
        for part, quantity in store.items[item].covers
        if missing.get(part, 0.0) > 1e-9
    ]
    units = max(wanted, default=0)
    return min(max(units, store.items[item].least), store.items[item].most) if units else 0


def saved_penalty(store: Store, item: int, units: int, missing: Mapping[int, float]) -> float:
    """Penalty no longer counted once the item is bought [home currency]."""
    return sum(
        float(store.unmet_cost[part]) * min(max(missing[part], 0.0), quantity * units)
        for part, quantity in store.items[item].covers
        if part in missing
    )


def ways(
    basket: Basket, remove: Moves, added: Moves, missing: Mapping[int, float], items: Iterable[int], *, best: int = 1
) -> list[tuple[float, Moves]]:
    """The few cheapest ways to add one of some items, with the cost of the whole basket; cheapest first.

    An item in a shipment of its own costs at least what it costs alone, so most need no closer look.
    """
    store, found = basket.store, list[tuple[float, Moves]]()
    base = basket.after(basket.changed(remove, added))
    open_groups = {*basket.contents, *(store.items[item].group for item, _ in added)}
    floors = []
    for item in items:
        units = units_for(store, item, missing)
        if units > 0:
            floor = -inf
            if store.items[item].group not in open_groups:
                floor = base - saved_penalty(store, item, units, missing) + store.alone(item, units)
            floors.append((floor, item, units))
    for floor, item, units in sorted(floors):
        if len(found) == best and floor >= found[-1][0] - 1e-9:
            break
        moves = [*added, (item, units)]
        found.append((basket.after(basket.changed(remove, moves)), moves))
        found = sorted(found, key=lambda way: way[0])[:best]
    return found


def insert(basket: Basket, remove: Moves, missing: Mapping[int, float], shortlist: Shortlist) -> Moves:
    """Items that cover what is missing, part after part, each time the cheapest; none where that is cheaper."""
    store, added, missing = basket.store, list[tuple[int, int]](), dict(missing)
    for part in sorted(missing, key=lambda p: (-store.unmet_cost[p], p)):
        while missing.get(part, 0.0) > 1e-9:
            found = ways(basket, remove, added, missing, shortlist[part])
            if not found or found[0][0] >= basket.after(basket.changed(remove, added)) - 1e-9:
                break
            added = found[0][1]
            item, units = added[-1]
            for covered, quantity in store.items[item].covers:
                if covered in missing:
                    missing[covered] -= quantity * units
        missing.pop(part, None)
    return added


def _try(basket: Basket, remove: Moves, shortlist: Shortlist) -> bool:
    """Take some lines out, cover what is missing again, keep the change if it is cheaper."""
    added = insert(basket, remove, basket.missing(remove), shortlist)
    changes = basket.changed(remove, added)
    if basket.after(changes) < basket.cost - 1e-6:
        basket.apply(changes)
        return True
    return False


def improve(basket: Basket, shortlist: Shortlist, *, passes: int = 4, stop: Callable[[], bool] = lambda: False) -> None:
    """Local search: every line, then every shipment, out and in again; until nothing helps or the passes are over."""
    for _ in range(passes):
        better = False
        for remove in _pieces(basket):
            if stop():
                return
            if all(basket.holds(item, units) for item, units in remove):
                better |= _try(basket, remove, shortlist)
        if not better:
            return


def _pieces(basket: Basket) -> list[Moves]:
    """Every line, then every shipment."""
    shipments = [sorted(contents.items()) for _, contents in sorted(basket.contents.items())]
    return [[line] for lines in shipments for line in lines] + [lines for lines in shipments if len(lines) > 1]


def build_up(store: Store, shortlist: Shortlist) -> Basket:
    """A first plan from nothing."""
    basket = Basket(store)
    basket.apply(basket.changed([], insert(basket, [], basket.missing(), shortlist)))
    return basket
