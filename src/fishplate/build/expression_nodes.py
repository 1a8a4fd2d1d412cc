"""What an expression is made of: numbers, dimensions, operations and functions, and what each of them measures."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .errors import FishplateError
from .problem import Problem
from .units import UnitProblem

FloatArray = NDArray[np.floating[Any]]
Value = float | FloatArray

CONSTANTS = {"pi": float(np.pi)}


class ExpressionError(FishplateError, ValueError):
    """An expression that is not arithmetic over dimensions.

    Parameters
    ----------
    text : the expression; column : where the fault is, counted from 1
    what : the fault; do : what to do about it
    """

    def __init__(self, text: str, column: int, what: str, do: str = "Correct it.") -> None:
        self.text, self.column, self.what, self.do = text, column, what, do
        super().__init__(text, column, what, do)

    def __str__(self) -> str:
        return f"column {self.column}: {self.what}. {self.do}"

    def problem(self, where: str) -> Problem:
        """The same fault as a value, at a place."""
        shown = self.text if len(self.text) <= 60 else self.text[:57] + "..."
        return Problem(f"{where}, column {self.column}", "expression", self.what, shown, self.do)


# --- kinds -----------------------------------------------------------------------------------------------------------

# Force is a base of its own: N is not kg*mm/s2, and a pound of mass is never quietly a pound of force.
_BASES = ("length", "mass", "force", "angle", "time", "temperature", "voltage", "current")
Exponents = tuple[float, ...]
Span = tuple[int, int]
_NONE: Exponents = (0.0,) * len(_BASES)


def _exponents(**powers: float) -> Exponents:
    return tuple(float(powers.get(base, 0)) for base in _BASES)


_KINDS: dict[str, Exponents] = {
    "number": _NONE,
    **{base: _exponents(**{base: 1}) for base in _BASES},
    "area": _exponents(length=2),
    "volume": _exponents(length=3),
    "pressure": _exponents(force=1, length=-2),
    "torque": _exponents(force=1, length=1),
    "spring rate": _exponents(force=1, length=-1),
    "speed": _exponents(length=1, time=-1),
    "power": _exponents(voltage=1, current=1),
}
_KIND_OF = {exponents: kind for kind, exponents in _KINDS.items()}


def _kind_name(exponents: Exponents) -> str:
    """The kind's name, or its make-up such as `length^4` where it has none."""
    if exponents in _KIND_OF:
        return _KIND_OF[exponents]
    return "*".join(
        base if power == 1 else f"{base}^{power:g}"
        for base, power in zip(_BASES, exponents, strict=True)
        if power
    )  # fmt: skip


_BASE_UNITS = ("mm", "kg", "N", "rad", "s", "°C", "V", "A")


def _unit_made_up(exponents: Exponents) -> str:
    """A unit for what has none of its own as it is written, such as `N*mm`; empty for a number."""
    units = {
        unit if abs(power) == 1 else f"{unit}^{abs(power):g}": power
        for unit, power in zip(_BASE_UNITS, exponents, strict=True)
        if power
    }
    above, below = ([unit for unit, power in units.items() if (power > 0) is up] for up in (True, False))
    return "/".join(["*".join(above) or "1", *below]) if units else ""


class Measure(NamedTuple):
    """What a node measures, and where it stands in the text.

    Parameters
    ----------
    exponents : by base; None for a bare zero, which fits any kind
    unit : as it was written, where one unit holds for the whole node
    """

    exponents: Exponents | None
    span: Span
    unit: str = ""

    @property
    def kind(self) -> str:
        """Its name, or its make-up such as `length^4` where it has none."""
        return _kind_name(self.exponents or _NONE)

    def words(self, text: str) -> str:
        """The node as it is written and what it measures, as a clause."""
        quoted = text[self.span[0] : self.span[1]]
        shown = quoted if len(quoted) <= 40 else quoted[:37] + "..."
        kind = self.kind if self.kind != "number" else "number without a unit"
        held = _unit_made_up(self.exponents or _NONE)
        unit = f" in {self.unit}" if self.unit else f", such as {held}" if held else ""
        return f"{shown!r} is {_article(kind)} {kind}{unit}"


def disagreement(first: Measure, second: Measure, text: str, other_text: str) -> str:
    """Two measures that do not go together, both named, as a clause."""
    both = {first.kind, second.kind}
    hint = ""
    if both == {"mass", "force"}:
        hint = '; lb and kg are masses, lbf and N are forces; multiply by "9.81 N / (1 kg)" where a weight is meant'
    elif any("angle" in kind for kind in both):
        hint = '; divide an angle by "1 rad" where an arc is meant'
    return f"{first.words(text)}, but {second.words(other_text)}{hint}"


def _article(word: str) -> str:
    return "an" if word[0] in "aeiou" else "a"


class Kinds(NamedTuple):
    """The text, and the kind and unit of each dimension in it."""

    text: str
    kinds: Mapping[str, str]
    units: Mapping[str, str]


# --- nodes -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Literal:
    """A number, in the internal unit of its kind."""

    number: float
    unit: str
    kind: str
    span: Span

    def value(self, values: Mapping[str, Value]) -> Value:
        return self.number

    def measure(self, given: Kinds) -> Measure:
        if self.number == 0 and not self.unit:
            return Measure(None, self.span)
        return Measure(_KINDS[self.kind], self.span, self.unit)


@dataclass(frozen=True, slots=True)
class Name:
    """A dimension."""

    id: str
    span: Span

    def value(self, values: Mapping[str, Value]) -> Value:
        return values[self.id]

    def measure(self, given: Kinds) -> Measure:
        return Measure(_KINDS[given.kinds[self.id]], self.span, given.units.get(self.id, ""))


@dataclass(frozen=True, slots=True)
class Negative:
    """A sign turned round."""

    of: Node
    span: Span

    def value(self, values: Mapping[str, Value]) -> Value:
        return _plain(np.negative(self.of.value(values)))

    def measure(self, given: Kinds) -> Measure:
        return self.of.measure(given)._replace(span=self.span)


@dataclass(frozen=True, slots=True)
class Binary:
    """One of the four operations."""

    sign: str
    left: Node
    right: Node
    span: Span

    def value(self, values: Mapping[str, Value]) -> Value:
        return _plain(_OPERATIONS[self.sign](self.left.value(values), self.right.value(values)))

    def measure(self, given: Kinds) -> Measure:
        left, right = self.left.measure(given), self.right.measure(given)
        if self.sign in "+-":
            return _alike(given, self.span, (left, right))
        factor = 1.0 if self.sign == "*" else -1.0
        exponents = tuple(
            a + factor * b for a, b in zip(left.exponents or _NONE, right.exponents or _NONE, strict=True)
        )
        return Measure(exponents, self.span)


@dataclass(frozen=True, slots=True)
class Power:
    """A power with a plain number."""

    base: Node
    exponent: float
    span: Span

    def value(self, values: Mapping[str, Value]) -> Value:
        base = self.base.value(values)
        return _plain(np.square(base) if self.exponent == 2 else np.power(base, self.exponent))

    def measure(self, given: Kinds) -> Measure:
        return _raised(self.base.measure(given), self.exponent, self.span)


@dataclass(frozen=True, slots=True)
class Call:
    """A function of one or more values."""

    function: str
    arguments: tuple[Node, ...]
    span: Span

    def value(self, values: Mapping[str, Value]) -> Value:
        return _plain(FUNCTIONS[self.function].apply(*(argument.value(values) for argument in self.arguments)))

    def measure(self, given: Kinds) -> Measure:
        measures = tuple(argument.measure(given) for argument in self.arguments)
        match FUNCTIONS[self.function].rule:
            case "alike":
                return _alike(given, self.span, measures)
            case "root":
                return _raised(measures[0], 0.5, self.span)
            case "of angle":
                self._demand(given, measures[0], "angle", 'such as "30 deg"')
                return Measure(_NONE, self.span)
            case "to angle":
                self._demand(given, measures[0], "number", "without a unit")
            case _:
                _alike(given, self.span, measures)
        return Measure(_KINDS["angle"], self.span)

    def _demand(self, given: Kinds, measure: Measure, kind: str, example: str) -> None:
        if measure.exponents not in (None, _KINDS[kind]):
            raise UnitProblem(f"{self.function} takes {_article(kind)} {kind}, {example}; {measure.words(given.text)}")


Node = Literal | Name | Negative | Binary | Power | Call

_OPERATIONS: dict[str, Callable[..., Any]] = {"+": np.add, "-": np.subtract, "*": np.multiply, "/": np.true_divide}


def _plain(result: Any) -> Value:
    """An array as it is, a single value as a float of Python's, which leaves single precision single."""
    value: Value = result if isinstance(result, np.ndarray) else float(result)
    return value


def _several(ufunc: Callable[..., Any]) -> Callable[..., Any]:
    def apply(first: Value, *rest: Value) -> Value:
        for item in rest:
            first = ufunc(first, item)
        return first

    return apply


def _clip(value: Value, low: Value, high: Value) -> Value:
    result: Value = np.minimum(np.maximum(value, low), high)
    return result


class _Function(NamedTuple):
    apply: Callable[..., Any]
    fewest: int
    most: int
    rule: str


FUNCTIONS = {
    "min": _Function(_several(np.minimum), 2, 20, "alike"),
    "max": _Function(_several(np.maximum), 2, 20, "alike"),
    "clip": _Function(_clip, 3, 3, "alike"),
    "abs": _Function(np.abs, 1, 1, "alike"),
    "hypot": _Function(_several(np.hypot), 2, 20, "alike"),
    "sqrt": _Function(np.sqrt, 1, 1, "root"),
    "sin": _Function(np.sin, 1, 1, "of angle"),
    "cos": _Function(np.cos, 1, 1, "of angle"),
    "tan": _Function(np.tan, 1, 1, "of angle"),
    "asin": _Function(np.arcsin, 1, 1, "to angle"),
    "acos": _Function(np.arccos, 1, 1, "to angle"),
    "atan": _Function(np.arctan, 1, 1, "to angle"),
    "atan2": _Function(np.arctan2, 2, 2, "alike to angle"),
}


def _alike(given: Kinds, span: Span, measures: tuple[Measure, ...]) -> Measure:
    known = [measure for measure in measures if measure.exponents is not None]
    if not known:
        return Measure(None, span)
    for other in known[1:]:
        if other.exponents != known[0].exponents:
            raise UnitProblem(disagreement(known[0], other, given.text, given.text))
    units = {measure.unit for measure in known}
    return Measure(known[0].exponents, span, units.pop() if len(units) == 1 else "")


def _raised(measure: Measure, power: float, span: Span) -> Measure:
    if measure.exponents is None:
        return Measure(None, span)
    return Measure(tuple(round(item * power, 9) for item in measure.exponents), span)


def walk(node: Node) -> Iterator[Node]:
    """Every node of a tree, parents before children, left before right."""
    yield node
    match node:
        case Negative(of=inner) | Power(base=inner):
            yield from walk(inner)
        case Binary(left=left, right=right):
            yield from walk(left)
            yield from walk(right)
        case Call(arguments=arguments):
            for argument in arguments:
                yield from walk(argument)
        case _:
            pass
