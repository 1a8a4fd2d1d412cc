"""Room for parts that are not yet fitted: what lies about in each month, by hand, and what could come later."""

from __future__ import annotations

import re
from typing import Any

import pytest
from plan_builds import build_of, job, offer, part, plan_of, supplier

from fishplate.plan import Plan

METRE = [1000, 1000, 1000]
HALF = [1000, 1000, 500]


def planned(room: float | None, **lists: Any) -> Plan:
    """Two doors of a cubic metre in hand, a hood of half of one to be bought; fitted in week ten and thirty."""
    base: dict[str, Any] = {
        "owner": {} if room is None else {"shelf_m3": room},
        "suppliers": [supplier("shop")],
        "parts": [part("door", quantity=2, box_mm=METRE), part("hood", box_mm=HALF), part("trim")],
        "stock": [{"id": "d", "part": "door", "quantity": 2}, {"id": "t", "part": "trim"}],
        "offers": [offer("hood-offer", "hood", "300 EUR")],
        "jobs": [job("strip", 60), job("hang", 12, "strip", to_keep=["door"]), job("paint", 108, "hang"),
                 job("close", 6, "paint", to_keep=["hood", "trim"])],
    }  # fmt: skip
    return plan_of(build_of(**{**base, **lists}))


def test_months_with_more_than_there_is_room_for_are_told_with_the_largest_parts() -> None:
    plan = planned(1.5)
    # the doors lie there from 2 March until they are hung, some ten weeks later
    assert [(month.month, month.m3) for month in plan.shelf][:2] == [("2026-03", 2.0), ("2026-04", 2.0)]
    assert all(month.month < "2026-07" for month in plan.shelf)
    assert plan.shelf[0].large == (("Door", 2.0),)
    assert "March 2026: 2.00 m³ lie about and are not yet fitted, 0.50 m³ more than" in plan.shelf[0].text
    assert "Nothing of it can come later" in plan.shelf[0].later
    assert any(
        each.code == "shelf-unboxed" and "Trim" in each.text and "Door" not in each.text for each in plan.assumptions
    )


@pytest.mark.parametrize("room", [None, 2.6])
def test_nothing_is_told_where_there_is_room_or_nobody_said_how_much(room: float | None) -> None:
    plan = planned(room)
    assert plan.shelf == ()
    assert any(each.code == "shelf-room" for each in plan.assumptions) == (room is not None)


def test_what_is_bought_early_is_said_to_be_bought_later_with_what_that_costs() -> None:
    rise = [{"id": "up", "day": "2026-03-20", "percent": 40, "offer": "hood-offer"}]
    plan = planned(2.2, price_changes=rise)
    (line,) = plan.purchase.lines
    assert line.order_week <= 2  # before it gets dearer
    over = {month.month: month for month in plan.shelf}
    assert over["2026-04"].m3 == 2.5
    assert "Cheapest to buy later, for the room it frees: “Hood” (0.5 m³), in the week of" in over["2026-04"].later
    told = re.search(r"costs about (\d+) EUR more", over["2026-04"].later)
    assert told is not None
    assert 105 <= float(told[1]) <= 130  # a rise of 120 EUR, less what having it early costs, and usual drift
