"""Two open pages of one owner: each sees what the other changed, nothing typed is lost, two hands are told of."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from serving import AUTHOR, IdleRunner, Site, serving

from fishplate.starters import load_demo
from fishplate.store import BuildFile

pytestmark = pytest.mark.browser
PART = "/parts/front-disc"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """The demo, served once."""
    path = tmp_path_factory.mktemp("two") / "demo.fishplate"
    BuildFile.create(path, load_demo(), author=AUTHOR, message="started")
    with serving(path, runner=IdleRunner()) as found:
        yield found


@pytest.fixture
def two(browser: Browser) -> Iterator[tuple[Page, Page]]:
    """The phone in the garage and the desk in the house."""
    contexts = [browser.new_context(viewport={"width": wide, "height": 900}) for wide in (390, 1440)]
    yield tuple(context.new_page() for context in contexts)  # type: ignore[misc]
    for context in contexts:
        context.close()


def look(page: Page) -> None:
    """What a page does every few seconds, and when it comes to the front, at once."""
    with page.expect_response("**/plan/stands"):
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")


def rename(page: Page, name: str) -> None:
    page.get_by_label("Name", exact=True).fill(name)
    page.locator("form", has=page.get_by_label("Name", exact=True)).get_by_role("button").first.click()


def unfold(page: Page) -> None:
    page.locator("details", has=page.get_by_label("Name", exact=True)).locator("summary").first.click()


def test_a_page_that_lies_open_shows_what_the_other_changed(shop: Site, two: tuple[Page, Page]) -> None:
    phone, desk = two
    phone.goto(shop.address + "/parts")
    desk.goto(shop.address + PART)
    unfold(desk)
    rename(desk, "Front disc, the new one")
    expect(desk.locator("#said")).to_contain_text("Written")
    look(phone)
    expect(phone.locator("#part-front-disc")).to_contain_text("Front disc, the new one")
    expect(phone.locator("#state")).to_contain_text("plan")
    phone.wait_for_timeout(200)
    phone.evaluate("document.querySelector('#main').dataset.same = 'yes'")
    look(phone)  # and then it leaves well alone
    phone.wait_for_timeout(200)
    expect(phone.locator("#main")).to_have_attribute("data-same", "yes")


def test_what_is_being_typed_stays_and_the_change_is_offered(shop: Site, two: tuple[Page, Page]) -> None:
    phone, desk = two
    phone.goto(shop.address + PART)
    unfold(phone)
    note = phone.get_by_label("Note").first
    note.fill("kept in the long drawer")
    desk.goto(shop.address + "/parts/front-caliper")
    unfold(desk)
    rename(desk, "Front caliper, cleaned")
    expect(desk.locator("#said")).to_contain_text("Written")
    look(phone)
    expect(phone.get_by_text("Something was changed on another page or device.")).to_be_visible()
    expect(note).to_have_value("kept in the long drawer")
    phone.get_by_role("link", name="Show it").click()
    expect(phone.get_by_label("Note").first).to_have_value("kept in the long drawer")
    phone.locator("form", has=phone.get_by_label("Name", exact=True)).get_by_role("button").first.click()
    expect(phone.locator("#said")).to_contain_text("Written")
    build = shop.desk.view().build
    assert build.find("parts", "front-disc").note == "kept in the long drawer"
    assert build.find("parts", "front-caliper").name == "Front caliper, cleaned"


def test_two_hands_on_one_thing_see_both_values(shop: Site, two: tuple[Page, Page]) -> None:
    phone, desk = two
    for page in two:
        page.goto(shop.address + PART)
        unfold(page)
    rename(desk, "Disc of the desk")
    expect(desk.locator("#said")).to_contain_text("Written")
    rename(phone, "Disc of the phone")
    expect(phone.get_by_role("heading", name="Changed by two hands")).to_be_visible()
    expect(phone.locator("#main")).to_contain_text("Disc of the desk")
    expect(phone.locator("#main")).to_contain_text("Disc of the phone")
    phone.get_by_role("button", name="Write mine over it").click()
    expect(phone.locator("#said")).to_contain_text("Written")
    assert shop.desk.view().build.find("parts", "front-disc").name == "Disc of the phone"
    look(desk)
    expect(desk.locator("#main")).to_contain_text("Disc of the phone")
