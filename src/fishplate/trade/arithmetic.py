"""Functions of numbers, alike for a float and for an array, and the check that a number is one they hold for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from ..build.errors import FishplateError
from ..build.expression import FloatArray, Value

__all__ = [
    "STANDARD_GRAVITY",
    "FloatArray",
    "Gauge",
    "OutOfRange",
    "Value",
    "not_negative",
    "numbers",
    "positive",
    "within",
]

# An American wire gauge: 1/0 to 4/0 are 0 to -3.
Gauge = Value

# mm/s2, exact by definition (CGPM 1901)
STANDARD_GRAVITY = 9806.65


class OutOfRange(FishplateError, ValueError):
    """A number for which a formula does not hold.

    Parameters
    ----------
    name : the argument; wanted : what it must be; got : what it was
    """

    def __init__(self, name: str, wanted: str, got: str) -> None:
        self.name, self.wanted, self.got = name, wanted, got
        super().__init__(name, wanted, got)

    def __str__(self) -> str:
        return f"{self.name} must be {self.wanted}, got {self.got}"


def positive(**numbers: Value) -> None:
    """Refuse what is not above zero; raises OutOfRange naming the first."""
    _demand(numbers, lambda number: number > 0, "above zero")


def not_negative(**numbers: Value) -> None:
    """Refuse what is below zero; raises OutOfRange naming the first."""
    _demand(numbers, lambda number: number >= 0, "zero or more")


def within(low: float, high: float, wanted: str, **numbers: Value) -> None:
    """Refuse what does not lie from low to high, both included; raises OutOfRange naming the first."""
    _demand(numbers, lambda number: (number >= low) & (number <= high), wanted)


def numbers(name: str, value: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """An array of finite numbers of a shape, the first axis free where the shape has -1; raises OutOfRange."""
    held = np.asarray(value, dtype=float)
    wanted = " x ".join("n" if size < 0 else str(size) for size in shape)
    fits = held.ndim == len(shape) and all(size in (-1, own) for size, own in zip(shape, held.shape, strict=True))
    if not fits:
        raise OutOfRange(name, f"{wanted} numbers", " x ".join(map(str, held.shape)) or "one number")
    if not np.all(np.isfinite(held)):
        raise OutOfRange(name, "finite numbers", "one that is not")
    return held


def _demand(numbers: dict[str, Value], holds: Callable[[Any], Any], wanted: str) -> None:
    for name, number in numbers.items():
        good = holds(np.asarray(number, dtype=float))
        if not np.all(good):
            raise OutOfRange(name, wanted, f"{np.asarray(number, dtype=float)[~np.asarray(good)].flat[0]:g}")


def _of(ufunc: Callable[..., Any]) -> Callable[..., Value]:
    """The ufunc, giving a float of Python's for floats."""

    def apply(*values: Value) -> Value:
        result = ufunc(*values)
        return result if isinstance(result, np.ndarray) else float(result)

    return apply


sqrt, sin, cos, tan = _of(np.sqrt), _of(np.sin), _of(np.cos), _of(np.tan)
asin, acos, atan, atan2 = _of(np.arcsin), _of(np.arccos), _of(np.arctan), _of(np.arctan2)
hypot, greatest, least, absolute = _of(np.hypot), _of(np.maximum), _of(np.minimum), _of(np.abs)
round_to_whole, log = _of(np.round), _of(np.log)
