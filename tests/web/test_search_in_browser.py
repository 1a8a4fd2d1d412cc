"""Search and keys as a person uses them: opened by a key, walked by arrows, closed, and never while typing."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from serving import AUTHOR, IdleRunner, Site, assert_accessible, assert_nothing_is_cut, serving

from fishplate.starters import load_demo
from fishplate.store import BuildFile

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """The demo, served once; nothing is written to it."""
    path = tmp_path_factory.mktemp("search") / "demo.fishplate"
    BuildFile.create(path, load_demo(), author=AUTHOR, message="started")
    with serving(path, runner=IdleRunner()) as found:
        found.desk.words.of(found.desk.view(), patience_seconds=20)
        yield found


def test_a_key_opens_search_the_first_is_opened_by_enter(shop: Site, page: Page) -> None:
    page.goto(shop.address + "/parts")
    page.get_by_role("link", name="To the page").focus()
    page.keyboard.press("/")
    field = page.get_by_label("Search everything")
    expect(field).to_be_focused()
    assert_accessible(page)
    page.keyboard.type("front brake disc", delay=5)
    page.keyboard.press("Enter")  # before the answer is there
    page.wait_for_url("**/parts/front-disc")


def test_arrows_walk_and_escape_goes_back_to_where_one_was(shop: Site, page: Page) -> None:
    page.goto(shop.address + "/parts")
    line = page.locator("[data-lines] summary").nth(1)
    line.focus()
    page.keyboard.press("/")
    expect(page.get_by_label("Search everything")).to_be_focused()
    page.keyboard.type("brake hose", delay=5)
    hits = page.locator("#found [data-hit]")
    expect(page.locator("#found")).to_have_attribute("data-text", "brake hose")
    expect(page.locator("#found [role=status]")).to_contain_text("found")
    page.keyboard.press("ArrowDown")
    expect(hits.nth(0)).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(hits.nth(1)).to_be_focused()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(page.get_by_label("Search everything")).to_be_focused()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    page.keyboard.press("Escape")
    expect(page.locator("#over")).not_to_be_visible()
    expect(line).to_be_focused()


def test_search_is_a_tap_away_and_a_page_of_its_own(shop: Site, page: Page) -> None:
    page.goto(shop.address + "/")
    link = page.get_by_role("link", name="Search", exact=True)
    box = link.bounding_box()
    assert box is not None
    assert box["height"] >= 44
    link.click()
    page.wait_for_url("**/search")
    page.get_by_label("Search everything").fill("braek hose")
    expect(page.locator("#found").get_by_role("link", name="Brake hoses, set made to length").first).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)


def test_no_key_acts_while_somebody_types(shop: Site, page: Page) -> None:
    page.goto(shop.address + "/parts")
    field = page.get_by_label("Find in the list")
    field.click()
    page.keyboard.type("x/e?")
    expect(field).to_have_value("x/e?")
    expect(page.locator("#over")).not_to_be_visible()


def test_a_key_shows_all_keys_and_they_can_be_turned_off(shop: Site, page: Page) -> None:
    page.goto(shop.address + "/jobs")
    page.keyboard.press("?")
    expect(page.locator("#over").get_by_text("Search everything.")).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    page.get_by_role("button", name="Turn the keys").click()
    expect(page.get_by_role("button", name="Turn the keys of single letters and signs on")).to_be_visible()
    page.get_by_role("button", name="Close").click()
    expect(page.locator("#over")).not_to_be_visible()
    page.keyboard.press("/")
    expect(page.locator("#over")).not_to_be_visible()


def test_search_works_without_script(shop: Site, browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(shop.address + "/search")
    page.get_by_label("Search everything").fill("M10")
    page.get_by_role("button", name="Search").click()
    expect(page.locator("#found [role=status]")).to_be_visible()
    assert "q=M10" in page.url
    context.close()
