"""Processor time to a purchase plan within a gap that holds for every week, beside the same handed whole to HiGHS.

Seconds are processor time of this process, which other work on the machine hardly changes; the clock's are in the note.
"""

from __future__ import annotations

import resource
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf
from time import perf_counter, process_time
from typing import Any

import numpy as np

from benchmarks.markets import generated
from fishplate.buy import Candidate, PurchasePlan, PurchaseProblem, recost_by_model, solve
from fishplate.buy.effort import Effort
from fishplate.buy.grid import compile_grid
from fishplate.buy.highs import solve_whole
from fishplate.buy.programme import assemble
from fishplate.buy.why import otherwise

ASKED = 5


@dataclass(frozen=True)
class Size:
    """Parts, offers, weeks; the gap asked for; seeds from 1 on; clock seconds for HiGHS alone (0: it is not tried)."""

    parts: int
    offers: int
    weeks: int
    gap: float
    seeds: int
    whole_s: float


SIZES = (Size(130, 410, 78, 0.01, 2, 45.0), Size(300, 917, 78, 0.005, 2, 60.0), Size(800, 2421, 104, 0.01, 1, 90.0))
LIMIT_S = 60.0
"""Clock seconds for our own search; on a machine shared with others the processor works only part of them for us."""
SLACK = 1.02
"""Where the first search has not reached its gap, a later one is asked for the gap reached, times this."""


@dataclass(frozen=True)
class Timed:
    """A result with the processor's and the clock's seconds it took."""

    plan: PurchasePlan
    cpu_s: float
    wall_s: float


def peak_mib() -> float:
    """Most memory the process has held so far, as the system reports it [MiB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def timed(problem: PurchaseProblem, gap: float, start: PurchasePlan | None = None) -> Timed:
    """Our own search, from nothing or from an earlier plan."""
    cpu, wall = process_time(), perf_counter()
    plan = solve(problem, recost=recost_by_model(problem), time_limit=LIMIT_S, gap=gap, start=start)
    return Timed(plan, process_time() - cpu, perf_counter() - wall)


def whole_to_solver(problem: PurchaseProblem, limit_s: float, gap: float) -> tuple[float, float, str]:
    """The same programme on all candidates, straight to HiGHS: processor seconds, gap reached, status."""
    begin = process_time()
    grid = compile_grid(problem)
    outcome = solve_whole(
        assemble(grid, np.ones(len(grid.candidates), dtype=np.bool_)), effort=Effort(limit_s), gap=gap
    )
    reached = (outcome.objective - outcome.bound) / outcome.objective if outcome.units is not None else inf
    return process_time() - begin, reached, outcome.status


def changed(problem: PurchaseProblem, of: Callable[[Candidate], bool], factor: float) -> PurchaseProblem:
    """The problem with some candidates dearer or cheaper."""
    candidates = tuple(
        replace(c, cost=c.cost * factor, cash=tuple((m, a * factor) for m, a in c.cash)) if of(c) else c
        for c in problem.candidates
    )
    return replace(problem, candidates=candidates)


def changes(problem: PurchaseProblem, plan: PurchasePlan) -> dict[str, PurchaseProblem]:
    """One offer in use dearer, one not in use cheaper, and a supplier's sale of four weeks."""
    lines = sorted(plan.lines, key=lambda line: line.cost)
    used, in_use = lines[len(lines) // 2].offer, {line.offer for line in lines}
    unused = next(c.offer for c in problem.candidates if c.offer not in in_use)
    shipments = {s.key: s for s in problem.shipments}
    on_sale = shipments[lines[len(lines) // 3].shipment]

    def sold_off(candidate: Candidate) -> bool:
        shipment = shipments[candidate.shipment]
        return shipment.supplier == on_sale.supplier and 0 <= shipment.week - on_sale.week - 6 < 4

    return {
        "one price in use up 15 %": changed(problem, lambda c: c.offer == used, 1.15),
        "one price not in use down 20 %": changed(problem, lambda c: c.offer == unused, 0.8),
        "a supplier's sale, 15 % off for four weeks": changed(problem, sold_off, 0.85),
    }


def _otherwise(problem: PurchaseProblem, plan: PurchasePlan) -> tuple[float, float, int]:
    """Another supplier for one part, both plans sought: mean and worst seconds, and how many."""
    suppliers = {shipment.key: shipment.supplier for shipment in problem.shipments}
    recost, spent = recost_by_model(problem), []
    for line in plan.lines[:ASKED]:
        now, part = suppliers[line.shipment], min(line.parts)
        begin = process_time()
        otherwise(problem, plan, part, lambda _candidate, shipment, now=now: shipment.supplier != now, recost=recost)
        spent.append(process_time() - begin)
    return sum(spent) / len(spent), max(spent), len(spent)


def rows(sizes: tuple[Size, ...] = SIZES) -> list[dict[str, Any]]:
    """One row a measurement."""
    small = generated(12, 40, weeks=20)
    solve(small, recost=recost_by_model(small), time_limit=5)  # loads the libraries
    return [row for size in sizes for seed in range(1, size.seeds + 1) for row in _measured(size, seed)]


def _measured(size: Size, seed: int) -> list[dict[str, Any]]:
    problem = generated(size.parts, size.offers, weeks=size.weeks, seed=seed)
    name = f"buy {size.parts}/{size.offers}/{size.weeks}, seed {seed}"
    first = timed(problem, size.gap)
    found = [
        _row(f"{name}: {what}", again, "first solve", first.cpu_s)
        for what, other in changes(problem, first.plan).items()
        for again in [timed(other, max(size.gap, SLACK * first.plan.gap), first.plan)]
    ]
    if seed == 1 and size.parts < 300:
        mean, worst, count = _otherwise(problem, first.plan)
        found.append({"name": f"{name}: another supplier for a part", "seconds": mean, "memory_mib": peak_mib(),
                      "note": f"worst {worst:.2f} s of {count}"})  # fmt: skip
    own = _row(f"{name}, {len(problem.candidates)} candidates to {100 * size.gap:g} %", first, "", None)
    if size.whole_s and seed == 1:
        whole, gap, status = whole_to_solver(problem, size.whole_s, size.gap)
        own |= {"baseline": "whole model to HiGHS", "baseline_seconds": whole}
        own["note"] += f"; HiGHS {100 * gap:.2f} % ({status})"
    return [own, *found]


def _row(name: str, timed: Timed, baseline: str, baseline_seconds: float | None) -> dict[str, Any]:
    return {
        "name": name,
        "seconds": timed.cpu_s,
        "memory_mib": peak_mib(),
        "baseline": baseline,
        "baseline_seconds": baseline_seconds,
        "note": f"gap {100 * timed.plan.gap:.2f} %, clock {timed.wall_s:.1f} s",
    }


if __name__ == "__main__":
    for row in rows():
        base = f" ({row['baseline']} {row['baseline_seconds']:.2f} s)" if row.get("baseline_seconds") else ""
        print(f"{row['seconds']:.4f} s  {row['name']}{base}  {row['note']}")
