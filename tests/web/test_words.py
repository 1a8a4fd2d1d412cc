"""Words that unfold their meaning where they stand: by keyboard, by touch, without script, once on a page."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, expect
from serving import Site, assert_accessible, assert_nothing_is_cut, worked_out

from fishplate.web.explaining import words
from fishplate.web.rooms import ROOMS


@pytest.mark.parametrize("path", [*(room.path for room in ROOMS), "/decisions/bearing"])
def test_a_word_is_explained_once_on_a_page_and_has_its_place_among_all(client: TestClient, path: str) -> None:
    text = worked_out(client, path).text
    opened = re.findall(r'popovertarget="word-([^"]+)"', text)
    assert len(set(opened)) == len(opened)
    assert set(opened) == set(re.findall(r'<span popover id="word-([^"]+)"', text))
    anchors = {word.anchor for word in words().values()}
    assert set(opened) <= anchors
    headings = re.findall(r"<h([1-6])\b[^>]*>(.*?)</h\1>", text, re.DOTALL)
    assert headings
    assert not [words for _, words in headings if "popover " in words]  # it would be read out with the heading's name


def test_all_words_stand_on_one_page(client: TestClient) -> None:
    text = client.get("/words").text
    assert all(f'id="{word.anchor}"' in text for word in words().values())


def test_a_piece_repeats_no_id_of_the_page_it_is_put_into(client: TestClient) -> None:
    text = client.get("/").text
    paths = re.findall(r'hx-get="(/week/[^"]+\?piece)"', text)[:3]
    pieces = [client.get(path.replace("&amp;", "&"), headers={"HX-Request": "true"}).text for path in paths]
    ids = re.findall(r'<span popover id="([^"]+)"', "".join([text, *pieces]))
    assert len(pieces) == 3
    assert len(set(ids)) == len(ids)
    assert any("cost-of-waiting" in id_ for id_ in ids)


@pytest.mark.browser
def test_a_word_opens_by_keyboard_and_is_closed_by_escape(empty_site: Site, page: Page) -> None:
    page.goto(empty_site.address + "/owner")
    word = page.get_by_role("button", name="what a week of delay is worth")
    meaning = page.get_by_text("rent, a missed season, patience. Without it")
    expect(meaning).to_be_hidden()
    word.focus()
    page.keyboard.press("Enter")
    expect(meaning).to_be_visible()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    box = meaning.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= page.viewport_size["width"]  # type: ignore[index]
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="All words")).to_be_focused()
    page.keyboard.press("Escape")
    expect(meaning).to_be_hidden()
    expect(word).to_be_focused()


@pytest.mark.browser
def test_a_word_opens_by_touch_and_without_script(empty_site: Site, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, java_script_enabled=False)
    page = context.new_page()
    page.goto(empty_site.address + "/owner")
    page.get_by_role("button", name="what having a part early costs").tap()
    expect(page.get_by_text("money tied up, room, a warranty that runs, a plan that may change")).to_be_visible()
    context.close()


@pytest.mark.browser
def test_a_section_keeps_its_name_while_the_word_in_its_heading_is_unfolded(shown: Site, page: Page) -> None:
    page.goto(shown.address + "/decisions/bearing")
    page.locator("#edges .term").click()
    expect(page.get_by_text("the other can't be decided before this one")).to_be_visible()
    expect(page.get_by_role("region", name="Which comes before which", exact=True)).to_be_visible()
