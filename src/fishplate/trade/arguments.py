"""What a person writes for a calculation, read into what it takes: numbers with units, fractions, lists, text."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ..build.problem import Problem
from ..build.quantities import split_quantity
from ..build.units import UnitProblem, conversion_factor
from .arithmetic import FloatArray
from .catalogue import Calculation, Parameter

__all__ = ["read_arguments"]

_YES, _NO = {"yes", "true", "on", "1"}, {"no", "false", "off", "0"}
_SCIENTIFIC = re.compile(r"\s*([+-]?\d+(?:\.\d+)?[eE][+-]?\d+)\s*(.*?)\s*")


def read_arguments(
    calculation: Calculation, positional: Sequence[str], named: Mapping[str, str]
) -> tuple[dict[str, Any], dict[str, str], list[Problem]]:
    """Arguments of a calculation from text.

    Parameters
    ----------
    calculation : the function; positional : in the order of its parameters; named : by name

    Returns
    -------
    values by parameter, the text each was read from, and every fault found
    """
    by_name = {parameter.name: parameter for parameter in calculation.parameters}
    given = dict(zip((name for name in by_name if name not in named), positional, strict=False))
    problems = [_unknown(calculation, name, by_name) for name in named if name not in by_name]
    if len(positional) > len(given):
        extra = positional[len(given) :]
        problems.append(
            Problem(calculation.id, "too-many", "more values than it takes", " ".join(extra), "Leave them out.")
        )
    given |= {name: text for name, text in named.items() if name in by_name}
    values: dict[str, Any] = {}
    for name, parameter in by_name.items():
        if name in given:
            try:
                values[name] = read_value(parameter, given[name])
            except (UnitProblem, ValueError) as fault:
                problems.append(Problem(f"{calculation.id}, {name}", "value", str(fault), given[name], _how(parameter)))
        elif parameter.required:
            problems.append(Problem(f"{calculation.id}, {name}", "missing", "no value was given", "", _how(parameter)))
    return values, given, problems


def _unknown(calculation: Calculation, name: str, by_name: Mapping[str, Parameter]) -> Problem:
    from difflib import get_close_matches

    near = get_close_matches(name, by_name, 1, 0.4)
    do = f"Did you mean {near[0]}?" if near else f"It takes {', '.join(by_name)}."
    return Problem(calculation.id, "no-such-parameter", "it takes nothing of that name", name, do)


def _how(parameter: Parameter) -> str:
    quantity = parameter.quantity
    wanted = (
        quantity.words if quantity.unit in ("", "-") else f"{quantity.words}, in {quantity.unit} or a unit of its kind"
    )
    listed = "; values parted by commas, rows by semicolons" if parameter.kind == "array" else ""
    return f"Give {parameter.name}: {wanted}{listed}."


def read_value(parameter: Parameter, text: str) -> Any:
    """A value for a parameter; a bare number is taken in the parameter's unit. Raises UnitProblem or ValueError.

    Examples
    --------
    >>> from fishplate.trade.catalogue import Quantity
    >>> read_value(Parameter(Quantity("gap_mm", "gap", "mm"), "number"), "1 3/8 in")
    34.925
    """
    unit = parameter.quantity.unit
    match parameter.kind:
        case "text":
            return text
        case "flag":
            return _flag(text)
        case "count":
            return _count(text, unit)
        case "gauge":
            return _gauge(text)
        case "array":
            return _shaped(_array(text, unit, parameter.quantity.shape), parameter.quantity.shape)
        case _:
            return _number(text, unit)


def _flag(text: str) -> bool:
    plain = text.strip().lower()
    if plain not in _YES | _NO:
        raise ValueError("not yes or no")
    return plain in _YES


def _count(text: str, unit: str) -> int:
    spoken = text.strip().replace("°C", "degC") if unit == "degC" else text.strip()
    plain = spoken.removesuffix(unit).strip() if unit not in ("", "-") else spoken
    if not re.fullmatch(r"[+-]?\d{1,9}", plain):
        raise ValueError("not a whole number")
    return int(plain)


def _gauge(text: str) -> float:
    """A wire gauge; 2/0, 00 and -1 are one."""
    plain = text.strip().upper().removesuffix("AWG").removeprefix("AWG").strip()
    if match := re.fullmatch(r"([1-4]) ?/ ?0", plain):
        return 1.0 - int(match[1])
    if re.fullmatch(r"0{1,4}", plain):
        return 1.0 - len(plain)
    return _number(plain, "-")


def _number(text: str, unit: str) -> float:
    number, written = _split(text)
    return _in_unit(number, written, unit)


_POWER = re.compile(r"(?<=[a-zA-Z])([234])(?!\d)")


def _split(text: str) -> tuple[float, str]:
    """A number and its unit; mm2 and qmm are said for mm**2."""
    number, written = _parted(text)
    return number, _POWER.sub(r"**\1", written.replace("qmm", "mm**2"))


def _parted(text: str) -> tuple[float, str]:
    if match := _SCIENTIFIC.fullmatch(text):
        number, written = float(match[1]), match[2]
    else:
        number, written, _ = split_quantity(text)
    if not np.isfinite(number):
        raise ValueError("not a finite number")
    return number, written


def _in_unit(number: float, written: str, unit: str) -> float:
    wanted = "" if unit == "-" else unit
    if written == "%" and not wanted:
        return number / 100
    return number * conversion_factor(written, wanted) if written else number


def _shaped(values: FloatArray, shape: str) -> FloatArray:
    """The values, as one row where rows are wanted; refused if the figures of the shape are not theirs."""
    wanted = [item.strip() for item in shape.strip("()").split(",") if item.strip()]
    fixed = [item for item in wanted if item != "..."]
    if len(fixed) > values.ndim:
        values = values.reshape((1,) * (len(fixed) - values.ndim) + values.shape)
    ends = values.shape[values.ndim - len(fixed) :]
    counted = all(int(item) == size for item, size in zip(fixed, ends, strict=True) if item.isdigit())
    if not counted or (values.ndim > len(fixed) and wanted[0] != "..."):
        raise ValueError(f"{' x '.join(map(str, values.shape))} values where {shape} are wanted")
    return values


_TIGHT = re.compile(r"\d+,\d+")


def _open_comma(text: str, shape: str) -> str | None:
    """A comma that may as well be a decimal one, if there is one.

    That is one between two digits where another has a space behind it, or where semicolons part what is one row.

    Examples
    --------
    >>> _open_comma("12,7, 13,1 mm", "(n,)"), _open_comma("35,5; 40,2", "(..., n)"), _open_comma("3,5 deg", "(n,)")
    ('12,7', '35,5', None)
    """
    tight = _TIGHT.search(text)
    if tight is None:
        return None
    one_row = len([item for item in shape.strip("()").split(",") if item.strip(" .")]) == 1
    pairs = all(row.count(",") == 1 for row in text.split(";") if row.strip())
    spaced = any(re.search(r",\s", row) and _TIGHT.search(row) for row in text.split(";"))
    return tight[0] if spaced or (one_row and ";" in text and pairs) else None


def _array(text: str, unit: str, shape: str) -> FloatArray:
    """Values parted by commas, rows by semicolons; a unit behind the last holds for those before it that have none."""
    if len(text) > 20_000:
        raise ValueError("too long a list")
    if not text.strip():
        raise ValueError("no value was given")
    if (open_ := _open_comma(text, shape)) is not None:
        whole = open_.replace(",", ".")
        raise ValueError(f"“{open_}” can be read as two values or as one; write {whole}, or a space after the comma")
    rows = [[_split(item) for item in row.split(",")] for row in text.strip().strip("[]").split(";") if row.strip()]
    last = rows[-1][-1][1] if rows else ""
    if not rows or len({len(row) for row in rows}) > 1:
        raise ValueError("not rows of the same length")
    values = np.array([[_in_unit(number, written or last, unit) for number, written in row] for row in rows])
    return values if ";" in text else values[0]
