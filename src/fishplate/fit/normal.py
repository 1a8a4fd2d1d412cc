"""Scores of the normal distribution and tails of the chi-square one, without a library that takes long to load."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .points import Single

Floats = NDArray[np.float64]

# M. J. Wichura, Algorithm AS 241, Applied Statistics 37 (1988) 477-484, PPND7: good to about 1e-7.
_A = (3.3871327179e0, 5.0434271938e1, 1.5929113202e2, 5.9109374720e1)
_B = (1.0, 1.7895169469e1, 7.8757757664e1, 6.7187563600e1)
_C = (1.4234372777e0, 2.7568153900e0, 1.3067284816e0, 1.7023821103e-1)
_D = (1.0, 7.3700164250e-1, 1.2021132975e-1)
_CENTRAL, _SQUARE, _SHIFT = np.float32(0.425), np.float32(0.180625), np.float32(1.6)
_HALF = np.float32(0.5)
ROWS = 32


def normal_scores(points: Single) -> None:
    """Points of the open unit interval become standard normal scores, in place: (rows, draws) float32."""
    for start in range(0, len(points), ROWS):
        _scores(points[start : start + ROWS])


def _scores(points: Single) -> None:
    centred = points - _HALF
    from_centre = _SQUARE - centred * centred
    scores = _polynomial(_A, from_centre) * centred
    scores /= _polynomial(_B, from_centre)
    tail = np.abs(centred) > _CENTRAL
    side = points[tail]
    far = np.sqrt(-np.log(np.minimum(side, 1 - side))) - _SHIFT
    scores[tail] = np.copysign(_polynomial(_C, far) / _polynomial(_D, far), side - _HALF)
    points[:] = scores


def _polynomial(coefficients: tuple[float, ...], at: Single) -> Single:
    found = at * np.float32(coefficients[-1])
    for each in coefficients[-2:0:-1]:
        found += np.float32(each)
        found *= at
    found += np.float32(coefficients[0])
    return found


# Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.26: error function to 1.5e-7.
_ERROR = (0.0, 0.254829592, -0.284496736, 1.421413741, -1.453152027, 1.061405429)
_ERROR_SCALE = 0.3275911


def normal_share(scores: Floats) -> Single:
    """Share of a standard normal distribution below each score, to 1e-7 and never nought or one."""
    half = np.abs(scores) / math.sqrt(2)
    within = 1 / (1 + _ERROR_SCALE * half)
    series = np.zeros_like(half)
    for each in reversed(_ERROR):
        series = series * within + each
    beyond = np.maximum(series * np.exp(-half * half) / 2, 2.0**-24)
    share: Single = np.where(scores < 0, beyond, 1 - beyond).astype(np.float32)
    return share


def chi_square_tail(freedom: int, square: float) -> float:
    """Chance that a chi-square of so many degrees of freedom is larger.

    By the recurrence Q(x; n) = Q(x; n - 2) + (x/2)^(n/2 - 1) e^(-x/2) / Gamma(n/2) (Abramowitz and Stegun 26.4.8).

    Examples
    --------
    >>> round(chi_square_tail(1, 3.841), 3), round(chi_square_tail(4, 9.488), 3)
    (0.05, 0.05)
    """
    half = square / 2
    if half > 700:  # beyond what a float tells from nought
        return 0.0
    if half == 0:
        return 1.0
    found, start = (math.erfc(math.sqrt(half)), 3) if freedom % 2 else (math.exp(-half), 4)
    for each in range(start, freedom + 1, 2):
        found += math.exp((each / 2 - 1) * math.log(half) - half - math.lgamma(each / 2))
    return min(found, 1.0)
