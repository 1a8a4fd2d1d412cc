"""What is known of a dimension, from its readings."""

import math
from datetime import date
from typing import Any

import pytest

from fishplate.build import build_from_data, facts_of
from fishplate.build.interfaces import Instrument, Provenance
from fishplate.fit.readings import DimensionState, _table, dimension_states, pool

DAY = date(2026, 3, 1)


def known(*readings: dict[str, Any], unit: str = "mm", **more: Any) -> tuple[DimensionState | None, list[str]]:
    rows = [
        {"id": f"r{position}", "dimension": "a", "day": "2026-01-10", **reading}
        for position, reading in enumerate(readings)
    ]
    build = build_from_data(
        {"dimensions": [{"id": "a", "name": "Arch height", "unit": unit}], "readings": rows, **more}
    )
    states, said = dimension_states(build, facts_of(build, DAY), ["a"])
    return states.get("a"), [f"{item.code}: {item.text}" for item in said]


def state(*readings: dict[str, Any], **more: Any) -> DimensionState:
    found, _ = known(*readings, **more)
    assert found is not None
    return found


def test_a_dimension_without_a_reading_is_not_known() -> None:
    assert known() == (None, [])


def test_a_reading_after_the_day_is_not_yet_known() -> None:
    assert known({"value": 5, "day": "2026-03-02"}) == (None, [])
    assert state({"value": 5, "day": "2026-03-01"}).value == 5


def test_values_and_spreads_are_held_in_internal_units() -> None:
    found = state({"value": 2, "spread": 0.1}, unit="in")
    assert (found.value, found.half_width) == (pytest.approx(50.8), pytest.approx(2.54))


def test_a_single_reading_keeps_the_shape_of_its_spread() -> None:
    shapes = {
        "limits": ("rectangular", 3 / math.sqrt(3), 3),
        "limits-triangular": ("triangular", 3 / math.sqrt(6), 3),
        "standard-deviation": ("normal", 3, 9),
        "expanded-k2": ("normal", 1.5, 4.5),
    }
    for meaning, (shape, sd, half_width) in shapes.items():
        found = state({"value": 5, "spread": 3, "spread_means": meaning})
        assert (found.shape, found.sd, found.half_width) == (shape, pytest.approx(sd), pytest.approx(half_width))


def test_a_reading_without_spread_takes_the_instruments_and_says_so() -> None:
    found, said = known({"value": 800, "instrument": "tape"})
    assert found is not None
    assert found.default
    assert found.half_width == pytest.approx(1.5)
    assert said == ["spread-default: Arch height: ± 1.5 mm taken as limits, usual for a tape (common practice)"]


def test_a_catalogue_value_takes_the_larger_of_the_absolute_and_the_relative_spread() -> None:
    assert state({"value": 800, "provenance": "catalogue"}).half_width == pytest.approx(8)
    assert state({"value": 80, "provenance": "catalogue"}).half_width == pytest.approx(2)


def test_the_spread_of_an_angle_does_not_depend_on_its_size() -> None:
    small, large = (state({"value": value, "provenance": "estimate"}, unit="deg") for value in (1, 90))
    assert small.half_width == pytest.approx(large.half_width) == pytest.approx(math.radians(5))


def test_a_stand_in_gives_its_own_spread() -> None:
    stand_ins = [{"id": "disc", "name": "Plywood disc", "dimensions": ["a"], "spread": 2}]
    found = state({"value": 380, "provenance": "stand-in"}, stand_ins=stand_ins)
    assert (found.half_width, found.default) == (pytest.approx(2), False)


def test_a_stated_zero_spread_is_exact() -> None:
    found = state({"value": 5, "spread": 0})
    assert (found.random, found.shape) == (False, "exact")


def test_readings_are_pooled_by_their_spreads() -> None:
    found, said = known(
        {"value": 100, "spread": 1, "spread_means": "standard-deviation"},
        {"value": 103, "spread": 2, "spread_means": "standard-deviation"},
    )
    assert found is not None
    assert found.value == pytest.approx(100.6)  # (4 * 100 + 103) / 5
    assert found.sd == pytest.approx(math.sqrt(0.8))
    assert said == []


def test_readings_that_disagree_widen_the_spread_and_say_so() -> None:
    found, said = known(
        {"value": 100, "spread": 1, "spread_means": "standard-deviation"},
        {"value": 110, "spread": 1, "spread_means": "standard-deviation"},
    )
    assert found is not None
    assert found.sd == pytest.approx(math.sqrt(50) / math.sqrt(2))  # chi-square 50, one degree of freedom
    assert "its 2 readings disagree by more than their spreads allow" in said[0]


def test_exact_readings_that_disagree_take_their_scatter() -> None:
    value, sd, shape, ratio = pool([(10.0, 0.0, "exact"), (12.0, 0.0, "exact"), (99.0, 1.0, "normal")])
    assert (value, sd, shape, ratio > 1) == (11, pytest.approx(math.sqrt(2)), "normal", True)


def test_a_coarse_default_beside_a_stated_spread_does_not_make_it_a_default() -> None:
    stated, catalogue = {"value": 800, "spread": 1}, {"value": 801, "provenance": "catalogue"}
    assert not state(stated, catalogue).default
    assert state({**stated, "spread": 40}, catalogue).default


CHANGED = {
    "states": [{"id": "on_springs", "name": "On its old springs"}],
    "events": [{"kind": "changed", "id": "e", "day": "2026-02-01", "state": "on_springs"}],
}


def test_a_reading_goes_stale_when_its_state_changes_after_its_day() -> None:
    before = {"value": 300, "spread": 2, "against": "on_springs"}
    assert state(before, **CHANGED).stale
    assert not state({**before, "day": "2026-02-01"}, **CHANGED).stale
    assert not state({"value": 300, "spread": 2}, **CHANGED).stale


def test_a_reading_of_the_very_day_of_the_change_counts_as_after_it_and_that_is_said() -> None:
    _, said = known({"value": 300, "spread": 2, "against": "on_springs", "day": "2026-02-01"}, **CHANGED)
    assert said == [
        "same-day-reading: Arch height: its reading of 1 February 2026 counts as taken after the change of the same day"
    ]
    _, said = known({"value": 300, "spread": 2, "against": "on_springs", "day": "2026-02-02"}, **CHANGED)
    assert said == []


def test_a_change_after_the_day_does_not_count_yet() -> None:
    late = {**CHANGED, "events": [{"kind": "changed", "id": "e", "day": "2026-03-02", "state": "on_springs"}]}
    assert not state({"value": 300, "spread": 2, "against": "on_springs"}, **late).stale


def test_a_job_done_makes_the_readings_it_changes_stale() -> None:
    jobs = [{"id": "springs", "name": "Springs", "phase": "structure", "hours": {"low": 1, "likely": 2, "high": 3},
             "changes": ["on_springs"]}]  # fmt: skip
    events = [{"kind": "worked", "id": "w", "day": "2026-02-01", "job": "springs", "hours": 2, "done": True}]
    reading = {"value": 300, "spread": 2, "against": "on_springs"}
    assert state(reading, states=CHANGED["states"], jobs=jobs, events=events).stale


def test_a_stale_reading_counts_as_an_estimate() -> None:
    found, said = known({"value": 300, "spread": 2, "against": "on_springs"}, **CHANGED)
    assert found is not None
    assert (found.half_width, found.default) == (pytest.approx(15), True)
    words = "an old reading taken before a change counts as an estimate, ± 15 mm (common practice)"
    assert said == [f"stale-as-estimate: Arch height: {words}"]


def test_a_fresh_reading_replaces_the_stale_ones() -> None:
    stale, fresh = (
        {"value": 300, "spread": 2, "against": "on_springs"},
        {"value": 340, "spread": 2, "day": "2026-02-20"},
    )
    found = state(stale, fresh, **CHANGED)
    assert (found.value, found.stale) == (340, False)


def test_every_instrument_and_provenance_has_a_default_spread() -> None:
    table = _table()
    assert set(table["instrument"]) == set(Instrument.__args__)
    assert set(table["provenance"]) == set(Provenance)
    assert table["source"]
