"""A calculation worked out from what a person wrote; its answer in the units people say, and its worked example."""

from __future__ import annotations

import dataclasses
import inspect
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from ..build import Problem, Refused
from ..build.designations import DesignationError
from ..build.errors import FishplateError
from ..build.units import conversion_factor, format_quantity
from .arguments import read_arguments
from .arithmetic import OutOfRange
from .catalogue import Calculation, Quantity, read_sections
from .sidewall import NotASize

__all__ = ["Answer", "example_of", "label", "value_words", "work_out"]

# What people say: unit inside -> unit shown as well.
_SPOKEN = {
    "rad": "deg", "rad/s": "rpm", "mm/s": "km/h", "N*mm": "N*m", "mm/s**2": "m/s**2", "N*mm/rad": "N*m/deg",
    "rad/mm": "deg/mm", "N*s/mm": "N*s/m", "kg/mm**3": "kg/m**3", "ohm*mm": "ohm*mm**2/m",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Answer:
    """A calculation worked out.

    Parameters
    ----------
    given : the text each parameter was read from; values : what it was read as, in the parameter's unit
    parts : each result with its value, in its unit
    """

    given: Mapping[str, str]
    values: Mapping[str, Any]
    parts: tuple[tuple[Quantity, Any], ...]


def work_out(calculation: Calculation, positional: Sequence[str], named: Mapping[str, str]) -> Answer:
    """The answer to what a person wrote.

    Parameters
    ----------
    calculation : the function; positional : in the order of its parameters; named : by name

    Raises
    ------
    Refused
        with every fault in what was written, or because there is no result for it

    Examples
    --------
    >>> from fishplate.trade import calculations
    >>> work_out(calculations()["arches.bump_room"], ["470 mm", "729", "90"], {}).parts[0][1]
    15.5
    """
    values, given, problems = read_arguments(calculation, positional, named)
    if problems:
        raise Refused(problems)
    try:
        with np.errstate(all="ignore"):
            result = calculation.function(**values)
    except (ArithmeticError, FishplateError, LookupError, ValueError) as error:
        if isinstance(error, Refused):
            raise
        raise Refused([_no_result(calculation, given, error)]) from None
    several = dataclasses.is_dataclass(result)
    parts = [getattr(result, item.name) for item in calculation.results] if several else [result]
    return Answer(given, values, tuple(zip(calculation.results, parts, strict=True)))


def _no_result(calculation: Calculation, given: Mapping[str, str], error: Exception) -> Problem:
    """Why there is no result, at the parameter that is at fault where it is one."""
    match error:
        case OutOfRange():
            parameter = next((item for item in calculation.parameters if item.name == error.name), None)
            if parameter is None:
                do = "Look at the values once more, and at their units."
                return Problem(calculation.id, "range", f"{error.name} must be {error.wanted}", error.got, do)
            what, do = f"it must be {error.wanted}", f"Give {parameter.name}: {parameter.quantity.words}."
            return Problem(f"{calculation.id}, {error.name}", "range", what, given.get(error.name, error.got), do)
        case DesignationError() | NotASize():
            texts = [item.name for item in calculation.parameters if item.kind in ("text", "count")]
            where = f"{calculation.id}, {texts[0]}" if len(texts) == 1 else calculation.id
            return Problem(where, "designation", error.what, error.text, error.do)
    do = "Check the units, and that the lists are of the same length."
    return Problem(calculation.id, "value", f"it has no result for these values: {error}", "", do)


def label(item: Quantity) -> str:
    """A quantity's name as words: its unit stands beside its value.

    Examples
    --------
    >>> label(Quantity("bump_travel_mm", "", "mm")), label(Quantity("area_mm2", "", "mm**2"))
    ('bump travel', 'area')
    """
    suffix = "_" + item.unit.replace("**", "").replace("*", "").replace("/", "_per_").lower()
    return item.name.removesuffix(suffix).replace("_", " ")


def value_words(value: Any, unit: str) -> str:
    """A value for people: five digits, and in the unit people say; empty for none.

    Examples
    --------
    >>> value_words(0.5, "rad"), value_words([1.0, 2.5], "mm"), value_words(True, "")
    ('0.5 rad (28.648 deg)', '[1, 2.5] mm', 'yes')
    >>> value_words(float("inf"), "mm"), value_words([1.0, float("nan")], "mm")
    ('infinite', '[1, none] mm')
    """
    if value is None:
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if isinstance(value, float) and not math.isfinite(value):
        return _digits(value, 1.0)
    shown = _SPOKEN.get(unit)
    also = f" ({_digits(value, conversion_factor(unit, shown))} {shown})" if shown else ""
    if isinstance(value, int | float) and math.isfinite(value) and not 0 < abs(value) < 1e-3:
        return format_quantity(float(value), "" if unit == "-" else unit, digits=5) + also
    return f"{_digits(value, 1.0)} {'' if unit == '-' else unit}".strip() + also


def _digits(value: Any, factor: float) -> str:
    if hasattr(value, "__len__"):
        with np.errstate(over="ignore", invalid="ignore"):
            value = np.round(np.asarray(value, dtype=float), 12) + 0.0  # what is nothing but rounding is nothing
        return "[" + ", ".join(_digits(item, factor) for item in value) + "]"
    if not math.isfinite(value):
        return "none" if math.isnan(value) else "infinite"
    return f"{float(value) * factor:.5g}"


# --- the example of its docstring -------------------------------------------------------------------------------------


@lru_cache(maxsize=256)
def example_of(calculation: Calculation) -> Mapping[str, str]:
    """What the worked example of a calculation's docstring gives it, as a person would write it.

    Examples
    --------
    >>> from fishplate.trade import calculations
    >>> dict(example_of(calculations()["arches.rise_in_roll"]))
    {'half_track_mm': '780 mm', 'roll_rad': '5 deg'}
    """
    function, asked = calculation.function, list[dict[str, Any]]()

    def noted(*values: Any, **named: Any) -> Any:
        asked.append(dict(inspect.signature(function).bind(*values, **named).arguments))
        return function(*values, **named)

    names = {**getattr(function, "__globals__", {}), function.__name__: noted}
    for source in _statements(read_sections(function.__doc__ or "").get("Examples", "")):
        exec(source, names)  # our own docstring, which the tests run as well
        if asked:
            break
    units = {item.name: item.quantity.unit for item in calculation.parameters}
    return {name: _written(value, units.get(name, "")) for name, value in asked[0].items()} if asked else {}


def _statements(text: str) -> list[str]:
    from doctest import DocTestParser

    return [example.source for example in DocTestParser().get_examples(text)]


def _written(value: Any, unit: str) -> str:
    """A value as it would be written for a calculation to read."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    shown = _SPOKEN.get(unit, unit) if unit not in ("kg/mm**3", "ohm*mm") else unit
    factor = conversion_factor(unit, shown) if shown != unit else 1.0
    held = np.asarray(value, dtype=float) * factor
    rows = [", ".join(_plain(item) for item in row) for row in np.atleast_2d(held)] if held.ndim < 3 else []
    return f"{'; '.join(rows)} {'' if shown == '-' else shown}".strip()


def _plain(value: float) -> str:
    text = f"{value:.8g}"
    return text if "e" not in text else f"{value:.6e}"
