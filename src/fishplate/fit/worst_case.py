"""Worst case and root-sum-square of a condition over the bounds of its dimensions.

Interval arithmetic gives the exact range where every dimension stands once; it is never too narrow. Where a dimension
stands several times, all corners of the bounds are tried instead (up to ten dimensions; beyond, the two corners the
slopes point to), which is exact where the expression rises or falls steadily in each dimension.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..build.expression import Expression
from ..build.expression_nodes import Binary, Call, Literal, Name, Negative, Node, Power, walk

CORNER_DIMENSIONS = 10
_WHOLE = (-math.inf, math.inf)
_UNKNOWN = (math.nan, math.nan)

Bounds = tuple[float, float]


class WorstCase(NamedTuple):
    """Least and greatest value, and how they were found."""

    low: float
    high: float
    method: str


def worst_case(expression: Expression, boxes: Mapping[str, Bounds]) -> WorstCase:
    """Range of an expression with each dimension anywhere within its bounds; not-a-number where it has no value."""
    counts = Counter(node.id for node in walk(expression.root) if isinstance(node, Name))
    if max(counts.values(), default=0) <= 1:
        low, high = bounds_of(expression.root, boxes)
        if math.isfinite(low) and math.isfinite(high):
            return WorstCase(low, high, "interval")
    return _corners(expression, boxes)


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


# --- interval arithmetic ---------------------------------------------------------------------------------------------


def bounds_of(node: Node, boxes: Mapping[str, Bounds]) -> Bounds:
    """Bounds that hold every value of a node; not-a-number where some of it has no value."""
    match node:
        case Literal(number=number):
            return number, number
        case Name(id=name):
            return boxes[name]
        case Negative(of=inner):
            low, high = bounds_of(inner, boxes)
            return -high, -low
        case Binary(sign=sign, left=left, right=right):
            return _operation(sign, bounds_of(left, boxes), bounds_of(right, boxes))
        case Power(base=base, exponent=exponent):
            return _power(bounds_of(base, boxes), exponent)
        case Call(function=function, arguments=arguments):
            return _function(function, [bounds_of(argument, boxes) for argument in arguments])


def _operation(sign: str, left: Bounds, right: Bounds) -> Bounds:
    if sign == "+":
        return left[0] + right[0], left[1] + right[1]
    if sign == "-":
        return left[0] - right[1], left[1] - right[0]
    if sign == "/":
        if right[0] <= 0 <= right[1]:
            return _WHOLE
        right = 1 / right[1], 1 / right[0]
    products = [a * b for a in left for b in right]
    return (min(products), max(products)) if all(map(math.isfinite, products)) else _WHOLE


def _power(base: Bounds, exponent: float) -> Bounds:
    if exponent < 0:
        return _operation("/", (1.0, 1.0), _power(base, -exponent))
    whole = exponent == int(exponent)
    if not whole and not base[0] >= 0:
        return _UNKNOWN
    try:
        low, high = base[0] ** exponent, base[1] ** exponent
    except OverflowError:
        return _WHOLE
    if whole and int(exponent) % 2 == 0:
        return (0.0 if base[0] <= 0 <= base[1] else min(low, high)), max(low, high)
    return low, high


def _function(name: str, given: list[Bounds]) -> Bounds:
    lows, highs = [item[0] for item in given], [item[1] for item in given]
    if any(map(math.isnan, lows + highs)):
        return _UNKNOWN
    match name:
        case "min":
            return min(lows), min(highs)
        case "max":
            return max(lows), max(highs)
        case "clip":
            return min(max(lows[0], lows[1]), lows[2]), min(max(highs[0], highs[1]), highs[2])
        case "abs":
            return _absolute(given[0])
        case "hypot":
            sizes = [_absolute(item) for item in given]
            return math.hypot(*(low for low, _ in sizes)), math.hypot(*(high for _, high in sizes))
        case "sqrt":
            return _rising(math.sqrt, given[0], 0.0, math.inf)
        case "sin":
            return _sine(given[0], 0.0)
        case "cos":
            return _sine(given[0], math.pi / 2)
        case "tan":
            return _tangent(given[0])
        case "asin":
            return _rising(math.asin, given[0], -1.0, 1.0)
        case "acos":
            low, high = _rising(math.acos, given[0], -1.0, 1.0)
            return high, low
        case "atan":
            return math.atan(lows[0]), math.atan(highs[0])
        case _:
            return _turn(given[0], given[1])


def _absolute(given: Bounds) -> Bounds:
    low, high = given
    return (0.0 if low <= 0 <= high else min(abs(low), abs(high))), max(abs(low), abs(high))


def _rising(function: Callable[[float], float], given: Bounds, least: float, most: float) -> Bounds:
    low, high = given
    if low < least or high > most:
        return _UNKNOWN
    return function(low), function(high)


def _sine(given: Bounds, shift: float) -> Bounds:
    low, high = given[0] + shift, given[1] + shift
    if not math.isfinite(high - low) or high - low >= 2 * math.pi:
        return -1.0, 1.0
    ends = sorted((math.sin(low), math.sin(high)))
    top = math.ceil((low - math.pi / 2) / (2 * math.pi)) * 2 * math.pi + math.pi / 2
    bottom = math.ceil((low + math.pi / 2) / (2 * math.pi)) * 2 * math.pi - math.pi / 2
    return -1.0 if bottom <= high else ends[0], 1.0 if top <= high else ends[1]


def _tangent(given: Bounds) -> Bounds:
    low, high = given
    if not math.isfinite(high - low) or math.floor(low / math.pi + 0.5) != math.floor(high / math.pi + 0.5):
        return _WHOLE
    least, most = math.tan(low), math.tan(high)
    # a float next to a pole can lie on either side of it
    return (least, most) if least <= most else _WHOLE


def _turn(y: Bounds, x: Bounds) -> Bounds:
    if x[0] <= 0 and y[0] <= 0 <= y[1]:
        return -math.pi, math.pi
    corners = [math.atan2(a, b) for a in y for b in x]
    return min(corners), max(corners)
