"""An evening in a browser: from what to do to hours written, evidence before it is hidden, a sheet of one page."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from serving import Site, assert_accessible, assert_nothing_is_cut

from fishplate.build.events import Work

pytestmark = pytest.mark.browser


@pytest.fixture
def weld_photo(tmp_path: Path) -> Path:
    from PIL import Image

    written = io.BytesIO()
    Image.new("RGB", (64, 48), "grey").save(written, "JPEG")
    path = tmp_path / "weld.jpg"
    path.write_bytes(written.getvalue())
    return path


def test_an_evening_of_ninety_minutes_from_what_to_do_to_hours_written(site: Site, page: Page) -> None:
    page.goto(site.address + "/tonight")
    expect(page.get_by_label("Minutes", exact=True)).to_have_value("90")
    assert_accessible(page)
    assert_nothing_is_cut(page)
    page.get_by_label("Minutes", exact=True).fill("20")
    expect(page.locator("#evening .lead")).to_contain_text("No job fits this evening")
    page.get_by_label("Minutes", exact=True).fill("90")
    first = page.locator("#evening ol.leads > li").first
    expect(first).to_be_visible()
    page.get_by_text("Weather, noise, tools lent out").click()
    page.get_by_label("welder").check()
    expect(page.locator("#evening")).to_contain_text("which takes the welder")
    assert_accessible(page)
    assert_nothing_is_cut(page)
    name = first.locator(".what").inner_text()
    first.get_by_text("Write down hours").click()
    first.get_by_role("button", name="1½ h").click()
    expect(page.locator("#said")).to_contain_text(f"Written: hours on: {name}")
    assert "minutes=90" in page.url
    assert "without=welder" in page.url
    event = site.desk.view().build.events[-1]
    assert isinstance(event, Work)
    assert (site.desk.view().build.find("jobs", event.job).name, event.hours) == (name, 1.5)


def test_evidence_is_attached_before_the_job_that_hides_it_is_closed(site: Site, page: Page, weld_photo: Path) -> None:
    page.goto(site.address + "/jobs/lower-corners")
    due = page.locator(".due", has_text="Before it is closed: this hides “Welds of the front lower corners”")
    due.get_by_text("Add evidence").click()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    due.get_by_label("Photo").set_input_files(weld_photo)
    due.get_by_role("button", name="Keep it").click()
    expect(page.locator("#said")).to_contain_text("Written: evidence for Welds of the front lower corners")
    expect(page.locator(".due")).to_have_count(0)
    page.get_by_role("button", name="Done, no more hours").click()
    expect(page.locator("#said")).to_contain_text("Written: done: Front lower corners and valance")
    page.goto(site.address + "/evidence?open=corner-welds")
    row = page.locator("#requirement-corner-welds")
    expect(row).to_contain_text("1 piece of evidence.")
    expect(row.locator("img")).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    page.get_by_role("link", name="The book of evidence, to print").click()
    expect(page.locator(".proof img")).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)


@pytest.mark.parametrize("minutes", [90, 600])
def test_the_shop_sheet_is_one_page_of_paper(site: Site, page: Page, minutes: int) -> None:
    page.goto(f"{site.address}/tonight?asked=yes&minutes={minutes}&helper=yes")
    page.get_by_role("link", name="A sheet to print and write on").click()
    expect(page.get_by_text("Hours worked").first).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    assert page.pdf(format="A4").count(b"/Type /Page\n") == 1
