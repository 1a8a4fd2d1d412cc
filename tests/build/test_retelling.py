"""Sentences of the engines in the owner's units and locale."""

from __future__ import annotations

import pytest

from fishplate.build.formats import CANONICAL, Formats
from fishplate.build.retelling import retell

INCHES = Formats("imperial", "en_US")
GERMAN = Formats(locale="de_DE")


@pytest.mark.parametrize(
    ("text", "formats", "told"),
    [
        ("25.4 mm too little", INCHES, "1.000 in too little"),
        ("10.0 to 20.0 mm", INCHES, "0.394 to 0.787 in"),
        ("Costs 1,234.50 EUR", GERMAN, "Costs 1.234,50 EUR"),
        ("By 3 December", INCHES, "By December 3"),
        ("By 3 December 2026", GERMAN, "By 3. Dezember 2026"),
        ("By 3 Dec 2026", INCHES, "By Dec 3, 2026"),
        ("In 2.5 weeks", GERMAN, "In 2,5 weeks"),
        ("-3.1 % a year (-0.4 before)", GERMAN, "-3,1 % a year (-0,4 before)"),
        ("between −6.2 and 36.2 mm", INCHES, "between −0.244 and 1.425 in"),
        ("at −8 or 8 mm", INCHES, "at −0.31 or 0.31 in"),
        ("22 mm, give or take 5 at most; held as 22 mm", INCHES, "0.87 in, give or take 0.20 at most; held as 22 mm"),
        ("12 °C or more", INCHES, "54 °F or more"),
        ("up to 110 N·m", INCHES, "up to 81.1 lb·ft"),
    ],
)
def test_figures_are_told_anew(text: str, formats: Formats, told: str) -> None:
    assert retell(text, formats) == told


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("0.6 mm", "0.024 in"),  # 1/32 in would be a third more
        ("34.9 mm", "1 3/8 in"),
        ("9.5 mm, give or take 2 at most", "3/8 in, give or take 5/64 at most"),
        ("1 mm to spare (-0.5 to 12.7 mm)", "3/64 in to spare (-0.020 to 0.500 in)"),
    ],
)
def test_a_fraction_stands_only_where_it_is_as_true_as_the_figure(text: str, told: str) -> None:
    assert retell(text, Formats("imperial-fractions")) == told


@pytest.mark.parametrize(
    "text",
    [
        "M10x1.25 thread", "205/65R15C", "offer 3.2.1", "5 in stock", "31 February 2026", "“1.500” is a price",
        "Heading 8708.70", "section 7.2", "values [1.5, 2.25]", "moorwinkel-1.5", "as in 1 3/8 in.",
        "it says “12.5 mm”",
    ],
)  # fmt: skip
def test_what_is_no_figure_stays(text: str) -> None:
    assert retell(text, INCHES) == text
    assert retell(text, GERMAN) == text


def test_a_name_the_owner_gave_stays_and_nothing_is_told_twice() -> None:
    text = "12.5 mm packer: 12.5 mm"
    assert retell(text, INCHES, ["12.5 mm packer"]) == "12.5 mm packer: 0.492 in"
    assert retell("3.5 kg, 3.5 kg", INCHES) == "7.7 lb, 7.7 lb"


def test_the_usual_formats_change_nothing() -> None:
    assert retell("12.5 mm by 3 December, 1,234 EUR", CANONICAL) == "12.5 mm by 3 December, 1,234 EUR"


def test_the_longest_name_stays_and_no_piece_of_a_longer_word() -> None:
    names = ["Ring 1.5 mm", "Ring 1.5 mm, thin 2.5"]
    assert retell("ring 1.5 mm, thin 2.5: 1.5", GERMAN, names) == "ring 1.5 mm, thin 2.5: 1,5"
    assert retell("Ring 1.5 mmm", GERMAN, names) == "Ring 1,5 mmm"
    assert retell("Bearing 1.5 mm", GERMAN, names) == "Bearing 1,5 mm"
