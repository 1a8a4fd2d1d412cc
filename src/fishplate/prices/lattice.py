"""A price's random factor as a lattice: from week to week up, down or as it is, on average unmoved."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .model import FloatArray

# Chance that the factor moves at all in a week; with steps of sigma / sqrt(this) the variance is sigma² a week.
MOVES = 1 / 3


@dataclass(frozen=True, slots=True)
class Lattice:
    """Factors a price may be multiplied by after some weeks, 1 in week 0.

    Parameters
    ----------
    sigma : standard deviation of the logarithm after one week [-]; 0: it stays 1

    Notes
    -----
    A recombining trinomial tree after Boyle (1988), A lattice framework for option pricing with two state variables,
    Journal of Financial and Quantitative Analysis 23, without interest: up by u and down by 1/u, with chances that
    leave the mean where it is (a martingale). Week k has 2 k + 1 nodes, the middle one at 1.
    """

    sigma: float

    @property
    def _step(self) -> float:
        return self.sigma / math.sqrt(MOVES)

    @property
    def chances(self) -> tuple[float, float, float]:
        """Chances of down, as it is, up."""
        up, down = math.exp(self._step), math.exp(-self._step)
        if self.sigma == 0:
            return 0.0, 1.0, 0.0
        return MOVES * (up - 1) / (up - down), 1 - MOVES, MOVES * (1 - down) / (up - down)

    def factors(self, week: int) -> FloatArray:
        """Factor at each node of a week, lowest first, shape (nodes,)."""
        if self.sigma == 0:
            return np.ones(1)
        return np.asarray(np.exp(self._step * np.arange(-week, week + 1)))

    def ahead(self, values: FloatArray) -> FloatArray:
        """Mean, at each node of a week, of values at the nodes of the next; on the last axis."""
        if self.sigma == 0:
            return values
        down, stay, up = self.chances
        return np.asarray(down * values[..., :-2] + stay * values[..., 1:-1] + up * values[..., 2:])

    def onward(self, mass: FloatArray) -> FloatArray:
        """Chances at the nodes of the next week, from those at the nodes of a week; on the last axis."""
        if self.sigma == 0:
            return mass
        down, stay, up = self.chances
        moved = np.zeros((*mass.shape[:-1], mass.shape[-1] + 2))
        moved[..., :-2] += down * mass
        moved[..., 1:-1] += stay * mass
        moved[..., 2:] += up * mass
        return moved
