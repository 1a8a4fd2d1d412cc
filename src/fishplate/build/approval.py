"""What an inspector will ask, and the evidence for it."""

from __future__ import annotations

from datetime import date
from typing import Literal

from .base import Id, Note, Noun, Text

EvidenceKind = Literal["photo", "note", "receipt", "certificate"]


class Requirement(Noun):
    """Something an inspector or certifier will ask for.

    Parameters
    ----------
    visible_until : the job that hides it: from its start on, or where the same job makes it, from its end on
    jobs : jobs in which it can be seen and its evidence taken
    wants : kinds of evidence that are asked for; empty: any one will do
    looked_at_by : who may look at it, such as the inspection station or a qualified welder
    """

    id: Id
    name: Text
    visible_until: Id | None = None
    jobs: tuple[Id, ...] = ()
    wants: tuple[EvidenceKind, ...] = ()
    looked_at_by: tuple[Text, ...] = ()
    source: str = ""
    note: Note = ""


class Evidence(Noun):
    """A photo, note, receipt or certificate for a requirement.

    Parameters
    ----------
    kind : what it is; None: not said
    job : the job it was taken at
    attachment : name of the photo kept in the build file
    """

    id: Id
    requirement: Id
    day: date
    what: Text
    kind: EvidenceKind | None = None
    job: Id | None = None
    attachment: str = ""


class PutOff(Noun):
    """An action the owner has put off, until when and why."""

    kind: Literal["decide", "measure", "buy", "collect", "do"]
    what: Id
    until: date
    why: Note = ""
