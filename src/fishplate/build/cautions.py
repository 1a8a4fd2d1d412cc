"""What to mind where something can hurt someone: one sentence a hazard, the same wherever it is shown."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from functools import lru_cache
from importlib.resources import files
from typing import Any


def hazard_lines(hazards: Iterable[str]) -> tuple[str, ...]:
    """A sentence for each hazard, each once, in the order of the table.

    Examples
    --------
    >>> hazard_lines(["gas", "gas"])
    ('Gas: fitting and leak test belong to a licensed fitter.',)
    """
    named = set(hazards)
    return tuple(text for hazard, text in _table()["hazards"].items() if hazard in named)


def who_decides() -> str:
    """Who has the last word on work near a hazard."""
    return str(_table()["who_decides"])


def of_figures() -> str:
    """What figures on a hazard never replace."""
    return str(_table()["figures"])


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(files("fishplate.build").joinpath("data/cautions.toml").read_text("utf-8"))
