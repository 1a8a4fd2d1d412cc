"""Lower bounds from the relaxation, branched on the few trips, whose fixed cost it would else smear."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from .bound import Prices, appraise
from .effort import Effort
from .grid import FloatArray, Grid, best_of_parts
from .highs import Relaxed
from .model import Multipliers
from .sifting import Leaf, Sifter

NODES = 14
"""Relaxations solved at most; each after the first takes a fraction of its time."""
WORTHWHILE = 2e-4
"""Share of the bound that every two relaxations after the first two must have raised it by, or no more are solved."""
CHILD_ROUNDS = 3
"""Rounds of sifting for each relaxation after the first."""
AGAIN = 8
"""Candidates for each part to begin with, and rounds, where an earlier proof is renewed."""


@dataclass(frozen=True, slots=True)
class Bounding:
    """A bound on every plan, and on every plan that buys a given candidate.

    Parameters
    ----------
    bound : no plan costs less [home currency]
    reach : (candidates,) no plan with a unit of the candidate costs less [home currency]
    bought : (candidates,) units in the best relaxation; zeros if none was solved
    multipliers : the proof, one set for each choice of trips
    """

    bound: float
    reach: FloatArray
    bought: FloatArray
    multipliers: tuple[Multipliers, ...]


def _fractional(grid: Grid, relaxed: Relaxed) -> int | None:
    """The trip whose being made is least clear; None if all are."""
    doubt = np.minimum(relaxed.trips, 1.0 - relaxed.trips) * grid.trip_fixed
    return int(np.argmax(doubt)) if doubt.size and doubt.max() > 1e-6 else None


def _branched(grid: Grid, sifter: Sifter, first: Leaf, effort: Effort) -> list[Leaf]:
    """Relaxations whose choices of trips together cover all plans, best first."""
    leaves: list[tuple[float, int, Leaf]] = [(first.bound, 0, first)]
    for node in range(1, NODES, 2):
        branch = _fractional(grid, leaves[0][2].relaxed)
        if branch is None:
            break
        parent = leaves[0][2]
        children = []
        for made in (0.0, 1.0):
            fixings = (*parent.relaxed.fixings, (branch, made))
            child = sifter.relax(fixings, effort=effort, rounds=CHILD_ROUNDS)
            if child is None:
                return [leaf for _, _, leaf in sorted(leaves, key=lambda leaf: leaf[:2])]
            children.append(child)
        heapq.heappop(leaves)
        for offset, child in enumerate(children):
            heapq.heappush(leaves, (child.bound, node + offset, child))
        if leaves[0][0] - first.bound < WORTHWHILE * (node // 2) * abs(first.bound):
            break
    return [leaf for _, _, leaf in sorted(leaves, key=lambda leaf: leaf[:2])]


def bound_plans(grid: Grid, *, effort: Effort) -> Bounding | None:
    """The bound by the relaxation over the whole grid; None if it is not solved with that effort."""
    sifter = Sifter(grid)
    first = sifter.relax((), effort=effort)
    if first is None:
        return None
    sifter.narrow(first)
    leaves = _branched(grid, sifter, first, effort)
    multipliers = [_multipliers(grid, leaf.relaxed.fixings, leaf.prices) for leaf in leaves]
    return appraise_all(grid, multipliers, leaves[0].relaxed.units)


def bound_again(grid: Grid, earlier: Bounding, *, enough: float, effort: Effort) -> Bounding:
    """An earlier proof renewed at today's prices, its choices of trips kept, the weakest first until it is enough."""
    every = np.ones(len(grid.candidates), dtype=np.bool_)
    keep = best_of_parts(grid, earlier.reach, every, AGAIN) | (earlier.bought > 1e-6)
    keep[np.argsort(earlier.reach, kind="stable")[: AGAIN * len(grid.parts)]] = True
    sifter, found, bought = Sifter(grid, keep), list[Multipliers](), earlier.bought
    proofs = [(appraise(grid, *_prices(grid, entry)).bound, n, entry) for n, entry in enumerate(earlier.multipliers)]
    for before, _, entry in sorted(proofs, key=lambda proof: proof[:2]):
        if before < enough and effort.left() > 0:
            made = _prices(grid, entry)[1]
            fixings = tuple((trip, float(go)) for trip, go in made.items())
            leaf = sifter.relax(fixings, effort=effort, rounds=AGAIN, enough=enough)
            if leaf is not None and leaf.bound > before:
                entry = _multipliers(grid, leaf.relaxed.fixings, leaf.prices)
                bought = leaf.relaxed.units if not found else bought
        found.append(entry)
    return appraise_all(grid, found, bought)


def bound_by_cheapest(grid: Grid) -> Bounding:
    """A weak bound without a relaxation: each part at the least variable cost it can be had for."""
    least = grid.unmet_cost.copy()
    parts_of = np.bincount(grid.cover_candidate, minlength=len(grid.candidates))[grid.cover_candidate]
    share = grid.cost[grid.cover_candidate] / (grid.cover_quantity * parts_of)
    np.minimum.at(least, grid.cover_part, share)
    months, kilograms = np.zeros(len(grid.months)), np.zeros(len(grid.trips))
    prices = Prices(least, months, kilograms, np.zeros(len(grid.shipments)), kilograms)
    return appraise_all(grid, [_multipliers(grid, (), prices)])


def appraise_all(grid: Grid, multipliers: Sequence[Multipliers], bought: FloatArray | None = None) -> Bounding:
    """The bound by given multipliers, as of an earlier plan; their choices of trips must together cover all plans."""
    bound, reach = np.inf, np.full(len(grid.candidates), np.inf)
    for entry in multipliers:
        prices, made = _prices(grid, entry)
        appraisal = appraise(grid, prices, made)
        bound = min(bound, appraisal.bound)
        reach = np.minimum(reach, appraisal.bound + appraisal.slack)
    bought = np.zeros(len(grid.candidates)) if bought is None else bought
    return Bounding(bound, np.maximum(reach, bound), bought, tuple(multipliers))


def usable(grid: Grid, multipliers: Sequence[Multipliers]) -> bool:
    """Whether an earlier proof still covers all choices of trips: it exists, and so do the trips it names."""
    trips = {trip.id for trip in grid.trips}
    return bool(multipliers) and all(trip in trips for entry in multipliers for trip in entry.made)


def _named(names: Iterable[str], values: FloatArray) -> dict[str, float]:
    return {name: float(value) for name, value in zip(names, values, strict=True) if abs(value) > 1e-9}


def _multipliers(grid: Grid, fixings: Sequence[tuple[int, float]], prices: Prices) -> Multipliers:
    return Multipliers(
        made={grid.trips[trip].id: made > 0.5 for trip, made in fixings},
        parts=_named(grid.parts, prices.parts),
        months={m: float(v) for m, v in zip(grid.months, prices.months, strict=True) if abs(v) > 1e-9},
        kilograms=_named([trip.id for trip in grid.trips], prices.kilograms),
        uses=_named([shipment.key for shipment in grid.shipments], prices.uses),
        allowances=_named([trip.id for trip in grid.trips], prices.allowances),
        modes=_named(grid.modes.names, prices.modes) if prices.modes.size else {},
    )


def _prices(grid: Grid, entry: Multipliers) -> tuple[Prices, dict[int, bool]]:
    trips = {trip.id: index for index, trip in enumerate(grid.trips)}
    prices = Prices(
        np.array([entry.parts.get(part, 0.0) for part in grid.parts]),
        np.array([entry.months.get(month, 0.0) for month in grid.months]),
        np.array([entry.kilograms.get(trip.id, 0.0) for trip in grid.trips]),
        np.array([entry.uses.get(shipment.key, 0.0) for shipment in grid.shipments]),
        np.array([entry.allowances.get(trip.id, 0.0) for trip in grid.trips]),
        np.array([entry.modes.get(name, 0.0) for name in grid.modes.names]),
    )
    return prices, {trips[trip]: made for trip, made in entry.made.items()}
