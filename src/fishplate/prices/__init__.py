"""Buy now or wait, at which price to stop waiting, and what must be ready before a sale or a rise.

- `outlook`: the expected price of each offer, week by week, and what it rests on
- `seen`: what was seen of each offer; `windows`: sales that may come; `sales`: those an offer may see
- `priors`, `drift`: how fast an offer's regular price rises: own sightings, its category, consumer prices
- `walk`: exchange rates as a joint random walk; `lattice`: one of them as a tree
- `stopping`: the classical problems underneath: best week to stop, price worth another look, how early to order
- `policy`: what going on waiting is worth, week by week; `recall`: where a price once seen stays open
- `regret`: how often a purchase will be regretted
- `trigger`, `trigger_words`: the trigger price of each week, and the advice
- `ready`: what must be decided, measured and funded before a sale, an announced rise or the end of an offer
- `checking`: which old prices to look up again first
- `model`: inputs and results; `data/`: how prices move by category and currency
"""

from .checking import prices_to_check
from .model import ExpectedSale, Ground, Outlook, PriceCheck, ReadyToBuy, TriggerPlan, Waits, WeeklyPrice
from .outlook import outlooks
from .ready import ready_to_buy
from .sales import triangular_points, triangular_quantile
from .stopping import critical_ratio, lead_allowance, reservation_value, stopping_values
from .trigger import price_in, trigger_plan
from .walk import RateHistory, RateWalk, walk_of

__all__ = [
    "ExpectedSale",
    "Ground",
    "Outlook",
    "PriceCheck",
    "RateHistory",
    "RateWalk",
    "ReadyToBuy",
    "TriggerPlan",
    "Waits",
    "WeeklyPrice",
    "critical_ratio",
    "lead_allowance",
    "outlooks",
    "price_in",
    "prices_to_check",
    "ready_to_buy",
    "reservation_value",
    "stopping_values",
    "triangular_points",
    "triangular_quantile",
    "trigger_plan",
    "walk_of",
]
