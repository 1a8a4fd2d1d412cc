"""The purchase programme: which offer, from whom, in which week, in which shipment, on which trip.

- `model`: what is asked and answered: `PurchaseProblem`, `PurchasePlan` and their parts
- `solve`: the whole way from problem to plan
- `grid`: the problem as arrays; `programme`: the mixed-integer programme; `highs`: the solver that runs it
- `bound`, `bounding`: what no plan can undercut
- `basket`, `search`: a plan in the hand, and a good one quickly
- `recosting`: exact costs and the plan's words
- `change`: what waiting with a part, or another offer, would cost; `explain` says it
"""

from .change import Changes, cheapest_change
from .explain import explain
from .model import (
    Candidate,
    Multipliers,
    PurchaseLine,
    PurchasePlan,
    PurchaseProblem,
    Recost,
    Selection,
    Shipment,
    Trip,
)
from .recosting import recost_by_model
from .solve import solve, solve_fixed

__all__ = [
    "Candidate",
    "Changes",
    "Multipliers",
    "PurchaseLine",
    "PurchasePlan",
    "PurchaseProblem",
    "Recost",
    "Selection",
    "Shipment",
    "Trip",
    "cheapest_change",
    "explain",
    "recost_by_model",
    "solve",
    "solve_fixed",
]
