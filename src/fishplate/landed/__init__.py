"""What a consignment costs at the garage door, from rules held as data. Estimates: the authority decides.

- `model`: consignments in, itemised costs out
- `kinds`, `rules`, `rule_faults`, `overrides`: rule files, read, checked against each other, overridden in sight
- `rules_of_day`: what holds on a day for goods that come in one way; `data/` holds a file a jurisdiction
- `exchange`: the rates customs converts at, as the authority prints them
- `seller`: what becomes of a price: the seller's own tax, and who gets it back
- `allowance`, `travel`, `charges`: allowances, relief, duty, tax and fees of one declaration
- `case`, `itemise`, `route_fees`, `quote`: the itemised landed cost of a consignment, and of a trip
- `freight`: freight terms, chargeable mass, limits of a route, what a trip costs
- `fetching`, `ordered`, `border_list`: what a parcel adds to a trip, when it pays, the list for the border
- `bill`: a bill that came against the estimate, line by line
- `offers`: a build's offers, alone and by supplier, by each way home
- `asked`, `goods_text`: goods outside a build's offers, as a person writes them down, by every way home
- `bands`, `band_terms`: the same cost as a linear model, for choosing purchases
"""

from .asked import PLAIN_WAYS, AskedGoods, by_every_way, unknown_fees, ways_for
from .bands import ChargeBand, charge_bands
from .bill import (
    BillDifference,
    BillLine,
    BillReport,
    compare_bill,
    compare_lines,
    expected_lines,
    likely_bill,
    likely_charges,
)
from .border_list import DeclarationList, DeclaredLine, declaration_list, list_of, own_allowance, storage_costs
from .core import core_assumed, core_weeks, with_core
from .exchange import rates_as_printed
from .fetching import (
    AddedParcel,
    BreakEven,
    added_parcel,
    arrival_days,
    break_even,
    collection_problems,
    longest_mm,
    next_allowance,
    storage_line,
    trip_allowance,
    trip_volume_m3,
)
from .freight import chargeable_mass_kg, collection_cost, freight_for, route_problem
from .goods_text import read_goods
from .model import Consignment, CostLine, Doubt, Goods, LandedCost, RuleNote, TravelAllowance
from .offers import (
    AtTheDoor,
    OffersReport,
    TripAtTheDoor,
    WayHome,
    baskets_at_the_door,
    baskets_for_trip,
    offered_goods,
    offers_at_the_door,
    trip_against,
    way_home,
)
from .ordered import (
    cost_at_list,
    cost_when_ordered,
    expected_cost,
    fetched_consignments,
    fetched_costs,
    recorded_bill,
)
from .quote import landed_cost, landed_trip
from .rules import RuleSet, destinations, load_rules

__all__ = [
    "PLAIN_WAYS",
    "AddedParcel",
    "AskedGoods",
    "AtTheDoor",
    "BillDifference",
    "BillLine",
    "BillReport",
    "BreakEven",
    "ChargeBand",
    "Consignment",
    "CostLine",
    "DeclarationList",
    "DeclaredLine",
    "Doubt",
    "Goods",
    "LandedCost",
    "OffersReport",
    "RuleNote",
    "RuleSet",
    "TravelAllowance",
    "TripAtTheDoor",
    "WayHome",
    "added_parcel",
    "arrival_days",
    "baskets_at_the_door",
    "baskets_for_trip",
    "break_even",
    "by_every_way",
    "charge_bands",
    "chargeable_mass_kg",
    "collection_cost",
    "collection_problems",
    "compare_bill",
    "compare_lines",
    "core_assumed",
    "core_weeks",
    "cost_at_list",
    "cost_when_ordered",
    "declaration_list",
    "destinations",
    "expected_cost",
    "expected_lines",
    "fetched_consignments",
    "fetched_costs",
    "freight_for",
    "landed_cost",
    "landed_trip",
    "likely_bill",
    "likely_charges",
    "list_of",
    "load_rules",
    "longest_mm",
    "next_allowance",
    "offered_goods",
    "offers_at_the_door",
    "own_allowance",
    "rates_as_printed",
    "read_goods",
    "recorded_bill",
    "route_problem",
    "storage_costs",
    "storage_line",
    "trip_against",
    "trip_allowance",
    "trip_volume_m3",
    "unknown_fees",
    "way_home",
    "ways_for",
    "with_core",
]
