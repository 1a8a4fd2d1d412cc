"""The page of keys."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from .ask import Asked
from .key_table import key_groups

router = APIRouter()


@router.get("/keys")
def show(ask: Asked) -> Response:
    """All keys, as a page or as the piece that opens over another page."""
    return ask.show("keys_piece.html" if ask.in_place else "keys.html", tuple(key_groups()), title="Keys")
