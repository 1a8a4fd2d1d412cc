"""`fishplate deadlines`"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, emit, progress_line, say, tell_about, told


@click.command("deadlines")
@BUILD_FILE
@AS_OF
@SEED
@click.option("--ical", type=click.Path(path_type=Path), help="Also write them as a calendar that others can read.")
@JSON_FLAG
def command(file: Path, as_of: date | None, seed: int, ical: Path | None, as_json: bool) -> None:
    """Until when something can be done: returns, claims, cores, tax, decisions, orders, trips, workshops.

    \f
    Keys of --json: a list of day, key, summary, text.
    """
    from ..exchange.calendar_file import calendar_text, days_of
    from ..plan import plan
    from ..wiring import earlier_plan, memo, read_revision
    from .planning import situation_of

    build, revision = read_revision(file)
    tell_about(build)
    situation = situation_of(build, as_of, seed)
    earlier = earlier_plan(file)
    found = plan(situation, revision=revision, progress=progress_line(), memo=memo(), earlier=earlier)
    days = sorted(days_of(found), key=lambda item: (item.day, item.key))
    if ical is not None:
        ical.write_bytes(calendar_text(days, build.name, situation.as_of, told))
    if as_json:
        emit([{"day": item.day, "key": item.key, "summary": item.summary, "text": item.text} for item in days])
        return
    for item in days:
        say(f"{item.day:%-d %b %Y}: {item.summary}.")
    if not days:
        say("Nothing has a last day yet.")
