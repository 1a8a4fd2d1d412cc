"""`fishplate check`"""

from __future__ import annotations

from pathlib import Path

import click

from .common import BUILD_FILE, read_build


@click.command("check")
@BUILD_FILE
def command(file: Path) -> None:
    """Read a build whole and list every problem, each with its place and what to do. Nothing is changed.

    Besides what can't be read: jobs, links, calendars and places that no order of the work can meet, and decisions that
    contradict each other, each by the fewest things at fault.
    """
    from ..build import Refused, facts_of
    from ..decide import decision_faults
    from ..wiring import today
    from ..work import impossible

    build = read_build(file)
    facts = facts_of(build, today())
    if problems := [*impossible(build, facts), *decision_faults(build, facts)]:
        raise Refused(problems)
    parts, jobs = (counted(len(nouns), one) for nouns, one in ((build.parts, "part"), (build.jobs, "job")))
    click.echo(f"{file.name}: {build.name}: {parts}, {jobs}, no problems found.")


def counted(count: int, one: str) -> str:
    """So many of something, in words."""
    return f"{count} {one}{'' if count == 1 else 's'}"
