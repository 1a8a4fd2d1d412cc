"""Builds written as TOML to be read: shorthands for money, estimates and links, put into the form of a build document.

Money is text such as "42.50 GBP", a three-point estimate is a list of low, likely and high, and a job's `after` may
name the earlier job alone.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Any

_MONEY = re.compile(r"^(-?\d+(?:\.\d+)?) ([A-Z]{3})$")
_THREE_POINT = frozenset(
    ("hours", "lead_weeks", "weeks", "queue_weeks", "work_weeks", "depth_percent", "late_hours", "points", "compared")
)


def plain(value: Any, key: str = "") -> Any:
    """A TOML value as a build document holds it.

    Examples
    --------
    >>> plain({"price": "3 EUR", "hours": [1, 2, 4]})
    {'price': {'amount': '3', 'currency': 'EUR'}, 'hours': {'low': 1, 'likely': 2, 'high': 4}}
    """
    match value:
        case dict():
            return {name: plain(item, name) for name, item in value.items()}
        case list() if key in _THREE_POINT and len(value) == 3:
            return dict(zip(("low", "likely", "high"), value, strict=True))
        case list():
            return [plain(item) for item in value]
        case date():
            return value.isoformat()
        case str() if match_ := _MONEY.match(value):
            return {"amount": match_[1], "currency": match_[2]}
    return value


def with_links(jobs: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Jobs whose `after` may name the earlier job alone."""
    return [{**job, "after": [_link(item) for item in job.get("after", ())]} for job in jobs]


def _link(item: Any) -> Any:
    return {"job": item} if isinstance(item, str) else plain(item)
