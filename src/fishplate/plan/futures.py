"""Futures a plan is tried on: prices, sales, exchange rates and deliveries, as the outlook has them and otherwise."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

import numpy as np

from ..prices import Outlook
from .model import FloatArray
from .order_weeks import HORIZON_WEEKS
from .study import Studied

WEEKS_PER_YEAR = 52.1775
SLOW_FACTOR = 1.8
JUMP, JUMP_WEEK = 1.10, 4


class World(StrEnum):
    """What the futures are like."""

    OWN = "own"
    NO_SALE = "no-sale"
    DOUBLE_DRIFT = "double-drift"
    SLOW = "slow"
    JUMP = "rate-jump"


WORLD_WORDS: Mapping[World, str] = {
    World.OWN: "as the outlook has it",
    World.NO_SALE: "no expected sale takes place",
    World.DOUBLE_DRIFT: "prices rise twice as fast",
    World.SLOW: f"deliveries take {SLOW_FACTOR:g} times as long",
    World.JUMP: f"foreign money is {100 * (JUMP - 1):.0f} % dearer from week {JUMP_WEEK} on",
}


@dataclass
class Futures:
    """Draws of one world; the same random numbers in every world, so that worlds and rules compare pair by pair.

    Parameters
    ----------
    runs : how many futures; future k has the deliveries and the work of run k of the plan
    drawn : how many were drawn, of which these are the first; 0 if all
    """

    studied: Studied
    world: World
    runs: int
    drawn: int = 0
    _prices: dict[str, FloatArray] = field(default_factory=dict)

    def first(self, runs: int) -> Futures:
        """The first few of these futures."""
        return Futures(self.studied, self.world, min(runs, self.runs), self.drawn or self.runs)

    def _stream(self, name: str) -> np.random.Generator:
        return np.random.default_rng([self.studied.situation.seed, zlib.crc32(name.encode())])

    @property
    def lead_factor(self) -> float:
        """What every lead time is multiplied by."""
        return SLOW_FACTOR if self.world is World.SLOW else 1.0

    @cached_property
    def rates(self) -> dict[str, FloatArray]:
        """Currency -> its rate over today's, shape (weeks, runs)."""
        walk = self.studied.situation.rate_walk
        paths = walk.draws(self._stream("rates ahead"), HORIZON_WEEKS, self.drawn or self.runs)
        drawn: dict[str, FloatArray] = {code: path[:, : self.runs] for code, path in paths.items()}
        if self.world is not World.JUMP:
            return drawn
        home = self.studied.situation.build.owner.currency
        codes = {outlook.currency for outlook in self.studied.outlooks.values()} - {home}
        jump = np.where(np.arange(HORIZON_WEEKS + 1) >= JUMP_WEEK, JUMP, 1.0)[:, None]
        return {code: drawn.get(code, np.ones((HORIZON_WEEKS + 1, self.runs))) * jump for code in codes | drawn.keys()}

    def price(self, offer: str) -> FloatArray:
        """An offer's price by week, its currency's rate over today's included, shape (weeks, runs) [offer's currency].

        The regular price wanders about its expected path by `sigma_weekly`; a sale is on for all its weeks, or not,
        and equally deep for all a seller's offers.
        """
        if offer not in self._prices:
            outlook = self.studied.outlooks[offer]
            price = self._regular(outlook) * (1 - self.reduction(offer))
            rate = self.rates.get(outlook.currency)
            self._prices[offer] = price if rate is None else price * rate[: len(price)]
        return self._prices[offer]

    def _regular(self, outlook: Outlook) -> FloatArray:
        weeks = np.arange(len(outlook.list_price))
        steps = self._stream(f"price {outlook.offer}").standard_normal((len(weeks), self.drawn or self.runs))
        steps = steps[:, : self.runs]
        steps[0] = 0.0
        sigma = outlook.sigma_weekly
        wander = np.exp(sigma * np.cumsum(steps, axis=0) - sigma**2 / 2 * weeks[:, None])
        more = (1 + outlook.drift_yearly) ** (weeks / WEEKS_PER_YEAR) if self.world is World.DOUBLE_DRIFT else 1.0
        return np.asarray((outlook.list_price * more)[:, None] * wander)

    def reduction(self, offer: str) -> FloatArray:
        """By how much an offer is reduced, by week, as a share of its regular price, shape (weeks, runs)."""
        outlook = self.studied.outlooks[offer]
        found = np.zeros((len(outlook.list_price), self.runs))
        for sale in sorted(outlook.sales, key=lambda sale: (sale.mean_depth, sale.window)):  # the deepest counts
            if self.world is World.NO_SALE and not sale.seen:
                continue
            luck = self._stream(f"sale {outlook.supplier} {sale.window}").random((2, self.drawn or self.runs))[
                :, : self.runs
            ]
            depths = np.asarray(sale.depths)[(luck[1] * len(sale.depths)).astype(int)]
            held = luck[0] < sale.chance
            span = slice(sale.first_week, sale.last_week + 1)
            found[span] = np.where(held, depths, found[span])
        return found
