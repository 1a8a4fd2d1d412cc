"""An evening on fit in a browser: from a calculation to a verdict, and a measuring sheet, on phone and desk."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from serving import AUTHOR, PHONE_FIRST, IdleRunner, Site, assert_accessible, assert_nothing_is_cut, serving

from fishplate.build import build_from_data
from fishplate.starters import load_demo
from fishplate.store import BuildFile

pytestmark = pytest.mark.browser

PAGES = (
    "/calculations",
    "/calculations/arches.bump_room?arch_to_hub_mm=3+kg&ask=yes",
    "/calculations/linkages.axle_through_travel",
    "/calculations/conditions/tyre-room-at-bump?for=tyre-arch-rear",
    "/interfaces/new",
    "/interfaces/tyre-arch-rear",
    "/interfaces/tyre-arch-rear/change",
    "/interfaces/tyre-arch-rear/conditions/new",
    "/interfaces/tyre-arch-rear/conditions/new?kind=match",
    "/interfaces/dimensions",
    "/interfaces/dimensions/bump_travel_rear",
    "/interfaces/dimensions/bump_travel_rear/change",
    "/interfaces/stand-ins",
    "/measuring?minutes=90&money=",
    "/measuring?foundation",
    "/measuring/sheet?minutes=90&money=",
)
LONG_MS = 20_000


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Site]:
    """The demo build, served; nothing is planned."""
    path = tmp_path / "demo.fishplate"
    BuildFile.create(path, load_demo(), author=AUTHOR, message="started")
    with serving(path, runner=IdleRunner()) as found:
        yield found


@pytest.fixture
def van(tmp_path: Path) -> Iterator[Site]:
    """A build with a part and nothing else."""
    path = tmp_path / "van.fishplate"
    build = build_from_data({"name": "Van", "parts": [{"id": "tyre", "name": "Tyre"}]})
    BuildFile.create(path, build, author=AUTHOR, message="started")
    with serving(path, runner=IdleRunner()) as found:
        yield found


@pytest.mark.parametrize("page", PHONE_FIRST, indirect=True)
def test_pages_fit_the_screen_and_are_accessible(demo: Site, page: Page) -> None:
    for path in PAGES:
        page.goto(demo.address + path)
        expect(page.get_by_text("being worked out")).to_have_count(0, timeout=LONG_MS)
        page.evaluate("document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
        assert_nothing_is_cut(page)
        assert_accessible(page)


def test_from_a_calculation_to_a_condition_to_a_reading_to_a_verdict(van: Site, page: Page) -> None:
    page.goto(van.address + "/calculations")
    page.get_by_label("Words").fill("above tyre bump")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name="Room above a tyre at full bump").click()
    page.get_by_label("Arch to hub").fill("18 1/2 in")
    page.get_by_label("Tyre diameter").fill("729")
    page.get_by_label("Bump travel").fill("80")
    page.get_by_role("button", name="Work it out").click()
    # 18.5 in are 469.9 mm; less 364.5 and 80 leaves 25.4 mm, an inch
    expect(page.get_by_role("status", name="Result")).to_contain_text("25.4 mm, or 1 in")

    page.get_by_role("link", name="Room above the tyre at bump").click()
    page.get_by_label("A new place is called").fill("Front tyre in its arch")
    expect(page.locator("[name=value-arch_to_hub]")).to_have_value("18 1/2 in")
    page.get_by_role("button", name="Put it there").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Front tyre in its arch")
    expect(page.locator("main > p strong").first).not_to_have_text("Fits", timeout=LONG_MS)

    for name, value in (("Arch lip to hub centre", "470 ± 1"), ("Bump travel", "80 ± 1"), ("Tyre: outer", "729 ± 2")):
        page.get_by_role("table").get_by_role("link", name=name).click()
        page.get_by_role("textbox", name="Value").fill(value)
        page.get_by_role("button", name="Write it down").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Front tyre in its arch")
    expect(page.locator("main > p strong").first).to_have_text("Fits", timeout=LONG_MS)
    assert {item.value for item in van.desk.view().build.readings} >= {469.9, 470, 80, 729}


def test_a_measuring_sheet_is_printed_filled_in_and_ticked_off(demo: Site, page: Page) -> None:
    page.goto(demo.address + "/measuring")
    page.get_by_label("Time").fill("60")
    page.get_by_label("Money").fill("0")
    page.get_by_role("button", name="See what is worth it").click()
    expect(page.get_by_role("heading", name="What to do together")).to_be_visible(timeout=LONG_MS)
    page.get_by_role("link", name="A sheet to print").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Measuring sheet", timeout=LONG_MS)
    page.emulate_media(media="print")
    expect(page.get_by_role("navigation")).to_be_hidden()
    expect(page.locator("table.taking")).to_be_visible()
    height = page.evaluate("document.querySelector('main').getBoundingClientRect().height")
    assert height < 1100  # a sheet of A4 at 96 to the inch
    page.emulate_media(media="screen")

    page.go_back()
    first = page.locator("fieldset.way").first
    name = first.locator("legend").inner_text()
    first.get_by_role("textbox", name="Value").fill("3 pounds of it")
    page.get_by_role("button", name="Write it all down").click()
    expect(first.locator(".fault")).to_be_visible()
    first.get_by_role("textbox", name="Value").fill("184 ± 1")
    page.get_by_role("button", name="Write it all down").click()
    expect(page.locator(".ticked")).to_contain_text(name)
    assert demo.desk.view().build.readings[-1].value == 184


def test_a_condition_is_written_without_scripts_and_its_units_are_judged(demo: Site, page: Page) -> None:
    assert page.context.browser is not None
    context = page.context.browser.new_context(java_script_enabled=False, viewport=page.viewport_size)
    plain = context.new_page()
    plain.goto(demo.address + "/interfaces/tyre-arch-rear/conditions/new")
    plain.get_by_label("It is called").fill("Room for a chain")
    plain.get_by_label("What is reckoned").fill("arch_to_hub_rear - bump_travel_rear")
    plain.get_by_label("At least").fill("3 deg")
    plain.get_by_role("button", name="Write it down").click()
    expect(plain.locator(".fault")).to_contain_text("deg")
    expect(plain.get_by_label("What is reckoned")).to_have_value("arch_to_hub_rear - bump_travel_rear")
    plain.get_by_label("At least").fill("3 in")
    plain.get_by_role("button", name="Write it down").click()
    expect(plain.locator("main")).to_contain_text("Room for a chain")
    context.close()
