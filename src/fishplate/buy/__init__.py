"""The purchase programme: which offer, from whom, in which week, in which shipment, on which trip.

- `model`: what is asked and answered: `PurchaseProblem`, `PurchasePlan` and their parts
- `solve`: the whole way from problem to plan
- `grid`: the problem as arrays; `programme`: the mixed-integer programme on HiGHS
- `bound`, `bounding`: what no plan can undercut
- `basket`, `search`: a plan in the hand, and a good one quickly
- `recosting`: exact costs and the plan's words
"""

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
from .solve import solve

__all__ = [
    "Candidate",
    "Multipliers",
    "PurchaseLine",
    "PurchasePlan",
    "PurchaseProblem",
    "Recost",
    "Selection",
    "Shipment",
    "Trip",
    "solve",
]
