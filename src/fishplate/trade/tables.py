"""Tables of the trade, each with its source, read from the package once."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any


@lru_cache(maxsize=16)
def table(name: str) -> dict[str, Any]:
    """A table of `data/` by its name."""
    return tomllib.loads(files("fishplate.trade").joinpath(f"data/{name}.toml").read_text("utf-8"))
