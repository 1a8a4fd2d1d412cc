"""The last plans of a build file: the newest, and the last one of an earlier week."""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from pydantic import TypeAdapter, ValidationError

from .build_file import BuildFile

if TYPE_CHECKING:
    from ..plan import Plan
    from ..plan.steady import Earlier

PLAN: Final = "plan"
EARLIER_WEEK: Final = "plan of an earlier week"


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


def keep_plan(file: BuildFile, content: bytes) -> Plan | None:
    """Keep a plan as the newest; where it begins a week, the one before it stays as that of an earlier week.

    Returns
    -------
    the plan; None if it can't be read, and then nothing is kept and the last one stands
    """
    plan, held = load_plan(content), file.memo_get(PLAN)
    if plan is None:
        return None
    last = load_plan(held)
    if held is not None and last is not None and _week(last.as_of) < _week(plan.as_of):
        file.memo_put(EARLIER_WEEK, held)
    file.memo_put(PLAN, content)
    return plan


def earlier_plans(file: BuildFile) -> Earlier | None:
    """What a new plan stays near and tells its changes from; None if no plan was kept."""
    from ..plan.steady import Earlier, Touched

    last = load_plan(file.memo_get(PLAN))
    if last is None:
        return None
    before = load_plan(file.memo_get(EARLIER_WEEK)) or last
    touched: dict[tuple[str, str], Touched] = {}
    for batch in file.history(since=before.revision):
        for change in batch.changes:
            was = touched.get(change.key)
            first = change.before if was is None else was.before
            touched[change.key] = Touched(change.list_name, change.id, _noun(first), _noun(change.after))
    return Earlier(last, before, tuple(touched.values()))


def _noun(value: Any) -> Any:
    return value if isinstance(value, dict) else None


def _week(day: date) -> tuple[int, int]:
    """Year and week after ISO 8601."""
    return day.isocalendar()[:2]
