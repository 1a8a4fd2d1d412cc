"""The demo build: several TOML files written to be read, merged into one build document.

Two shorthands keep the files short: money is text such as "42.50 GBP", and a three-point estimate is a list
of low, likely and high. A job's `after` may name the earlier job alone.
"""

from __future__ import annotations

import re
import tomllib
from datetime import date
from functools import lru_cache
from importlib.resources import files
from typing import Any

from ..build import Build, build_from_data

ROOMS = ("owner", "parts", "commerce", "events", "fit", "decisions", "work")

_MONEY = re.compile(r"^(-?\d+(?:\.\d+)?) ([A-Z]{3})$")
_THREE_POINT = frozenset(("hours", "lead_weeks", "weeks", "queue_weeks", "work_weeks", "depth_percent", "late_hours"))


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
            data[key] = _plain(value, key)
    for job in data["jobs"]:
        job["after"] = [{"job": link} if isinstance(link, str) else link for link in job.get("after", ())]
    return data


def _plain(value: Any, key: str = "") -> Any:
    """A TOML value as a build document holds it."""
    match value:
        case dict():
            return {name: _plain(item, name) for name, item in value.items()}
        case list() if key in _THREE_POINT and len(value) == 3:
            return dict(zip(("low", "likely", "high"), value, strict=True))
        case list():
            return [_plain(item) for item in value]
        case date():
            return value.isoformat()
        case str() if match_ := _MONEY.match(value):
            return {"amount": match_[1], "currency": match_[2]}
    return value
