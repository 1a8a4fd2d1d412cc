"""What must be ready before a sale or an announced rise."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from fishplate.build import build_from_data, facts_of
from fishplate.prices import ReadyToBuy, outlooks, prices_to_check, ready_to_buy

AS_OF = date(2026, 3, 2)


def euro(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def offer(id_: str, part: str, supplier: str, amount: float, **more: Any) -> dict[str, Any]:
    fields = {"id": id_, "part": part, "supplier": supplier, "price": euro(amount), "seen": "2026-03-01"}
    return {**fields, **more}


BUILD: dict[str, Any] = {
    "parts": [{"id": "wheel", "name": "Wheel", "quantity": 4}, {"id": "lamp", "name": "Lamp"}],
    "suppliers": [
        {"id": "north", "name": "North parts", "country": "DE", "currency": "EUR"},
        {"id": "south", "name": "South parts", "country": "NL", "currency": "EUR"},
    ],
    "offers": [offer("wheel-n", "wheel", "north", 100), offer("lamp-n", "lamp", "north", 40)],
    "decisions": [{"id": "size", "name": "wheel size", "options": [{"id": "16", "name": "16 inch"}]}],
    "dimensions": [{"id": "offset", "name": "wheel offset"}],
}
SALE = {
    "id": "spring", "supplier": "north", "first": "2026-03-16", "last": "2026-03-22", "chance": 0.5,
    "depth_percent": {"low": 20, "likely": 20, "high": 20},
}  # fmt: skip
RISE = {"id": "april", "day": "2026-04-01", "percent": 10, "supplier": "north"}


def ready(needs: dict[str, float], **lists: Any) -> tuple[ReadyToBuy, ...]:
    build = build_from_data({**BUILD, **lists})
    facts = facts_of(build, AS_OF)
    seen = outlooks(build, facts, weeks=20)
    decide, measure = {"wheel-n": ("size",)}, {"wheel-n": ("offset",)}
    return ready_to_buy(build, facts, seen, needs, {"EUR": 1.0}, decide, measure)


def test_a_sale_lists_what_to_decide_measure_and_fund() -> None:
    (entry,) = ready({"wheel": 4, "lamp": 1}, sale_windows=[SALE])
    assert (entry.key, entry.kind, entry.supplier) == ("spring", "sale", "north")
    assert (entry.first, entry.last) == (date(2026, 3, 16), date(2026, 3, 22))
    assert entry.offers == ("lamp-n", "wheel-n")
    assert (entry.decide, entry.measure) == (("size",), ("offset",))
    # four wheels and a lamp, two weeks of 4 % a year on top, 20 % off with even chance
    listed = 440 * 1.04 ** (14 / 365.25)
    assert entry.fund == pytest.approx(0.8 * listed)
    assert entry.saving == pytest.approx(0.5 * 0.2 * listed)
    assert entry.text == (
        "Sale at North parts from 16 March 2026 (chance 50 %): before it, decide wheel size, measure wheel offset, "
        "have 353 EUR ready for 2 offers; 44 EUR of expected saving is lost otherwise."
    )


def test_only_missing_parts_are_funded() -> None:
    (entry,) = ready({"lamp": 1, "wheel": 0}, sale_windows=[SALE])
    assert entry.offers == ("lamp-n",)


def test_a_cheaper_seller_elsewhere_takes_the_saving_away() -> None:
    cheap = [*BUILD["offers"], offer("lamp-s", "lamp", "south", 30)]
    assert ready({"lamp": 1}, sale_windows=[SALE], offers=cheap) == ()


def test_an_announced_rise_is_bought_before_its_day() -> None:
    (entry,) = ready({"lamp": 1}, price_changes=[RISE])
    assert (entry.kind, entry.first, entry.last) == ("rise", date(2026, 4, 1), None)
    before, after = 40 * 1.04 ** (28 / 365.25), 40 * 1.1 * 1.04 ** (35 / 365.25)
    assert entry.fund == pytest.approx(before)
    assert entry.saving == pytest.approx(after - before)
    assert entry.text.startswith("Prices at North parts rise on 1 April 2026: before it, have 40 EUR ready for 1 offer")


def test_falls_and_past_rises_ask_for_nothing() -> None:
    fall, past = {**RISE, "percent": -5}, {**RISE, "id": "past", "day": "2026-03-01"}
    assert ready({"lamp": 1}, price_changes=[fall, past]) == ()


def test_a_rise_over_a_category_is_listed_for_each_seller() -> None:
    change = {"id": "all", "day": "2026-04-01", "percent": 10, "category": "lights"}
    parts = [BUILD["parts"][0] | {"category": "lights"}, BUILD["parts"][1] | {"category": "lights"}]
    offers = [offer("wheel-n", "wheel", "north", 100), offer("lamp-s", "lamp", "south", 40)]
    found = ready({"wheel": 4, "lamp": 1}, price_changes=[change], parts=parts, offers=offers)
    assert [(entry.key, entry.supplier) for entry in found] == [("all-north", "north"), ("all-south", "south")]


def test_each_missing_part_is_counted_in_one_offer() -> None:
    offers = [*BUILD["offers"], offer("lamp-dear", "lamp", "north", 60)]
    (entry,) = ready({"lamp": 1}, sale_windows=[SALE], offers=offers)
    # the dearer lamp would seem to save more, but against the cheaper one it saves nothing
    assert entry.offers == ("lamp-n",)


def test_old_prices_are_looked_up_where_they_may_beat_the_known_one() -> None:
    offers = [
        offer("lamp-n", "lamp", "north", 40),
        offer("lamp-old", "lamp", "south", 39, seen="2024-03-01"),
        offer("lamp-dear", "lamp", "south", 90, seen="2024-03-01"),
    ]
    build = build_from_data({**BUILD, "offers": offers})
    facts = facts_of(build, AS_OF)
    seen = outlooks(build, facts, weeks=4)
    found = prices_to_check(build, facts, seen, {"lamp": 1.0}, {"EUR": 1.0}, look_cost=0.05)
    assert [check.offer for check in found] == ["lamp-old"]
    assert prices_to_check(build, facts, seen, {"lamp": 1.0}, {"EUR": 1.0}, look_cost=50) == ()
