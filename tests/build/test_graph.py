"""What rests on what."""

from __future__ import annotations

from typing import Any

import pytest

from fishplate.build import build_from_data
from fishplate.build.graph import carried_by, rests_on

HOURS = {"low": 1, "likely": 2, "high": 3}
EURO = {"amount": "1", "currency": "EUR"}

DATA: dict[str, Any] = {
    "parts": [{"id": "tyre", "name": "Tyre"}, {"id": "wheel", "name": "Wheel"}, {"id": "rack", "name": "Rack"}],
    "kits": [{"id": "set", "name": "Set", "contents": [{"part": "wheel"}, {"part": "tyre"}]}],
    "suppliers": [{"id": "shop", "name": "Shop", "country": "DE", "currency": "EUR"}],
    "offers": [
        {"id": "wheel-shop", "supplier": "shop", "part": "wheel", "price": EURO},
        {"id": "set-shop", "supplier": "shop", "kit": "set", "price": EURO},
        {"id": "rack-shop", "supplier": "shop", "part": "rack", "price": EURO},
    ],
    "events": [
        {
            "kind": "ordered", "id": "o1", "day": "2026-03-01", "supplier": "shop",
            "lines": [{"offer": "rack-shop", "price": EURO}],
        }
    ],
    "states": [{"id": "on-springs", "name": "On its springs"}],
    "dimensions": [{"id": "tyre_radius", "name": "Tyre radius", "part": "tyre"}, {"id": "arch", "name": "Arch"}],
    "readings": [{"id": "r1", "dimension": "arch", "value": 400, "against": "on-springs", "day": "2026-03-01"}],
    "interfaces": [{"id": "arch-gap", "name": "Arch gap"}],
    "conditions": [
        {
            "id": "clears", "interface": "arch-gap", "name": "Clears", "expression": "arch - tyre_radius",
            "at_least": "15 mm",
        }
    ],
    "decisions": [
        {"id": "stance", "name": "Stance", "options": [{"id": "low", "name": "Low"}]},
        {"id": "tyres", "name": "Tyres", "options": [{"id": "big", "name": "Big", "parts": ["tyre"], "jobs": ["cut"]}]},
        {"id": "colour", "name": "Colour", "options": [{"id": "red", "name": "Red"}]},
    ],
    "edges": [
        {"source": "stance", "target": "tyres", "strength": "fixes"},
        {"source": "tyres", "target": "colour", "strength": "nudges"},
    ],
    "jobs": [
        {"id": "springs", "name": "Springs", "phase": "structure", "hours": HOURS, "changes": ["on-springs"]},
        {"id": "cut", "name": "Cut", "phase": "structure", "hours": HOURS, "interfaces": ["arch-gap"]},
        {
            "id": "fit", "name": "Fit", "phase": "assembly", "hours": HOURS, "after": [{"job": "cut"}],
            "to_keep": ["wheel"],
        },
    ],
    "gates": [{"id": "dry", "name": "Dry build", "kind": "dry-build", "after": ["cut"], "before": ["fit"]}],
    "releases": [{"id": "hold", "part": "wheel", "interfaces": ["arch-gap"], "decisions": ["stance"]}],
}  # fmt: skip

BUILD = build_from_data(DATA)


@pytest.mark.parametrize(
    ("thing", "needs"),
    [
        (("conditions", "clears"), {("dimensions", "arch"), ("dimensions", "tyre_radius")}),
        (("interfaces", "arch-gap"), {("conditions", "clears")}),
        (("dimensions", "arch"), {("states", "on-springs")}),
        (("dimensions", "tyre_radius"), {("parts", "tyre")}),
        (("states", "on-springs"), {("jobs", "springs")}),
        (("parts", "tyre"), {("decisions", "tyres")}),
        (("decisions", "tyres"), {("decisions", "stance")}),
        (("jobs", "fit"), {("jobs", "cut"), ("parts", "wheel"), ("gates", "dry")}),
        (("jobs", "cut"), {("interfaces", "arch-gap"), ("decisions", "tyres")}),
        (("gates", "dry"), {("jobs", "cut")}),
        (("releases", "hold"), {("interfaces", "arch-gap"), ("decisions", "stance")}),
        (("offers", "wheel-shop"), {("parts", "wheel"), ("releases", "hold")}),
        (("offers", "rack-shop"), {("parts", "rack")}),
        (("events", "o1"), {("offers", "rack-shop")}),
    ],
)
def test_a_thing_rests_on_what_it_needs(thing: tuple[str, str], needs: set[tuple[str, str]]) -> None:
    assert rests_on(BUILD)[thing] == needs


def test_a_nudge_carries_nothing() -> None:
    assert ("decisions", "colour") not in rests_on(BUILD)


def test_a_release_of_a_part_also_holds_the_kits_it_comes_in() -> None:
    """A kit with the part in it can go back no more than the part alone."""
    assert rests_on(BUILD)["offers", "set-shop"] == {("parts", "wheel"), ("parts", "tyre"), ("releases", "hold")}


def test_what_a_job_changes_is_carried_to_the_far_end() -> None:
    # springs → state → arch → condition → interface → cut and the release → gate, fitting, offers of wheels
    assert carried_by(BUILD, ("jobs", "springs")) == {
        ("states", "on-springs"), ("dimensions", "arch"), ("conditions", "clears"), ("interfaces", "arch-gap"),
        ("jobs", "cut"), ("jobs", "fit"), ("gates", "dry"), ("releases", "hold"), ("offers", "wheel-shop"),
        ("offers", "set-shop"),
    }  # fmt: skip


def test_a_thing_in_a_circle_is_carried_by_the_others_but_not_by_itself() -> None:
    edges = [*DATA["edges"], {"source": "tyres", "target": "stance", "strength": "limits"}]
    build = build_from_data({**DATA, "edges": edges})
    carried = carried_by(build, ("decisions", "stance"))
    assert ("decisions", "tyres") in carried
    assert ("decisions", "stance") not in carried


def test_nothing_rests_on_what_is_not_there() -> None:
    assert carried_by(BUILD, ("parts", "none")) == frozenset()
