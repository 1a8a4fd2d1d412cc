"""Bringing a list: seen row by row, then taken in, in one batch."""

from __future__ import annotations

from importlib.resources import files

import pytest
from fastapi.testclient import TestClient
from serving import desk_of
from walking import Screen

from fishplate.build.money import Money

LIST = (files("fishplate.starters") / "lists" / "first-evening.csv").read_bytes()


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages wait until what was brought is read, however busy the machine is."""
    monkeypatch.setattr("fishplate.web.importing.READING_SECONDS", 20.0)


def bring(client: TestClient, content: bytes = LIST, name: str = "list.csv", **fields: str) -> str:
    """Upload a list; the address of its preview."""
    data = {"revision": "1", "form": "bring", **fields}
    response = client.post("/import", data=data, files={"list": (name, content)}, follow_redirects=False)
    assert response.status_code == 303, response.text
    return response.headers["location"]


def test_an_empty_build_begins_with_a_list(empty: TestClient) -> None:
    page = empty.get("/").text
    assert "Bring the list you keep" in page
    assert 'type="file"' in page


def test_a_list_is_seen_row_by_row_before_anything_is_written(empty: TestClient) -> None:
    page = empty.get(bring(empty)).text
    assert "Front discs, vented" in page
    assert "Nothing is written yet" in page
    assert desk_of(empty).file.revision == 1


def test_an_accepted_list_is_one_batch_that_can_be_taken_back(empty: TestClient) -> None:
    where = bring(empty)
    response = empty.post(where, data={"revision": "1", "form": "x", "skip": "yes"}, follow_redirects=False)
    assert response.status_code == 303
    desk = desk_of(empty)
    assert desk.file.revision == 2
    assert len(desk.view().build.parts) > 20
    assert "imported list.csv" in empty.get("/history").text
    empty.post("/history/undo", data={"revision": "2"})
    assert desk.view().build.parts == ()


def test_a_price_for_a_part_that_is_there_reads_as_another_offer_not_as_one_part_more(client: TestClient) -> None:
    page = client.get(bring(client, b"Part;Qty;Price EUR;Supplier\nGlow plug;4;13.00;Elsewhere\n")).text
    assert "another offer, at 13.00 EUR" in page
    assert "1 × 13.00" not in page


def test_a_list_taken_in_twice_doubles_nothing(empty: TestClient) -> None:
    where = bring(empty)
    empty.post(where, data={"revision": "1", "form": "x", "skip": "yes"})
    count = len(desk_of(empty).view().build.parts)
    empty.post(where, data={"revision": "2", "form": "x", "skip": "yes"})
    assert len(desk_of(empty).view().build.parts) == count


def test_pasted_rows_do_as_well_as_a_file(empty: TestClient) -> None:
    text = "Part\tQuantity\tPrice\nHub\t2\t38.50 EUR\n"
    data = {"revision": "1", "form": "bring", "text": text}
    response = empty.post("/import", data=data, follow_redirects=False)
    assert "Hub" in empty.get(response.headers["location"]).text


def test_where_the_garage_is_goes_in_with_the_first_list(empty: TestClient) -> None:
    bring(empty, name="x.csv", currency="gbp", country="gb")
    assert desk_of(empty).view().build.owner.country == "GB"
    assert desk_of(empty).view().build.owner.currency == "GBP"


def test_a_currency_that_is_none_is_refused_beside_its_field(empty: TestClient) -> None:
    data = {"revision": "1", "form": "bring", "currency": "XXQ", "country": "NL"}
    response = empty.post("/import", data=data, files={"list": ("a.csv", LIST)})
    assert response.status_code == 422
    assert "Not a currency code" in response.text


def test_nothing_brought_is_refused_with_what_to_do(empty: TestClient) -> None:
    response = empty.post("/import", data={"revision": "1", "form": "bring"})
    assert response.status_code == 422
    assert "Choose a file" in response.text


def test_what_is_no_list_is_told_with_a_remedy(empty: TestClient) -> None:
    response = empty.get(bring(empty, b"%PDF-1.4 nothing", "list.pdf"))
    assert response.status_code == 422
    assert "Copy its table into a spreadsheet" in response.text


def test_a_column_can_be_read_otherwise(empty: TestClient) -> None:
    where = bring(empty, b"Thing;Cost\nHub;38,50\n", "a.csv")
    page = empty.get(where, params={"map-Cost": "note", "currency": "EUR"}).text
    assert '<input type="hidden" name="map-Cost" value="note">' in page


def test_a_wrong_currency_for_a_list_is_refused(empty: TestClient) -> None:
    response = empty.get(bring(empty), params={"currency": "QQQ"})
    assert response.status_code == 422
    assert "not a currency code" in response.text


def test_a_list_that_is_no_longer_kept_is_not_here(empty: TestClient) -> None:
    assert empty.get("/import/abc").status_code == 404


def test_a_name_with_folders_in_it_stays_in_its_place(empty: TestClient) -> None:
    assert "passwd.csv" in empty.get(bring(empty, name="../../etc/passwd.csv")).text


def test_a_row_that_cant_be_read_is_mended_where_it_stands(empty: TestClient) -> None:
    where = bring(empty, b"Part;Price;Was\nHub;38,50;40\nDrum;l2,50;14\n", "a.csv")
    page = Screen(empty.get(where).text)
    form = next(form for form in page.forms if "Read it again, mended" in form.buttons)
    cell = next(each for each in form.fields if each.label == "Drum, column B (Price)")
    assert cell.value == "l2,50"
    still = empty.get(where, params={cell.name: "x2,50"}).text
    assert "x2,50" in still
    assert "can&#39;t be read" in still
    mended = empty.get(where, params={cell.name: "12,50"}).text
    assert 'Price: "12,50" is read in place of "l2,50"' in mended.replace("&#34;", '"')
    emptied = empty.get(where, params={cell.name: ""}).text
    assert 'Price: "l2,50" is left out' in emptied.replace("&#34;", '"')
    accept = next(form for form in Screen(mended).forms if "Take it in" in form.buttons)
    response = empty.post(where, data={each.name: each.value for each in accept.fields}, follow_redirects=False)
    assert response.status_code == 303
    prices = {each.part: each.price for each in desk_of(empty).view().build.offers}
    assert prices == {"hub": Money.of("38.50", "EUR"), "drum": Money.of("12.50", "EUR")}


def test_a_column_that_is_left_out_is_not_kept_as_a_note(empty: TestClient) -> None:
    where = bring(empty, b"Part;Price;Was\nHub;38,50;40\n", "a.csv")
    empty.post(where, data={"revision": "1", "form": "x", "map-Was": "ignore"})
    assert desk_of(empty).view().build.find("parts", "hub").note == ""


def test_what_a_column_without_a_header_was_chosen_for_stays_chosen(empty: TestClient) -> None:
    where = bring(empty, b"Part;;Price\nHub;front;38,50\n", "a.csv")
    page = empty.get(where, params={"map-B": "system"}).text
    assert '<option value="system" selected>' in page


def test_what_a_list_would_do_reads_as_a_sentence(empty: TestClient) -> None:
    where = bring(empty, b"Part;Price;Comes in\nHub;38,50;9-12 weeks\nDrum;12,50;3 weeks\nPin;l2;1 week\nTotal;51;\n")
    page = empty.get(where, params={"map-Comes in": "lead_time"}).text
    assert "2 new, 1 left out (headings, sums and such) and 1 that can&#39;t be read." in page
    assert "lead time 9 to 12 weeks" in page
    assert "lead time 3 weeks" in page
    assert "Not an amount (“l2”)" in page
