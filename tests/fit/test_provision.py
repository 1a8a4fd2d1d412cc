"""What to make a dimension while its counterpart is unknown."""

import math
from datetime import date
from typing import Any

import pytest
from scipy import stats

from fishplate.build import Build, build_from_data, facts_of
from fishplate.fit import Provision, provision

DAY = date(2026, 3, 1)


def cable(
    *, little: float | None = None, much: float | None = None, making: float | None = 0.0, run_sd: float = 3.0,
    **condition: Any,
) -> Build:  # fmt: skip
    """A cable to order for a run that is known as N(500, 3): 2 to 8 mm longer than it."""
    readings = [{"id": "r", "dimension": "run", "value": 500, "spread": run_sd, "spread_means": "standard-deviation"}]
    if making is not None:
        readings.append({"id": "m", "dimension": "cable", "value": 480, "spread": making})
    limits = condition or {"at_least": "2 mm", "at_most": "8 mm"}
    costs = {"late_hours": {"low": 0, "likely": 0, "high": 0}, "late_cost": 100}
    return build_from_data({
        "interfaces": [{"id": "i", "name": "Cable"}],
        "dimensions": [
            {"id": "cable", "name": "Cable", "provision": True, "too_little_cost": little, "too_much_cost": much},
            {"id": "run", "name": "Run"},
        ],
        "readings": [{**reading, "day": "2026-01-10"} for reading in readings],
        "conditions": [{"id": "c", "interface": "i", "name": "Slack", "expression": "cable - run", **limits, **costs}],
    })  # fmt: skip


def made(build: Build, dimension: str = "cable") -> Provision:
    return provision(build, facts_of(build, DAY), dimension)


@pytest.mark.parametrize(("little", "much"), [(100, 100), (300, 100), (100, 300), (600, 100)])
def test_too_little_is_weighed_against_too_much(little: float, much: float) -> None:
    # least of l Phi((2 - x)/s) + m Phi((x - 8)/s), x what it is longer by: the densities there are as m to l,
    # so x = 5 + s^2 ln(l/m) / 6
    found = made(cable(little=little, much=much))
    assert found.value == pytest.approx(505 + 9 * math.log(little / much) / 6, abs=0.12)
    assert found.low is not None
    assert found.high is not None
    assert found.low < found.value < found.high


@pytest.mark.parametrize(("little", "much"), [(1000, 10), (10, 1000)])
def test_costs_far_apart_are_weighed_by_the_cheaper_of_the_two(little: float, much: float) -> None:
    # half as fine as the window is wide: x = 5 +- 2.25 ln(100) / 6, and no more than a fortieth dearer than the least
    found = made(cable(little=little, much=much, run_sd=1.5))
    best = 5 + math.copysign(2.25 * math.log(100) / 6, little - much)

    def cost(value: float) -> float:
        return float(little * stats.norm.cdf((2 - value) / 1.5) + much * stats.norm.sf((8 - value) / 1.5))

    assert found.value is not None
    assert found.value == pytest.approx(500 + best, abs=0.15)
    assert cost(found.value - 500) <= 1.025 * cost(best)


def relation(expression: str, *, unit: str = "mm", run: float = 500, run_sd: float = 3, **limits: str) -> Provision:
    """What to make a plate that is related to a run known as N(500, 3), made as good as exactly."""
    spread = {"spread_means": "standard-deviation", "day": "2026-01-10"}
    build = build_from_data({
        "interfaces": [{"id": "i", "name": "Plate"}],
        "dimensions": [
            {"id": "plate", "name": "Plate", "unit": unit, "provision": True, "too_little_cost": 300,
             "too_much_cost": 100},
            {"id": "run", "name": "Run"},
        ],
        "readings": [
            {"id": "r", "dimension": "run", "value": run, "spread": run_sd, **spread},
            {"id": "m", "dimension": "plate", "value": 1, "spread": 0.001, **spread},
        ],
        "conditions": [{"id": "c", "interface": "i", "name": "Fit", "expression": expression, **limits}],
    })  # fmt: skip
    return made(build, "plate")


# least of 300 Phi((-5 - x)/3) + 100 Phi((x - 5)/3): x = 9 ln(3) / 10
AHEAD = 9 * math.log(3) / 10


@pytest.mark.parametrize(
    ("expression", "limits", "value"),
    [
        ("plate - run", ("-5 mm", "5 mm"), 500 + AHEAD),
        ("plate / 2 - run", ("-5 mm", "5 mm"), 2 * (500 + AHEAD)),
        ("plate / 100 - run", ("-5 mm", "5 mm"), 100 * (500 + AHEAD)),
        ("abs(plate - run)", (None, "5 mm"), 500 + AHEAD),
        ("plate * plate / 1000 mm - run", ("-5 mm", "5 mm"), math.sqrt(1000 * (500 + AHEAD))),
        ("run - plate", ("-5 mm", "5 mm"), 500 + AHEAD),
    ],
)
def test_the_best_value_is_found_wherever_it_lies(
    expression: str, limits: tuple[str | None, str], value: float
) -> None:  # fmt: skip
    found = relation(
        expression, **{name: text for name, text in zip(("at_least", "at_most"), limits, strict=True) if text}
    )
    spread = 3 * (value / 500) / (2 if "plate * plate" in expression else 1)
    assert (found.open_below, found.open_above) == (False, False)
    assert found.value == pytest.approx(value, abs=0.08 * spread)
    assert found.text.count("too much") == 1


def test_an_angle_stays_within_half_a_turn() -> None:
    found = relation("run * sin(plate)", unit="deg", at_least="20 mm", at_most="24 mm")
    assert found.value == pytest.approx(math.degrees(math.asin(22 / 500)), abs=0.1)


def test_what_has_no_value_below_is_too_little() -> None:
    found = relation("sqrt(plate ^ 2 - run ^ 2)", at_least="20 mm")
    assert (found.open_below, found.open_above) == (False, True)
    assert found.value == pytest.approx(500.4 + 3 * 3.0, abs=0.6)


def test_a_value_that_must_keep_away_keeps_away() -> None:
    found = relation("abs(plate - run)", at_least="5 mm")
    assert found.open_above
    assert found.value == pytest.approx(505 + 3 * 3.09, abs=0.5)


def test_where_no_value_is_likely_to_do_it_is_said() -> None:
    found = relation("plate - run", at_least="-0.1 mm", at_most="0.1 mm")
    assert (found.chance or 0) < 0.1
    assert "No value is likely to do while the run is known no better: measure that first." in found.text
    apart = relation("abs(abs(plate - run) - 50 mm)", at_most="-1 mm")
    assert "No value is likely to do; this one is the cheapest to put right." in apart.text


def test_without_costs_of_its_own_each_side_costs_the_late_rework() -> None:
    found = made(cable())
    assert found.value == pytest.approx(505, abs=0.1)
    # both sides at one standard deviation: 2 x 0.1587
    assert found.expected_cost == pytest.approx(31.7, abs=0.5)
    assert found.chance == pytest.approx(0.6827, abs=5e-3)
    assert found.too_little == pytest.approx(0.1587, abs=5e-3)


def test_how_well_it_can_be_made_counts() -> None:
    fine, coarse = made(cable(making=0.1)), made(cable(making=6))
    assert (coarse.expected_cost or 0) > (fine.expected_cost or 0) + 10


def test_a_making_nobody_stated_is_assumed_and_said() -> None:
    assert "making-default" in {item.code for item in made(cable(making=None)).assumptions}
    assert "making-default" not in {item.code for item in made(cable(making=0.5)).assumptions}


def test_a_limit_on_one_side_gives_the_least_that_does() -> None:
    found = made(cable(at_least="2 mm"))
    assert (found.open_below, found.open_above) == (False, True)
    assert found.value == pytest.approx(502 + 3 * 3.09, abs=0.5)  # 0.999 of a normal distribution
    assert found.text.startswith("Cable: make it at least 511")
    found = made(cable(at_most="8 mm"))
    assert (found.open_below, found.open_above) == (True, False)
    assert found.text.startswith("Cable: make it at most 498")


def test_no_more_places_are_told_than_are_worth_telling() -> None:
    assert "make it 505 mm;" in made(cable()).text
    # cut to 6 mm, nobody makes it to a hundredth; and never told short of what does
    coarse = made(cable(making=6, at_least="2 mm"))
    told = float(coarse.text.partition("at least ")[2].partition(" mm")[0])
    assert told == int(told)
    assert told >= (coarse.value or 0)


def test_where_it_does_not_matter_the_middle_is_taken() -> None:
    found = made(cable(run_sd=0.01))
    assert found.value == pytest.approx(505, abs=0.3)
    assert found.low == pytest.approx(502, abs=0.2)
    assert found.high == pytest.approx(508, abs=0.2)
    assert "does about as well" in found.text


def test_a_condition_that_falls_as_it_grows_is_turned_round() -> None:
    build = build_from_data({
        "interfaces": [{"id": "i", "name": "Lining"}],
        "dimensions": [{"id": "lining", "name": "Lining", "provision": True}, {"id": "width", "name": "Width"}],
        "readings": [{"id": "r", "dimension": "width", "value": 1800, "spread": 5, "day": "2026-01-10"}],
        "conditions": [{"id": "c", "interface": "i", "name": "Bed", "expression": "width - 2 * lining",
                        "at_least": "1700 mm"}],
    })  # fmt: skip
    found = made(build, "lining")
    assert found.open_below
    # 100 mm less 5 of the width and twice 1.5 of a tape, halved; one draw in a thousand goes beyond
    assert found.value == pytest.approx(46.0, abs=0.25)
    assert found.too_little == 0
    assert 0 < (found.too_much or 0) < 0.002


def test_a_counterpart_nobody_has_read_leaves_nothing_to_go_by() -> None:
    data = cable().model_dump(mode="json")
    data["readings"] = [row for row in data["readings"] if row["dimension"] == "cable"]
    found = made(build_from_data(data))
    assert (found.value, found.missing) == (None, ("run",))
    assert found.text == "Cable: nothing to go by; there is no reading of the run."


def test_a_dimension_that_no_condition_names_has_no_value() -> None:
    data = cable().model_dump(mode="json")
    data["conditions"] = []
    assert "nothing says what to make it" in made(build_from_data(data)).text


def test_it_is_told_in_the_dimensions_unit() -> None:
    data = cable().model_dump(mode="json")
    data["dimensions"][0]["unit"] = "cm"
    data["readings"][1]["value"] = 48
    assert made(build_from_data(data)).value == pytest.approx(50.5, abs=0.02)
