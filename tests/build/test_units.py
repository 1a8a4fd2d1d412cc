"""Quantities as people write them."""

from __future__ import annotations

import pytest

from fishplate.build.quantities import parse_quantity
from fishplate.build.units import UnitProblem, format_quantity, from_internal, parse_unit, to_internal


@pytest.mark.parametrize(
    ("text", "value", "symbol", "kind"),
    [
        ("12.5 mm", 12.5, "mm", "length"),
        ("12,5mm", 12.5, "mm", "length"),
        ('1 3/8"', 1.375, "in", "length"),
        ("1-3/8 in", 1.375, "in", "length"),
        ("3/4 inch", 0.75, "in", "length"),
        ('-1 3/8"', -1.375, "in", "length"),
        ("+2 °", 2, "deg", "angle"),
        ("2.5 degrees", 2.5, "deg", "angle"),
        ("90 Nm", 90, "N*m", "torque"),
        ("35 N/mm", 35, "N/mm", "spring rate"),
        ("4 off", 4, "", "number"),
        ("7", 7, "", "number"),
        ("80 degC", 80, "degC", "temperature"),
        ("0,125 in", 0.125, "in", "length"),
        ("12,3456 mm", 12.3456, "mm", "length"),
    ],
)
def test_a_quantity_is_read_as_written(text: str, value: float, symbol: str, kind: str) -> None:
    number, unit = parse_quantity(text)
    assert (number, unit.symbol, unit.kind) == (value, symbol, kind)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is not a number with a unit"),
        ("wide", "is not a number with a unit"),
        ("1 0/0 in", "divides by zero"),
        ("5 mmm", "'mmm' is not a unit"),
        ("5 furlongs per week", "is not a unit"),
        ("5 bananas", "is not a unit"),
        ("1.2.3 mm", "is not a number with a unit"),
        ("12,500 mm", "can be read in two ways"),
        ("-1,000", "can be read in two ways"),
    ],
)
def test_a_quantity_that_is_none_is_refused(text: str, words: str) -> None:
    with pytest.raises(UnitProblem, match=words):
        parse_quantity(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("percent", "measures nothing a build holds a number for"),
        ("ppm", "measures nothing a build holds a number for"),
        ("m/s**2", "measures nothing a build holds a number for"),
        ("degF", "temperatures are held in degC"),
        ("K", "temperatures are held in degC"),
        ("mil", "an angle to some and a thousandth of an inch to others"),
        ("2*mm", "is not a unit"),
        ("mm + mm", "is not a unit"),
        ("__import__('os')", "is not a unit"),
        ("m" * 500, "is not a unit"),
        # arithmetic that would run for ever
        ("9**9**9**9", "is not a unit"),
        ("mm**99999999", "is not a unit"),
    ],
)
def test_a_unit_that_is_none_is_refused(text: str, words: str) -> None:
    with pytest.raises(UnitProblem, match=words):
        parse_unit(text)


def test_an_angle_is_not_a_number_though_neither_has_a_dimension() -> None:
    assert parse_unit("deg").kind == parse_unit("arcmin").kind == parse_unit("turn").kind == "angle"
    assert parse_unit("").kind == "number"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (12.50001, "mm", "12.5 mm"),
        (1234.5, "mm", "1234 mm"),
        (123456.7, "mm", "123457 mm"),
        (99999, "mm", "99999 mm"),
        (100.0, "mm", "100 mm"),
        (0.00001234, "mm", "0.00001234 mm"),
        (-0.0, "mm", "0 mm"),
        (-1e-20, "mm", "-0.00000000000000000001 mm"),
        (1.0, "", "1"),
        (0.99996, "mm", "1 mm"),
    ],
)
def test_a_quantity_is_shown_to_four_digits_and_never_in_powers_of_ten(value: float, unit: str, text: str) -> None:
    assert format_quantity(value, unit) == text


def test_to_internal_and_back() -> None:
    assert to_internal(2, "in") == 50.8
    assert from_internal(50.8, "in") == 2
    assert to_internal(1, "N*m") == 1000
