"""Quantities as people type them: one reader for every page, command and list.

A bare number is in the unit of its field. What can be read in two ways follows the habit of the writer (the decimal
mark) and is said; where no habit is known, a point is decimal and a comma before three digits is refused. A unit of
another kind is refused, naming both.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from typing import Final, NamedTuple

from .numbers import NUMBER_PATTERN, Unreadable, is_ambiguous, parse_number
from .units import Unit, UnitProblem, parse_unit

MOST_CHARACTERS: Final = 80
# What a phone's keyboard makes of an inch mark, a foot mark, a minus, a space.
_PLAIN: Final = str.maketrans(
    {"”": '"', "“": '"', "″": '"', "’": "'", "‘": "'", "′": "'", "−": "-", "–": "-", "\u00a0": " ", "\u202f": " "}
)
_FRACTION: Final = r"(?:\d+[\s-]+)?\d+\s*/\s*\d+"
_INCHES: Final = rf"(?:{_FRACTION}|\d{{1,2}}(?:[.,]\d+)?)"
_QUANTITY: Final = re.compile(rf"(?P<number>[+-]?(?:{_FRACTION}|(?![+-]){NUMBER_PATTERN}))\s*(?P<unit>.*)")
_PLAIN_QUANTITY: Final = re.compile(rf"(?P<number>{NUMBER_PATTERN})(?P<rest>[^\d.,]*)")
_FEET: Final = re.compile(
    rf"(?P<sign>[+-]?)(?P<feet>\d+)\s*(?:'|ft\.?|feet|foot)\s*-?\s*(?P<inches>{_INCHES})\s*(?:\"|in\.?|inch|inches)?"
)
_CLOCK: Final = re.compile(
    r"(?P<hours>\d+)\s*(?::|(?:h|hr|hrs|hours?)\s*(?:and\s*)?)(?P<minutes>\d{1,2})\s*(?:m|mins?|minutes?)?"
)
_FREEZING_F: Final = 32.0
_FREEZING_K: Final = 273.15


class Written(NamedTuple):
    """A number and its unit as they were typed.

    Parameters
    ----------
    number : in the unit that was written; unit : its text, empty if none was written
    said : how it was read, where that is not plain; empty otherwise
    """

    number: float
    unit: str
    said: str = ""


class Figure(NamedTuple):
    """A value in the unit of its field, and how it was read where that is not plain."""

    value: float
    said: str = ""


def plain(text: str) -> str:
    """What was typed, in plain signs.

    Examples
    --------
    >>> plain("1½”"), plain("3/8''")
    ('1 1/2"', '3/8"')
    """
    signs = (f" {unicodedata.normalize('NFKC', c)}" if unicodedata.decomposition(c).startswith("<fraction>") else c
             for c in text)  # fmt: skip
    return " ".join("".join(signs).replace("\u2044", "/").translate(_PLAIN).replace("''", '"').split())


def split_quantity(text: str, mark: str | None = None) -> Written:
    """A number and the text of its unit, which may be one no dimension is held in.

    Parameters
    ----------
    text : such as 12,5 mm, 2-1/16 in, 5' 3 1/2", 2 h 30 or 1 234,50
    mark : decimal mark the writer is used to, "." or ",", where it is known; it decides only what is open

    Raises
    ------
    UnitProblem
        if it is no number, or can be read in two ways and no habit is known

    Examples
    --------
    >>> split_quantity("3500 rpm")
    Written(number=3500.0, unit='rpm', said='')
    >>> split_quantity("1,234 mm", ",").number, split_quantity("1,234 mm", ".").said
    (1.234, '“1,234” is read as 1234')
    >>> split_quantity("5' 3 1/2\\""), split_quantity("2 h 30")
    (Written(number=63.5, unit='in', said=''), Written(number=2.5, unit='h', said=''))
    """
    bare = plain(text)
    match = _QUANTITY.fullmatch(bare) if len(bare) <= MOST_CHARACTERS else None
    if match is None:
        raise UnitProblem(f"{text[:MOST_CHARACTERS]!r} is not a number with a unit")
    if clock := _CLOCK.fullmatch(bare.casefold()):
        return _clock(bare, int(clock["hours"]), int(clock["minutes"]))
    if feet := _FEET.fullmatch(bare.casefold()):
        return _feet(bare, feet)
    number, unit = match["number"], match["unit"].strip()
    if "/" in number:
        return Written(_fraction(number), unit)
    value, said = _read_number(text, number, mark)
    return Written(float(value), unit, said)


def _read_number(text: str, number: str, mark: str | None) -> tuple[Decimal, str]:
    is_open = is_ambiguous(number) and not (
        mark != "," and "." in number
    )  # a point is usual unless the habit is another
    try:
        value = parse_number(number, mark if is_open else mark or ".")
    except Unreadable as problem:
        if problem.code == "ambiguous-number":
            what = "can be read in two ways; leave the mark out, or write two digits after it"
            raise UnitProblem(f"{text!r} {what}") from None
        raise UnitProblem(f"{text!r} is not a number with a unit") from None
    return value, f"“{number}” is read as {value:f}" if is_open else ""


def in_arithmetic(text: str, mark: str | None = None) -> str:
    """A quantity with the decimal point that arithmetic is written with; anything else as it was typed.

    Parameters
    ----------
    mark : see `split_quantity`

    Examples
    --------
    >>> in_arithmetic("0,60 mm", ","), in_arithmetic("1 3/8 in"), in_arithmetic("max(gap, 2)", ",")
    ('0.60 mm', '1 3/8 in', 'max(gap, 2)')
    """
    match = _PLAIN_QUANTITY.fullmatch(plain(text))
    if match is None:
        return text
    try:
        return f"{_read_number(text, match['number'], mark)[0]:f}{match['rest']}"
    except UnitProblem:
        return text


def _clock(text: str, hours: int, minutes: int) -> Written:
    if minutes >= 60:
        raise UnitProblem(f"{text!r} has more minutes than an hour")
    said = f"“{text}” is read as {hours} h {minutes} min" if ":" in text else ""
    return Written(hours + minutes / 60, "h", said)


def _feet(text: str, match: re.Match[str]) -> Written:
    inches = _fraction(match["inches"]) if "/" in match["inches"] else float(match["inches"].replace(",", "."))
    if inches >= 12:
        raise UnitProblem(f"{text!r} has more inches than a foot")
    return Written((-1.0 if match["sign"] == "-" else 1.0) * (12 * int(match["feet"]) + inches), "in")


def _fraction(text: str) -> float:
    sign = -1.0 if text.startswith("-") else 1.0
    whole, over, under = re.fullmatch(r"(?:(\d+)[\s-]+)?(\d+)\s*/\s*(\d+)", text.lstrip("+-")).groups()  # type: ignore[union-attr]
    if int(under) == 0:
        raise UnitProblem(f"{text!r} divides by zero")
    return sign * (int(whole or 0) + int(over) / int(under))


def parse_quantity(text: str, mark: str | None = None) -> tuple[float, Unit]:
    """A number and its unit as a person writes them; inch fractions are read.

    Returns
    -------
    value in the written unit, and the unit (the number kind if none is written)

    Raises
    ------
    UnitProblem
        if the text is not a number with a known unit

    Examples
    --------
    >>> parse_quantity('1 3/8"')
    (1.375, Unit(symbol='in', kind='length', factor=25.4))
    >>> parse_quantity("12,5 mm")[0]
    12.5
    """
    written = split_quantity(text, mark)
    return written.number, parse_unit(written.unit)


def read_quantity(text: str, unit: str, mark: str | None = None) -> Figure:
    """A value in the unit of its field; a bare number is in that unit already.

    Parameters
    ----------
    text : what was typed; unit : the field's, such as mm, kg, h or °C; mark : see `split_quantity`

    Raises
    ------
    UnitProblem
        if it is no number, or measures something else than the field, naming both

    Examples
    --------
    >>> read_quantity("2-1/16 in", "mm").value, read_quantity("30 psi", "bar").value, read_quantity("68 °F", "°C").value
    (52.3875, 2.06842718795, 20.0)
    >>> read_quantity("25 lb-ft", "mm")
    Traceback (most recent call last):
    ...
    fishplate.build.units.UnitProblem: lb-ft measures a torque, this is a length in mm
    """
    written = split_quantity(text, mark)
    return Figure(in_unit(written.number, written.unit, unit), written.said)


def in_unit(number: float, written: str, unit: str, *, is_width: bool = False) -> float:
    """A number in a unit as it was written, turned into another; none written is that other.

    Parameters
    ----------
    is_width : whether it is a difference, so that no zero of a temperature scale counts

    Raises
    ------
    UnitProblem
        if they measure different things, naming both

    Examples
    --------
    >>> in_unit(40, "mm", "in")
    1.57480314961
    """
    own = parse_unit(unit)
    if not written or written == unit:
        return number
    if own.kind == "temperature" and written in _TEMPERATURES:
        return float(f"{_celsius(number, _TEMPERATURES[written], is_width=is_width):.12g}")
    its = parse_unit(written)
    if its.kind != own.kind:
        here = f"{_a(own.kind)} in {unit}" if unit else "a plain number"
        raise UnitProblem(f"{written} measures {_a(its.kind)}, this is {here}")
    # twelve digits hold what was typed, and leave out what the arithmetic adds
    return number if its.factor == own.factor else float(f"{number * its.factor / own.factor:.12g}")


_TEMPERATURES: Final = {"°F": "F", "degF": "F", "F": "F", "℉": "F", "K": "K"}


def _celsius(number: float, scale: str, *, is_width: bool) -> float:
    """By the definitions of the kelvin and of the degree Fahrenheit."""
    zero, step = (_FREEZING_F, 1.8) if scale == "F" else (_FREEZING_K, 1.0)
    return (number - (0.0 if is_width else zero)) / step


def _a(kind: str) -> str:
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"
