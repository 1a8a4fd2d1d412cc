"""Staying near the last plan, against the enumeration of every plan within the room."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from test_buy_oracles import cost_of, most_useful, solved, tiny

from fishplate.buy import PurchaseProblem, recost_by_model
from fishplate.buy.steady import Kept, steadied


def last_plan(problem: PurchaseProblem, seed: int) -> Kept:
    """A last plan made up of two candidates, each named by its offer and group."""
    groups = {s.key: s.group for s in problem.shipments}
    picked = np.random.default_rng(seed).permutation(len(problem.candidates))[:2]
    names = {(problem.candidates[k].offer, groups[problem.candidates[k].shipment]) for k in picked}
    return {
        f"{offer} {group}": frozenset(
            c.key for c in problem.candidates if (c.offer, groups[c.shipment]) == (offer, group)
        )
        for offer, group in names
    }


def changes_of(units: dict[str, int], last: Kept) -> int:
    known = frozenset().union(*last.values())
    dropped = sum(not any(units.get(key) for key in keys) for keys in last.values())
    return dropped + sum(count > 0 and key not in known for key, count in units.items())


@pytest.mark.parametrize("block", range(3))
def test_no_plan_within_the_room_has_fewer_changes(block: int) -> None:
    moved = 0
    for seed in range(25 * block, 25 * block + 25):
        problem = tiny(seed)
        problem = replace(problem, cash_limits=problem.cash_limits if seed % 3 else ())
        best = solved(problem)
        keys = [c.key for c in problem.candidates]
        # a candidate that no sensible plan can hold is no line to stay with
        usable = {c.key for c in problem.candidates if _usable(problem, c.key)}
        last = {name: kept & usable for name, kept in last_plan(problem, seed).items() if kept & usable}
        ranges = [range(most_useful(problem, c) + 1) for c in problem.candidates]
        plans = [dict(zip(keys, counts, strict=True)) for counts in product(*ranges)]
        costs = [cost_of(problem, units) for units in plans]
        for room in (0.0, 15.0, 60.0):
            found = steadied(problem, best, last, room=room, recost=recost_by_model(problem), time_limit=20)
            fewest = min(
                changes_of(units, last)
                for units, cost in zip(plans, costs, strict=True)
                if cost <= min(costs) + room + 1e-6
            )
            assert found.changes == fewest, (seed, room)
            assert found.changes == changes_of(found.plan.units, last), (seed, room)
            assert found.extra <= room + 1e-6
            assert found.extra == pytest.approx(
                cost_of(problem, {key: found.plan.units.get(key, 0) for key in keys}) - min(costs), abs=1e-4
            )
            moved += found.changes < found.before
    assert moved > 7


def _usable(problem: PurchaseProblem, key: str) -> bool:
    from fishplate.buy.grid import compile_grid

    return key in {c.key for c in compile_grid(problem).candidates}
