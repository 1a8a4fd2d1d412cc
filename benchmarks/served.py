"""A build served in a process of its own: what a request costs that process, and how long it takes."""

from __future__ import annotations

import gc
import multiprocessing
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from multiprocessing.connection import Connection
from pathlib import Path

import httpx2
import uvicorn

from fishplate.web import create_app
from fishplate.web.worker import Errand, Finished, Progress

WAITING = ('hx-trigger="every 1s"', "load delay:400ms")
"""What a page says that fills itself later."""


class Idle:
    """Works nothing out: what is timed are the pages."""

    def start(self, errand: Errand, finished: Finished) -> None:
        """Nothing."""

    def progress(self) -> Progress:
        """None."""
        return Progress()

    def stop(self) -> None:
        """Nothing."""

    def close(self) -> None:
        """Nothing."""


@dataclass
class Timed:
    """What requests took: processor time of the server, time on the clock [s]; bytes of the last answer as sent."""

    processor: list[float] = field(default_factory=list)
    clock: list[float] = field(default_factory=list)
    sent: int = 0
    status: int = 0

    def at_share(self, share: float = 0.95) -> tuple[float, float]:
        """Within what so many of the answers came: processor time, time on the clock [s]."""
        found = [
            sorted(spans)[max(0, -(-int(share * 100) * len(spans) // 100) - 1)]
            for spans in (self.processor, self.clock)
        ]
        return found[0], found[1]


class Served:
    """A served build, and a client of it."""

    def __init__(self, address: str, clock_id: int) -> None:
        self.address, self._clock_id = address, clock_id
        self.client = httpx2.Client(base_url=address, timeout=120, headers={"Accept-Encoding": "gzip"})
        self.client.get("/more")  # a page of ours, so that forms are taken

    def ask(self, timed: Timed, send: Callable[[httpx2.Client], httpx2.Response]) -> httpx2.Response:
        """One request, timed."""
        before, start = time.clock_gettime(self._clock_id), time.perf_counter()
        response = send(self.client)
        timed.clock.append(time.perf_counter() - start)
        timed.processor.append(time.clock_gettime(self._clock_id) - before)
        timed.sent, timed.status = int(response.headers.get("content-length", 0)), response.status_code
        return response

    def settle(self, path: str, seconds: float = 120) -> float:
        """Ask for a page until nothing on it is being worked out any more; returns how long that took [s]."""
        start = time.perf_counter()
        while any(mark in self.client.get(path).text for mark in WAITING):
            assert time.perf_counter() - start < seconds, path
            time.sleep(0.2)
        return time.perf_counter() - start

    def rest(self) -> None:
        """Wait until the server does nothing beside the requests."""
        while True:
            before = time.clock_gettime(self._clock_id)
            time.sleep(0.3)
            if time.clock_gettime(self._clock_id) - before < 0.02:
                return


@contextmanager
def served(path: Path, day: date) -> Iterator[Served]:
    """Serve a build file from another process until it is no longer needed."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(path, day, theirs), daemon=True)
    process.start()
    try:
        found = Served(ours.recv(), _processor_clock(process.pid or 0))
        yield found
        found.client.close()
    finally:
        process.terminate()
        process.join()


def _processor_clock(pid: int) -> int:
    """The clock of a process's processor time, as Linux numbers it."""
    return (~pid << 3) | 2


def _serve(path: Path, day: date, pipe: Connection) -> None:
    app = create_app(path, today=lambda: day, author="bench", runner=Idle(), quiet_seconds=3600)
    app.state.desk.view()
    gc.collect()
    gc.freeze()  # as `fishplate serve` does
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()  # whoever connects before the server runs waits for it
        pipe.send(f"http://127.0.0.1:{listening.getsockname()[1]}")
        uvicorn.Server(uvicorn.Config(app, log_level="warning", ws="none", timeout_keep_alive=120)).run([listening])
