"""The problem as arrays, with everything dropped that no sensible plan can use."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .model import Candidate, PurchaseProblem, Shipment, Trip, check_problem
from .modes import Modes, modes_of, no_modes

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

MARGIN = 1e-6
"""Slack in comparing sums of values with a threshold [home currency]."""


WEEKS_ALIKE = 4
"""Of an offer's weeks in so many, the best one stands for all where not every week can be looked at."""


def tally(index: IntArray, amounts: FloatArray | IntArray, size: int) -> FloatArray:
    """Sums of amounts by index, (size,)."""
    return np.bincount(index, weights=amounts, minlength=size).astype(np.float64)


@dataclass(frozen=True, slots=True)
class Grid:
    """Candidates, shipments, parts, trips and cash limits as arrays, sorted by key.

    `candidates` are sorted by shipment, then key, so those of shipment s are first[s] to first[s + 1]. What covers
    which part, and what is paid when, are kept as entries (candidate, part or limit, amount) sorted by candidate; money
    counts toward its limit and all later ones. A trip is `bulky` if its room is likelier to give out than what it
    carries by mass.
    """

    parts: tuple[str, ...]
    need: FloatArray
    unmet_cost: FloatArray
    candidates: tuple[Candidate, ...]
    offer: IntArray
    cost: FloatArray
    value: FloatArray
    mass: FloatArray
    volume: FloatArray
    relieved: FloatArray
    least: IntArray
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
    room: FloatArray
    bulky: BoolArray
    allowance: FloatArray
    months: tuple[int, ...]
    limits: FloatArray
    cash_candidate: IntArray
    cash_limit: IntArray
    cash_amount: FloatArray
    charge_limit: IntArray
    trip_limit: IntArray
    cash_penalty: float
    credit: float
    credit_cost: float
    supplier_cost: float
    hopeless: tuple[tuple[str, float], ...]
    forced: IntArray
    modes: Modes

    @property
    def groups(self) -> int:
        """Number of groups of bands."""
        return int(self.group.max()) + 1 if self.group.size else 0

    @property
    def suppliers(self) -> int:
        """Number of suppliers; in a part of a grid, with those that rows of modes still name."""
        return 1 + max(int(self.supplier.max(initial=-1)), int(self.modes.supplier.max(initial=-1)))

    def carried(self, by_volume: BoolArray) -> tuple[FloatArray, FloatArray]:
        """What a unit of each candidate takes of its trip, and what each trip carries; by volume, or else by mass."""
        if not by_volume.any():
            return self.mass, self.capacity
        volume = np.append(by_volume, False)[self.trip[self.shipment]]
        return np.where(volume, self.volume, self.mass), np.where(by_volume, self.room, self.capacity)

    def spent(self, units: FloatArray | IntArray, charges: FloatArray, trips: FloatArray) -> FloatArray:
        """(limits,) money spent by each limit on units of candidates, shipments' charges and trips' costs."""
        size = len(self.months)
        by_limit = tally(self.cash_limit, self.cash_amount * units[self.cash_candidate], size + 1)
        by_limit += tally(self.charge_limit, charges, size + 1) + tally(self.trip_limit, trips, size + 1)
        return np.cumsum(by_limit[:size])

    def penalty_of_money(self, spent: FloatArray) -> float:
        """What is counted for money beyond the limits: drawn as credit first [home currency]."""
        over = max(float((spent - self.limits).max(initial=0.0)), 0.0)
        if self.credit_cost >= self.cash_penalty:
            return self.cash_penalty * over
        return self.credit_cost * min(over, self.credit) + self.cash_penalty * max(over - self.credit, 0.0)

    def weight_of_money(self, months: FloatArray) -> FloatArray:
        """(limits + 1,) what money paid by each limit weighs, given the price of money by each limit; 0 for never."""
        return np.concatenate((np.cumsum(months[::-1])[::-1], [0.0]))


def _at_all(problem: PurchaseProblem, needs: Sequence[str]) -> tuple[list[Candidate], list[Shipment], dict[str, Any]]:
    """Candidates in order, their shipments, and the entries of what covers needed parts."""
    held: dict[str, list[Candidate]] = {}
    for candidate in problem.candidates:
        held.setdefault(candidate.shipment, []).append(candidate)
    by_key = {shipment.key: shipment for shipment in problem.shipments}
    keys = sorted(held)
    ordered = [c for key in keys for c in sorted(held[key], key=lambda c: c.key)]
    sizes = np.array([len(held[key]) for key in keys], dtype=np.int64)
    part_at = {part: index for index, part in enumerate(needs)}
    entries = [
        (row, part_at[p], q) for row, c in enumerate(ordered) for p, q in c.covers.items() if p in part_at and q > 0
    ]
    rows, parts, quantities = zip(*entries, strict=True) if entries else ((), (), ())
    fields = {
        "shipment": np.repeat(np.arange(len(keys)), sizes),
        "cover_candidate": np.array(rows, dtype=np.int64),
        "cover_part": np.array(parts, dtype=np.int64),
        "cover_quantity": floats(quantities),
    }
    return ordered, [by_key[key] for key in keys], fields


def _useful_units(ordered: Sequence[Candidate], wanted: FloatArray) -> IntArray:
    """More units than would cover every part of the candidate alone are never bought, save to get its price."""
    most = np.array([c.max_units for c in ordered], dtype=np.int64)
    least = np.array([c.min_units for c in ordered], dtype=np.int64)
    useful = np.minimum(most, np.maximum(wanted.astype(np.int64), least))
    return np.where((wanted > 0) & (useful >= least), useful, 0)


def _codes(names: Sequence[str]) -> IntArray:
    order = {name: index for index, name in enumerate(sorted(set(names)))}
    return np.array([order[name] for name in names], dtype=np.int64)


def floats(values: Iterable[float]) -> FloatArray:
    """An array of floats."""
    return np.array(list(values), dtype=np.float64)


def _free_lines(shipments: Sequence[Shipment]) -> dict[str, FloatArray]:
    """Fixed charges, freight that may be dropped, and from which value; folded where the band decides it."""
    fixed, freight = floats(s.fixed for s in shipments), floats(s.freight_fixed for s in shipments)
    line = floats(inf if s.free_freight_from is None else s.free_freight_from for s in shipments)
    low, high = floats(s.low_value for s in shipments), floats(s.high_value for s in shipments)
    always = (line <= low + MARGIN) | (line <= 0)
    never = ((line > high + MARGIN) | (line == inf)) & ~always
    return {
        "fixed": fixed + np.where(never, freight, 0.0),
        "freight": np.where(always | never, 0.0, freight),
        "free_from": line,
        "low": low,
        "high": high,
    }


def limit_of(months: Sequence[int], paid: Sequence[int | None]) -> IntArray:
    """First limit that something paid in a month counts toward; their number if it counts toward none."""
    codes = np.array([-1 if month is None else month for month in paid], dtype=np.int64)
    at = np.searchsorted(np.array(months, dtype=np.int64), codes)
    return np.where(np.array([month is None for month in paid], dtype=np.bool_), len(months), at)


def cash_entries(months: Sequence[int], candidates: Sequence[Candidate]) -> dict[str, Any]:
    """What is paid when, as entries."""
    if not months:
        nothing = np.zeros(0, dtype=np.int64)
        return {"cash_candidate": nothing, "cash_limit": nothing, "cash_amount": np.zeros(0)}
    entries = [(row, month, amount) for row, c in enumerate(candidates) for month, amount in c.cash]
    rows, paid, amounts = zip(*entries, strict=True) if entries else ((), (), ())
    return {
        "cash_candidate": np.array(rows, dtype=np.int64),
        "cash_limit": limit_of(months, paid),
        "cash_amount": floats(amounts),
    }


def unmet_costs(problem: PurchaseProblem, parts: Sequence[str], grid: Grid) -> FloatArray:
    """(parts,) penalty a missing unit, by default ten times the dearest way to buy one [home currency]."""
    dearest = np.ones(len(parts))
    charged = grid.cost + (grid.fixed + grid.freight)[grid.shipment]
    np.maximum.at(dearest, grid.cover_part, charged[grid.cover_candidate] / np.minimum(grid.cover_quantity, 1.0))
    return floats(problem.unmet_penalty.get(part, 10 * most) for part, most in zip(parts, dearest, strict=True))


def compile_grid(problem: PurchaseProblem) -> Grid:
    """The arrays of a problem; raises ValueError if the problem contradicts itself."""
    check_problem(problem)
    needs = {part: need for part, need in sorted(problem.needs.items()) if need > 1e-9}
    ordered, shipments, fields = _at_all(problem, list(needs))
    need = floats(needs.values())
    wanted = np.zeros(len(ordered))
    units = np.ceil(need[fields["cover_part"]] / fields["cover_quantity"] - 1e-9)
    np.maximum.at(wanted, fields["cover_candidate"], units)
    months = tuple(month for month, _ in sorted(dict(problem.cash_limits).items()))
    grid = Grid(
        parts=tuple(needs),
        need=need,
        candidates=tuple(ordered),
        shipments=tuple(shipments),
        most=_useful_units(ordered, wanted),
        unmet_cost=np.zeros(0),
        hopeless=(),
        modes=no_modes(len(ordered)),
        cash_penalty=problem.cash_penalty,
        credit=problem.credit,
        credit_cost=problem.credit_cost,
        supplier_cost=problem.supplier_cost,
        **fields,
        **_of_candidates(ordered, months, problem.fixed),
        **_of_shipments(shipments, problem.trips, months),
        **_of_trips(problem, months),
    )
    grid = _reachable(problem, _tidied(problem, grid))
    grid = replace(grid, bulky=_bulky(grid))
    if grid.forced.any():  # fixed choices may ask for more than is useful
        return grid
    modes = modes_of(grid.candidates, grid.shipments, grid.shipment, grid.supplier, grid.most)
    return replace(grid, modes=modes)


def _of_candidates(ordered: Sequence[Candidate], months: Sequence[int], forced: Mapping[str, int]) -> dict[str, Any]:
    return {
        "offer": _codes([c.offer for c in ordered]),
        "cost": floats(c.cost for c in ordered),
        "value": floats(c.value for c in ordered),
        "mass": floats(c.mass_kg for c in ordered),
        "volume": floats(c.volume_m3 for c in ordered),
        "relieved": floats(c.relieved for c in ordered),
        "least": np.array([c.min_units for c in ordered], dtype=np.int64),
        "forced": np.array([forced.get(c.key, 0) for c in ordered], dtype=np.int64),
        **cash_entries(months, ordered),
    }


def _of_shipments(shipments: Sequence[Shipment], trips: Sequence[Trip], months: Sequence[int]) -> dict[str, Any]:
    trip_at = {trip.id: index for index, trip in enumerate(sorted(trips, key=lambda trip: trip.id))}
    return {
        "first": np.zeros(0, dtype=np.int64),
        "relief": np.array([s.relief for s in shipments], dtype=np.bool_),
        "crossing": np.array([s.crossing for s in shipments], dtype=np.bool_),
        "group": _codes([s.group for s in shipments]),
        "supplier": _codes([s.supplier for s in shipments]),
        "trip": np.array([trip_at[s.collection] if s.collection else -1 for s in shipments], dtype=np.int64),
        "charge_limit": limit_of(months, [s.cash_month for s in shipments]),
        **_free_lines(shipments),
    }


def _of_trips(problem: PurchaseProblem, months: tuple[int, ...]) -> dict[str, Any]:
    trips = tuple(sorted(problem.trips, key=lambda trip: trip.id))
    limits = dict(problem.cash_limits)
    return {
        "trips": trips,
        "trip_fixed": floats(0.0 if t.paid_anyway else t.fixed for t in trips),
        "capacity": floats(inf if t.capacity_kg is None else t.capacity_kg for t in trips),
        "room": floats(inf if t.capacity_m3 is None else t.capacity_m3 for t in trips),
        "bulky": np.zeros(len(trips), dtype=np.bool_),
        "allowance": floats(t.allowance for t in trips),
        "trip_limit": limit_of(months, [None if t.paid_anyway else t.cash_month for t in trips]),
        "months": months,
        "limits": floats(limits[month] for month in months),
    }


def _bulky(grid: Grid) -> BoolArray:
    """(trips,) whether all that could come by the trip is more beyond its room than beyond the mass it carries."""
    trip = grid.trip[grid.shipment]
    inside = trip >= 0
    mass, volume = (
        tally(trip[inside], (each * grid.most)[inside], len(grid.trips)) for each in (grid.mass, grid.volume)
    )
    return np.asarray(volume / np.maximum(grid.room, MARGIN) > mass / np.maximum(grid.capacity, MARGIN))


def _tidied(problem: PurchaseProblem, grid: Grid) -> Grid:
    """Without what cannot be part of a plan: useless candidates, bands their goods cannot reach."""
    bound_to = np.array([c.key in problem.fixed for c in grid.candidates], dtype=np.bool_)
    fits = grid.value * grid.least <= grid.high[grid.shipment] + MARGIN
    most = np.where(bound_to, grid.forced, np.where(fits, grid.most, 0))
    reach = tally(grid.shipment, grid.value * most, len(grid.shipments))
    usable = (grid.low <= reach + MARGIN) | (
        np.isin(np.arange(len(grid.shipments)), grid.shipment[bound_to & (most > 0)])
    )
    return part_of(replace(grid, most=most), (most > 0) & usable[grid.shipment])


def _reachable(problem: PurchaseProblem, grid: Grid) -> Grid:
    """Without parts that nothing covers."""
    offered = tally(grid.cover_part, grid.cover_quantity, len(grid.parts)) > 0
    place = np.cumsum(offered) - 1
    parts = tuple(part for part, seen in zip(grid.parts, offered, strict=True) if seen)
    lacking = tuple((p, float(n)) for p, n, seen in zip(grid.parts, grid.need, offered, strict=True) if not seen)
    grid = replace(grid, parts=parts, need=grid.need[offered], cover_part=place[grid.cover_part], hopeless=lacking)
    return replace(grid, unmet_cost=unmet_costs(problem, parts, grid))


def part_of(grid: Grid, keep: BoolArray) -> Grid:
    """The grid of some candidates and their shipments; parts, trips, limits, and numbers of all groups stay."""
    kept = np.flatnonzero(keep)
    used, shipment = np.unique(grid.shipment[kept], return_inverse=True)
    place = np.full(keep.size, -1)
    place[kept] = np.arange(kept.size)
    covers, pays = keep[grid.cover_candidate], keep[grid.cash_candidate]
    columns: dict[str, Any] = {
        name: getattr(grid, name)[kept]
        for name in ("offer", "cost", "value", "mass", "volume", "relieved", "least", "most", "forced")
    }
    columns |= {
        name: getattr(grid, name)[used]
        for name in (
            *("fixed", "freight", "free_from", "low", "high", "relief", "crossing", "trip", "charge_limit"),
            *("group", "supplier"),
        )
    }
    return replace(
        grid,
        candidates=tuple(grid.candidates[i] for i in kept.tolist()),
        shipments=tuple(grid.shipments[i] for i in used.tolist()),
        shipment=shipment,
        first=np.searchsorted(shipment, np.arange(used.size + 1)),
        cover_candidate=place[grid.cover_candidate[covers]],
        cover_part=grid.cover_part[covers],
        cover_quantity=grid.cover_quantity[covers],
        cash_candidate=place[grid.cash_candidate[pays]],
        cash_limit=grid.cash_limit[pays],
        cash_amount=grid.cash_amount[pays],
        modes=replace(grid.modes, row=grid.modes.row[kept]),
        **columns,
    )


def best_of_parts(grid: Grid, score: FloatArray, among: BoolArray, count: int) -> BoolArray:
    """(candidates,) whether it is one of so many of least score, of those considered, for any of its parts."""
    entries = np.flatnonzero(among[grid.cover_candidate])
    candidate, part = grid.cover_candidate[entries], grid.cover_part[entries]
    order = np.lexsort((score[candidate], part))
    first = np.searchsorted(part[order], np.arange(len(grid.parts)))
    rank = np.arange(order.size) - first[part[order]]
    best = np.zeros(among.size, dtype=np.bool_)
    best[candidate[order[rank < count]]] = True
    return best


def spread_out(grid: Grid, score: FloatArray) -> BoolArray:
    """(candidates,) whether it has the least score of its offer, at its price by count, by its way home in a month.

    The weeks round the best one are nearly as good as it is, and tell the solver nothing that it does not know from it.
    """
    week = np.array([shipment.week for shipment in grid.shipments], dtype=np.int64) // WEEKS_ALIKE
    way = np.where(grid.trip >= 0, 2 + grid.trip, grid.relief)
    alike = week * (len(grid.trips) + 2) + way
    priced = grid.offer * (1 + grid.least.max(initial=0)) + grid.least
    one = priced * (1 + alike.max(initial=0)) + alike[grid.shipment]
    order = np.lexsort((score, one))
    found = np.zeros(order.size, dtype=np.bool_)
    found[order[np.diff(one[order], prepend=-1) != 0]] = True
    return found


def in_other_bands(grid: Grid, among: BoolArray) -> BoolArray:
    """(candidates,) whether it is an offer of some candidates in their supplier, week and route, whatever the band."""
    place = grid.offer * grid.groups + grid.group[grid.shipment]
    return np.isin(place, place[among])
