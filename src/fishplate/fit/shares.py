"""Which dimensions the variance of a condition comes from: first-order shares Var(E[y | x]) / Var(y).

Linear regression for all; a cubic in each dimension where that explains less than 0.99; the better of a cubic and of
lines in bins of equal chance where cubics still do (a kink, or dimensions that act together), or where dimensions err
together. Nearest neighbours by rank are never used: on evenly spread points they credit dimensions that do nothing.
With correlated dimensions the shares overlap and can sum to more than one.

Shares of the misfit are the same of whether it fails: Var(P(misfit | x)) / (p (1 - p)). They sum to less than one where
dimensions make it fail only together.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .cells import Cells
from .draws import Drawn
from .points import Single

ENOUGH = 0.99
BINS = 100

Shares = NDArray[np.float64]


def variance_shares(values: Drawn, varying: Single, correlation: Shares | None = None) -> Shares:
    """First-order share of each dimension in the variance of one condition.

    Parameters
    ----------
    values : (dimensions, draws) of the condition's own dimensions
    varying : (draws,) of the condition
    correlation : of the dimensions, where some of them err together

    Returns
    -------
    (dimensions,) each 0 to 1; all 0 where the condition does not vary, or has no value on some draw
    """
    if not len(values) or not np.isfinite(varying).all():
        return np.zeros(len(values))
    y = varying.astype(np.float64)
    y = y - y.mean()
    variance = float(np.square(y).sum())
    x = values.astype(np.float64)
    spread = x.std(axis=1, keepdims=True)
    if not 0 < variance < np.inf or not spread.all():
        return np.zeros(len(values))
    x = (x - x.mean(axis=1, keepdims=True)) / spread
    # no matrix product: a threaded one is slower on so few rows, and its sum depends on the number of threads
    slopes = np.einsum("ij,j->i", x, y) / y.size
    linear: Shares = slopes**2 * y.size / variance
    # with dimensions that err together shares overlap, so their sum does not say how much is explained
    explained = linear.sum()
    if correlation is not None:
        explained = slopes @ np.linalg.lstsq(correlation, slopes)[0] * y.size / variance
    if explained >= ENOUGH:
        return linear
    cubic: Shares = np.array([_cubic(row, y, variance) for row in x])
    if correlation is None and cubic.sum() >= ENOUGH:
        return cubic
    # neither finds more than there is, but for chance
    return np.maximum(cubic, [_binned(row, y, variance) for row in x])


def _cubic(x: Shares, y: Shares, variance: float) -> float:
    """Share explained by the best cubic in x."""
    powers = np.stack([np.ones_like(x), x, x * x, x * x * x])
    target = np.einsum("ij,j->i", powers, y)
    weights = np.linalg.solve(np.einsum("ij,kj->ik", powers, powers), target)
    return float(np.clip((weights * target).sum() / variance, 0.0, 1.0))


def _binned(x: Shares, y: Shares, variance: float) -> float:
    """Share between bins of equal chance and along the slope within each, less what chance alone would put there."""
    count = min(BINS, max(2, y.size // 20))
    edges = np.array([y.size * k // count for k in range(count)])
    ordered = y[np.argsort(x, kind="stable")]
    sizes = np.diff(np.append(edges, y.size))
    means = np.add.reduceat(ordered, edges) / sizes
    between = float((sizes * (means**2 + np.gradient(means) ** 2 / 12)).sum())
    # the slope, from the bins on either side, has half the noise of a mean
    noise = (variance - between) / (y.size - count) * (count - 1) * (1 + 1 / 24)
    return float(np.clip((between - noise) / variance, 0.0, 1.0))


def misfit_share(cells: Cells, failing: NDArray[np.intp]) -> float:
    """First-order share of a dimension in whether a condition fails, less what chance alone would show.

    Parameters
    ----------
    cells : the dimension's draws; failing : the draws on which the condition fails
    """
    count = cells.cell.size
    chance = failing.size / count
    fails = np.bincount(cells.cell[failing], minlength=len(cells.share))
    # a cell without draws has none that fail
    between = float((fails * fails / np.maximum(cells.share * count, 0.5)).sum()) / count - chance**2
    whole, filled = chance * (1 - chance), int(np.count_nonzero(cells.share))
    noise = (whole - between) / max(1, count - filled) * (filled - 1)
    return float(np.clip((between - noise) / whole, 0.0, 1.0))


def default_share(shares: Shares, default: Sequence[bool]) -> float:
    """Share of the explained variance that rests on default spreads."""
    total = float(shares.sum())
    return float(shares[list(default)].sum()) / total if total > 0 else 0.0
