"""The demo build: several TOML files written to be read, merged into one build document."""

from __future__ import annotations

import tomllib
from datetime import date
from functools import lru_cache
from importlib.resources import files
from typing import Any

from ..build import Build, build_from_data
from .reading import plain, with_links

ROOMS = ("owner", "parts", "commerce", "events", "fit", "decisions", "work")


def demo_as_of() -> date:
    """The day the demo stands on."""
    return date(2026, 11, 16)


@lru_cache(maxsize=1)
def load_demo() -> Build:
    """The demo build.

    Examples
    --------
    >>> load_demo().owner.currency
    'EUR'
    """
    return build_from_data(demo_data(), source="demo")


def demo_data() -> dict[str, Any]:
    """The demo build as the data of a build document."""
    data: dict[str, Any] = {}
    for room in ROOMS:
        text = (files(__package__) / "demo" / f"{room}.toml").read_text(encoding="utf-8")
        for key, value in tomllib.loads(text).items():
            if key in data:
                raise ValueError(f"{room}.toml repeats {key}")
            data[key] = plain(value, key)
    data["jobs"] = with_links(data["jobs"])
    return data
