"""Interfaces."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from .ask import Asked

router = APIRouter()


@router.get("/interfaces")
def show(ask: Asked) -> Response:
    """The page."""
    return ask.show("interfaces.html", title="Interfaces")
