"""Conditions as they are commonly written for an interface of a kind, ready to be put to a build's own dimensions.

A template is plain arithmetic: a build document then means the same whatever is installed, its units are checked
when it is written, and its worst case can be found by intervals. Where a function of this package gives the same
value the template names it, and a test holds the two together.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Literal

from pydantic import Field

from ..build.base import DimensionId, Id, Noun, Text
from ..build.expression import names_in, parse_expression
from ..build.expression_nodes import Name, walk
from ..build.interfaces import Condition, Consequence, Dimension
from ..build.parts import Hazard
from .tables import table


class TemplateDimension(Noun):
    """A dimension a template asks for: unit, and how to take it."""

    id: DimensionId
    name: Text
    unit: str = "mm"
    how: Text


class Template(Noun):
    """A condition over dimensions yet to be named.

    Parameters
    ----------
    interfaces : kinds of interface it is for
    calculation : function that gives the same value, as subject.function
    arguments : parameter of that function -> arithmetic over the dimensions, where the names differ
    taken_from, less : the expression is `taken_from` - calculation, or calculation - `less`
    source : where the limits come from
    """

    id: Id
    name: Text
    interfaces: tuple[Id, ...]
    kind: Literal["clearance", "range", "angle", "match"] = "clearance"
    expression: Text
    at_least: str | None = None
    at_most: str | None = None
    calculation: str | None = None
    arguments: dict[str, str | tuple[str, ...]] = Field(default_factory=dict)
    taken_from: str | None = None
    less: str | None = None
    consequence: Consequence = Consequence.REWORK
    hazards: tuple[Hazard, ...] = ()
    if_wrong: Text
    source: Text

    @property
    def names(self) -> tuple[str, ...]:
        """Dimensions it asks for, in the order they are first read."""
        found: dict[str, None] = {}
        for text in (self.expression, self.at_least, self.at_most):
            if text is not None:
                nodes = [node for node in walk(parse_expression(text).root) if isinstance(node, Name)]
                found.update((node.id, None) for node in sorted(nodes, key=lambda node: node.span))
        return tuple(found)

    @property
    def dimensions(self) -> tuple[TemplateDimension, ...]:
        """Dimensions it asks for, with unit and how to take each."""
        return tuple(template_dimensions()[name] for name in self.names)

    def condition(self, id_: str, interface: str, dimensions: Mapping[str, str]) -> Condition:
        """The condition over a build's own dimensions.

        Parameters
        ----------
        id_, interface : ids of the condition and of its interface
        dimensions : dimension of the template -> id of the build's dimension, a number with unit, or arithmetic over
            either

        Returns
        -------
        the condition; what a misfit costs is left to the owner

        Raises
        ------
        KeyError
            if a dimension is not named
        ExpressionError
            if what is put in its place is not arithmetic

        Examples
        --------
        >>> made = template("tyre-outside-tub").condition("rear-tub", "tyre-arch-rear", {
        ...     "flange_width": "axle_flange_width_rear", "offset": "wheel_offset", "tyre_width": "220 mm",
        ...     "tub_half_width": "tub_half_width_rear"})
        >>> made.expression
        'axle_flange_width_rear / 2 - wheel_offset - (220 mm) / 2 - tub_half_width_rear'
        """
        return Condition(
            id=id_,
            interface=interface,
            name=self.name,
            kind=self.kind,
            expression=put_in(self.expression, dimensions),
            at_least=put_in(self.at_least, dimensions) if self.at_least else None,
            at_most=put_in(self.at_most, dimensions) if self.at_most else None,
            consequence=self.consequence,
            source=self.source,
            note=self.if_wrong,
        )

    def new_dimensions(self, prefix: str) -> dict[str, Dimension]:
        """A dimension of the build for each the template asks for, with unit and how to take it.

        Parameters
        ----------
        prefix : put before each id, such as "rear"

        Returns
        -------
        dimension of the template -> dimension to add

        Examples
        --------
        >>> made = template("bore-over-spigot").new_dimensions("front")
        >>> made["spigot"].id, made["spigot"].unit
        ('front_spigot', 'mm')
        """
        return {
            item.id: Dimension(id=f"{prefix}_{item.id}", name=item.name, unit=item.unit, how=item.how)
            for item in self.dimensions
        }


_BARE = re.compile(r"[a-z][a-z0-9_]*")


def put_in(text: str, dimensions: Mapping[str, str]) -> str:
    """Arithmetic with other names, or with arithmetic, in the place of its names.

    Raises
    ------
    KeyError
        if a name has nothing to take its place
    ExpressionError
        if what takes its place is not arithmetic

    Examples
    --------
    >>> put_in("a - b / 2", {"a": "left_gap", "b": "wide + 5 mm"})
    'left_gap - (wide + 5 mm) / 2'
    """
    places = [(node.span, node.id) for node in walk(parse_expression(text).root) if isinstance(node, Name)]
    for (start, _), name in sorted(places, reverse=True):
        new = dimensions[name].strip()
        names_in(new)
        end = start + len(name)
        text = text[:start] + (new if _BARE.fullmatch(new) else f"({new})") + text[end:]
    return text


@lru_cache(maxsize=1)
def templates() -> tuple[Template, ...]:
    """Every template, in the order of the table."""
    rows = table("templates")
    return tuple(Template(**{"source": rows["starting"], **row}) for row in rows["template"])


def template(id_: str) -> Template:
    """A template by its id; raises KeyError."""
    return next((item for item in templates() if item.id == id_), None) or _missing(id_)


def _missing(id_: str) -> Template:
    raise KeyError(id_)


def templates_for(interface_kind: str) -> tuple[Template, ...]:
    """Templates for an interface of a kind.

    Examples
    --------
    >>> [item.id for item in templates_for("wheel-brake")]
    ['wheel-over-caliper', 'wheel-disc-over-caliper']
    """
    return tuple(item for item in templates() if interface_kind in item.interfaces)


@lru_cache(maxsize=1)
def template_dimensions() -> dict[str, TemplateDimension]:
    """Dimensions that templates ask for, by id."""
    return {
        id_: TemplateDimension(id=id_, **fields)
        for group in table("dimensions").values()
        for id_, fields in group.items()
    }  # fmt: skip
