"""What to mind where a misfit can hurt someone."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

from ..build import Build
from ..build.interfaces import Interface


def caution_for(build: Build, interface: Interface, *, grave: bool) -> str:
    """What to mind at an interface, from its own hazards and its systems'; empty if it has none and is not grave."""
    lines = hazard_lines(build, interface)
    return " ".join([*lines, always()]) if lines or grave else ""


def hazard_lines(build: Build, interface: Interface) -> tuple[str, ...]:
    """A sentence for each hazard of an interface and of its systems."""
    hazards = list(interface.hazards)
    for system in interface.systems:
        hazards += build.find("systems", system).hazards
    return tuple(_table()["hazards"][hazard] for hazard in dict.fromkeys(hazards))


def always() -> str:
    """What figures on a hazard never replace."""
    return str(_table()["always"])


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(files("fishplate.fit").joinpath("data/cautions.toml").read_text("utf-8"))
