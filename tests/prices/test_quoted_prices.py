"""A price quoted to the owner until a day: it holds until then, and the regular one counts again after it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from fishplate.build import Build, Money, build_from_data, facts_of
from fishplate.build.events import Order, OrderLine
from fishplate.prices import Outlook, outlooks
from fishplate.records import listed_price, with_baselines

DAY = date(2026, 3, 2)


def eur(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def on(days: int) -> str:
    return (DAY + timedelta(days=days)).isoformat()


def build(price: float, until: int | None, *, before: float | None = 100, **lists: Any) -> Build:
    seen = [] if before is None else [{"offer": "hubs", "day": on(-10), "price": eur(before)}]
    return build_from_data({
        "parts": [{"id": "hub", "name": "Hub", "category": "drivetrain"}],
        "suppliers": [{"id": "shop", "name": "Shop", "country": "NL", "currency": "EUR"}],
        "offers": [{"id": "hubs", "supplier": "shop", "part": "hub", "price": eur(price), "seen": on(0),
                    "price_until": None if until is None else on(until)}],
        "sightings": seen, **lists,
    })  # fmt: skip


def outlook(made: Build, as_of: date = DAY) -> Outlook:
    return outlooks(made, facts_of(made, as_of), weeks=12)["hubs"]


def test_a_quote_below_the_regular_price_holds_to_its_day_and_the_regular_one_counts_after() -> None:
    found = outlook(build(85, 28))
    assert found.now == found.today == pytest.approx(85)
    assert found.expected[:5] == pytest.approx([85] * 5)
    assert found.list_price[0] == pytest.approx(100)
    assert min(found.expected[5:]) >= 100 - 1e-6
    assert "quoted to you" in found.text
    assert "they stand by 85.00 EUR for you" in " ".join(ground.text for ground in found.grounds)


def test_a_quote_that_has_ended_counts_no_more_and_that_is_said() -> None:
    found = outlook(build(85, 28), DAY + timedelta(days=35))
    assert found.today >= 100
    assert "what was quoted to you ended" in " ".join(ground.text for ground in found.grounds)


def test_a_price_the_seller_stands_by_neither_drifts_nor_rises_until_then() -> None:
    rise = [{"id": "up", "day": on(14), "percent": 20, "offer": "hubs"}]
    found = outlook(build(110, 28, price_changes=rise))
    assert found.list_price[:5] == pytest.approx([110] * 5)
    assert found.list_price[5] > 130
    free = outlook(build(110, None, price_changes=rise))
    assert free.list_price[3] > 130


def test_what_is_saved_by_a_quote_is_told_against_the_regular_price() -> None:
    made = build(85, 28)
    order = Order(id="o", day=DAY, supplier="shop", lines=(OrderLine(offer="hubs", price=Money.of(85, "EUR")),))
    assert with_baselines(made, order).lines[0].listed == Money.of(100, "EUR")
    # a price list that runs to a day is the regular price, where none seen before was higher
    assert listed_price(build(110, 28), made.find("offers", "hubs"), DAY, "EUR") == Money.of(100, "EUR")
    assert listed_price(build(85, None), build(85, None).find("offers", "hubs"), DAY, "EUR") == Money.of(85, "EUR")
