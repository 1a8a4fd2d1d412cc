"""What is worked out beside the pages."""

from __future__ import annotations

import threading
from dataclasses import replace

from fishplate.build import Build, facts_of
from fishplate.starters import demo_as_of
from fishplate.web.course import STOPPED, say
from fishplate.web.desk import View
from fishplate.web.kept import Kept

DAY = demo_as_of()
FIRST = View(Build(name="Van"), facts_of(Build(name="Van"), DAY), 1, DAY, None)
SECOND = replace(FIRST, revision=2)
LONG = 20.0


def test_a_result_is_worked_out_once_for_a_revision() -> None:
    seen: list[int] = []

    def work(view: View) -> int:
        seen.append(view.revision)
        return view.revision

    kept = Kept(work)
    for view in (FIRST, FIRST, SECOND, SECOND):
        found = kept.of(view, patience_seconds=LONG)
        assert (found.value, found.current) == (view.revision, True)
    assert seen == [1, 2]


def test_the_last_result_stands_until_the_next_is_there() -> None:
    go = threading.Event()

    def work(view: View) -> int:
        assert view.revision == 1 or go.wait(LONG)
        return view.revision

    kept = Kept(work)
    assert kept.of(FIRST, patience_seconds=LONG).value == 1
    waiting = kept.of(SECOND, patience_seconds=0)
    assert (waiting.value, waiting.current, waiting.working) == (1, False, True)
    go.set()
    assert kept.of(SECOND, patience_seconds=LONG).value == 2


def test_a_failure_is_told_and_the_last_result_stands() -> None:
    def work(view: View) -> int:
        if view.revision == 2:
            raise ValueError
        return view.revision

    kept = Kept(work)
    kept.of(FIRST, patience_seconds=LONG)
    failed = kept.of(SECOND, patience_seconds=LONG)
    assert (failed.value, failed.current, failed.working) == (1, False, False)
    assert "incident" in failed.said
    assert kept.of(FIRST, patience_seconds=LONG).current


def test_a_change_that_is_overtaken_is_not_worked_out() -> None:
    go, seen = threading.Event(), []

    def work(view: View) -> int:
        seen.append(view.revision)
        assert go.wait(LONG)
        return view.revision

    kept = Kept(work)
    third = replace(FIRST, revision=3)
    for view in (FIRST, SECOND, third):
        kept.of(view, patience_seconds=0.05)
    go.set()
    assert kept.of(third, patience_seconds=LONG).value == 3
    assert seen == [1, 3]


def test_it_tells_how_far_it_is_is_stopped_and_begun_again() -> None:
    begun, go = threading.Event(), threading.Event()

    def work(view: View) -> int:
        say("Comparing parts", 0.25)
        begun.set()
        assert go.wait(LONG)
        say("Comparing jobs", 0.5)
        return view.revision

    kept = Kept(work)
    kept.of(FIRST, patience_seconds=0)
    assert begun.wait(LONG)
    far = kept.of(FIRST, patience_seconds=0)
    assert (far.working, far.stage, far.share) == (True, "Comparing parts", 0.25)
    kept.stop()
    go.set()
    stopped = kept.of(FIRST, patience_seconds=LONG)
    assert (stopped.value, stopped.working, stopped.said) == (None, False, STOPPED)
    assert kept.of(FIRST, patience_seconds=0).said == STOPPED  # nothing begins again by itself
    kept.again()
    done = kept.of(FIRST, patience_seconds=LONG)
    assert (done.value, done.current, done.said) == (1, True, "")


def test_what_is_done_can_not_be_stopped_any_more() -> None:
    kept = Kept(lambda view: view.revision)
    kept.of(FIRST, patience_seconds=LONG)
    kept.stop()
    found = kept.of(FIRST, patience_seconds=LONG)
    assert (found.current, found.said) == (True, "")
