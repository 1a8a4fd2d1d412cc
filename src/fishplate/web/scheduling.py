"""Week by week: what to do, where it stalls, what moved; worked out beside the pages and kept in the build file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter
from fastapi.responses import Response

from . import beside, gates, standing
from .ask import Ask, Asked
from .beside import Answered
from .desk import View
from .worker import Errand

if TYPE_CHECKING:
    from ..work.schedule_result import Week, WorkSchedule

router = APIRouter()
router.include_router(standing.router)
router.include_router(gates.router)
PATH = "/schedule"
_WEEKS_FIRST = 6
_CHANGES_FIRST = 5


@dataclass(frozen=True, slots=True)
class ScheduleErrand(Errand):
    """A schedule by the dates of the last plan."""

    def answer(self, memory: Any, say: Callable[[str, float], None]) -> bytes:
        """The schedule as JSON, kept in the build file as well."""
        from ..store.schedules import dump_schedule
        from ..wiring import keep_schedule, schedule_of

        found, _ = schedule_of(self.path, self.as_of, progress=say)
        keep_schedule(self.path, found)
        return dump_schedule(found)


@dataclass(frozen=True, slots=True)
class WeekShown:
    """Some days, the hours there are, and sentences."""

    days: str
    hours: str
    text: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SchedulePage:
    """The page.

    Parameters
    ----------
    state : "none" to show, "working" or "known"; said, share : how far it is, or what went wrong
    lead, bound : when all is done, and how good that is proven to be
    old : that it is of another day or before the last changes
    faults : what can't all be kept, where no schedule exists
    moved_since : the day that `moved` is told from
    """

    state: str
    said: str = ""
    share: float = 0.0
    lead: str = ""
    bound: str = ""
    old: str = ""
    faults: tuple[str, ...] = ()
    given_up: tuple[str, ...] = ()
    moved_since: str = ""
    moved: tuple[str, ...] = ()
    moved_more: tuple[str, ...] = ()
    stalls: tuple[str, ...] = ()
    weeks: tuple[WeekShown, ...] = ()
    later: tuple[WeekShown, ...] = ()
    notes: tuple[str, ...] = ()
    path: str = PATH


def schedule_page(view: View, answered: Answered | None, kept: WorkSchedule | None) -> SchedulePage:
    """The page.

    Parameters
    ----------
    answered : how far the schedule that was asked for is, if one was
    kept : the last that was made
    """
    from ..store.schedules import load_schedule

    if answered is not None and answered.content is None and answered.progress.running:
        return SchedulePage("working", answered.progress.stage, answered.progress.share)
    made = load_schedule(answered.content) if answered is not None else None
    said = answered.progress.said if answered is not None and answered.content is None else ""
    shown = made or kept
    return SchedulePage("none", said) if shown is None else _known(view, shown, said)


def _known(view: View, found: WorkSchedule, said: str) -> SchedulePage:
    from ..work.schedule_words import day_words

    notes = tuple(f"{item}." for item in found.assumptions)
    old = _old(view, found, day_words(found.as_of))
    if found.finish is None:
        sure = "No schedule exists: these can't all be kept, and without any one of them the others can."
        faults = tuple(f"{item.what[0].upper()}{item.what[1:]}. {item.do}" for item in found.faults)
        maybe = "No schedule was found. At fault may be:"
        return SchedulePage("known", said, lead=sure if found.smallest else maybe, old=old, faults=faults, notes=notes)
    weeks = tuple(_week(week) for week in found.weeks) if found.jobs else ()
    moved = tuple(change.text for change in found.changes)
    return SchedulePage(
        "known",
        said,
        lead=_lead(found, day_words(found.finish)),
        bound=found.bound_words if found.jobs else "",
        old=old,
        given_up=found.given_up,
        moved_since="" if found.baseline is None else day_words(found.baseline),
        moved=moved[:_CHANGES_FIRST],
        moved_more=moved[_CHANGES_FIRST:],
        stalls=tuple(stall.text for stall in found.stalls),
        weeks=weeks[:_WEEKS_FIRST],
        later=weeks[_WEEKS_FIRST:],
        notes=notes,
    )


def _lead(found: WorkSchedule, finish: str) -> str:
    if not found.jobs:
        return "No jobs are left to do."
    hours = round(found.stalled_hours)
    idle = "never stands still for want of something" if hours == 0 else f"has {hours} h with nothing to do until then"
    return f"In this order all is done by {finish}, and the work {idle}."


def _old(view: View, found: WorkSchedule, day: str) -> str:
    changes = view.revision - found.revision
    if changes > 0:
        return f"Made {day}; {'one change was' if changes == 1 else f'{changes} changes were'} written since."
    return f"Made {day}." if found.as_of != view.as_of else ""


def _week(week: Week) -> WeekShown:
    from ..work.schedule_words import day_words

    days = day_words(week.first)
    if week.last != week.first:
        days = f"{day_words(week.first, beside=week.last)} to {day_words(week.last)}"
    return WeekShown(days, f"{week.hours:.0f} h", week.text)


# routes


def _asked(ask: Ask) -> beside.Asked:
    return beside.Asked(ask.view.revision, ask.view.as_of, "schedule")


def _show(ask: Ask) -> Response:
    from ..store.schedules import kept_schedules

    kept, _ = kept_schedules(ask.desk.file)
    page = schedule_page(ask.view, ask.desk.beside.of(_asked(ask)), kept)
    return ask.show("schedule_piece.html" if ask.in_place else "schedule.html", page, title="Week by week")


@router.get(PATH)
def show(ask: Asked) -> Response:
    """The last schedule, or how far one is."""
    return _show(ask)


@router.post(PATH)
def work_out(ask: Asked) -> Response:
    """Begin to work it out."""
    ask.desk.beside.start(_asked(ask), ScheduleErrand(ask.desk.path, ask.view.as_of))
    return _show(ask) if ask.in_place else ask.leave(PATH)


@router.post(f"{PATH}/stop")
def stop(ask: Asked) -> Response:
    """Give it up."""
    ask.desk.beside.stop()
    return _show(ask) if ask.in_place else ask.leave(PATH)
