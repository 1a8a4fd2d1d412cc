"""What takes seconds: worked out in a process beside the pages when it is asked for; the last answers are kept."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Final

from .resting_runner import RestingRunner
from .worker import Errand, ProcessRunner, Progress, Runner

KEPT: Final = 24
REST_SECONDS: Final = 120.0


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked: a question of the build at a revision, on a day."""

    revision: int
    as_of: date
    question: str


@dataclass(frozen=True, slots=True)
class Answered:
    """How far an answer is.

    Parameters
    ----------
    content : the answer, once it is there
    """

    content: bytes | None
    progress: Progress


@dataclass(frozen=True, slots=True)
class HowFar:
    """How far an answer is, for a page to show.

    Parameters
    ----------
    state : "not asked for", "working", "failed" or "known"
    said, share : how far it is, or what went wrong
    """

    state: str
    said: str = ""
    share: float = 0.0


def how_far(answered: Answered | None) -> HowFar:
    """How far an answer is; None: it was not asked for.

    Examples
    --------
    >>> how_far(None).state, how_far(Answered(None, Progress(said="stopped"))).state
    ('not asked for', 'failed')
    """
    if answered is None:
        return HowFar("not asked for")
    if answered.content is not None:
        return HowFar("known", share=1.0)
    progress = answered.progress
    failed = bool(progress.said) and not progress.running
    return HowFar("failed" if failed else "working", progress.said or progress.stage, progress.share)


class Beside:
    """Answers worked out beside the pages.

    Parameters
    ----------
    make : makes what works them out; a process of its own, that ends when nothing was asked for a while
    rest_seconds : how long [s]
    """

    def __init__(self, make: Callable[[], Runner] = ProcessRunner, *, rest_seconds: float = REST_SECONDS) -> None:
        self._runner = RestingRunner(make, rest_seconds)
        self._lock = threading.Lock()
        self._asked: Asked | None = None
        self._answers: dict[Asked, bytes] = {}

    def start(self, asked: Asked, errand: Errand) -> None:
        """Work out an answer, unless it is there or on its way; gives up any other."""
        with self._lock:
            if asked in self._answers or (self._asked == asked and self._runner.progress().running):
                return
            self._asked = asked
            self._runner.start(errand, lambda content: self._finished(asked, content))

    def of(self, asked: Asked) -> Answered | None:
        """How far an answer is; None if it was not asked for."""
        with self._lock:
            if asked in self._answers:
                return Answered(self._answers[asked], Progress())
            if asked != self._asked:
                return None
            return Answered(None, self._runner.progress())

    def stop(self) -> None:
        """Give up what is being worked out."""
        with self._lock:
            self._runner.stop()
            self._asked = None

    def close(self) -> None:
        """Let go of everything."""
        self._runner.close()

    def _finished(self, asked: Asked, content: bytes) -> None:
        with self._lock:
            self._answers[asked] = content
            for old in list(self._answers)[:-KEPT]:
                del self._answers[old]
