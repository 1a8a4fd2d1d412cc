"""Plans in a process of their own."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from multiprocessing.context import SpawnProcess
from pathlib import Path

import pytest
from serving import AUTHOR

from fishplate.build import Build
from fishplate.build.commerce import Offer, Supplier
from fishplate.build.money import Money
from fishplate.build.parts import Part
from fishplate.starters import demo_as_of, load_demo
from fishplate.store import BuildFile
from fishplate.store.plans import load_plan
from fishplate.web.worker import Errand, ProcessRunner


def small(currency: str = "EUR") -> Build:
    """One part with one offer."""
    return Build(
        parts=(Part(id="hub", name="Hub"),),
        suppliers=(Supplier(id="s", name="S", country="NL", currency=currency),),
        offers=(Offer(id="o", supplier="s", part="hub", price=Money.of(40, currency)),),
    )


def wait_for(holds: Callable[[], bool], seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.fixture
def runner():  # type: ignore[no-untyped-def]
    found = ProcessRunner()
    yield found
    found.close()


def test_a_plan_comes_back_with_the_revision_it_was_made_from(tmp_path: Path, runner: ProcessRunner) -> None:
    path = tmp_path / "a.fishplate"
    BuildFile.create(path, small(), author=AUTHOR)
    found: list[bytes] = []
    done = threading.Event()
    runner.start(Errand(path, demo_as_of()), lambda content: (found.append(content), done.set()))
    assert runner.progress().running
    assert done.wait(60)
    plan = load_plan(found[0])
    assert plan is not None
    assert plan.revision == 1
    wait_for(lambda: not runner.progress().running)


def test_a_build_that_can_not_be_planned_is_told_in_words_and_the_next_one_can(
    tmp_path: Path, runner: ProcessRunner
) -> None:
    bad, good = tmp_path / "bad.fishplate", tmp_path / "good.fishplate"
    BuildFile.create(bad, small("KWD"), author=AUTHOR)
    BuildFile.create(good, small(), author=AUTHOR)
    runner.start(Errand(bad, demo_as_of()), lambda _content: None)
    wait_for(lambda: bool(runner.progress().said))
    assert "no exchange rate is known for KWD" in runner.progress().said
    done = threading.Event()
    runner.start(Errand(good, demo_as_of()), lambda _content: done.set())
    assert done.wait(60)


def test_stopping_ends_the_process_at_once_and_another_plan_can_start(tmp_path: Path, runner: ProcessRunner) -> None:
    path = tmp_path / "demo.fishplate"
    BuildFile.create(path, load_demo(), author=AUTHOR)
    found: list[bytes] = []
    runner.start(Errand(path, demo_as_of()), found.append)
    wait_for(lambda: runner.progress().share > 0)
    runner.stop()
    assert not runner.progress().running
    assert "stopped" in runner.progress().said
    assert found == []
    done = threading.Event()
    small_path = tmp_path / "small.fishplate"
    BuildFile.create(small_path, small(), author=AUTHOR)
    runner.start(Errand(small_path, demo_as_of()), lambda _content: done.set())
    assert done.wait(60)


def test_a_process_that_can_not_be_started_is_told_in_words_and_the_next_one_can(
    tmp_path: Path, runner: ProcessRunner, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> None:
        raise OSError("no memory")

    path = tmp_path / "a.fishplate"
    BuildFile.create(path, small(), author=AUTHOR)
    with monkeypatch.context() as patched:
        patched.setattr(SpawnProcess, "start", fail)
        runner.start(Errand(path, demo_as_of()), lambda _: None)
    assert (runner.progress().running, "No plan could be started" in runner.progress().said) == (False, True)
    done = threading.Event()
    runner.start(Errand(path, demo_as_of()), lambda _: done.set())
    assert done.wait(60)
