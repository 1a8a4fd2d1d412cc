"""`fishplate calc`"""

import json
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.build.errors import Refused
from fishplate.build.units import UnitProblem, conversion_factor
from fishplate.cli.calc_command import command
from fishplate.trade import calculations
from fishplate.trade.arguments import read_value
from fishplate.trade.catalogue import Parameter, Quantity


def run(*arguments: str) -> str:
    result = CliRunner().invoke(command, arguments, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def data(*arguments: str) -> Any:
    return json.loads(run(*arguments, "--json"))


def result_of(*arguments: str) -> Any:
    return data(*arguments)["results"][0]["value"]


def refused(*arguments: str) -> str:
    result = CliRunner().invoke(command, arguments)
    assert isinstance(result.exception, Refused), result.output
    return str(result.exception)


def test_a_tyre_is_read_and_shown_with_its_source_and_what_to_mind() -> None:
    text = run("wheels.tyre_size", "205/65R15C 102/100T")
    assert "647.5 mm" in text
    assert "190 km/h" in text
    assert "Source: ISO 4000-1" in text
    assert "arithmetic, not a tyre" in text


def test_keys_of_the_json_are_those_promised() -> None:
    found = data("hydraulics.stroke_share", "54 mm", "0.6 mm", "23.8 mm", "16 mm")
    assert set(found) == {"calculation", "purpose", "arguments", "results", "notes", "references", "caution", "settles",
                          "conditions"}  # fmt: skip
    assert found["arguments"][0] == {"name": "piston_diameter_mm", "given": "54 mm", "value": 54.0, "unit": "mm"}
    assert found["arguments"][4] == {"name": "pistons", "given": None, "value": 2, "unit": "-"}
    assert set(found["results"][0]) == {"name", "words", "unit", "shape", "value"}
    assert set(found["conditions"][0]) == {"id", "name", "expression", "at_least", "at_most", "source", "consequence"}
    listed = data("--list", "springs")["calculations"]
    assert set(listed[0]) == {"calculation", "purpose", "parameters", "results", "settles", "conditions"}
    assert set(listed[0]["parameters"][0]) == {"name", "words", "unit", "shape", "required"}


def test_a_condition_shows_its_limit_as_a_start() -> None:
    text = run("arches.bump_room", "470", "729", "90")
    assert "Room above the tyre at bump: at least 10 mm" in text
    assert "the maker's figure wins" in text


def test_units_fractions_and_decimal_commas_are_read() -> None:
    metric = result_of("springs.spring_rate", "12,7 mm", "101.6 mm", "6", "shear_modulus_mpa=81.5 GPa")
    inches = result_of("springs.spring_rate", "1/2 in", "4 in", "6", "shear_modulus_mpa=81500")
    assert metric == pytest.approx(inches)


def test_names_and_places_may_be_mixed() -> None:
    named = result_of("gearing.engine_speed", "overall_ratio=5.2", "55 mph", "circumference_mm=62.832 in")
    placed = result_of("gearing.engine_speed", "55 mph", "5.2", "62.832 in")
    assert named == placed


def test_lists_and_points_are_read() -> None:
    assert result_of("springs.series_rate", "200, 500") == pytest.approx(1000 / 7)
    assert result_of("driveline.line_angle", "3, 5 deg", "0 deg") == pytest.approx(0.069813, abs=1e-6)
    loads = result_of("mounts.mount_loads", "0, -300; 0, 300; 70, 0 cm", "210, 15 mm", "240 kg")
    assert sum(loads) == pytest.approx(240 * 9.80665)


def test_a_wire_gauge_is_read_as_it_is_said() -> None:
    assert result_of("wiring.gauge_area", "2/0 AWG") == pytest.approx(67.4, abs=0.05)
    assert result_of("wiring.gauge_area", "0") == result_of("wiring.gauge_area", "1/0")
    assert "is not a number" in refused("wiring.gauge_area", "thick")


def test_a_grade_is_read_however_it_is_written() -> None:
    assert result_of("fasteners.proof_stress", "Grade 8") == result_of("fasteners.proof_stress", "8")
    assert result_of("fasteners.proof_stress", "class 8,8", "diameter_mm=20 mm") == 600


def test_a_designation_needs_no_quotes_and_a_name_no_capitals() -> None:
    assert result_of("Wheels.Tyre-Size", "205/65R15C", "102/100T") == "205/65R15C 102/100T"
    assert data("wheels.wheel_size", "designation=7Jx16", "ET45")["results"][4]["value"] == 45


@pytest.mark.parametrize("area", ["2.5 mm2", "2.5mm²", "2,5 mm^2", "2.5 qmm", "0.025 cm2", "2.5"])
def test_a_cables_area_is_read_as_it_is_sold(area: str) -> None:
    assert result_of("wiring.voltage_drop", "10A", "8 m", area) == pytest.approx(0.5714, abs=1e-4)


@pytest.mark.parametrize(
    ("text", "id_"), [("35,5; 40,2", "springs.series_rate"), ("12,7, 13,1 N/mm", "springs.series_rate"),
                      ("1000,5, 0, 0", "driveline.joint_angle")],
)  # fmt: skip
def test_a_comma_that_may_be_a_decimal_one_is_asked_about(text: str, id_: str) -> None:
    assert "can be read as two values or as one" in refused(id_, text, *(["1,0,0"] if "joint" in id_ else []))


def test_lists_without_spaces_are_lists() -> None:
    assert result_of("springs.series_rate", "200,500") == pytest.approx(1000 / 7)
    assert result_of("driveline.joint_angle", "1000,0,50; 1000,0,0", "1000,0,0")[1] == 0
    assert "no value was given" in refused("springs.series_rate", "")


def test_negative_values_are_no_options() -> None:
    assert result_of("linkages.roll_centre", "-1500", "150", "750 mm") == 50.0


def test_a_wrong_unit_is_refused_naming_both() -> None:
    text = refused("coupling.d_value", "2000 lbf", "12 deg")
    assert "lbf where kg is wanted" in text
    assert "deg where kg is wanted" in text
    assert "rpm where" in refused("wiring.current_of", "25 rpm", "12 V")


def test_every_fault_is_listed_at_once() -> None:
    text = refused("springs.spring_rate", "a lot", "wire=3", "shear=80")
    assert "wire_mm: 'a lot' is not a number" in text
    assert "Did you mean wire_mm?" in text
    assert "Did you mean shear_modulus_mpa?" in text
    assert "coil_mm: no value was given" in text


def test_more_values_than_it_takes_are_refused() -> None:
    assert "more values than it takes" in refused("wheels.load_capacity", "91", "92")


def test_lists_of_other_lengths_are_refused_calmly() -> None:
    text = refused("weight.axle_masses_of_items", "75, 40", "1, 2, 3", "2460")
    assert "lists are of the same length" in text
    assert "rows of the same length" in refused("mounts.mount_loads", "1, 2; 3", "1, 2", "5")


def test_what_a_formula_does_not_hold_for_is_refused() -> None:
    text = refused("springs.spring_rate", "12", "-100 mm", "6", "shear_modulus_mpa=80 GPa")
    assert text.startswith("springs.spring_rate, coil_mm: it must be above zero ('-100 mm')")
    assert "Give coil_mm: mean diameter of the coil" in text
    # what is worked out from several is named in words
    lifted = refused("brakes.adhesion_used", "6000", "4000", "1500", "2500", "0.7", "0.7")
    assert lifted.startswith("brakes.adhesion_used: the load left on the rear axle must be zero or more ('-200')")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("wheels.tyre_size", "7.50R16"), "wheels.tyre_size, designation: a size of this form does not say how high"),
        (("wheels.load_capacity", "300"), "wheels.load_capacity, load_index: load index 300 is not in the table"),
        (("fasteners.thread_stress_area", "M7.3"), "fasteners.thread_stress_area, designation: this diameter has no"),
        (("fasteners.proof_stress", "7.7"), "fasteners.proof_stress, grade: it must be one of 4.6"),
    ],
)
def test_a_designation_that_is_none_is_refused_at_its_place(arguments: tuple[str, ...], said: str) -> None:
    assert refused(*arguments).startswith(said)


@pytest.mark.parametrize(
    ("name", "hint"),
    [("springs.sprng_rate", "springs.spring_rate"), ("tyre_size", "wheels.tyre_size"), ("zzz", "--list")],
)
def test_a_near_name_is_offered(name: str, hint: str) -> None:
    result = CliRunner().invoke(command, [name, "1"])
    assert result.exit_code == 2
    assert hint in result.output


def test_without_values_it_says_what_it_takes() -> None:
    text = run("wheels.section_on_rim")
    assert "measuring_rim_mm" in text
    assert "width of the rim it is stated on" in text


def test_the_list_holds_every_calculation_and_can_be_narrowed() -> None:
    everything = [item["calculation"] for item in data("--list")["calculations"]]
    assert everything == list(calculations())
    assert all(
        item.startswith("brakes.") for item in [row["calculation"] for row in data("--list", "brakes")["calculations"]]
    )
    assert CliRunner().invoke(command, ["--list", "brake"]).exit_code == 2


@pytest.mark.parametrize("id_", calculations())
def test_every_calculation_can_be_described(id_: str) -> None:
    assert calculations()[id_].purpose in run(id_)


def test_what_has_no_value_is_null() -> None:
    found = data("linkages.instant_centre", "0, 0", "500, 0", "0, 200", "500, 200")
    assert found["results"][0]["value"] is None


@pytest.mark.parametrize(
    ("symbol", "wanted"),
    [
        ("mm", "deg"),
        ("lb", "N"),
        ("kg", "N"),
        ("Hz", "rad/s"),
        ("rad", ""),
        ("N*m", "N*mm/rad"),
        ("mil", "mm"),
        ("bogus", "mm"),
    ],
)  # fmt: skip
def test_units_that_do_not_belong_together_are_refused(symbol: str, wanted: str) -> None:
    with pytest.raises(UnitProblem):
        conversion_factor(symbol, wanted)


@pytest.mark.parametrize(
    ("text", "kind", "unit", "value"),
    [
        ("7.85e-6", "number", "kg/mm**3", 7.85e-6), ("7850 kg/m**3", "number", "kg/mm**3", 7.85e-6),
        ("75 %", "number", "-", 0.75), ("3500 rpm", "number", "rad/s", 366.5191), ("105 degC", "count", "degC", 105),
        ("90 °C", "count", "degC", 90),
        ("2/0", "gauge", "-", -1.0), ("0000", "gauge", "-", -3.0), ("12 awg", "gauge", "-", 12.0),
        ("yes", "flag", "", True), ("M10x1.25", "text", "", "M10x1.25"), ("1 3/8 in", "number", "mm", 34.925),
    ],
)  # fmt: skip
def test_values_are_read_by_kind(text: str, kind: Any, unit: str, value: Any) -> None:
    found = read_value(Parameter(Quantity("x", "what it is", unit), kind), text)
    assert found == (pytest.approx(value) if isinstance(value, float) else value)


@pytest.mark.parametrize(
    ("text", "kind"), [("maybe", "flag"), ("2.5", "count"), ("1e999", "number"), ("", "array"), ("x", "number")]
)
def test_what_is_no_value_is_refused(text: str, kind: Any) -> None:
    with pytest.raises((UnitProblem, ValueError)):
        read_value(Parameter(Quantity("x", "what it is", "mm"), kind), text)


ANYTHING = ["", "=", "x=1", "nan", "inf", "\x00", "1 3/0 in", "5 bogus", "12 mm", "3 deg"]
WRITTEN = {
    "number": ["0", "-1", "0.5", "5", "100", "1e308", "1e-308", "75 %", *ANYTHING],
    "array": ["0,0", "1,2;3,4", "1,2,3", "0,0,0", "1,2,3;4,5,6", "1,1,1;1,1,1;1,1,1;1,1,1;1,1,1", "1;2;", *ANYTHING],
    "text": ["205/65R15", "7Jx16", "M8", "G 1/4", "8.8", "front", "T", *ANYTHING],
    "count": ["-1", "0", "2", "5", "105", *ANYTHING],
    "flag": ["yes", "no", *ANYTHING],
    "gauge": ["2/0", "00", "12 AWG", "41", "-4", *ANYTHING],
}


@settings(max_examples=500, deadline=None)
@given(st.sampled_from(list(calculations())), st.data())
def test_nothing_that_is_written_fails_without_words(id_: str, choose: st.DataObject) -> None:
    parameters = calculations()[id_].parameters
    written = [f"{item.name}={choose.draw(st.sampled_from(WRITTEN[item.kind]))}" for item in parameters]
    result = CliRunner().invoke(command, [id_, *written, "--json"])
    if result.exception is None:
        json.loads(result.output, parse_constant=pytest.fail)
    else:
        assert isinstance(result.exception, Refused), repr(result.exception)
        assert str(result.exception)
