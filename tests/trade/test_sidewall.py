"""Tyres and wheels from their designations."""

import contextlib
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fishplate.trade import NotASize, wheels
from fishplate.trade.sidewall import load_of
from fishplate.trade.tables import table


@pytest.mark.parametrize(
    ("text", "section", "diameter", "use"),
    [
        # rim code x 25.4 + 2 x section x ratio
        ("205/65R15C", 205, 381 + 2 * 133.25, "commercial"),
        ("215/75 R 16 C 116/114 R", 215, 406.4 + 2 * 161.25, "commercial"),
        ("P255/50R16", 255, 406.4 + 255, "passenger"),
        ("LT265/75R16 123/120Q", 265, 406.4 + 2 * 198.75, "light truck"),
        ("265/75R16LT", 265, 406.4 + 2 * 198.75, "light truck"),
        ("245/40ZR18 (97Y)", 245, 457.2 + 196, "passenger"),
        ("195/65R15 95T XL", 195, 381 + 253.5, "passenger"),
        ("T125/70D15", 125, 381 + 175, "temporary"),
        # flotation sizes name the overall diameter in inches
        ("31x10.50R15LT", 266.7, 31 * 25.4, "light truck"),
        ("33×12,50 R 15", 317.5, 33 * 25.4, "light truck"),
    ],
)
def test_size_is_read_whatever_its_form(text: str, section: float, diameter: float, use: str) -> None:
    tyre = wheels.tyre_size(text)
    assert (tyre.section_mm, tyre.use) == (pytest.approx(section), use)
    assert tyre.diameter_mm == pytest.approx(diameter)
    assert tyre.rim_diameter_mm + 2 * tyre.sidewall_mm == pytest.approx(tyre.diameter_mm)


def test_load_and_speed_are_read_with_the_pairs_load() -> None:
    tyre = wheels.tyre_size("215/75R16C 116/114R")
    assert (tyre.load_kg, tyre.load_dual_kg) == (1250, 1180)
    assert tyre.speed_mm_per_s == pytest.approx(170e6 / 3600)


def test_a_size_without_ratio_is_taken_at_full_profile_and_says_so() -> None:
    tyre = wheels.tyre_size("185R14C 102/100Q")
    assert tyre.ratio == pytest.approx(0.82)
    assert "common practice" in tyre.note


def test_a_size_that_does_not_say_its_height_is_refused_with_what_to_do() -> None:
    with pytest.raises(NotASize, match="does not say how high") as refusal:
        wheels.tyre_size("7.50-16")
    assert "Measure" in str(refusal.value)


@pytest.mark.parametrize("text", ["", "205", "205/65", "big ones", "205/65R15 200T", "205/65R15 95I", "20x9.00R22"])
def test_what_is_no_tyre_is_refused(text: str) -> None:
    with pytest.raises(NotASize):
        wheels.tyre_size(text)


@given(st.text(max_size=40) | st.from_regex(r"[0-9]{1,3}[/x][0-9. ]{1,5}[RJ-][0-9]{1,3}.{0,8}", fullmatch=True))
def test_any_text_is_read_or_refused(text: str) -> None:
    for read in (wheels.tyre_size, wheels.wheel_size):
        with contextlib.suppress(NotASize):
            assert read(text).text == text.strip()


@given(st.integers(125, 355), st.integers(25, 85), st.integers(12, 22))
def test_a_size_written_out_is_read_back(section: int, ratio: int, rim: int) -> None:
    tyre = wheels.tyre_size(f"{section}/{ratio}R{rim}")
    assert (tyre.section_mm, round(tyre.ratio * 100), round(tyre.rim_diameter_mm / 25.4)) == (section, ratio, rim)


def test_load_indices_rise_by_even_steps() -> None:
    # the row is a rounded R80 series, each step 2.9 %; a slip of a digit would stand out
    rows = table("tyres")["load_index"]
    kg = [load_of(index) for index in range(rows["first"], rows["first"] + len(rows["kg"]))]
    steps = [after / before for before, after in itertools.pairwise(kg)]
    assert min(steps) > 1.022
    assert max(steps) < 1.037
    assert kg[-1] / kg[0] == pytest.approx(10 ** (70 / 80), rel=0.015)


def test_speed_symbols_are_not_alphabetical_at_h() -> None:
    assert wheels.speed_capacity("U") < wheels.speed_capacity("H") < wheels.speed_capacity("V")


def test_wheel_is_read_with_offset_pattern_and_bore_in_either_order() -> None:
    first, second = wheels.wheel_size("7Jx16 ET45 5x112 CB66.6"), wheels.wheel_size("16 x 7 J 5/112 ET 45 DIA 66.6")
    assert (first.width_mm, first.diameter_mm, first.offset_mm) == pytest.approx((177.8, 406.4, 45))
    assert (second.width_mm, second.offset_mm, second.circle_mm, second.bore_mm) == pytest.approx(
        (177.8, 45, 112, 66.6)
    )


def test_negative_offset_and_inch_pattern_are_read() -> None:
    wheel = wheels.wheel_size("8Jx15 ET-20 5x4.5")
    assert (wheel.offset_mm, wheel.circle_mm) == (-20, 114.3)


def test_backspace_goes_there_and_back() -> None:
    for offset in (-40.0, 0.0, 35.0):
        there = wheels.backspace(177.8, offset)
        assert wheels.offset_from_backspace(177.8, there) == pytest.approx(offset)
