"""One evening at the door, in a browser: a consignment three ways, a parcel on a trip, the list for the border."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from door_builds import TRIP, with_orders
from playwright.sync_api import Page, expect
from serving import AUTHOR, PHONE_FIRST, IdleRunner, Site, assert_accessible, assert_nothing_is_cut, serving

from fishplate.build.events import Order
from fishplate.store import BuildFile

pytestmark = pytest.mark.browser

PAGES = (
    "/door",
    "/door?what=seat+rail&price=120&currency=GBP&from=GB&mass=4",
    "/door?supplier=kettlewharf",
    "/door/rates",
    "/door/ways",
    "/door/ways/depot-gb",
    "/door/bills",
    "/door/bills/o-wheel",
    "/collections",
    f"/collections/{TRIP}",
    f"/collections/{TRIP}/declaration",
)


@pytest.fixture
def abroad(tmp_path: Path) -> Iterator[Site]:
    """The demo build with orders from abroad, served without a worker."""
    path = tmp_path / "demo.fishplate"
    BuildFile.create(path, with_orders(), author=AUTHOR, message="started")
    with serving(path, runner=IdleRunner()) as found:
        yield found


@pytest.mark.parametrize("page", PHONE_FIRST, indirect=True)
def test_pages_fit_the_screen_and_are_accessible_unfolded(abroad: Site, page: Page) -> None:
    abroad.desk.trips.of(abroad.desk.view(), patience_seconds=30)
    for path in PAGES:
        page.goto(abroad.address + path)
        page.evaluate("document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
        assert_nothing_is_cut(page)
        assert_accessible(page)


def test_a_consignment_is_tried_three_ways_without_script(abroad: Site, page: Page) -> None:
    context = page.context.browser.new_context(viewport=page.viewport_size, java_script_enabled=False)  # type: ignore[union-attr]
    bare = context.new_page()
    bare.goto(abroad.address + "/door")
    form = bare.locator("#form-goods")
    form.get_by_label("What it is").fill("seat rail")
    form.get_by_label("Price of one").fill("120,50")
    form.get_by_label("Currency").fill("gbp")
    form.get_by_label("It comes from").fill("gb")
    form.get_by_label("Mass of one").fill("4")
    form.get_by_role("button", name="Reckon it").click()
    expect(bare.locator(".lead")).to_contain_text("EUR at the door")
    rows = bare.get_by_role("table", name="Every way home").locator("tbody tr")
    assert rows.count() >= 3
    expect(bare.get_by_role("img", name="What it costs at the door")).to_be_visible()
    linked = bare.url
    bare.goto(linked)  # it can be linked
    expect(bare.locator("#form-goods").get_by_label("Price of one")).to_have_value("120,50")
    bare.locator("#form-goods").get_by_label("Way home").select_option(label="The post")
    bare.locator("#form-goods").get_by_role("button", name="Reckon it").click()
    expect(bare.get_by_role("table", name="Every way home").locator("tbody tr")).to_have_count(1)
    rule = bare.locator("details.why", has_text="nl.vat").first
    rule.locator("summary").click()
    expect(rule.get_by_text("nl.vat", exact=True)).to_be_visible()
    context.close()


def test_a_figure_of_ones_own_is_set_from_behind_the_line_it_replaces(abroad: Site, page: Page) -> None:
    page.goto(abroad.address + "/door?what=seat+rail&price=600&currency=GBP&from=GB&route=courier-gb")
    rule = page.locator("details.why", has_text="eu.rate.default").first
    rule.locator("summary").click()
    rule.get_by_role("link", name="Put your own figure in its place").click()
    expect(page.get_by_label("Rule")).to_have_value("eu.rate.default")
    expect(page.get_by_text("By the rule: 4.5 %")).to_be_visible()
    page.get_by_label("Your figure").fill("2.7")
    page.locator("#form-own-rule").get_by_label("Where it comes from").fill("letter of the customs office")
    page.locator("#form-own-rule").get_by_role("button", name="Set it").click()
    expect(page.get_by_text("Written: own figure for eu.rate.default")).to_be_visible()
    page.goto(abroad.address + "/door?what=seat+rail&price=600&currency=GBP&from=GB&route=courier-gb")
    expect(page.get_by_text("without what you set yourself")).to_be_visible()
    expect(page.get_by_text("your figure", exact=True).first).to_be_visible()


def test_a_parcel_is_put_on_a_trip_and_the_list_for_the_border_printed(abroad: Site, page: Page) -> None:
    abroad.desk.trips.of(abroad.desk.view(), patience_seconds=30)
    page.goto(abroad.address + "/collections")
    page.get_by_role("link", name="Friday 11 December 2026, Depot in the ferry port").click()
    page.get_by_label("Ordered from there, but coming another way").select_option("o-wheel")
    page.get_by_role("button", name="Put it on the trip").click()
    expect(page.get_by_text("Written: on the trip of 11 December 2026: Tidegate Wheelworks")).to_be_visible()
    moved = abroad.desk.view().build.find("events", "o-wheel")
    assert isinstance(moved, Order)
    assert moved.collection == TRIP
    parcels = page.locator("section[aria-labelledby=adds] .leads").first
    expect(parcels).to_contain_text("Tidegate Wheelworks", timeout=20_000)
    page.get_by_role("link", name="The declaration list, to print").click()
    expect(page.get_by_text("Steel wheel 16 x 6.5, made to our offset")).to_be_visible()
    page.emulate_media(media="print")
    expect(page.get_by_text("Declare everything on this list")).to_be_visible()
    expect(page.locator("nav")).to_be_hidden()
    assert_nothing_is_cut(page)
