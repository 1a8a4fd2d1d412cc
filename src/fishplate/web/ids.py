"""Ids for what is written by hand."""

from __future__ import annotations

from typing import Final

from ..build import Build
from ..build.expression import RESERVED
from .desk import fresh_id

# Addresses under /interfaces that are pages of their own.
_TAKEN: Final = frozenset({"new", "usual", "dimensions", "stand-ins", "states"})


def fresh_place(build: Build, name: str) -> str:
    """An id for an interface.

    Examples
    --------
    >>> fresh_place(Build(), "Usual"), fresh_place(Build(), "Tyre in arch")
    ('usual-place', 'tyre-in-arch')
    """
    id_ = fresh_id(build, "interfaces", name)
    return fresh_id(build, "interfaces", f"{id_} place") if id_ in _TAKEN else id_


def fresh_dimension(build: Build, *wanted: str) -> str:
    """An id for a dimension: the first that is free, as arithmetic can name it.

    Parameters
    ----------
    wanted : words to make it from, best first

    Examples
    --------
    >>> fresh_dimension(Build(), "Tyre: outer diameter"), fresh_dimension(Build(), "new"), fresh_dimension(Build(), "4")
    ('tyre_outer_diameter', 'new_2', 'dimension_4')
    """
    taken = build.index["dimensions"].keys() | RESERVED | {"new"}
    stems = ["_".join("".join(c if c.isascii() and c.isalnum() else " " for c in text.casefold()).split())[:70]
             for text in wanted]  # fmt: skip
    stems = [stem if stem[:1].isalpha() else f"dimension_{stem}".rstrip("_") for stem in stems]
    free = next((stem for stem in stems if stem not in taken), None)
    if free is not None:
        return free
    count = 2
    while f"{stems[-1]}_{count}" in taken:
        count += 1
    return f"{stems[-1]}_{count}"
