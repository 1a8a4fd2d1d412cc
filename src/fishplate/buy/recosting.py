"""The exact cost of a selection, and the plan with its words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from fishplate.build import Assumption

from .grid import FloatArray, Grid, IntArray, tally
from .model import Multipliers, PurchaseLine, PurchasePlan, PurchaseProblem, Recost, Selection
from .programme import savings


@dataclass(frozen=True, slots=True)
class Costed:
    """A selection with modelled and exact cost by shipment; trips less what is saved on them; penalties."""

    units: IntArray
    modelled: Mapping[str, float]
    exact: Mapping[str, float]
    trips: float
    penalty: float = 0.0

    @property
    def total(self) -> float:
        """Exact cost of all shipments, and trips less what is saved on them [home currency]."""
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
    used = tally(grid.shipment, units, size) > 0
    value = tally(grid.shipment, units * grid.value, size)
    variable = tally(grid.shipment, units * grid.cost, size)
    freight = np.where(value + 1e-6 >= grid.free_from, 0.0, grid.freight)
    return np.asarray(np.where(used, grid.fixed + freight + variable, 0.0))


def missing_parts(grid: Grid, units: IntArray) -> FloatArray:
    """(parts,) quantity left uncovered."""
    bought = units[grid.cover_candidate] * grid.cover_quantity
    missing = grid.need - tally(grid.cover_part, bought, len(grid.parts))
    return np.where(missing > 1e-9, missing, 0.0)


def _trips_made(grid: Grid, units: IntArray) -> list[int]:
    return sorted({int(trip) for trip in grid.trip[grid.shipment[units > 0]] if trip >= 0})


def _spent(grid: Grid, units: IntArray, shipment_costs: FloatArray) -> FloatArray:
    """(limits,) money spent by each limit [home currency]."""
    variable = tally(grid.shipment, units * grid.cost, len(grid.shipments))
    charges = np.where(shipment_costs != 0, shipment_costs - variable, 0.0)
    trips = np.zeros(len(grid.trips))
    trips[_trips_made(grid, units)] = 1.0
    return grid.spent(units, charges, trips * grid.trip_fixed)


def overspent(grid: Grid, units: IntArray, shipment_costs: FloatArray) -> FloatArray:
    """(limits,) money spent by each limit beyond it and the credit [home currency]."""
    return np.maximum(_spent(grid, units, shipment_costs) - grid.limits - grid.credit, 0.0)


def selection_of(grid: Grid, units: IntArray) -> dict[str, tuple[tuple[str, int], ...]]:
    """Shipment key to its lines, as the re-costing wants it."""
    chosen: dict[str, list[tuple[str, int]]] = {}
    for index in np.flatnonzero(units).tolist():
        candidate = grid.candidates[index]
        chosen.setdefault(candidate.shipment, []).append((candidate.key, int(units[index])))
    return {key: tuple(lines) for key, lines in chosen.items()}


def selection_faults(grid: Grid, units: IntArray) -> list[str]:
    """Why a selection cannot travel as it stands; empty if it can."""
    size = len(grid.shipments)
    used = tally(grid.shipment, units, size) > 0
    value = tally(grid.shipment, units * grid.value, size)
    outside = used & ((value < grid.low - 1e-6) | (value > grid.high + 1e-6))
    faults = [
        f"shipment {grid.shipments[s].key}: goods of {value[s]:.2f} are outside its band"
        for s in np.flatnonzero(outside)
    ]
    bands = np.bincount(grid.group[used], minlength=grid.groups)
    faults += [
        f"shipment {grid.shipments[s].key}: another band of it is used too"
        for s in np.flatnonzero(used)
        if bands[grid.group[s]] > 1
    ]
    crossing = np.bincount(grid.supplier[used & grid.crossing], minlength=size + 1)
    relieved = np.flatnonzero(used & grid.relief & (crossing[grid.supplier] > 1))
    faults += [f"shipment {grid.shipments[s].key}: a relief, but not the supplier's sole shipment" for s in relieved]
    faults += [
        f"candidate {grid.candidates[c].key}: fewer than {grid.least[c]}"
        for c in np.flatnonzero((units > 0) & (units < grid.least))
    ]
    for index, trip in enumerate(grid.trips):
        inside = grid.trip[grid.shipment] == index
        for each, capacity, unit in ((grid.mass, grid.capacity, "kg"), (grid.volume, grid.room, "m³")):
            load = float((units * each)[inside].sum())
            if load > capacity[index] + 1e-6:
                faults.append(f"trip {trip.id}: {load:g} {unit}, but it carries {capacity[index]:g} {unit}")
    return faults


def cost_exactly(grid: Grid, units: IntArray, recost: Recost) -> Costed:
    """Ask for the exact cost of each shipment of a selection."""
    selection = selection_of(grid, units)
    modelled = modelled_costs(grid, units)
    exact = recost(selection) if selection else {}
    penalty = float(missing_parts(grid, units) @ grid.unmet_cost)
    penalty += grid.penalty_of_money(_spent(grid, units, modelled))
    penalty += grid.supplier_cost * np.unique(grid.supplier[grid.shipment[units > 0]]).size
    return Costed(
        units,
        {s.key: float(modelled[i]) for i, s in enumerate(grid.shipments) if s.key in selection},
        {key: float(exact[key]) for key in selection},
        float(grid.trip_fixed[_trips_made(grid, units)].sum() - savings(grid, units).sum()),
        penalty,
    )


def recost_by_model(problem: PurchaseProblem) -> Recost:
    """Re-costing by the linear model's own charges: for trials, and where nothing more exact is known."""
    candidates = {candidate.key: candidate for candidate in problem.candidates}
    shipments = {shipment.key: shipment for shipment in problem.shipments}

    def recost(selection: Selection) -> dict[str, float]:
        costs = {}
        for key, lines in selection.items():
            shipment, line = shipments[key], shipments[key].free_freight_from
            value = sum(candidates[candidate].value * units for candidate, units in lines)
            freight = 0.0 if line is not None and value + 1e-6 >= line else shipment.freight_fixed
            goods = sum(candidates[candidate].cost * units for candidate, units in lines)
            costs[key] = shipment.fixed + freight + goods
        return costs

    return recost


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
    *,
    bound: float,
    gap: float,
    rounds: int = 1,
    apart: float = 0.0,
    ran_out: bool = False,
    by_clock: bool = False,
    multipliers: tuple[Multipliers, ...] = (),
) -> PurchasePlan:
    """The plan of a costed selection, with what it could not do and its words."""
    units = costed.units
    missing = missing_parts(grid, units)
    unmet = {part: float(q) for part, q in zip(grid.parts, missing, strict=True) if q > 0} | dict(grid.hopeless)
    over = overspent(grid, units, modelled_costs(grid, units))
    cash_over = {month: float(v) for month, v in zip(grid.months, over, strict=True) if v > 0.005}
    reached = min(max(0.0, (costed.objective - bound) / max(abs(costed.objective), 1e-9)), 1.0)
    trips = tuple(grid.trips[trip].id for trip in _trips_made(grid, units))
    saved = {grid.trips[t].id: float(v) for t, v in enumerate(savings(grid, units)) if v > 0.005}
    plan = PurchasePlan(
        lines=_lines(grid, units),
        shipments=tuple(sorted(costed.exact)),
        trips=trips,
        total=costed.total,
        model_total=sum(costed.modelled.values()) + costed.trips,
        bound=bound,
        gap=reached,
        optimal=reached <= gap + 1e-6,
        unmet=dict(sorted(unmet.items())),
        assumptions=_assumptions(grid, cash_over, ran_out, by_clock),
        text="",
        shipment_costs=dict(sorted(costed.exact.items())),
        cash_over=cash_over,
        penalty=costed.penalty,
        rounds=rounds,
        multipliers=multipliers,
        saved=saved,
    )
    return replace(plan, text=_words(plan, apart))


def _assumptions(grid: Grid, cash_over: Mapping[int, float], ran_out: bool, by_clock: bool) -> tuple[Assumption, ...]:
    found = []
    if cash_over:
        text = f"money beyond the monthly limits was counted at {grid.cash_penalty:g} times its amount"
        found.append(Assumption("cash-penalty", "build", text))
    if by_clock:
        text = "the search for a cheaper plan was stopped by the clock, so another run may find another plan"
        found.append(Assumption("time-limit", "build", text))
    elif ran_out:
        text = "the search for a cheaper plan was stopped at its limit of work; the same search ends alike"
        found.append(Assumption("work-limit", "build", text))
    return tuple(found)


def _words(plan: PurchasePlan, apart: float) -> str:
    """The plan in a few sentences."""
    orders, trips = len(plan.shipments), len(plan.trips)
    said = [f"{_count(orders, 'shipment')} and {_count(trips, 'trip')}, {plan.total:.2f} in all."]
    if plan.bound == -np.inf:
        said.append("How much another plan could save was not looked into.")
    elif plan.total + plan.penalty < plan.bound - 0.005:
        said.append("The exact charges are below the modelled ones, so how much another plan could save is not known.")
    elif plan.gap < 0.0005:
        said.append("For these dates no plan is cheaper.")
    else:
        said.append(f"For these dates no plan is cheaper by more than {100 * plan.gap:.1f} %.")
    if apart > 0.005:
        said.append(
            f"The exact charges differed from the modelled ones by {100 * apart:.1f} %, so the plan was made in "
            f"{_count(plan.rounds, 'round')} and the cheapest kept."
        )
    if plan.unmet:
        said.append("Not bought: " + ", ".join(f"{part} ({q:g})" for part, q in plan.unmet.items()) + ".")
    if plan.cash_over:
        month, most = max(plan.cash_over.items(), key=lambda entry: entry[1])
        said.append(f"It spends up to {most:.2f} more than the limit allows, most by the end of month {month}.")
    return " ".join(said)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
