"""Plans, worked out in a process of their own: one at a time, with progress, stopped by ending the process."""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Protocol

from ..build import Refused
from .failures import note_failure

if TYPE_CHECKING:
    from ..plan.loop import Round
    from ..plan.study import Studied


@dataclass(frozen=True, slots=True)
class Errand:
    """A plan that is asked for; others derive from it what else is to be worked out."""

    path: Path
    as_of: date
    seed: int = 1

    def answer(self, memory: Any, say: Callable[[str, float], None]) -> bytes:
        """What was asked for, as bytes.

        Parameters
        ----------
        memory : what the last plan worked out
        """
        return plan_bytes(self, memory, say)


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a plan is.

    Parameters
    ----------
    running : whether one is being worked out
    stage, share : what is being done, and how much of the whole is done, 0 to 1
    said : what there is to say about the last one: stopped, or why it could not be made
    """

    running: bool = False
    stage: str = ""
    share: float = 0.0
    said: str = ""


Finished = Callable[[bytes], None]
UNREADABLE: Final = (
    "A plan was made but can't be read here, so it is not shown; the build is unchanged. Stop the program and start it "
    "again, then plan again."
)


class Runner(Protocol):
    """Something that works out plans."""

    def start(self, errand: Errand, finished: Finished) -> None:
        """Work out a plan, unless one is being worked out already; `finished` gets it as bytes."""

    def progress(self) -> Progress:
        """How far it is."""

    def stop(self) -> None:
        """Give up the plan that is being worked out, if any."""

    def close(self) -> None:
        """Let go of everything."""


class ProcessRunner:
    """Works out plans in another process, which is kept for the next one: it has everything loaded by then."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._progress = Progress()
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None

    def start(self, errand: Errand, finished: Finished) -> None:
        """Work out a plan, unless one is being worked out already."""
        with self._lock:
            if self._progress.running:
                return
            try:
                pipe = self._alive()
                pipe.send(errand)
            except (OSError, RuntimeError):
                note_failure()
                self._end()
                self._progress = Progress(said="No plan could be started on this machine; the last one stands.")
                return
            self._progress = Progress(True, "starting", 0.0)
        threading.Thread(target=self._watch, args=(pipe, finished), daemon=True).start()

    def progress(self) -> Progress:
        """How far it is."""
        return self._progress

    def stop(self) -> None:
        """End the process; the next plan starts another."""
        with self._lock:
            if self._progress.running:
                self._end()
                self._progress = Progress(said="The plan was stopped; the last one stands.")

    def close(self) -> None:
        """End the process."""
        with self._lock:
            self._end()
            self._progress = Progress()

    def _alive(self) -> Connection:
        """The pipe to a living process."""
        if self._process is not None and self._process.is_alive() and self._pipe is not None:
            return self._pipe
        context = multiprocessing.get_context("spawn")
        pipe, theirs = context.Pipe()
        process = context.Process(target=work, args=(theirs,), daemon=True)
        process.start()  # one that could not be started is not kept: it can't be ended either
        theirs.close()
        self._process, self._pipe = process, pipe
        return pipe

    def _end(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None

    def _watch(self, pipe: Connection, finished: Finished) -> None:
        """Follow one plan to its end."""
        while True:
            try:
                kind, *said = pipe.recv()
            except (EOFError, OSError):
                self._tell(pipe, Progress(said="The plan could not be finished; the last one stands."))
                return
            if kind == "progress":
                self._tell(pipe, Progress(True, said[0], said[1]))
                continue
            if kind == "plan":
                finished(said[0])
            self._tell(pipe, Progress(said="" if kind == "plan" else str(said[0])))
            return

    def _tell(self, pipe: Connection, progress: Progress) -> None:
        with self._lock:
            if self._pipe is pipe:
                self._progress = progress


def work(pipe: Connection) -> None:
    """What the other process does: plans, as they are asked for, until the pipe is closed."""
    memory = _Memory()
    while True:
        try:
            errand: Errand = pipe.recv()
        except (EOFError, OSError, KeyboardInterrupt):
            return
        try:
            pipe.send(("plan", errand.answer(memory, lambda stage, share: pipe.send(("progress", stage, share)))))
        except Refused as refused:
            pipe.send(("refused", str(refused)))
        except KeyboardInterrupt:
            return
        except Exception:
            pipe.send(("failed", _own_failure()))


def plan_bytes(errand: Errand, memory: Any, say: Callable[[str, float], None]) -> bytes:
    """The plan of a build file on a day, as the page keeps it."""
    from ..plan import plan
    from ..store.plans import dump_plan
    from ..wiring import earlier_plan, read_revision, situation

    build, revision = read_revision(errand.path)
    found = situation(build, errand.as_of, seed=errand.seed)
    earlier = earlier_plan(errand.path)
    return dump_plan(plan(found, revision=revision, progress=say, memo=memory, earlier=earlier))


def settled_for(errand: Errand, memory: Any, say: Callable[[str, float], None]) -> tuple[Studied, Round]:
    """What the plan of an errand stands on: near the plan that is kept, so that it is the same."""
    from ..plan.main_job import settled
    from ..wiring import earlier_plan, read_revision, situation

    build, _revision = read_revision(errand.path)
    found = situation(build, errand.as_of, seed=errand.seed)
    studied, chosen, _, _ = settled(found, progress=say, memo=memory, earlier=earlier_plan(errand.path))
    studied.remembered.save()
    return studied, chosen


class _Memory:
    """What the last plan worked out; enough to make the next one quick."""

    def __init__(self) -> None:
        self._kept: dict[str, dict[str, Any]] = {}

    def load(self, key: str) -> dict[str, Any]:
        """What is kept under a key."""
        return self._kept.get(key, {})

    def save(self, key: str, values: dict[str, Any]) -> None:
        """Keep the values of a key and of the one saved before it."""
        others = {other: kept for other, kept in self._kept.items() if other != key}
        self._kept = dict([*others.items()][-1:]) | {key: values}


def _own_failure() -> str:
    """Note the details in a log; the person sees only its number."""
    return f"The plan failed (incident {note_failure()}); the build is unchanged and the last plan stands."
