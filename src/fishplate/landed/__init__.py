"""What a consignment costs at the garage door, from rules held as data. Estimates: the authority decides.

- `model`: consignments in, itemised costs out
- `kinds`, `rules`: rule files, read, resolved for a day, overridden in sight; `data/` holds them
- `seller`: what becomes of a price: the seller's own tax, and who gets it back
- `allowance`, `charges`: relief, duty, tax and fees of one declaration
- `quote`: the itemised landed cost of a consignment, and of a trip
- `freight`: freight terms, limits of a route, what a trip costs
- `bands`: the same cost as a linear model, for choosing purchases
"""

from .bands import ChargeBand, charge_bands
from .freight import collection_cost, freight_for, route_problem
from .model import Consignment, CostLine, Doubt, Goods, LandedCost, TravelAllowance
from .quote import landed_cost, landed_trip
from .rules import RuleSet, load_rules

__all__ = [
    "ChargeBand",
    "Consignment",
    "CostLine",
    "Doubt",
    "Goods",
    "LandedCost",
    "RuleSet",
    "TravelAllowance",
    "charge_bands",
    "collection_cost",
    "freight_for",
    "landed_cost",
    "landed_trip",
    "load_rules",
    "route_problem",
]
