"""Interfaces, dimensions, conditions, stand-ins and states written, changed and taken out by hand."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from serving import desk_of, served

from fishplate.build import Build, build_from_data
from fishplate.fit import Verdict
from fishplate.starters import load_demo

DAY = "2026-03-01"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The demo build without a plan: none is needed here."""
    with served(tmp_path / "demo.fishplate", load_demo()) as found:
        found.get("/")
        yield found


@pytest.fixture
def bare(tmp_path: Path) -> TestClient:
    build = build_from_data(
        {
            "interfaces": [{"id": "arch", "name": "Tyre in its arch"}],
            "dimensions": [
                {"id": "gap", "name": "Gap above the tyre"},
                {"id": "lean", "name": "Lean", "unit": "deg"},
                {"id": "stud", "name": "Wheel stud", "designates": "thread"},
                {"id": "free", "name": "Nothing rests on it"},
            ],
            "readings": [{"id": "r1", "dimension": "gap", "value": 25.4, "spread": 2.54, "day": DAY}],
            "states": [{"id": "springs", "name": "On its springs"}],
        }
    )
    client = served(tmp_path / "b.fishplate", build)
    client.get("/")
    return client


def build_of(client: TestClient) -> Build:
    return desk_of(client).view().build


def sent(client: TestClient, path: str, key: str = "x", **fields: str | list[str]) -> Response:
    return client.post(path, data={"form": key, **fields}, follow_redirects=False)


def faults(response: Response, key: str) -> set[str]:
    """Names of the fields a page tells faults at."""
    return set(re.findall(rf'id="{key}-([a-z_-]+)-fault"', response.text))


# conditions


def condition(client: TestClient, **fields: str) -> Response:
    key = f"condition-{fields.get('kind', 'clearance')}"
    given = {"kind": "clearance", "name": "Room", "consequence": "rework", **fields}
    return sent(client, "/interfaces/arch/conditions/new", key, **given)


def test_a_condition_is_written_and_judged(bare: TestClient) -> None:
    assert condition(bare, expression="gap − 2 × 1 mm", at_least="15 mm", source="Own").status_code == 303
    desk = desk_of(bare)
    fit = desk.verdicts.of(desk.view(), patience_seconds=20).value
    assert fit is not None
    # 25.4 - 2 = 23.4 mm, at the least 20.9, over 15 mm
    assert fit.conditions["arch-room"].verdict == Verdict.FITS
    assert "gap − 2 × 1 mm, at least 15 mm" in bare.get("/interfaces/arch").text


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"expression": "gap + lean", "at_least": "1 mm"}, "expression", "deg"),
        ({"expression": "gap", "at_least": "3 deg"}, "at_least", "mm"),
        ({"expression": "gap -", "at_least": "3 mm"}, "expression", ""),
        ({"expression": "gap - nothing", "at_least": "3 mm"}, "expression", "no such dimension"),
        ({"expression": "gap"}, "at_least", "no limit"),
        ({"expression": "", "at_least": "3 mm"}, "expression", "othing was filled in"),
        ({"expression": "gap", "at_least": "9 mm", "at_most": "3 mm"}, "at_most", "above the most"),
        ({"expression": "gap", "at_least": "__import__('os')"}, "at_least", ""),
        ({"kind": "angle", "expression": "gap", "at_most": "3 mm"}, "expression", "angle"),
        ({"kind": "match", "goes_in": "stud", "goes_into": "M12x"}, "goes_in", ""),
        ({"kind": "match", "goes_in": "gap", "goes_into": "M12x1.5"}, "goes_in", "is a number"),
        ({"kind": "match", "goes_in": "stud", "goes_into": ""}, "goes_into", "othing was filled in"),
        ({"expression": "stud", "at_least": "3 mm"}, "expression", "designation"),
    ],
)
def test_what_is_wrong_is_told_at_its_field(bare: TestClient, fields: dict[str, str], field: str, words: str) -> None:
    response = condition(bare, **fields)
    assert response.status_code == 422
    assert field in faults(response, f"condition-{fields.get('kind', 'clearance')}")
    assert words in response.text
    assert not build_of(bare).conditions


def test_threads_that_mate_and_a_dry_run_are_written(bare: TestClient) -> None:
    assert condition(bare, kind="match", name="Stud", goes_in="stud", goes_into="M12x1.5").status_code == 303
    assert condition(bare, kind="dry-run", name="Spanner", tools="19 mm socket, bar").status_code == 303
    stud, spanner = build_of(bare).conditions
    assert stud.mates == ("stud", "M12x1.5")
    assert (spanner.kind, spanner.tools) == ("dry-run", ("19 mm socket", "bar"))
    page = bare.get(f"/interfaces/arch/conditions/{stud.id}/change").text
    assert 'value="M12x1.5"' in page


def test_limits_may_be_arithmetic_over_dimensions(bare: TestClient) -> None:
    assert condition(bare, kind="figures", expression="free", at_most="gap - 1 mm").status_code == 303
    (held,) = build_of(bare).conditions
    assert (held.kind, held.names) == ("match", {"free", "gap"})


def test_a_condition_is_changed_and_taken_out_with_what_was_seen_of_it(bare: TestClient) -> None:
    condition(bare, expression="gap", at_least="15 mm")
    path = "/interfaces/arch/conditions/arch-room"
    form = {"kind": "clearance", "name": "More room", "consequence": "hazard", "expression": "gap", "at_least": "20 mm",
            "late_hours-low": "1", "late_hours-likely": "2", "late_hours-high": "8", "late_cost": "50"}  # fmt: skip
    assert sent(bare, f"{path}/change", **form).status_code == 303
    (held,) = build_of(bare).conditions
    assert (held.id, held.name, held.at_least, held.consequence) == ("arch-room", "More room", "20 mm", "hazard")
    assert held.late_hours is not None
    assert held.late_hours.high == 8
    sent(bare, "/interfaces/arch/seen", good="yes", by="Jo", what="arch-room")
    assert build_of(bare).settled
    assert sent(bare, f"{path}/out").status_code == 303
    assert not build_of(bare).conditions
    assert not build_of(bare).settled


def test_a_condition_an_option_calls_for_is_not_taken_out(client: TestClient) -> None:
    called = next(
        (condition, decision.name) for decision in build_of(client).decisions for option in decision.options
        for condition in option.conditions
    )  # fmt: skip
    held = build_of(client).find("conditions", called[0])
    response = sent(client, f"/interfaces/{held.interface}/conditions/{held.id}/out", "condition-out")
    assert response.status_code == 422
    assert f"the decision “{called[1]}”" in response.text
    assert client.get(f"/interfaces/arch-not/conditions/{held.id}/change").status_code == 404


# interfaces


def test_an_interface_is_written_changed_and_taken_out(client: TestClient) -> None:
    form = {
        "name": "Usual",
        "system": "wheels",
        "part": [build_of(client).parts[0].id],
        "hazard": ["brakes"],
        "kind": "wheel-hub",
    }
    response = sent(client, "/interfaces/new", **form)
    assert response.headers["location"] == "/interfaces/usual-place"
    noun = build_of(client).find("interfaces", "usual-place")
    assert (noun.systems, noun.hazards, len(noun.parts), noun.kind) == (("wheels",), ("brakes",), 1, "wheel-hub")
    assert client.get("/interfaces/usual-place/change").status_code == 200
    assert sent(client, "/interfaces/usual-place/change", name="Renamed").status_code == 303
    changed = build_of(client).find("interfaces", "usual-place")
    assert (changed.name, changed.systems) == ("Renamed", ())
    assert sent(client, "/interfaces/usual-place/out").status_code == 303
    assert "usual-place" not in build_of(client).index["interfaces"]


def test_an_interface_without_a_name_is_refused_beside_the_field(bare: TestClient) -> None:
    response = sent(bare, "/interfaces/new", "interface")
    assert response.status_code == 422
    assert faults(response, "interface") == {"name"}


def test_an_interface_that_something_rests_on_stays(client: TestClient) -> None:
    settled = next(job for job in build_of(client).jobs if job.settles)
    response = sent(client, f"/interfaces/{settled.settles[0]}/out", "interface-out")
    assert response.status_code == 422
    assert f"the job “{settled.name}”" in response.text
    assert "It can&#39;t be taken out" in response.text or "It can't be taken out" in response.text


# dimensions


def test_a_dimension_is_written_with_the_name_arithmetic_calls_it(bare: TestClient) -> None:
    response = sent(bare, "/interfaces/dimensions/new", name="Wheel: bore", unit="in", foundation="yes", minutes="5")
    assert response.headers["location"] == "/interfaces/dimensions/wheel_bore"
    noun = build_of(bare).find("dimensions", "wheel_bore")
    assert (noun.unit, noun.foundation, noun.minutes) == ("in", True, 5)
    assert sent(bare, "/interfaces/dimensions/new", name="A root", id="sqrt").status_code == 422
    assert sent(bare, "/interfaces/dimensions/new", name="A gap", id="gap").status_code == 422
    assert sent(bare, "/interfaces/dimensions/new", name="A gap", id="A Gap").status_code == 422
    response = sent(bare, "/interfaces/dimensions/new", "dimension", name="", unit="furlongs per", minutes="-1")
    assert faults(response, "dimension") == {"name", "unit", "minutes"}


def test_a_new_unit_of_the_same_kind_takes_the_readings_with_it(bare: TestClient) -> None:
    assert sent(bare, "/interfaces/dimensions/gap/change", name="Gap", unit="in").status_code == 303
    (reading,) = build_of(bare).readings
    assert (reading.value, reading.spread) == (1.0, 0.1)
    response = sent(bare, "/interfaces/dimensions/gap/change", "dimension-gap", name="Gap", unit="deg")
    assert faults(response, "dimension-gap") == {"unit"}
    response = sent(bare, "/interfaces/dimensions/gap/change", "dimension-gap", name="Gap", designates="thread")
    assert faults(response, "dimension-gap") == {"designates"}


def test_a_dimension_goes_with_its_readings_unless_something_rests_on_it(bare: TestClient) -> None:
    condition(bare, expression="gap", at_least="15 mm")
    response = sent(bare, "/interfaces/dimensions/gap/out", "dimension-out")
    assert response.status_code == 422
    assert "the condition “Room” rests on it" in response.text
    sent(bare, "/interfaces/arch/conditions/arch-room/out")
    assert sent(bare, "/interfaces/dimensions/gap/out").status_code == 303
    assert not build_of(bare).readings


def test_a_value_to_make_says_what_to_make_it(bare: TestClient) -> None:
    condition(bare, expression="gap - free", at_least="5 mm")
    form = {"name": "Flange", "unit": "mm", "provision": "yes", "too_little_cost": "100", "too_much_cost": "10"}
    assert sent(bare, "/interfaces/dimensions/free/change", **form).status_code == 303
    noun = build_of(bare).find("dimensions", "free")
    assert (noun.provision, noun.too_little_cost, noun.too_much_cost) == (True, 100, 10)
    assert "to be made, so it is settled, not measured" in bare.get("/interfaces/dimensions/free").text


def test_what_errs_together_is_written_shown_on_both_and_taken_out(bare: TestClient) -> None:
    assert sent(bare, "/interfaces/dimensions/gap/together", other="free", coefficient="0,8").status_code == 303
    assert sent(bare, "/interfaces/dimensions/gap/together", other="free", coefficient="-0.5").status_code == 303
    (pair,) = build_of(bare).correlations
    assert (pair.first, pair.second, pair.coefficient) == ("gap", "free", -0.5)
    assert "they err in opposite ways" in bare.get("/interfaces/dimensions/free").text
    response = sent(bare, "/interfaces/dimensions/gap/together", "together-gap", other="free", coefficient="2")
    assert faults(response, "together-gap") == {"coefficient"}
    assert sent(bare, "/interfaces/dimensions/free/together/gap/out").status_code == 303
    assert not build_of(bare).correlations


def test_the_list_of_dimensions_is_narrowed_by_words(bare: TestClient) -> None:
    assert "Wheel stud" in bare.get("/interfaces/dimensions").text
    assert "Wheel stud" not in bare.get("/interfaces/dimensions?q=gap").text


# stand-ins and states


def test_a_stand_in_is_written_changed_and_taken_out(bare: TestClient) -> None:
    path = "/interfaces/stand-ins"
    assert sent(bare, path, name="Ply disc", dimension=["gap"], hours="2", cost="14", spread="2").status_code == 303
    (noun,) = build_of(bare).stand_ins
    assert (noun.id, noun.dimensions, noun.hours, noun.spread) == ("ply-disc", ("gap",), 2, 2)
    assert sent(bare, f"{path}/ply-disc", name="Ply disc", dimension=["gap", "free"]).status_code == 303
    assert build_of(bare).stand_ins[0].dimensions == ("gap", "free")
    response = sent(bare, f"{path}/ply-disc", "stand-in-ply-disc", name="Ply disc")
    assert response.status_code == 422
    assert "othing is ticked" in response.text
    assert sent(bare, f"{path}/ply-disc/out").status_code == 303
    assert bare.get(f"{path}/ply-disc").status_code == 404


def test_a_stand_in_an_interface_names_stays(client: TestClient) -> None:
    named = next(item for item in build_of(client).interfaces if item.stand_in)
    response = sent(client, f"/interfaces/stand-ins/{named.stand_in}/out", "stand-in-out")
    assert response.status_code == 422
    assert f"the interface “{named.name}”" in response.text


def test_how_the_vehicle_stands_is_written_changed_and_taken_out(bare: TestClient) -> None:
    assert sent(bare, "/interfaces/states", name="Engine out").status_code == 303
    assert sent(bare, "/interfaces/states/engine-out", name="Old engine out").status_code == 303
    assert build_of(bare).find("states", "engine-out").name == "Old engine out"
    assert sent(bare, "/interfaces/states/engine-out/out").status_code == 303
    bare.post("/interfaces/dimensions/gap", data={"value": "25", "against": "springs", "day": DAY})
    response = sent(bare, "/interfaces/states/springs/out", "state-out-springs")
    assert response.status_code == 422
    assert "the reading of “Gap above the tyre” rests on it" in response.text


def test_every_change_is_taken_back_in_one_step(bare: TestClient) -> None:
    before = build_of(bare)
    condition(bare, expression="gap", at_least="15 mm")
    sent(bare, "/interfaces/arch/out")
    assert not build_of(bare).interfaces
    revision = desk_of(bare).view().revision
    bare.post("/history/undo", data={"revision": str(revision), "back": "/interfaces"})
    bare.post("/history/undo", data={"revision": str(revision + 1), "back": "/interfaces"})
    assert build_of(bare) == before
