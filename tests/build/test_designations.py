"""Standard designations: read into their figures, or refused with what to write."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.build.designations import (
    COARSE,
    FAMILIES,
    NPT,
    PIPE,
    UNIFIED,
    Connector,
    DesignationError,
    Family,
    Pattern,
    Spline,
    Thread,
    parse_designation,
)

INCH = 25.4


def thread(text: str) -> Thread:
    found = parse_designation(text, "thread")
    assert isinstance(found, Thread)
    return found


@pytest.mark.parametrize(
    ("text", "form", "major", "pitch"),
    [
        ("M10", "metric", 10, 1.5),
        ("M10x1.25", "metric", 10, 1.25),
        ("M 10 × 1,25", "metric", 10, 1.25),
        ("M12x1.5-6g", "metric", 12, 1.5),
        ("1/4-20 UNC", "unified", INCH / 4, INCH / 20),
        ('1/2"-13', "unified", INCH / 2, INCH / 13),
        ("7/16 UNF", "unified", INCH * 7 / 16, INCH / 20),
        ("#10-32 UNF", "unified", INCH * 0.19, INCH / 32),
        ("10-32", "unified", INCH * 0.19, INCH / 32),
        ("No. 8-32 UNC", "unified", INCH * 0.164, INCH / 32),
        ("6-32", "unified", INCH * 0.138, INCH / 32),
        ("0-80", "unified", INCH * 0.06, INCH / 80),
        ("10 UNF", "unified", INCH * 0.19, INCH / 32),
        ("1-72", "unified", INCH * 0.073, INCH / 72),
        ("1-8", "unified", INCH, INCH / 8),
        ("1-20 UNEF", "unified", INCH, INCH / 20),
        ("G1/4A", "Whitworth pipe", 13.157, INCH / 19),
        ("6AN", "unified", INCH * 9 / 16, INCH / 18),
        ("-10 ORB", "unified", INCH * 7 / 8, INCH / 14),
        ("1 1/16-12 UN-2B", "unified", INCH * 17 / 16, INCH / 12),
        ("G 1/4", "Whitworth pipe", 13.157, INCH / 19),
        ("1/8-28 BSPP", "Whitworth pipe", 9.728, INCH / 28),
        ("1/4 NPT", "NPT", INCH * 0.54, INCH / 18),
        ("AN-6", "unified", INCH * 9 / 16, INCH / 18),
    ],
)
def test_a_thread_is_read_as_the_trade_writes_it(text: str, form: str, major: float, pitch: float) -> None:
    found = thread(text)
    assert (found.form, found.major_mm, found.pitch_mm) == (form, pytest.approx(major), pytest.approx(pitch))


def test_taper_hand_and_seat_are_told() -> None:
    assert thread("R 1/4").tapered
    assert thread("1/4 NPT").tapered
    assert not thread("G 1/4").tapered
    assert thread("M14x1.5 LH").left_hand
    assert thread("JIC 6").seat == "37° flare"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("M13", "the pitch must be named"),
        ("M10x9", "no thread of 10 mm has a pitch of 9 mm"),
        ("1/4 BSP", "does not say parallel"),
        ("1/4-28 UNC", "has 20 threads per inch, not 28"),
        ("1/4-19 NPT", "18 threads per inch"),
        ("3/8", "not a thread"),
        ("M10x1.25x30", "names a length too; the thread alone is M10x1.25"),
        ("18-8", "no thread of that size"),
        ("2 UNC", "threads per inch are needed"),
        ("1/0-20", "divides by zero"),
        ("AN-7", "no such dash size"),
        ("M10" * 40, "longer"),
    ],
)
def test_a_thread_that_can_be_read_two_ways_or_none_is_refused(text: str, words: str) -> None:
    with pytest.raises(DesignationError, match=words) as caught:
        parse_designation(text, "thread")
    assert "Write it as" in str(caught.value)


def test_patterns_are_held_in_mm() -> None:
    texts = ("5x112", "5/114.3", "5x4.5", '5x4.5"', "5 on 4-1/2", "6x139.7 mm")
    found = [parse_designation(text, "pattern") for text in texts]
    circles = [each.circle_mm for each in found if isinstance(each, Pattern)]
    assert circles == [112, 114.3, 114.3, 114.3, 114.3, 139.7]


def test_splines_are_read_either_way_round() -> None:
    texts = ("26x1 1/8 in", "26 splines", "3/4-36", "23x26 mm", "W30x2x14")
    found = [parse_designation(text, "spline") for text in texts]
    assert [(each.teeth, each.major_mm) for each in found if isinstance(each, Spline)] == [
        (26, pytest.approx(28.575)), (26, None), (36, pytest.approx(19.05)), (23, 26), (14, 30),
    ]  # fmt: skip


def test_splines_named_by_pitch_or_module_are_as_large_as_their_standard_says() -> None:
    """Outside diameter of the shaft m (z + 1), + 0.9 at 37.5°, + 0.8 at 45° (ANSI B92.2M, as in a modeller's manual).

    24/48 with 26 teeth is the trade's 1 1/8 in. Straight sides: ISO 14, 6 x 23 x 28 is 28 mm outside (BS 5686).
    """
    texts = ("26T 24/48", "26T 24/48 pitch 45°", "EXT 24z x 2.5m x 30R x 5h", "6x23x28", "N30x2x30x14x9H")
    found = [parse_designation(text, "spline") for text in texts]
    assert [(each.teeth, each.major_mm, each.half) for each in found if isinstance(each, Spline)] == [
        (26, pytest.approx(28.575), ""), (26, pytest.approx(26.8 * INCH / 24), ""), (24, 62.5, "shaft"), (6, 28, ""),
        (14, 30, "hub"),
    ]  # fmt: skip
    with pytest.raises(DesignationError, match="neither inches nor a pitch"):
        parse_designation("26x24/47", "spline")


def test_connectors_are_read_by_standard_family_ways_key_and_half() -> None:
    texts = ("ISO 11446 plug", "sealed 1.5 mm, 4-way, key B socket", "6.3 mm blade tab")
    found = [parse_designation(text, "connector") for text in texts]
    assert [(each.family, each.ways, each.key, each.half) for each in found if isinstance(each, Connector)] == [
        ("13-pole trailer", 13, "", "plug"), ("sealed 1.5 mm", 4, "B", "socket"), ("blade 6.3 mm", 1, "", "plug"),
    ]  # fmt: skip


def test_every_listed_size_is_read_back() -> None:
    for major, pitch in COARSE.items():
        assert thread(f"M{major:g}").pitch_mm == pitch
    for series, sizes in UNIFIED.items():
        for size, per_inch in sizes.items():
            assert thread(f"{size} {series}").pitch_mm == pytest.approx(INCH / per_inch)
    for size in PIPE:
        assert thread(f"G {size}").major_mm == PIPE[size][0]
    for size in NPT:
        assert thread(f"{size} NPT").major_mm == pytest.approx(NPT[size][0] * INCH)


@settings(max_examples=500, deadline=None, database=None)
@given(
    st.one_of(st.text(max_size=30), st.text('MGRx×-/0123456789. "UNCFTBSPLHin#splway', max_size=18)),
    st.sampled_from(FAMILIES),
)
def test_any_text_is_read_or_refused(text: str, family: Family) -> None:
    try:
        found = parse_designation(text, family)
    except DesignationError:
        return
    assert type(found) is {"thread": Thread, "pattern": Pattern, "spline": Spline, "connector": Connector}[family]
