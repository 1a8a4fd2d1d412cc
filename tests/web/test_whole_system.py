"""A system whole from one supplier beside pieces: the figures, and the page that waits for them."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from serving import served

from fishplate.build import Build, build_from_data, facts_of
from fishplate.web.beside import Answered
from fishplate.web.desk import View
from fishplate.web.whole_system import _adapter, choices, whole_system_page
from fishplate.web.worker import Progress
from fishplate.wiring import situation

TODAY = date(2026, 3, 20)


def eur(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def start() -> Build:
    """Two parts that two home suppliers sell: the dearer of each by ten, with freight of 15 an order."""
    shops = [{"id": id_, "name": name, "country": "NL", "currency": "EUR", "origin_tax": "charged",
              "freight": [{"route": "van", "fixed": eur(15)}]}
             for id_, name in (("one", "Northgate"), ("two", "Millrace"))]  # fmt: skip
    prices = {"a-one": ("one", "a", 100), "b-one": ("one", "b", 60), "a-two": ("two", "a", 110), "b-two":
              ("two", "b", 50)}  # fmt: skip
    return build_from_data({
        "owner": {"country": "NL", "currency": "EUR", "card_markup_percent": 0},
        "systems": [{"id": "brakes", "name": "Brakes"}],
        "parts": [{"id": "a", "name": "Caliper", "system": "brakes"}, {"id": "b", "name": "Hose", "system": "brakes"}],
        "routes": [{"id": "van", "name": "Van", "kind": "courier", "from_country": "NL"}],
        "suppliers": shops,
        "offers": [{"id": id_, "supplier": shop, "part": part, "price": eur(price), "tax_included": True}
                   for id_, (shop, part, price) in prices.items()],
    })  # fmt: skip


def test_pieces_pay_freight_twice_and_the_whole_once() -> None:
    pieces, *whole = choices(situation(start(), TODAY), "brakes", lambda *_: None)
    assert (pieces.suppliers, pieces.goods, pieces.orders) == (("two", "one"), 150, 30)
    assert sorted((way.suppliers, way.goods, way.orders) for way in whole) == [(("one",), 160, 15), (("two",), 160, 15)]
    page = whole_system_page(
        View(start(), facts_of(start(), TODAY), 1, TODAY, None), "brakes",
        Answered(_adapter().dump_json((pieces, *whole)), Progress()),
    )  # fmt: skip
    assert "costs 5 EUR less than in pieces" in page.lead
    assert len(page.ways) == 3


def test_the_page_asks_waits_and_an_unknown_system_is_not_there(tmp_path: Path) -> None:
    with served(tmp_path / "van.fishplate", start(), day=TODAY) as shop:
        shop.get("/")
        assert "/buying/systems/brakes" in shop.get("/buying/enquiries/one").text
        assert "Compare them" in shop.get("/buying/systems/brakes").text
        assert shop.get("/buying/systems/gearbox").status_code == 404
        assert json.loads(_adapter().dump_json(())) == []
