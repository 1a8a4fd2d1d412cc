"""Invoices against orders and paid; work sent out, shown by a photo and paid: as a person types them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build, Money, build_from_data
from fishplate.build.events import Invoice, Payment
from fishplate.records import invoice_states, ledger, workshop_states
from fishplate.web.amounts import to_home

TODAY = date(2026, 3, 20)
PHOTO = b"\x89PNG\r\n\x1a\n" + b"0" * 64


def gbp(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "GBP"}


def start() -> Build:
    order = {"kind": "ordered", "id": "o", "day": "2026-03-05", "supplier": "shop", "freight": gbp(12),
             "lines": [{"offer": "discs", "quantity": 2, "price": gbp(50)},
                       {"offer": "pumps", "price": gbp(80), "core": gbp(25)}]}  # fmt: skip
    return build_from_data({
        "parts": [{"id": "disc", "name": "Brake disc", "quantity": 2}, {"id": "pump", "name": "Fuel pump"}],
        "suppliers": [{"id": "shop", "name": "Northgate", "country": "GB", "currency": "GBP"}],
        "offers": [{"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(50)},
                   {"id": "pumps", "supplier": "shop", "part": "pump", "price": gbp(80)}],
        "workshops": [{"id": "blast", "name": "Millrace Blasting", "queue_weeks": {"low": 2, "likely": 3, "high": 6},
                       "booked_on": "2026-03-01", "withdraw_on": "2026-05-01",
                       "stages": [{"name": "Blasted", "amount": {"amount": "400", "currency": "EUR"},
                                   "shows": "bare metal all round"}]}],
        "events": [order],
    })  # fmt: skip


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[TestClient]:
    with served(tmp_path / "van.fishplate", start(), day=TODAY) as found:
        found.get("/")
        yield found


def post(shop: TestClient, path: str, **fields: Any) -> Any:
    return shop.post(path, data=fields, follow_redirects=False)


def build_of(shop: TestClient) -> Build:
    return desk_of(shop).view().build


def bill(**changes: str) -> dict[str, str]:
    """What an invoice for the order says: ten pounds more for the discs, the core and the freight as ordered."""
    fields = {
        "order": "o", "number": "N-118", "day": "2026-03-10", "due": "2026-04-10", "currency": "GBP", "sent-by":
        "seller", "label-1": "2 × Brake disc", "amount-1": "110", "kind-1": "goods", "offer-1": "discs",
        "label-2": "Fuel pump", "amount-2": "80", "kind-2": "goods", "offer-2": "pumps", "amount-3": "25",
        "kind-3": "core", "amount-4": "12", "kind-4": "freight",
    }  # fmt: skip
    return {**fields, **changes}


def test_an_invoice_is_filled_in_from_its_order_and_shows_what_differs(shop: TestClient) -> None:
    page = shop.get("/money/invoices?order=o").text
    assert 'value="100.00"' in page
    assert "Old part: Fuel pump" in page
    assert post(shop, "/money/invoices", **bill()).status_code == 303
    page = shop.get("/money/invoices").text
    assert "110.00 GBP asked, 100.00 GBP ordered: 10.00 GBP more" in page
    assert "227.00 GBP is to be paid by 10 April 2026" in page


def test_a_whole_invoice_is_paid_by_kind_so_that_the_order_is_neither_over_nor_underpaid(shop: TestClient) -> None:
    assert post(shop, "/money/invoices", **bill(**{"amount-1": "100"})).status_code == 303
    (state,) = invoice_states(build_of(shop), TODAY)
    answer = post(shop, f"/money/invoices/{state.invoice.id}/paid", amount="217", home="260.40", day="2026-03-12")
    assert answer.status_code == 303
    build = build_of(shop)
    payments = [event for event in build.events if isinstance(event, Payment)]
    assert {item.what: item.amount for item in payments} == {
        "goods": Money.of(205, "GBP"), "freight": Money.of(12, "GBP"),
    }  # fmt: skip
    assert sum(item.home_amount.amount for item in payments if item.home_amount) == Money.of("260.40", "EUR").amount
    assert invoice_states(build, TODAY)[0].owed.amount == 0
    (account,) = ledger(build, TODAY, to_home(build)).accounts
    assert account.owed == Money.of(0, "GBP")


def test_a_part_payment_leaves_the_rest_owed_and_what_is_paid_is_not_taken_out(shop: TestClient) -> None:
    post(shop, "/money/invoices", **bill())
    (invoice,) = (event for event in build_of(shop).events if isinstance(event, Invoice))
    assert post(shop, f"/money/invoices/{invoice.id}/paid", amount="100").status_code == 303
    assert invoice_states(build_of(shop), TODAY)[0].owed == Money.of(127, "GBP")
    assert post(shop, f"/money/invoices/{invoice.id}/out").status_code == 422
    assert any(isinstance(event, Invoice) for event in build_of(shop).events)


def test_an_invoice_without_amounts_or_of_tomorrow_is_refused(shop: TestClient) -> None:
    nothing = {"form": "invoice", "currency": "GBP", "sent-by": "seller"}
    assert "Give at least one amount" in post(shop, "/money/invoices", **nothing).text
    assert post(shop, "/money/invoices", **bill(day="2026-03-21")).status_code == 422
    assert post(shop, "/money/invoices", **bill(order="nothing")).status_code == 422


def test_a_photo_of_an_invoice_is_kept(shop: TestClient) -> None:
    files = {"photo": ("bill.png", PHOTO, "image/png")}
    assert shop.post("/money/invoices", data=bill(), files=files, follow_redirects=False).status_code == 303
    (state,) = invoice_states(build_of(shop), TODAY)
    assert state.invoice.photo
    assert desk_of(shop).file.attachment(state.invoice.photo) is not None


def test_a_stage_is_to_be_paid_once_a_photo_shows_it(shop: TestClient) -> None:
    page = shop.get("/shelf/workshops").text
    assert "Its turn is likely around 22 March 2026" in page
    assert "400.00 EUR against a photo showing bare metal all round" in page
    told = post(shop, "/shelf/workshops/blast/0/shown", day="2026-03-18")
    assert told.status_code == 303
    assert "They say it is done" in shop.get("/shelf/workshops").text
    files = {"photo": ("frame.png", PHOTO, "image/png")}
    shown = shop.post("/shelf/workshops/blast/0/shown", data={"day": "2026-03-19"}, files=files, follow_redirects=False)
    assert shown.status_code == 303
    assert workshop_states(build_of(shop), TODAY)[0].stages[0].to_pay
    assert "400.00 EUR is to be paid" in shop.get("/shelf").text
    assert post(shop, "/shelf/workshops/blast/0/paid", amount="400", day="2026-03-20").status_code == 303
    assert "Shown and paid: 400.00 EUR" in shop.get("/shelf/workshops").text
    assert post(shop, "/shelf/workshops/blast/7/paid", amount="1").status_code == 404


def test_what_is_paid_before_it_is_shown_is_said(shop: TestClient) -> None:
    post(shop, "/shelf/workshops/blast/0/paid", amount="100")
    assert "100.00 EUR paid before a photo showed it" in shop.get("/shelf/workshops").text


@pytest.mark.parametrize(("label", "stage", "asked"), [("Blasted", "", False), ("As agreed", "Blasted", True)])
def test_an_invoice_of_a_workshop_settles_a_stage(shop: TestClient, label: str, stage: str, asked: bool) -> None:
    fields = {"workshop": "blast", "day": "2026-03-19", "currency": "EUR", "sent-by": "workshop", "label-1": label,
              "amount-1": "450", "kind-1": "work"}  # fmt: skip
    post(shop, "/money/invoices", **fields)
    assert ("For the stage" in shop.get("/money/invoices").text) == asked
    (state,) = invoice_states(build_of(shop), TODAY)
    path = f"/money/invoices/{state.invoice.id}/paid"
    assert post(shop, path, amount="450", day="2026-03-20", stage="Dreamt up").status_code == 422
    assert post(shop, path, amount="450", day="2026-03-20", stage=stage).status_code == 303
    assert workshop_states(build_of(shop), TODAY)[0].stages[0].paid == Money.of(450, "EUR")


def test_a_workshop_is_added_with_its_stages(shop: TestClient) -> None:
    fields = {"name": "Tannery Lane Trim", "country": "NL", "currency": "EUR", "queue-likely": "4",
              "booked": "2026-03-20", "stage-0": "Seats stripped", "amount-0": "150", "shows-0": "the springs",
              "stage-1": "Done",
              "amount-1": "600"}  # fmt: skip
    assert post(shop, "/shelf/workshops", **fields).status_code == 303
    added = build_of(shop).workshops[-1]
    assert [(stage.name, stage.amount) for stage in added.stages] == [
        ("Seats stripped", Money.of(150, "EUR")), ("Done", Money.of(600, "EUR")),
    ]  # fmt: skip
    twice = {**fields, "stage-1": "Seats stripped"}
    assert post(shop, "/shelf/workshops", **twice).status_code == 422
    assert post(shop, "/shelf/workshops", name="No sum", country="NL", **{"stage-0": "Done"}).status_code == 422
