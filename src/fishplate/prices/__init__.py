"""Buy now or wait, at which price to stop waiting, and what must be ready before a sale or a rise.

- `outlook`: the expected price of each offer, week by week
- `drift`: how fast an offer's regular price rises, from its own sightings and its category
- `sales`: the sales an offer may see, and how likely each is
- `stopping`: the classical problems underneath: best week to stop, price worth another look, how early to order
- `trigger`: the trigger price of each week up to the last safe one
- `ready`: what must be decided, measured and funded before a sale or an announced rise
- `walk`: exchange rates as a joint random walk
- `checking`: which old prices to look up again first
- `model`: inputs and results; `data/drift.toml`: how prices move by category
"""

from .checking import prices_to_check
from .model import ExpectedSale, Outlook, PriceCheck, ReadyToBuy, TriggerPlan, WeeklyPrice
from .outlook import outlooks
from .ready import ready_to_buy
from .sales import triangular_quantile
from .stopping import critical_ratio, lead_allowance, reservation_value, stopping_values
from .trigger import price_in, trigger_plan
from .walk import RateHistory, RateWalk, walk_of

__all__ = [
    "ExpectedSale",
    "Outlook",
    "PriceCheck",
    "RateHistory",
    "RateWalk",
    "ReadyToBuy",
    "TriggerPlan",
    "WeeklyPrice",
    "critical_ratio",
    "lead_allowance",
    "outlooks",
    "price_in",
    "prices_to_check",
    "ready_to_buy",
    "reservation_value",
    "stopping_values",
    "triangular_quantile",
    "trigger_plan",
    "walk_of",
]
