"""Buying and money in a browser, on the phone and on the desk, as a person uses them."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect
from serving import PHONE_FIRST, Site, assert_accessible, assert_nothing_is_cut

from fishplate.build.events import Payment

pytestmark = pytest.mark.browser

PAGES = (
    "/buying",
    "/buying/prices",
    "/buying/offers/tidegate-wheel-made",
    "/buying/offers/moorwinkel-loom",
    "/buying/orders/o-rear",
    "/money",
)
LOOM = "/buying/offers/moorwinkel-loom"


def unfold(page: Page) -> None:
    """Open everything that unfolds, and wait for what is fetched for it."""
    page.evaluate("document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
    expect(page.get_by_role("link", name="Open it by itself")).to_have_count(0, timeout=20_000)


@pytest.mark.parametrize("page", PHONE_FIRST, indirect=True)
@pytest.mark.parametrize("path", PAGES)
def test_pages_fit_the_screen_and_are_accessible_folded_and_unfolded(shown: Site, page: Page, path: str) -> None:
    page.goto(shown.address + path)
    assert_nothing_is_cut(page)
    assert_accessible(page)
    unfold(page)
    assert_nothing_is_cut(page)
    assert_accessible(page)


@pytest.mark.parametrize("path", ["/buying", "/money", LOOM])
def test_pages_fit_a_screen_of_360_pixels(shown: Site, page: Page, path: str) -> None:
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(shown.address + path)
    unfold(page)
    assert_nothing_is_cut(page)


def test_a_price_seen_changes_the_trigger_and_the_plan_and_is_taken_back(site: Site, page: Page) -> None:
    page.goto(site.address + "/buying/prices")
    page.get_by_role("link", name="Cables, terminals, fuse boxes and sleeving").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Cables, terminals, fuse boxes and sleeving")
    trigger = page.locator("dt", has_text="Buy this week at").locator("xpath=following-sibling::dd")
    level = float(re.findall(r"[\d.,]+", trigger.inner_text())[0].replace(",", ""))
    expect(page.locator(".lead")).to_contain_text("276.00 EUR today")

    page.get_by_label("Price of one").fill(f"{level - 20:.2f}")
    page.get_by_label("It is a sale price").check()
    page.get_by_role("button", name="I saw it").click()
    expect(page.locator("#said")).to_contain_text("Written: price seen: Cables, terminals, fuse boxes and sleeving.")
    expect(page.locator(".lead")).to_contain_text(f"Buy now at {level - 20:.2f} EUR")

    page.get_by_role("button", name="Take it back").click()
    page.goto(site.address + LOOM)
    expect(page.locator(".lead")).to_contain_text("276.00 EUR today")


def test_a_price_is_seen_from_the_list_in_a_tap_and_a_number(site: Site, page: Page) -> None:
    page.goto(site.address + "/buying/prices")
    row = page.locator("main li", has_text="Cables, terminals, fuse boxes and sleeving")
    row.get_by_text("I saw a price").click()
    row.get_by_label("Price of one today").fill("279")
    row.get_by_role("button", name="I saw it").click()
    expect(page.locator("#said")).to_contain_text("Written: price seen")
    assert site.desk.view().build.sightings[-1].day == site.desk.today()


def test_a_sale_that_ends_before_it_begins_is_refused_and_what_was_typed_is_kept(site: Site, page: Page) -> None:
    page.goto(site.address + "/ahead")
    page.get_by_text("A sale", exact=True).click()
    form = page.locator("#form-sale")
    form.get_by_label("At", exact=True).fill("Veerhoek Remmen")
    form.get_by_label("From", exact=True).fill("2027-02-10")
    form.get_by_label("To", exact=True).fill("2027-02-01")
    form.get_by_label("Likely off").fill("12")
    form.get_by_label("How likely").fill("70")
    form.get_by_role("button", name="Write it down").click()
    expect(form.locator("[role=alert]").first).to_contain_text("The last day is before the first")
    expect(form.get_by_label("Likely off")).to_have_value("12")
    form.get_by_label("To", exact=True).fill("2027-02-20")
    form.get_by_role("button", name="Write it down").click()
    expect(page.locator("#said")).to_contain_text("Written: a sale is expected at Veerhoek Remmen.")


def test_a_payment_is_written_down_and_counts(site: Site, page: Page) -> None:
    page.goto(site.address + "/money")
    paid = page.locator("tr", has_text="payments less what came back").locator("td.n")
    before = float(paid.inner_text().replace(",", ""))
    page.get_by_text("Write down a payment").click()
    form = page.locator("#form-pay")
    form.get_by_label("Amount").fill("18,40")
    form.get_by_label("For", exact=True).select_option("other")
    form.get_by_label("Out of").select_option("small-things")
    form.get_by_role("button", name="Write it down").click()
    expect(page.locator("#said")).to_contain_text("Written: paid: something else.")
    expect(paid).to_have_text(f"{before + 18.40:,.2f}")
    expect(page.locator("section[aria-labelledby=aside] tr", has_text="Small things").first).to_contain_text("18.40")
    assert isinstance(site.desk.view().build.events[-1], Payment)


def test_everything_can_be_written_without_script(site: Site, page: Page) -> None:
    context = page.context.browser.new_context(java_script_enabled=False, viewport=page.viewport_size)  # type: ignore[union-attr]
    plain = context.new_page()
    plain.goto(site.address + "/buying/orders/o-rear")
    plain.get_by_role("button", name="It is here").click()
    expect(plain.locator("#said")).to_contain_text("Written: arrived from Lindhafen Fahrwerk.")
    plain.goto(site.address + LOOM)
    plain.get_by_label("Price of one").fill("270")
    plain.get_by_role("button", name="I saw it").click()
    expect(plain.locator("#said")).to_contain_text("Written: price seen")
    context.close()
