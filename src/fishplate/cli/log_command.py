"""`fishplate log`"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import BUILD_FILE, JSON_FLAG, emit, say, tell_about

if TYPE_CHECKING:
    from ..store import Batch


@click.command("log")
@BUILD_FILE
@JSON_FLAG
@click.option("--limit", type=click.IntRange(min=1), default=None, help="Only the last so many.")
@click.option("--full", is_flag=True, help="Every change, however many were made together.")
def command(file: Path, as_json: bool, limit: int | None, full: bool) -> None:
    """What was changed in the build file, when and by whom; the last first.

    \f
    --json writes a list of objects with the keys revision, kind (start, edit, undo, redo), takes (revision
    taken back or made again), at (UTC), author, message, and changes: a list of objects with list, id, before,
    after and text.
    """
    from ..wiring import open_file

    opened = open_file(file)
    batches = opened.history(limit=limit)
    if as_json:
        emit([_data(batch) for batch in reversed(batches)])
        return
    tell_about(opened.snapshot().build)
    for batch in reversed(batches):
        for line in lines_of(batch, full=full):
            say(line)


def lines_of(batch: Batch, *, full: bool = False) -> list[str]:
    """A batch as a heading and a line for each thing it did."""
    from ..store import batch_words

    when = batch.at.astimezone().strftime("%Y-%m-%d %H:%M")
    deed = {"undo": f"took back {batch.takes}", "redo": f"made {batch.takes} again"}.get(batch.kind, "")
    about = ": ".join(words for words in (deed, batch.title) if words)
    head = f"{batch.number}  {when}  {batch.author}" + (f"  {about}" if about else "")
    most = len(batch.changes) * 1000 if full else 20
    why = [f"    Why: {batch.why}"] if batch.why else []
    return [head, *why, *(f"    {line}" for line in (*batch.came_of_it, *batch_words(batch.changes, most=most)))]


def _data(batch: Batch) -> dict[str, Any]:
    from ..store import change_words

    return {
        "revision": batch.number,
        "kind": batch.kind,
        "takes": batch.takes,
        "at": batch.at,
        "author": batch.author,
        "message": batch.message,
        "changes": [
            {
                "list": change.list_name,
                "id": change.id,
                "before": change.before,
                "after": change.after,
                "text": list(change_words(change)),
            }
            for change in batch.changes
        ],
    }
