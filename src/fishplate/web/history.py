"""History: what was changed, when and by whom; take it back, make it again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import Response

from ..store import Batch, BuildFile
from .ask import Ask, Asked
from .turns import standing

router = APIRouter()
SHOWN = 50
DETAILS = 12


@dataclass(frozen=True, slots=True)
class Entry:
    """One batch of changes, in words.

    Parameters
    ----------
    why : the reason that was given; came_of_it : what was known to come of it
    stands : whether it was not taken back
    """

    number: int
    at: datetime
    author: str
    title: str
    why: str
    came_of_it: tuple[str, ...]
    details: tuple[str, ...]
    stands: bool


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """The last changes, the newest first.

    Parameters
    ----------
    undo, redo : what would be taken back, or made again, now; empty if nothing
    older : revision before which there is more; 0 if there is not
    """

    entries: tuple[Entry, ...]
    undo: str
    redo: str
    older: int


def history_page(file: BuildFile, *, before: int | None = None) -> HistoryPage:
    """The page of a file's history: some of its batches, before a revision if one is given."""
    batches = file.heads()
    done, undone = standing(batches)
    names = {batch.number: _title(batch) for batch in batches}
    part = [batch for batch in batches if before is None or batch.number < before][-SHOWN:]
    words = file.words([batch.number for batch in part], most=DETAILS)
    entries = tuple(
        Entry(
            batch.number,
            batch.at,
            batch.author,
            names[batch.number],
            batch.why,
            batch.came_of_it,
            words[batch.number],
            batch.number not in undone,
        )
        for batch in reversed(part)
    )
    older = part[0].number if part and part[0].number > batches[0].number else 0
    return HistoryPage(entries, names[done[-1]] if done else "", names[undone[-1]] if undone else "", older)


def _title(batch: Batch) -> str:
    about = batch.title or "change"
    words = {"undo": f"Took back: {about}", "redo": f"Made again: {about}", "start": about}.get(batch.kind, about)
    return words[:1].upper() + words[1:]


@router.get("/history")
def show(ask: Asked) -> Response:
    """The page."""
    before = ask.request.query_params.get("before", "")
    page = history_page(ask.desk.file, before=int(before) if before.isdigit() else None)
    return ask.show("history.html", page, title="History")


@router.post("/history/undo")
def undo(ask: Asked) -> Response:
    """Take back the last change."""
    return ask.leave(_from(ask), ask.desk.undo(revision=ask.revision).number)


@router.post("/history/redo")
def redo(ask: Asked) -> Response:
    """Make the last undone change again."""
    return ask.leave(_from(ask), ask.desk.redo(revision=ask.revision).number)


def _from(ask: Ask) -> str:
    """The page a change was taken back on, if it is one of ours."""
    back = ask.form.text("back", "/history")
    return back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/history"
