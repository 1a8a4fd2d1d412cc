"""Several lines changed at once by the keyboard, and without script by boxes to tick."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from serving import AUTHOR, IdleRunner, Site, assert_accessible, assert_nothing_is_cut, serving

from fishplate.build.parts import Phase
from fishplate.starters import load_demo
from fishplate.store import BuildFile

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    """The demo, served once; each test takes back what it wrote."""
    path: Path = tmp_path_factory.mktemp("several") / "demo.fishplate"
    BuildFile.create(path, load_demo(), author=AUTHOR, message="started")
    with serving(path, runner=IdleRunner()) as found:
        yield found


def marked(page: Page) -> list[str]:
    found: list[str] = page.locator("[data-marked]").evaluate_all("lines => lines.map(line => line.dataset.line)")
    return found


def test_lines_are_marked_by_keys_shown_and_written_as_one_change(shop: Site, page: Page) -> None:
    before = shop.desk.view().build
    page.goto(shop.address + "/parts")
    lines = page.locator("[data-lines] > li")
    ids = [lines.nth(n).get_attribute("data-line") for n in range(4)]
    lines.nth(0).locator("summary").focus()
    page.keyboard.press("x")
    assert marked(page) == ids[:1]
    expect(page.locator("#marks [role=status]")).to_contain_text("1 line is marked")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Shift+ArrowDown")
    assert marked(page) == ids[:3]
    expect(lines.nth(2).locator("summary")).to_be_focused()
    page.keyboard.press("x")  # the third not after all
    page.keyboard.press("ArrowDown")
    page.keyboard.press("x")
    assert marked(page) == [ids[0], ids[1], ids[3]]
    assert_nothing_is_cut(page)
    page.keyboard.press("e")
    page.wait_for_url("**/several/parts")
    assert page.locator("[name=line]:checked").count() == 3
    page.get_by_label("Phase").select_option("commission")
    page.get_by_role("button", name="Show what would change").click()
    expect(page.get_by_text("nothing is written yet")).to_be_visible()
    assert shop.desk.view().build == before
    assert_nothing_is_cut(page)
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/parts")
    assert all(shop.desk.view().build.find("parts", ids[n]).phase is Phase.COMMISSION for n in (0, 1, 3))
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#said")).to_contain_text("took back")
    assert shop.desk.view().build == before


def test_escape_takes_the_marks_off(shop: Site, page: Page) -> None:
    page.goto(shop.address + "/jobs")
    page.locator("[data-lines] > li > details > summary:visible").first.focus()
    page.keyboard.press("x")
    page.keyboard.press("Shift+ArrowDown")
    assert len(marked(page)) == 2
    page.keyboard.press("Escape")
    assert marked(page) == []
    expect(page.locator("#marks [role=status]")).to_have_text("")


def test_boxes_are_ticked_by_keys_and_what_is_ticked_is_kept(shop: Site, page: Page) -> None:
    page.goto(shop.address + "/several/offers")
    boxes = page.locator("[data-lines] input")
    boxes.nth(0).focus()
    page.keyboard.press("Space")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("x")
    assert [boxes.nth(n).is_checked() for n in range(4)] == [True, True, True, False]
    assert_nothing_is_cut(page)
    page.reload()
    assert [boxes.nth(n).is_checked() for n in range(4)] == [True, True, True, False]


def test_marks_boxes_and_what_would_change_are_told_to_everybody(shop: Site, page: Page) -> None:
    page.goto(shop.address + "/parts?q=tyre")
    page.locator("[data-lines] summary").first.focus()
    page.keyboard.press("x")
    assert_accessible(page)
    page.keyboard.press("e")
    page.get_by_label("Phase").select_option("commission")
    assert_accessible(page)
    page.get_by_role("button", name="Show what would change").click()
    assert_accessible(page)


def test_it_works_without_script(shop: Site, browser: Browser) -> None:
    before = shop.desk.view().build
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(shop.address + "/parts")
    page.get_by_role("button", name="Change several at once").click()
    page.get_by_label("Show those with").fill("tyre")
    page.get_by_role("button", name="Find").click()
    for box in page.locator("[name=line]").all()[:2]:
        box.check()
    page.get_by_label("System").select_option("none")
    page.get_by_role("button", name="Show what would change").click()
    expect(page.get_by_text("to no system.")).to_be_visible()
    page.get_by_role("button", name="Back to the lines").click()
    assert page.locator("[name=line]:checked").count() == 2
    page.get_by_role("button", name="Show what would change").click()
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/parts")
    after = shop.desk.view().build
    assert sum(a.system != b.system for a, b in zip(before.parts, after.parts, strict=True)) == 2
    page.get_by_role("button", name="Take it back").click()
    assert shop.desk.view().build == before
    context.close()
