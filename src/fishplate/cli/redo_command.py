"""`fishplate redo`"""

from __future__ import annotations

from pathlib import Path

import click

from .common import BUILD_FILE, say, tell_about


@click.command("redo")
@BUILD_FILE
def command(file: Path) -> None:
    """Make the last undone change again."""
    from ..wiring import author, open_file
    from .log_command import lines_of

    opened = open_file(file)
    batch = opened.redo(revision=opened.revision, author=author())
    tell_about(opened.snapshot().build)
    say(f"{file.name}: made revision {batch.takes} again{batch.title and f' ({batch.title})'}:")
    for line in lines_of(batch)[1:]:
        say(line)
