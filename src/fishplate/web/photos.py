"""Photos and papers kept in the build file."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from .ask import Asked, NotHereError
from .form import PHOTO_KINDS

router = APIRouter()


@router.get("/photos/{name}")
def show(name: str, ask: Asked) -> Response:
    """One photo; anything that is not a picture is handed over as a file."""
    found = {held.name: held for held in ask.desk.file.attachments()}.get(name)
    if found is None:
        raise NotHereError("attachments", name)
    is_photo = found.media_type in PHOTO_KINDS
    headers = {"Cache-Control": "private, max-age=86400"}
    if not is_photo:
        headers["Content-Disposition"] = "attachment"
    kind = found.media_type if is_photo else "application/octet-stream"
    return Response(ask.desk.file.attachment(name), media_type=kind, headers=headers)
