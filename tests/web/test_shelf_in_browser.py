"""The shelf and an enquiry on the phone: goods in with a fault, counted, asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page
from serving import AUTHOR, assert_accessible, assert_nothing_is_cut, serving
from test_shelf import TODAY, start

from fishplate.store import BuildFile

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("page", ["phone"], indirect=True)
def test_a_parcel_is_taken_in_and_a_place_counted_on_the_phone(page: Page, tmp_path: Path) -> None:
    path = tmp_path / "van.fishplate"
    BuildFile.create(path, start(), author=AUTHOR, message="started")
    with serving(path, today=lambda: TODAY) as site:
        page.goto(f"{site.address}/buying/orders/o")
        page.get_by_label("Brake disc of 2").fill("2")
        page.get_by_text("Something is wrong with it, or worth writing down: Brake disc").click()
        page.locator("#arrived-o-fault-disc").select_option("damaged")
        page.locator("#arrived-o-faulty-disc").fill("1")
        page.locator("#arrived-o-place").fill("Shelf 1")
        page.get_by_role("button", name="It is here").click()
        page.get_by_text("arrived from Northgate").first.wait_for()
        page.goto(f"{site.address}/shelf")
        assert page.get_by_text("Brake disc came damaged.", exact=True).is_visible()
        assert_accessible(page)
        assert_nothing_is_cut(page)
        page.get_by_text("Shelf 1: 2 parts").click()
        page.locator("#form-count-0 input[name=count-disc]").fill("0")
        page.locator("#form-count-0").get_by_role("button", name="Counted").click()
        page.get_by_text("counted: Shelf 1").first.wait_for()
        assert page.get_by_text("Shelf 1: 1 part").is_visible()
        for other in ("/buying/enquiries/shop", "/money/saved"):
            page.goto(f"{site.address}{other}")
            assert_accessible(page)
            assert_nothing_is_cut(page)
