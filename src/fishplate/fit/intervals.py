"""Interval arithmetic: bounds that hold every value of an expression; exact where each dimension stands in it once.

`slopes_of` carries bounds of the slopes along, by the chain rule. (R. E. Moore, Interval Analysis, 1966.)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from ..build.expression_nodes import Binary, Call, Literal, Name, Negative, Node, Power

WHOLE = (-math.inf, math.inf)
UNKNOWN = (math.nan, math.nan)
_NOUGHT = (0.0, 0.0)
_ONE = (1.0, 1.0)

Bounds = tuple[float, float]
Slopes = Mapping[str, Bounds]


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
            return operation(sign, bounds_of(left, boxes), bounds_of(right, boxes))
        case Power(base=base, exponent=exponent):
            return power(bounds_of(base, boxes), exponent)
        case Call(function=function, arguments=arguments):
            return function_of(function, [bounds_of(argument, boxes) for argument in arguments])


def operation(sign: str, left: Bounds, right: Bounds) -> Bounds:
    """Bounds of one of the four operations."""
    if sign == "+":
        return left[0] + right[0], left[1] + right[1]
    if sign == "-":
        return left[0] - right[1], left[1] - right[0]
    if sign == "/":
        if right[0] <= 0 <= right[1]:
            return WHOLE
        right = 1 / right[1], 1 / right[0]
    products = [a * b for a in left for b in right]
    return (min(products), max(products)) if all(map(math.isfinite, products)) else WHOLE


def power(base: Bounds, exponent: float) -> Bounds:
    """Bounds of a power with a plain number."""
    if exponent < 0:
        return operation("/", (1.0, 1.0), power(base, -exponent))
    whole = exponent == int(exponent)
    if not whole and not base[0] >= 0:
        return UNKNOWN
    try:
        low, high = base[0] ** exponent, base[1] ** exponent
    except OverflowError:
        return WHOLE
    if whole and int(exponent) % 2 == 0:
        return (0.0 if base[0] <= 0 <= base[1] else min(low, high)), max(low, high)
    return low, high


def function_of(name: str, given: list[Bounds]) -> Bounds:
    """Bounds of a function of values that lie within bounds."""
    lows, highs = [item[0] for item in given], [item[1] for item in given]
    if any(map(math.isnan, lows + highs)):
        return UNKNOWN
    match name:
        case "min":
            return min(lows), min(highs)
        case "max":
            return max(lows), max(highs)
        case "clip":
            return min(max(lows[0], lows[1]), lows[2]), min(max(highs[0], highs[1]), highs[2])
        case "abs":
            return absolute(given[0])
        case "hypot":
            sizes = [absolute(item) for item in given]
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


def absolute(given: Bounds) -> Bounds:
    """Bounds of a size without its sign."""
    low, high = given
    return (0.0 if low <= 0 <= high else min(abs(low), abs(high))), max(abs(low), abs(high))


def _rising(function: Callable[[float], float], given: Bounds, least: float, most: float) -> Bounds:
    low, high = given
    if low < least or high > most:
        return UNKNOWN
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
        return WHOLE
    least, most = math.tan(low), math.tan(high)
    # a float next to a pole can lie on either side of it
    return (least, most) if least <= most else WHOLE


def _turn(y: Bounds, x: Bounds) -> Bounds:
    if x[0] <= 0 and y[0] <= 0 <= y[1]:
        return -math.pi, math.pi
    corners = [math.atan2(a, b) for a in y for b in x]
    return min(corners), max(corners)


# --- slopes ----------------------------------------------------------------------------------------------------------


def slopes_of(node: Node, boxes: Mapping[str, Bounds], names: frozenset[str]) -> tuple[Bounds, Slopes]:
    """Bounds of a node and of its slope along each of some dimensions; a slope that is not there is nought.

    Notes
    -----
    At a kink the slope is anything between those on either side, so that a sign that holds all over a box says that
    the expression never turns in it.
    """
    match node:
        case Name(id=name):
            return boxes[name], {name: _ONE} if name in names else {}
        case Literal():
            return bounds_of(node, boxes), {}
        case Negative(of=inner):
            value, slopes = slopes_of(inner, boxes, names)
            return operation("-", _NOUGHT, value), _times(slopes, (-1.0, -1.0))
        case Binary(sign=sign, left=left, right=right):
            return _binary(sign, slopes_of(left, boxes, names), slopes_of(right, boxes, names))
        case Power(base=base, exponent=exponent):
            value, slopes = slopes_of(base, boxes, names)
            factor = operation("*", (exponent, exponent), power(value, exponent - 1)) if exponent else _NOUGHT
            return power(value, exponent), _times(slopes, factor)
        case Call(function=function, arguments=arguments):
            return _call(function, [slopes_of(argument, boxes, names) for argument in arguments])


def _times(slopes: Slopes, factor: Bounds) -> Slopes:
    return {name: operation("*", slope, factor) for name, slope in slopes.items()}


def _added(first: Slopes, second: Slopes, sign: str = "+") -> Slopes:
    return {
        name: operation(sign, first.get(name, _NOUGHT), second.get(name, _NOUGHT)) for name in first.keys() | second
    }


def _binary(sign: str, left: tuple[Bounds, Slopes], right: tuple[Bounds, Slopes]) -> tuple[Bounds, Slopes]:
    value = operation(sign, left[0], right[0])
    if sign in "+-":
        return value, _added(left[1], right[1], sign)
    if sign == "*":
        return value, _added(_times(left[1], right[0]), _times(right[1], left[0]))
    over = operation("/", _ONE, right[0])
    return value, _added(_times(left[1], over), _times(right[1], operation("*", value, over)), "-")


def _call(function: str, given: list[tuple[Bounds, Slopes]]) -> tuple[Bounds, Slopes]:
    values = [value for value, _ in given]
    value = function_of(function, values)
    if function in (
        "min",
        "max",
        "clip",
    ):  # the slope of whichever it is; of a limit that is reached, or of what is clipped
        return value, {name: _hull([slopes.get(name, _NOUGHT) for _, slopes in given])
                       for name in frozenset().union(*(slopes for _, slopes in given))}  # fmt: skip
    factors = _factors(function, values, value)
    total: Slopes = {}
    for (_, slopes), factor in zip(given, factors, strict=True):
        total = _added(total, _times(slopes, factor))
    return value, total


def _hull(slopes: list[Bounds]) -> Bounds:
    lows, highs = [low for low, _ in slopes], [high for _, high in slopes]
    return UNKNOWN if any(map(math.isnan, lows + highs)) else (min(lows), max(highs))


def _factors(function: str, values: list[Bounds], value: Bounds) -> list[Bounds]:
    """Bounds of the slope of a function along each of its values."""
    first = values[0]
    match function:
        case "abs":
            return [(1.0 if first[0] > 0 else -1.0, -1.0 if first[1] < 0 else 1.0)]
        case "hypot":
            return [_within_one(operation("/", each, value)) for each in values]
        case "sqrt":
            return [operation("/", (0.5, 0.5), value)]
        case "sin":
            return [function_of("cos", [first])]
        case "cos":
            return [operation("-", _NOUGHT, function_of("sin", [first]))]
        case "tan":
            return [operation("+", _ONE, power(value, 2))]
        case "asin" | "acos":
            root = function_of("sqrt", [operation("-", _ONE, power(first, 2))])
            return [operation("/", _ONE if function == "asin" else (-1.0, -1.0), root)]
        case "atan":
            return [operation("/", _ONE, operation("+", _ONE, power(first, 2)))]
        case _:
            x, square = values[1], operation("+", power(first, 2), power(values[1], 2))
            return [operation("/", x, square), operation("/", operation("-", _NOUGHT, first), square)]


def _within_one(slope: Bounds) -> Bounds:
    return max(slope[0], -1.0), min(slope[1], 1.0)
