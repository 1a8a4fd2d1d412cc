"""One evening in a browser: a decision written, its swings answered, options scored, compared, chosen."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from serving import AUTHOR, Site, assert_accessible, assert_nothing_is_cut, serving

from fishplate.starters import load_demo
from fishplate.store import BuildFile

pytestmark = pytest.mark.browser
WORKED_OUT_MS = 90_000


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Site]:
    """The demo build without a plan, served."""
    path = tmp_path / "demo.fishplate"
    BuildFile.create(path, load_demo(), author=AUTHOR, message="started")
    with serving(path) as found:
        found.desk.stop_planning()
        yield found


def test_one_evening_from_something_to_decide_to_what_it_loosens(bench: Site, page: Page) -> None:
    page.goto(bench.address + "/decisions")
    page.get_by_role("link", name="Write down something to decide").click()
    page.get_by_label("What is to be decided").fill("Awning")
    page.get_by_label("The ways it can go").fill("Wind-out\nLoop on")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Awning")

    page.get_by_role("link", name="Say what matters most here").click()
    pleasure = page.get_by_role("group", name="Pleasure to use and look at")
    pleasure.get_by_label("This step").select_option("matters most")
    lasts = page.get_by_role("group", name="Lasts, and can be mended")
    lasts.get_by_label("This step").select_option("comes next")
    lasts.get_by_label("Beside the one before it").select_option("about half as much")
    assert_nothing_is_cut(page)
    assert_accessible(page)
    page.get_by_role("button", name="Write it down").click()

    page.get_by_role("link", name="say how good each way is").click()
    for way, scores in (("Wind-out", ("60", "75", "90")), ("Loop on", ("20", "40", "80"))):
        group = page.get_by_role("group", name=re.compile(f"{way} ?: pleasure"))
        for label, score in zip(("Low", "Likely", "High"), scores, strict=True):
            group.get_by_label(label).fill(score)
    assert_nothing_is_cut(page)
    assert_accessible(page)
    page.get_by_role("button", name="Write it down").click()

    lead = page.locator("#compare ~ .lead")
    expect(lead).to_contain_text("“Wind-out” comes out best on average", timeout=WORKED_OUT_MS)
    expect(page.get_by_text("What would change the choice")).to_be_visible()
    page.evaluate("document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
    assert_nothing_is_cut(page)
    assert_accessible(page)

    page.get_by_role("article", name="Wind-out").get_by_role("link", name="See what").click()
    expect(page.locator("main")).to_contain_text("The plan goes by “Wind-out” already: nothing comes loose.")
    page.get_by_label("Why, for later").fill("Up in a minute.")
    page.get_by_role("button", name="Decide for it").click()
    expect(page.locator("main")).to_contain_text("Wind-out. Up in a minute.", timeout=WORKED_OUT_MS)


PAGES = (
    "/decisions/bearing",
    "/decisions/matters",
    "/decisions/heating/ways/heating-air/change",
    "/decisions/wheels/swings",
    "/decisions/wheels/change",
)


@pytest.mark.parametrize("path", PAGES)
def test_pages_written_by_hand_fit_the_screen_and_are_accessible(bench: Site, page: Page, path: str) -> None:
    page.goto(bench.address + path)
    page.evaluate("document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
    assert_nothing_is_cut(page)
    assert_accessible(page)


def test_a_wish_that_can_t_be_is_told_with_what_is_against_it(bench: Site, page: Page) -> None:
    page.goto(bench.address + "/decisions/whole")
    for decision, way in (("Wheels", "Alloy 7 in"), ("Rear arch work", "Roll the lips only")):
        page.get_by_text(decision, exact=True).click()
        page.get_by_label(way, exact=True).check()
    page.get_by_role("button", name="See what it takes").click()
    expect(page.locator("#whole")).to_contain_text("can't be had.", timeout=WORKED_OUT_MS)
    expect(page.locator("#whole")).to_contain_text("The 7 in rim stands 14 mm further out.")
    page.goto(bench.address + "/decisions/whole")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("rowheader", name="As planned")).to_be_visible(timeout=WORKED_OUT_MS)
    assert_nothing_is_cut(page)
    assert_accessible(page)
