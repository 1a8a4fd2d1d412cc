"""Which instrument to take a reading with."""

from datetime import date
from math import erf, exp, hypot, pi, sqrt
from typing import Any

import numpy as np
import pytest

from fishplate.build import Build, build_from_data, facts_of
from fishplate.fit import MeasureCandidate, MeasurePlan, assess, measure_next, study
from fishplate.fit.instruments import other_readings
from fishplate.fit.readings import instrument_sd
from fishplate.fit.ways import ways

DAY = date(2026, 3, 1)


def gap(
    value: float = 120, sd: float = 1.0, *, late: float = 1000, at_least: str = "119.5 mm", with_: Any = (), **more: Any
) -> Build:
    """A gap told by somebody with a normal error, that has to leave room."""
    reading = {"id": "r", "dimension": "gap", "value": value, "spread": sd, "spread_means": "standard-deviation"}
    condition = {
        "id": "c",
        "interface": "i",
        "name": "Room",
        "expression": "gap",
        "at_least": at_least,
        "late_hours": {"low": 0, "likely": 0, "high": 0},
        "late_cost": late,
        "early_cost": late / 5,
    }
    return build_from_data({
        "owner": {"hour_worth": 15},
        "interfaces": [{"id": "i", "name": "Place"}],
        "dimensions": [{"id": "gap", "name": "Gap", "minutes": 20, **dict(with_)}],
        "readings": [reading | {"provenance": "estimate", "day": "2026-01-10"}],
        "conditions": [condition],
        **more,
    })  # fmt: skip


def candidate(build: Build) -> MeasureCandidate:
    (found,) = assess(build, facts_of(build, DAY)).measures
    return found


def plan_of(build: Build, minutes: float | None = None) -> MeasurePlan:
    facts = facts_of(build, DAY)
    return measure_next(build, facts, study(build, facts), minutes=minutes)


def others(build: Build) -> list[str]:
    found = study(build, facts_of(build, DAY))
    weighed = other_readings(found, ways(found, frozenset({"gap"}))[0])
    return [str(way.instrument) for each in weighed.values() for way in each]


def saved(value: float, sd: float, limit: float, own: float, late: float, early: float) -> float:
    """Normal prior, normal error: E[min(early, late P)] before less after, by summing over what is read.

    Raiffa and Schlaifer, Applied Statistical Decision Theory (1961), 5.3: the posterior mean of a normal quantity is
    itself normal before the reading, with variance sd^4 / (sd^2 + own^2).
    """

    def below(mean: float, spread: float) -> float:
        return 0.5 * (1 + erf((limit - mean) / spread / sqrt(2)))

    wide, after = sd**2 / hypot(sd, own), sd * own / hypot(sd, own)
    steps = np.linspace(-8, 8, 4001)
    weights = [exp(-(z**2) / 2) / sqrt(2 * pi) * (steps[1] - steps[0]) for z in steps]
    costs = [min(early, late * below(value + wide * z, after)) for z in steps]
    return min(early, late * below(value, sd)) - float(np.dot(weights, costs))


@pytest.mark.parametrize(
    ("sd", "late", "limit", "chosen", "paying"),
    [
        (0.6, 1000, 119.5, "caliper", ["rule", "caliper", "tape"]),
        (6, 60, 119.5, "rule", ["rule", "caliper", "tape"]),
        (6, 60, 110, "tape", ["rule", "tape"]),
    ],
)
def test_each_instrument_is_weighed_and_the_best_by_net_is_proposed(
    sd: float, late: float, limit: float, chosen: str, paying: list[str]
) -> None:
    found = candidate(gap(sd=sd, late=late, at_least=f"{limit} mm", with_={"tools": ["rule"], "minutes": 8}))
    assert [each.instrument for each in found.instruments] == paying
    for each in found.instruments:
        own = instrument_sd(each.instrument, 120, "length")  # type: ignore[arg-type]
        exact = saved(120, sd, limit, own, late, late / 5)
        assert each.value == pytest.approx(exact, rel=0.03, abs=0.004 * late)
        assert each.cost == pytest.approx(each.minutes * 15 / 60)
        assert each.net == each.value - each.cost
    assert found.instrument == chosen
    assert found.net == max(each.net for each in found.instruments)


def test_it_says_why_not_the_usual_one_and_what_if_the_other_cannot_be_laid_on() -> None:
    text = candidate(gap(sd=0.6, with_={"tools": ["tape"]})).text
    assert text.startswith("Measure the gap with the vernier caliper: 23 minutes, expected to save ")
    assert "The tape takes 3 minutes less, but would save " in text
    assert text.endswith(" EUR less. Where the vernier caliper can't be laid on, take the tape.")


@pytest.mark.parametrize(
    ("with_", "found"),
    [
        ({"tools": ["tape"]}, ["rule", "caliper"]),
        ({"instrument": "rule"}, ["caliper", "tape"]),
        ({}, ["rule", "tape"]),
        ({"tools": ["tape", "plumb line"]}, []),
        ({"tools": ["string"]}, []),
        ({"instrument": "template"}, []),
        ({"provision": True}, []),
    ],
)
def test_others_are_laid_on_where_the_method_lets_them(with_: Any, found: list[str]) -> None:
    assert others(gap(with_=with_)) == found


def test_a_size_decides_what_reaches_and_a_rare_one_is_weighed_only_where_it_is_named() -> None:
    assert others(gap(400, with_={"tools": ["tape"]})) == []
    small: dict[str, Any] = {"value": 12, "at_least": "11.9 mm", "with_": {"instrument": "caliper"}}
    assert others(gap(**small)) == ["rule"]
    job = {
        "id": "j",
        "name": "Job",
        "phase": "mock-up",
        "hours": {"low": 1, "likely": 2, "high": 3},
        "tools": ["Micrometer 0-25"],
    }
    assert others(gap(**small, jobs=[job])) == ["micrometer", "rule"]


def test_an_unknown_size_is_read_with_the_usual_one() -> None:
    build = gap(readings=[], with_={"tools": ["rule"]})
    assert others(build) == []
    assert candidate(build).instruments == ()


def test_a_short_evening_takes_the_quicker_one_and_never_two() -> None:
    build = gap(sd=0.6, with_={"tools": ["rule"]})
    long, short = plan_of(build), plan_of(build, minutes=21)
    assert [str(item.way.instrument) for item in long.chosen] == ["caliper"]
    assert [(str(item.way.instrument), item.way.minutes) for item in short.chosen] == [("rule", 20)]
    assert short.exact
    assert short.measures == short.chosen
    assert "but its 2 minutes more find no room here" in short.chosen[0].text
    assert "instrument-laid-on" in {item.code for item in short.assumptions}
    assert plan_of(build, minutes=19).chosen[0].way.instrument == "tape"
