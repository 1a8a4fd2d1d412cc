"""Whatever arithmetic and readings a build holds, the report is whole and its figures agree with each other."""

import json
from dataclasses import asdict
from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.build import Build, build_from_data, facts_of
from fishplate.fit import FitReport, Verdict, assess


def _combined(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    pair = st.tuples(inner, inner)
    return st.one_of(
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"),
        pair.map(lambda p: f"min({p[0]}, {p[1]})"),
        pair.map(lambda p: f"(atan2({p[0]}, {p[1]}) / 1 rad)"),
        inner.map(lambda t: f"sqrt({t})"),
        inner.map(lambda t: f"tan({t} * 1 rad)"),
        inner.map(lambda t: f"(acos({t}) / 1 rad)"),
        st.tuples(inner, st.sampled_from(["2", "9", "-3", "0.5"])).map(lambda t: f"({t[0]})^{t[1]}"),
    )


TEXTS = st.recursive(st.sampled_from(["a", "b", "c", "2", "0"]), _combined, max_leaves=5)
VALUES = st.one_of(st.floats(-5, 5), st.sampled_from([0.0, 1e6, -1e9, 1e-9]))
READINGS = st.fixed_dictionaries(
    {"value": VALUES, "spread": st.sampled_from([None, 0, 1e-6, 0.5, 1e6])},
    optional={
        "spread_means": st.sampled_from(["limits", "limits-triangular", "standard-deviation", "expanded-k2"]),
        "provenance": st.sampled_from(["measured", "catalogue", "estimate", "stand-in"]),
        "against": st.sampled_from(["changed", "same"]),
        "dimension": st.sampled_from("abc"),
    },
)
CONDITIONS = st.fixed_dictionaries(
    {"expression": TEXTS, "at_least": st.sampled_from(["0", "1", "a - 3"])},
    optional={
        "at_most": st.sampled_from(["5", "b * 2"]),
        "consequence": st.sampled_from(["inconvenience", "rework", "hidden", "hazard"]),
        "interface": st.sampled_from("ij"),
        "early_hours": st.just(3),
    },
)


@st.composite
def builds(draw: st.DrawFn) -> Build:
    readings = draw(st.lists(READINGS, max_size=6))
    conditions = draw(st.lists(CONDITIONS, max_size=4))
    correlations = draw(st.lists(st.sampled_from([-1.0, -0.5, 0.3, 1.0]), max_size=1))
    return build_from_data({
        "states": [{"id": "changed", "name": "Changed"}, {"id": "same", "name": "Same"}],
        "events": [{"kind": "changed", "id": "e", "day": "2026-02-01", "state": "changed"}],
        "parts": [{"id": "p", "name": "P"}, {"id": "q", "name": "Q"}],
        "interfaces": [{"id": "i", "name": "I", "parts": ["p"]}, {"id": "j", "name": "J", "parts": ["p", "q"]}],
        "dimensions": [{"id": name, "name": name.upper(), "unit": ""} for name in "abc"],
        "correlations": [{"first": "a", "second": "b", "coefficient": value} for value in correlations],
        "readings": [
            {"id": f"r{n}", "dimension": "abc"[n % 3], "day": "2026-01-01", **row} for n, row in enumerate(readings)
        ],
        "conditions": [
            {"id": f"c{n}", "interface": "i", "name": f"C{n}", **row} for n, row in enumerate(conditions)
            if row["at_least"] != "1" or row.get("at_most") != "0"
        ],
    })  # fmt: skip


def consistent(report: FitReport) -> None:
    json.dumps(asdict(report), allow_nan=False, default=str)
    for item in report.conditions:
        assert (item.chance is None) == bool(item.missing)
        if item.chance is not None and item.standard_error is not None:
            assert 0 <= item.chance <= 1
            assert (item.standard_error == 0) == (item.chance in (0, 1))
        margins = [item.margin_p05, item.margin_p50, item.margin_p95]
        if None not in margins:
            assert margins == sorted(margins, key=lambda value: value or 0.0)
        assert all(0 <= share <= 1 + 1e-6 for share in item.shares.values())
        assert not (item.verdict is Verdict.FITS and (item.stale or item.missing))
    for place in report.interfaces:
        chances = [item.chance for item in report.conditions if item.interface == place.interface]
        known = [chance for chance in chances if chance is not None]
        if place.chance is not None:
            assert place.chance <= min(known) + 1e-9
    assert all(0 <= chance <= 1 for chance in report.misfit_chance.values())
    assert all(item.value >= 0 for item in report.measures)


@settings(max_examples=150, deadline=None, database=None)
@given(builds())
def test_any_build_gets_a_whole_report(build: Build) -> None:
    consistent(assess(build, facts_of(build, date(2026, 3, 1)), samples=1000))
