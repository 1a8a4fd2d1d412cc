"""A plan is of a day: where pages are served over night, the plan of the next day starts by itself."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from serving import AUTHOR, IdleRunner

from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.store import BuildFile
from fishplate.store.plans import dump_plan
from fishplate.web.desk import Desk
from fishplate.web.worker import Errand, Finished

AT_MOST_SECONDS = 10


class ToldRunner(IdleRunner):
    """Notes what it is asked for, and says that it was."""

    def __init__(self) -> None:
        super().__init__()
        self.asked = threading.Semaphore(0)

    def start(self, errand: Errand, finished: Finished) -> None:
        super().start(errand, finished)
        self.finished = finished
        self.asked.release()


@dataclass
class Bench:
    """A desk, whose day and runner are in hand."""

    desk: Desk
    runner: ToldRunner
    days: list[date] = field(default_factory=list)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """The demo build on its day, seen once."""
    path, days, runner = tmp_path / "demo.fishplate", [demo_as_of()], ToldRunner()
    BuildFile.create(path, load_demo(), author=AUTHOR, message="started")
    desk = Desk(path, today=lambda: days[-1], author=AUTHOR, runner=runner, quiet_seconds=0)
    desk.view()
    yield Bench(desk, runner, days)
    desk.close()


def test_the_first_page_of_a_new_day_starts_its_plan(bench: Bench) -> None:
    bench.days.append(demo_as_of() + timedelta(days=1))
    bench.desk.view()
    assert bench.runner.asked.acquire(timeout=AT_MOST_SECONDS)
    assert [errand.as_of for errand in bench.runner.errands] == [bench.days[-1]]


def test_a_plan_that_was_begun_the_day_before_is_followed_by_one_of_today(bench: Bench, demo_plan: Plan) -> None:
    bench.desk.plan_now()
    assert bench.runner.asked.acquire(timeout=AT_MOST_SECONDS)
    bench.days.append(demo_as_of() + timedelta(days=1))
    bench.runner.finished(dump_plan(replace(demo_plan, revision=1)))
    assert bench.runner.asked.acquire(timeout=AT_MOST_SECONDS)
    assert bench.runner.errands[-1].as_of == bench.days[-1]
