"""Week by week on the page: worked out beside it, kept, told in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page
from serving import AUTHOR, IdleRunner, Site, assert_accessible, desk_of, serving

from fishplate.build import facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.document import Build
from fishplate.build.jobs import Job, Link
from fishplate.build.owner import Owner
from fishplate.build.parts import Phase
from fishplate.store import BuildFile
from fishplate.store.schedules import dump_schedule, keep_schedule, kept_schedules
from fishplate.web.beside import Answered
from fishplate.web.desk import View
from fishplate.web.scheduling import ScheduleErrand, SchedulePage, schedule_page
from fishplate.web.worker import Progress
from fishplate.wiring import schedule_of

DAY = date(2026, 3, 2)
HOURS = ThreePoint(low=7, likely=7, high=7)
BUILD = Build(
    name="Van",
    owner=Owner(hours_per_week=7),
    jobs=(
        Job(id="strip", name="Strip", phase=Phase.STRIP, hours=HOURS),
        Job(id="weld", name="Weld", phase=Phase.STRUCTURE, hours=HOURS, after=(Link(job="strip"),)),
    ),
)


def view(revision: int = 1, day: date = DAY) -> View:
    return View(BUILD, facts_of(BUILD, day), revision, day, None)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Two jobs in a build file."""
    path = tmp_path / "van.fishplate"
    BuildFile.create(path, BUILD, author=AUTHOR, message="started")
    return path


def test_before_the_first_there_is_a_button_and_nothing_else() -> None:
    assert schedule_page(view(), None, None) == SchedulePage("none")


def test_while_it_is_worked_out_the_page_says_how_far() -> None:
    page = schedule_page(view(), Answered(None, Progress(True, "scheduling", 0.4)), None)
    assert (page.state, page.said, page.share) == ("working", "scheduling", 0.4)


def test_an_errand_makes_it_and_keeps_it(file: Path) -> None:
    told: list[float] = []
    content = ScheduleErrand(file, DAY).answer(None, lambda _, share: told.append(share))
    last, _ = kept_schedules(BuildFile.open(file))
    assert last is not None
    assert content == dump_schedule(last)
    page = schedule_page(view(), Answered(content, Progress()), None)
    assert page.lead.startswith("In this order all is done by ")
    assert page.weeks[0].days == "2 March to 8 March 2026"
    assert page.weeks[0].text[0].startswith("Begin “Strip”: 7 h of ")
    assert page.old == ""


def test_an_old_one_says_so_and_a_stopped_search_leaves_it(file: Path) -> None:
    found, _ = schedule_of(file, DAY)
    assert schedule_page(view(day=date(2026, 3, 4)), None, found).old == "Made 2 March 2026."
    assert schedule_page(view(3), None, found).old == "Made 2 March 2026; 2 changes were written since."
    stopped = Answered(None, Progress(said="The plan was stopped; the last one stands."))
    page = schedule_page(view(), stopped, found)
    assert (page.state, page.said) == ("known", stopped.progress.said)


def test_what_moved_and_what_can_not_be_kept_are_shown(file: Path) -> None:
    found, _ = schedule_of(file, DAY)
    keep_schedule(BuildFile.open(file), found)
    later, _ = schedule_of(file, date(2026, 4, 6))
    page = schedule_page(view(), None, later)
    assert page.moved_since == "2 March 2026"
    assert page.moved[0].startswith("“Strip” moved 5 weeks later")
    never, _ = schedule_of(file, DAY, deadline=date(2026, 3, 4))
    page = schedule_page(view(), None, never)
    assert "All is to be done by 4 March 2026. Give it a later day." in page.faults
    assert schedule_page(view(), None, replace(never, smallest=False)).lead.startswith("No schedule was found")


def test_a_press_asks_for_it_and_a_kept_one_is_shown(empty: TestClient, file: Path) -> None:
    assert "Work it out" not in empty.get("/schedule").text  # there is no job to lay out
    desk = desk_of(empty)
    form = {"revision": "1", "form": "", "list": ""}
    assert empty.post("/schedule", data=form, follow_redirects=False).status_code == 303
    assert isinstance(desk.runner, IdleRunner)
    assert [type(errand) for errand in desk.runner.errands][-1:] == [ScheduleErrand]
    keep_schedule(desk.file, schedule_of(file, DAY)[0])
    text = empty.get("/schedule").text
    assert "In this order all is done by" in text
    assert "Begin “Strip”: 7 h of" in text


@pytest.fixture
def small_site(file: Path) -> Iterator[Site]:
    """The two jobs, served."""
    with serving(file) as found:
        yield found


@pytest.mark.browser
def test_a_press_works_it_out_beside_the_page(small_site: Site, page: Page) -> None:
    page.goto(f"{small_site.address}/schedule")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_text("In this order all is done by").wait_for(timeout=60_000)
    page.get_by_role("heading", name="The weeks").wait_for()
    assert_accessible(page)
