"""Sales that may come: years seen against the owner's expectation, sales nobody expects, dips, sales every year."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from fishplate.build import build_from_data, facts_of
from fishplate.prices import Outlook, outlooks

AS_OF = date(2026, 3, 2)
SALE = {
    "id": "spring", "supplier": "north", "first": "2026-03-30", "last": "2026-04-05", "chance": 0.6,
    "depth_percent": {"low": 20, "likely": 20, "high": 20},
}  # fmt: skip


def euro(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def sighting(day: str, amount: float, *, sale: bool = False, offer: str = "rack") -> dict[str, Any]:
    return {"offer": offer, "day": day, "price": euro(amount), "sale": sale}


def seen(*sightings: dict[str, Any], weeks: int = 104, category: str = "steering", **lists: Any) -> dict[str, Outlook]:
    build = build_from_data(
        {
            "parts": [
                {"id": "rack", "name": "Rack", "category": category},
                {"id": "lamp", "name": "Lamp", "category": "lights"},
            ],
            "suppliers": [{"id": "north", "name": "North parts", "country": "DE", "currency": "EUR"}],
            "offers": [
                {"id": "rack", "supplier": "north", "part": "rack", "price": euro(100), "seen": "2026-03-01"},
                {"id": "lamp", "supplier": "north", "part": "lamp", "price": euro(40), "seen": "2026-03-01"},
            ],
            "sightings": list(sightings),
            **lists,
        }
    )
    return dict(outlooks(build, facts_of(build, AS_OF), weeks=weeks))


def test_years_seen_move_the_owners_chance() -> None:
    """Beta of weight three about the owner's 60 %: held in two years of three, (1.8 + 2) / 6."""
    found = seen(
        sighting("2025-04-01", 80, sale=True), sighting("2024-04-03", 80, sale=True), sighting("2023-04-01", 95),
        sale_windows=[SALE],
    )["rack"].sales  # fmt: skip
    spring = next(sale for sale in found if sale.window == "spring")
    assert spring.chance == pytest.approx(3.8 / 6)
    assert "2 of 3 years seen" in spring.ground
    assert "50 % of the weight" in spring.ground


def test_depths_seen_shift_the_owners() -> None:
    # 20 % expected, worth three years; 40 % seen in one
    (spring,) = [s for s in seen(sighting("2025-04-01", 60, sale=True), sale_windows=[SALE])["rack"].sales
                 if s.window == "spring"]  # fmt: skip
    assert spring.mean_depth == pytest.approx(0.25)


def test_without_a_year_seen_the_owners_word_stands() -> None:
    (spring,) = seen(sale_windows=[SALE])["rack"].sales
    assert spring.chance == 0.6
    assert "no year of it was seen" in spring.ground


def test_another_offers_sale_counts_for_the_sellers_window_unless_it_is_left_out() -> None:
    lamp = sighting("2025-04-01", 30, sale=True, offer="lamp")
    assert seen(lamp, sale_windows=[SALE])["rack"].sales[0].chance == pytest.approx(2.8 / 4)
    without = {**SALE, "excluded": ["lights"]}
    assert seen(lamp, sale_windows=[without])["rack"].sales[0].chance == 0.6


def test_a_yearly_sale_comes_again_each_year() -> None:
    sales = seen(sale_windows=[{**SALE, "yearly": True}])["rack"].sales
    assert [(sale.window, sale.first) for sale in sales] == [
        ("spring", date(2026, 3, 30)), ("spring 2027", date(2027, 3, 30)),
    ]  # fmt: skip
    # one stated years ago is still ahead
    old = {**SALE, "first": "2019-03-30", "last": "2019-04-05", "yearly": True}
    assert [sale.first for sale in seen(sale_windows=[old])["rack"].sales] == [date(2026, 3, 30), date(2027, 3, 30)]
    assert seen(sale_windows=[{**old, "yearly": False}])["rack"].sales == ()


def test_a_sale_seen_but_not_expected_may_come_again_at_its_time() -> None:
    """A chance of a quarter worth three years, seen in one year of one: 1.75 / 4."""
    found = seen(sighting("2025-06-10", 75, sale=True), sighting("2025-05-20", 100))
    (first, second) = found["rack"].sales[:2]
    assert (first.first, first.last) == (date(2026, 6, 7), date(2026, 6, 13))
    assert second.first == date(2027, 6, 7)
    assert first.chance == pytest.approx(1.75 / 4)
    assert first.mean_depth == pytest.approx(0.25, abs=0.005)
    # only what was seen on sale is taken to be part of it
    assert found["lamp"].sales == ()


def test_the_owners_window_tells_of_the_sale_that_was_seen() -> None:
    found = seen(sighting("2025-04-02", 80, sale=True), sale_windows=[SALE])["rack"].sales
    assert [sale.window for sale in found if sale.first and sale.first.year == 2026] == ["spring"]


def test_a_dip_that_passed_is_a_sale_and_no_drift() -> None:
    prices = [("2025-07-01", 100), ("2025-08-01", 100), ("2025-09-01", 85), ("2025-10-01", 100), ("2025-12-01", 100)]
    found = seen(*(sighting(day, amount) for day, amount in prices))["rack"]
    without = seen(*(sighting(day, amount) for day, amount in prices if amount == 100))["rack"]
    assert found.drift_yearly == without.drift_yearly
    assert [sale.first for sale in found.sales] == [date(2026, 8, 29), date(2027, 8, 29)]


def test_a_fall_that_stays_is_no_sale() -> None:
    prices = [("2025-07-01", 120), ("2025-08-01", 120), ("2025-09-01", 100), ("2025-10-01", 100)]
    assert seen(*(sighting(day, amount) for day, amount in prices))["rack"].sales == ()


def test_other_offers_of_the_category_draw_the_drift_too() -> None:
    parts = [{"id": part, "name": part, "category": "steering"} for part in ("rack", "lamp")]
    years = [("2023-03-01", 30), ("2024-03-01", 33), ("2025-03-01", 36.3)]
    risen = [sighting(day, amount, offer="lamp") for day, amount in years]
    alone, beside = seen(*risen)["rack"], seen(*risen, parts=parts)["rack"]
    assert alone.drift_yearly == pytest.approx(0.04)
    assert 0.045 < beside.drift_yearly < 0.10
    weights = {ground.text: ground.weight for ground in beside.grounds if ground.weight is not None}
    assert sum(weights.values()) == pytest.approx(1)
    assert weights["what other offers of its category did"] > 0.1


def test_an_outlook_says_what_it_rests_on() -> None:
    change = {"id": "rise", "day": "2026-05-01", "percent": 5, "offer": "rack", "note": "their letter"}
    texts = [ground.text for ground in seen(sale_windows=[SALE], price_changes=[change])["rack"].grounds]
    assert texts == [
        "consumer prices, 2 % a year (aim of the currency's central bank, from memory), and 2 % more for its category "
        "(common practice)",
        "+5 % announced for 1 May 2026: their letter",
        "a sale from 30 March 2026: your own expectation of 60 %; no year of it was seen",
    ]


def test_what_was_given_away_once_is_not_expected_to_be_again() -> None:
    (first, *_) = seen(sighting("2025-06-10", 0, sale=True))["rack"].sales
    assert first.mean_depth <= 0.95


def test_days_written_wrongly_break_nothing() -> None:
    far = {**SALE, "id": "far", "first": "9999-12-30", "last": "9999-12-31", "yearly": True}
    old = {**SALE, "id": "old", "first": "0001-01-01", "last": "0001-01-02", "yearly": True}
    leap = {**SALE, "id": "leap", "first": "2024-02-29", "last": "2024-02-29", "yearly": True}
    found = seen(sighting("0001-01-01", 50, sale=True), sale_windows=[far, old, leap])["rack"].sales
    assert date(2027, 2, 28) in {sale.first for sale in found}
