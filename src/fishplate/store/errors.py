"""Refusals of the build file.

Refused
└── RevisionConflict   the file was changed since it was read
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..build import Problem, Refused
from .model import Key
from .wording import noun_words, value_words


@dataclass(frozen=True, slots=True)
class Conflict:
    """A noun changed by another hand since it was read.

    Parameters
    ----------
    theirs : the noun as it is now, None if it was removed
    yours : the noun as it was to be written, None to remove it; `touched` is False if it was to be left alone
    """

    key: Key
    theirs: Any
    yours: Any
    touched: bool


class RevisionConflict(Refused):
    """A write was made against a revision that is no longer the last; nothing was overwritten.

    Parameters
    ----------
    source : the file's name
    read_at, now_at : revision the writer had seen, and the file's
    conflicts : every noun changed since, with both values where both sides changed it
    """

    def __init__(self, source: str, read_at: int, now_at: int, conflicts: Iterable[Conflict]) -> None:
        self.source, self.read_at, self.now_at = source, read_at, now_at
        self.conflicts = tuple(conflicts)
        super().__init__(_problem(source, conflict) for conflict in self.conflicts)

    def __str__(self) -> str:
        head = f"{self.source}: changed since it was read (revision {self.read_at}, now {self.now_at})."
        return "\n".join([f"{head} Nothing was overwritten.", super().__str__()])

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.source, self.read_at, self.now_at, self.conflicts)


def _problem(source: str, conflict: Conflict) -> Problem:
    where = f"{source}, {noun_words(*conflict.key)}"
    theirs = value_words(conflict.theirs)
    if not conflict.touched:
        return Problem(where, "changed-since", f"changed since by another hand, now {theirs}", "", "Read it again.")
    what = f"changed by both: in the file {theirs}; yours {value_words(conflict.yours)}"
    return Problem(where, "changed-by-both", what, "", "Read it again, then make your change once more.")


def refusal(path: Path, code: str, what: str, do: str, got: str = "") -> Refused:
    """A refusal about the file as a whole."""
    return Refused([Problem(str(path), code, what, got, do)])
