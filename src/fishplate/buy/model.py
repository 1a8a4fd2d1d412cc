"""What the purchase programme is asked, and what it answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import inf

from fishplate.build import Assumption

Selection = Mapping[str, tuple[tuple[str, int], ...]]
"""Shipment key to its lines (candidate key, units)."""

Recost = Callable[[Selection], Mapping[str, float]]
"""Gives the exact expected cost of each shipment of a selection, variable and fixed together [home currency].

A selection holds the whole plan, or all shipments of some suppliers: enough to see whether one is divided.
"""


@dataclass(frozen=True, slots=True)
class Shipment:
    """One charge band of one possible shipment: a supplier, a week, a way home.

    Parameters
    ----------
    group : the bands of one supplier, week and route share a group; at most one of them is used
    week : order week, counted from as_of [weeks]
    fixed : charged once if the shipment is used [home currency]
    freight_fixed : charged once too, but dropped when the goods reach free_freight_from [home currency]
    low_value, high_value : what the goods of the shipment may be worth in this band [home currency]
    relief : a low-value relief applies; only lawful for the supplier's sole border-crossing shipment of the plan
    crosses_border : counts as border-crossing; without a route nothing crosses
    cash_month : month in which the fixed charges are paid; None: they are not counted against the cash limits
    """

    key: str
    group: str
    supplier: str
    route: str | None
    collection: str | None
    week: int
    fixed: float
    freight_fixed: float = 0.0
    free_freight_from: float | None = None
    low_value: float = 0.0
    high_value: float = inf
    relief: bool = False
    crosses_border: bool = True
    cash_month: int | None = None

    @property
    def crossing(self) -> bool:
        """Whether it stands in the way of a relief for another shipment of the supplier."""
        return self.relief or (self.crosses_border and self.route is not None)


@dataclass(frozen=True, slots=True)
class Candidate:
    """One offer in one shipment: what may be bought.

    Parameters
    ----------
    covers : part to quantity in one unit; a kit covers several parts
    cost : all expected variable cost of one unit at the door [home currency]
    value : what one unit counts toward the band and the free-freight line [home currency]
    cash : (month index, amount per unit), below zero for money that comes back, as of a core [home currency]
    max_units : most units that can be bought
    min_units : fewest units, if any: a price that holds from so many on is a candidate of its own
    relieved : what the owner's allowance on the collection would save on one unit, while it lasts [home currency]
    mass_kg, volume_m3 : what one unit takes of what a trip carries [kg], [m³]
    """

    key: str
    offer: str
    shipment: str
    covers: Mapping[str, float]
    cost: float
    value: float
    mass_kg: float = 0.0
    cash: tuple[tuple[int, float], ...] = ()
    max_units: int = 1
    min_units: int = 1
    relieved: float = 0.0
    volume_m3: float = 0.0


@dataclass(frozen=True, slots=True)
class Trip:
    """A drive to a depot: what it costs if made, and what it can carry.

    Parameters
    ----------
    capacity_kg, capacity_m3 : mass [kg] and volume [m³] it carries; None: as much as there is
    paid_anyway : the trip is made whatever the plan says, so its cost is not counted
    allowance : the most that the owner's allowance can save on all the trip brings [home currency]; the saving is not
        counted in the cash limits
    """

    id: str
    fixed: float
    capacity_kg: float | None = None
    paid_anyway: bool = False
    cash_month: int | None = None
    allowance: float = 0.0
    capacity_m3: float | None = None


@dataclass(frozen=True, slots=True)
class PurchaseProblem:
    """What is needed, what can be bought and how it can travel.

    Parameters
    ----------
    needs : part to quantity still missing
    cash_limits : (month index, most that may have been spent by its end) [home currency]
    unmet_penalty : part to what one missing unit costs [home currency]; a part not named gets a default
    fixed : candidate key to units that must be bought, exactly
    cash_penalty : cost of each unit of money the plan must find beyond the limits [-]
    credit, credit_cost : money that may be drawn beyond the limits, as a stated credit [home currency], and what each
        unit of the most drawn costs [-]
    supplier_cost : what each supplier bought from counts, where few are wanted [home currency]
    """

    needs: Mapping[str, float]
    candidates: tuple[Candidate, ...]
    shipments: tuple[Shipment, ...]
    trips: tuple[Trip, ...] = ()
    cash_limits: tuple[tuple[int, float], ...] = ()
    unmet_penalty: Mapping[str, float] = field(default_factory=dict)
    fixed: Mapping[str, int] = field(default_factory=dict)
    cash_penalty: float = 10.0
    credit: float = 0.0
    credit_cost: float = 0.0
    supplier_cost: float = 0.0


@dataclass(frozen=True, slots=True)
class PurchaseLine:
    """A line of the plan: so many units of an offer, ordered in a week, in a shipment.

    Parameters
    ----------
    parts : part to quantity bought by the whole line
    cost : the line's variable cost, without its share of the shipment's charges [home currency]
    """

    candidate: str
    offer: str
    units: int
    week: int
    shipment: str
    parts: Mapping[str, float]
    cost: float


@dataclass(frozen=True, slots=True)
class Multipliers:
    """Prices that prove a bound for plans which make, or leave out, the named trips.

    Parameters
    ----------
    parts : part to price [home currency per unit]
    months : month to price of money spent by its end [-]
    kilograms : trip to price [home currency per kg, or per m³ where its room is likelier to give out]
    uses : shipment key to what it pays for its trip [home currency]
    allowances : trip to the share of a saving that goes to what it brings [-]
    modes : supplier, offer and mode (under a relief or without) to price of binding it to one [home currency per unit]
    """

    made: Mapping[str, bool]
    parts: Mapping[str, float]
    months: Mapping[int, float]
    kilograms: Mapping[str, float]
    uses: Mapping[str, float]
    allowances: Mapping[str, float] = field(default_factory=dict)
    modes: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PurchasePlan:
    """What to buy, when and in which shipments; its cost, and how far from the best it can be.

    Parameters
    ----------
    total : re-costed shipments plus trips, less allowances [home currency]; penalties are not part of it
    model_total : the same plan as the linear programme sees it [home currency]
    bound : no plan for these dates can cost less, penalties included, in the linear model [home currency]
    gap : (total + penalty - bound) / (total + penalty), between 0 and 1; 1 also if no bound is known [-]
    optimal : the gap asked for was reached
    unmet : part to quantity that is not bought; a part nobody can deliver is listed here and counted nowhere
    shipment_costs : shipment key to its re-costed cost [home currency]
    cash_over : month to money spent beyond its cumulative limit [home currency]
    penalty : what unmet parts, money beyond the limits, credit and suppliers were counted at [home currency]
    saved : trip to what the owner's allowance saves on it [home currency]
    multipliers : what the bound rests on, for a quick start next time
    """

    lines: tuple[PurchaseLine, ...]
    shipments: tuple[str, ...]
    trips: tuple[str, ...]
    total: float
    model_total: float
    bound: float
    gap: float
    optimal: bool
    unmet: Mapping[str, float]
    assumptions: tuple[Assumption, ...]
    text: str
    shipment_costs: Mapping[str, float] = field(default_factory=dict)
    cash_over: Mapping[int, float] = field(default_factory=dict)
    penalty: float = 0.0
    rounds: int = 1
    multipliers: tuple[Multipliers, ...] = ()
    saved: Mapping[str, float] = field(default_factory=dict)

    @property
    def units(self) -> dict[str, int]:
        """Candidate key to units bought."""
        return {line.candidate: line.units for line in self.lines}


def check_problem(problem: PurchaseProblem) -> None:
    """Raise ValueError if the problem contradicts itself; it is written by a program, not by a person."""
    shipments = {shipment.key: shipment for shipment in problem.shipments}
    candidates = {candidate.key for candidate in problem.candidates}
    faults = []
    if len(shipments) != len(problem.shipments) or len(candidates) != len(problem.candidates):
        faults.append("keys of shipments and of candidates must be unique")
    faults += _shipment_faults(problem)
    faults += [
        f"candidate {c.key}: unknown shipment {c.shipment}" for c in problem.candidates if c.shipment not in shipments
    ]
    faults += [
        f"candidate {c.key}: value, mass, volume or relief below zero"
        for c in problem.candidates
        if min(c.value, c.mass_kg, c.volume_m3, c.relieved) < 0
    ]
    faults += [f"candidate {c.key}: fewer than one unit" for c in problem.candidates if c.min_units < 1]
    faults += [f"fixed: unknown candidate {key}" for key in problem.fixed if key not in candidates]
    if min(problem.credit, problem.credit_cost, problem.supplier_cost) < 0:
        faults.append("credit, its cost, or the cost of a supplier below zero")
    if faults:
        raise ValueError("; ".join(faults[:5]))


def _shipment_faults(problem: PurchaseProblem) -> list[str]:
    trips = {trip.id for trip in problem.trips}
    suppliers: dict[str, str] = {}
    faults = [f"trip {trip.id}: an allowance below zero" for trip in problem.trips if trip.allowance < 0]
    for shipment in problem.shipments:
        if suppliers.setdefault(shipment.group, shipment.supplier) != shipment.supplier:
            faults.append(f"group {shipment.group} mixes suppliers")
        if shipment.collection is not None and shipment.collection not in trips:
            faults.append(f"shipment {shipment.key}: unknown trip {shipment.collection}")
        if min(shipment.fixed, shipment.freight_fixed) < 0:
            faults.append(f"shipment {shipment.key}: a charge below zero")
    return faults
