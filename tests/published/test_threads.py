"""Thread tables against printed ones: stress area from the pitch that a designation is read as."""

import math

import pytest

from fishplate.build.designations import DASH, Thread, parse_designation

INCH = 25.4


def thread(text: str) -> Thread:
    found = parse_designation(text, "thread")
    assert isinstance(found, Thread)
    return found


# EN ISO 898-1, table of nominal stress areas, coarse series, as reprinted at usefastener.com/knowledge/404.
METRIC_MM2 = {"M5": 14.2, "M6": 20.1, "M8": 36.6, "M10": 58.0, "M12": 84.3, "M14": 115, "M16": 157, "M20": 245,
              "M24": 353}  # fmt: skip
# SAE J429 as reproduced in a City of Everett record (document 454746, p. 13); tensile stress area in square inches.
UNIFIED_IN2 = {"1/4 UNC": 0.0318, "5/16 UNC": 0.0524, "3/8 UNC": 0.0775, "7/16 UNC": 0.1063, "1/2 UNC": 0.1419,
               "5/8 UNC": 0.226, "3/4 UNC": 0.334, "7/8 UNC": 0.462, "1 UNC": 0.606, "1/4 UNF": 0.0364,
               "3/8 UNF": 0.0878}  # fmt: skip


@pytest.mark.parametrize(("text", "area"), METRIC_MM2.items())
def test_a_metric_thread_without_pitch_is_the_coarse_one(text: str, area: float) -> None:
    found = thread(text)
    # As = pi/4 (d - 0.9382 P)^2; half the last printed digit is up to 0.5
    assert math.pi / 4 * (found.major_mm - 0.9382 * found.pitch_mm) ** 2 == pytest.approx(area, rel=0.004)


@pytest.mark.parametrize(("text", "area"), UNIFIED_IN2.items())
def test_a_unified_series_has_its_printed_threads_per_inch(text: str, area: float) -> None:
    found = thread(text)
    # As = pi/4 (D - 0.9743 / n)^2
    assert math.pi / 4 * (found.major_mm / INCH - 0.9743 * found.pitch_mm / INCH) ** 2 == pytest.approx(area, rel=0.003)


@pytest.mark.parametrize(
    ("size", "per_inch"), [("1/8", 27), ("1/4", 18), ("3/8", 18), ("1/2", 14), ("3/4", 14), ("1", 11.5)]
)
def test_npt_has_the_printed_threads_per_inch(size: str, per_inch: float) -> None:
    """ASME B1.20.1 as printed at injector-rehab.com."""
    assert INCH / thread(f"{size} NPT").pitch_mm == pytest.approx(per_inch)


def test_flare_dash_sizes() -> None:
    """SAE J514, from memory; all but dash 6 agree with the table at injector-rehab.com, which prints 5/8-18 there."""
    printed = {3: "3/8-24", 4: "7/16-20", 5: "1/2-20", 6: "9/16-18", 8: "3/4-16", 10: "7/8-14", 12: "1 1/16-12",
               16: "1 5/16-12", 20: "1 5/8-12"}  # fmt: skip
    assert {size: DASH[size] for size in printed} == printed


# BS 84 as printed at unikgaugesindia.com/bsw-bsf-whits-thread-gauges.html; threads per inch, coarse and fine.
BS_84 = {"3/16": (24, 32), "1/4": (20, 26), "5/16": (18, 22), "3/8": (16, 20), "7/16": (14, 18), "1/2": (12, 16),
         "9/16": (12, 16), "5/8": (11, 14), "3/4": (10, 12), "7/8": (9, 11), "1": (8, 10)}  # fmt: skip


@pytest.mark.parametrize(("size", "per_inch"), BS_84.items())
def test_whitworth_threads_have_their_printed_threads_per_inch(size: str, per_inch: tuple[int, int]) -> None:
    assert tuple(round(INCH / thread(f"{size} {series}").pitch_mm) for series in ("BSW", "BSF")) == per_inch


# Numbered sizes as printed at mechanicsupport.com/articleScrewSize.html: outside diameter [in].
NUMBERED = {0: 0.060, 2: 0.086, 4: 0.112, 5: 0.125, 6: 0.138, 8: 0.164, 10: 0.190, 12: 0.216}
USUAL = {0: 80, 2: 56, 4: 40, 5: 40, 6: 32, 8: 32, 10: 24, 12: 24}


@pytest.mark.parametrize("number", NUMBERED)
def test_numbered_sizes_have_their_printed_diameter(number: int) -> None:
    found = thread(f"{number}-{USUAL[number]}")
    assert (found.major_mm, found.pitch_mm) == (pytest.approx(NUMBERED[number] * INCH), INCH / USUAL[number])
