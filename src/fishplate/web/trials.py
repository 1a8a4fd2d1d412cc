"""Two plans side by side: the build as it would be is planned beside the pages; nothing is written."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Final

from ..build import Build, format_document
from ..store.plans import dump_plan, load_plan
from .resting_runner import RestingRunner
from .worker import UNREADABLE, Errand, ProcessRunner, Progress, Runner

if TYPE_CHECKING:
    from ..plan import Plan

REST_SECONDS: Final = 90.0


@dataclass(frozen=True, slots=True)
class TrialKey:
    """What is tried: a change to the build at a revision, on a day."""

    revision: int
    as_of: date
    change: str


@dataclass(frozen=True, slots=True)
class TrialErrand(Errand):
    """The plan of a build as it would be, near the plan as it is, so that only what the change moves differs.

    Parameters
    ----------
    standing : the plan as it is, as it is kept; None if there is none
    """

    standing: bytes | None = None

    def answer(self, memory: Any, say: Callable[[str, float], None]) -> bytes:
        """The plan, as it is kept."""
        from ..plan import plan
        from ..plan.steady import Earlier
        from ..store.plans import dump_plan
        from ..wiring import read_revision, situation

        build, revision = read_revision(self.path)
        last = load_plan(self.standing)
        earlier = None if last is None else Earlier(last, last)
        found = situation(build, self.as_of, seed=self.seed)
        return dump_plan(plan(found, revision=revision, progress=say, memo=memory, earlier=earlier))


@dataclass(frozen=True, slots=True)
class Trial:
    """How far a trial is.

    Parameters
    ----------
    plan : the plan of the build as it would be, once it is made
    """

    plan: Plan | None
    progress: Progress


class Trials:
    """Plans of builds as they would be: one at a time, the last one kept.

    Parameters
    ----------
    make : makes what works out plans; a process of its own, that ends when nothing was tried for a while
    rest_seconds : how long [s]
    """

    def __init__(self, make: Callable[[], Runner] = ProcessRunner, *, rest_seconds: float = REST_SECONDS) -> None:
        self._runner = RestingRunner(make, rest_seconds)
        self._lock = threading.Lock()
        self._folder: TemporaryDirectory[str] | None = None
        self._key: TrialKey | None = None
        self._plan: Plan | None = None
        self._unreadable = False

    def start(self, key: TrialKey, build: Build, standing: Plan | None = None) -> None:
        """Plan a build as it would be, unless that was done or is being done; gives up any other trial.

        Parameters
        ----------
        standing : the plan as it is, which the new one stays near
        """
        with self._lock:
            running = self._runner.progress().running
            if self._key == key and (self._plan is not None or running):
                return
            if running:  # before its document is written anew
                self._runner.stop()
            self._key, self._plan, self._unreadable = key, None, False
            document = self._written(build)
            errand = TrialErrand(document, key.as_of, standing=None if standing is None else dump_plan(standing))
            self._runner.start(errand, lambda content: self._finished(key, content))

    def of(self, key: TrialKey) -> Trial | None:
        """How far a trial is; None if it was not begun."""
        with self._lock:
            if self._key != key:
                return None
            progress = self._runner.progress()
            if self._unreadable and not progress.running:
                progress = replace(progress, said=UNREADABLE)
            return Trial(self._plan, progress)

    def stop(self) -> None:
        """Give up what is being tried, if anything is."""
        with self._lock:
            self._runner.stop()

    def close(self) -> None:
        """Give up what is being tried, and let go of everything."""
        with self._lock:
            self._runner.close()
            if self._folder is not None:
                self._folder.cleanup()
            self._folder = None

    def _finished(self, key: TrialKey, content: bytes) -> None:
        with self._lock:
            if self._key == key:
                self._plan = load_plan(content)
                self._unreadable = self._plan is None

    def _written(self, build: Build) -> Path:
        """The build as a document where the other process finds it."""
        if self._folder is None:
            self._folder = TemporaryDirectory(prefix="fishplate-")
        path = Path(self._folder.name) / "as-it-would-be.json"
        path.write_text(format_document(build), encoding="utf-8")
        return path
