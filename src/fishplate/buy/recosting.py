"""The exact cost of a selection, and the plan with its words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fishplate.build import Assumption

from .bounding import Bounding
from .grid import FloatArray, Grid, IntArray
from .model import PurchaseLine, PurchasePlan, Recost


@dataclass(frozen=True, slots=True)
class Costed:
    """A selection with modelled and exact cost by shipment, and trips, unmet parts and money to be found."""

    units: IntArray
    modelled: Mapping[str, float]
    exact: Mapping[str, float]
    trips: float
    penalty: float = 0.0

    @property
    def total(self) -> float:
        """Exact cost of all shipments, and trips [home currency]."""
        return sum(self.exact.values()) + self.trips

    @property
    def objective(self) -> float:
        """Total and penalties [home currency]."""
        return self.total + self.penalty

    @property
    def apart(self) -> float:
        """Sum of the differences between exact and modelled shipments, as a share of the total [-]."""
        apart = sum(abs(self.exact[key] - self.modelled[key]) for key in self.exact)
        return apart / max(abs(self.total), 1e-9)


def modelled_costs(grid: Grid, units: IntArray) -> FloatArray:
    """(shipments,) cost of each shipment as the linear programme sees it; zero if unused [home currency]."""
    size = len(grid.shipments)
    used = np.bincount(grid.shipment, weights=units, minlength=size) > 0
    value = np.bincount(grid.shipment, weights=units * grid.value, minlength=size)
    variable = np.bincount(grid.shipment, weights=units * grid.cost, minlength=size)
    freight = np.where(value + 1e-6 >= grid.free_from, 0.0, grid.freight)
    return np.asarray(np.where(used, grid.fixed + freight + variable, 0.0))


def missing_parts(grid: Grid, units: IntArray) -> FloatArray:
    """(parts,) quantity left uncovered."""
    bought = units[grid.cover_candidate] * grid.cover_quantity
    missing = grid.need - np.bincount(grid.cover_part, weights=bought, minlength=len(grid.parts))
    return np.where(missing > 1e-9, missing, 0.0)


def _trips_made(grid: Grid, units: IntArray) -> list[int]:
    return sorted({int(trip) for trip in grid.trip[grid.shipment[units > 0]] if trip >= 0})


def overspent(grid: Grid, units: IntArray, shipment_costs: FloatArray) -> FloatArray:
    """(months,) money spent by the end of each month beyond its limit [home currency]."""
    variable = np.bincount(grid.shipment, weights=units * grid.cost, minlength=len(grid.shipments))
    charges = np.where(shipment_costs != 0, shipment_costs - variable, 0.0)
    trips = np.zeros(len(grid.trips))
    trips[_trips_made(grid, units)] = 1.0
    spent = grid.spend @ units + grid.charge_counts @ charges + grid.trip_counts @ (trips * grid.trip_fixed)
    return np.maximum(spent - grid.limits, 0.0)


def selection_of(grid: Grid, units: IntArray) -> dict[str, tuple[tuple[str, int], ...]]:
    """Shipment key to its lines, as the re-costing wants it."""
    chosen: dict[str, list[tuple[str, int]]] = {}
    for index in np.flatnonzero(units).tolist():
        candidate = grid.candidates[index]
        chosen.setdefault(candidate.shipment, []).append((candidate.key, int(units[index])))
    return {key: tuple(lines) for key, lines in chosen.items()}


def cost_exactly(grid: Grid, units: IntArray, recost: Recost) -> Costed:
    """Ask for the exact cost of each shipment of a selection."""
    selection = selection_of(grid, units)
    modelled = modelled_costs(grid, units)
    exact = recost(selection) if selection else {}
    penalty = float(missing_parts(grid, units) @ grid.unmet_cost)
    penalty += grid.cash_penalty * float(np.max(overspent(grid, units, modelled), initial=0.0))
    return Costed(
        units,
        {s.key: float(modelled[i]) for i, s in enumerate(grid.shipments) if s.key in selection},
        {key: float(exact[key]) for key in selection},
        float(grid.trip_fixed[_trips_made(grid, units)].sum()),
        penalty,
    )


def _lines(grid: Grid, units: IntArray) -> tuple[PurchaseLine, ...]:
    lines = []
    for index in np.flatnonzero(units).tolist():
        candidate, count = grid.candidates[index], int(units[index])
        week = grid.shipments[grid.shipment[index]].week
        parts = {part: quantity * count for part, quantity in candidate.covers.items()}
        cost = candidate.cost * count
        lines.append(PurchaseLine(candidate.key, candidate.offer, count, week, candidate.shipment, parts, cost))
    return tuple(sorted(lines, key=lambda line: (line.week, line.shipment, line.candidate)))


def make_plan(
    grid: Grid,
    costed: Costed,
    bounding: Bounding,
    bound: float,
    gap: float,
    rounds: int,
    first_apart: float,
    ran_out: bool,
) -> PurchasePlan:
    """The plan of a costed selection, with what it could not do."""
    units = costed.units
    missing = missing_parts(grid, units)
    unmet = {part: float(q) for part, q in zip(grid.parts, missing, strict=True) if q > 0} | dict(grid.hopeless)
    over = overspent(grid, units, modelled_costs(grid, units))
    cash_over = {month: float(v) for month, v in zip(grid.months, over, strict=True) if v > 0.005}
    reached = max(0.0, (costed.objective - bound) / costed.objective) if costed.objective > 0 else 0.0
    trips = tuple(grid.trips[trip].id for trip in _trips_made(grid, units))
    plan = PurchasePlan(
        lines=_lines(grid, units),
        shipments=tuple(sorted(costed.exact)),
        trips=trips,
        total=costed.total,
        model_total=sum(costed.modelled.values()) + costed.trips,
        bound=bound,
        gap=reached,
        optimal=reached <= gap + 1e-9,
        unmet=dict(sorted(unmet.items())),
        assumptions=_assumptions(grid, cash_over, ran_out),
        text="",
        shipment_costs=dict(sorted(costed.exact.items())),
        cash_over=cash_over,
        penalty=costed.penalty,
        rounds=rounds,
        multipliers=bounding.multipliers,
    )
    return _worded(plan, first_apart)


def _assumptions(grid: Grid, cash_over: Mapping[int, float], ran_out: bool) -> tuple[Assumption, ...]:
    found = []
    if cash_over:
        text = f"money beyond the monthly limits was counted at {grid.cash_penalty:g} times its amount"
        found.append(Assumption("cash-penalty", "build", text))
    if ran_out:
        text = "the search for a cheaper plan was stopped by the time limit, so another run may find another plan"
        found.append(Assumption("time-limit", "build", text))
    return tuple(found)


def _worded(plan: PurchasePlan, first_apart: float) -> PurchasePlan:
    from dataclasses import replace

    orders, trips = len(plan.shipments), len(plan.trips)
    said = [f"{orders} {'shipment' if orders == 1 else 'shipments'} and {trips} {'trip' if trips == 1 else 'trips'}, "
            f"{plan.total:.2f} in all."]  # fmt: skip
    if np.isfinite(plan.bound):
        said.append(f"For these dates no plan can save more than {100 * plan.gap:.1f} % of that.")
    else:
        said.append("How much a better plan could save is not known: the time limit came first.")
    if first_apart > 0.005:
        said.append(
            f"The exact charges differed from the modelled ones by {100 * first_apart:.1f} %, "
            f"so the plan was made {plan.rounds} times and the cheapest kept."
        )
    if plan.unmet:
        said.append("Not bought: " + ", ".join(f"{part} ({q:g})" for part, q in plan.unmet.items()) + ".")
    if plan.cash_over:
        month, most = max(plan.cash_over.items(), key=lambda entry: entry[1])
        said.append(f"It spends up to {most:.2f} more than the limit allows, most by the end of month {month}.")
    return replace(plan, text=" ".join(said))
