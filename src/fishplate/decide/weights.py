"""Weights of criteria, from the order of their swings and how much each matters beside the one before it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..build.base import ThreePoint

FloatArray: TypeAlias = NDArray[np.float64]


def rank_order_centroid(count: int) -> tuple[float, ...]:
    """Mean of all weights that keep an order, the most important first.

    Notes
    -----
    Barron and Barrett, Decision quality using ranked attribute weights, Management Science 42 (1996).

    Examples
    --------
    >>> [round(weight, 4) for weight in rank_order_centroid(3)]
    [0.6111, 0.2778, 0.1111]
    """
    return tuple(sum(1 / place for place in range(first, count + 1)) / count for first in range(1, count + 1))


def swing_weights(swings: Sequence[float]) -> FloatArray:
    """Weights from swings rated beside the most important one, such as 100, 80, 30; they sum to 1.

    Examples
    --------
    >>> swing_weights([100, 60, 40])
    array([0.5, 0.3, 0.2])
    """
    rated = np.asarray(swings, float)
    weights: FloatArray = rated / rated.sum()
    return weights


def uniforms_needed(count: int) -> int:
    """Uniform numbers a draw of so many weights takes."""
    return 2 * count - 1


def drawn_weights(compared: Sequence[ThreePoint | None], uniforms: FloatArray) -> FloatArray:
    """Weights that agree with what was said of the swings.

    Parameters
    ----------
    compared : for each criterion, the most important first, how much its swing matters beside the one before it
        [percent], or None if only the order is known; the first is not looked at
    uniforms : numbers between 0 and 1, shape (draws, uniforms_needed)

    Returns
    -------
    weights that sum to 1, shape (draws, criteria)

    Notes
    -----
    Where only the order is known weights are uniform over all that keep it, so that their mean is the rank-order
    centroid; a stated comparison is triangular, and takes the place of that link.
    """
    count = len(compared)
    # sorted exponential numbers, made to sum to 1, are uniform over ordered weights
    spaced = np.sort(-np.log1p(-uniforms[:, :count] * (1 - 1e-12)), axis=1)[:, ::-1] + 1e-12
    weights = np.ones_like(spaced)
    for place in range(1, count):
        said = compared[place]
        if said is None:
            ratio = spaced[:, place] / spaced[:, place - 1]
        else:
            ratio = triangular(said, uniforms[:, count + place - 1]) / 100
        weights[:, place] = weights[:, place - 1] * ratio
    normalised: FloatArray = weights / weights.sum(axis=1, keepdims=True)
    return normalised


def triangular(estimate: ThreePoint, uniform: FloatArray) -> FloatArray:
    """Quantiles of an estimate, read as the limits and the mode of a triangular distribution."""
    low, likely, high = estimate.low, estimate.likely, estimate.high
    if high == low:
        return np.full_like(uniform, likely)
    turn = (likely - low) / (high - low)
    rising = low + np.sqrt(uniform * (high - low) * (likely - low))
    falling = high - np.sqrt((1 - uniform) * (high - low) * (high - likely))
    found: FloatArray = np.where(uniform < turn, rising, falling)
    return found
