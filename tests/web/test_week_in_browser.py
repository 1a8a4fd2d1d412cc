"""This week in a browser: an action unfolds, is done, is put off; the plan follows; what is typed stays."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, Route, expect
from serving import Site, assert_accessible, assert_nothing_is_cut

from fishplate.starters import load_demo

pytestmark = pytest.mark.browser
PLANNED = 60_000


def unfold(page: Page, words: str) -> None:
    """Open the first action whose sentence holds some words."""
    item = page.locator(".leads > li", has=page.locator(".what", has_text=words)).first
    item.locator("summary").click()
    expect(item.locator("h2").first).to_be_visible()


@pytest.mark.parametrize("page", ["phone"], indirect=True)
def test_an_action_unfolds_to_its_inputs_and_is_carried_out_there(planning: Site, page: Page) -> None:
    page.goto(planning.address)
    unfold(page, "Decide: Tyre size")
    assert_accessible(page)
    assert_nothing_is_cut(page)
    page.locator("form", has=page.get_by_role("button", name="Decide", exact=True)).get_by_role("radio").last.check()
    page.get_by_label("Why, for later").first.fill("It is quieter on the road.")
    page.get_by_role("button", name="Decide", exact=True).click()
    expect(page.locator("#said")).to_contain_text("Written: decided: Tyre size")
    expect(page.locator(".what", has_text="Decide: Tyre size")).to_have_count(0)
    expect(page.locator("#state")).to_contain_text("Plan of", timeout=PLANNED)
    expect(page.locator("#state")).not_to_contain_text("out of date")
    assert planning.desk.view().is_current


def test_what_was_done_is_taken_back_from_the_line_that_says_so(site: Site, page: Page) -> None:
    page.goto(site.address)
    unfold(page, "Do:")
    page.get_by_label("Hours worked").first.fill("2")
    page.get_by_role("button", name="Write it down").first.click()
    expect(page.locator("#said")).to_contain_text("Written: hours on")
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#said")).to_contain_text("Written: took back: hours on")
    assert site.desk.view().build.events == load_demo().events
    page.goto(site.address + "/history")
    page.get_by_role("button", name="” again").click()
    expect(page.locator(".leads .what").first).to_contain_text("Made again")
    assert len(site.desk.view().build.events) == len(load_demo().events) + 1


def test_what_is_typed_stays_if_the_connection_drops_and_goes_once_written(site: Site, page: Page) -> None:
    page.goto(site.address)
    unfold(page, "Do:")
    page.get_by_label("Hours worked").first.fill("3,5")
    page.get_by_label("Note").first.fill("Half the welds are done.")

    def drop(route: Route) -> None:
        if route.request.method == "POST":
            route.abort()
        else:
            route.continue_()

    page.route("**/week/**", drop)
    page.get_by_role("button", name="Write it down").first.click()
    expect(page.get_by_text("The connection dropped.")).to_be_visible()
    page.unroute("**/week/**")
    page.reload()
    unfold(page, "Do:")
    expect(page.get_by_label("Note").first).to_have_value("Half the welds are done.")
    page.get_by_role("button", name="Write it down").first.click()
    expect(page.locator("#said")).to_contain_text("Written: hours on")
    page.wait_for_timeout(200)
    assert not [key for key in page.evaluate("Object.keys(localStorage)") if key.startswith("draft:")]


def test_a_fault_is_told_beside_its_field_and_what_was_typed_is_still_there(site: Site, page: Page) -> None:
    page.goto(site.address)
    unfold(page, "Do:")
    page.get_by_label("Hours worked").first.fill("two")
    page.get_by_role("button", name="Write it down").first.click()
    field = page.get_by_label("Hours worked").first
    expect(field).to_have_value("two")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_text("Not a number (“two”)")).to_be_visible()
    assert_accessible(page)


def test_what_was_written_is_in_sight_wherever_the_form_stood(site: Site, page: Page) -> None:
    page.goto(site.address)
    unfold(page, "Do:")
    page.get_by_label("Hours worked").first.fill("1")
    page.get_by_role("button", name="Write it down").first.click()
    expect(page.locator(".said")).to_be_in_viewport()


def test_the_keyboard_alone_is_enough(site: Site, page: Page) -> None:
    page.goto(site.address)
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the page")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    summary = page.locator("main summary").first
    expect(summary).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main .unfold form").first).to_be_visible()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('.unfold') !== null")


def test_a_plan_that_is_stopped_leaves_the_last_one(planning: Site, page: Page) -> None:
    page.goto(planning.address)
    planning.desk.plan_now()
    page.reload()
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("#state")).to_contain_text("The plan was stopped; the last one stands.")
    assert planning.desk.view().plan is not None


def test_everything_works_without_script(site: Site, browser: object) -> None:
    context = browser.new_context(java_script_enabled=False)  # type: ignore[attr-defined]
    page = context.new_page()
    page.goto(site.address)
    item = page.locator(".leads > li", has=page.locator(".what", has_text="Decide: Tyre size")).first
    item.locator("summary").click()
    item.get_by_role("link", name="Open it by itself").click()
    page.get_by_role("radio").last.check()
    page.get_by_role("button", name="Decide", exact=True).click()
    expect(page.locator("#said")).to_contain_text("Written: decided: Tyre size")
    context.close()
