"""Which change is taken back next, which is made again, and by whom it stands as it does."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from ..store import Batch

TurnKind = Literal["undo", "redo"]


def standing(batches: Sequence[Batch]) -> tuple[list[int], list[int]]:
    """Edits that stand, and those taken back that can be made again; the last to turn at the end of each."""
    done: list[int] = []
    undone: list[int] = []
    for batch in batches:
        if batch.kind == "edit":
            done.append(batch.number)
            undone.clear()
        elif batch.kind == "undo":
            undone.append(done.pop())
        elif batch.kind == "redo":
            done.append(undone.pop())
    return done, undone


def whose_turn(batches: Sequence[Batch], kind: TurnKind) -> str | None:
    """Who last wrote, took back or made again what would be turned now; None if there is nothing to turn.

    Parameters
    ----------
    batches : the whole history, oldest first
    """
    done, undone = standing(batches)
    stack = done if kind == "undo" else undone
    if not stack:
        return None
    return next(batch.author for batch in reversed(batches) if stack[-1] in (batch.number, batch.takes))
