"""What a consignment costs at the garage door, from rules held as data. Estimates: the authority decides.

- `model`: consignments in, itemised costs out
- `kinds`, `rules`: rule files, read, resolved for a day, overridden in sight; `data/` holds them
- `seller`: what becomes of a price: the seller's own tax, and who gets it back
- `allowance`, `charges`: relief, duty, tax and fees of one declaration
- `itemise`: the lines of one consignment
- `quote`: the itemised landed cost of a consignment, and of a trip
- `freight`: freight terms, limits of a route, what a trip costs
- `offers`: a build's offers, alone and by supplier, by each way home
- `bands`: the same cost as a linear model, for choosing purchases
"""

from .bands import ChargeBand, charge_bands
from .freight import collection_cost, freight_for, route_problem
from .model import Consignment, CostLine, Doubt, Goods, LandedCost, RuleNote, TravelAllowance
from .offers import AtTheDoor, OffersReport, TripAtTheDoor, WayHome, offers_at_the_door, way_home
from .quote import landed_cost, landed_trip
from .rules import RuleSet, destinations, load_rules

__all__ = [
    "AtTheDoor",
    "ChargeBand",
    "Consignment",
    "CostLine",
    "Doubt",
    "Goods",
    "LandedCost",
    "OffersReport",
    "RuleNote",
    "RuleSet",
    "TravelAllowance",
    "TripAtTheDoor",
    "WayHome",
    "charge_bands",
    "collection_cost",
    "destinations",
    "freight_for",
    "landed_cost",
    "landed_trip",
    "load_rules",
    "offers_at_the_door",
    "route_problem",
    "way_home",
]
