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
    hazards = list(interface.hazards)
    for system in interface.systems:
        hazards += build.find("systems", system).hazards
    table = _table()
    lines = [table["hazards"][hazard] for hazard in dict.fromkeys(hazards)]
    return " ".join([*lines, table["always"]]) if lines or grave else ""


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(files("fishplate.fit").joinpath("data/cautions.toml").read_text("utf-8"))
