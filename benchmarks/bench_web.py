"""The pages: time to answer with 500 parts, nine in ten and nineteen in twenty; the weight of what a page loads."""

from __future__ import annotations

import gc
import gzip
import tempfile
import time
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote

from fastapi.testclient import TestClient

from fishplate.build import Build, facts_of
from fishplate.plan import plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.store import BuildFile
from fishplate.store.plans import dump_plan
from fishplate.web import create_app
from fishplate.web.desk import PLAN, View
from fishplate.web.findable import index_of
from fishplate.web.kept import Standing
from fishplate.web.rooms import ROOMS
from fishplate.web.searching import search_page
from fishplate.web.worker import Errand, Finished, Progress
from fishplate.wiring import situation

from .builds import long_build

PARTS, TIMES, EDITS = 500, 40, 40


class _Idle:
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


def build() -> Build:
    """The demo, its parts that nobody names repeated until there are 500, each with its offers."""
    demo = load_demo()
    parts, offers = list(demo.parts), list(demo.offers)
    number = 0
    while len(parts) < PARTS:
        part = demo.parts[number % len(demo.parts)]
        number += 1
        copy = part.model_copy(update={"id": f"{part.id}-{number}", "name": f"{part.name}, {number}", "quantity": 1})
        parts.append(copy)
        offers += [
            offer.model_copy(update={"id": f"{offer.id}-{number}", "part": copy.id})
            for offer in demo.offers
            if offer.part == part.id
        ]
    return demo.model_copy(update={"parts": tuple(parts), "offers": tuple(offers)})


def rows() -> list[dict[str, Any]]:
    """Seconds within which nineteen answers in twenty come; bytes of scripts and style."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.fishplate"
        file = BuildFile.create(path, build(), author="bench")
        file.memo_put(PLAN, dump_plan(plan(situation(load_demo(), demo_as_of()), revision=1)))
        app = create_app(path, today=demo_as_of, author="bench", runner=_Idle(), quiet_seconds=3600)
        client = TestClient(app, base_url="http://127.0.0.1:8137")
        client.get("/")
        gc.collect()
        gc.freeze()  # as `fishplate serve` does
        found = [_row(f"page {room.path}", lambda path=room.path: client.get(path)) for room in ROOMS]
        actions = app.state.desk.view().plan.actions
        one = f"/week/{actions[0].kind}/{quote(actions[0].key, safe='')}"
        found.append(_row("one action unfolded", lambda: client.get(f"{one}?piece", headers={"HX-Request": "true"})))
        job = next(action.key for action in actions if action.kind == "do" and ":" not in action.key)
        form = {"form": "bench", "hours": "1"}

        def edit() -> Any:
            revision = str(app.state.desk.view().revision)
            return client.post(f"/week/do/{job}", data={"revision": revision, **form}, follow_redirects=False)

        found.append(_row("edit: hours on a job", edit, expected=303))
        return [*found, _search(), *_weights()]


def _search() -> dict[str, Any]:
    """Processor time of a query on a build as large as one person's can be, what can be found once gone through."""
    found = long_build()
    view = View(found, facts_of(found, demo_as_of()), 1, demo_as_of(), None)
    start = time.process_time()
    index = index_of(view)
    gone_through = time.process_time() - start
    names = [part.name for part in found.parts[::40]] + [job.name[:6] for job in found.jobs[::40]]
    asked = [*names, "missing parts", "open decisions", "braek hoes", "M10 x 1,25", "10"]
    seconds = []
    for text in asked:
        start = time.process_time()
        search_page(text, "", Standing(index, True), None)
        seconds.append(time.process_time() - start)
    seconds.sort()
    note = f"{len(index.things)} things, 19 in 20; once a change they are gone through in {gone_through:.2f} s, beside"
    return {"name": "search: a query", "seconds": seconds[int(len(asked) * 0.95) - 1], "note": note}


def _row(name: str, ask: Callable[[], Any], expected: int = 200) -> dict[str, Any]:
    seconds = []
    for _ in range(TIMES):
        start = time.perf_counter()
        response = ask()
        seconds.append(time.perf_counter() - start)
        assert response.status_code == expected, name
    seconds.sort()
    note = f"{PARTS} parts, 19 in 20; even chance {seconds[TIMES // 2] * 1000:.1f} ms; {len(response.content)} bytes"
    return {"name": name, "seconds": seconds[int(TIMES * 0.95) - 1], "note": note}


def _weights() -> list[dict[str, Any]]:
    assets = files("fishplate.web") / "static"
    found = []
    for name in ("htmx.min.js", "keep.js", "keys.js", "look.css"):
        content = (assets / name).read_bytes()
        packed = len(gzip.compress(content, 9))
        found.append({"name": f"weight of {name}", "seconds": 0.0, "note": f"{len(content)} bytes, {packed} packed"})
    return found
