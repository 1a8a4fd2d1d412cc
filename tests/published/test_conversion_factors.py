"""Conversion factors as printed in NIST Special Publication 811 (2008), appendix B.8; minor units of ISO 4217.

Status of all values here: from memory. Exact factors are checked exactly, others to half the last printed digit.
"""

from __future__ import annotations

import pytest

from fishplate.build.money import minor_unit
from fishplate.build.units import parse_unit

# unit, SI unit printed, factor as printed (bold there, exact here, if the text ends in "!"), SI unit in ours
FACTORS = [
    ("in", "m", "2.54E-02!", 1e3),
    ("ft", "m", "3.048E-01!", 1e3),
    ("thou", "m", "2.54E-05!", 1e3),
    ("lb", "kg", "4.535924E-01", 1.0),
    ("oz", "kg", "2.834952E-02", 1.0),
    ("lbf", "N", "4.448222E+00", 1.0),
    ("kgf", "N", "9.80665E+00!", 1.0),
    ("psi", "Pa", "6.894757E+03", 1e-6),
    ("bar", "Pa", "1.0E+05!", 1e-6),
    ("lbf*ft", "N·m", "1.355818E+00", 1e3),
    ("lbf*in", "N·m", "1.129848E-01", 1e3),
    ("kgf*m", "N·m", "9.80665E+00!", 1e3),
    ("lbf/in", "N/m", "1.751268E+02", 1e-3),
    ("deg", "rad", "1.745329E-02", 1.0),
    ("mph", "m/s", "4.4704E-01!", 1e3),
    ("hp", "W", "7.456999E+02", 1.0),
    ("gallon", "m³", "3.785412E-03", 1e9),
    ("in**3", "m³", "1.638706E-05", 1e9),
    ("in**2", "m²", "6.4516E-04!", 1e6),
]


@pytest.mark.parametrize(("unit", "si", "printed", "ours"), FACTORS, ids=[factor[0] for factor in FACTORS])
def test_a_unit_has_the_published_factor(unit: str, si: str, printed: str, ours: float) -> None:
    digits = printed.rstrip("!")
    mantissa, exponent = digits.split("E")
    half_a_digit = 0.5 * 10.0 ** (int(exponent) - len(mantissa.partition(".")[2]))
    tolerance = 1e-15 * float(digits) if printed.endswith("!") else half_a_digit
    assert parse_unit(unit).factor / ours == pytest.approx(float(digits), rel=1e-15, abs=tolerance)


# ISO 4217, list one: currency and minor unit
MINOR_UNITS = {
    "EUR": 2, "GBP": 2, "USD": 2, "CHF": 2, "SEK": 2, "NOK": 2, "DKK": 2, "PLN": 2, "CZK": 2, "HUF": 2, "RON": 2,
    "ALL": 2, "RSD": 2, "TRY": 2, "CNY": 2, "INR": 2, "AUD": 2, "NZD": 2, "CAD": 2, "ZAR": 2,
    "JPY": 0, "ISK": 0, "KRW": 0, "CLP": 0, "VND": 0, "XPF": 0,
    "KWD": 3, "BHD": 3, "OMR": 3, "JOD": 3, "TND": 3, "IQD": 3, "LYD": 3,
    "CLF": 4,
}  # fmt: skip


@pytest.mark.parametrize(("currency", "digits"), MINOR_UNITS.items())
def test_a_currency_has_the_published_minor_unit(currency: str, digits: int) -> None:
    assert minor_unit(currency) == digits
