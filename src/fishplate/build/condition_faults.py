"""Faults in conditions and correlations: arithmetic not to be read, units that don't agree, limits that are missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from .expression import RESERVED, Expression, ExpressionError, parse_expression
from .interfaces import Condition
from .problem import Problem
from .units import UnitProblem, parse_unit

if TYPE_CHECKING:
    from .document import Build

_ROUNDING = 1e-9


def condition_faults(build: Build, source: str) -> Iterator[Problem]:
    """What keeps the conditions of a build from being evaluated."""
    units = {dimension.id: dimension.unit for dimension in build.dimensions}
    for id_ in sorted(RESERVED & units.keys()):
        where = f"{source}, dimensions ({id_})"
        yield Problem(where, "reserved-name", "expressions use this name for a function", id_, "Give it another id.")
    kinds = {id_: parse_unit(unit).kind for id_, unit in units.items()}
    for condition in build.conditions:
        yield from _faults_of(condition, f"{source}, conditions ({condition.id})", kinds, units)


def _faults_of(condition: Condition, where: str, kinds: dict[str, str], units: dict[str, str]) -> Iterator[Problem]:
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
            yield Problem(
                f"{where}, {field}", "refers-to-nothing", "there is no such dimension", name, "Add it, or correct it."
            )
    if whole and "expression" in read:
        yield from _unit_faults(read, where, kinds, units)


def _unit_faults(
    read: dict[str, Expression], where: str, kinds: dict[str, str], units: dict[str, str]
) -> Iterator[Problem]:  # fmt: skip
    for field in ("at_least", "at_most") if len(read) > 1 else ("expression",):
        if field in read:
            try:
                read["expression"].agree(read[field], kinds, units=units)
            except UnitProblem as fault:
                do = "Write the limit in a unit of the same kind, and add only what is alike."
                yield Problem(f"{where}, {field}", "units", str(fault), read[field].text, do)
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
    matrix = np.eye(len(names))
    for item in build.correlations:
        first, second = names.index(item.first), names.index(item.second)
        if first != second:
            matrix[first, second] = matrix[second, first] = item.coefficient
    if names and float(np.linalg.eigvalsh(matrix).min()) < -_ROUNDING:
        what = "these correlations cannot all hold at once"
        yield Problem(f"{source}, correlations", "correlation", what, ", ".join(names)[:60], "Weaken one of them.")
