"""A first evening, in a browser: from a list to a plan, three questions answered where they stand, taken back."""

from __future__ import annotations

from importlib.resources import as_file, files

import pytest
from playwright.sync_api import Page, expect
from serving import Site, assert_accessible, assert_nothing_is_cut

pytestmark = pytest.mark.browser
PLANNED = 60_000


def test_from_my_list_to_a_first_plan_and_answers(empty_site: Site, page: Page) -> None:
    page.goto(empty_site.address)
    assert_accessible(page)
    with as_file(files("fishplate.starters") / "lists" / "first-evening.csv") as path:
        page.get_by_label("Your list").set_input_files(path)
    page.get_by_role("button", name="See what it would do").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("What first-evening.csv would do")
    expect(page.get_by_text("Front discs, vented").first).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    skip = page.get_by_label("Leave out what can't be read")
    if skip.count():
        skip.check()
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_text("Written: imported first-evening.csv")).to_be_visible()
    expect(page.get_by_role("heading", name="Worth answering")).to_be_visible(timeout=PLANNED)
    expect(page.get_by_text("at the door, trips included")).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    assert 1 <= page.locator("#questions .leads > li").count() <= 3
    phases = page.locator("form", has=page.locator("select[name^=phase-]"))
    phases.locator("select").first.select_option("assembly")
    phases.get_by_role("button", name="Answer").click()
    expect(page.get_by_text("Written: answered: phases")).to_be_visible()
    second = page.get_by_text("The plan knows prices and phases.")
    expect(page.get_by_role("link", name="Show it").or_(second)).to_be_visible(timeout=PLANNED)
    page.goto(empty_site.address)
    expect(second).to_be_visible()
    expect(page.locator(".leads .what").first).to_be_visible()
    page.goto(empty_site.address + "/history")
    page.get_by_role("button", name="Take back “answered: phases”").click()
    expect(page.locator(".leads .what").first).to_contain_text("Took back: answered: phases")


def test_an_answer_is_taken_where_it_stands_and_leads_to_a_new_plan(site: Site, page: Page) -> None:
    page.goto(site.address)
    before = site.desk.view().revision
    form = page.locator("#questions form").first
    if not form.count():
        pytest.skip("the demo's plan asks nothing that is answered by a form")
    form.locator("textarea, input:not([type=hidden])").first.fill("They sent it by post.")
    form.get_by_role("button", name="Answer").click()
    expect(page.locator("#said")).to_contain_text("Written: answered")
    assert site.desk.view().revision == before + 1
