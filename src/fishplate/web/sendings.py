"""Forms that were written, so that one sent again because its answer never came is not written twice."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any, Final

from ..store import BuildFile
from ..store.build_file import Note

HEADER: Final = "fishplate-sending"
MEMO: Final = "web-sendings"
MOST: Final = 200
MOST_LETTERS: Final = 64


@dataclass(frozen=True, slots=True)
class Sent:
    """A form that was written.

    Parameters
    ----------
    path : where it was sent; revision : what it made
    back : the page that followed
    """

    path: str
    revision: int
    back: str


class Sendings:
    """The last forms that were written, by the name each browser gave its sending; kept in the build file.

    Parameters
    ----------
    lock : held while a form is looked up and written, so that one sent twice at once is written once; the one that
        every write waits for, or forms would wait twice where many hands write
    """

    def __init__(self, file: BuildFile, lock: AbstractContextManager[Any]) -> None:
        self._file, self._lock = file, lock
        self._held: dict[str, Sent] | None = None

    def of(self, name: str, path: str) -> Sent | None:
        """What was written of a sending; None if nothing was, or if it has no name."""
        found = self._all().get(name) if name else None
        return found if found is not None and found.path == path else None

    def write(self, name: str, path: str, do: Callable[[Note | None], int], back: Callable[[], str]) -> Sent:
        """Write a sending, unless it was written already and only its answer never came.

        Parameters
        ----------
        do : writes, with a note that is kept in the same transaction, and returns the revision
        back : the page that follows, asked for once it is written
        """
        with self._lock:
            sent = self.of(name, path)
            if sent is not None:
                return sent
            if not 0 < len(name) <= MOST_LETTERS:
                return Sent(path, do(None), back())
            held = dict(list(self._all().items())[-(MOST - 1) :])

            def note(revision: int) -> tuple[str, bytes]:
                held[name] = Sent(path, revision, back())
                rows = [[name, sent.path, sent.revision, sent.back] for name, sent in held.items()]
                return MEMO, json.dumps(rows).encode()

            do(note)
            self._held = held
            return held[name]

    def _all(self) -> dict[str, Sent]:
        if self._held is None:
            try:
                rows = json.loads(self._file.memo_get(MEMO) or b"[]")
                self._held = {name: Sent(path, revision, back) for name, path, revision, back in rows}
            except (ValueError, TypeError):
                self._held = {}  # of another version: what is lost is only the memory of old forms
        return self._held
