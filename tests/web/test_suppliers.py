"""A supplier's page: its freight, offers, kits and terms as a person types them; an order from its confirmation."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build, Money, Problem, Refused, build_from_data
from fishplate.build.events import Order

TODAY = date(2026, 3, 20)


def gbp(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "GBP"}


def start() -> Build:
    return build_from_data({
        "parts": [{"id": "disc", "name": "Brake disc", "quantity": 2, "part_number": "BD-77"},
                  {"id": "pad", "name": "Brake pad", "quantity": 4},
                  {"id": "pump", "name": "Fuel pump"}],
        "routes": [{"id": "van", "name": "Courier", "kind": "courier", "from_country": "GB"},
                   {"id": "depot", "name": "Depot", "kind": "collection", "from_country": "GB"}],
        "suppliers": [{"id": "shop", "name": "Northgate", "country": "GB", "currency": "GBP",
                       "freight": [{"route": "van", "fixed": gbp(12), "collect": True}]}],
        "offers": [{"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(50), "lead_weeks":
                    {"low": 1, "likely": 2, "high": 3}},
                   {"id": "pumps", "supplier": "shop", "part": "pump", "price": gbp(80)}],
        "stock": [{"id": "s", "part": "disc", "quantity": 1, "place": "Shelf 2"}],
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


def test_freight_is_written_by_way_home_and_taken_out_where_nothing_stands(shop: TestClient) -> None:
    page = shop.get("/buying/suppliers/shop").text
    assert 'value="12.00"' in page
    fields = {"fixed-van": "", "fixed-depot": "0", "per-kg-depot": "1.5", "free-depot": "250"}
    assert post(shop, "/buying/suppliers/shop/freight", **fields).status_code == 303
    (terms,) = build_of(shop).find("suppliers", "shop").freight
    assert (terms.route, terms.fixed, terms.collect) == ("depot", Money.of(0, "GBP"), False)
    assert (terms.per_kg, terms.free_from) == (Money.of("1.5", "GBP"), Money.of(250, "GBP"))
    answer = post(shop, "/buying/suppliers/shop/freight", **{"per-kg-van": "2", "form": "freight"})
    assert answer.status_code == 422
    assert "or 0" in answer.text


def test_claim_days_and_what_becomes_of_its_tax_are_written(shop: TestClient) -> None:
    fields = {
        "name": "Northgate",
        "country": "gb",
        "tax": "taken-off",
        "claim-days": "3",
        "craft": "yes",
        "least": "75",
    }
    assert post(shop, "/buying/suppliers/shop/facts", **fields).status_code == 303
    seller = build_of(shop).find("suppliers", "shop")
    assert seller.minimum_order == Money.of(75, "GBP")
    assert (seller.country, seller.origin_tax, seller.claim_days, seller.craft) == ("GB", "taken-off", 3, True)
    assert post(shop, "/buying/suppliers/shop/facts", name="", country="GBR", tax="x").status_code == 422


def test_a_price_by_count_and_a_kit_are_offers_by_hand(shop: TestClient) -> None:
    fields = {"part": "brake pad", "price": "60", "pack": "4", "day": TODAY.isoformat()}
    assert post(shop, "/buying/suppliers/shop/offers", **fields).status_code == 303
    kit = {"name": "Brake kit", "price": "140", "part-1": "Brake disc", "count-1": "2", "part-2": "Brake pad",
           "count-2": "4", "day": TODAY.isoformat()}  # fmt: skip
    assert post(shop, "/buying/suppliers/shop/kits", **kit).status_code == 303
    build = build_of(shop)
    pads, whole = build.offers[-2:]
    assert (pads.part, pads.pack, pads.price) == ("pad", 4, Money.of(60, "GBP"))
    held = {item.part: item.quantity for item in build.find("kits", whole.kit).contents}
    assert held == {"disc": 2, "pad": 4}
    refused = post(shop, "/buying/suppliers/shop/kits", form="kit", name="Empty", price="5", day=TODAY.isoformat())
    assert refused.status_code == 422
    assert "Say what one kit holds" in refused.text


def test_terms_are_kept_where_nothing_is_changed_and_cleared_where_a_field_is_emptied(shop: TestClient) -> None:
    assert "Terms of Brake disc" in shop.get("/buying/offers/discs/terms").text
    terms = {
        "pack": "1", "tax": "yes", "lead-low": "1", "lead-likely": "2", "lead-high": "3", "returns": "30",
        "ends": ["bolted", "opened"], "restocking": "15", "back": "9.50", "core": "25", "core-days": "45",
        "warranty": "24", "warranty-from": "fitting", "deposit": "10", "from-0": "4", "each-0": "45",
    }  # fmt: skip
    assert post(shop, "/buying/offers/discs/terms", **terms).status_code == 303
    offer = build_of(shop).find("offers", "discs")
    assert (offer.returns.days, set(offer.returns.ended_by)) == (30, {"bolted", "opened"})
    assert (offer.core_charge, offer.core_days) == (Money.of(25, "GBP"), 45)
    assert (offer.warranty_months, offer.warranty_from, offer.lead_weeks.likely) == (24, "fitting", 2)
    assert [(each.units, each.price) for each in offer.breaks] == [(4, Money.of(45, "GBP"))]
    bare = {"pack": "1", "warranty-from": "receipt"}
    assert post(shop, "/buying/offers/discs/terms", **bare).status_code == 303
    offer = build_of(shop).find("offers", "discs")
    assert (offer.returns, offer.core_charge, offer.warranty_months, offer.lead_weeks) == (None, None, None, None)
    for wrong in (
        {"from-0": "4"},
        {"each-0": "45"},
        {"from-0": "4", "each-0": "45 EUR"},
        {"from-0": "1", "each-0": "9"},
    ):
        assert post(shop, "/buying/offers/discs/terms", **bare, **wrong).status_code == 422
    late = {**bare, "from": "2026-05-01", "until": "2026-04-01"}
    assert post(shop, "/buying/offers/discs/terms", **late).status_code == 422


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages wait until a confirmation is read, however busy the machine is."""
    monkeypatch.setattr("fishplate.web.confirming.READING_SECONDS", 20.0)


def test_a_confirmation_is_read_beside_the_page_which_says_so_and_asks_again(
    shop: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = Event(), Event()

    def slow(*_: Any) -> Any:
        begun.set()
        go_on.wait(20)
        raise Refused([Problem("list", "no-list", "nothing is in it", "", "Bring another.")])

    monkeypatch.setattr("fishplate.web.bringing.read_order", slow)
    answer = post(shop, "/buying/suppliers/shop/confirmation", text="Part,Price\na,1\n", day=TODAY.isoformat())
    monkeypatch.setattr("fishplate.web.confirming.READING_SECONDS", 0.01)
    waiting = shop.get(answer.headers["location"]).text
    assert "It is being read. Nothing is written yet." in waiting
    assert begun.wait(20)
    go_on.set()
    monkeypatch.setattr("fishplate.web.confirming.READING_SECONDS", 20.0)
    assert "nothing is in it" in shop.get(answer.headers["location"]).text


def test_freight_and_the_charge_for_an_old_part_are_taken_from_a_confirmation(shop: TestClient) -> None:
    rows = "Part,Quantity,Price GBP\nFuel pump,1,80.00\nCore charge fuel pump,1,25.00\nCarriage,,14.50\nTotal,,130\n"
    answer = post(shop, "/buying/suppliers/shop/confirmation", text=rows, day="2026-03-18")
    shown = shop.get(answer.headers["location"]).text
    assert "Taken for the charge for the old part of Fuel pump" in shown
    assert "Taken for the freight of the order" in shown
    assert "Its last total is 130.00 GBP, its rows taken here come to 119.50 GBP" in shown
    assert post(shop, answer.headers["location"].partition("?")[0], day="2026-03-18").status_code == 303
    (order,) = build_of(shop).events
    assert isinstance(order, Order)
    assert (order.freight, order.lines[0].core) == (Money.of("14.50", "GBP"), Money.of(25, "GBP"))


def test_an_order_is_shown_from_a_pasted_confirmation_before_it_is_written(shop: TestClient) -> None:
    rows = "Part number,Part,Quantity,Price GBP\nBD-77,Front disc,2,48.00\n,Fuel pump,1,80.00\n"
    fields = {"text": rows, "day": "2026-03-18", "promised": "2026-04-02"}
    answer = post(shop, "/buying/suppliers/shop/confirmation", **fields)
    assert answer.status_code == 303
    shown = shop.get(answer.headers["location"]).text
    assert "Brake disc, by its number" in shown
    assert "48.00 GBP here, 50.00 GBP offered" in shown
    assert "1 here, Shelf 2" in shown  # what is owned already
    assert not build_of(shop).events
    path = answer.headers["location"].partition("?")[0]
    assert post(shop, path, day="2026-03-18", promised="2026-04-02").status_code == 303
    (order,) = build_of(shop).events
    assert isinstance(order, Order)
    assert [(line.offer, line.quantity, line.price) for line in order.lines] == [
        ("discs", 2, Money.of(48, "GBP")), ("pumps", 1, Money.of(80, "GBP")),
    ]  # fmt: skip
    assert (order.day, order.promised) == (date(2026, 3, 18), date(2026, 4, 2))


def test_a_confirmation_of_what_is_not_offered_writes_nothing(shop: TestClient) -> None:
    fields = {"text": "Part,Quantity,Price GBP\nGearbox,1,900\n", "day": TODAY.isoformat()}
    answer = post(shop, "/buying/suppliers/shop/confirmation", **fields)
    shown = shop.get(answer.headers["location"]).text
    assert "nothing this supplier offers has that number or name" in shown
    path = answer.headers["location"].partition("?")[0]
    assert post(shop, path, day=TODAY.isoformat()).status_code == 422
    assert not build_of(shop).events
    late = post(shop, "/buying/suppliers/shop/confirmation", text="a", day=(TODAY + timedelta(days=1)).isoformat())
    assert late.status_code == 422
    assert post(shop, "/buying/suppliers/shop/confirmation", day=TODAY.isoformat()).status_code == 422
    assert shop.get("/buying/confirmations/shop/none").status_code == 404
