"""The last schedules of a build file: the newest, and the last one of an earlier week."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, Final

from pydantic import TypeAdapter, ValidationError

from .build_file import BuildFile

if TYPE_CHECKING:
    from ..work.schedule_result import WorkSchedule

SCHEDULE: Final = "schedule"
EARLIER_WEEK: Final = "schedule of an earlier week"


@cache
def _adapter() -> TypeAdapter[Any]:
    from ..work.schedule_result import WorkSchedule

    return TypeAdapter(WorkSchedule)


def dump_schedule(schedule: WorkSchedule) -> bytes:
    """A schedule as JSON."""
    return _adapter().dump_json(schedule)


def load_schedule(content: bytes | None) -> WorkSchedule | None:
    """The schedule that was kept; None if none was, or by another version of the program."""
    if content is None:
        return None
    try:
        schedule: WorkSchedule = _adapter().validate_json(content)
    except ValidationError:
        return None
    return schedule


def keep_schedule(file: BuildFile, schedule: WorkSchedule) -> None:
    """Keep a schedule as the newest; where it begins a week, the one before it stays as that of an earlier week.

    One that could not be made is not kept: what moved is told from the last that was.
    """
    if schedule.finish is None:
        return
    held = file.memo_get(SCHEDULE)
    last = load_schedule(held)
    if held is not None and last is not None and last.as_of.isocalendar()[:2] < schedule.as_of.isocalendar()[:2]:
        file.memo_put(EARLIER_WEEK, held)
    file.memo_put(SCHEDULE, dump_schedule(schedule))


def kept_schedules(file: BuildFile) -> tuple[WorkSchedule | None, WorkSchedule | None]:
    """The last schedule, and the one that changes are told from: of an earlier week, else the last."""
    last = load_schedule(file.memo_get(SCHEDULE))
    return last, load_schedule(file.memo_get(EARLIER_WEEK)) or last
