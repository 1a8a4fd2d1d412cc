"""Photos kept with a part: of the label on its box, of the number on its casting; with a line typed beside each."""

from __future__ import annotations

from dataclasses import dataclass

from ..build import Build
from ..build.parts import Part, PartPhoto
from .ask import Ask
from .desk import put
from .form import made
from .photo_facts import taken_on
from .words import day as day_words


@dataclass(frozen=True, slots=True)
class PhotoShown:
    """A photo of a part.

    Parameters
    ----------
    photo : its name in the build file; said : its line and its day
    """

    photo: str
    said: str


def photos_of(part: Part) -> tuple[PhotoShown, ...]:
    """A part's photos, the last one first."""
    return tuple(PhotoShown(each.photo, _said(each)) for each in reversed(part.photos))


def _said(photo: PartPhoto) -> str:
    when = f"Taken on {day_words(photo.day)}, it says itself." if photo.day else "It does not say when it was taken."
    return f"{photo.note.rstrip('.')}. {when}" if photo.note else when


def photographed(build: Build, id_: str, photo: PartPhoto) -> Build:
    """The build with a photo kept with a part."""
    part: Part = build.find("parts", id_)
    return put(build, "parts", part.model_copy(update={"photos": (*part.photos, photo)}))


def kept_photo(ask: Ask, id_: str) -> PartPhoto | None:
    """The photo a form brings of a part, kept in the build file; None if there is none, or it can't be one."""
    name, content = ask.form.files.get("photo", ("", b""))
    note = ask.form.text("photo-note")
    if len(note) > 400:
        ask.form.refuse("photo-note", "longer than 400 characters", do="Shorten it.")
    kept = ask.keep_photo("photo", f"part {id_[:60]}") if name or content else ""
    return made(PartPhoto, photo=kept, day=taken_on(content), note=note) if kept else None
