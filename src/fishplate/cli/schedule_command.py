"""`fishplate schedule`"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..build.words import day_words
from .common import AS_OF, BUILD_FILE, DAY, JSON_FLAG, Within, emit, progress_line, say, tell_about

if TYPE_CHECKING:
    from ..build import Build
    from ..work.schedule_result import Week, WorkSchedule

_WEEKS_SHOWN = 8
_CHANGES_SHOWN = 8


@click.command("schedule")
@BUILD_FILE
@AS_OF
@click.option("--by", "deadline", type=DAY, default=None, help="The day by which all is to be done.")
@click.option("--effort", type=Within(0.1, 600), default=5, show_default=True, help="How long to search, in seconds.")
@click.option("--all", "everything", is_flag=True, help="Show every week, change and assumption.")
@JSON_FLAG
def command(
    file: Path, as_of: date | None, deadline: date | None, effort: float, everything: bool, as_json: bool
) -> None:
    """Week by week what to do, where it stalls, what moved.

    The dates of parts and decisions are those of the last plan, if one is kept. The schedule is kept in the build file,
    and the next one says what moved since that of an earlier week. The seconds are those of an unhurried machine,
    counted so that the same build gives the same schedule. Ctrl-C stops it; nothing is written then.

    \f
    Keys of --json: as_of, revision, finish, gap_days, ended, bound, stalled_hours, weeks (first, last, hours, stalled,
    jobs with job, hours, begins, ends; text), jobs (job, hours, first, last, done, opener, resumed with kind, id, day),
    stalls (first, last, hours, waiting, opener, text), opens, starts, given_up, faults (what, do), smallest, baseline,
    changes (job, was, now, text), assumptions (code, about, text).
    """
    from ..wiring import keep_schedule, schedule_of, today

    day = as_of or today()
    found, build = schedule_of(file, day, deadline=deadline, effort=effort, progress=progress_line())
    tell_about(build)
    if deadline is None and day <= today():
        keep_schedule(file, found)
    if as_json:
        _emit(found)
    else:
        _show(build, found, everything)


def _emit(found: WorkSchedule) -> None:
    from dataclasses import asdict

    emit({**asdict(found), "bound": found.bound_words if found.finish is not None else ""})


def _show(build: Build, found: WorkSchedule, everything: bool) -> None:
    say(f"{build.name}, from {day_words(found.as_of)}\n")
    if found.finish is None:
        _show_faults(found)
        return
    if not found.jobs:
        say("No jobs are left to do.")
        return
    stalled = f"{found.stalled_hours:.0f} h with nothing to do until then"
    say(f"All is done by {day_words(found.finish)}, {stalled}. {found.bound_words}")
    _list("What can't be kept", found.given_up)
    shown = found.changes if everything else found.changes[:_CHANGES_SHOWN]
    if found.baseline is not None:
        _list(f"What moved since {day_words(found.baseline)}", [item.text for item in shown] or ["Nothing."])
        _more(len(found.changes) - len(shown), "more moved")
    _list("Where it stalls", [stall.text for stall in found.stalls] or ["Nowhere."])
    say("\nWeek by week")
    weeks = found.weeks if everything else found.weeks[:_WEEKS_SHOWN]
    for week in weeks:
        _show_week(week)
    _more(len(found.weeks) - len(weeks), "later entries")
    if everything:
        _list("Taken for granted", [f"{item}." for item in found.assumptions])
    else:
        say(f"\n{len(found.assumptions)} things are taken for granted (--all).")


def _show_week(week: Week) -> None:
    span = f"{day_words(week.first)} to {week.last:%-d %B}"
    say(f"  {span}, {week.hours:.0f} h")
    for text in week.text:
        say(f"    {text}")


def _show_faults(found: WorkSchedule) -> None:
    sure = "No schedule exists. These can't all be kept" if found.smallest else "No schedule was found; at fault may be"
    _list(
        f"{sure}; without any one of them the others can",
        [f"{item.what[0].upper()}{item.what[1:]}. {item.do}" for item in found.faults],
    )


def _list(title: str, lines: Sequence[str]) -> None:
    if lines:
        say(f"\n{title}:")
    for line in lines:
        say(f"  {line}")


def _more(count: int, what: str) -> None:
    if count > 0:
        say(f"  {count} {what} (--all).")
