"""Figures as they are typed at the bench: with a unit, a comma, an inch fraction, give or take."""

from __future__ import annotations

import re
from typing import Final

from ..build.quantities import in_unit, plain, split_quantity
from ..build.units import UnitProblem, parse_unit
from .fields import beside_field
from .form import Form

_GIVE_OR_TAKE: Final = re.compile(r"\s*(?:±|\+/-|\+-)\s*")


def read_figure(
    text: str, spread: str, unit: str, mark: str | None = None, *, bare: str = ""
) -> tuple[float, float | None, str]:
    """A value and its spread in a dimension's unit.

    Parameters
    ----------
    text : the value; it may hold the spread too, as in "12.5 ± 0.5 mm"
    spread : the spread typed beside it, or nothing; without a unit it is in the value's
    unit : the dimension's unit, which counts where none is written
    mark : decimal mark the writer is used to; bare : unit of a bare number, where the field shows another

    Returns
    -------
    value, spread, and how they were read where that is not plain

    Raises
    ------
    UnitProblem
        if it can't be read, or is in a unit of something else

    Examples
    --------
    >>> read_figure("12,5 mm", "", "mm"), read_figure('1 3/8"', "1/16", "mm")
    ((12.5, None, ''), (34.925, 1.5875, ''))
    >>> read_figure("40 ± 0,5 mm", "", "in")
    (1.57480314961, 0.0196850393701, '')
    """
    value, *inside = _GIVE_OR_TAKE.split(plain(text), maxsplit=1)
    take = plain(spread) or (inside[0] if inside else "")
    number = split_quantity(value, mark)
    if inside and not take:
        raise UnitProblem(f"{text!r} does not say give or take what")
    if not take:
        return in_unit(number.number, number.unit or bare, unit), None, number.said
    width = split_quantity(take, mark)
    if width.number < 0:
        raise UnitProblem(f"{take!r} is less than nothing")
    written = number.unit or width.unit or bare
    said = "; ".join(filter(None, (number.said, width.said)))
    half = in_unit(width.number, width.unit or written, unit, is_width=True)
    return in_unit(number.number, written, unit), half, said


def figure(
    form: Form, unit: str, value_field: str = "value", spread_field: str = "spread"
) -> tuple[float, float | None]:  # fmt: skip
    """The figure in two fields, its value and give or take; a fault is noted beside the field it is in."""
    text, spread = form.required(value_field, "Give what was read."), form.text(spread_field)
    if not text:
        return 0.0, None
    beside, mark = beside_field(form, value_field), form.formats.mark
    bare = beside.shown if beside.held == unit else unit
    do = f"Write it as in 12.5 {bare} or 1 3/8 in." if parse_unit(unit).kind == "length" else f"In {bare}."
    try:
        value, inside, said = read_figure(text, "", unit, mark, bare=bare)
    except UnitProblem as problem:
        form.refuse(value_field, str(problem)[:200], "", do)
        return 0.0, None
    try:
        if spread:
            value, inside, said = read_figure(text, spread, unit, mark, bare=bare)
    except UnitProblem as problem:
        form.refuse(spread_field, str(problem)[:200], "", f"Give half the width, as in 0.5 {bare}.")
        return value, None
    form.say(said)
    return (beside.stands_for if text == beside.was else value), inside
