"""Worst case and root-sum-square of a condition over the bounds of its dimensions.

Interval arithmetic gives the exact range where every dimension stands once, and where those that stand several times
turn the expression one way all over their bounds: each is then put at its end. Where one of them turns it both ways,
so that the extreme may lie inside, boxes are divided until what was reached and what can't be passed nearly meet.
Where something may be divided by nought nothing bounds it. Where some of it may have no value (a root of a negative),
all corners and the middle are tried: the worst may then lie between.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Mapping
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..build.expression import Expression
from ..build.expression_nodes import Name, Negative, Node, walk
from .intervals import Bounds, bounds_of, slopes_of

CORNER_DIMENSIONS = 10
# The search ends where bound and value differ by so small a share of the range, or after so many boxes.
NEAR, BOXES = 0.002, 300


class WorstCase(NamedTuple):
    """Least and greatest value, and how they were found."""

    low: float
    high: float
    method: str


def worst_case(expression: Expression, boxes: Mapping[str, Bounds]) -> WorstCase:
    """Range of an expression with each dimension anywhere within its bounds; not-a-number where it has no value.

    Returns
    -------
    low, high, and how they were found: "interval" is exact, "search" never too narrow and at most a little too wide,
    "corners" may be too narrow

    Examples
    --------
    >>> from fishplate.build.expression import parse_expression
    >>> worst_case(parse_expression("a - b - 0.1 * a"), {"a": (10.0, 20.0), "b": (1.0, 2.0)})
    WorstCase(low=7.0, high=17.0, method='interval')
    """
    counts = Counter(node.id for node in walk(expression.root) if isinstance(node, Name))
    several = frozenset(name for name, count in counts.items() if count > 1 and boxes[name][0] < boxes[name][1])
    if not several:
        low, high = bounds_of(expression.root, boxes)
        return _corners(expression, boxes) if math.isnan(low) or math.isnan(high) else WorstCase(low, high, "interval")
    greatest, least = _Upwards(expression.root, boxes, several), _Upwards(_turned(expression.root), boxes, several)
    if math.isnan(greatest.bound) or math.isnan(least.bound):
        return _corners(expression, boxes)
    for _ in range(2):  # the range as bounded at first can be far too wide
        span = greatest.bound + least.bound
        near = NEAR * span if math.isfinite(span) else 0.0
        greatest.search(near)
        least.search(near)
    method = "interval" if greatest.exact and least.exact else "search"
    return WorstCase(0.0 - least.bound, greatest.bound, method)


def _turned(node: Node) -> Node:
    return Negative(node, node.span)


class _Upwards:
    """The greatest value of a node over a box, bounded from above ever closer.

    `bound` can't be passed; `exact` where it is reached.
    """

    def __init__(self, node: Node, boxes: Mapping[str, Bounds], several: frozenset[str]) -> None:
        self._node, self._count = node, 0
        self._open: list[tuple[float, int, dict[str, Bounds], frozenset[str]]] = []
        self.reached = -math.inf
        self._put(dict(boxes), several)

    @property
    def bound(self) -> float:
        """No value lies above."""
        return -self._open[0][0]

    @property
    def exact(self) -> bool:
        """Whether the box with the greatest bound has nothing left that turns both ways."""
        return not self._open[0][3]

    def search(self, near: float) -> None:
        """Divide the box with the greatest bound until that is reached within `near`, or enough were tried."""
        while not self.exact and self.bound - self.reached > near and self._count < BOXES:
            _, _, boxes, turning = heapq.heappop(self._open)
            widest = max(turning, key=lambda name: (boxes[name][1] - boxes[name][0], name))
            low, high = boxes[widest]
            middle = (low + high) / 2
            for half in ((low, middle), (middle, high)):
                self._put({**boxes, widest: half}, turning)

    def _put(self, boxes: dict[str, Bounds], several: frozenset[str]) -> None:
        """A box with each dimension at the end it rises to, where it does not turn; the rest stays open."""
        _, slopes = slopes_of(self._node, boxes, several) if several else ((0.0, 0.0), {})
        turning = set[str]()
        for name, (low, high) in slopes.items():
            if low >= 0 or high <= 0:
                end = boxes[name][1] if low >= 0 else boxes[name][0]
                boxes[name] = (end, end)
            else:
                turning.add(name)
        high = bounds_of(self._node, boxes)[1]
        if turning:
            self.reached = max(self.reached, bounds_of(self._node, {**boxes, **_middles(boxes, turning)})[1])
        self._count += 1
        heapq.heappush(self._open, (-high, self._count, boxes, frozenset(turning)))


def _middles(boxes: Mapping[str, Bounds], names: set[str]) -> dict[str, Bounds]:
    return {name: ((boxes[name][0] + boxes[name][1]) / 2,) * 2 for name in names}


def _corners(expression: Expression, boxes: Mapping[str, Bounds]) -> WorstCase:
    names = sorted(name for name in expression.names if boxes[name][0] < boxes[name][1])
    middle = {name: (low + high) / 2 for name, (low, high) in boxes.items()}
    if len(names) <= CORNER_DIMENSIONS:
        corners = np.array(list(product(*(boxes[name] for name in names)))).T
    else:
        slopes = gradient(expression, middle, {name: boxes[name][1] - boxes[name][0] for name in names})
        rising = np.array([slope > 0 for slope in slopes])
        low, high = np.array([boxes[name] for name in names]).T
        corners = np.stack([np.where(rising, low, high), np.where(rising, high, low)], axis=1)
    values = {**middle, **dict(zip(names, corners, strict=True))}
    found = np.append(expression.evaluate(values), expression.evaluate(middle))
    return WorstCase(float(found.min()), float(found.max()), "corners")


def gradient(
    expression: Expression, at: Mapping[str, float], widths: Mapping[str, float]
) -> NDArray[np.float64]:  # fmt: skip
    """Slopes of an expression at a point by central differences, over the dimensions of `widths` in their order."""
    names = list(widths)
    step = np.array([max(1e-4 * widths[name], 1e-6 * abs(at[name])) for name in names])
    values = {name: np.full(2 * len(names), at[name]) for name in expression.names}
    for position, name in enumerate(names):
        if name in values:
            values[name][2 * position] += step[position]
            values[name][2 * position + 1] -= step[position]
    found = np.broadcast_to(np.asarray(expression.evaluate(values), dtype=np.float64), 2 * len(names))
    with np.errstate(all="ignore"):
        slopes: NDArray[np.float64] = (found[::2] - found[1::2]) / (2 * step)
    return slopes


def root_sum_square(
    slopes: NDArray[np.float64], widths: NDArray[np.float64], correlation: NDArray[np.float64]
) -> float:  # fmt: skip
    """Width of a result from the widths of what it is made of, to first order.

    Source: JCGM 100:2008 (GUM), 5.2.2, equation 16, with the same coverage for every width.
    """
    with np.errstate(all="ignore"):
        parts = slopes * widths
        square = float(parts @ correlation @ parts)
    return 0.0 if square < 0 else math.sqrt(square)
