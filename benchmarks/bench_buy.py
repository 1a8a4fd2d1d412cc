"""Time to a purchase plan within one percent, against the same model handed whole to HiGHS in the same run."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from time import perf_counter
from typing import Any

import numpy as np

from fishplate.buy import (
    Candidate,
    Changes,
    PurchasePlan,
    PurchaseProblem,
    Shipment,
    Trip,
    recost_by_model,
    solve,
)
from fishplate.buy.grid import compile_grid
from fishplate.buy.highs import solve_whole
from fishplate.buy.programme import assemble


def generated(parts: int, offers: int, *, weeks: int = 60, seed: int = 1) -> PurchaseProblem:
    """Invented parts, suppliers and prices with two routes, fee tiers, free freight, kits, sales, trips and cash."""
    rng = np.random.default_rng(seed)
    suppliers = max(4, parts // 6)
    abroad = rng.random(suppliers) < 0.5
    base = np.exp(rng.normal(4.6, 1.0, parts))
    need_week = rng.uniform(6, weeks * 0.9, parts)
    late = rng.uniform(3, 25, parts)
    trips = tuple(Trip(f"trip{k}", 160.0 + 20 * k, 400.0) for k in range(3))
    trip_weeks = [10, 26, 45]
    sale = {s: int(rng.integers(3, weeks - 3)) for s in range(suppliers)}
    shipments: list[Shipment] = []
    for s in range(suppliers):
        freight, line = float(rng.uniform(6, 30)), float(rng.choice([0, 150, 250, 400]))
        for week in range(weeks):
            free = line or None
            if not abroad[s]:
                shipments.append(
                    Shipment(f"s{s}w{week}", f"s{s}w{week}", f"s{s}", None, None, week, 0.0, freight, free)
                )
                continue
            key = f"s{s}w{week}courier"
            tiers = [(0, 45, 0.0, True), (0, 150, 6.0, False), (150, 700, 18.0, False), (700, inf, 35.0, False)]
            for low, high, fee, relief in tiers:
                shipments.append(
                    Shipment(
                        f"{key}{high}{relief}",
                        key,
                        f"s{s}",
                        "courier",
                        None,
                        week,
                        fee,
                        freight * 2,
                        free,
                        low,
                        high,
                        relief,
                    )
                )
            trip = next((k for k, t in enumerate(trip_weeks) if week + 2 <= t), None)
            if trip is not None:
                key = f"s{s}w{week}depot"
                shipments.append(Shipment(key, key, f"s{s}", "depot", f"trip{trip}", week, 8.0, freight, free))
    by_supplier: dict[str, list[Shipment]] = {}
    for shipment in shipments:
        by_supplier.setdefault(shipment.supplier, []).append(shipment)
    candidates: list[Candidate] = []
    for o in range(offers):
        if o < parts:
            covers = {o: 1.0}
        elif rng.random() < 0.25:
            covers = {int(p): 1.0 for p in rng.choice(parts, int(rng.integers(3, 6)), replace=False)}
        else:
            covers = {int(rng.integers(parts)): 1.0}
        supplier = int(rng.integers(suppliers))
        price = sum(base[p] for p in covers) * rng.uniform(0.85, 1.15) * (0.9 if len(covers) > 1 else 1.0)
        lead = rng.uniform(1, 6)
        drift = rng.normal(0.0005, 0.0008)
        for shipment in by_supplier[f"s{supplier}"]:
            week = shipment.week
            now = price * (1 + drift) ** week * (0.82 if sale[supplier] <= week < sale[supplier] + 2 else 1.0)
            arrival = week + lead + (2 if shipment.route else 0)
            if shipment.collection:
                arrival = trip_weeks[int(shipment.collection[4:])]
            lateness = sum(late[p] * max(0.0, arrival - need_week[p]) for p in covers)
            carry = now * 0.0015 * max(0.0, min(need_week[p] for p in covers) - arrival)
            if lateness > 6 * price or now > shipment.high_value:
                continue
            tax = 1.0 if shipment.relief or shipment.route is None else (1.06 if shipment.high_value <= 150 else 1.1)
            cost = now * tax + lateness + carry
            mass = float(price / 40)
            month = week // 4
            named = {f"p{p}": q for p, q in covers.items()}
            cash = ((month, now * tax),)
            candidates.append(Candidate(f"o{o}{shipment.key}", f"o{o}", shipment.key, named, cost, now, mass, cash, 2))
    total = float(base.sum())
    limits = tuple((m, 0.25 * total + total * m / 8) for m in range(weeks // 4))
    return PurchaseProblem({f"p{p}": 1.0 for p in range(parts)}, tuple(candidates), tuple(shipments), trips, limits)


GAP = 0.01
BASELINE_LIMIT_S = 30.0


def peak_mib() -> float:
    """Most memory the process has held so far, as the system reports it [MiB]."""
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def whole_to_solver(problem: PurchaseProblem, limit_s: float) -> tuple[float, float, str]:
    """The same programme on all candidates, straight to HiGHS: seconds, gap reached, status."""
    begin = perf_counter()
    grid = compile_grid(problem)
    outcome = solve_whole(assemble(grid, np.ones(len(grid.candidates), dtype=np.bool_)), time_limit=limit_s, gap=GAP)
    seconds = perf_counter() - begin
    gap = (outcome.objective - outcome.bound) / outcome.objective if outcome.units is not None else inf
    return seconds, gap, outcome.status


def _again(problem: PurchaseProblem, plan: PurchasePlan) -> tuple[float, PurchasePlan]:
    """One used offer 15 % dearer, solved again from the last plan."""
    offer = plan.lines[len(plan.lines) // 2].offer
    dearer = tuple(replace(c, cost=c.cost * 1.15) if c.offer == offer else c for c in problem.candidates)
    changed = replace(problem, candidates=dearer)
    begin = perf_counter()
    again = solve(changed, recost=recost_by_model(changed), time_limit=20, gap=GAP, start=plan)
    return perf_counter() - begin, again


def _waiting(problem: PurchaseProblem, plan: PurchasePlan) -> tuple[float, float, int]:
    """Cost of waiting 1, 4 and 13 weeks with every line: mean and worst seconds each, and how many."""
    changes = Changes(problem, plan, recost_by_model(problem))
    spent = []
    for line in plan.lines:
        for part in line.parts:
            for weeks in (1, 4, 13):
                begin = perf_counter()
                changes.cheapest(part, line.week + weeks)
                spent.append(perf_counter() - begin)
    return sum(spent) / len(spent), max(spent), len(spent)


SIZES = ((60, 80, 6), (130, 170, 3))
"""Parts, offers, and how many seeds from 1 on."""


def rows(sizes: tuple[tuple[int, int, int], ...] = SIZES) -> list[dict[str, Any]]:
    """One row a measurement."""
    small = generated(6, 8)
    solve(small, recost=recost_by_model(small), time_limit=5)  # loads the libraries
    return [
        row for parts, offers, seeds in sizes for seed in range(1, seeds + 1) for row in _measured(parts, offers, seed)
    ]


def _measured(parts: int, offers: int, seed: int) -> list[dict[str, Any]]:
    problem = generated(parts, offers, seed=seed)
    name = f"buy {parts} parts, {offers} offers, {len(problem.candidates)} candidates, seed {seed}"
    begin = perf_counter()
    plan = solve(problem, recost=recost_by_model(problem), time_limit=20, gap=GAP)
    first, memory = perf_counter() - begin, peak_mib()
    whole, gap, status = whole_to_solver(problem, BASELINE_LIMIT_S)
    seconds, again = _again(problem, plan)
    mean, worst, count = _waiting(problem, plan)
    note = f"gap {100 * plan.gap:.2f} % (baseline {100 * gap:.2f} %, {status})"
    return [
        _row(name, first, memory, "whole model to HiGHS", whole, note),
        _row(f"{name}: one price changed", seconds, memory, "first solve", first, f"gap {100 * again.gap:.2f} %"),
        _row(f"{name}: cost of waiting", mean, memory, "", None, f"worst {1000 * worst:.1f} ms of {count}"),
    ]


def _row(
    name: str, seconds: float, memory: float, baseline: str, baseline_seconds: float | None, note: str
) -> dict[str, Any]:
    return {
        "name": name,
        "seconds": seconds,
        "memory_mib": memory,
        "baseline": baseline,
        "baseline_seconds": baseline_seconds,
        "note": note,
    }


if __name__ == "__main__":
    for row in rows():
        base = "" if row["baseline_seconds"] is None else f" ({row['baseline']} {row['baseline_seconds']:.2f} s)"
        print(f"{row['seconds']:.4f} s  {row['name']}{base}  {row['note']}")
