"""The frame of every page, in a browser."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page
from serving import Site, assert_accessible, assert_nothing_is_cut

from fishplate.web.rooms import ROOMS

pytestmark = pytest.mark.browser


def test_every_room_is_reached_fits_the_screen_and_is_accessible(site: Site, page: Page) -> None:
    for room in ROOMS:
        page.goto(site.address + room.path)
        assert page.locator("nav a[aria-current]:visible").count() == 1
        assert page.locator("nav ul").evaluate("list => list.scrollHeight - list.clientHeight") <= 1  # no room is cut
        assert_nothing_is_cut(page)
        assert_accessible(page)
