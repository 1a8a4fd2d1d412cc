"""The purchase programme: which offer, from whom, in which week, in which shipment, on which trip.

- `model`: what is asked and answered: `PurchaseProblem`, `PurchasePlan` and their parts
- `solve`: the whole way from problem to plan; `pursuit`: the best plan so far and its bound, brought together
- `grid`: the problem as arrays, `patching`: with new prices
- `programme`: the mixed-integer programme; `highs`: the solver that runs it
- `bound`, `filling`, `modes`, `bounding`, `sifting`: what no plan can undercut
- `basket`, `search`, `polish`: a plan in the hand, a good one quickly, a better one by neighbourhoods
- `recosting`: exact costs and the plan's words
- `why`: the best plan with a part bought otherwise; `steady`: the one nearest the last plan
- `clash`: what can't all be kept, and the cheapest way out
"""

from .effort import seconds_for
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
    "Multipliers",
    "PurchaseLine",
    "PurchasePlan",
    "PurchaseProblem",
    "Recost",
    "Selection",
    "Shipment",
    "Trip",
    "recost_by_model",
    "seconds_for",
    "solve",
    "solve_fixed",
]
