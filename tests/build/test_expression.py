"""Arithmetic over dimensions: read by a parser of its own, held to its units."""

import json
import math
import pickle

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fishplate.build import Refused, parse_document
from fishplate.build.expression import ExpressionError, names_in, parse_expression
from fishplate.build.units import UnitProblem


def value(text: str, **values: float) -> float:
    result = parse_expression(text).evaluate(values)
    assert isinstance(result, float)
    return result


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 + 2 * 3", 7),
        ("(1 + 2) * 3", 9),
        ("10 - 4 - 3", 3),
        ("12 / 3 / 2", 2),
        ("-2^2", -4),
        ("(-2)^2", 4),
        ("2 * -3", -6),
        ("2 ** -1", 0.5),
        ("4 ^ 0.5", 2),
        ("1e3 + .5", 1000.5),
        ("8 − 2 × 3 ÷ 6", 7),
        ("2 * π - 2 * pi", 0),
    ],
)
def test_operations_bind_as_on_paper(text: str, expected: float) -> None:
    assert value(text) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "internal", "kind"),
    [
        ("15 mm", 15, "length"),
        ("1 3/8 in", 34.925, "length"),  # 1.375 * 25.4
        ("3/8 in", 9.525, "length"),  # 0.375 * 25.4
        ('2"', 50.8, "length"),
        ("180 deg", math.pi, "angle"),
        ("180°", math.pi, "angle"),
        ("35 N/mm", 35, "spring rate"),
        ("10 N*m", 10_000, "torque"),
        ("2 cm^2", 200, "area"),
        ("2 cm²", 200, "area"),
        ("1 lb", 0.45359237, "mass"),
        ("1 lbf", 4.4482216152605, "force"),
    ],
)
def test_a_word_after_a_number_is_its_unit(text: str, internal: float, kind: str) -> None:
    expression = parse_expression(text)
    assert expression.evaluate({}) == pytest.approx(internal, rel=1e-12)
    assert expression.kind({}) == kind


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("min(3, 1, 2)", 1),
        ("max(3, 1, 2)", 3),
        ("clip(5, 1, 4)", 4),
        ("abs(-3)", 3),
        ("sqrt(16)", 4),
        ("hypot(3, 4)", 5),
        ("sin(30 deg)", 0.5),
        ("cos(60 deg)", 0.5),
        ("tan(45 deg)", 1),
        ("asin(0.5) / 1 deg", 30),
        ("acos(0.5) / 1 deg", 60),
        ("atan(1) / 1 deg", 45),
        ("atan2(1 mm, -1 mm) / 1 deg", 135),
    ],
)
def test_functions_give_the_textbook_value(text: str, expected: float) -> None:
    assert value(text) == pytest.approx(expected, abs=1e-12)


def test_names_are_dimensions_and_never_units_functions_or_constants() -> None:
    assert names_in("max(mm, b) - 15 mm + pi * r2 - 3 N/mm * travel / 1 N") == {"mm", "b", "r2", "travel"}


def test_a_stroke_after_a_unit_goes_on_with_the_unit_only_where_it_is_one() -> None:
    assert names_in("12 mm/ratio") == {"ratio"}
    assert names_in("12 mm/rod") == {"rod"}
    assert names_in("12 N/mm") == frozenset()
    assert names_in("12 N / mm") == {"mm"}


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("", 1),
        ("a b", 3),
        ("2 (3)", 3),
        ("2 sin(a)", 3),
        ("2 pi", 3),
        ("a.b", 2),
        ("a[0]", 2),
        ("__import__('os')", 1),
        ("a if b else c", 3),
        ("lambda: 0", 7),
        ("exec(a)", 1),
        ("sin", 1),
        ("atan2(1)", 1),
        ("12,5 mm", 3),
        ("max(1,5)", 6),
        ("2^3^2", 5),
        ("a^b", 3),
        ("a^99", 3),
        ("1e999", 1),
        ("a / 3/8 in", 5),
        ("1 3/0 in", 1),
        ("5 bananas", 3),
        ("(a", 3),
        ("a)", 2),
        ("a +", 4),
        ("Arch - b", 1),
    ],
)
def test_what_is_not_arithmetic_is_refused_with_its_column(text: str, column: int) -> None:
    with pytest.raises(ExpressionError) as caught:
        parse_expression(text)
    assert caught.value.column == column


@pytest.mark.parametrize("text", ["a" * 2001, "(" * 51 + "a" + ")" * 51, "-" * 51 + "a", "a" + " + a" * 400])
def test_length_depth_and_size_are_bounded(text: str) -> None:
    with pytest.raises(ExpressionError, match=r"longer than|nested more|more than 500"):
        parse_expression(text)


def test_an_error_survives_pickling_and_becomes_a_problem() -> None:
    with pytest.raises(ExpressionError) as caught:
        parse_expression("a b")
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert str(again.problem("here")).startswith("here, column 3: did not expect 'b' here ('a b').")


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("a * a", "area"),
        ("a * a * a", "volume"),
        ("f / (a * a)", "pressure"),
        ("f * a", "torque"),
        ("f / a", "spring rate"),
        ("sqrt(a * a + 4 mm^2)", "length"),
        ("a * sin(turn)", "length"),
        ("a * turn / 1 rad", "length"),
        ("atan2(a, a)", "angle"),
        ("max(0, a)", "length"),
        ("a / a", "number"),
        ("a^4", "length^4"),
        ("12 V * 2 A", "power"),
    ],
)
def test_kinds_multiply_and_divide(text: str, kind: str) -> None:
    assert parse_expression(text).kind({"a": "length", "f": "force", "turn": "angle"}) == kind


@pytest.mark.parametrize(
    ("text", "both"),
    [
        ("weight + pull", ("lb", "lbf")),
        ("5 lbf - 2 lb", ("lbf", "lb")),
        ("span + 15", ("mm", "without a unit")),
        ("span - 2 deg", ("mm", "deg")),
        ("max(span, weight)", ("mm", "lb")),
        ("sin(span)", ("angle", "mm")),
        ("asin(span)", ("number", "mm")),
        ("span * 1 rad + span", ("length*angle", "length")),
    ],
)
def test_what_does_not_go_together_is_refused_naming_both(text: str, both: tuple[str, str]) -> None:
    kinds = {"weight": "mass", "pull": "force", "span": "length"}
    units = {"weight": "lb", "pull": "lbf", "span": "mm"}
    with pytest.raises(UnitProblem) as caught:
        parse_expression(text).kind(kinds, units=units)
    assert all(name in str(caught.value) for name in both)


def test_a_pound_of_mass_is_told_from_a_pound_of_force_in_words() -> None:
    with pytest.raises(UnitProblem, match="lb and kg are masses, lbf and N are forces"):
        parse_expression("5 lbf - 2 lb").kind({})


def test_arrays_and_floats_give_the_same() -> None:
    text = "hypot(a - 3 mm, b) / max(a, b) * sin(1 rad * a / b) + a^2 / (b * 1 mm)"
    a, b = np.linspace(1, 5, 7), np.linspace(2, 9, 7)
    whole = parse_expression(text).evaluate({"a": a, "b": b})
    singly = [value(text, a=float(x), b=float(y)) for x, y in zip(a, b, strict=True)]
    assert whole == pytest.approx(singly, rel=1e-14)


def test_single_precision_draws_stay_single() -> None:
    result = parse_expression("a * 2 - 15 mm + sin(30 deg) * a").evaluate({"a": np.ones(3, dtype=np.float32)})
    assert isinstance(result, np.ndarray)
    assert result.dtype == np.float32


@pytest.mark.parametrize("text", ["1 / (a - a)", "sqrt(-a)", "asin(2 * a)", "(-a)^0.5", "(a * 1e300)^10"])
def test_a_value_that_does_not_exist_is_not_a_finite_number_and_never_raises(text: str) -> None:
    assert not math.isfinite(value(text, a=1.0))


def test_a_missing_value_is_named() -> None:
    with pytest.raises(ExpressionError, match="no value for 'b'"):
        parse_expression("a - b").evaluate({"a": 1.0})


WORDS = "a b arch_height 1 2.5 3/8 0 mm in lb lbf deg N/mm + - * / ^ ** ( ) , sin( max( hypot( pi e . ° ² · [ _"
PIECES = st.sampled_from((*WORDS.split(), "1 3/8", '"', " ", "\n"))


def _meets_only_words(text: str) -> None:
    try:
        expression = parse_expression(text)
        expression.kind(dict.fromkeys(expression.names, "length"))
        expression.evaluate(dict.fromkeys(expression.names, 2.0))
        expression.evaluate({name: np.array([0.0, -1.0, 3.0]) for name in expression.names})
    except (ExpressionError, UnitProblem):
        return


@settings(max_examples=7000, deadline=None, suppress_health_check=list(HealthCheck), database=None)
@given(st.lists(PIECES, max_size=25).map("".join))
@example("9" * 1500 + "/1 in")
@example("1 " + "9" * 400 + "/3 in")
@example("1e308*1e308 - 1e308*1e308")
@example("-" * 50 + "a")
@example("(" * 49 + "a" + ")" * 49)
@example("+".join(["a"] * 250))
def test_arithmetic_by_chance_is_read_or_refused(text: str) -> None:
    _meets_only_words(text)


@settings(max_examples=3000, deadline=None, suppress_health_check=list(HealthCheck), database=None)
@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    _meets_only_words(text)


# --- what a build document refuses ---


def refusal(conditions: list[dict[str, object]], **more: object) -> str:
    dimensions = [
        {"id": "a", "name": "A"},
        {"id": "b", "name": "B", "unit": "in"},
        {"id": "w", "name": "W", "unit": "lb"},
    ]
    data = {"interfaces": [{"id": "i", "name": "I"}], "dimensions": dimensions, "conditions": conditions, **more}
    with pytest.raises(Refused) as caught:
        parse_document(json.dumps(data))
    return str(caught.value)


def condition(**fields: object) -> dict[str, object]:
    return {"id": "c", "interface": "i", "name": "C", "expression": "a - b", "at_least": "5 mm", **fields}


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"expression": "a - "}, "conditions (c), expression, column 4"),
        ({"at_least": "5 m m"}, "conditions (c), at_least, column 5"),
        ({"expression": "a - nowhere"}, "there is no such dimension ('nowhere')"),
        ({"at_least": "5 deg"}, "'a - b' is a length, such as mm, but '5 deg' is an angle in deg"),
        ({"expression": "a * b^2"}, "'a * b^2' is a volume, such as mm^3, but '5 mm' is a length in mm"),
        ({"expression": "w / a^2"}, "'w / a^2' is a length^-2*mass, such as kg/mm^2, but '5 mm' is a length in mm"),
        ({"expression": "35 lbf/in * a", "at_least": "80 lb"}, "a force, such as N, but '80 lb' is a mass in lb"),
        ({"expression": "w", "at_least": "5 N"}, 'multiply by "9.81 N / (1 kg)" where a weight is meant'),
        ({"at_least": "5"}, "'5' is a number without a unit"),
        ({"expression": "a - w"}, "'a' is a length in mm, but 'w' is a mass in lb"),
        ({"expression": "w", "at_least": "5 lbf"}, "lb and kg are masses, lbf and N are forces"),
        ({"at_least": None}, "the condition has no limit"),
        ({"at_most": "4 mm"}, "the least allowed is above the most allowed ('5 mm > 4 mm')"),
    ],
)
def test_a_condition_that_cannot_be_evaluated_is_refused(fields: dict[str, object], words: str) -> None:
    assert words in refusal([condition(**fields)])


def test_every_fault_of_a_condition_is_listed_at_once() -> None:
    words = refusal([condition(expression="a -", at_least="5 furlong_s"), condition(id="d", at_least=None)])
    assert len(words.splitlines()) == 3


def test_units_that_do_not_go_together_are_told_where_they_stand_each_of_them() -> None:
    words = refusal([condition(expression="a + w"), condition(id="d", at_least="5 deg", at_most="3 kg")])
    assert [line.split(": ")[0].removeprefix("build document, ") for line in words.splitlines()] == [
        "conditions (c), expression", "conditions (d), at_least", "conditions (d), at_most",
    ]  # fmt: skip


def test_a_dimension_cannot_take_the_name_of_a_function() -> None:
    assert "expressions use this name" in refusal([], dimensions=[{"id": "pi", "name": "Pi"}])


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([("a", "a", 0.5)], "correlated with itself"),
        ([("a", "b", 0.5), ("b", "a", 0.4)], "stated more than once"),
        ([("a", "b", 0.9), ("b", "w", 0.9), ("a", "w", -0.9)], "cannot all hold"),
    ],
)
def test_correlations_that_cannot_hold_are_refused(pairs: list[tuple[str, str, float]], words: str) -> None:
    rows = [{"first": first, "second": second, "coefficient": value} for first, second, value in pairs]
    assert words in refusal([], correlations=rows)


def test_the_weight_of_a_mass_is_written_as_its_refusal_says() -> None:
    weight = parse_expression("w * 9.81 N / (1 kg)")
    assert weight.kind({"w": "mass"}) == "force"
    assert weight.evaluate({"w": 100.0}) == pytest.approx(981)
