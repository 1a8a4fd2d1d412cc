"""What the owner has put off is not done before its day, and the plan says so."""

from datetime import date, timedelta

from fishplate.build import Build, build_from_data
from fishplate.plan import plan
from fishplate.wiring import situation

TODAY = date(2026, 3, 2)


def _build(**more: object) -> Build:
    data = {
        "owner": {"hours_per_week": 5, "week_delay_cost": "60", "currency": "EUR"},
        "suppliers": [{"id": "shop", "name": "Shop", "country": "NL", "currency": "EUR"}],
        "parts": [{"id": "hose", "name": "Hose"}],
        "offers": [
            {
                "id": "hose-shop",
                "supplier": "shop",
                "part": "hose",
                "price": {"amount": "40", "currency": "EUR"},
                "lead_weeks": {"low": 1, "likely": 1, "high": 2},
            }
        ],
        "jobs": [
            {
                "id": "fit-hose",
                "name": "Fit the hose",
                "phase": "assembly",
                "hours": {"low": 4, "likely": 5, "high": 6},
                "to_keep": ["hose"],
            }
        ],
        **more,
    }
    return build_from_data(data)


def test_an_order_put_off_is_planned_no_sooner_than_its_day() -> None:
    until = TODAY + timedelta(weeks=5)
    put_off = [{"kind": "buy", "what": "hose-shop", "until": until.isoformat(), "why": "short of cash"}]
    before = plan(situation(_build(), TODAY))
    after = plan(situation(_build(put_off=put_off), TODAY))
    assert before.purchase.lines[0].order_by < until <= after.purchase.lines[0].order_by
    assert after.finish.p50 is not None
    assert before.finish.p50 is not None
    assert after.finish.p50 > before.finish.p50
    assert any(item.code == "put-off" and "short of cash" in item.text for item in after.assumptions)


def test_a_day_that_has_come_puts_nothing_off() -> None:
    put_off = [{"kind": "buy", "what": "hose-shop", "until": TODAY.isoformat()}]
    assert plan(situation(_build(put_off=put_off), TODAY)).purchase == plan(situation(_build(), TODAY)).purchase
