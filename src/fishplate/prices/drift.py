"""How fast an offer's regular price rises, and how much it scatters: its own sightings, drawn towards its category."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from importlib.resources import files

from ..build import Assumption, Build
from ..build.commerce import Offer, PriceChange

DAYS_PER_YEAR = 365.25
# How many sightings the usual scatter is worth against an offer's own.
SCATTER_PRIOR_COUNT = 4
# A price seen wrongly must not promise doubling; drift is held within this share a year.
LARGEST_DRIFT = 0.3


@dataclass(frozen=True, slots=True)
class DriftPrior:
    """How prices move where nothing is known of an offer's own.

    Parameters
    ----------
    yearly : expected rise in a year, as a share; spread : one standard deviation of it between offers [-]
    step : how far one sighting stands off a smooth trend [-]; scatter : from week to week [-]
    """

    yearly: float
    spread: float
    step: float
    scatter: float


@dataclass(frozen=True, slots=True)
class DriftTable:
    """Priors by category; `default` where the category is not listed."""

    default: DriftPrior
    by_category: Mapping[str, DriftPrior]
    source: str

    def prior(self, categories: Sequence[str]) -> DriftPrior:
        """The prior of an offer: its category's, or the mean over the categories of a kit's parts."""
        found = [self.by_category.get(category.strip().lower(), self.default) for category in categories]
        if not found:
            return self.default
        return DriftPrior(
            *(math.fsum(getattr(p, name) for p in found) / len(found) for name in DriftPrior.__dataclass_fields__)
        )


@dataclass(frozen=True, slots=True)
class Drift:
    """Rise of the regular price in a year, what is left unsure of it, and its weekly scatter, all as shares [-]."""

    yearly: float
    spread: float
    scatter: float
    own_sightings: int

    @property
    def wander_weekly(self) -> float:
        """How far the price may wander in a week, so that a year of weeks makes up the unsure drift [-]."""
        return max(self.scatter, self.spread / math.sqrt(52))


@lru_cache(maxsize=1)
def drift_table() -> DriftTable:
    """The table in data/drift.toml."""
    raw = tomllib.loads(files(__package__).joinpath("data/drift.toml").read_text(encoding="utf-8"))
    usual = raw["default"]
    listed = {name: _prior({**usual, **row}) for row in raw["category"] for name in row["names"]}
    return DriftTable(_prior(usual), listed, raw["source"])


def _prior(row: Mapping[str, float]) -> DriftPrior:
    names = ("yearly_percent", "spread_percent", "step_percent", "scatter_percent")
    return DriftPrior(*(row[name] / 100 for name in names))


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


def drift_of(sightings: Sequence[tuple[date, float]], changes: Sequence[PriceChange], prior: DriftPrior) -> Drift:
    """Drift and scatter from an offer's own regular sightings, drawn towards its prior.

    Parameters
    ----------
    sightings : day and regular price, in one currency; sales left out
    changes : announced changes, whose steps are not drift

    Notes
    -----
    The slope of a straight line through the logarithms, weighed against the prior by their variances (normal mean
    with known variance). A sighting stands off the trend by at least `prior.step`, so that two sightings do not
    outweigh the category; the result is held within LARGEST_DRIFT. Scatter: residual variance pooled with the
    prior's, worth SCATTER_PRIOR_COUNT sightings.
    """
    newest = max((day for day, _ in sightings), default=None)
    points = sorted(
        (day, price)
        for day, price in sightings
        if price > 0 and newest is not None and announced_factor(changes, day, newest) > 0
    )
    if len({day for day, _ in points}) < 2:
        return Drift(prior.yearly, prior.spread, prior.scatter, len(points))
    last = points[-1][0]
    years = [(day - last).days / DAYS_PER_YEAR for day, _ in points]
    logs = [math.log(price * announced_factor(changes, day, last)) for day, price in points]
    mean_year, mean_log = math.fsum(years) / len(years), math.fsum(logs) / len(logs)
    spread_years = math.fsum((year - mean_year) ** 2 for year in years)
    slope = math.fsum((y - mean_year) * (v - mean_log) for y, v in zip(years, logs, strict=True)) / spread_years
    residual = math.fsum((v - mean_log - slope * (y - mean_year)) ** 2 for y, v in zip(years, logs, strict=True))
    freedom = len(points) - 2
    scatter = math.sqrt((SCATTER_PRIOR_COUNT * prior.scatter**2 + residual) / (SCATTER_PRIOR_COUNT + freedom))
    slope_variance = max(prior.step, scatter) ** 2 / spread_years
    own_weight = prior.spread**2 / (prior.spread**2 + slope_variance)
    rate = own_weight * slope + (1 - own_weight) * math.log1p(prior.yearly)
    yearly = min(LARGEST_DRIFT, max(-LARGEST_DRIFT, math.expm1(min(rate, 1.0))))
    return Drift(yearly, prior.spread * math.sqrt(1 - own_weight), scatter, len(points))


def drift_assumption(about: str, prior: DriftPrior, drift: Drift) -> Assumption:
    """What was taken for granted about an offer's drift."""
    seen = f"{drift.own_sightings} regular sighting" + ("" if drift.own_sightings == 1 else "s")
    held = f", held within {100 * LARGEST_DRIFT:.0f} %" if abs(drift.yearly) >= LARGEST_DRIFT else ""
    text = (
        f"regular price rises {100 * drift.yearly:.1f} % a year ({seen}, drawn towards {100 * prior.yearly:.0f} %, "
        f"common practice for its category{held})"
    )
    return Assumption("price-drift", about, text)
