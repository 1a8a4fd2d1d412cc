"""Options weighed: which comes first, how surely, and what would tell."""

from __future__ import annotations

from typing import Any

import pytest

from fishplate.build import Build, build_from_data
from fishplate.build.base import ThreePoint
from fishplate.build.decisions import Measure
from fishplate.decide.weighed import Weighing
from fishplate.decide.weighing import weigh

CRITERIA = [
    {"id": "cost", "name": "Cost", "measured": "money", "weight": 2},
    {"id": "lasts", "name": "Lasts", "weight": 4},
    {"id": "joy", "name": "Joy", "weight": 1},
]


def spread(low: float, likely: float, high: float) -> dict[str, float]:
    return {"low": low, "likely": likely, "high": high}


def sure(value: float) -> dict[str, float]:
    return spread(value, value, value)


def option(id_: str, score: float | None = None, **scores: dict[str, float]) -> dict[str, Any]:
    found: dict[str, Any] = {"id": id_, "name": id_.upper()}
    if score is not None:
        found["score"] = score
    return {**found, "scores": [{"criterion": key, "points": points} for key, points in scores.items()]}


def build_of(options: list[dict[str, Any]], swings: list[dict[str, Any]] | None = None) -> Build:
    decision = {"id": "axle", "name": "Axle", "options": options, "swings": swings or []}
    return build_from_data({"criteria": CRITERIA, "decisions": [decision]})


def weighed(
    options: list[dict[str, Any]], swings: list[dict[str, Any]] | None = None, **cost: tuple[float, float, float]
) -> Weighing:
    build = build_of(options, swings)
    measured = {
        key: {Measure.MONEY: ThreePoint(low=low, likely=mid, high=high)} for key, (low, mid, high) in cost.items()
    }
    return weigh(build, build.decisions[0], measured)


LASTS, JOY = {"criterion": "lasts"}, {"criterion": "joy"}


def test_sure_scores_and_weights_give_the_weighted_sum() -> None:
    half = {**JOY, "compared": sure(50)}
    found = weighed(
        [option("a", lasts=sure(60), joy=sure(30)), option("b", lasts=sure(30), joy=sure(90))], [LASTS, half]
    )
    assert [(item.option, round(item.value, 6)) for item in found.options] == [("a", 50.0), ("b", 50.0)]
    half = {**JOY, "compared": sure(25)}
    found = weighed(
        [option("a", lasts=sure(60), joy=sure(30)), option("b", lasts=sure(30), joy=sure(90))], [LASTS, half]
    )
    assert [(item.option, round(item.value, 6), item.ranks) for item in found.options] == [
        ("a", 54.0, (1.0, 0.0)),
        ("b", 42.0, (0.0, 1.0)),
    ]
    assert found.robust
    assert found.learning == ()
    assert found.text == "“A” comes first whatever weights and scores agree with what you said."


def test_money_is_measured_on_the_scale_the_swing_states() -> None:
    money = {"criterion": "cost", "worst": 1000, "best": 200}
    found = weighed(
        [option("a", lasts=sure(50)), option("b", lasts=sure(50))],
        [money, {**LASTS, "compared": sure(100)}],
        a=(200, 200, 200),
        b=(600, 600, 600),
    )
    assert [(item.option, item.points) for item in found.options] == [("a", (100.0, 50.0)), ("b", (50.0, 50.0))]
    # half the weight for 800 of money: a point of value is worth 16
    assert found.money_per_point == pytest.approx(16)


def test_an_option_beaten_by_every_criterion_is_told_with_how_surely() -> None:
    options = [
        option("a", lasts=spread(60, 70, 80), joy=spread(50, 60, 70)),
        option("b", lasts=spread(20, 40, 55), joy=spread(10, 20, 50)),
        option("c", lasts=spread(50, 65, 90), joy=spread(40, 55, 60)),
    ]
    found = {item.option: (item.dominated_by, item.surely) for item in weighed(options, [LASTS, JOY]).options}
    assert found == {"a": (None, False), "b": ("a", True), "c": ("a", False)}


def test_a_score_that_is_not_known_could_be_anything_and_is_worth_most_to_know() -> None:
    found = weighed([option("a", lasts=spread(55, 60, 65)), option("b")], [LASTS])
    assert found.options[0].option == "a"
    # b beats 60 two times in five
    assert found.options[1].ranks[0] == pytest.approx(0.4, abs=0.01)
    assert [item.code for item in found.assumptions] == ["score-unknown"]
    best = next(item for item in found.learning if item.option)
    assert (best.option, best.criterion) == ("b", "lasts")
    # E[max(60, u)] - 60 for u uniform from 0 to 100: (1/100) ∫ from 60 to 100 of (u - 60) = 8
    assert best.points == pytest.approx(8, abs=0.05)
    assert best.turns == pytest.approx(0.4, abs=0.01)
    assert found.all_known >= best.points


def test_only_the_order_known_leaves_weights_in_doubt() -> None:
    found = weighed(
        [option("a", lasts=sure(70), joy=sure(20)), option("b", lasts=sure(40), joy=sure(90))], [LASTS, JOY]
    )
    # a leads where 30 w > 70 (1 - w), w above 0.7, of weights between 0.5 and 1
    assert {item.option: round(item.ranks[0], 2) for item in found.options} == {"a": 0.6, "b": 0.4}
    assert [item.weight for item in found.criteria] == pytest.approx([0.75, 0.25], abs=0.002)
    assert found.learning[0].what == "how much each criterion matters"
    assert not found.robust


def test_without_swings_the_weights_of_the_criteria_stand_a_quarter_up_or_down() -> None:
    found = weighed([option("a", lasts=sure(80)), option("b", lasts=sure(20))], a=(900, 900, 900), b=(100, 100, 100))
    assert [item.criterion for item in found.criteria] == ["lasts", "cost"]
    assert {item.code for item in found.assumptions} == {"weights-default", "scale-default"}
    assert found.criteria[0].weight == pytest.approx(2 / 3, abs=0.01)
    assert found.criteria[0].low < 0.64 < 0.7 < found.criteria[0].high


def test_scores_on_the_whole_put_options_in_order_and_nothing_puts_them_in_none() -> None:
    found = weighed([option("a", 40), option("b", 70)])
    assert (found.basis, [item.option for item in found.options]) == ("overall", ["b", "a"])
    assert weighed([option("a"), option("b")]).basis == "nothing"


def test_the_order_options_are_listed_in_changes_nothing() -> None:
    options = [option("a", lasts=spread(10, 50, 90)), option("b", lasts=spread(30, 50, 60)), option("c", joy=sure(40))]
    assert weighed(options, [LASTS, JOY]).options == weighed(options[::-1], [LASTS, JOY]).options
