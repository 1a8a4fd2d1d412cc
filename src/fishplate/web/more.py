"""More: the rooms that are not named at the foot of a phone's screen."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from .ask import Asked

router = APIRouter()


@router.get("/more")
def show(ask: Asked) -> Response:
    """The other rooms, as a list of words."""
    return ask.show("more.html", title="More")
