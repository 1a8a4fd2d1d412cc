"""What the build file hands out: changes, batches of them, attachments, a state with its revision."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from ..build import Build

BatchKind = Literal["start", "edit", "undo", "redo"]
Deed = Literal["added", "removed", "changed", "moved"]
Key = tuple[str, str]
"""List name and id; the build's own fields are of the list "build", by field name."""


@dataclass(frozen=True, slots=True)
class Change:
    """One noun before and after.

    Parameters
    ----------
    list_name : a list of the build, or "build" for one of its own fields, such as owner
    id : the noun's id; what it is about, for nouns without one; the field's name for "build"
    after : the noun as in the build document; None removes it
    before : as it was; None if it was not there. Not needed to ask for a change
    before_position, after_position : places in the list's order; not needed to ask for a change
    """

    list_name: str
    id: str
    after: Any = None
    before: Any = None
    before_position: int | None = None
    after_position: int | None = None

    @property
    def key(self) -> Key:
        """List name and id."""
        return self.list_name, self.id

    def reversed(self) -> Change:
        """The change that takes this one back."""
        return Change(self.list_name, self.id, self.before, self.after, self.after_position, self.before_position)


@dataclass(frozen=True, slots=True)
class Batch:
    """Changes made together.

    Parameters
    ----------
    number : the file's revision once they were made
    takes : the batch that an undo took back or a redo made again
    at : when, in UTC
    """

    number: int
    kind: BatchKind
    takes: int | None
    at: datetime
    author: str
    message: str
    changes: tuple[Change, ...]

    @property
    def title(self) -> str:
        """What was done."""
        return self.message.partition("\n")[0]

    @property
    def why(self) -> str:
        """The reason that was given, if one was."""
        return self.message.split("\n")[1] if "\n" in self.message else ""

    @property
    def came_of_it(self) -> tuple[str, ...]:
        """What was known to come of it when it was done, a sentence each."""
        return tuple(self.message.split("\n")[2:])

    @property
    def mark(self) -> Mark:
        """What tells it from every other."""
        return Mark(self.number, self.at, self.author, self.message)


def with_reasons(title: str, why: str, came_of_it: Iterable[str] = ()) -> str:
    """The message of a batch: what was done; why, on a line of its own; what was known to come of it, a line each.

    Examples
    --------
    >>> with_reasons("two seats", "", [])
    'two seats'
    >>> with_reasons("two seats", "the dog", ["Work: “Floor”, 3 h."]).splitlines()
    ['two seats', 'the dog', 'Work: “Floor”, 3 h.']
    """
    lines = (title, why, *came_of_it)
    return "\n".join(" ".join(line.split()) for line in lines).rstrip("\n")


@dataclass(frozen=True, slots=True)
class Mark:
    """What tells a batch from every other, also from one of the same number in another copy of the file."""

    number: int
    at: datetime
    author: str
    message: str


@dataclass(frozen=True, slots=True)
class Attachment:
    """A photo, scan or paper kept in the build file."""

    name: str
    media_type: str
    sha256: str
    size: int
    at: datetime
    author: str


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The build and the revision it was read at."""

    build: Build
    revision: int
