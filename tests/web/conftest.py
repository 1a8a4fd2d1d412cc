"""A served build, and browsers to look at it with."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, sync_playwright
from serving import AUTHOR, SCREENS, IdleRunner, Site, opened, served, serving

from fishplate.build import Build
from fishplate.plan import Plan, plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.store import BuildFile
from fishplate.store.plans import PLAN, dump_plan
from fishplate.web.worker import Runner
from fishplate.wiring import situation

CHROMIUM = "/usr/bin/chromium"
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def demo_plan() -> Plan:
    """The plan of the demo build, worked out once."""
    return plan(situation(load_demo(), demo_as_of()), revision=1)


@pytest.fixture
def client(tmp_path: Path, demo_plan: Plan) -> Iterator[TestClient]:
    """The demo build with its plan; a first page was loaded, so that forms are taken."""
    with served(tmp_path / "demo.fishplate", load_demo(), demo_plan) as found:
        found.get("/")
        yield found


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[TestClient]:
    """A build with nothing in it."""
    with served(tmp_path / "empty.fishplate", Build(name="Van")) as found:
        found.get("/")
        yield found


@pytest.fixture(scope="session")
def shown(tmp_path_factory: pytest.TempPathFactory, demo_plan: Plan) -> Iterator[Site]:
    """The demo build with its plan, served once for all tests that only look at it."""
    with _demo_served(tmp_path_factory.mktemp("shown"), demo_plan) as found:
        yield found


@pytest.fixture
def site(tmp_path: Path, demo_plan: Plan) -> Iterator[Site]:
    """A copy of the demo build with its plan, served; a change is written and leads to no new plan."""
    with _demo_served(tmp_path, demo_plan, runner=IdleRunner()) as found:
        yield found


@pytest.fixture
def planning(tmp_path: Path, demo_plan: Plan) -> Iterator[Site]:
    """A copy of the demo build with its plan, served; changes lead to new plans."""
    with _demo_served(tmp_path, demo_plan) as found:
        yield found


@contextmanager
def _demo_served(folder: Path, plan: Plan, runner: Runner | None = None) -> Iterator[Site]:
    path = folder / "demo.fishplate"
    BuildFile.create(path, load_demo(), author=AUTHOR, message="started").memo_put(PLAN, dump_plan(plan))
    with serving(path, runner=runner) as found:
        yield found


@pytest.fixture
def empty_site(tmp_path: Path) -> Iterator[Site]:
    """A build with nothing in it, served."""
    path = tmp_path / "van.fishplate"
    BuildFile.create(path, Build(name="Van"), author=AUTHOR, message="started")
    with serving(path) as found:
        yield found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, once for all tests."""
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no browser tests: {CHROMIUM} is not installed (apt-get install chromium)")
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS)
        yield found
        found.close()


@pytest.fixture(params=SCREENS)
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A page on the phone, then on the desk; a failure of a script on it fails the test."""
    with opened(browser, request.param) as found:
        yield found
