"""What an inspector will ask, and the evidence for it."""

from __future__ import annotations

from datetime import date
from typing import Literal

from .base import Id, Note, Noun, Text


class Requirement(Noun):
    """Something an inspector or certifier will ask for.

    Parameters
    ----------
    visible_until : the job after which it can no longer be seen
    """

    id: Id
    name: Text
    visible_until: Id | None = None
    jobs: tuple[Id, ...] = ()
    source: str = ""
    note: Note = ""


class Evidence(Noun):
    """A photo, note, receipt or certificate for a requirement."""

    id: Id
    requirement: Id
    day: date
    what: Text
    attachment: str = ""


class PutOff(Noun):
    """An action the owner has put off, until when and why."""

    kind: Literal["decide", "measure", "buy", "collect", "do"]
    what: Id
    until: date
    why: Note = ""
