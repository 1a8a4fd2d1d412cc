"""The purchase programme against enumeration, and against the same programme handed whole to the solver."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import ceil, inf

import numpy as np
import pytest

from fishplate.buy import Candidate, PurchasePlan, PurchaseProblem, Shipment, Trip, recost_by_model, solve


def tiny(seed: int) -> PurchaseProblem:
    """A random problem small enough to enumerate: tiers, relief, free freight, kits, packs, trips, cash."""
    rng = np.random.default_rng(seed)
    parts = [f"p{k}" for k in range(int(rng.integers(2, 5)))]
    needs = {part: float(rng.choice([1, 1, 1, 2, 1.5])) for part in parts}
    trips = (Trip("van", float(rng.integers(0, 60)), float(rng.choice([6, 12, 50])), bool(rng.random() < 0.2)),)
    shipments: list[Shipment] = []
    for supplier in range(int(rng.integers(1, 4))):
        for week in range(int(rng.integers(1, 3))):
            shipments += _bands(rng, supplier, week)
    candidates = []
    for shipment in shipments:
        for number in range(int(rng.integers(1, 3))):
            kit = rng.random() < 0.3 and len(parts) > 1
            covered = rng.choice(len(parts), 2, replace=False) if kit else [rng.integers(len(parts))]
            covers = {parts[int(p)]: float(rng.choice([1, 1, 2, 0.5])) for p in covered}
            cost = float(rng.integers(5, 60)) + 0.25 * int(rng.integers(4))
            candidates.append(
                Candidate(f"{shipment.key}c{number}", f"o{number}", shipment.key, covers, cost,
                          float(rng.integers(0, 70)), float(rng.integers(1, 6)),
                          ((int(rng.integers(3)), cost),), int(rng.integers(1, 4)))
            )  # fmt: skip
    picked = rng.permutation(len(candidates))[:8]
    limits = tuple((m, float(rng.integers(10, 80) * (m + 1))) for m in (0, 2)) if rng.random() < 0.5 else ()
    penalty = {part: float(rng.choice([60, 150, 400])) for part in parts}
    return PurchaseProblem(needs, tuple(candidates[k] for k in picked), tuple(shipments), trips, limits, penalty)


def _bands(rng: np.random.Generator, supplier: int, week: int) -> list[Shipment]:
    name, kind = f"s{supplier}w{week}", rng.random()
    fixed, freight = float(rng.integers(0, 25)), float(rng.integers(0, 20))
    free = float(rng.integers(20, 120)) if rng.random() < 0.5 else None
    month = int(rng.integers(3)) if rng.random() < 0.5 else None
    if kind < 0.35:
        return [Shipment(name, name, f"s{supplier}", None, None, week, fixed, freight, free, cash_month=month)]
    if kind < 0.6:
        low = float(rng.choice([0, 0, 30]))
        return [Shipment(name, name, f"s{supplier}", "depot", "van", week, fixed, freight, free, low, cash_month=month)]
    edge = float(rng.integers(30, 90))
    relief = bool(rng.random() < 0.6)
    low_band = Shipment(f"{name}a", name, f"s{supplier}", "post", None, week, 0.0, freight, free, 0.0, edge, relief)
    return [low_band, Shipment(f"{name}b", name, f"s{supplier}", "post", None, week, fixed, freight, free, edge, inf)]


def cost_of(problem: PurchaseProblem, units: dict[str, int]) -> float:
    """Cost with penalties of a selection, written from the definitions alone; infinite if it cannot travel so."""
    shipments, trips = {s.key: s for s in problem.shipments}, {t.id: t for t in problem.trips}
    held: dict[str, list[tuple[Candidate, int]]] = {}
    for c in problem.candidates:
        if units[c.key]:
            held.setdefault(c.shipment, []).append((c, units[c.key]))
    used = [shipments[key] for key in held]
    if len({s.group for s in used}) < len(used):
        return inf
    abroad = [s for s in used if s.relief or (s.crosses_border and s.route is not None)]
    if any(s.relief and sum(o.supplier == s.supplier for o in abroad) > 1 for s in used):
        return inf
    total, spent = 0.0, dict.fromkeys((m for m, _ in problem.cash_limits), 0.0)

    def pay(month: int | None, amount: float) -> None:
        for limit in spent:
            spent[limit] += amount if month is not None and month <= limit else 0.0

    for s in used:
        value = sum(c.value * n for c, n in held[s.key])
        if not s.low_value - 1e-6 <= value <= s.high_value + 1e-6:
            return inf
        free = s.free_freight_from is not None and value >= s.free_freight_from - 1e-6
        charges = s.fixed + (0.0 if free else s.freight_fixed)
        total += charges + sum(c.cost * n for c, n in held[s.key])
        pay(s.cash_month, charges)
    for c in problem.candidates:
        for month, amount in c.cash:
            pay(month, amount * units[c.key])
    for trip_id in {s.collection for s in used} - {None}:
        trip = trips[str(trip_id)]
        mass = sum(c.mass_kg * n for s in used if s.collection == trip_id for c, n in held[s.key])
        if trip.capacity_kg is not None and mass > trip.capacity_kg + 1e-9:
            return inf
        total += 0.0 if trip.paid_anyway else trip.fixed
    for part, need in problem.needs.items():
        got = sum(c.covers.get(part, 0.0) * units[c.key] for c in problem.candidates)
        total += problem.unmet_penalty[part] * max(0.0, need - got)
    over = max((spent[m] - limit for m, limit in problem.cash_limits), default=0.0)
    return total + problem.cash_penalty * max(0.0, over)


def most_useful(problem: PurchaseProblem, candidate: Candidate) -> int:
    """No more units than would cover every part of the candidate alone."""
    wanted = max(ceil(problem.needs[part] / q - 1e-9) for part, q in candidate.covers.items())
    return min(candidate.max_units, wanted)


def enumerated(problem: PurchaseProblem) -> float:
    """Least cost over all selections."""
    ranges = [range(most_useful(problem, c) + 1) for c in problem.candidates]
    keys = [c.key for c in problem.candidates]
    return min(cost_of(problem, dict(zip(keys, counts, strict=True))) for counts in product(*ranges))


def solved(problem: PurchaseProblem) -> PurchasePlan:
    return solve(problem, recost=recost_by_model(problem), time_limit=20, gap=0.0)


@pytest.mark.parametrize("block", range(8))
def test_tiny_problems_are_solved_to_the_enumerated_optimum(block: int) -> None:
    for seed in range(30 * block, 30 * block + 30):
        problem = tiny(seed)
        plan = solved(problem)
        best = enumerated(problem)
        units = {c.key: plan.units.get(c.key, 0) for c in problem.candidates}
        assert cost_of(problem, units) == pytest.approx(best, abs=1e-5), seed
        money = replace(problem, unmet_penalty=dict.fromkeys(problem.needs, 0.0), cash_limits=())
        assert plan.total == pytest.approx(cost_of(money, units), abs=1e-6), seed
        assert plan.bound <= best + 1e-5, seed
        assert plan.optimal, seed
