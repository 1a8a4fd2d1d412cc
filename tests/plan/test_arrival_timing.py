"""Until when an offer may be waited for, and what held orders wait for."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from plan_builds import AS_OF, build_of, part, plan_of, supplier

from fishplate.plan.model import OfferTiming


def timings(**lists: object) -> dict[str, OfferTiming]:
    plan = plan_of(build_of(**lists))
    return {timing.offer: timing for timing in plan.purchase.timings}


def a_build(lead: list[float], *, quantity: float = 1, pack: float = 1, delay: float = 50) -> dict[str, object]:
    """One job of some weeks, then one that needs a part."""
    return {
        "owner": {"week_delay_cost": delay},
        "parts": [part("pump", quantity=quantity)],
        "suppliers": [supplier("shop")],
        "offers": [
            {
                "id": "pump-shop",
                "supplier": "shop",
                "part": "pump",
                "price": "400 EUR",
                "pack": pack,
                "lead_weeks": lead,
            }
        ],
        "jobs": [
            {"id": "before", "name": "Before", "hours": [60, 60, 60]},
            {"id": "fit", "name": "Fit", "hours": [6, 6, 6], "after": ["before"], "to_keep": ["pump"]},
        ],
    }


def test_what_takes_longer_to_come_may_wait_less_long() -> None:
    quick, slow = timings(**a_build([1, 1, 1]))["pump-shop"], timings(**a_build([5, 5, 5]))["pump-shop"]
    assert quick.needed == slow.needed
    assert slow.last_safe < quick.last_safe
    assert slow.last_safe >= AS_OF


def test_dearer_lateness_orders_earlier() -> None:
    cheap, dear = timings(**a_build([2, 4, 8], delay=2)), timings(**a_build([2, 4, 8], delay=500))
    assert dear["pump-shop"].last_safe < cheap["pump-shop"].last_safe


def test_units_bring_all_that_is_missing() -> None:
    assert timings(**a_build([1, 1, 1], quantity=5, pack=2))["pump-shop"].units == 3


def test_without_any_date_half_a_year_is_taken() -> None:
    found = timings(
        parts=[part("pump")],
        suppliers=[supplier("shop")],
        offers=[{"id": "pump-shop", "supplier": "shop", "part": "pump", "price": "400 EUR"}],
    )["pump-shop"]
    assert found.needed is None
    assert found.last_safe == date.fromordinal(AS_OF.toordinal() + 26 * 7)


def test_what_is_owned_has_no_timing() -> None:
    build = a_build([1, 1, 1])
    build["stock"] = [{"id": "own", "part": "pump"}]
    assert timings(**build) == {}


def test_a_held_order_names_all_it_waits_for() -> None:
    build = a_build([1, 1, 1])
    build["dimensions"] = [{"id": "bore", "name": "Bore", "unit": "mm"}, {"id": "reach", "name": "Reach", "unit": "mm"}]
    build["decisions"] = [
        {"id": "how", "name": "How", "think_weeks": 2, "options": [{"id": "a", "name": "A"}, {"id": "b", "name": "B"}]}
    ]
    build["releases"] = [{"id": "hold", "part": "pump", "dimensions": ["bore", "reach"], "decisions": ["how"]}]
    purchase = plan_of(build_of(**build)).purchase
    assert purchase.waits == {"pump-shop": (("decide", "how"), ("measure", "bore"), ("measure", "reach"))}
    assert set(purchase.waits) == set(purchase.held)


def test_what_waiting_costs_beyond_the_price_is_told_week_by_week() -> None:
    waits = timings(**a_build([2, 3, 5]))["pump-shop"].waits
    assert list(waits.weeks) == sorted(set(waits.weeks))
    # the later it is ordered the likelier it comes late, and the shorter it lies about
    assert list(waits.late) == sorted(waits.late)
    assert waits.late[-1] > 10
    assert waits.keeping[0] > waits.keeping[-1] >= 0
    late, keeping = waits.at(np.array([0.5, 500.0]))
    assert waits.late[0] <= late[0] <= waits.late[-1] == late[1]
    assert keeping[1] == waits.keeping[-1]


def test_lateness_is_told_for_one_of_several_packs() -> None:
    one, three = (timings(**a_build([2, 3, 5], quantity=count))["pump-shop"].waits for count in (1, 3))
    assert three.late[-1] * 3 == pytest.approx(one.late[-1], rel=0.02)


def test_room_that_costs_nothing_lets_a_part_lie_at_the_price_of_money_alone() -> None:
    plain = plan_of(build_of(**a_build([2, 3, 5])))
    own = plan_of(build_of(**{**a_build([2, 3, 5]), "owner": {"week_delay_cost": 50, "keeping_percent": 0}}))
    assert own.purchase.timings[0].keeping_per_week == pytest.approx(0.04 / 52)
    assert plain.purchase.timings[0].keeping_per_week == pytest.approx(0.10 / 52)
    codes = [{item.code for item in plan.assumptions} for plan in (plain, own)]
    assert ["keeping-default" in found for found in codes] == [True, False]
