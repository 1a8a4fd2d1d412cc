"""Changes tried on the command line: `--change KIND:ID=VALUE`."""

from __future__ import annotations

from datetime import date
from functools import reduce
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from ..build import Build

CHANGES = click.option(
    "--change",
    "changes",
    multiple=True,
    metavar="KIND:ID=VALUE",
    help="Something otherwise, e.g. choose:tyre-size=tyres-205, drop-part:winch, delay:order-3=2026-05-01, hours=12. "
    "An unknown kind lists them all.",
)


def with_changes(build: Build, changes: tuple[str, ...], day: date) -> Build:
    """The build with changes made one after the other; raises Refused."""
    from ..build import Refused, check_build
    from ..impact import Tweak, tweaked

    def made(now: Build, text: str) -> Build:
        head, _, value = text.partition("=")
        kind, _, thing = head.partition(":")
        return tweaked(now, Tweak(kind.strip(), thing.strip(), value.strip()), day)

    after = reduce(made, changes, build)
    if problems := list(check_build(after, source="the build as it would be")):
        raise Refused(problems)
    return after
