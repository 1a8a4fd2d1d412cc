"""A page, a mail or a line that is brought: shown as understood, corrected, and taken in as one change."""

from __future__ import annotations

import re
import threading
from typing import Any

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page
from serving import Site, assert_accessible, assert_nothing_is_cut, desk_of, worked_out

from fishplate.exchange.capture import capture
from fishplate.exchange.captured import Captured

HUB = b"""<!doctype html><html><head><title>Wheel stud</title><script type="application/ld+json">
{"@type":"Product","name":"Wheel stud, long","mpn":"WS-12","offers":{"@type":"Offer","price":"4.20"%s,
"seller":{"name":"Harrow Lane Spares"},"availability":"InStock"}}</script></head></html>"""
WHOLE = HUB % b',"priceCurrency":"GBP"'
LACKING = HUB % b""
MAIL = "Thank you.\n\n2 x Wheel stud, long 4.20 GBP\n4 x Stud nut M12 0.90 GBP\n\nTotal 12.00 GBP\n"


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages wait until what was brought is read, however busy the machine is."""
    monkeypatch.setattr("fishplate.web.importing.READING_SECONDS", 20.0)


def bring(client: TestClient, content: bytes = WHOLE, name: str = "stud.html") -> str:
    """Upload a page; the address of what was understood."""
    data = {"revision": "1", "form": "bring"}
    response = client.post("/import", data=data, files={"list": (name, content)}, follow_redirects=False)
    assert response.status_code == 303, response.text
    return response.headers["location"]


def paste(client: TestClient, text: str) -> str:
    """Paste a text; the address it leads to."""
    response = client.post("/import", data={"revision": "1", "form": "bring", "text": text}, follow_redirects=False)
    assert response.status_code == 303, response.text
    return response.headers["location"]


def take(client: TestClient, where: str, **fields: str) -> tuple[int, str]:
    """Take in what was understood; status, and where it leads or what it says."""
    key = where.rpartition("/")[2]
    given = {
        "revision": "1", "form": f"take-{key}", "about-0": "new", "name-0": "Wheel stud, long", "quantity-0": "1",
        "price-0": "4.20", "currency-0": "GBP", "supplier-0": "Harrow Lane Spares", "unit-0": "each", "lead-0": "",
    }  # fmt: skip
    response = client.post(where, data={**given, **fields}, follow_redirects=False)
    return response.status_code, response.headers.get("location", response.text)


def test_a_page_is_shown_as_understood_before_anything_is_written(empty: TestClient) -> None:
    page = empty.get(bring(empty)).text
    assert "The page tells of one product" in page
    assert "Wheel stud, long, 4.20 GBP, from Harrow Lane Spares." in page
    assert "Part number: WS-12" in page
    assert "Nothing is written yet" in page
    assert desk_of(empty).file.revision == 1


def test_what_was_shown_is_taken_in_as_one_change(empty: TestClient) -> None:
    status, where = take(empty, bring(empty))
    assert (status, where) == (303, "/parts/wheel-stud-long")
    build = desk_of(empty).view().build
    assert [(part.name, part.part_number) for part in build.parts] == [("Wheel stud, long", "WS-12")]
    assert [(str(offer.price), offer.seen) for offer in build.offers] == [("4.20 GBP", desk_of(empty).today())]
    assert "taken in from stud.html" in empty.get("/history").text


def test_a_corrected_price_name_and_seller_are_what_is_kept(empty: TestClient) -> None:
    given = {"price-0": "5", "name-0": "Stud", "supplier-0": "Saltmere", "lead-0": "2", "quantity-0": "20"}
    take(empty, bring(empty), **given)
    build = desk_of(empty).view().build
    assert [(part.name, part.quantity) for part in build.parts] == [("Stud", 20)]
    assert [each.name for each in build.suppliers] == ["Saltmere"]
    assert build.offers[0].lead_weeks is not None
    assert build.offers[0].lead_weeks.likely == 2


def test_a_missing_currency_is_asked_for_beside_its_field(empty: TestClient) -> None:
    where = bring(empty, LACKING)
    assert "It does not say in which currency its price is" in empty.get(where).text
    status, page = take(empty, where, **{"currency-0": ""})
    assert status == 422
    assert "The price names no currency" in page
    assert desk_of(empty).view().build.parts == ()


def test_a_shared_sign_says_what_it_could_be(empty: TestClient) -> None:
    page = empty.get(bring(empty, LACKING.replace(b'"4.20"', b'"$4.20"'))).text
    assert "whose sign could be USD or CAD" in page


def test_every_fault_of_a_form_is_told_at_once_and_what_was_typed_stays(empty: TestClient) -> None:
    status, page = take(empty, bring(empty), **{"price-0": "much", "quantity-0": "0", "name-0": "", "lead-0": "soon"})
    assert status == 422
    assert page.count('aria-invalid="true"') == 4
    assert 'value="much"' in page


def test_a_part_that_is_named_much_alike_is_asked_about(client: TestClient) -> None:
    part = desk_of(client).view().build.parts[0]
    content = WHOLE.replace(b"Wheel stud, long", f"{part.name} extra".encode())
    page = client.get(bring(client, content)).text
    assert f'value="{part.id}"' in page
    assert not re.search(r'name="about-0" value="[^"]*" checked', page)
    status, page = take(client, bring(client, content), **{"about-0": ""})
    assert status == 422
    assert "Say which part it is for" in page


def test_a_product_for_a_part_of_the_build_is_another_offer_for_it(client: TestClient) -> None:
    build = desk_of(client).view().build
    part = build.parts[0]
    revision = str(desk_of(client).file.revision)
    status, where = take(client, bring(client), revision=revision, **{"about-0": part.id})
    assert (status, where) == (303, f"/parts/{part.id}")
    new = desk_of(client).view().build
    assert len(new.parts) == len(build.parts)
    assert new.offers[-1].part == part.id


def test_lines_of_a_mail_can_be_left_out_one_by_one(empty: TestClient) -> None:
    where = paste(empty, MAIL)
    page = empty.get(where).text
    assert "The text names 2 products" in page
    assert "Not read: 2 lines" in page
    second = {"about-1": "new", "name-1": "Stud nut M12", "price-1": "0.90", "currency-1": "GBP", "quantity-1": "4"}
    take(empty, where, **{"about-0": "-"}, **second)
    assert [(each.name, each.quantity) for each in desk_of(empty).view().build.parts] == [("Stud nut M12", 4)]


def test_one_line_leads_to_where_a_line_is_read(empty: TestClient) -> None:
    where = paste(empty, "M10x1.25x30 bolts 8.8, 12 pc, 0.45 EUR each")
    assert where.startswith("/parts/add?line=M10x1.25x30")
    assert "bolts" in empty.get(where).text


def test_what_tells_of_nothing_is_refused_with_what_to_do(empty: TestClient) -> None:
    response = empty.get(bring(empty, b"<html><body></body></html>"))
    assert response.status_code == 422
    assert "no product and no list" in response.text


def test_a_mail_from_a_known_supplier_can_become_an_order(client: TestClient) -> None:
    supplier = desk_of(client).view().build.suppliers[0]
    page = client.get(paste(client, f"{MAIL}\nGreetings, {supplier.name}\n")).text
    assert f"This is an order I have placed with {supplier.name}" in page
    path = re.search(r'href="(/buying/confirmations/[^"]+)"', page)
    assert path is not None
    assert client.get(path[1].replace("&amp;", "&")).status_code == 200


def test_names_from_a_page_are_shown_as_text(empty: TestClient) -> None:
    content = WHOLE.replace(b"Wheel stud, long", rb"<img src=x onerror=alert(1)>stud")
    page = empty.get(bring(empty, content)).text
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page


@pytest.mark.browser
def test_a_page_is_brought_and_taken_in_by_hand(empty_site: Site, page: Page) -> None:
    page.goto(f"{empty_site.address}/import")
    page.set_input_files("input[type=file]", {"name": "stud.html", "mimeType": "text/html", "buffer": LACKING})
    page.get_by_role("button", name="See what it would do").click()
    page.get_by_text("It does not say in which currency").wait_for()
    assert_accessible(page)
    assert_nothing_is_cut(page)
    page.get_by_label("Currency").fill("GBP")
    page.get_by_role("button", name="Take it in").click()
    page.get_by_role("heading", name="Wheel stud, long").wait_for()


@pytest.mark.browser
def test_bringing_in_is_one_key_or_tap_away_on_every_page(empty_site: Site, page: Page) -> None:
    page.goto(f"{empty_site.address}/money")
    page.keyboard.press("b")
    page.wait_for_url("**/import#bring-text")
    page.wait_for_function("document.activeElement.id === 'bring-text'")
    page.keyboard.type("2 bolts M8 0.45 EUR")
    page.get_by_role("button", name="See what it would do").click()
    page.get_by_text("2 × bolts M8").first.wait_for()
    page.goto(f"{empty_site.address}/money")
    page.locator("header").get_by_role("link", name="Bring in").click()
    page.get_by_role("heading", name="Bring in").wait_for()


def test_a_large_page_is_read_beside_the_request_and_its_place_fills(
    empty: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fishplate.web.importing.READING_SECONDS", 0.0)
    go = threading.Event()

    def slow(*given: Any) -> Captured | None:
        assert go.wait(20)
        return capture(*given)

    monkeypatch.setattr("fishplate.exchange.capture.capture", slow)
    where = bring(empty)
    waiting = empty.get(where)
    assert waiting.status_code == 200
    assert "It is being read. Nothing is written yet." in waiting.text
    assert f'hx-get="{where}"' in waiting.text
    go.set()
    assert "The page tells of one product" in worked_out(empty, where).text


def test_what_can_t_be_read_is_refused_with_every_problem_once_it_was_tried(
    empty: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fishplate.web.importing.READING_SECONDS", 0.0)
    where = bring(empty, b"%PDF-1.4 \x00 rubbish", "offer.pdf")
    refused = worked_out(empty, where)
    assert refused.status_code == 422
    assert "can" in refused.text
    assert take(empty, where)[0] == 422
    assert desk_of(empty).file.revision == 1
