"""`fishplate undo`"""

from __future__ import annotations

from pathlib import Path

import click

from .common import BUILD_FILE, say, tell_about


@click.command("undo")
@BUILD_FILE
def command(file: Path) -> None:
    """Take back the last change."""
    from ..wiring import author, open_file
    from .log_command import lines_of

    opened = open_file(file)
    batch = opened.undo(revision=opened.revision, author=author())
    tell_about(opened.snapshot().build)
    say(f"{file.name}: took back revision {batch.takes}{batch.title and f' ({batch.title})'}:")
    for line in lines_of(batch)[1:]:
        say(line)
    say(f"To make it again: fishplate redo {file}.")
