"""What to make a dimension while its counterpart is unknown."""

import math
from datetime import date
from typing import Any

import pytest

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
    assert found.text.startswith("Make the cable at least 511")
    found = made(cable(at_most="8 mm"))
    assert (found.open_below, found.open_above) == (True, False)
    assert found.text.startswith("Make the cable at most 498")


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
