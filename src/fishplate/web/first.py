"""What an edit brings, shown before it is written: do it, or leave it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from .ask import LOOKED, Asked, NotHereError
from .kept import PATIENCE_SECONDS

if TYPE_CHECKING:
    from .kept import Standing
    from .looks import Look, Looked

router = APIRouter()


@dataclass(frozen=True, slots=True)
class FirstPage:
    """What an edit brings.

    Parameters
    ----------
    look : the edit; found : what comes of it, None until that is worked out
    far : how far that is; again : where it can be seen then; failed : why it can't be told
    sent : every field to be sent again, and that it was looked at
    """

    look: Look
    found: Looked | None
    far: Standing[Looked]
    again: str
    failed: str
    sent: tuple[tuple[str, str], ...]


def first_page(name: str, look: Look, standing: Standing[Looked]) -> FirstPage:
    """The page of an edit, by the name it is held under."""
    return FirstPage(look, standing.value, standing, f"/before/{name}", standing.said, (*look.fields, (LOOKED, name)))


@router.get("/before/{name}")
def show(name: str, ask: Asked) -> Response:
    """What comes of an edit that is not written yet."""
    if ask.request.query_params.get("again"):
        ask.desk.looks.again(name)
    held = ask.desk.looks.of(name, patience_seconds=PATIENCE_SECONDS)
    if held is None:
        raise NotHereError("looks", name)
    return ask.show("before.html", first_page(name, *held), title="Before it is written")


@router.post("/before/{name}/stop")
def stop(name: str, ask: Asked) -> Response:
    """Give up working out what comes of it."""
    ask.desk.looks.stop(name)
    return RedirectResponse(f"/before/{name}", status_code=303)
