"""Joint draws of the dimensions: each one random variable, correlated ones by a Gaussian copula."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..build.interfaces import Correlation
from .normal import normal_scores, normal_share
from .points import Single, blocks
from .readings import WIDTHS, DimensionState

REPLICATES = 8
# A spread this small a share of its value, or a value this large, is more than single precision can tell.
FINE, LARGE = 2e-6, 1e9
Drawn = NDArray[np.floating[Any]]
# Draws at hand are passed on in blocks of so many.
WIDE = 16_384


class JointDraws:
    """Draws of all random dimensions together.

    Parameters
    ----------
    states : what is known of each dimension; exact ones are constants
    correlations : coefficients of the copula; between normal dimensions these are the ordinary ones, between others
        the ordinary one comes out a little smaller (rectangular pair: 6/pi asin(r/2))
    samples : at least so many; the same number for each of the eight replicates

    Values are in single precision, unless that is too coarse for a spread.
    """

    def __init__(
        self, states: Mapping[str, DimensionState], correlations: Iterable[Correlation], *, samples: int, seed: int
    ) -> None:  # fmt: skip
        self.made_from = made_from(states, correlations, samples, seed)
        self.whole: Drawn | None = None
        self.constants = {state.id: state.value for state in states.values() if not state.random}
        shapes = {"rectangular": 0, "triangular": 1, "normal": 2}
        uncertain = sorted((s for s in states.values() if s.random), key=lambda s: (shapes.get(s.shape, 3), s.id))
        self.names = tuple(state.id for state in uncertain)
        self.row = {name: row for row, name in enumerate(self.names)}
        # coordinates of the points follow the ids, so that a spread of another shape does not move other dimensions
        self._coordinate = np.argsort(np.argsort(np.array(self.names, dtype=str))) if self.names else np.zeros(0, int)
        self._centre = np.array([state.value for state in uncertain], dtype=np.float64)[:, None]
        self._sd = np.array([state.sd for state in uncertain], dtype=np.float64)[:, None]
        coarse = any(state.sd < FINE * abs(state.value) or abs(state.value) > LARGE for state in uncertain)
        self.dtype: type[np.floating[Any]] = np.float64 if coarse else np.float32
        counts = [sum(state.shape == shape for state in uncertain) for shape in shapes]
        self._rectangular, self._triangular = counts[0], counts[0] + counts[1]
        self.correlation = correlation_matrix(self.names, correlations)
        self._linked, self._root = _root(self.correlation)
        self.seed = seed
        self.per_replicate = -(-samples // REPLICATES)
        self.samples = self.per_replicate * REPLICATES

    def linked(self, names: Iterable[str]) -> bool:
        """Whether any of some dimensions errs together with another of them."""
        if not self._linked.size:
            return False
        rows = [self.row[name] for name in names if name in self.row]
        return bool((np.abs(self.correlation[np.ix_(rows, rows)] - np.eye(len(rows))) > 0).any())

    def keep(self) -> None:
        """Draw all at once and hold them at hand: four bytes a value."""
        if self.whole is None:
            drawn = np.empty((len(self.names), self.samples), dtype=self.dtype)
            at = 0
            for replicate in range(REPLICATES):
                for block in self.blocks(replicate):
                    drawn[:, at : at + block.shape[1]] = block
                    at += block.shape[1]
            self.whole = drawn

    def blocks(self, replicate: int) -> Iterator[Drawn]:
        """Values of one replicate, a block at a time: (dimensions, draws) in internal units."""
        if self.whole is not None:
            first, last = replicate * self.per_replicate, (replicate + 1) * self.per_replicate
            yield from (self.whole[:, at : min(at + WIDE, last)] for at in range(first, last, WIDE))
            return
        for points in blocks(len(self.names), self.per_replicate, self.seed, replicate):
            yield self._values(points[self._coordinate])

    def _values(self, points: Single) -> Drawn:
        """Points of the unit cube become values; in place, where single precision will do."""
        a, b = self._rectangular, self._triangular
        scores = self._linked_scores(points)
        bounded = self._linked < b
        points[self._linked[bounded]] = normal_share(scores[bounded])
        points[:a] = (2 * points[:a] - 1) * np.float32(WIDTHS["rectangular"])
        points[a:b] = _triangular(points[a:b]) * np.float32(WIDTHS["triangular"])
        normal_scores(points[b:])
        points[self._linked[~bounded]] = scores[~bounded]
        values: Drawn = points.astype(self.dtype, copy=False)
        values *= self._sd.astype(self.dtype)
        values += self._centre.astype(self.dtype)
        return values

    def _linked_scores(self, points: Single) -> NDArray[np.float64]:
        """Correlated normal scores of the dimensions that err together."""
        scores = points[self._linked]
        normal_scores(scores)
        correlated: NDArray[np.float64] = self._root @ scores.astype(np.float64)
        return correlated


def made_from(
    states: Mapping[str, DimensionState], correlations: Iterable[Correlation], samples: int, seed: int
) -> tuple[object, ...]:  # fmt: skip
    """What draws are made from; where it is the same they are."""
    return tuple(sorted(states.items())), tuple(correlations), samples, seed


def _triangular(points: Single) -> Single:
    """Inverse distribution of a symmetric triangle from -1 to 1."""
    low = np.sqrt(2 * np.minimum(points, 0.5)) - 1
    high = 1 - np.sqrt(2 * np.minimum(1 - points, 0.5))
    found: Single = np.where(points < 0.5, low, high)
    return found


def correlation_matrix(names: tuple[str, ...], correlations: Iterable[Correlation]) -> NDArray[np.float64]:
    """Correlation matrix of the named dimensions, in their order."""
    matrix = np.eye(len(names))
    row = {name: position for position, name in enumerate(names)}
    for item in correlations:
        if item.first in row and item.second in row and item.first != item.second:
            matrix[row[item.first], row[item.second]] = matrix[row[item.second], row[item.first]] = item.coefficient
    return matrix


def _root(matrix: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[Any]]:
    """Rows with correlations, and a matrix whose product with its transpose is their correlation."""
    linked = np.flatnonzero((np.abs(matrix - np.eye(len(matrix))) > 0).any(axis=1))
    inside = matrix[np.ix_(linked, linked)]
    try:
        return linked, np.linalg.cholesky(inside)
    except np.linalg.LinAlgError:  # a perfect correlation leaves the matrix without full rank
        values, vectors = np.linalg.eigh(inside)
        return linked, vectors * np.sqrt(np.maximum(values, 0.0))
