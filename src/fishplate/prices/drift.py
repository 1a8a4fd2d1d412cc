"""How fast an offer's regular price rises, and how much it scatters: own sightings, its category, consumer prices."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ..build import Assumption, Build
from ..build.commerce import Offer, PriceChange
from .priors import DriftPrior

DAYS_PER_YEAR = 365.25
# How many sightings the usual scatter is worth against an offer's own.
SCATTER_PRIOR_COUNT = 4
# A price seen wrongly must not promise doubling; drift is held within this share a year.
LARGEST_DRIFT = 0.3


@dataclass(frozen=True, slots=True)
class Slope:
    """What an offer's own sightings say of its drift.

    Parameters
    ----------
    rate : rise of the logarithm of the regular price in a year, and its variance; None where they say nothing
    scatter : of the regular price about its path from week to week [-]
    sightings : how many regular ones there are
    """

    rate: float | None
    variance: float
    scatter: float
    sightings: int


@dataclass(frozen=True, slots=True)
class Drift:
    """Rise of the regular price in a year, and what it rests on; all as shares [-].

    Parameters
    ----------
    spread : standard deviation of what is left unsure of the rise
    scatter : from week to week
    own, category : weight of the offer's own sightings, and of those of other offers of its category; the rest of 1
        is the weight of consumer prices with what the category usually adds
    """

    yearly: float
    spread: float
    scatter: float
    own_sightings: int
    own: float = 0.0
    category: float = 0.0

    @property
    def wander_weekly(self) -> float:
        """How far the price may wander in a week, so that a year of weeks makes up the unsure drift [-]."""
        return max(self.scatter, self.spread / math.sqrt(52))


def changes_for(build: Build, offer: Offer, categories: Iterable[str]) -> tuple[PriceChange, ...]:
    """Announced changes that touch an offer; of a change's scopes all that are named must hold."""
    words = {category.strip().lower() for category in categories}
    return tuple(
        change
        for change in sorted(build.price_changes, key=lambda change: (change.day, change.id))
        if change.offer in (None, offer.id)
        and change.supplier in (None, offer.supplier)
        and (not change.category or change.category.strip().lower() in words)
    )


def announced_factor(changes: Iterable[PriceChange], after: date, until: date) -> float:
    """What the changes that fall after one day and up to another multiply a price by [-]."""
    return math.prod(1 + change.percent / 100 for change in changes if after < change.day <= until)


def slope_of(sightings: Sequence[tuple[date, float]], changes: Sequence[PriceChange], prior: DriftPrior) -> Slope:
    """What an offer's own regular sightings say.

    Parameters
    ----------
    sightings : day and regular price, in one currency; sales left out
    changes : announced changes, whose steps are not drift

    Notes
    -----
    The slope of a straight line through the logarithms. A sighting stands off the trend by at least `prior.step`, so
    that two sightings do not outweigh everything else. Scatter: residual variance pooled with the prior's, worth
    SCATTER_PRIOR_COUNT sightings.
    """
    newest = max((day for day, _ in sightings), default=None)
    points = sorted(
        (day, price)
        for day, price in sightings
        if price > 0 and newest is not None and announced_factor(changes, day, newest) > 0
    )
    if len({day for day, _ in points}) < 2:
        return Slope(None, math.inf, prior.scatter, len(points))
    last = points[-1][0]
    years = [(day - last).days / DAYS_PER_YEAR for day, _ in points]
    logs = [math.log(price * announced_factor(changes, day, last)) for day, price in points]
    mean_year, mean_log = math.fsum(years) / len(years), math.fsum(logs) / len(logs)
    spread_years = math.fsum((year - mean_year) ** 2 for year in years)
    slope = math.fsum((y - mean_year) * (v - mean_log) for y, v in zip(years, logs, strict=True)) / spread_years
    residual = math.fsum((v - mean_log - slope * (y - mean_year)) ** 2 for y, v in zip(years, logs, strict=True))
    freedom = len(points) - 2
    scatter = math.sqrt((SCATTER_PRIOR_COUNT * prior.scatter**2 + residual) / (SCATTER_PRIOR_COUNT + freedom))
    return Slope(slope, max(prior.step, scatter) ** 2 / spread_years, scatter, len(points))


def drifts(
    slopes: Mapping[str, Slope], priors: Mapping[str, DriftPrior], groups: Mapping[str, Hashable]
) -> Mapping[str, Drift]:
    """Every offer's drift: its own slope, drawn towards what its category's other offers show and consumer prices.

    Parameters
    ----------
    slopes, priors, groups : by offer: its own slope, its prior, and its category

    Notes
    -----
    Normal means with known variances in two layers: a category's rise lies about consumer prices and what it usually
    adds (variance shared²), an offer's about its category's (spread² - shared²), its slope about that (its own
    variance). Each offer's own slope enters once, beside those of the others. The result is held within LARGEST_DRIFT.
    """
    totals: dict[Hashable, tuple[float, float]] = {}
    for offer, slope in slopes.items():
        pull = _pull(slope, priors[offer])
        weight, sum_ = totals.get(groups[offer], (0.0, 0.0))
        totals[groups[offer]] = weight + pull[0], sum_ + pull[0] * pull[1]
    return {offer: _drift(slope, priors[offer], totals[groups[offer]]) for offer, slope in slopes.items()}


def _pull(slope: Slope, prior: DriftPrior) -> tuple[float, float]:
    """What one offer says of its category's rise beyond the prior: its weight, and the difference."""
    if slope.rate is None:
        return 0.0, 0.0
    own = prior.spread**2 - prior.shared**2
    held = max(-LARGEST_DRIFT, min(LARGEST_DRIFT, slope.rate))
    return 1 / (own + slope.variance), held - math.log1p(prior.yearly)


def _drift(slope: Slope, prior: DriftPrior, group: tuple[float, float]) -> Drift:
    own_pull, own_beyond = _pull(slope, prior)
    weight, beyond = max(0.0, group[0] - own_pull), group[1] - own_pull * own_beyond
    of_index = 1 / prior.shared**2 if prior.shared > 0 else math.inf
    others = weight / (weight + of_index) if of_index < math.inf else 0.0
    mean = math.log1p(prior.yearly) + (beyond / (weight + of_index) if others else 0.0)
    variance = prior.spread**2 - prior.shared**2 + (1 / (weight + of_index) if of_index < math.inf else 0.0)
    own = 0.0 if slope.rate is None else variance / (variance + slope.variance)
    rate = own * (slope.rate or 0.0) + (1 - own) * mean
    yearly = min(LARGEST_DRIFT, max(-LARGEST_DRIFT, math.expm1(min(rate, 1.0))))
    spread = math.sqrt(variance * (1 - own))
    return Drift(yearly, spread, slope.scatter, slope.sightings, own, (1 - own) * others)


def drift_assumption(about: str, prior: DriftPrior, drift: Drift) -> Assumption:
    """What was taken for granted about an offer's drift."""
    seen = f"{drift.own_sightings} regular sighting" + ("" if drift.own_sightings == 1 else "s")
    held = f", held within {100 * LARGEST_DRIFT:.0f} %" if abs(drift.yearly) >= LARGEST_DRIFT else ""
    moves = "falls" if drift.yearly < 0 else "rises"
    text = (
        f"regular price {moves} {100 * abs(drift.yearly):.1f} % a year ({seen}, drawn towards "
        f"{100 * prior.yearly:.0f} %: consumer prices {100 * prior.index:g} %, {prior.index_source}, and "
        f"{100 * prior.over_index:g} % for its category, common practice{held})"
    )
    return Assumption("price-drift", about, text)
