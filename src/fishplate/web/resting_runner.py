"""A runner that is made when it is first needed, and ended once nothing was asked of it for a while."""

from __future__ import annotations

import threading
from collections.abc import Callable

from .worker import Errand, Finished, Progress, Runner


class RestingRunner:
    """Works things out as the runner it makes does, and lets go of it to free its memory.

    Parameters
    ----------
    make : makes the runner
    rest_seconds : how long it is kept without work [s]
    """

    def __init__(self, make: Callable[[], Runner], rest_seconds: float) -> None:
        self._make, self._rest_seconds = make, rest_seconds
        self._lock = threading.Lock()
        self._runner: Runner | None = None
        self._timer: threading.Timer | None = None

    def start(self, errand: Errand, finished: Finished) -> None:
        """Work something out in place of what is being worked out, if anything is."""
        with self._lock:
            if self._runner is None:
                self._runner = self._make()
            elif self._runner.progress().running:
                self._runner.stop()
            self._runner.start(errand, finished)
            self._rest_later()

    def progress(self) -> Progress:
        """How far it is."""
        with self._lock:
            return Progress() if self._runner is None else self._runner.progress()

    def stop(self) -> None:
        """Give up what is being worked out, if anything is."""
        with self._lock:
            if self._runner is not None:
                self._runner.stop()

    def close(self) -> None:
        """Let go of everything."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            self._end()

    def _rest_later(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = threading.Timer(self._rest_seconds, self._rest)
        self._timer.daemon = True
        self._timer.start()

    def _rest(self) -> None:
        with self._lock:
            if self._runner is not None and self._runner.progress().running:
                self._rest_later()
            else:
                self._end()

    def _end(self) -> None:
        if self._runner is not None:
            self._runner.close()
        self._runner = None
