"""A plan as bytes and back, as the build file keeps the last one."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter, ValidationError

if TYPE_CHECKING:
    from ..plan import Plan


@cache
def _adapter() -> TypeAdapter[Any]:
    from ..plan import Plan

    return TypeAdapter(Plan)


def dump_plan(plan: Plan) -> bytes:
    """A plan as JSON."""
    return _adapter().dump_json(plan)


def load_plan(content: bytes | None) -> Plan | None:
    """The plan that was kept; None if none was, or by another version of the program."""
    if content is None:
        return None
    try:
        plan: Plan = _adapter().validate_json(content)
    except ValidationError:
        return None
    return plan
