"""Builds meant to break the arithmetic: no spread, too fine a one, poles, perfect correlation, limits in a circle."""

import dataclasses
import math
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import numpy as np
import pytest

from fishplate.build import Build, Refused, build_from_data, facts_of
from fishplate.fit import ConditionResult, assess, measure_next, provision, study, tolerance_budget
from fishplate.fit.draws import JointDraws
from fishplate.fit.readings import DimensionState

DAY = date(2026, 3, 1)
DEVIATION = "standard-deviation"
STATES = {
    "states": [{"id": "s", "name": "On its old springs"}],
    "events": [{"id": "e", "kind": "changed", "day": "2026-02-01", "state": "s"}],
}


def read(name: str, value: float, spread: float | None = None, means: str = "limits", **fields: Any) -> dict[str, Any]:
    return {"id": f"r_{name}", "dimension": name, "value": value, "spread": spread, "spread_means": means,
            "day": "2026-01-01", **fields}  # fmt: skip


def built(
    readings: list[dict[str, Any]], *conditions: dict[str, Any], also: tuple[dict[str, Any], ...] = (), **lists: Any
) -> Build:
    names = dict.fromkeys(reading["dimension"] for reading in readings)
    named = {item["id"] for item in also}
    return build_from_data({
        "interfaces": [{"id": "i", "name": "Place"}],
        "dimensions": [*also, *({"id": name, "name": name} for name in names if name not in named)],
        "readings": readings,
        "conditions": [{"id": f"c{number}", "interface": "i", "name": f"Condition {number}", **each}
                       for number, each in enumerate(conditions)],
        **lists,
    })  # fmt: skip


def not_finite(item: Any, path: str = "") -> Iterator[str]:
    """Places of figures that are not finite."""
    if isinstance(item, float) and not math.isfinite(item):
        yield path
    elif dataclasses.is_dataclass(item):
        for field in dataclasses.fields(item):
            yield from not_finite(getattr(item, field.name), f"{path}.{field.name}")
    elif isinstance(item, Mapping):
        for key, value in item.items():
            yield from not_finite(value, f"{path}[{key}]")
    elif isinstance(item, tuple | list):
        for position, value in enumerate(item):
            yield from not_finite(value, f"{path}[{position}]")


def results(build: Build) -> list[ConditionResult]:
    """What is found of each condition; nothing of the whole report, the evening or the budgets is without a figure."""
    facts = facts_of(build, DAY)
    report, studied = assess(build, facts, samples=4000), study(build, facts, samples=4000)
    budgets = [tolerance_budget(build, facts, each.condition, chance=0.99) for each in report.conditions]
    evening = measure_next(build, facts, studied, minutes=100, money=100)
    assert list(not_finite((report, evening, budgets))) == []
    return list(report.conditions)


def two(*conditions: dict[str, Any], coefficient: float, spreads: tuple[float, float] = (1.0, 1.0)) -> Build:
    pair = [{"first": "a", "second": "b", "coefficient": coefficient}]
    readings = [read(name, 5, sd, DEVIATION) for name, sd in zip("ab", spreads, strict=True)]
    return built(readings, *conditions, correlations=pair)


# --- spreads ---


def test_without_spread_a_limit_that_is_just_reached_holds_and_just_missed_fails() -> None:
    limits = ({"at_least": "5 mm"}, {"at_least": "5.0001 mm"}, {"at_most": "5 mm"})
    found = results(built([read("a", 5, 0)], *({"expression": "a", **limit} for limit in limits)))
    assert [item.chance for item in found] == [1.0, 0.0, 1.0]


@pytest.mark.parametrize("size", [1e3, 1e5, 1e7])
def test_a_spread_too_fine_for_single_precision_is_drawn_all_the_same(size: float) -> None:
    readings = [read("a", size + 0.001, 1e-4, DEVIATION), read("b", size, 1e-4, DEVIATION)]
    even, likely = results(
        built(readings, {"expression": "a - b", "at_least": "0.001 mm"},
              {"expression": "a - b", "at_least": "0.0009 mm"})
    )  # fmt: skip
    assert even.chance == pytest.approx(0.5, abs=0.01)
    # 0.0001 over 0.0001 times the root of two
    assert likely.chance == pytest.approx(0.7602, abs=0.01)
    assert sum(even.shares.values()) == pytest.approx(1, abs=0.02)


def test_double_precision_is_taken_only_where_it_is_asked_for() -> None:
    def kind(value: float, sd: float) -> type:
        return JointDraws({"a": DimensionState("a", value, sd, "normal")}, (), samples=100, seed=1).dtype

    assert kind(3000, 0.05) is np.float32
    assert kind(3000, 1e-4) is np.float64
    assert kind(1e12, 1e9) is np.float64


def test_figures_beyond_any_vehicle_are_refused() -> None:
    for reading in (read("a", 1e300, 1), read("a", 1, 1e300), read("a", 1, -1)):
        with pytest.raises(Refused):
            built([reading], {"expression": "a", "at_least": "1 mm"})


# --- arithmetic ---


@pytest.mark.parametrize("text", ["a / (b - b)", "a / (a - b)", "(a - b) ^ -1 * a", "(b - b) / (b - b)"])
def test_what_is_divided_by_zero_has_no_value_and_does_not_fit(text: str) -> None:
    (found,) = results(built([read("a", 5, 0), read("b", 5, 0)], {"expression": text, "at_least": "2"}))
    assert found.chance is not None
    assert found.chance < 0.001
    assert found.nominal is None


def test_a_pole_within_the_spread_costs_no_chance_beside_it() -> None:
    (found,) = results(built([read("a", 1, 1e-6), read("b", 0, 1)], {"expression": "a / b", "at_least": "2"}))
    # 1 / b reaches 2 for b from 0 to a half: a quarter of the limits
    assert found.chance == pytest.approx(0.25, abs=0.01)


def test_a_root_or_arc_that_has_no_value_on_some_draws_fails_there() -> None:
    readings = [read("a", 5, 1), read("b", 5, 1)]
    root, arc = results(built(readings, {"expression": "sqrt((a - b) * a)", "at_least": "0 mm"},
                              {"expression": "asin(a / b)", "at_least": "1 deg"}))  # fmt: skip
    assert root.chance == pytest.approx(0.5, abs=0.01)
    assert arc.chance == pytest.approx(0.5, abs=0.01)


def test_limits_in_a_circle_are_judged_together() -> None:
    build = built([read("a", 5, 1), read("b", 5, 1)], {"expression": "a", "at_least": "b"},
                  {"expression": "b", "at_least": "a"})  # fmt: skip
    first, second = results(build)
    assert first.chance == pytest.approx(0.5, abs=0.01)
    assert second.chance == pytest.approx(0.5, abs=0.01)
    whole = assess(build, facts_of(build, DAY), samples=4000).interfaces[0]
    assert whole.chance is not None
    assert whole.chance < 0.01


def test_a_limit_on_itself_and_limits_that_cross_are_what_they_say() -> None:
    own, crossed = results(built([read("a", 5, 1), read("low", 6, 0.5), read("high", 4, 0.5)],
                                 {"expression": "a", "at_least": "a"},
                                 {"expression": "a", "at_least": "low", "at_most": "high"}))  # fmt: skip
    assert own.chance is not None
    assert crossed.chance is not None
    assert own.chance > 0.99
    assert crossed.chance < 0.01


# --- correlation ---


@pytest.mark.parametrize("coefficient", [1.0, 0.999999, -1.0])
def test_perfect_correlation_leaves_only_what_differs(coefficient: float) -> None:
    (found,) = results(two({"expression": "a - b", "at_least": "-0.01 mm"}, coefficient=coefficient, spreads=(1, 1)))
    assert found.chance is not None
    if coefficient > 0:
        assert found.chance > 0.999
    else:
        assert found.chance == pytest.approx(0.502, abs=0.01)


def test_three_in_perfect_step_and_three_that_contradict() -> None:
    pairs = [("a", "b"), ("b", "c"), ("a", "c")]
    readings = [read(name, 5, 1, DEVIATION) for name in "abc"]
    condition = {"expression": "a + b + c", "at_least": "12 mm"}

    def linked(*coefficients: float) -> list[dict[str, Any]]:
        return [{"first": a, "second": b, "coefficient": r} for (a, b), r in zip(pairs, coefficients, strict=True)]

    (found,) = results(built(readings, condition, correlations=linked(1, 1, 1)))
    assert found.chance == pytest.approx(0.8413, abs=0.005)  # one standard deviation of three together
    with pytest.raises(Refused, match="cannot all hold at once"):
        built(readings, condition, correlations=linked(0.9, 0.9, -0.9))


def test_an_exact_dimension_takes_no_part_in_a_correlation() -> None:
    pairs = [{"first": "a", "second": "b", "coefficient": 0.99}]
    readings = [read("a", 5, 1, DEVIATION), read("b", 5, 0)]
    (found,) = results(built(readings, {"expression": "a + b", "at_least": "10 mm"}, correlations=pairs))
    assert found.chance == pytest.approx(0.5, abs=0.01)


# --- age, heat, provisions ---


def test_a_fresh_reading_takes_the_place_of_a_stale_one_and_one_of_the_same_day_holds() -> None:
    stale, fresh = read("a", 5, 1, against="s"), read("a", 50, 1, against="s", id="r2", day="2026-02-02")
    limit = {"expression": "a", "at_least": "20 mm"}
    (found,) = results(built([stale, fresh], limit, **STATES))
    assert (found.chance, found.stale) == (1.0, ())
    (old,) = results(built([stale], limit, **STATES))
    assert (old.verdict, old.stale) == ("not known", ("a",))
    (same,) = results(built([{**fresh, "day": "2026-02-01"}], limit, **STATES))
    assert same.stale == ()


def test_an_area_grows_by_both_its_lengths() -> None:
    plate = {"id": "a", "name": "Plate", "unit": "cm**2", "material": "steel", "runs_at_c": 520}
    (area,) = results(built([read("a", 100, 0)], {"expression": "a", "at_least": "1 cm^2", "hot": True}, also=(plate,)))
    assert area.nominal == pytest.approx(100 * 1.006**2)


def test_heat_moves_limits_too_and_only_lengths() -> None:
    pipe = {"id": "a", "name": "Pipe", "material": "steel", "runs_at_c": 520}
    turn = {"id": "turn", "name": "Turn", "unit": "deg", "material": "steel", "runs_at_c": 520}
    readings = [read("a", 1000, 0), read("b", 1005, 0), read("turn", 10, 0)]
    conditions = [
        {"expression": "b - a", "at_least": "0 mm", "hot": True},
        {"expression": "b", "at_least": "a", "hot": True},
        {"expression": "turn", "at_least": "10 deg", "hot": True},
    ]
    gap, limit, angle = results(built(readings, *conditions, also=(pipe, turn)))
    # 12e-6 a kelvin over 500 kelvin: 6 mm on a metre
    assert gap.nominal == pytest.approx(-1.0)
    assert (gap.chance, limit.chance, angle.chance) == (0.0, 0.0, 1.0)


def test_a_provision_that_moves_nothing_is_not_given_a_value() -> None:
    made = {"id": "a", "name": "Pad", "provision": True}
    build = built([read("b", 1, 1)], {"expression": "a * 0 + b", "at_least": "5 mm"}, also=(made,))
    found = provision(build, facts_of(build, DAY), "a")
    assert found.value is None
    assert found.text == "Pad: no open condition depends on it, so nothing says what to make it."
