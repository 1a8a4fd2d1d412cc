"""Tyres and wheels from their designations."""

import contextlib
import itertools
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fishplate.trade import NotASize, wheels
from fishplate.trade.sidewall import load_of
from fishplate.trade.tables import table

TABLE = tomllib.loads((Path(__file__).parents[1] / "published" / "vehicle.toml").read_text("utf-8"))


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
        ("33x12R15", 12 * 25.4, 33 * 25.4, "light truck"),
        ("18x8.50-8", 8.5 * 25.4, 18 * 25.4, "not said"),
        # the speed inside the size, as it was written before the service description
        ("185/70 HR 14", 185, 355.6 + 259, "passenger"),
        ("165SR15", 165, 381 + 2 * 0.82 * 165, "passenger"),
        ("225/45 ZRF17", 225, 431.8 + 202.5, "passenger"),
        # bead seats by millimetres
        ("190/65 HR 390", 190, 390 + 247, "passenger"),
        ("315/80 R 22.5 156/150L", 315, 571.5 + 504, "truck"),
        ("395/85R20", 395, 508 + 671.5, "not said"),
        ("120/70ZR17 M/C (58W)", 120, 431.8 + 168, "motorcycle"),
        ("145/70-6", 145, 152.4 + 203, "not said"),
        ("st 205/75 r15 lr c", 205, 381 + 307.5, "trailer"),
        ("LT265/75R16/E 123/120S", 265, 406.4 + 397.5, "light truck"),
        ("31x10.50R15LT/C 109Q", 266.7, 31 * 25.4, "light truck"),
        ("235/65R16C 8PR 115/113R", 235, 406.4 + 305.5, "commercial"),
        ("225/70R15C 112/110R (115N)", 225, 381 + 315, "commercial"),
        ("205/55R16 94W XL M+S 3PMSF", 205, 406.4 + 225.5, "passenger"),
        ("205 65 15", 205, 381 + 266.5, "passenger"),
        ("205-65-R15", 205, 381 + 266.5, "passenger"),
        ("205 / 65 R 15", 205, 381 + 266.5, "passenger"),
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


def test_dashes_mean_diagonal_only_where_they_part_nothing_else() -> None:
    built = {text: wheels.tyre_size(text).construction for text in ("155-13", "205/65-15", "ST205/75D14", "78/90B16")}
    assert built == {
        "155-13": "diagonal",
        "205/65-15": "diagonal",
        "ST205/75D14": "diagonal",
        "78/90B16": "bias-belted",
    }
    assert "taken as radial" in wheels.tyre_size("205-65-15").note


@pytest.mark.parametrize(
    ("text", "km_h", "said"),
    [
        ("185/70 VR 14", 210, "old mark"), ("245/40ZR18 (97Y)", 300, "faster than its symbol"),
        ("245/40ZR18", None, "faster than 240"), ("165 SR 15", 180, ""), ("145/80B10 74J", 100, ""),
        ("LT235/85R16 10PR 120/116N", 140, "maker's table"), ("7.00/70R16", None, None),
    ],
)  # fmt: skip
def test_speed_is_read_and_what_it_does_not_say_is_said(text: str, km_h: float | None, said: str | None) -> None:
    if said is None:
        with pytest.raises(NotASize):
            wheels.tyre_size(text)
        return
    tyre = wheels.tyre_size(text)
    assert tyre.speed_mm_per_s == (None if km_h is None else pytest.approx(km_h * 1e6 / 3600))
    assert said in tyre.note


@pytest.mark.parametrize(
    ("text", "printed_mm"),
    # overall diameters of sizes in inches, from memory of makers' tables
    [
        ("7.50R16", 802),
        ("6.00-16", 728),
        ("5.60-15 4PR", 656),
        ("6,50 R 16", 748),
        ("11R22.5", 1050),
        ("10R22.5", 1018),
    ],
)  # fmt: skip
def test_a_size_that_does_not_say_its_height_is_refused_with_what_it_is_near(text: str, printed_mm: int) -> None:
    with pytest.raises(NotASize, match="does not say how high") as refusal:
        wheels.tyre_size(text)
    assert "Measure" in str(refusal.value)
    least, most = (int(item) for item in re.findall(r"rule (\d+) to (\d+) mm", str(refusal.value))[0])
    assert least < printed_mm < most
    assert most - least < 0.1 * printed_mm


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not the size"), ("205", "not the size"), ("205/65", "not the size"), ("big ones", "not the size"),
        ("205/65R15 200T", "load index 200"), ("205/65R15 95I", "speed symbol 'I'"), ("20x9.00R22", "as large as"),
        ("700R16", "Is it 7.00R16"), ("205/65R15.5", "no rim has the code 15.5"), ("205/05R15", "5% of it high"),
        ("FR78-15", "stands for a load"), ("205/65R15 weird", "“WEIRD” is not known"), ("31x0.0R15", "as large as"),
    ],
)  # fmt: skip
def test_what_is_no_tyre_is_refused_saying_why(text: str, said: str) -> None:
    with pytest.raises(NotASize) as refusal:
        wheels.tyre_size(text)
    assert said in str(refusal.value)


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
    assert kg[160] / kg[0] == pytest.approx(10 ** (160 / 80))
    # as printed on public pages and in a tractor's manual
    printed = {0: 45, 20: 80, 40: 140, 58: 236, 135: 2180, 142: 2650, 150: 3350, 165: 5150, 168: 5600}
    assert {index: load_of(index) for index in printed} == printed


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


@pytest.mark.parametrize(
    ("text", "inches", "offset", "circle", "bore"),
    [
        ("6 1/2 J x 16 H2", (6.5, 16), None, None, None),
        ("6½Jx16", (6.5, 16), None, None, None),
        ("5.50F x 16", (5.5, 16), None, None, None),
        ("8.25x22.5 ET167 10x335 281", (8.25, 22.5), 167, 335, 281),
        ("7.5Jx17 ET 45 5x114.3 67.1", (7.5, 17), 45, 114.3, 67.1),
        ("7Jx16H2 LK5x112 E.T. 38", (7, 16), 38, 112, None),
        ("15x8 -19mm", (8, 15), -19, None, None),
        ("8x15 offset 0", (8, 15), 0, None, None),
        ("150TR390FH", (150 / 25.4, 390 / 25.4), None, None, None),
    ],
)
def test_a_wheel_is_read_however_it_is_written(
    text: str, inches: tuple[float, float], offset: float | None, circle: float | None, bore: float | None
) -> None:
    wheel = wheels.wheel_size(text)
    assert (wheel.width_mm / 25.4, wheel.diameter_mm / 25.4) == pytest.approx(inches)
    assert (wheel.offset_mm, wheel.circle_mm, wheel.bore_mm) == (offset, circle, bore)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("15x8 5x4.75 BS 4.5", "offset_from_backspace"), ("8Jx18 ET45 5x100/114.3", "two patterns"),
        ("7Jx16 ET45 ET38", "two figures for its offset"), ("7Jx16 shiny", "“SHINY” is not known"),
        ("6 1/0Jx16", "divides by zero"), ("7Jx16 66.6", "is not known"), ("0Jx16", "no wheel is 0 wide"),
        ("7Jx61", "no wheel is 7 wide and 61 across"),
    ],
)  # fmt: skip
def test_nothing_behind_a_wheels_size_is_dropped_in_silence(text: str, said: str) -> None:
    with pytest.raises(NotASize) as refusal:
        wheels.wheel_size(text)
    assert said in str(refusal.value)


def test_a_tyre_may_be_as_large_as_its_size_allows() -> None:
    # the deepest treads of nine sizes, as printed by their maker, stay within what the size allows
    rows = TABLE["tyre-mud-pattern-rows"]
    for size, printed in zip(rows["inputs"]["size"], rows["expected"]["overall_diameter_in"], strict=True):
        tyre = wheels.tyre_size(size)
        limits = wheels.tyre_limits(tyre.section_mm, tyre.ratio, tyre.rim_diameter_mm)
        assert limits.smallest_mm < printed * 25.4 <= limits.largest_mm
    assert wheels.tyre_limits(145.0, 0.8, 330.2, diagonal=True).largest_mm == pytest.approx(330.2 + 1.08 * 232)


def test_another_wheel_moves_its_edges_by_half_its_width_and_its_offset() -> None:
    # an inch wider at the same offset: half an inch each way; 10 mm less offset: all of it outwards
    wider = wheels.wheel_change(152.4, 45.0, 177.8, 45.0)
    assert (wider.inwards_mm, wider.outwards_mm, wider.middle_outwards_mm) == pytest.approx((12.7, 12.7, 0))
    spaced = wheels.wheel_change(152.4, 45.0, 152.4, 45.0 - 10.0)
    assert (spaced.inwards_mm, spaced.outwards_mm, spaced.middle_outwards_mm) == pytest.approx((-10, 10, 10))


def test_backspace_goes_there_and_back() -> None:
    for offset in (-40.0, 0.0, 35.0):
        there = wheels.backspace(177.8, offset)
        assert wheels.offset_from_backspace(177.8, there) == pytest.approx(offset)
