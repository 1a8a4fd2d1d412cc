"""Thermal growth, where a dimension names its material and how hot it gets.

A condition that is judged hot takes each such dimension at its grown length; the others stay as measured. Growth is
length times expansion times the rise over 20 °C (ISO 1).
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from importlib.resources import files
from typing import Any

from ..build.expression import Expression
from ..build.expression_nodes import Binary, Call, Literal, Name, Negative, Node, Power
from ..build.interfaces import Dimension
from ..build.units import parse_unit

_POWERS = {"length": 1, "area": 2, "volume": 3}


def growth_factor(dimension: Dimension) -> float:
    """What a length, area or volume is multiplied by when hot; 1 where it names no material or heat, or is none.

    Examples
    --------
    >>> round(growth_factor(Dimension(id="pipe", name="Pipe", material="stainless", runs_at_c=520)), 6)
    1.0085
    """
    if dimension.material is None or dimension.runs_at_c is None or dimension.designates is not None:
        return 1.0
    power = _POWERS.get(parse_unit(dimension.unit).kind, 0)
    table = _table()
    per_kelvin = float(table["per_million_kelvin"][dimension.material]) * 1e-6
    return float((1 + per_kelvin * (dimension.runs_at_c - float(table["reference_c"]))) ** power)


def grown(expression: Expression, factors: Mapping[str, float]) -> Expression:
    """The same arithmetic with each dimension times its factor."""
    return replace(expression, root=_grown(expression.root, factors))


def _grown(node: Node, factors: Mapping[str, float]) -> Node:
    match node:
        case Name(id=id_, span=span):
            factor = factors.get(id_, 1.0)
            return node if factor == 1 else Binary("*", node, Literal(factor, "", "number", span), span)
        case Negative(of=inner):
            return replace(node, of=_grown(inner, factors))
        case Power(base=base):
            return replace(node, base=_grown(base, factors))
        case Binary(left=left, right=right):
            return replace(node, left=_grown(left, factors), right=_grown(right, factors))
        case Call(arguments=arguments):
            return replace(node, arguments=tuple(_grown(each, factors) for each in arguments))
        case _:
            return node


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(files("fishplate.fit").joinpath("data/expansion.toml").read_text("utf-8"))
