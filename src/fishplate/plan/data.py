"""The plan as data for programs; the keys are part of the public face."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from enum import Enum
from typing import Any

from .model import Plan


def plan_data(plan: Plan) -> dict[str, Any]:
    """The plan as plain data, ready for JSON.

    Keys: actions, finish, stall, ready_to_buy, purchase, fit, cash, assumptions, questions, seed, revision, as_of;
    besides them build_name, currency, expected_total, rounds, level, notes, critical, deadlines, exact,
    stability, changed_since, changes, faults, deciding, shelf.
    """
    data: dict[str, Any] = _plain(asdict(plan))
    return data


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return round(value, 6)
    return value
