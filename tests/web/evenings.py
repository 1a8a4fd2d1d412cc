"""How tests live through evenings at one build: a person at a screen, who reads words, fills fields and taps buttons.

The build lives on from evening to evening; what is asserted is what it holds then, and what the page says.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from playwright.sync_api import Browser, Locator, Page, expect
from serving import AUTHOR, Site, opened, serving

from fishplate.build import Build
from fishplate.plan import Plan
from fishplate.store import BuildFile
from fishplate.store.plans import PLAN, dump_plan
from fishplate.web.worker import Runner

PLANNED_SECONDS = 120.0
WORKED_OUT_MS = 60_000


@dataclass
class Calendar:
    """The day it is."""

    day: date


@dataclass
class Evenings:
    """A person at one build, at one screen, evening after evening."""

    site: Site
    page: Page
    calendar: Calendar

    @property
    def day(self) -> date:
        """The day it is."""
        return self.calendar.day

    @day.setter
    def day(self, day: date) -> None:
        self.calendar.day = day

    @property
    def build(self) -> Build:
        """The build as its file holds it now."""
        return self.site.desk.view().build

    @property
    def plan(self) -> Plan:
        """The last plan there is."""
        plan = self.site.desk.view().plan
        assert plan is not None, "there is no plan yet"
        return plan

    @property
    def words(self) -> str:
        """What the page says, as it is read."""
        return " ".join(self.page.locator("main").inner_text().split())

    def opens(self, path: str) -> None:
        """Go to a page by its address, without the host."""
        self.page.goto(self.site.address + path)

    def follows(self, words: str, *, within: Locator | None = None) -> None:
        """Tap the first link in sight that holds some words."""
        (within or self.page.locator("main")).get_by_role("link", name=words).filter(visible=True).first.click()

    def unfolds(self, words: str, *, within: Locator | None = None) -> Locator:
        """Open the first thing in sight whose fold says some words; returns it."""
        folded = (within or self.page.locator("main")).locator("details").filter(has=self.page.locator("summary"))
        found = folded.filter(has=self.page.locator(":scope > summary", has_text=words)).filter(visible=True).first
        if not found.evaluate("each => each.open"):
            found.locator("> summary").click()
        return found

    def form(self, button: str, *, within: Locator | None = None) -> Locator:
        """The first form in sight that has a button."""
        named = self.page.get_by_role("button", name=button, exact=True)
        return (within or self.page.locator("main")).locator("form").filter(has=named).filter(visible=True).first

    def sends(
        self, button: str, fields: Mapping[str, str | bool | Path] | None = None, *, within: Locator | None = None
    ) -> None:
        """Fill the form with that button and tap it.

        Parameters
        ----------
        fields : by label; text is typed or chosen by its words, True ticks, False unticks, a path is a file
        within : where the form stands, if the button is there several times
        """
        form = self.form(button, within=within)
        for label, value in (fields or {}).items():
            fill(form, label, value)
        form.get_by_role("button", name=button, exact=True).click()

    def reads(self, *words: str) -> None:
        """The page says these words, at the latest once what it waits for is worked out."""
        for each in words:
            expect(self.page.locator("main")).to_contain_text(each, timeout=WORKED_OUT_MS)

    def is_told(self, *words: str) -> None:
        """The line that says what was written holds these words, and is in sight."""
        for each in words:
            expect(self.page.locator("#said")).to_contain_text(each)
        expect(self.page.locator("#said")).to_be_in_viewport()

    def waits_for_the_plan(self) -> Plan:
        """Let the plan of what was written be worked out; returns it."""
        until = time.monotonic() + PLANNED_SECONDS
        while not self.site.desk.view().is_current:
            assert time.monotonic() < until, f"no plan was made: {self.site.desk.progress}"
            self.page.wait_for_timeout(100)
        return self.plan


def fill(form: Locator, label: str, value: str | bool | Path) -> None:
    """Fill the first field in sight with a label, whatever kind it is."""
    exact = form.get_by_label(label, exact=True).filter(visible=True)
    field = (exact if exact.count() else form.get_by_label(label).filter(visible=True)).first
    if isinstance(value, Path):
        field.set_input_files(value)
    elif isinstance(value, bool):
        field.set_checked(value)
    elif field.evaluate("each => each.tagName") == "SELECT":
        field.select_option(label=value)
    else:
        field.fill(value)


@contextmanager
def evenings(
    browser: Browser,
    folder: Path,
    width: str,
    build: Build,
    *,
    day: date,
    plan: Plan | None = None,
    runner: Runner | None = None,
) -> Iterator[Evenings]:
    """A build served from a folder, and a screen of a width to sit at.

    Parameters
    ----------
    width : phone or desk
    day : the day it is; a later evening sets it on `Evenings.day`
    plan : of the build as it starts, if there is one; runner : in place of a worker that plans
    """
    path = folder / "build.fishplate"
    file = BuildFile.create(path, build, author=AUTHOR, message="started")
    if plan is not None:
        file.memo_put(PLAN, dump_plan(plan))
    calendar = Calendar(day)
    with serving(path, runner=runner, today=lambda: calendar.day) as site, opened(browser, width) as page:
        yield Evenings(site, page, calendar)
