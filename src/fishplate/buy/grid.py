"""The problem as arrays, with everything dropped that no sensible plan can use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .model import Candidate, PurchaseProblem, Shipment, Trip, check_problem

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

MARGIN = 1e-6
"""Slack in comparing sums of values with a threshold [home currency]."""


def tally(index: IntArray, amounts: FloatArray | IntArray, size: int) -> FloatArray:
    """Sums of amounts by index, (size,)."""
    return np.bincount(index, weights=amounts, minlength=size).astype(np.float64)


@dataclass(frozen=True, slots=True)
class Grid:
    """Candidates, shipments, parts, trips and cash limits as arrays, sorted by key.

    `candidates` are sorted by shipment, then key, so those of shipment s are first[s] to first[s + 1].
    """

    parts: tuple[str, ...]
    need: FloatArray
    unmet_cost: FloatArray
    candidates: tuple[Candidate, ...]
    cost: FloatArray
    value: FloatArray
    mass: FloatArray
    most: IntArray
    shipment: IntArray
    first: IntArray
    cover_candidate: IntArray
    cover_part: IntArray
    cover_quantity: FloatArray
    shipments: tuple[Shipment, ...]
    fixed: FloatArray
    freight: FloatArray
    free_from: FloatArray
    low: FloatArray
    high: FloatArray
    relief: BoolArray
    crossing: BoolArray
    group: IntArray
    supplier: IntArray
    trip: IntArray
    trips: tuple[Trip, ...]
    trip_fixed: FloatArray
    capacity: FloatArray
    months: tuple[int, ...]
    limits: FloatArray
    spend: FloatArray
    charge_counts: FloatArray
    trip_counts: FloatArray
    cash_penalty: float
    hopeless: tuple[tuple[str, float], ...]
    forced: IntArray

    @property
    def groups(self) -> int:
        """Number of groups of bands."""
        return int(self.group.max()) + 1 if self.group.size else 0


def _useful_units(candidate: Candidate, shipment: Shipment, needs: dict[str, float]) -> int:
    """More units than would cover every part of the candidate alone are never bought."""
    wanted = [
        ceil(needs[part] / quantity - 1e-9)
        for part, quantity in candidate.covers.items()
        if part in needs and quantity > 0
    ]
    if not wanted or candidate.value > shipment.high_value + MARGIN:
        return 0
    return min(candidate.max_units, max(wanted))


def _kept(problem: PurchaseProblem, needs: dict[str, float]) -> tuple[list[Shipment], list[tuple[Candidate, int]]]:
    """Shipments and candidates that can be part of a plan; a band its goods cannot reach is none."""
    by_key = {shipment.key: shipment for shipment in problem.shipments}
    held: dict[str, list[tuple[Candidate, int]]] = {}
    for candidate in problem.candidates:
        forced = problem.fixed.get(candidate.key)
        most = _useful_units(candidate, by_key[candidate.shipment], needs) if forced is None else forced
        if most > 0:
            held.setdefault(candidate.shipment, []).append((candidate, most))
    reach = {key: sum(c.value * most for c, most in pairs) for key, pairs in held.items()}
    bound_to = {c.shipment for pairs in held.values() for c, _ in pairs if c.key in problem.fixed}
    shipments = [by_key[k] for k in sorted(held) if k in bound_to or by_key[k].low_value <= reach[k] + MARGIN]
    kept = [pair for shipment in shipments for pair in sorted(held[shipment.key], key=lambda pair: pair[0].key)]
    return shipments, kept


def _codes(names: Sequence[str]) -> IntArray:
    order = {name: index for index, name in enumerate(sorted(set(names)))}
    return np.array([order[name] for name in names], dtype=np.int64)


def _floats(values: Sequence[float]) -> FloatArray:
    return np.array(values, dtype=np.float64)


def _free_lines(shipments: Sequence[Shipment]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fixed charges, freight that may be dropped, and from which value; folded where the band decides it."""
    fixed, freight, free_from = [], [], []
    for s in shipments:
        line = inf if s.free_freight_from is None else s.free_freight_from
        always, never = line <= s.low_value + MARGIN or line <= 0, line > s.high_value + MARGIN or line == inf
        fixed.append(s.fixed + (s.freight_fixed if never and not always else 0.0))
        freight.append(0.0 if always or never else s.freight_fixed)
        free_from.append(line)
    return _floats(fixed), _floats(freight), _floats(free_from)


def _unmet_costs(problem: PurchaseProblem, parts: Sequence[str], kept: Sequence[tuple[Candidate, int]]) -> FloatArray:
    """Penalty a missing unit, by default ten times the dearest way to buy one."""
    dearest = dict.fromkeys(parts, 1.0)
    charges = {s.key: s.fixed + s.freight_fixed for s in problem.shipments}
    for candidate, _ in kept:
        for part, quantity in candidate.covers.items():
            if part in dearest and quantity > 0:
                dearest[part] = max(dearest[part], (candidate.cost + charges[candidate.shipment]) / min(quantity, 1.0))
    return _floats([problem.unmet_penalty.get(part, 10 * dearest[part]) for part in parts])


def _spending(months: Sequence[int], kept: Sequence[Candidate]) -> FloatArray:
    """Cumulative money of one unit of each candidate by each limit, (limits, candidates)."""
    spend = np.zeros((len(months), len(kept)))
    if not months:
        return spend
    for column, candidate in enumerate(kept):
        for month, amount in candidate.cash:
            spend[np.searchsorted(months, month) :, column] += amount
    return spend


def _counts(months: Sequence[int], paid: Sequence[int | None]) -> FloatArray:
    """1 where something paid in a month counts toward a limit, (limits, things)."""
    counts = np.zeros((len(months), len(paid)))
    for column, month in enumerate(paid):
        if month is not None:
            counts[np.searchsorted(months, month) :, column] = 1.0
    return counts


def compile_grid(problem: PurchaseProblem) -> Grid:
    """The arrays of a problem; raises ValueError if the problem contradicts itself."""
    check_problem(problem)
    needs = {part: need for part, need in problem.needs.items() if need > 1e-9}
    shipments, pairs = _kept(problem, needs)
    kept = tuple(candidate for candidate, _ in pairs)
    reachable = {part for c in kept for part, quantity in c.covers.items() if quantity > 0}
    parts = tuple(sorted(part for part in needs if part in reachable))
    part_at = {part: index for index, part in enumerate(parts)}
    ship_at = {shipment.key: index for index, shipment in enumerate(shipments)}
    trips = tuple(sorted(problem.trips, key=lambda trip: trip.id))
    trip_at = {trip.id: index for index, trip in enumerate(trips)}
    covers = [(row, part_at[p], q) for row, c in enumerate(kept) for p, q in c.covers.items() if p in part_at and q > 0]
    limits = dict(sorted(problem.cash_limits))
    fixed, freight, free_from = _free_lines(shipments)
    shipment = np.array([ship_at[c.shipment] for c in kept], dtype=np.int64)
    fields: dict[str, Any] = {
        "cost": _floats([c.cost for c in kept]),
        "value": _floats([c.value for c in kept]),
        "mass": _floats([c.mass_kg for c in kept]),
        "most": np.array([most for _, most in pairs], dtype=np.int64),
        "forced": np.array([problem.fixed.get(c.key, 0) for c in kept], dtype=np.int64),
        "cover_candidate": np.array([row for row, _, _ in covers], dtype=np.int64),
        "cover_part": np.array([part for _, part, _ in covers], dtype=np.int64),
        "cover_quantity": _floats([quantity for _, _, quantity in covers]),
        "first": np.searchsorted(shipment, np.arange(len(shipments) + 1)),
        "low": _floats([s.low_value for s in shipments]),
        "high": _floats([s.high_value for s in shipments]),
        "relief": np.array([s.relief for s in shipments], dtype=np.bool_),
        "crossing": np.array([s.crossing for s in shipments], dtype=np.bool_),
        "group": _codes([s.group for s in shipments]),
        "supplier": _codes([s.supplier for s in shipments]),
        "trip": np.array([trip_at[s.collection] if s.collection else -1 for s in shipments], dtype=np.int64),
        "trip_fixed": _floats([0.0 if t.paid_anyway else t.fixed for t in trips]),
        "capacity": _floats([inf if t.capacity_kg is None else t.capacity_kg for t in trips]),
        "charge_counts": _counts(tuple(limits), [s.cash_month for s in shipments]),
        "trip_counts": _counts(tuple(limits), [None if t.paid_anyway else t.cash_month for t in trips]),
    }
    return Grid(
        parts=parts,
        need=_floats([needs[part] for part in parts]),
        unmet_cost=_unmet_costs(problem, parts, pairs),
        candidates=kept,
        shipments=tuple(shipments),
        shipment=shipment,
        fixed=fixed,
        freight=freight,
        free_from=free_from,
        trips=trips,
        months=tuple(limits),
        limits=_floats(list(limits.values())),
        spend=_spending(tuple(limits), kept),
        cash_penalty=problem.cash_penalty,
        hopeless=tuple(sorted((part, need) for part, need in needs.items() if part not in part_at)),
        **fields,
    )
