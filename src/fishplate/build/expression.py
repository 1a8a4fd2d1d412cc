"""Safe arithmetic over dimensions with units.

An expression names dimensions, numbers, literals with units (`15 mm`, `2.5 deg`, `1 3/8 in`), `pi`, the four
operations, powers with a plain number, and a few functions. It is read by a small parser of its own, so a build
document can hold nothing but arithmetic. A word straight after a number is its unit; a unit written together, as in
`35 N/mm`, is read as one. Values are in internal units (mm, N, MPa, N*mm, kg, s, rad); an angle is a kind of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .expression_nodes import (
    CONSTANTS,
    FUNCTIONS,
    ExpressionError,
    FloatArray,
    Kinds,
    Literal,
    Measure,
    Name,
    Node,
    Value,
    disagreement,
    walk,
)
from .expression_reader import MAX_CHARACTERS, Reader
from .units import UnitProblem

__all__ = ["RESERVED", "Expression", "ExpressionError", "FloatArray", "Value", "names_in", "parse_expression"]

RESERVED = frozenset(FUNCTIONS) | frozenset(CONSTANTS)


@dataclass(frozen=True, slots=True)
class Expression:
    """Arithmetic over dimensions, read and ready.

    Examples
    --------
    >>> gap = parse_expression("arch_height - tyre_radius - 15 mm")
    >>> sorted(gap.names)
    ['arch_height', 'tyre_radius']
    >>> gap.kind({"arch_height": "length", "tyre_radius": "length"})
    'length'
    >>> gap.evaluate({"arch_height": 800.0, "tyre_radius": 380.0})
    405.0
    """

    text: str
    root: Node
    names: frozenset[str]

    def kind(self, kinds: Mapping[str, str], *, units: Mapping[str, str] | None = None) -> str:
        """What the expression measures.

        Parameters
        ----------
        kinds : kind of each dimension, a key of INTERNAL_UNITS
        units : unit of each dimension as the owner wrote it, for the words of a refusal

        Returns
        -------
        a key of INTERNAL_UNITS, or a make-up such as "length^4" that has no name there

        Raises
        ------
        UnitProblem
            if it adds, compares or turns what does not go together, naming both units
        """
        return self._measure(kinds, units).kind

    def agree(
        self, other: Expression, kinds: Mapping[str, str], *, units: Mapping[str, str] | None = None
    ) -> None:  # fmt: skip
        """Refuse, naming both units, if another expression does not measure the same; raises UnitProblem."""
        own, its = self._measure(kinds, units), other._measure(kinds, units)
        if own.exponents is not None and its.exponents is not None and own.exponents != its.exponents:
            raise UnitProblem(disagreement(own, its, self.text, other.text))

    def _measure(self, kinds: Mapping[str, str], units: Mapping[str, str] | None) -> Measure:
        unknown = sorted(self.names - kinds.keys())
        if unknown:
            raise UnitProblem(f"there is no dimension {unknown[0]!r}")
        return self.root.measure(Kinds(self.text, kinds, units or {}))

    def evaluate(self, values: Mapping[str, Value]) -> Value:
        """The value in internal units; not-a-number where it has none (root of a negative, arc sine above one).

        Parameters
        ----------
        values : value of each dimension in internal units, a float or an array (n,)
        """
        missing = self.names - values.keys()
        if missing:
            raise ExpressionError(self.text, 1, f"there is no value for {min(missing)!r}", "Measure or estimate it.")
        with np.errstate(all="ignore"):
            result = self.root.value(values)
        return result if np.ndim(result) else float(result)

    @property
    def unit(self) -> str | None:
        """The unit of the first literal that has one, as it was written; None if there is none."""
        return next((node.unit for node in walk(self.root) if isinstance(node, Literal) and node.unit), None)


def names_in(text: str) -> frozenset[str]:
    """Dimension ids an expression uses; raises ExpressionError.

    Examples
    --------
    >>> sorted(names_in("max(a, b) - 15 mm"))
    ['a', 'b']
    """
    return parse_expression(text).names


@lru_cache(maxsize=8192)
def parse_expression(text: str) -> Expression:
    """An expression from its text.

    Raises
    ------
    ExpressionError
        with the column and what is wrong there

    Examples
    --------
    >>> parse_expression("2 * (1 3/8 in + 0.6 mm)").evaluate({})
    71.05
    """
    if len(text) > MAX_CHARACTERS:
        raise ExpressionError(text, MAX_CHARACTERS, f"longer than {MAX_CHARACTERS} characters", "Divide it.")
    root = Reader(text).whole()
    return Expression(text, root, frozenset(node.id for node in walk(root) if isinstance(node, Name)))
