"""The frame of every page, in a browser."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page
from serving import PHONE_FIRST, Site, assert_accessible, assert_nothing_is_cut, opened

from fishplate.web.rooms import ROOMS

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("page", PHONE_FIRST, indirect=True)
def test_every_room_is_reached_fits_the_screen_and_is_accessible(shown: Site, page: Page) -> None:
    for room in ROOMS:
        page.goto(shown.address + room.path)
        assert page.locator("nav a[aria-current]:visible").count() == 1
        assert page.locator("nav ul").evaluate("list => list.scrollHeight - list.clientHeight") <= 1  # no room is cut
        assert_nothing_is_cut(page)
        assert_accessible(page)


def test_in_a_low_window_every_room_can_be_brought_into_view_wherever_the_page_is(
    shown: Site, browser: Browser
) -> None:
    with opened(browser, "desk") as page:
        page.set_viewport_size({"width": 1280, "height": 640})
        page.goto(shown.address + "/words")
        rooms = page.locator("#rooms")
        for down in (0, 1e6):
            page.evaluate("down => scrollTo(0, down)", down)
            box = rooms.bounding_box()
            assert box is not None
            assert box["y"] > -1
            assert box["y"] + box["height"] < 641
            here = rooms.locator("a[aria-current=page]").bounding_box()
            assert here is not None
            assert here["y"] + here["height"] < 641  # the room that is open is seen at once
        before = page.evaluate("scrollY")
        for end, room in ((0, "/"), (1e6, ROOMS[-1].path)):
            rooms.evaluate("(list, end) => { list.scrollTop = end; }", end)
            link = rooms.locator(f'a[href="{room}"]').bounding_box()
            assert link is not None
            assert -1 < link["y"] < 641 - link["height"]
        assert page.evaluate("scrollY") == before > 0
