"""Exchange rates ahead: a joint random walk, with the unrest and the kinship their own history shows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..build import Assumption
from .model import FloatArray

WEEKS_PER_YEAR = 52.1775
# Fewer weekly steps than these say too little of a currency's unrest.
LEAST_STEPS = 100
# What a currency without a history is taken to wander in a year; our own default.
UNKNOWN_YEARLY = 0.10


@dataclass(frozen=True, slots=True)
class RateHistory:
    """Past exchange rates, oldest first.

    Parameters
    ----------
    days : days the rates are of
    rates : currency -> units of it for one unit of a common base, None where none was published; as long as `days`
    source : who published them
    """

    days: tuple[date, ...]
    rates: Mapping[str, tuple[float | None, ...]]
    source: str


@dataclass(frozen=True, slots=True)
class RateWalk:
    """How the worth of foreign money in home currency may wander from today on.

    Parameters
    ----------
    home : home currency
    currencies : those that wander against it
    covariance : of a week's changes of the logarithms of their rates, one row a currency [-]

    Notes
    -----
    A random walk without drift (a martingale): after t weeks a rate is today's times exp(W - s² t / 2) with W normal of
    variance s² t. That no model beat it out of sample at horizons of up to a year: Meese and Rogoff (1983), Empirical
    exchange rate models of the seventies, Journal of International Economics 14.
    """

    home: str = ""
    currencies: tuple[str, ...] = ()
    covariance: tuple[tuple[float, ...], ...] = ()
    assumptions: tuple[Assumption, ...] = ()

    def sigma_weekly(self, currency: str) -> float:
        """Standard deviation of the logarithm of a currency's rate after a week [-]; 0 for home and unknown ones."""
        if currency not in self.currencies:
            return 0.0
        position = self.currencies.index(currency)
        return math.sqrt(self.covariance[position][position])

    def draws(self, generator: np.random.Generator, weeks: int, runs: int) -> dict[str, FloatArray]:
        """Joint draws of each currency's rate over today's, by week.

        Parameters
        ----------
        weeks, runs : how far, and how many

        Returns
        -------
        currency -> factor, shape (weeks + 1, runs); 1 in week 0
        """
        count = len(self.currencies)
        if not count:
            return {}
        covariance = np.asarray(self.covariance)
        values, vectors = np.linalg.eigh(covariance)
        root = vectors * np.sqrt(np.maximum(values, 0))
        steps = generator.standard_normal((weeks, runs, count)) @ root.T
        paths = np.zeros((weeks + 1, runs, count))
        np.cumsum(steps - np.diag(covariance) / 2, axis=0, out=paths[1:])
        np.exp(paths, out=paths)
        return {code: paths[:, :, position] for position, code in enumerate(self.currencies)}


def walk_of(history: RateHistory, home: str, currencies: Sequence[str]) -> RateWalk:
    """The walk of some currencies against the home currency, as their history shows it.

    Parameters
    ----------
    history : rates about a week apart
    home : home currency
    currencies : those wanted; home is left out

    Returns
    -------
    RateWalk, with what it rests on among its assumptions

    Notes
    -----
    Covariance about zero of the changes of logarithms, each over the root of its days. A currency with fewer than
    LEAST_STEPS steps is taken to wander UNKNOWN_YEARLY a year, by itself.
    """
    wanted = sorted(set(currencies) - {home})
    steps = {code: _steps(history, home, code) for code in wanted}
    known = [code for code in wanted if np.isfinite(steps[code]).sum() >= LEAST_STEPS]
    covariance = np.diag([UNKNOWN_YEARLY**2 / WEEKS_PER_YEAR] * len(wanted))
    if known:
        together = np.array([steps[code] for code in known])
        together = together[:, np.isfinite(together).all(axis=0)]
        if together.shape[1] < LEAST_STEPS:
            # no common span: each for itself
            found = np.diag([float(np.nanmean(steps[code] ** 2)) for code in known])
        else:
            found = together @ together.T / together.shape[1]
        at = [wanted.index(code) for code in known]
        covariance[np.ix_(at, at)] = found
    rows = tuple(tuple(float(value) for value in row) for row in covariance)
    walk = RateWalk(home, tuple(wanted), rows)
    return RateWalk(home, tuple(wanted), rows, tuple(_said(walk, history, code, code in known) for code in wanted))


def _steps(history: RateHistory, home: str, code: str) -> FloatArray:
    """A week's change of the logarithm of a rate, NaN where a rate is missing, shape (days - 1,)."""
    if len(history.days) < 2:
        return np.full(0, np.nan)
    ordinals = np.array([day.toordinal() for day in history.days])
    worth = np.log(_column(history, home)) - np.log(_column(history, code))
    return np.asarray(np.diff(worth) / np.sqrt(np.diff(ordinals) / 7.0))


def _column(history: RateHistory, code: str) -> FloatArray:
    values = history.rates.get(code)
    if values is None:
        return np.full(len(history.days), np.nan)
    return np.array([np.nan if value is None else value for value in values])


def _said(walk: RateWalk, history: RateHistory, code: str, known: bool) -> Assumption:
    yearly = 100 * walk.sigma_weekly(code) * math.sqrt(WEEKS_PER_YEAR)
    if known:
        ground = f"as it did from {history.days[0].year} to {history.days[-1].year}, {history.source}"
    else:
        ground = "no history of it is known; our own default"
    text = f"the rate of {code} may wander by {yearly:.1f} % of its worth in a year either way ({ground})"
    return Assumption("rate-walk", f"currency {code}", text)
