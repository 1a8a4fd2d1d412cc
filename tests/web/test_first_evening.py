"""A question answered where it stands, in a browser; whole evenings are in `test_evenings_before_the_parts`."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect
from serving import Site

pytestmark = pytest.mark.browser


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
