"""Photos and papers kept in the build file; a photo is small in lists, and whole when it is opened."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..store import Attachment
from .ask import Ask, Asked, NotHereError
from .form import PHOTO_KINDS
from .small_photos import HEIC, LARGE, SMALL, can_show_heic

router = APIRouter()
KEPT: Final = {"Cache-Control": "private, max-age=86400"}
NOT_SHOWN: Final = "Its photo is kept, but can't be shown here."


def photos(ask: Ask) -> dict[str, bool]:
    """Photos kept in the file, and whether each can be shown."""
    held = (item for item in ask.desk.file.attachments() if item.media_type in PHOTO_KINDS)
    return {item.name: item.media_type != HEIC or can_show_heic() for item in held}


def _held(name: str, ask: Ask) -> Attachment:
    found = {held.name: held for held in ask.desk.file.attachments()}.get(name)
    if found is None:
        raise NotHereError("attachments", name)
    return found


def _made(held: Attachment, side: int, ask: Ask) -> Response | None:
    """A photo no wider and higher than so many points; None if it can't be made."""
    content = ask.desk.small_photos.of(held.sha256, side, lambda: ask.desk.file.attachment(held.name))
    return None if content is None else Response(content, media_type="image/jpeg", headers=KEPT)


@router.get("/photos/{name}")
def show(name: str, ask: Asked) -> Response:
    """One photo; anything that can't be shown as a picture is handed over as a file."""
    found = _held(name, ask)
    made = _made(found, LARGE, ask) if found.media_type == HEIC and can_show_heic() else None
    if made is not None:
        return made
    is_photo = found.media_type in PHOTO_KINDS and found.media_type != HEIC
    headers = dict(KEPT) if is_photo else {**KEPT, "Content-Disposition": "attachment"}
    kind = found.media_type if is_photo else "application/octet-stream"
    return Response(ask.desk.file.attachment(name), media_type=kind, headers=headers)


@router.get("/photos/{name}/small")
def show_small(name: str, ask: Asked) -> Response:
    """One photo, small; as it is if it can't be made small."""
    found = _held(name, ask)
    made = _made(found, SMALL, ask) if found.media_type in PHOTO_KINDS else None
    return show(name, ask) if made is None else made
