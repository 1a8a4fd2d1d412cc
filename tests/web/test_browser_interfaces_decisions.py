"""Interfaces and decisions in a browser, on the phone and on the desk, as a person uses them."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from serving import PHONE_FIRST, Site, assert_accessible, assert_nothing_is_cut

pytestmark = pytest.mark.browser

PAGES = (
    "/interfaces",
    "/interfaces?open",
    "/interfaces/usual",
    "/interfaces/tyre-arch-rear",
    "/interfaces/drive-shafts",
    "/interfaces/sump-steering",
    "/interfaces/mounts-frame",
    "/interfaces/dimensions/bump_travel_rear?for=tyre-arch-rear",
    "/decisions",
    "/decisions/wheels",
    "/decisions/rear-axle",
    "/decisions/rear-axle/options/axle-original",
    "/decisions/rear-axle/reopen",
)
PLANNED_MS = 120_000


@pytest.mark.parametrize("page", PHONE_FIRST, indirect=True)
@pytest.mark.parametrize("path", PAGES)
def test_pages_fit_the_screen_and_are_accessible(shown: Site, page: Page, path: str) -> None:
    page.goto(shown.address + path)
    expect(page.get_by_text("being worked out")).to_have_count(0, timeout=20_000)
    page.evaluate("document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
    assert_nothing_is_cut(page)
    assert_accessible(page)


def test_the_drawing_fits_a_screen_of_360_pixels_and_one_interface_stands_below_the_other(
    shown: Site, page: Page
) -> None:
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(shown.address + "/interfaces")
    expect(page.locator(".frame > li")).not_to_have_count(0)
    assert_nothing_is_cut(page)
    # In one call: the page may put fresh verdicts in place between two.
    tops = page.locator(".frame > li").evaluate_all("items => items.map(item => item.getBoundingClientRect().top)")
    assert tops == sorted(tops)
    assert len(set(tops)) == len(tops) == 46


@pytest.mark.parametrize("page", ["phone"], indirect=True)
def test_a_reading_changes_a_verdict_and_the_plan_and_is_taken_back(planning: Site, page: Page, tmp_path: Path) -> None:
    page.goto(planning.address + "/interfaces")
    page.get_by_role("link", name="Rear tyre to arch lip and tub").click()
    expect(page.locator("main > p strong").first).to_have_text("In doubt")
    # the way a screen reader hears the drawing
    assert page.locator(".ends").first.inner_text().split()[:3] == ["Wheels", "and", "tyres"]
    page.get_by_role("table").get_by_role("link", name="Rear bump travel from ride height").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Rear bump travel from ride height")

    page.get_by_role("textbox", name="Value").fill("84,0 mm ± 1")
    page.get_by_label("Taken with").select_option("rule")
    page.screenshot(path=tmp_path / "reading.png")
    page.get_by_label("Photo").set_input_files(tmp_path / "reading.png")
    page.get_by_role("button", name="Write it down").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("Rear tyre to arch lip and tub")
    expect(page.locator("main > p strong").first).to_have_text("Fits", timeout=PLANNED_MS)
    expect(page.locator("#said")).to_contain_text("Written: measured: Rear bump travel from ride height.")
    before = planning.desk.view().plan
    assert before is not None
    expect(page.locator("#state")).to_contain_text("Plan of 16 November 2026.", timeout=PLANNED_MS)
    after = planning.desk.view().plan
    assert after is not None
    assert after.revision == 2
    assert {line.condition: line.verdict for line in after.fit}["rear-bump-215"] == "fits"
    assert "bump_travel_rear" in {action.key for action in before.actions} or before.revision == 2
    assert "bump_travel_rear" not in {action.key for action in after.actions}

    page.goto(planning.address + "/interfaces/dimensions/bump_travel_rear")
    image = page.locator("a.photo img")
    expect(image).to_be_visible()
    image.scroll_into_view_if_needed()  # it is loaded once it is in sight
    expect(image).to_have_js_property("complete", True)
    assert image.evaluate("image => image.naturalWidth > 0")

    page.goto(planning.address + "/history")
    page.get_by_role("button", name="Take back “measured: Rear bump travel from ride height”").click()
    expect(page.get_by_text("taken back").first).to_be_visible()
    page.goto(planning.address + "/interfaces/tyre-arch-rear")
    expect(page.locator("main > p strong").first).to_have_text("In doubt", timeout=20_000)


def test_a_figure_that_can_t_be_read_is_told_beside_its_field_and_stays(site: Site, page: Page) -> None:
    page.goto(site.address + "/interfaces/dimensions/bump_travel_rear")
    page.get_by_role("textbox", name="Value").fill("12,5 or 13")
    page.get_by_label("Note").fill("both sides")
    page.get_by_role("button", name="Write it down").click()
    fault = page.locator(".fault")
    expect(fault).to_contain_text("is not a unit")
    expect(page.get_by_role("textbox", name="Value")).to_have_value("12,5 or 13")
    expect(page.get_by_label("Note")).to_have_value("both sides")
    assert_accessible(page)


def test_what_is_seen_on_the_vehicle_settles_it(site: Site, page: Page) -> None:
    page.goto(site.address + "/interfaces/door-seal")
    page.get_by_text("Write down what was seen").click()
    page.get_by_label("right", exact=True).check()
    page.get_by_label("Who looked, and how").fill("Jo and I, paper strip all round")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("main > p strong").first).to_have_text("Fits", timeout=PLANNED_MS)
    expect(page.locator("main > p", has_text="Fits")).to_contain_text("paper strip all round")


@pytest.mark.parametrize("page", ["desk"], indirect=True)
def test_a_decision_is_taken_after_its_impact_was_seen_and_opened_again(planning: Site, page: Page) -> None:
    page.goto(planning.address + "/decisions")
    page.get_by_role("link", name="Heating", exact=True).click()
    page.get_by_role("article", name="Diesel heater with hot water").get_by_role("link", name="See what").click()
    expect(page.locator("main")).to_contain_text("It gives up “Diesel air heater”")
    expect(page.get_by_role("rowheader", name="Even chance of being finished by")).to_be_visible(timeout=PLANNED_MS)
    assert_nothing_is_cut(page)
    assert_accessible(page)

    page.get_by_label("Why, for later").fill("Hot water in March.")
    page.get_by_role("button", name="Decide for it").click()
    expect(page.locator("main")).to_contain_text("Decided on 16 November 2026: Diesel heater with hot water.")
    expect(page.locator("main")).to_contain_text("Hot water in March.")

    page.get_by_role("link", name="See what opening it again changes").click()
    expect(page.locator("main")).to_contain_text("waits again")
    page.get_by_role("button", name="Open it again").click()
    expect(page.locator("main")).to_contain_text("leaned to")
    decision = planning.desk.view().build.find("decisions", "heating")
    assert (decision.chosen, decision.leading, decision.why) == (None, "heating-combi", "Hot water in March.")


def test_everything_works_without_scripts(site: Site, page: Page) -> None:
    assert page.context.browser is not None
    context = page.context.browser.new_context(java_script_enabled=False, viewport=page.viewport_size)
    plain = context.new_page()
    plain.goto(site.address + "/decisions/heating/options/heating-combi")
    plain.get_by_role("button", name="Lean to it").click()
    expect(plain.get_by_text("leaned to")).to_be_visible()
    plain.goto(site.address + "/interfaces/dimensions/bump_travel_rear")
    plain.get_by_role("textbox", name="Value").fill("3 5/8 in")
    plain.get_by_role("button", name="Write it down").click()
    expect(plain.locator("main")).to_contain_text("92.075 mm")
    context.close()


@pytest.mark.long
def test_everything_about_decisions_fits_the_screen_and_is_accessible(shown: Site, page: Page) -> None:
    for path in (
        "/decisions/new", "/decisions/bearing", "/decisions/matters", "/decisions/wheels/change",
        "/decisions/wheels/swings",
        "/decisions/wheels/scores", "/decisions/wheels/ways/new", "/decisions/wheels/ways/wheels-made/change",
    ):  # fmt: skip
        page.goto(shown.address + path)
        for summary in page.locator("#main details.act > summary").all():
            if summary.is_visible():
                summary.click()
        assert_nothing_is_cut(page)
        assert_accessible(page)
