"""What an offer's price is expected to do."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest

from fishplate.build import build_from_data, facts_of
from fishplate.prices import Outlook, outlooks
from fishplate.starters import demo_as_of, load_demo

AS_OF = date(2026, 3, 2)


def price(amount: str, currency: str = "EUR") -> dict[str, str]:
    return {"amount": amount, "currency": currency}


def sighting(day: str, amount: str, *, sale: bool = False, currency: str = "EUR") -> dict[str, Any]:
    return {"offer": "rack", "day": day, "price": price(amount, currency), "sale": sale}


def outlook_of(*, weeks: int = 60, category: str = "", offer: dict[str, Any] | None = None, **lists: Any) -> Outlook:
    data = {
        "parts": [{"id": "steering-rack", "name": "Steering rack", "category": category}],
        "suppliers": [{"id": "north", "name": "North parts", "country": "DE", "currency": "EUR"}],
        "offers": [
            {
                "id": "rack", "supplier": "north", "part": "steering-rack", "price": price("100"), "seen": "2026-03-01",
                **(offer or {}),
            }
        ],
        **lists,
    }  # fmt: skip
    build = build_from_data(data)
    return outlooks(build, facts_of(build, AS_OF), weeks=weeks)["rack"]


SALE = {
    "id": "spring", "supplier": "north", "first": "2026-03-30", "last": "2026-04-05", "chance": 0.5,
    "depth_percent": {"low": 20, "likely": 20, "high": 20},
}  # fmt: skip


def test_a_price_without_history_rises_by_four_percent_in_a_year() -> None:
    outlook = outlook_of(weeks=53)
    # 52 weeks are 364 of 365.25 days
    assert outlook.expected[52] == pytest.approx(100 * 1.04 ** (364 / 365.25))
    assert outlook.now == 100
    assert [note.code for note in outlook.assumptions] == ["price-drift"]


def test_tyres_rise_by_eight_percent_in_a_year() -> None:
    assert outlook_of(category="Tyres").drift_yearly == pytest.approx(0.08)


def test_own_sightings_draw_the_drift_away_from_the_category() -> None:
    # 10 % in a year, seen at both ends: between the category's 4 % and its own 10 %
    drift = outlook_of(sightings=[sighting("2025-03-01", "90.91")]).drift_yearly
    assert 0.045 < drift < 0.095


def test_many_sightings_count_for_more_than_two() -> None:
    few = outlook_of(sightings=[sighting("2024-03-01", "82.64")])
    years = [("2024-03-01", "82.64"), ("2024-09-01", "86.68"), ("2025-03-01", "90.91"), ("2025-09-01", "95.35")]
    many = outlook_of(sightings=[sighting(day, amount) for day, amount in years])
    assert abs(many.drift_yearly - 0.10) < abs(few.drift_yearly - 0.10)


def test_two_prices_a_week_apart_say_almost_nothing_of_the_drift() -> None:
    assert outlook_of(sightings=[sighting("2026-02-22", "95")]).drift_yearly == pytest.approx(0.04, abs=0.002)


def test_a_price_seen_wrongly_promises_no_doubling() -> None:
    outlook = outlook_of(sightings=[sighting("2025-03-01", "10")])
    assert outlook.drift_yearly == 0.3
    assert "held within 30 %" in str(outlook.assumptions[-1])


def test_an_announced_giveaway_leaves_the_drift_alone() -> None:
    change = {"id": "gone", "day": "2025-09-01", "percent": -100, "offer": "rack"}
    outlook = outlook_of(sightings=[sighting("2025-03-01", "90")], price_changes=[change])
    assert outlook.drift_yearly == pytest.approx(0.04)


def test_without_history_the_price_may_wander_by_the_spread_of_yearly_drifts() -> None:
    outlook = outlook_of()
    assert outlook.sigma_weekly * 52**0.5 == pytest.approx(0.04)
    assert outlook.scatter == 0


def test_own_sightings_show_the_scatter() -> None:
    amounts = ["100", "90", "100", "90", "100", "90", "100", "90"]
    seen = [sighting(f"2026-02-{3 + 3 * k:02d}", amount) for k, amount in enumerate(amounts)]
    # residuals of about 5 % are pooled with a prior of none worth four sightings
    assert 0.03 < outlook_of(sightings=seen).scatter < 0.055


def test_a_sale_seen_last_year_is_no_drift() -> None:
    without = outlook_of(sightings=[sighting("2025-06-01", "98")])
    with_sale = outlook_of(sightings=[sighting("2025-06-01", "98"), sighting("2025-11-27", "70", sale=True)])
    assert with_sale.drift_yearly == without.drift_yearly
    assert with_sale.now == 100


def test_an_announced_step_in_the_past_is_no_drift() -> None:
    change = {"id": "step", "day": "2025-09-01", "percent": 10, "offer": "rack"}
    outlook = outlook_of(sightings=[sighting("2025-03-01", "90.91")], price_changes=[change])
    # without the step the regular price stood still, which pulls the drift below the category's
    assert outlook.drift_yearly < 0.04


def test_sightings_after_as_of_are_not_known_yet() -> None:
    outlook = outlook_of(sightings=[sighting("2026-03-03", "50"), sighting("2025-12-01", "98")])
    assert outlook.now == 100
    assert outlook.seen_on == date(2026, 3, 1)


def test_the_latest_sighting_is_the_price_now() -> None:
    outlook = outlook_of(sightings=[sighting("2026-03-02", "104")])
    assert outlook.now == 104
    assert outlook.expected[0] == 104


def test_an_old_price_is_carried_forward_and_flagged() -> None:
    outlook = outlook_of(offer={"seen": "2025-03-02"})
    assert outlook.now == 100
    assert outlook.list_price[0] == pytest.approx(104, abs=0.01)
    assert "price-old" in {note.code for note in outlook.assumptions}


def test_a_price_without_a_day_is_taken_as_todays_and_flagged() -> None:
    outlook = outlook_of(offer={"seen": None})
    assert (outlook.now, outlook.seen_on) == (100, None)
    assert "price-day-unknown" in {note.code for note in outlook.assumptions}


def test_a_sighting_in_another_currency_is_left_out_and_flagged() -> None:
    outlook = outlook_of(sightings=[sighting("2026-03-02", "90", currency="GBP")])
    assert outlook.now == 100
    assert "sighting-currency" in {note.code for note in outlook.assumptions}


@pytest.mark.parametrize(
    ("scope", "touched"),
    [
        ({"offer": "rack"}, True),
        ({"supplier": "north"}, True),
        ({"category": "Steering"}, True),
        ({"supplier": "north", "category": "brakes"}, False),
    ],
)
def test_an_announced_rise_holds_for_what_it_names(scope: dict[str, str], touched: bool) -> None:
    change = {"id": "rise", "day": "2026-03-18", "percent": 10, **scope}
    plain = outlook_of(category="steering")
    changed = outlook_of(category="steering", price_changes=[change])
    # 18 March lies in week 2 (from 16 March); a week's price is that of its first day
    assert np.allclose(changed.list_price[:3], plain.list_price[:3])
    assert np.allclose(changed.list_price[3:], plain.list_price[3:] * (1.1 if touched else 1.0))


def test_a_sale_counts_in_the_weeks_it_touches_only() -> None:
    outlook = outlook_of(sale_windows=[SALE])
    assert list(np.flatnonzero(outlook.sale_chance)) == [4]
    assert outlook.sale_price[4] == pytest.approx(0.8 * outlook.list_price[4])
    # half the time 20 % off
    assert outlook.expected[4] == pytest.approx(0.9 * outlook.list_price[4])
    assert outlook.expected[5] == outlook.list_price[5]


def test_a_sale_leaves_out_excluded_categories() -> None:
    outlook = outlook_of(category="tyres", sale_windows=[{**SALE, "excluded": ["Tyres"]}])
    assert not outlook.sale_chance.any()


def test_the_depth_of_a_sale_is_the_mean_of_its_triangle() -> None:
    # (10 + 20 + 60) / 3 = 30 % off
    outlook = outlook_of(sale_windows=[{**SALE, "depth_percent": {"low": 10, "likely": 20, "high": 60}}])
    assert outlook.sale_price[4] == pytest.approx(0.7 * outlook.list_price[4])


def test_overlapping_sales_do_not_add_up_beyond_the_deepest() -> None:
    deeper = {**SALE, "id": "other", "depth_percent": {"low": 40, "likely": 40, "high": 40}}
    outlook = outlook_of(sale_windows=[SALE, deeper])
    assert outlook.sale_chance[4] == pytest.approx(0.75)
    # the deeper half the time; else the shallower half the time
    assert outlook.expected[4] == pytest.approx((0.5 * 0.6 + 0.25 * 0.8 + 0.25) * outlook.list_price[4])


def test_a_sale_seen_to_be_on_lasts_to_the_end_of_its_window() -> None:
    window = {**SALE, "first": "2026-02-23", "last": "2026-03-15"}
    outlook = outlook_of(sale_windows=[window], sightings=[sighting("2026-02-25", "75", sale=True)])
    assert outlook.now == outlook.today == 75
    assert list(outlook.sale_chance[:3]) == [1, 1, 0]
    assert outlook.expected[0] == pytest.approx(75)


def test_a_regular_price_seen_in_a_window_leaves_the_chance_of_the_days_left() -> None:
    # 20 days, of which the 10 after 1 March are left; seen at the regular price on 1 March
    window = {**SALE, "first": "2026-02-20", "last": "2026-03-11"}
    assert outlook_of(sale_windows=[window]).sale_chance[0] == pytest.approx(0.5 * 10 / 20)


def test_an_offer_can_be_ordered_only_while_it_is_available() -> None:
    outlook = outlook_of(offer={"available_from": "2026-03-11", "available_until": "2026-03-30"}, weeks=8)
    assert list(np.flatnonzero(outlook.available)) == [2, 3, 4]


def test_a_free_offer_stays_free() -> None:
    outlook = outlook_of(offer={"price": price("0")}, sightings=[sighting("2025-12-01", "0")], sale_windows=[SALE])
    assert not outlook.expected.any()


def test_the_text_tells_price_day_drift_and_sale() -> None:
    text = outlook_of(sale_windows=[SALE]).text
    assert text == (
        "100.00 EUR on 1 March 2026; +4.0 % a year; a sale of about 20 % may begin about 30 March 2026 (chance 50 %)."
    )


@pytest.mark.parametrize(
    ("first", "said"), [("2026-03-06", "may begin about 6 March 2026"), ("2026-02-28", "may be on now")]
)
def test_a_sale_that_touches_this_week_is_said_to_begin_on_its_day(first: str, said: str) -> None:
    # the regular price was seen the week before, so that nothing of the chance is used up
    outlook = outlook_of(sale_windows=[{**SALE, "first": first, "last": "2026-03-08"}], offer={"seen": "2026-02-25"})
    assert f"{said} (chance 50 %)" in outlook.text


def test_outlooks_need_a_week_at_least() -> None:
    with pytest.raises(ValueError, match="at least one week"):
        outlook_of(weeks=0)


def test_an_offer_asked_for_alone_is_seen_as_among_all() -> None:
    build, as_of = load_demo(), demo_as_of()
    facts = facts_of(build, as_of)
    together = outlooks(build, facts, weeks=30)
    for offer in build.offers[::9]:
        alone = outlooks(build, facts, weeks=30, offers=[offer.id])
        assert list(alone) == [offer.id]
        assert str(alone[offer.id]) == str(together[offer.id])
