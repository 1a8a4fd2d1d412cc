"""What the price engine takes and gives: distributions of a week's price, outlooks, trigger plans, sale lists."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..build.problem import Assumption

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

Advice = Literal["buy now", "wait", "buy at the trigger"]


def _normal_cdf(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2))


@dataclass(frozen=True, slots=True)
class WeeklyPrice:
    """The price an offer may have in one week: a mixture of levels, each scattering lognormally about its mean.

    Parameters
    ----------
    means : mean price of each level [offer's currency]
    weights : chance of each level; they add up to 1
    sigma : standard deviation of the logarithm of the price at a level [-]

    Examples
    --------
    >>> WeeklyPrice((100.0, 80.0), (0.7, 0.3)).expected_min(90.0)
    87.0
    """

    means: tuple[float, ...]
    weights: tuple[float, ...]
    sigma: float = 0.0

    @property
    def mean(self) -> float:
        """Mean price [offer's currency]."""
        return math.fsum(weight * mean for weight, mean in zip(self.weights, self.means, strict=True))

    @property
    def is_uncertain(self) -> bool:
        """Whether the price has to be looked at to be known."""
        return self.sigma > 0 or len({mean for mean, w in zip(self.means, self.weights, strict=True) if w > 0}) > 1

    def expected_min(self, level: float) -> float:
        """Mean of the lower of the price and `level` [offer's currency]."""
        return math.fsum(
            weight * _lognormal_min(mean, self.sigma, level)
            for weight, mean in zip(self.weights, self.means, strict=True)
        )

    def chance_below(self, level: float) -> float:
        """Chance that the price is at or below `level`."""
        return math.fsum(
            weight * _lognormal_cdf(mean, self.sigma, level)
            for weight, mean in zip(self.weights, self.means, strict=True)
        )

    def draw(self, generator: np.random.Generator, count: int) -> FloatArray:
        """Prices drawn at random, shape (count,)."""
        levels = generator.choice(np.asarray(self.means), size=count, p=np.asarray(self.weights))
        noise = np.exp(self.sigma * generator.standard_normal(count) - self.sigma**2 / 2)
        return np.asarray(levels * noise, dtype=np.float64)


def _lognormal_min(mean: float, sigma: float, level: float) -> float:
    """E[min(P, k)] = m Φ((ln(k/m) - s²/2)/s) + k (1 - Φ((ln(k/m) + s²/2)/s)) for lognormal P of mean m."""
    if level <= 0:
        return level
    if mean <= 0 or sigma == 0 or math.isinf(level):
        return min(mean, level)
    distance = math.log(level / mean)
    below = mean * _normal_cdf((distance - sigma**2 / 2) / sigma)
    return below + level * _normal_cdf(-(distance + sigma**2 / 2) / sigma)


def _lognormal_cdf(mean: float, sigma: float, level: float) -> float:
    if mean <= 0 or sigma == 0 or math.isinf(level):
        return float(mean <= level)
    return _normal_cdf((math.log(level / mean) + sigma**2 / 2) / sigma) if level > 0 else 0.0


@dataclass(frozen=True, slots=True)
class ExpectedSale:
    """A sale an offer may see.

    Parameters
    ----------
    window : id of the sale window; empty for a sale seen without one
    first_week, last_week : weeks it touches, both included [weeks since as_of]
    chance : that it takes place, for all its weeks together
    depths : equally likely reductions, as shares of the regular price [-]
    seen : it was seen to be on
    first, last : its first and last day; None for a sale seen without a window
    quoted : it is no sale, but a price quoted to the owner
    ground : what its chance and depths rest on, in words
    """

    window: str
    first_week: int
    last_week: int
    chance: float
    depths: tuple[float, ...]
    seen: bool = False
    first: date | None = None
    last: date | None = None
    ground: str = ""
    quoted: bool = False

    @property
    def mean_depth(self) -> float:
        """Mean reduction, as a share of the regular price [-]."""
        return math.fsum(self.depths) / len(self.depths)


@dataclass(frozen=True, slots=True)
class Ground:
    """What a part of an outlook rests on, in words; `weight` is its share in it where several are weighed [-]."""

    text: str
    weight: float | None = None


@dataclass(frozen=True, slots=True)
class Outlook:
    """What an offer's price is expected to do, week by week, in the offer's currency.

    A week's regular price is that of its first day; a sale counts in every week it touches.

    Parameters
    ----------
    offer, name, supplier : id of the offer, name of what it sells, id of its seller
    currency : ISO 4217 code
    as_of : day week 0 begins
    now : the price last seen up to as_of; seen_on : that day, None if not known
    expected : expected price with sales and announced changes, shape (weeks,)
    list_price : expected price without sales, shape (weeks,)
    sale_chance : chance that a sale is on, shape (weeks,)
    sale_price : expected price if one is on, shape (weeks,); the list price where none is expected
    drift_yearly : rise of the regular price in a year, as a share [-]
    sigma_weekly : how far the regular price may wander from its path in a week, growing with the square root of weeks;
        standard deviation of the logarithm [-]
    scatter : how far it scatters about its path from one week to the next, as its own sightings show; standard
        deviation of the logarithm [-]
    available : whether it can be ordered, shape (weeks,)
    sales : the sales behind sale_chance
    grounds : what all of it rests on
    """

    offer: str
    name: str
    supplier: str
    currency: str
    as_of: date
    now: float
    seen_on: date | None
    expected: FloatArray
    list_price: FloatArray
    sale_chance: FloatArray
    sale_price: FloatArray
    drift_yearly: float
    sigma_weekly: float
    scatter: float
    available: BoolArray
    sales: tuple[ExpectedSale, ...]
    text: str
    assumptions: tuple[Assumption, ...] = ()
    grounds: tuple[Ground, ...] = ()

    @property
    def today(self) -> float:
        """What it is expected to cost today: a sale seen to be on counts, one only hoped for does not."""
        on = any(sale.seen and sale.first_week == 0 for sale in self.sales)
        return float(self.sale_price[0] if on else self.list_price[0])


@dataclass(frozen=True, slots=True)
class Waits:
    """What ordering an offer in a week costs beyond its price, for one unit.

    Parameters
    ----------
    weeks : order weeks, rising, since the day it was reckoned; what lies between is read off straight lines
    late : expected cost of coming late [home currency]
    keeping : expected cost of having it early, as a share of the price: money tied up, room, warranty, the right to
        return it lapsed when a misfit shows, shelf life [-]
    """

    weeks: tuple[float, ...] = ()
    late: tuple[float, ...] = ()
    keeping: tuple[float, ...] = ()

    def at(self, weeks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Lateness and keeping if ordered in given weeks, shape (weeks,) each."""
        if not self.weeks:
            return np.zeros(len(weeks)), np.zeros(len(weeks))
        late, keeping = np.interp(weeks, self.weeks, self.late), np.interp(weeks, self.weeks, self.keeping)
        return np.asarray(late), np.asarray(keeping)


@dataclass(frozen=True, slots=True)
class TriggerPlan:
    """Buy now or wait, and at which price to stop waiting.

    Parameters
    ----------
    offer : id of the offer
    prices : buy in week w at this price or less, at today's exchange rate, shape (weeks,) [offer's currency];
        infinite in the last week (buy at any price), zero where it cannot be ordered
    held_prices : the same where a price once seen stays open, as one that the seller holds does
    advice : "buy now", "wait" (for one week that is nearly certain to be best, or because nothing is lost by it) or
        "buy at the trigger"
    wait_until_week : the week most likely to be the one; None where the advice is to buy now [weeks since as_of]
    chance_to_see : chance of a price at or below the trigger after today and before the last safe week
    expected_saving : against buying today; 0 where buying today is best [home currency]
    expected_cost : mean cost of following the plan, carrying and lateness included [offer's currency]
    bought_by : week by which it is as good as certainly bought; last_safe : last in which ordering is safe [weeks since
        as_of]
    regret : chance that buying later, or today, would have cost less in all, by more than a look is worth
    held_saving : what it is worth that prices seen stay open, for one unit [home currency]
    """

    offer: str
    prices: FloatArray
    advice: Advice
    wait_until_week: int | None
    chance_to_see: float
    expected_saving: float
    expected_cost: float
    text: str
    bought_by: int = 0
    last_safe: int = 0
    regret: float = 0.0
    held_prices: FloatArray = field(default_factory=lambda: np.zeros(0))
    held_saving: float = 0.0


@dataclass(frozen=True, slots=True)
class ReadyToBuy:
    """A sale, an announced rise or the end of an offer, and what must be ready by its first day.

    Parameters
    ----------
    key : the sale window or price change, with the supplier where it holds for several, with the year where it comes
        again; for the end of offers, seller and day
    kind : "end": the last day on which they can be ordered
    first, last : first and last day of the sale; for a rise or an end its day, and None
    offers : what is worth buying then
    decide, measure : ids of decisions and dimensions still open for them
    fund : money needed [home currency]
    saving : expected saving lost if it is not ready, at the seller's price before freight and duty [home currency]; for
        an end 0 where nobody else is known to sell it
    chance, depth : that the sale takes place, and its mean reduction as a share; of a rise 1 and its share [-]
    ground : what chance and depth rest on, in words
    """

    key: str
    kind: Literal["sale", "rise", "end"]
    supplier: str
    first: date
    last: date | None
    offers: tuple[str, ...]
    decide: tuple[str, ...]
    measure: tuple[str, ...]
    fund: float
    saving: float
    text: str
    chance: float = 1.0
    depth: float = 0.0
    ground: str = ""


@dataclass(frozen=True, slots=True)
class PriceCheck:
    """An old price worth looking up again.

    Parameters
    ----------
    offer : id of the offer
    part : the part it is for
    reservation : look it up only while the best known price is above this [home currency]
    """

    offer: str
    part: str
    reservation: float
    text: str
