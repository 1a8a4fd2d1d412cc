"""A good plan quickly: put parts in one by one, then move lines and whole shipments while that helps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil, inf

from .basket import Basket, Store

Moves = list[tuple[int, int]]

Shortlist = Sequence[Sequence[int]]
"""Items by part, the most promising first."""


def units_for(store: Store, item: int, missing: dict[int, float]) -> int:
    """Units of an item that cover what is missing of its parts."""
    wanted = [ceil(missing[part] / quantity - 1e-9) for part, quantity in store.items[item].covers if part in missing]
    return min(max(wanted, default=0), store.items[item].most)


def insert(basket: Basket, remove: Moves, missing: dict[int, float], shortlist: Shortlist) -> Moves:
    """Items that cover what is missing, chosen one after another, each the cheapest per part it covers."""
    store, added, missing = basket.store, [], dict(missing)
    for part in sorted(missing, key=lambda p: -store.unmet_cost[p]):
        while missing.get(part, 0.0) > 1e-9:
            best, choice = inf, None
            for item in shortlist[part]:
                units = units_for(store, item, missing)
                if units <= 0:
                    continue
                cost = basket.after(basket.changed(remove, [*added, (item, units)]))
                if cost < best - 1e-9:
                    best, choice = cost, (item, units)
            if choice is None or best >= basket.after(basket.changed(remove, added)) - 1e-9:
                break
            added.append(choice)
            for covered, quantity in store.items[choice[0]].covers:
                if covered in missing:
                    missing[covered] -= quantity * choice[1]
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


def _shift(basket: Basket, group: int, targets: Iterable[dict[int, int]]) -> bool:
    """Move a whole shipment to another week or way, keep the best change if it is cheaper."""
    best, change = basket.cost - 1e-6, None
    held = list(basket.contents[group].items())
    for target in targets:
        if all(item in target for item, _ in held):
            changes = basket.changed(held, [(target[item], units) for item, units in held])
            cost = basket.after(changes)
            if cost < best:
                best, change = cost, changes
    if change is not None:
        basket.apply(change)
    return change is not None


def sisters(store: Store) -> dict[int, list[dict[int, int]]]:
    """For each group, the other groups of the supplier as maps from its items to theirs."""
    offers: dict[int, dict[tuple[str, tuple[tuple[int, float], ...]], int]] = {}
    for index, item in enumerate(store.items):
        offer = store.grid.candidates[next(iter(item.bands.values()))].offer
        offers.setdefault(item.group, {})[offer, item.covers] = index
    by_supplier: dict[int, list[int]] = {}
    for group in offers:
        by_supplier.setdefault(store.supplier[group], []).append(group)
    return {
        group: [
            {item: offers[other][name] for name, item in offers[group].items() if name in offers[other]}
            for other in by_supplier[store.supplier[group]]
            if other != group
        ]
        for group in offers
    }


def improve(basket: Basket, shortlist: Shortlist, *, passes: int = 4) -> None:
    """Local search: every line, then every shipment, out and in again; until nothing helps or the passes are over."""
    for _ in range(passes):
        better = False
        for group in sorted(basket.contents):
            for item, units in sorted(basket.contents.get(group, {}).items()):
                if basket.contents.get(group, {}).get(item) == units:
                    better |= _try(basket, [(item, units)], shortlist)
        for group in sorted(basket.contents):
            if group in basket.contents:
                better |= _try(basket, list(basket.contents[group].items()), shortlist)
        if not better:
            return


def build_up(store: Store, shortlist: Shortlist) -> Basket:
    """A first plan from nothing."""
    basket = Basket(store)
    basket.apply(basket.changed([], insert(basket, [], basket.missing(), shortlist)))
    return basket
