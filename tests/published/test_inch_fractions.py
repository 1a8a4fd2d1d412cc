"""Decimal equivalents of inch fractions as every such table prints them, and locale forms as CLDR lists them.

Source of the fractions: ASME B94.11M, table of drill diameters, decimal equivalents of 1/64 to 1 in; status: from
memory. Source of the locale forms: CLDR, number symbols and long dates of each locale; status: from memory.
"""

from __future__ import annotations

from datetime import date

import pytest

from fishplate.build import Money
from fishplate.build.formats import Formats

# fraction, decimal inches as printed to four places, millimetres as printed
EQUIVALENTS = [
    ("1/64", 0.0156, 0.397), ("1/32", 0.0312, 0.794), ("1/16", 0.0625, 1.588), ("1/8", 0.1250, 3.175),
    ("3/16", 0.1875, 4.762), ("1/4", 0.2500, 6.350), ("21/64", 0.3281, 8.334), ("3/8", 0.3750, 9.525),
    ("27/64", 0.4219, 10.716), ("1/2", 0.5000, 12.700), ("17/32", 0.5312, 13.494), ("5/8", 0.6250, 15.875),
    ("3/4", 0.7500, 19.050), ("7/8", 0.8750, 22.225), ("63/64", 0.9844, 25.003), ("1", 1.0000, 25.400),
]  # fmt: skip


@pytest.mark.parametrize(("fraction", "decimal", "millimetres"), EQUIVALENTS, ids=[line[0] for line in EQUIVALENTS])
def test_a_size_is_shown_as_the_fraction_of_the_table(fraction: str, decimal: float, millimetres: float) -> None:
    formats = Formats("imperial-fractions")
    assert formats.quantity(millimetres, "mm") == f"{fraction} in"
    assert formats.quantity(decimal, "in") == f"{fraction} in"


# locale: an amount, a day, the day a week begins with (Monday 1), paper
FORMS = {
    "en_GB": ("1,234.50 EUR", "3 February 2027", 1, "A4"), "en_US": ("1,234.50 EUR", "February 3, 2027", 7, "letter"),
    "en_CA": ("1,234.50 EUR", "February 3, 2027", 7, "letter"), "de_DE": ("1.234,50 EUR", "3. Februar 2027", 1, "A4"),
    "fr_FR": ("1\u202f234,50 EUR", "3 février 2027", 1, "A4"),
    "fr_CA": ("1\u00a0234,50 EUR", "3 février 2027", 7, "letter"),
    "nl_NL": ("1.234,50 EUR", "3 februari 2027", 1, "A4"), "sv_SE": ("1\u00a0234,50 EUR", "3 februari 2027", 1, "A4"),
    "nb_NO": ("1\u00a0234,50 EUR", "3. februar 2027", 1, "A4"),
    "pl_PL": ("1\u00a0234,50 EUR", "3 lutego 2027", 1, "A4"),
    "ja_JP": ("1,234.50 EUR", "2027年2月3日", 7, "A4"),
}  # fmt: skip


@pytest.mark.parametrize("locale", FORMS)
def test_money_days_weeks_and_paper_are_as_the_locale_has_them(locale: str) -> None:
    shown = Formats(locale=locale)
    found = shown.money(Money.of("1234.5", "EUR")), shown.day(date(2027, 2, 3)), shown.first_weekday, shown.paper
    assert found == FORMS[locale]
    assert shown.money(Money.of(1234, "JPY")).endswith("234 JPY")
