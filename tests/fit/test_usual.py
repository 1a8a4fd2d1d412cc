"""Places where parts usually meet: whole in themselves, offered where they apply, added without doubling."""

from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from fishplate.build import Build, Refused, build_from_data, check_build, facts_of
from fishplate.build.interfaces import Consequence
from fishplate.cli.fit_command import command
from fishplate.fit import Verdict, assess, usual_interfaces, with_usual
from fishplate.fit.usual import FOUNDATION, _listed, _row, _table, brought, usual_conditions
from fishplate.store import BuildFile
from fishplate.trade.templates import template, templates_for

PLACES = [row["id"] for row in _table()["place"]]


def van(**more: object) -> Build:
    return build_from_data({
        "systems": [{"id": "brakes", "name": "Brakes", "hazards": ["brakes"]}],
        "parts": [{"id": "wheels", "name": "Steel wheel"}, {"id": "radio", "name": "Radio"}],
        **more,
    })  # fmt: skip


def test_there_are_places_enough_and_each_is_whole() -> None:
    assert len(PLACES) >= 40
    for row in _table()["place"]:
        own = {each["id"] for each in row["dimensions"]}
        assert own, row["id"]
        assert usual_conditions(row["id"]), row["id"]
        assert row["check"], row["id"]
        assert row["if_wrong"], row["id"]
        assert row["late_hours"] == sorted(row["late_hours"]), row["id"]
        assert set(row.get("stand_in", {}).get("dimensions", ())) <= own, row["id"]


def test_every_place_added_at_once_is_a_build_without_fault() -> None:
    build = with_usual(Build(), [FOUNDATION, *PLACES])
    assert list(check_build(build)) == []
    assert len(build.interfaces) == len(PLACES)
    report = assess(build, facts_of(build, date(2026, 3, 1)), samples=1000)
    assert {item.verdict for item in report.interfaces} == {Verdict.NOT_KNOWN}
    assert {item.dimension for item in report.measures} == {
        item.id for item in build.dimensions if _asked(build, item.id)
    }


def _asked(build: Build, name: str) -> bool:
    return any(name in condition.names for condition in build.conditions)


@pytest.mark.parametrize("place", PLACES)
def test_every_place_can_be_added_alone(place: str) -> None:
    build = with_usual(van(), [place])
    assert list(check_build(build)) == []
    assert build.interfaces[-1].id == place


def test_the_foundation_sheet_comes_first() -> None:
    found = usual_interfaces(van())
    assert found[0].id == FOUNDATION
    assert "tyre, outer diameter on its rim" in " ".join(found[0].dimensions).lower()
    with_sheet = with_usual(van(), [FOUNDATION])
    assert all(dimension.foundation for dimension in with_sheet.dimensions)
    assert with_sheet.interfaces == ()
    assert usual_interfaces(with_sheet)[0].id != FOUNDATION


def test_what_is_missing_of_the_sheet_is_offered_and_what_is_there_by_another_name_is_not_doubled() -> None:
    own = [
        {"id": "mine", "name": "Tyre 215/75 R 16: outer diameter", "foundation": True},
        {"id": "lip", "name": "Front arch lip to hub centre", "unit": "cm", "foundation": True},
        {"id": "other", "name": "Rear track, old axle", "unit": "kg", "foundation": True},
    ]
    build = van(dimensions=own)
    rest = usual_interfaces(build)[0]
    assert rest.name == "The rest of the foundation sheet"
    assert len(rest.dimensions) == len(_table()[FOUNDATION]["dimensions"]) - 2
    added = with_usual(build, [FOUNDATION, "tyre-arch-front"])
    assert not {"tyre_diameter", "hub_to_arch_front"} & added.index["dimensions"].keys()
    assert list(check_build(added)) == []
    bump = added.find("conditions", "front-tyre-bump")
    assert bump.expression == "lip - mine / 2 - bump_travel_front"
    assert usual_interfaces(added)[0].id != FOUNDATION


def test_only_places_of_systems_and_parts_present_are_offered() -> None:
    found = {item.id: item for item in usual_interfaces(van())}
    assert found["wheel-caliper"].systems == ("brakes",)
    assert found["wheel-caliper"].parts == ("wheels",)
    assert "brake-hose-travel" in found
    assert not {"seat-roof", "battery-pack", "glass-aperture"} & found.keys()
    assert [item.id for item in usual_interfaces(Build())] == [FOUNDATION]


def test_places_the_own_parts_ask_for_come_before_those_of_a_system_alone() -> None:
    found = usual_interfaces(van())[1:]
    with_parts = [bool(item.parts) for item in found]
    assert with_parts == sorted(with_parts, reverse=True)


def test_a_place_that_is_listed_under_another_name_is_not_offered() -> None:
    build = van(interfaces=[{"id": "mine", "name": "Front caliper in the alloy wheel"}])
    assert "wheel-caliper" not in {item.id for item in usual_interfaces(build)}


@pytest.mark.parametrize("place", PLACES)
def test_listing_one_place_hides_no_other(place: str) -> None:
    name = _row(place)["name"]
    for id_ in (place, "a-place-of-my-own"):
        build = build_from_data({"interfaces": [{"id": id_, "name": name}]})
        assert _listed(build) == {place}


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("Booster under the strut tower", "booster-room"),
        ("Tank filler in the rear wing", "filler-neck"),
        ("Weather strip seal in the sliding door", "seal-gap"),
        ("A shelf for gloves", None),
    ],
)
def test_a_name_is_about_one_place(name: str, place: str | None) -> None:
    assert _listed(build_from_data({"interfaces": [{"id": "i", "name": name}]})) == ({place} if place else set())


def test_what_is_added_brings_all_it_needs_and_is_offered_no_more() -> None:
    build = with_usual(van(), ["tyre-arch-front"])
    place = build.interfaces[0]
    assert (place.parts, place.stand_in, place.hazards) == (("wheels",), "tyre-disc", ("steering", "suspension"))
    # dimensions of the foundation sheet that its conditions name come along
    assert {"tyre_diameter", "hub_to_arch_front", "front_room_at_lock"} <= build.index["dimensions"].keys()
    assert "wheelbase" not in build.index["dimensions"]
    sources = {condition.id: condition.source for condition in build.conditions}
    assert "maker's figure wins" in sources["front-tyre-bump"]
    assert "Regulation" in sources["front-tyre-load"]
    assert place.id not in {item.id for item in usual_interfaces(build)}


# --- from templates ---


def test_an_interface_of_a_kind_brings_conditions_of_that_kind() -> None:
    rows = [row for row in _table()["place"] if row.get("templates")]
    assert len(rows) >= 25
    for row in rows:
        offered = {item.id for item in templates_for(row["kind"])}
        assert {each["template"] for each in row["templates"]} <= offered, row["id"]


def test_a_template_over_the_places_own_dimensions_keeps_its_arithmetic_limits_and_source() -> None:
    made = {item.id: item for item in usual_conditions("tyre-arch-rear")}["rear-tyre-lip"]
    asked = template("tyre-inside-lip")
    assert made.expression == "rear_lip_half_width - (rear_flange_width / 2 - rear_wheel_offset + tyre_width / 2)"
    assert (made.at_least, made.source, made.note) == (asked.at_least, asked.source, asked.if_wrong)
    assert made.late_hours is not None
    assert made.late_hours.likely == 26


def test_a_condition_is_as_grave_as_the_graver_of_template_and_place() -> None:
    for row in _table()["place"]:
        for fields, made in zip(row.get("templates", ()), usual_conditions(row["id"]), strict=False):
            asked = {template(fields["template"]).consequence, Consequence(row["consequence"])}
            assert made.consequence == max(asked, key=list(Consequence).index)


@pytest.mark.parametrize("place", PLACES)
def test_every_dimension_says_how_to_take_it_and_with_what(place: str) -> None:
    for item in brought(place):
        assert item.how.endswith("."), item.id
        assert item.tools, item.id
        assert item.minutes > 0, item.id


def test_every_dimension_of_the_foundation_sheet_says_how_to_take_it_and_with_what() -> None:
    sheet = with_usual(Build(), [FOUNDATION]).dimensions
    assert all(item.how and item.tools for item in sheet)


def test_every_place_has_what_can_stand_in_or_is_of_those_nothing_can() -> None:
    """What no substitute shows: welding distortion, run-out, sums on paper, what a meter reads."""
    without = {row["id"] for row in _table()["place"] if "stand_in" not in row}
    assert without == {
        "axle-straightness", "bell-runout", "starter-ring", "master-calipers", "coated-fits", "brake-balance",
        "corner-weights", "earth-path", "charging-balance", "assist-without-engine",
    }  # fmt: skip


def test_every_dimension_that_comes_from_a_template_says_how_to_take_it() -> None:
    how = {item.id: item.how for row in _table()["place"] for item in brought(row["id"])}
    asked = {
        fields.get("with", {}).get(name, name)
        for row in _table()["place"]
        for fields in row.get("templates", ())
        for name in template(fields["template"]).names
    }
    own = {name for name in asked if name in how}
    assert len(own) > 50
    assert all(how[name] for name in own)


def test_what_is_missing_becomes_something_to_measure_or_to_try() -> None:
    build = with_usual(van(), ["steering-column", "wheel-caliper"])
    report = assess(build, facts_of(build, date(2026, 3, 1)), samples=1000)
    asked = {item.dimension for item in report.measures}
    assert asked == {name for condition in build.conditions for name in condition.names}
    assert [look.condition for look in report.looks] == ["column-turns"]
    texts = {item.dimension: item.text for item in report.measures}
    assert "Card template of the caliper" in texts["caliper_reach"] or "card template" in texts["caliper_reach"]


def test_nothing_is_doubled_and_what_is_there_stays() -> None:
    own = {"id": "tyre_diameter", "name": "My tyre", "minutes": 3}
    build = with_usual(van(dimensions=[own]), ["tyre-arch-front", "tyre-arch-front", "tyre-arch-rear"])
    assert [item.name for item in build.dimensions if item.id == "tyre_diameter"] == ["My tyre"]
    assert len({item.id for item in build.dimensions}) == len(build.dimensions)
    assert with_usual(build, ["tyre-arch-front"]) == build


def test_an_id_used_for_another_kind_of_thing_is_refused() -> None:
    build = van(dimensions=[{"id": "tyre_diameter", "name": "Tyre", "unit": "kg"}])
    with pytest.raises(Refused, match="not a length"):
        with_usual(build, ["tyre-arch-front"])


def test_an_unknown_place_is_refused_with_near_names() -> None:
    with pytest.raises(Refused, match="Did you mean wheel-caliper"):
        with_usual(van(), ["wheel-calliper"])


def test_no_place_is_worded_as_approval_or_names_a_maker() -> None:
    text = str(_table()).lower()
    assert not any(word in text for word in ("approved by us", "guaranteed", "is safe", "®", "™"))


# --- the command ---


def test_places_are_added_in_one_batch_that_can_be_taken_back(tmp_path: Path) -> None:
    path = tmp_path / "van.fishplate"
    BuildFile.create(path, van(), author="me@here", message="start")
    listed = CliRunner().invoke(command, [str(path), "--usual"])
    assert listed.exit_code == 0
    assert listed.output.startswith("foundation\n")
    assert (
        "  - Hub centre to the outermost point of the caliper (straight edge and caliper). Caliper bolted"
        in listed.output
    )
    assert "  In mock-up, for Hub centre to the outermost point of the caliper; Hub face to " in listed.output
    assert "wheel-caliper\n" in listed.output
    added = CliRunner().invoke(command, [str(path), "--add-usual", "wheel-caliper", "--add-usual", "foundation"])
    assert added.exit_code == 0, added.output
    assert "Added 1 interface, " in added.output
    file = BuildFile.open(path)
    assert [item.id for item in file.build().interfaces] == ["wheel-caliper"]
    assert len(file.history()) == 2
    file.undo(revision=file.revision, author="me@here")
    assert file.build() == van()


def test_adding_again_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "van.fishplate"
    BuildFile.create(path, with_usual(van(), ["wheel-caliper"]), author="me@here", message="start")
    again = CliRunner().invoke(command, [str(path), "--add-usual", "wheel-caliper"])
    assert "nothing was written" in again.output
    assert BuildFile.open(path).revision == 1


def test_json_lists_what_is_offered(tmp_path: Path) -> None:
    import json

    path = tmp_path / "van.fishplate"
    BuildFile.create(path, van(), author="me@here", message="start")
    data = json.loads(CliRunner().invoke(command, [str(path), "--usual", "--json"]).output)
    assert list(data) == ["usual"]
    assert all(key in (command.help or "") for key in data["usual"][0])
    data = json.loads(CliRunner().invoke(command, [str(path), "--add-usual", "wheel-hub", "--json"]).output)
    assert list(data) == ["file", "revision", "added"]
