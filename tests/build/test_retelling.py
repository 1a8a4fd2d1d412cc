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
        ("In 2.5 weeks", GERMAN, "In 2,5 weeks"),
    ],
)
def test_figures_are_told_anew(text: str, formats: Formats, told: str) -> None:
    assert retell(text, formats) == told


@pytest.mark.parametrize("text", ["M10x1.25 thread", "205/65R15C", "offer 3.2.1", "5 in stock", "31 February 2026"])
def test_what_is_no_figure_stays(text: str) -> None:
    assert retell(text, INCHES) == text


def test_a_name_the_owner_gave_stays_and_nothing_is_told_twice() -> None:
    text = "12.5 mm packer: 12.5 mm"
    assert retell(text, INCHES, ["12.5 mm packer"]) == "12.5 mm packer: 0.492 in"
    assert retell("3.5 kg, 3.5 kg", INCHES) == "7.7 lb, 7.7 lb"


def test_the_usual_formats_change_nothing() -> None:
    assert retell("12.5 mm by 3 December, 1,234 EUR", CANONICAL) == "12.5 mm by 3 December, 1,234 EUR"
