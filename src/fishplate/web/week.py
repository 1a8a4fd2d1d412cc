"""This week: what to do next, why, and what waiting costs."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from .ask import Asked

router = APIRouter()


@router.get("/")
def show(ask: Asked) -> Response:
    """The page."""
    return ask.show("week.html", title="This week")
