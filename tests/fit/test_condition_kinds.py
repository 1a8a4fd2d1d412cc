"""Matches of designations, dry runs, growth by heat."""

from datetime import date
from typing import Any

import pytest

from fishplate.build import Build, Refused, build_from_data, facts_of
from fishplate.fit import FitReport, Verdict, assess

DAY = date(2026, 3, 1)


def hose(end: str | None, port: str | None, **more: Any) -> Build:
    given = {"hose_end": end, "port": port}
    provenance = more.pop("provenance", "measured")
    rows = [
        {"id": f"r_{name}", "dimension": name, "designation": text, "provenance": provenance, "day": "2026-01-10"}
        for name, text in given.items() if text
    ]  # fmt: skip
    condition = {
        "id": "c",
        "interface": "i",
        "name": "Hose end in port",
        "kind": "match",
        "mates": ["hose_end", "port"],
    }
    return build_from_data({
        "interfaces": [{"id": "i", "name": "Hose to caliper"}],
        "dimensions": [{"id": name, "name": name, "designates": "thread"} for name in given],
        "readings": rows, "conditions": [condition | more.pop("condition", {})], **more,
    })  # fmt: skip


def report_of(build: Build, **options: Any) -> FitReport:
    return assess(build, facts_of(build, DAY), **options)


def test_designations_that_were_measured_and_agree_fit() -> None:
    result = report_of(hose("M10x1", "M10x1", condition={"consequence": "hazard"})).conditions[0]
    # each is right 998 times in 1000
    assert (result.verdict, result.chance) == (Verdict.FITS, pytest.approx(0.998**2, abs=5e-4))
    assert "M10x1 into M10x1: agrees" in result.text


def test_a_near_miss_does_not_fit_and_says_what_happens() -> None:
    result = report_of(hose("M10x1.25", "M10x1.5")).conditions[0]
    assert result.verdict is Verdict.DOES_NOT_FIT
    assert "M10x1.25 into M10x1.5: starts and binds, pitch 1.25 mm against 1.5 mm" in result.text
    assert result.chance is not None
    assert 0 < result.chance < 0.05


def test_designations_that_are_only_estimated_stay_in_doubt() -> None:
    report = report_of(hose("M10x1", "M10x1", provenance="estimate"))
    assert report.conditions[0].verdict is Verdict.IN_DOUBT
    assert {item.code for item in report.assumptions} >= {"designation-default"}
    assert {item.dimension for item in report.measures} == {"hose_end", "port"}


def test_a_designation_nobody_has_read_is_missing() -> None:
    report = report_of(hose("M10x1", None))
    assert (report.conditions[0].verdict, report.conditions[0].missing) == (Verdict.NOT_KNOWN, ("port",))
    assert [item.dimension for item in report.measures] == ["port"]


def test_a_fixed_designation_needs_no_reading() -> None:
    build = hose("M10x1", None, condition={"mates": ["hose_end", "M10x1"]})
    assert report_of(build).conditions[0].verdict is Verdict.FITS


def test_a_designation_is_one_random_variable_in_all_its_conditions() -> None:
    condition = {"id": "c2", "interface": "i", "name": "Spare", "kind": "match", "mates": ["hose_end", "M10x1"]}
    build = hose("M10x1", "M10x1", provenance="estimate")
    both = build_from_data({**build.model_dump(mode="json"), "conditions": [
        build.conditions[0].model_dump(mode="json"), condition]})  # fmt: skip
    # seven in ten for each end, not seven in ten twice for the one they share
    assert report_of(both).interfaces[0].chance == pytest.approx(0.7**2, abs=5e-3)


def test_the_most_trusted_reading_counts_and_another_own_one_halves_its_trust() -> None:
    build = hose("M10x1", "M10x1")
    data = build.model_dump(mode="json")
    catalogue = {
        "id": "r2",
        "dimension": "port",
        "designation": "M10x1.25",
        "provenance": "catalogue",
        "day": "2026-02-01",
    }
    result = report_of(build_from_data({**data, "readings": [*data["readings"], catalogue]})).conditions[0]
    assert result.verdict is Verdict.FITS
    own = {**catalogue, "provenance": "measured"}
    report = report_of(build_from_data({**data, "readings": [*data["readings"], own]}))
    assert report.conditions[0].verdict is not Verdict.FITS
    assert "readings-disagree" in {item.code for item in report.assumptions}


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        ({"mates": ["hose_end", "bolt"]}, "there is no such dimension"),
        ({"mates": ["hose_end", "M10x9"]}, "has a pitch of 9 mm"),
        ({"mates": ["M10", "M10x1"]}, "neither is a dimension"),
        ({"mates": ["hose_end", "gap"]}, "that dimension is a number"),
        ({"mates": ["hose_end", "flange"]}, "these never mate"),
        ({"kind": "clearance"}, "only a match compares designations"),
        ({"expression": "gap", "at_least": "1 mm"}, "not computed from figures"),
        ({"mates": None, "expression": "hose_end", "at_least": "1 mm"}, "that dimension is a designation"),
        ({"kind": "match", "mates": None}, "nothing is written"),
        ({"kind": "dry-run", "mates": None, "at_least": "1 mm"}, "not computed from figures"),
        ({"kind": "angle", "mates": None, "expression": "gap", "at_least": "1 mm"}, "the expression is of kind length"),
    ],
)  # fmt: skip
def test_a_condition_that_does_not_suit_its_kind_is_refused(condition: dict[str, Any], words: str) -> None:
    data = hose("M10x1", "M10x1").model_dump(mode="json")
    data["dimensions"] += [{"id": "gap", "name": "Gap"}, {"id": "flange", "name": "Flange", "designates": "pattern"}]
    data["conditions"][0] |= condition
    with pytest.raises(Refused) as caught:
        build_from_data(data)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ({"dimension": "gap", "designation": "M10"}, "its dimension takes a number"),
        ({"dimension": "port", "value": 10}, "its dimension takes the designation of a thread"),
        ({"dimension": "port", "designation": "M10x9"}, "has a pitch of 9 mm"),
        ({"dimension": "gap"}, "a reading has a value, or a designation"),
        ({"dimension": "gap", "value": 3, "designation": "M10"}, "a reading has a value, or a designation"),
    ],
)
def test_a_reading_that_does_not_suit_its_dimension_is_refused(reading: dict[str, Any], words: str) -> None:
    data = hose("M10x1", "M10x1").model_dump(mode="json", exclude_none=True)
    data["dimensions"] += [{"id": "gap", "name": "Gap"}]
    data["readings"] += [{"id": "new", "day": "2026-01-10", **reading}]
    with pytest.raises(Refused) as caught:
        build_from_data(data)
    assert words in str(caught.value)


# --- dry runs ---


def starter(*looks: dict[str, Any], gap: float = 30) -> FitReport:
    conditions = [
        {"id": "out", "interface": "i", "name": "Starter in and out", "kind": "dry-run", "tools": ["Long ratchet"]},
        {"id": "gap", "interface": "i", "name": "Room beside the pipe", "expression": "gap", "at_least": "10 mm"},
    ]
    reading = {"id": "r", "dimension": "gap", "value": gap, "spread": 2, "spread_means": "standard-deviation"}
    return report_of(build_from_data({
        "interfaces": [{"id": "i", "name": "Starter", "parts": ["starter"]}],
        "parts": [{"id": "starter", "name": "Starter"}],
        "dimensions": [{"id": "gap", "name": "Gap"}], "readings": [reading | {"day": "2026-01-10"}],
        "conditions": conditions,
        "settled": [{"interface": "i", "by": "owner", "day": "2026-02-20", **look} for look in looks],
    }))  # fmt: skip


def test_a_dry_run_is_not_known_until_it_was_made_whatever_the_figures() -> None:
    report = starter()
    dry, gap = (next(item for item in report.conditions if item.condition == key) for key in ("out", "gap"))
    assert (dry.verdict, dry.chance, gap.verdict) == (Verdict.NOT_KNOWN, None, Verdict.FITS)
    assert dry.text == (
        "Starter in and out: not known; the dry run is still to be made: in and out on the vehicle, with long ratchet."
    )
    assert report.interfaces[0].verdict is Verdict.NOT_KNOWN
    assert "still to be tried on the vehicle: “Starter in and out”" in report.interfaces[0].text
    assert report.misfit_chance["starter"] == pytest.approx(0.25, abs=1e-3)


def test_a_dry_run_seen_alone_settles_itself_and_leaves_the_rest_to_figures() -> None:
    report = starter({"condition": "out", "photo": "starter.jpg"})
    dry = next(item for item in report.conditions if item.condition == "out")
    assert dry.verdict is Verdict.FITS
    assert dry.text == "Starter in and out: seen to be right on the vehicle on 20 February 2026 by owner."
    bare = starter({"condition": "out"})
    said = [item.text for item in bare.conditions if item.condition == "out"]
    assert said == [f"{dry.text[:-1]}; no photograph of it is kept."]
    assert report.interfaces[0].verdict is Verdict.FITS
    assert not report.interfaces[0].settled
    assert report.misfit_chance["starter"] < 1e-3


def test_a_dry_run_that_failed_fails_its_interface() -> None:
    report = starter({"condition": "out", "good": False})
    assert report.interfaces[0].verdict is Verdict.DOES_NOT_FIT
    assert report.misfit_chance["starter"] == 1


def test_seeing_the_whole_interface_later_settles_its_dry_run_too() -> None:
    report = starter({"condition": "out", "good": False}, {"day": "2026-02-21"})
    assert {item.verdict for item in report.conditions} == {Verdict.FITS}
    assert report.interfaces[0].settled


def test_a_condition_seen_wrong_after_its_interface_was_seen_right_counts() -> None:
    report = starter({"day": "2026-02-19"}, {"condition": "out", "good": False})
    assert report.interfaces[0].verdict is Verdict.DOES_NOT_FIT


def test_all_conditions_seen_right_one_by_one_settle_the_interface() -> None:
    report = starter({"condition": "out"}, {"condition": "gap"}, gap=5)
    assert report.interfaces[0].settled
    assert report.interfaces[0].verdict is Verdict.FITS


# --- growth ---


def pipe(hot: bool, **more: Any) -> FitReport:
    fields = {"material": "stainless", "runs_at_c": 520} | more
    return report_of(build_from_data({
        "interfaces": [{"id": "i", "name": "Pipe to rail"}],
        "dimensions": [{"id": "pipe", "name": "Pipe", **fields}, {"id": "bay", "name": "Bay"}],
        "readings": [
            {"id": "a", "dimension": "pipe", "value": 1000, "spread": 0, "day": "2026-01-10"},
            {"id": "b", "dimension": "bay", "value": 1015, "spread": 1, "day": "2026-01-10"},
        ],
        "conditions": [{"id": "c", "interface": "i", "name": "End gap", "expression": "bay - pipe", "at_least": "10 mm",
                        "hot": hot}],
    }))  # fmt: skip


def test_heat_closes_a_gap_where_material_and_heat_are_named() -> None:
    # 1000 mm x 17e-6 /K x 500 K = 8.5 mm
    cold, hot = pipe(hot=False).conditions[0], pipe(hot=True).conditions[0]
    assert (cold.nominal, hot.nominal) == (15, pytest.approx(6.5))
    assert (cold.verdict, hot.verdict) == (Verdict.FITS, Verdict.DOES_NOT_FIT)
    assert (hot.worst_low, hot.worst_high) == (pytest.approx(5.5), pytest.approx(7.5))


def test_a_hot_condition_that_names_no_heat_is_judged_cold_and_says_so() -> None:
    report = pipe(hot=True, runs_at_c=None)
    assert report.conditions[0].nominal == 15
    assert "nothing-grows" in {item.code for item in report.assumptions}
