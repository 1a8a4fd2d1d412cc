"""Parts and jobs in a browser: a part arrives, one is added by a line, phases by keys, hours in two taps."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page, expect
from serving import Site, assert_accessible, assert_nothing_is_cut

from fishplate.build.events import Receipt, Work
from fishplate.build.parts import Part, Phase

pytestmark = pytest.mark.browser


def unfold(page: Page, id_: str) -> Locator:
    """Open a line of the list; its content has come then."""
    line = page.locator(f"#{id_}")
    line.locator("summary").first.click()
    expect(line.locator("details.act").first).to_be_visible()
    return line


def test_a_part_arrives_and_the_list_says_so(site: Site, page: Page) -> None:
    page.goto(site.address + "/parts")
    line = unfold(page, "part-rear-spring")
    assert_accessible(page)
    assert_nothing_is_cut(page)
    expect(line.get_by_label("How many", exact=True).first).to_have_value("2")
    line.get_by_label("Where it lies").fill("under the bench")
    line.get_by_role("button", name="It is here").click()
    expect(page.locator("#said")).to_contain_text("Written: arrived: Rear leaf spring")
    expect(page.locator("#part-rear-spring > details > summary")).to_contain_text("In hand, under the bench.")
    receipt = site.desk.view().build.events[-1]
    assert isinstance(receipt, Receipt)
    assert (receipt.order is not None, receipt.place) == (True, "under the bench")
    assert not [item for item in site.desk.view().facts.incoming if item.part == "rear-spring"]


def test_the_list_is_found_by_text_as_it_is_typed(shown: Site, page: Page) -> None:
    page.goto(shown.address + "/parts")
    everything = page.locator(".shelf > li").count()
    page.get_by_label("Find in the list").press_sequentially("brakes disc")
    expect(page.locator(".shelf > li")).to_have_count(1)
    expect(page.get_by_role("status").filter(has_text="1 of 130 parts.")).to_be_visible()
    assert everything == 130
    page.reload()
    expect(page.locator(".shelf > li")).to_have_count(1)
    page.get_by_role("link", name="in hand").click()
    expect(page.locator(".shelf > li")).to_have_count(1)


def test_a_part_is_added_by_one_line_and_tapped_into_its_phase(site: Site, page: Page) -> None:
    page.goto(site.address + "/parts")
    page.get_by_label("Add a part").press_sequentially("2 brake hose front 38.50 EUR 3 wk")
    understood = page.locator(".understood")
    expect(understood).to_contain_text("2 × brake hose front, 38.50 EUR each, 3 weeks to dispatch.")
    assert_accessible(page)
    assert_nothing_is_cut(page)
    assert site.desk.file.revision == 1
    understood.get_by_text("Correct it first").click()
    understood.get_by_label("System").select_option(label="Brakes")
    understood.get_by_role("button", name="Keep it").click()
    expect(page.locator("#said")).to_contain_text("Written: added brake hose front")
    expect(page.get_by_label("Add a part")).to_have_value("")
    page.locator(".just").get_by_role("button", name="Assembly").click()
    expect(page.locator("#said")).to_contain_text("brake hose front: assembly")
    part = site.desk.view().build.find("parts", "brake-hose-front")
    assert (part.quantity, part.system, part.phase) == (2, "brakes", Phase.ASSEMBLY)
    page.wait_for_timeout(200)
    assert not [key for key in page.evaluate("Object.keys(localStorage)") if key.startswith("draft:")]


def test_what_is_owned_already_is_said_before_it_is_added(shown: Site, page: Page) -> None:
    page.goto(shown.address + "/parts")
    page.get_by_label("Add a part").press_sequentially("2 front brake disc 60 EUR")
    expect(page.locator(".own").first).to_contain_text("You may own this already: 2 × Front brake disc")
    assert_accessible(page)


def test_parts_are_tapped_into_phases_by_keys_alone(empty_site: Site, page: Page) -> None:
    desk = empty_site.desk
    parts = tuple(Part(id=f"p{k}", name=f"Part {k}") for k in range(1, 4))
    desk.write(lambda build: build.model_copy(update={"parts": parts}), revision=1, message="parts")
    page.goto(empty_site.address + "/parts/phases")
    expect(page.locator("#asked")).to_have_text("Part 1")
    expect(page.get_by_role("button", name="Define")).to_be_focused()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    page.keyboard.press("7")
    expect(page.locator("#asked")).to_have_text("Part 2")
    expect(page.get_by_role("button", name="Define")).to_be_focused()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.locator("#asked")).to_have_text("Part 3")
    page.get_by_role("button", name="Finish").click()
    expect(page.get_by_text("Every part has its time.")).to_be_visible()
    found = [part.phase for part in desk.view().build.parts]
    assert found == [Phase.ASSEMBLY, Phase.STRIP, Phase.FINISH]


def test_an_offer_is_edited_in_place_and_a_fault_stays_beside_its_field(site: Site, page: Page) -> None:
    page.goto(site.address + "/parts?q=front+brake+disc")
    line = unfold(page, "part-front-disc")
    line.get_by_text("Change this offer").first.click()
    line.get_by_label("Price").fill("sixty")
    line.get_by_role("button", name="Write it down").locator("visible=true").first.click()
    price = page.locator("#part-front-disc").get_by_label("Price")
    expect(price).to_have_attribute("aria-invalid", "true")
    expect(price).to_have_value("sixty")
    assert_accessible(page)
    price.fill("61.20")
    page.locator("#part-front-disc").get_by_role("button", name="Write it down").locator("visible=true").first.click()
    expect(page.locator("#said")).to_contain_text("Written: offer for Front brake disc")
    expect(page.locator("#part-front-disc")).to_contain_text("61.20 EUR")
    assert page.url.endswith("/parts?q=front+brake+disc&open=front-disc")


def test_hours_are_logged_in_two_taps_where_the_job_unfolds(site: Site, page: Page) -> None:
    page.goto(site.address + "/jobs")
    job = unfold(page, "job-lower-corners")
    assert_accessible(page)
    assert_nothing_is_cut(page)
    job.get_by_role("button", name="1 h", exact=True).click()
    expect(page.locator("#said")).to_contain_text("Written: hours on: Front lower corners and valance")
    event = site.desk.view().build.events[-1]
    assert isinstance(event, Work)
    assert (event.job, event.hours, event.done) == ("lower-corners", 1, False)
    expect(page.locator("#job-lower-corners")).to_contain_text("16 h worked, 7 h left")


def test_a_job_unfolds_to_what_it_waits_for_and_is_done_there(site: Site, page: Page) -> None:
    page.goto(site.address + "/jobs")
    line = unfold(page, "job-roof-panel-fit")
    expect(line.get_by_role("link", name="Roof opening, frame and bracing")).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    line.locator("summary").first.click()
    line = unfold(page, "job-lower-corners")
    line.get_by_role("button", name="Done, no more hours").click()
    expect(page.locator("#said")).to_contain_text("Written: done: Front lower corners and valance")
    assert site.desk.view().facts.is_done("lower-corners")


@pytest.mark.parametrize(
    "path", ["/parts/front-disc", "/parts/add?line=hose", "/jobs/sills", "/jobs/brake-dry-fit/change"]
)
def test_a_part_or_a_job_by_itself_fits_the_screen_and_is_accessible(shown: Site, page: Page, path: str) -> None:
    page.goto(shown.address + path)
    for summary in page.locator("#main details.act > summary").all():
        if summary.is_visible():
            summary.click()
    assert_nothing_is_cut(page)
    assert_accessible(page)


def test_parts_and_jobs_work_without_script(site: Site, browser: object) -> None:
    context = browser.new_context(java_script_enabled=False)  # type: ignore[attr-defined]
    page = context.new_page()
    page.goto(site.address + "/parts")
    page.get_by_label("Add a part").fill("hub 12 EUR")
    page.get_by_role("button", name="Read it").click()
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator("#said")).to_contain_text("Written: added hub")
    page.goto(site.address + "/parts/rear-spring")
    page.get_by_role("button", name="It is here").click()
    expect(page.locator("#said")).to_contain_text("Written: arrived")
    page.goto(site.address + "/jobs/lower-corners")
    page.get_by_role("button", name="30 min").first.click()
    expect(page.locator("#said")).to_contain_text("Written: hours on")
    context.close()
