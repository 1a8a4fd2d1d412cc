"""Kinds of interface: a word for each, held as data."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files


@lru_cache(maxsize=1)
def interface_kinds() -> Mapping[str, str]:
    """Every kind of interface, with what it is called.

    Examples
    --------
    >>> interface_kinds()["wheel-hub"]
    'Wheel on its hub'
    """
    return tomllib.loads(files("fishplate.build").joinpath("data/interface_kinds.toml").read_text("utf-8"))


def known_kind(kind: str) -> str:
    """The kind itself; raises ValueError, naming near ones, where there is none of that name."""
    if kind not in interface_kinds():
        from difflib import get_close_matches

        near = get_close_matches(kind, interface_kinds(), n=3)
        meant = f"; {', '.join(near)}?" if near else ""
        raise ValueError(f"there is no such kind of interface{meant}")
    return kind
