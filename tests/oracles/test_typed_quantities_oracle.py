"""What people type for a quantity against pint's factors, and fractions against exact rationals."""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.build.formats import Formats
from fishplate.build.quantities import read_quantity, split_quantity
from fishplate.build.units import UnitProblem, parse_unit

REGISTRY = pint.UnitRegistry(cache_folder=None)

# typed, the same as pint writes it, field's unit
TYPED = [
    ("12,5 mm", (12.5, "mm"), "mm"), ("12.5", (12.5, "mm"), "mm"), ("1/2 in", (0.5, "inch"), "mm"),
    ('1 3/8"', (1.375, "inch"), "mm"), ("5' 3 1/2\"", (63.5, "inch"), "mm"), ("5 ft 3.5 in", (63.5, "inch"), "mm"),
    ("5'", (5, "foot"), "mm"), ("2-1/16 in", (2.0625, "inch"), "mm"), ("1½”", (1.5, "inch"), "cm"),
    ("25 lb-ft", (25, "force_pound*foot"), "N*m"), ("25 ft-lbs", (25, "force_pound*foot"), "N*m"),
    ("180 in-lb", (180, "force_pound*inch"), "N*m"), ("30 psi", (30, "psi"), "bar"), ("2,4 bar", (2.4, "bar"), "kPa"),
    ("2 h 30", (2.5, "hour"), "h"), ("1:30", (1.5, "hour"), "min"), ("45 mins", (45, "minute"), "h"),
    ("10 days", (10, "day"), "weeks"), ("5 l", (5, "liter"), "cm**3"), ("60 mph", (60, "mph"), "km/h"),
    ("200 lbs", (200, "pound"), "kg"), ("35 lb/in", (35, "force_pound/inch"), "N/mm"),
    ("1 234,50 N", (1234.5, "N"), "kN"),
    ("1'234.50 mm", (1234.5, "mm"), "m"), ("1.234,56 mm", (1234.56, "mm"), "m"), ("10,9 kN", (10.9, "kN"), "lbf"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "same", "unit"), TYPED, ids=[text for text, _, _ in TYPED])
def test_what_is_typed_is_what_pint_makes_of_it(text: str, same: tuple[float, str], unit: str) -> None:
    wanted = REGISTRY.Quantity(*same).to({"weeks": "week"}.get(unit, unit)).magnitude
    assert read_quantity(text, unit, ".").value == pytest.approx(wanted, rel=1e-11)


@pytest.mark.parametrize(
    ("text", "celsius"), [("212 °F", 100), ("-40 degF", -40), ("300 K", 26.85), ("20 °C", 20), ("20", 20)]
)
def test_a_temperature_is_read_on_its_scale(text: str, celsius: float) -> None:
    assert read_quantity(text, "°C").value == pytest.approx(celsius, abs=1e-12)
    number, unit = split_quantity(text)[:2]
    scale = {"°F": "degF", "degF": "degF", "K": "kelvin"}.get(unit, "degC")
    assert REGISTRY.Quantity(number, scale).to("degC").magnitude == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("5' 14\"", "mm", "more inches than a foot"), ("1:75", "h", "more minutes than an hour"),
        ("1:30", "mm", "h measures a time, this is a length in mm"),
        ("5 lb", "N", "lb measures a mass, this is a force in N"),
        ("1,234", "mm", "can be read in two ways"), ("12 5 mm", "mm", "is not a number"),
        ("1/0 in", "mm", "divides by zero"),
        ("9" * 90, "mm", "is not a number"),
    ],
)  # fmt: skip
def test_what_can_not_be_read_is_refused_saying_why(text: str, unit: str, words: str) -> None:
    with pytest.raises(UnitProblem, match=words):
        read_quantity(text, unit)


@given(st.integers(0, 200), st.integers(0, 64), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_inch_fractions_are_read_exactly(whole: int, over: int, under: int) -> None:
    exact = whole + Fraction(over, under)
    assert split_quantity(f"{whole} {over}/{under} in").number == float(exact)
    assert split_quantity(f'{whole}-{over}/{under}"').number == float(exact)


@settings(deadline=None)
@given(st.floats(0.01, 5000), st.one_of(st.none(), st.floats(0.2, 50)))
def test_a_fraction_shown_is_the_nearest_its_step_allows(millimetres: float, spread: float | None) -> None:
    shown = Formats("imperial-fractions").quantity(millimetres, "mm", spread)
    read = split_quantity(shown)
    assert read.unit == "in"
    step = max(Fraction(1, 64), Fraction(0 if spread is None else spread / 25.4 / 2))
    assert abs(read.number - millimetres / 25.4) <= float(step) + 1e-9
    assert (Fraction(read.number) * 64).denominator == 1


@given(st.floats(-1e5, 1e5), st.sampled_from(["mm", "kg", "N", "N*m", "bar", "N/mm", "km/h", "km", "m"]))
def test_a_value_shown_in_the_other_system_is_pints(value: float, unit: str) -> None:
    formats = Formats("imperial")
    other = formats.unit(unit)
    assert other != unit
    wanted = (
        REGISTRY.Quantity(value, unit).to({"lb": "pound", "lbf*ft": "force_pound*foot"}.get(other, other)).magnitude
    )
    assert formats.turned(value, unit) == pytest.approx(wanted, rel=1e-12)
    assert parse_unit(other).kind == parse_unit(unit).kind
