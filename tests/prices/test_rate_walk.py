"""Exchange rates as a joint random walk: what is read from a history, and what is drawn."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest

from fishplate.build import Build, Money
from fishplate.build.commerce import Supplier
from fishplate.build.owner import Owner
from fishplate.prices import RateHistory, RateWalk, walk_of
from fishplate.prices.walk import LEAST_STEPS, UNKNOWN_YEARLY, WEEKS_PER_YEAR
from fishplate.wiring import load_walk


def history(steps: np.ndarray, codes: str = "GBP USD") -> RateHistory:
    """Euro rates that move by given weekly steps of their logarithm."""
    days = tuple(date(2016, 1, 6) + timedelta(weeks=week) for week in range(len(steps) + 1))
    paths = np.vstack([np.zeros(steps.shape[1]), np.cumsum(steps, axis=0)])
    rates = {code: tuple(np.exp(paths[:, at]).tolist()) for at, code in enumerate(codes.split())}
    return RateHistory(days, {"EUR": (1.0,) * len(days), **rates}, "an example")


def test_the_walk_is_that_of_its_history() -> None:
    # steps of +-1 % for one currency and +-2 % for another, alike in sign three times in four
    first = np.tile([0.01, -0.01, 0.01, -0.01], 60)
    second = np.tile([0.02, -0.02, 0.02, 0.02], 60)
    walk = walk_of(history(np.stack([first, second], axis=1)), "EUR", ("USD", "GBP", "EUR"))
    assert walk.currencies == ("GBP", "USD")
    assert walk.sigma_weekly("GBP") == pytest.approx(0.01)
    assert walk.sigma_weekly("USD") == pytest.approx(0.02)
    assert walk.covariance[0][1] == pytest.approx(0.5 * 0.01 * 0.02)
    assert walk.sigma_weekly("EUR") == 0


def test_between_two_foreign_currencies_it_is_the_cross_rate_that_wanders() -> None:
    same = np.tile([0.01, -0.01], 100)
    walk = walk_of(history(np.stack([same, same], axis=1)), "GBP", ("USD",))
    # they move together against the euro, so not against each other
    assert walk.sigma_weekly("USD") == pytest.approx(0, abs=1e-12)


def test_a_step_over_two_weeks_counts_for_two() -> None:
    steps = np.tile([0.01, -0.01], 120)[:, None]
    thin = history(steps * math.sqrt(2), "GBP")
    days = tuple(date(2016, 1, 6) + timedelta(weeks=2 * week) for week in range(len(thin.days)))
    walk = walk_of(RateHistory(days, thin.rates, ""), "EUR", ("GBP",))
    assert walk.sigma_weekly("GBP") == pytest.approx(0.01)


@pytest.mark.parametrize("count", [0, LEAST_STEPS - 1])
def test_a_currency_with_little_history_wanders_by_a_stated_default(count: int) -> None:
    walk = walk_of(history(np.full((count, 1), 0.05), "GBP"), "EUR", ("GBP",))
    assert walk.sigma_weekly("GBP") * math.sqrt(WEEKS_PER_YEAR) == pytest.approx(UNKNOWN_YEARLY)
    assert "our own default" in str(walk.assumptions[0])


def test_without_foreign_money_nothing_is_drawn() -> None:
    assert RateWalk().draws(np.random.default_rng(1), 10, 5) == {}


def test_the_ten_years_before_a_day_are_read_and_none_after_it() -> None:
    build = Build(owner=Owner(), suppliers=(Supplier(id="s", name="S", country="GB", currency="GBP"),))
    early, late = load_walk(date(2009, 12, 30), build), load_walk(date(2026, 10, 30), build)
    # the pound was about twice as restless around 2008 as it has been since
    assert 0.05 < late.sigma_weekly("GBP") * math.sqrt(WEEKS_PER_YEAR) < 0.075
    assert early.sigma_weekly("GBP") > late.sigma_weekly("GBP")
    assert "from 1999 to 2009" in str(early.assumptions[0])


def test_a_currency_the_reference_rates_do_not_list_is_said_to_be_guessed() -> None:
    build = Build(suppliers=(Supplier(id="s", name="S", country="AE", currency="AED"),))
    assert Money.of(1, "AED").currency == "AED"
    assert "no history of it is known" in str(load_walk(date(2026, 10, 30), build).assumptions[0])
