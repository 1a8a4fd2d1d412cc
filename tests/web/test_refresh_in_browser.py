"""A page brings itself up to date, but never under the hands of someone who began to type meanwhile."""

import pytest
from playwright.sync_api import Page, Route, expect
from serving import Site

pytestmark = pytest.mark.browser
DIMENSION = "/interfaces/dimensions/bump_travel_rear"


def a_refresh_on_its_way(page: Page, site: Site) -> list[Route]:
    """Open the page and set a refresh out whose answer is held back; the held answers."""
    page.goto(site.address + DIMENSION)
    held: list[Route] = []
    fresh = "**" + DIMENSION
    page.route(fresh, lambda route: held.append(route) if route.request.method == "GET" else route.continue_())
    with page.expect_request(fresh):
        page.evaluate("document.body.dispatchEvent(new CustomEvent('plan-ready'))")
    return held


def test_a_refresh_that_arrives_while_somebody_types_changes_nothing_and_is_offered(site: Site, page: Page) -> None:
    held = a_refresh_on_its_way(page, site)
    page.get_by_label("Value").fill("12,5 or 13")
    page.evaluate("document.querySelector('#main').dataset.same = 'yes'")
    with page.expect_response("**" + DIMENSION):
        held[0].continue_()
    expect(page.get_by_text("A new plan is ready.")).to_be_visible()
    expect(page.locator("#main")).to_have_attribute("data-same", "yes")
    expect(page.get_by_label("Value")).to_have_value("12,5 or 13")


def test_a_refresh_that_arrives_after_a_refusal_leaves_the_fault_in_its_place(site: Site, page: Page) -> None:
    held = a_refresh_on_its_way(page, site)
    page.get_by_label("Value").fill("12,5 or 13")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator(".fault")).to_contain_text("is not a unit")
    with page.expect_response(lambda answer: answer.request.method == "GET" and DIMENSION in answer.url):
        held[0].continue_()
    page.wait_for_timeout(300)
    expect(page.locator(".fault")).to_contain_text("is not a unit")


def test_a_refresh_of_a_page_nobody_types_in_takes_place(site: Site, page: Page) -> None:
    held = a_refresh_on_its_way(page, site)
    page.evaluate("document.querySelector('#main').dataset.same = 'yes'")
    held[0].continue_()
    expect(page.locator("#main")).not_to_have_attribute("data-same", "yes")
