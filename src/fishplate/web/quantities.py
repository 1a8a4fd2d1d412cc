"""Figures as they are typed at the bench: with a unit, a comma, an inch fraction, give or take."""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from ..build.units import Unit, UnitProblem, parse_quantity, parse_unit
from .form import Form

# What a phone's keyboard makes of an inch mark, a minus, a space.
_PLAIN: Final = str.maketrans({"”": '"', "“": '"', "″": '"', "−": "-", "–": "-", "\u00a0": " ", "\u202f": " "})
_GIVE_OR_TAKE: Final = re.compile(r"\s*(?:±|\+/-|\+-)\s*")


def plain(text: str) -> str:
    """What was typed, in plain signs.

    Examples
    --------
    >>> plain("1½”"), plain("3/8''")
    ('1 1/2"', '3/8"')
    """
    signs = (f" {unicodedata.normalize('NFKC', c)}" if unicodedata.decomposition(c).startswith("<fraction>") else c
             for c in text)  # fmt: skip
    return "".join(signs).replace("\u2044", "/").replace("''", '"').translate(_PLAIN).strip()


def read_figure(text: str, spread: str, unit: str) -> tuple[float, float | None]:
    """A value and its spread in a dimension's unit.

    Parameters
    ----------
    text : the value; it may hold the spread too, as in "12.5 ± 0.5 mm"
    spread : the spread typed beside it, or nothing; without a unit it is in the value's
    unit : the dimension's unit, which counts where none is written

    Raises
    ------
    UnitProblem
        if it can't be read, or is in a unit of something else

    Examples
    --------
    >>> read_figure("12,5 mm", "", "mm"), read_figure('1 3/8"', "1/16", "mm")
    ((12.5, None), (34.925, 1.5875))
    >>> read_figure("40 ± 0,5 mm", "", "in")
    (1.57480315, 0.0196850394)
    """
    value, *inside = _GIVE_OR_TAKE.split(plain(text), maxsplit=1)
    take = plain(spread) or (inside[0] if inside else "")
    number, written = parse_quantity(value)
    if inside and not take:
        raise UnitProblem(f"{text!r} does not say give or take what")
    if not take:
        return _converted(number, written, unit), None
    width, its = parse_quantity(take)
    if width < 0:
        raise UnitProblem(f"{take!r} is less than nothing")
    written = written if written.symbol else its
    return _converted(number, written, unit), _converted(width, its if its.symbol else written, unit)


def _converted(number: float, written: Unit, unit: str) -> float:
    own = parse_unit(unit)
    if not written.symbol or written == own:
        return number
    if written.kind != own.kind:
        here = f"{_a(own.kind)} in {unit}" if unit else "a plain number"
        raise UnitProblem(f"{written.symbol} measures {_a(written.kind)}, this is {here}")
    return float(f"{number * written.factor / own.factor:.9g}")


def _a(kind: str) -> str:
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def figure(
    form: Form, unit: str, value_field: str = "value", spread_field: str = "spread"
) -> tuple[float, float | None]:  # fmt: skip
    """The figure in two fields, its value and give or take; a fault is noted beside the field it is in."""
    text, spread = form.required(value_field, "Give what was read."), form.text(spread_field)
    if not text:
        return 0.0, None
    do = f"Write it as in 12.5 {unit}, 12,5 or 1 3/8 in." if parse_unit(unit).kind == "length" else f"In {unit}."
    try:
        value, inside = read_figure(text[:80], "", unit)
    except UnitProblem as problem:
        form.refuse(value_field, str(problem)[:200], "", do)
        return 0.0, None
    try:
        return read_figure(text, spread[:80], unit) if spread else (value, inside)
    except UnitProblem as problem:
        form.refuse(spread_field, str(problem)[:200], "", f"Give half the width, as in 0.5 {unit}.")
        return value, None
