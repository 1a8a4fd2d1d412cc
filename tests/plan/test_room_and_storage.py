"""What a trip has room for, and what the depot asks for keeping goods until it: both are in the purchases."""

from __future__ import annotations

import math
from typing import Any

import pytest
from plan_builds import build_of, job, offer, part, plan_of, supplier

from fishplate.plan import Plan

DEPOT = {"id": "depot", "name": "Depot", "kind": "collection", "from_country": "DE"}
POST = {"id": "post", "name": "Post", "kind": "courier", "from_country": "DE", "weeks": [1, 1, 2]}


def fetched(
    names: tuple[str, ...] = ("rack", "tank"), *, post: str = "", depot: dict[str, Any] | None = None,
    offers: tuple[dict[str, Any], ...] = ({}, {}), boxed: bool = True, **trip: Any,
) -> Plan:  # fmt: skip
    """The plan of parts of 10 kg in boxes of 0.3 m³, fetched on the trip of 14 April, or sent at so much a kilogram."""
    box = {"box_mm": [1000, 600, 500]} if boxed else {}
    ways = [
        {"route": "depot", "fixed": "5 EUR"},
        *([{"route": "post", "fixed": "5 EUR", "per_kg": post}] if post else []),
    ]
    return plan_of(build_of(
        parts=[part(name, mass_kg=10, **box) for name in names], routes=[DEPOT | (depot or {}), POST],
        suppliers=[supplier("shop", "DE", freight=ways)],
        offers=[offer(f"{name}-a", name, "250 EUR", **more) for name, more in zip(names, offers, strict=False)],
        collections=[{"id": "t1", "route": "depot", "day": "2026-04-14", "distance_km": 100, "per_km": "0.10 EUR",
                      **trip}],
        jobs=[job("strip", 60), job("fit", 4, "strip", to_keep=list(names))],
    ))  # fmt: skip


@pytest.mark.parametrize(("room", "by_trip"), [(0.7, 2), (0.5, 1), (0.2, 0)])
def test_no_more_is_planned_on_a_trip_than_it_has_room_for(room: float, by_trip: int) -> None:
    plan = fetched(post="80 EUR", capacity_m3=room)
    assert sum(line.collection == "t1" for line in plan.purchase.lines) == by_trip
    assert len(plan.purchase.lines) == 2


def test_room_that_is_missing_is_named_with_the_trip_and_how_much() -> None:
    plan = fetched(capacity_m3=0.5)
    assert plan.purchase.clash is not None
    assert "the trip of 14 April has room for 0.5 m³" in plan.purchase.clash.text
    assert plan.purchase.clash.ways_out[0].startswith("room for 0.1 m³ more on the trip of 14 April")


def test_a_part_without_a_box_takes_no_room_and_that_is_said() -> None:
    plan = fetched(capacity_m3=0.5, boxed=False)
    assert [line.collection for line in plan.purchase.lines] == ["t1", "t1"]
    said = {assumption.text for assumption in plan.assumptions}
    assert "the packed size of rack is not known: it is counted as taking no room on a trip" in said
    assert not [
        text for text in {each.text for each in fetched(boxed=False).assumptions} if "no room on a trip" in text
    ]


# Sold until 8 March, so ordered on 2 March; sent at once it is at the depot on the 4th, 41 days before the trip.
NOW = {"lead_weeks": [0, 0, 0], "available_until": "2026-03-08"}
STORED = {"storage_free_days": 7, "storage_per_day": "3 EUR"}


def storage(plan: Plan) -> list[tuple[float, str]]:
    lines = [line for item in plan.purchase.consignments for line in item.lines]
    return [(line.amount, line.note) for line in lines if line.rule == "general.storage"]


def test_storage_is_asked_once_for_a_consignment_from_the_day_the_first_of_it_is_there() -> None:
    """By the calendar: from 4 March to 14 April are 41 days, 34 beyond the seven free ones, at 3 EUR."""
    plan = fetched(depot=STORED, offers=(NOW, NOW | {"lead_weeks": [1, 1, 1]}))
    assert storage(plan) == [(102, "there about 4 March: 34 days after 7 free ones, at 3.00 EUR a day")]
    (item,) = plan.purchase.consignments
    assert math.isclose(sum(line.amount for line in item.lines), item.total, abs_tol=0.005)
    assert "general.storage" in {rule.id for rule in item.rules}
    free = fetched(offers=(NOW, NOW | {"lead_weeks": [1, 1, 1]}))
    assert storage(free) == []
    assert plan.purchase.total - free.purchase.total == pytest.approx(102, abs=0.02)


@pytest.mark.parametrize(("per_day", "by_trip"), [("0.50 EUR", True), ("3 EUR", False)])
def test_what_storage_costs_decides_whether_goods_wait_for_a_trip(per_day: str, by_trip: bool) -> None:
    """Sent for 75 EUR, or fetched for 15 EUR and 17 or 102 EUR of storage; neither comes too late."""
    plan = fetched(("rack",), post="7 EUR", depot=STORED | {"storage_per_day": per_day}, offers=(NOW,))
    assert [line.collection for line in plan.purchase.lines] == ["t1" if by_trip else None]


def test_goods_are_ordered_for_a_trip_in_a_week_in_which_they_are_kept_for_nothing() -> None:
    (line,) = fetched(("rack",), depot=STORED, offers=({"lead_weeks": [0, 0, 0]},)).purchase.lines
    assert 7 * line.order_week + 2.1 >= 43 - 8


def test_nothing_is_planned_to_reach_the_depot_after_the_trip() -> None:
    """The trip is in six weeks; what takes seven is sent, however dear."""
    soon, late = (
        fetched(("rack",), post="80 EUR", offers=({"lead_weeks": [weeks, weeks, weeks]},)).purchase.lines
        for weeks in (2, 7)
    )
    assert ([line.collection for line in soon], [line.collection for line in late]) == (["t1"], [None])
