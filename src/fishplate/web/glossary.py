"""All words that are explained, on one page."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from .ask import Asked
from .explaining import words

router = APIRouter()


@router.get("/words")
def show(ask: Asked) -> Response:
    """The page."""
    return ask.show("words.html", tuple(words().values()), title="Words")
