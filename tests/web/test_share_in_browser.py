"""A shared build as people meet it: over https, on two devices, with a connection that drops."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from at_home import serving_at_home, share_of, van
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect
from serving import assert_accessible, assert_nothing_is_cut

from fishplate.store.devices import Role
from fishplate.web.ask import DONE

pytestmark = pytest.mark.browser
JOB = "/jobs/sand"


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """A build that is served at home."""
    with serving_at_home(tmp_path_factory.mktemp("home"), van()) as found:
        yield found


@pytest.fixture
def phones(browser: Browser) -> Iterator[tuple[Page, Page]]:
    """Two devices of people who took the certificate for good."""
    contexts = [context(browser) for _ in range(2)]
    yield contexts[0].new_page(), contexts[1].new_page()
    for each in contexts:
        each.close()


def context(browser: Browser) -> BrowserContext:
    return browser.new_context(viewport={"width": 390, "height": 844}, ignore_https_errors=True)


def address(app: FastAPI) -> str:
    return share_of(app).places[0].rstrip("/")


def pair(page: Page, app: FastAPI, role: Role, name: str) -> None:
    """What a person does who has the code."""
    code = share_of(app).invitations.make(role)
    page.goto(address(app))
    expect(page.get_by_role("heading", name="Let this device in")).to_be_visible()
    page.get_by_label("Code").fill(code.shown.lower())
    page.get_by_label("This device is called").fill(name)
    page.get_by_role("button", name="Let it in").click()
    page.wait_for_url(f"{address(app)}/")


def worked(app: FastAPI) -> list[float]:
    return [event.hours for event in app.state.desk.view().build.events]


def unfold(page: Page) -> None:
    hours = page.get_by_label("Hours worked").first
    if not hours.is_visible():
        page.locator("details", has=hours).locator("summary").last.click()


def test_a_device_is_let_in_works_and_is_put_out(home: FastAPI, phones: tuple[Page, Page]) -> None:
    phone, tablet = phones
    pair(phone, home, Role.OWNER, "Own phone")
    pair(tablet, home, Role.HELPER, "Tablet of a friend")
    phone.goto(f"{address(home)}/devices")
    expect(phone.locator("#main")).to_contain_text("Tablet of a friend")
    phone.get_by_role("button", name="Make a code").click()
    expect(phone.locator("#main svg").first).to_be_visible()
    assert_accessible(phone)
    assert_nothing_is_cut(phone)
    tablet.goto(f"{address(home)}/devices")
    expect(tablet.get_by_role("heading", name="Not for this device")).to_be_visible()
    tablet.goto(address(home) + "/history")
    phone.locator("li", has_text="Tablet of a friend").get_by_role("button", name="Put it out").click()
    expect(phone.locator("#main")).not_to_contain_text("Tablet of a friend")
    tablet.evaluate("document.dispatchEvent(new Event('visibilitychange'))")  # what it does every few seconds
    expect(tablet.get_by_role("heading", name="Let this device in")).to_be_visible()
    assert_accessible(tablet)
    assert_nothing_is_cut(tablet)


def test_both_see_what_the_other_wrote_and_both_values_where_they_met(home: FastAPI, phones: tuple[Page, Page]) -> None:
    phone, tablet = phones
    pair(phone, home, Role.OWNER, "Phone 2")
    pair(tablet, home, Role.OWNER, "Tablet 2")
    for page in phones:
        page.goto(f"{address(home)}{JOB}/change")
    phone.get_by_label("Note").first.fill("with a mask")
    tablet.get_by_label("Name", exact=True).fill("Sand the whole floor")
    form = tablet.locator("form[data-keep]", has=tablet.get_by_label("Name", exact=True))
    form.get_by_role("button", name="Write it down").click()
    expect(tablet.locator("#said")).to_contain_text("Written")
    phone.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(phone.get_by_text("Something was changed on another page or device.")).to_be_visible()
    expect(phone.get_by_label("Note").first).to_have_value("with a mask")
    form = phone.locator("form[data-keep]", has=phone.get_by_label("Name", exact=True))
    form.get_by_role("button", name="Write it down").click()
    expect(phone.get_by_role("heading", name="Changed by two hands")).to_be_visible()
    expect(phone.locator("#main")).to_contain_text("Sand the whole floor")
    expect(phone.locator("#main")).to_contain_text("with a mask")
    phone.goto(f"{address(home)}/history")
    expect(phone.locator("#main")).to_contain_text("Tablet 2")


def test_an_answer_that_never_came_does_not_double_what_was_sent(home: FastAPI, phones: tuple[Page, Page]) -> None:
    phone, _ = phones
    pair(phone, home, Role.HELPER, "Phone 3")
    phone.goto(address(home) + JOB)
    unfold(phone)
    phone.get_by_label("Hours worked").first.fill("1.5")
    before = len(worked(home))

    def lose(route: Route) -> None:
        route.fetch(max_redirects=0)
        route.abort("connectionreset")

    phone.route(f"**{JOB}/hours", lose)
    form = phone.locator("#form-hours-sand")
    form.get_by_role("button", name="Write it down").click()
    expect(phone.get_by_text("The connection dropped.")).to_be_visible()
    assert len(worked(home)) == before + 1
    phone.unroute(f"**{JOB}/hours")
    phone.context.clear_cookies(name=DONE)  # a real answer that is lost brings no cookie either
    phone.reload()
    expect(phone.get_by_label("Hours worked").first).to_have_value("1.5")
    phone.locator("#form-hours-sand").get_by_role("button", name="Write it down").click()
    expect(phone.locator("#said")).to_contain_text("Written")
    assert worked(home)[before:] == [1.5]
    unfold(phone)
    expect(phone.get_by_label("Hours worked").first).to_have_value("")


def test_what_was_typed_outlives_the_server_and_is_sent_to_the_next(browser: Browser, tmp_path: Path) -> None:
    held = context(browser)
    phone = held.new_page()
    with serving_at_home(tmp_path, van()) as app:
        port = share_of(app).port
        pair(phone, app, Role.HELPER, "Phone")
        phone.goto(address(app) + JOB)
        unfold(phone)
        phone.get_by_label("Hours worked").first.fill("2.5")
    form = phone.locator("#form-hours-sand")
    form.get_by_role("button", name="Write it down").click()
    expect(phone.get_by_text("The connection dropped.")).to_be_visible()
    expect(phone.get_by_label("Hours worked").first).to_have_value("2.5")
    with serving_at_home(tmp_path, van(), port=port) as app:
        form.get_by_role("button", name="Write it down").click()
        expect(phone.locator("#said")).to_contain_text("Written")
        assert worked(app) == [2.5]
    held.close()


def test_on_the_machine_itself_a_page_from_before_a_restart_loads_itself_again_with_what_was_typed(
    browser: Browser, tmp_path: Path
) -> None:
    held = browser.new_context()
    page = held.new_page()
    with serving_at_home(tmp_path, van(), secure=False) as app:
        port = share_of(app).port
        page.goto(f"http://127.0.0.1:{port}{JOB}")
        unfold(page)
        page.get_by_label("Hours worked").fill("3.5")
    with serving_at_home(tmp_path, van(), port=port, secure=False) as app:
        form = page.locator("#form-hours-sand")
        with page.expect_navigation():
            form.get_by_role("button", name="Write it down").click()
        expect(page.get_by_label("Hours worked")).to_have_value("3.5")
        form.get_by_role("button", name="Write it down").click()
        expect(page.locator("#said")).to_contain_text("Written")
        assert worked(app) == [3.5]
    held.close()
