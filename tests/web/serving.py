"""How tests serve a build, and what they expect of every page."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page

from fishplate.build import Build
from fishplate.plan import Plan
from fishplate.starters import demo_as_of
from fishplate.store import BuildFile
from fishplate.store.plans import PLAN, dump_plan
from fishplate.web import create_app
from fishplate.web.desk import Desk
from fishplate.web.worker import Errand, Finished, Progress, Runner

AUTHOR = "tester@bench"
WAITING = ('hx-trigger="every 1s" hx-target="#main"', 'id="changes" hx-get')
SCREENS = {"phone": (390, 844), "desk": (1440, 900)}
COLOURS = ["color-contrast", "link-in-text-block"]  # the rules whose answer changes with the theme
PHONE_FIRST = ("phone", pytest.param("desk", marks=pytest.mark.long))  # for what differs little between the two
EXPECTED = ("status of 4", "net::ERR_FAILED", "htmx:sendError", "htmx:afterRequest")  # what a test refuses or drops


class IdleRunner:
    """Notes what it is asked for and works nothing out."""

    def __init__(self) -> None:
        self.errands: list[Errand] = []

    def start(self, errand: Errand, finished: Finished) -> None:
        self.errands.append(errand)

    def progress(self) -> Progress:
        return Progress()

    def stop(self) -> None:
        pass

    def close(self) -> None:
        pass


def served(path: Path, build: Build, plan: Plan | None = None, *, day: date | None = None) -> TestClient:
    """A client of a build's pages; plans are not worked out."""
    file = BuildFile.create(path, build, author=AUTHOR, message="started")
    if plan is not None:
        file.memo_put(PLAN, dump_plan(plan))
    app = create_app(path, today=lambda: day or demo_as_of(), author=AUTHOR, runner=IdleRunner(), quiet_seconds=3600)
    return TestClient(app, base_url="http://127.0.0.1:8137")


def desk_of(client: TestClient) -> Desk:
    """What stands behind a client."""
    desk: Desk = client.app.state.desk  # type: ignore[attr-defined]
    return desk


def worked_out(client: TestClient, path: str) -> Any:
    """A page once what it waits for beside the requests is there."""
    for _ in range(600):  # each waits a moment itself
        response = client.get(path)
        if not any(mark in response.text for mark in WAITING):
            break
    return response


@dataclass
class Site:
    """Pages served on a free port, as a person meets them: with a worker that plans."""

    address: str
    desk: Desk


@contextmanager
def serving(path: Path, *, today: Callable[[], date] = demo_as_of, runner: Runner | None = None) -> Iterator[Site]:
    """Serve a build file from a thread until it is no longer needed."""
    app = create_app(path, today=today, author=AUTHOR, runner=runner, quiet_seconds=0.2)
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="warning", ws="none"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the pages could not be served"
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield Site(f"http://127.0.0.1:{port}", app.state.desk)
    server.should_exit = True
    thread.join(10)


@contextmanager
def opened(browser: Browser, screen: str) -> Iterator[Page]:
    """A page at the width of a screen; a failure of a script on it fails the test."""
    width, height = SCREENS[screen]
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    yield page
    context.close()
    unexpected = [fault for fault in faults if not any(words in fault for words in EXPECTED)]
    assert not unexpected, unexpected


def assert_accessible(page: Page) -> None:
    """axe finds nothing wrong with what is on the screen, nor with its colours in the dark."""
    for theme, rules in (("light", None), ("dark", COLOURS)):
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        found = Axe().run(page, options={"resultTypes": ["violations"]} | ({"runOnly": rules} if rules else {}))
        assert not found.response["violations"], f"{page.url}, {theme}: {found.generate_report()}"


def assert_nothing_is_cut(page: Page) -> None:
    """Nothing reaches beyond the screen's right edge."""
    beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert beyond <= 0, f"{page.url}: {beyond} px beyond the edge"
