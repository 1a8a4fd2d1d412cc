"""Faults in conditions, designations and correlations.

Arithmetic not to be read, units that don't agree, limits that are missing; designations not to be read, or of families
that never mate.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from .designations import DesignationError, parse_designation
from .expression import RESERVED, Expression, ExpressionError, parse_expression
from .interfaces import Condition, Dimension, is_dimension_id
from .problem import Problem
from .units import UnitProblem, parse_unit

if TYPE_CHECKING:
    from .document import Build

_ROUNDING = 1e-9


def condition_faults(
    build: Build, source: str, conditions: Iterable[Condition] | None = None
) -> Iterator[Problem]:  # fmt: skip
    """What keeps the conditions of a build, or some of them, from being evaluated."""
    units = {dimension.id: dimension.unit for dimension in build.dimensions if dimension.designates is None}
    for id_ in sorted(RESERVED & {dimension.id for dimension in build.dimensions}):
        where = f"{source}, dimensions ({id_})"
        yield Problem(where, "reserved-name", "expressions use this name for a function", id_, "Give it another id.")
    kinds = {id_: parse_unit(unit).kind for id_, unit in units.items()}
    for condition in build.conditions if conditions is None else conditions:
        where = f"{source}, conditions ({condition.id})"
        if condition.kind == "dry-run" or condition.mates is not None:
            yield from _without_arithmetic(build, condition, where)
        else:
            yield from _faults_of(build, condition, where, kinds, units)


def _without_arithmetic(build: Build, condition: Condition, where: str) -> Iterator[Problem]:
    fields = [name for name in ("expression", "at_least", "at_most") if getattr(condition, name)]
    if fields:
        what = f"a {condition.kind} {'of designations ' if condition.mates else ''}is not computed from figures"
        yield Problem(f"{where}, {fields[0]}", "not-computed", what, getattr(condition, fields[0]), "Leave it out.")
    if condition.mates is None:
        return
    if condition.kind != "match":
        what = "only a match compares designations"
        yield Problem(f"{where}, mates", "not-a-match", what, condition.kind, 'Set kind to "match".')
        return
    yield from _mate_faults(build, condition.mates, f"{where}, mates")


def _mate_faults(build: Build, mates: tuple[str, str], where: str) -> Iterator[Problem]:
    named = [build.index["dimensions"].get(text) if is_dimension_id(text) else None for text in mates]
    for text, dimension in zip(mates, named, strict=True):
        if is_dimension_id(text) and dimension is None:
            do = "Add the dimension; designations of your own are written with capitals or figures."
            yield Problem(where, "refers-to-nothing", "there is no such dimension", text, do)
        elif dimension is not None and dimension.designates is None:
            do = 'Say what it designates, as in "designates": "thread".'
            yield Problem(where, "not-a-designation", "that dimension is a number", text, do)
    families = {dimension.designates for dimension in named if dimension is not None and dimension.designates}
    if len(families) > 1:
        yield Problem(where, "families", "these never mate", " and ".join(sorted(families)), "Name two of one family.")
    elif not families and not any(map(is_dimension_id, mates)):
        yield Problem(where, "no-dimension", "neither is a dimension", " and ".join(mates), "Name at least one.")
    for family in families if len(families) == 1 else ():
        for text in mates:
            if not is_dimension_id(text):
                yield from _designation_faults(text, family, where)


def _designation_faults(text: str, family: Any, where: str) -> Iterator[Problem]:
    try:
        parse_designation(text, family)
    except DesignationError as fault:
        yield Problem(where, "designation", fault.what, text, fault.do)


def designation_faults(build: Build, source: str) -> Iterator[Problem]:
    """Readings that don't suit their dimension, and looks at a condition of another interface."""
    for where, name, value, designation in _figures(build, source):
        dimension: Dimension | None = build.index["dimensions"].get(name)
        if dimension is None:
            continue
        if dimension.designates is None and designation:
            what = "its dimension takes a number"
            yield Problem(f"{where}, designation", "not-a-number", what, designation, "Give a value.")
        elif dimension.designates is not None and not designation:
            what = f"its dimension takes the designation of a {dimension.designates}"
            yield Problem(f"{where}, value", "not-a-designation", what, str(value), "Give a designation.")
        elif dimension.designates is not None:
            yield from _designation_faults(designation, dimension.designates, f"{where}, designation")
    for position, item in enumerate(build.settled, 1):
        condition: Condition | None = None if item.condition is None else build.index["conditions"].get(item.condition)
        if condition is not None and condition.interface != item.interface:
            what = "that condition is of another interface"
            where = f"{source}, settled ({position}), condition"
            yield Problem(where, "other-interface", what, condition.id, f"Name {condition.interface}.")


def _figures(build: Build, source: str) -> Iterator[tuple[str, str, float | None, str]]:
    """Every figure given for a dimension: where, the dimension, its value and its designation."""
    for reading in build.readings:
        yield f"{source}, readings ({reading.id})", reading.dimension, reading.value, reading.designation
    for decision in build.decisions:
        for option in decision.options:
            for item in option.dimensions:
                where = f"{source}, decisions ({decision.id}), options ({option.id})"
                yield where, item.dimension, item.value, item.designation


def _faults_of(
    build: Build, condition: Condition, where: str, kinds: dict[str, str], units: dict[str, str]
) -> Iterator[Problem]:  # fmt: skip
    read: dict[str, Expression] = {}
    for field in ("expression", "at_least", "at_most"):
        text = getattr(condition, field)
        if text is not None:
            try:
                read[field] = parse_expression(text)
            except ExpressionError as error:
                yield error.problem(f"{where}, {field}")
    if condition.at_least is None and condition.at_most is None:
        yield Problem(where, "no-limit", "the condition has no limit", "", "Give at_least, at_most or both.")
    whole = True
    for field, expression in read.items():
        for name in sorted(expression.names - kinds.keys()):
            whole = False
            yield _no_number(build, name, f"{where}, {field}")
    if whole and "expression" in read:
        yield from _unit_faults(read, where, kinds, units)
        yield from _angle_faults(condition, read["expression"], where, kinds, units)


def _no_number(build: Build, name: str, where: str) -> Problem:
    if name in build.index["dimensions"]:
        return Problem(where, "not-a-number", "that dimension is a designation", name, "Compare it by mates.")
    return Problem(where, "refers-to-nothing", "there is no such dimension", name, "Add it, or correct it.")


def _angle_faults(
    condition: Condition, expression: Expression, where: str, kinds: dict[str, str], units: dict[str, str]
) -> Iterator[Problem]:  # fmt: skip
    if condition.kind == "angle":
        try:
            kind = expression.kind(kinds, units=units)
        except UnitProblem:  # said already
            return
        if kind != "angle":
            what = f"a condition on an angle, but the expression is of kind {kind}"
            yield Problem(f"{where}, expression", "units", what, expression.text, "Use another kind, or an angle.")


def _unit_faults(
    read: dict[str, Expression], where: str, kinds: dict[str, str], units: dict[str, str]
) -> Iterator[Problem]:  # fmt: skip
    """What does not go together in each field by itself, then between what is held and its limits."""
    told, sound = read.get("expression"), list[str]()
    for field, expression in read.items():
        try:
            expression.kind(kinds, units=units)
            if told is not None and field != "expression" and "expression" in sound:
                told.agree(expression, kinds, units=units)
            sound.append(field)
        except UnitProblem as fault:
            do = "Write the limit in a unit of the same kind, and add only what is alike."
            yield Problem(f"{where}, {field}", "units", str(fault), expression.text, do)
    if len(sound) < len(read):
        return
    low, high = read.get("at_least"), read.get("at_most")
    if low and high and not low.names | high.names and float(low.evaluate({})) > float(high.evaluate({})):
        what = "the least allowed is above the most allowed"
        yield Problem(where, "limits", what, f"{low.text} > {high.text}", "Exchange them.")


def correlation_faults(build: Build, source: str) -> Iterator[Problem]:
    """Correlations that can't all hold: of a dimension with itself, stated twice, or contradicting each other."""
    pairs = [tuple(sorted((item.first, item.second))) for item in build.correlations]
    for pair, count in sorted(Counter(pairs).items()):
        where = f"{source}, correlations ({pair[0]}, {pair[1]})"
        if pair[0] == pair[1]:
            yield Problem(
                where, "correlation", "a dimension is correlated with itself", pair[0], "Name two dimensions."
            )
        elif count > 1:
            yield Problem(where, "correlation", "this pair is stated more than once", str(count), "Keep one of them.")
    names = sorted({name for pair in pairs for name in pair})
    for name in names:
        if (dimension := build.index["dimensions"].get(name)) is not None and dimension.designates is not None:
            where = f"{source}, correlations ({name})"
            yield Problem(where, "correlation", "a designation errs with nothing", name, "Leave it out.")
    matrix = np.eye(len(names))
    for item in build.correlations:
        first, second = names.index(item.first), names.index(item.second)
        if first != second:
            matrix[first, second] = matrix[second, first] = item.coefficient
    if names and float(np.linalg.eigvalsh(matrix).min()) < -_ROUNDING:
        what = "these correlations cannot all hold at once"
        yield Problem(f"{source}, correlations", "correlation", what, ", ".join(names)[:60], "Weaken one of them.")
