"""What to measure next: readings, stand-ins, enquiries, early purchases; alone and for an evening."""

from datetime import date
from typing import Any

import pytest

from fishplate.build import Build, build_from_data, facts_of
from fishplate.fit import MeasurePlan, assess, measure_next, study

DAY = date(2026, 3, 1)
TOLD = {"provenance": "catalogue", "day": "2026-01-10"}
COSTS = {"late_hours": {"low": 0, "likely": 0, "high": 0}, "late_cost": 1000, "early_cost": 200}


def arch(**more: Any) -> Build:
    """A tyre to come, of which a catalogue tells diameter and width, in an arch that was measured coarsely."""
    data: dict[str, Any] = {
        "owner": {"hour_worth": 15},
        "parts": [{"id": "tyre", "name": "Tyre"}],
        "suppliers": [{"id": "shop", "name": "Tyre shop", "country": "NL", "currency": "EUR"}],
        "offers": [{"id": "o", "supplier": "shop", "part": "tyre", "price": {"amount": "120", "currency": "EUR"},
                    "returns": {"days": 14, "restocking_percent": 10}}],
        "interfaces": [{"id": "i", "name": "Tyre in arch", "parts": ["tyre"]}],
        "dimensions": [
            {"id": "room", "name": "Room in the arch", "minutes": 20, "tools": ["tape"]},
            {"id": "radius", "name": "Tyre radius", "part": "tyre", "minutes": 10},
            {"id": "width", "name": "Tyre width", "part": "tyre", "minutes": 10},
        ],
        "readings": [
            {"id": "r1", "dimension": "room", "value": 380, "spread": 8, "instrument": "tape", "day": "2026-01-10"},
            {"id": "r2", "dimension": "radius", "value": 362, "spread": 6, **TOLD},
            {"id": "r3", "dimension": "width", "value": 216, "spread": 8, **TOLD},
        ],
        "conditions": [
            {"id": "up", "interface": "i", "name": "Up", "expression": "room - radius", "at_least": "15 mm", **COSTS},
            {"id": "side", "interface": "i", "name": "Beside", "expression": "width", "at_most": "218 mm", **COSTS},
        ],
        "stand_ins": [{"id": "disc", "name": "Plywood disc", "dimensions": ["radius", "width"], "hours": 1.5,
                       "cost": 12, "spread": 2}],
    }  # fmt: skip
    return build_from_data(data | more)


def plan_of(build: Build, **budget: Any) -> MeasurePlan:
    facts = facts_of(build, DAY)
    return measure_next(build, facts, study(build, facts), **budget)


def test_every_way_of_knowing_is_named_with_what_it_takes() -> None:
    found = {item.way.id: item for item in plan_of(arch()).measures}
    assert set(found) == {
        "reading:room", "reading:radius", "reading:width", "stand-in:disc", "enquiry:tyre", "early purchase:tyre",
    }  # fmt: skip
    disc = found["stand-in:disc"]
    assert (disc.way.dimensions, disc.way.minutes, disc.way.money) == (("radius", "width"), 90, 12)
    assert disc.cost == pytest.approx(1.5 * 15 + 12)
    assert found["reading:radius"].way.blocked_by_part == "tyre"
    assert found["enquiry:tyre"].way.minutes == 15


def test_a_stand_in_is_worth_what_its_dimensions_tell_together() -> None:
    found = {item.way.id: item for item in plan_of(arch()).measures}
    # radius and width bear on conditions of their own here: the values add up
    report = assess(arch(), facts_of(arch(), DAY))
    alone = {item.dimension: item.value for item in report.measures}
    assert found["stand-in:disc"].value == pytest.approx(alone["radius"] + alone["width"], rel=0.1)
    assert found["stand-in:disc"].value > 50


def test_an_early_purchase_costs_what_it_ties_up_and_what_going_back_may_cost() -> None:
    build = arch()
    early = next(item for item in plan_of(build).measures if item.way.means == "early purchase")
    misfit = assess(build, facts_of(build, DAY)).misfit_chance["tyre"]
    # 120 for eight weeks at 4 % a year, and a tenth of it where the tyre goes back
    assert early.way.money == pytest.approx(120 * 0.04 * 8 / 52 + misfit * 12, rel=1e-6)


def test_a_part_that_cannot_go_back_is_dear_to_buy_early() -> None:
    offer = arch().offers[0].model_dump(mode="json") | {"made_to_order": True}
    early = next(item for item in plan_of(arch(offers=[offer])).measures if item.way.means == "early purchase")
    assert early.way.money > 20


def test_an_early_purchase_abroad_needs_a_rate() -> None:
    offer = arch().offers[0].model_dump(mode="json") | {"price": {"amount": "100", "currency": "GBP"}}
    build = arch(offers=[offer])
    plain = plan_of(build)
    assert "early-purchase-rate" in {item.code for item in plain.assumptions}
    assert all(item.way.means != "early purchase" for item in plain.measures)
    rated = plan_of(build, rates={"GBP": 1.2})
    assert any(item.way.means == "early purchase" for item in rated.measures)


def test_sentences_are_those_of_somebody_who_builds() -> None:
    texts = {item.way.id: item.text for item in plan_of(arch()).measures}
    assert texts["reading:room"].startswith("Measure the room in the arch again with the tape: 20 minutes, expected to")
    assert texts["stand-in:disc"].startswith(
        "Settle the tyre radius and the tyre width with the plywood disc: 90 minutes and 12 EUR, expected to save"
    )
    assert texts["enquiry:tyre"].startswith("Ask Tyre shop for the tyre radius and the tyre width: 15 minutes, ")
    assert texts["early purchase:tyre"].startswith(
        "Buy the tyre early and measure the tyre radius and the tyre width: 20 min"
    )
    assert texts["reading:radius"].endswith("once the tyre is in hand.")


def test_an_evening_takes_only_what_can_be_begun_and_fits_in() -> None:
    evening = plan_of(arch(), minutes=40, money=0)
    assert evening.minutes <= 40
    assert {item.way.id for item in evening.chosen} <= {"reading:room", "enquiry:tyre"}
    assert evening.exact
    assert evening.bound == pytest.approx(evening.net)
    assert "no other choice saves more" in evening.text
    assert plan_of(arch(), minutes=5).chosen == ()
    assert "Nothing that can be measured now" in plan_of(arch(), minutes=5).text


def test_more_time_never_saves_less() -> None:
    nets = [plan_of(arch(), minutes=minutes).net for minutes in (10, 20, 40, 90, 200)]
    assert nets == sorted(nets)


def test_a_dimension_told_twice_is_not_told_twice_as_well() -> None:
    plan = plan_of(arch())
    alone = {item.way.id: item.value for item in plan.measures}
    assert plan.value < sum(alone[item.way.id] for item in plan.chosen) + 1e-6
    assert not {"stand-in:disc", "enquiry:tyre"} <= {item.way.id for item in plan.chosen}


def test_readings_that_a_condition_lacks_together_are_chosen_together() -> None:
    names = ["gap", "lip"]
    build = build_from_data({
        "interfaces": [{"id": "i", "name": "Place"}],
        "dimensions": [{"id": name, "name": name} for name in names],
        "conditions": [
            {"id": "c", "interface": "i", "name": "C", "expression": "gap - lip", "at_least": "1 mm", **COSTS}
        ],
    })  # fmt: skip
    plan = plan_of(build)
    assert [item.way.id for item in plan.chosen] == ["reading:gap", "reading:lip"]
    # one in four fails: 200 to put it right now, a quarter of that if it is known
    assert plan.value == pytest.approx(150)
    assert [item.value for item in plan.measures] == [pytest.approx(75), pytest.approx(75)]


def test_the_report_prefers_what_can_be_begun() -> None:
    report = assess(arch(), facts_of(arch(), DAY))
    found = {item.dimension: item for item in report.measures}
    assert found["radius"].means in ("enquiry", "stand-in")
    assert found["radius"].blocked_by_part == "tyre"
    assert found["room"].means == "reading"
    assert all(item.net == pytest.approx(item.value - item.cost) for item in report.measures)
