"""Quantities with units: read, held and shown.

Inside the program lengths are mm, forces N, pressures MPa, torques N·mm, masses kg, times s, angles rad.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple, cast

if TYPE_CHECKING:
    from pint import Unit as PintUnit
    from pint import UnitRegistry

INTERNAL_UNITS = {
    "length": "mm", "area": "mm**2", "volume": "mm**3", "mass": "kg", "force": "N", "pressure": "MPa",
    "torque": "N*mm", "angle": "rad", "time": "s", "temperature": "degC", "number": "",
    "spring rate": "N/mm", "speed": "mm/s", "voltage": "V", "current": "A", "power": "W",
}  # fmt: skip


class UnitProblem(ValueError):
    """A unit that is not known, or does not fit where it is used."""


class Unit(NamedTuple):
    """A unit as Fishplate uses it.

    Parameters
    ----------
    symbol : text as the person wrote it, e.g. "mm" or "in"
    kind : what it measures, a key of INTERNAL_UNITS
    factor : multiply by this, after adding nothing, to reach the internal unit
    """

    symbol: str
    kind: str
    factor: float


# Pint takes a third of a second to load; a build's usual units need no look-up. Exact by definition.
_COMMON = {
    "": Unit("", "number", 1.0), "mm": Unit("mm", "length", 1.0), "cm": Unit("cm", "length", 10.0),
    "m": Unit("m", "length", 1000.0), "in": Unit("in", "length", 25.4), "ft": Unit("ft", "length", 304.8),
    "kg": Unit("kg", "mass", 1.0), "g": Unit("g", "mass", 0.001), "lb": Unit("lb", "mass", 0.45359237),
    "N": Unit("N", "force", 1.0), "rad": Unit("rad", "angle", 1.0),
    "deg": Unit("deg", "angle", 0.017453292519943295), "MPa": Unit("MPa", "pressure", 1.0),
    "bar": Unit("bar", "pressure", 0.1), "degC": Unit("degC", "temperature", 1.0),
    "V": Unit("V", "voltage", 1.0), "A": Unit("A", "current", 1.0),
    "N/mm": Unit("N/mm", "spring rate", 1.0), "kN": Unit("kN", "force", 1000.0),
    "W": Unit("W", "power", 1.0), "s": Unit("s", "time", 1.0), "min": Unit("min", "time", 60.0),
    "h": Unit("h", "time", 3600.0), "d": Unit("d", "time", 86400.0), "week": Unit("week", "time", 604800.0),
    "km": Unit("km", "length", 1e6), "N*m": Unit("N*m", "torque", 1000.0),
}  # fmt: skip

# How people write them, as plain text; small letters first, for units are told apart by their case.
_ALIASES = {
    "°": "deg", "degree": "deg", "degrees": "deg", '"': "in", "inch": "in", "inches": "in", "in.": "in",
    "'": "ft", "foot": "ft", "feet": "ft", "ft.": "ft", "Nm": "N*m", "N·m": "N*m", "N m": "N*m", "N-m": "N*m",
    "off": "", "lbs": "lb", "lb.": "lb", "pounds": "lb", "kgs": "kg", "kilo": "kg", "kilos": "kg",
    "°C": "degC", "℃": "degC", "C": "degC", "lb/in": "lbf/in", "lbs/in": "lbf/in", "kph": "km/h", "kmh": "km/h",
    "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "minute": "min", "minutes": "min", "mins": "min",
    "day": "d", "days": "d", "week": "week", "weeks": "week", "wk": "week", "wks": "week",
    **{word.format(mark): "lbf*ft" for mark in ("-", "·", " ", "*", ".", "")
       for word in ("lb{}ft", "lbs{}ft", "lbf{}ft", "ft{}lb", "ft{}lbs", "ft{}lbf")},
    **{word.format(mark): "lbf*in" for mark in ("-", "·", " ", "*")
       for word in ("lb{}in", "lbs{}in", "lbf{}in", "in{}lb", "in{}lbs", "in{}lbf")},
}  # fmt: skip


@lru_cache(maxsize=1)
def _registry() -> UnitRegistry:  # type: ignore[type-arg]
    import pint

    return pint.UnitRegistry(cache_folder=None)


@lru_cache(maxsize=256)
def parse_unit(text: str) -> Unit:
    """A unit from its text.

    Raises
    ------
    UnitProblem
        if the unit is not known, or measures something Fishplate holds no number for

    Examples
    --------
    >>> parse_unit("in").factor
    25.4
    >>> parse_unit("N*m").kind
    'torque'
    """
    symbol = _ALIASES.get(text.strip(), text.strip())
    if symbol in _COMMON:
        return _COMMON[symbol]
    return _unit_from_pint(symbol)


# Letters with small exponents, multiplied and divided; anything else would be arithmetic, and can be made endless.
_UNIT_TEXT = re.compile(r"[^\W\d_]+(?:(?:\*\*|\^)-?\d)?(?:\s*[*/]\s*[^\W\d_]+(?:(?:\*\*|\^)-?\d)?){0,4}")


def _unit_from_pint(symbol: str) -> Unit:
    registry, unit = _registry(), _pint_unit(symbol)
    # pint holds angle and number to be the same; its base units tell them apart
    if unit.dimensionless and str(registry.get_base_units(unit)[1]) != "radian":
        raise UnitProblem(f"{symbol!r} measures nothing a build holds a number for")
    for kind, internal in INTERNAL_UNITS.items():
        if internal and unit.dimensionality == registry.Unit(internal).dimensionality:
            return Unit(symbol, kind, _factor(symbol, internal))
    raise UnitProblem(f"{symbol!r} measures nothing a build holds a number for")


def _pint_unit(symbol: str) -> PintUnit:
    if not symbol:
        return _registry().Unit("")
    if len(symbol) > 40 or _UNIT_TEXT.fullmatch(symbol) is None:
        raise UnitProblem(f"{symbol[:40]!r} is not a unit")
    if symbol == "mil":
        raise UnitProblem("a mil is an angle to some and a thousandth of an inch to others; write thou, or an angle")
    try:
        return _registry().Unit(symbol)
    except Exception as error:  # pint raises many kinds for text that is not a unit
        raise UnitProblem(f"{symbol!r} is not a unit") from error


def _converted(value: float, symbol: str, wanted: str) -> float:
    return float(_registry().Quantity(value, symbol).to(wanted).magnitude)


def _factor(symbol: str, internal: str) -> float:
    nothing, one = (_converted(value, symbol, internal) for value in (0.0, 1.0))
    if nothing != 0.0:  # a scale that starts elsewhere can't be reached by a factor
        raise UnitProblem(f"temperatures are held in {internal}, not in {symbol!r}")
    return one


@lru_cache(maxsize=256)
def conversion_factor(symbol: str, wanted: str) -> float:
    """What a value in one unit is multiplied by to stand in another; both may be units no dimension is held in.

    Raises
    ------
    UnitProblem
        naming both, if they measure different things; an angle is no plain number, so turns are not cycles

    Examples
    --------
    >>> round(conversion_factor("rpm", "rad/s"), 6), conversion_factor("in", "mm")
    (0.10472, 25.4)
    """
    symbol, wanted = _ALIASES.get(symbol.strip(), symbol.strip()), _ALIASES.get(wanted, wanted)
    if symbol in _COMMON and wanted in _COMMON and _COMMON[symbol].kind == _COMMON[wanted].kind:
        return _COMMON[symbol].factor / _COMMON[wanted].factor
    given, target = _pint_unit(symbol), _pint_unit(wanted)
    if given.dimensionality != target.dimensionality or _angle_power(given) != _angle_power(target):
        raise UnitProblem(f"{symbol or 'a plain number'} where {wanted or 'a plain number'} is wanted")
    nothing, one = (_converted(value, str(given), str(target)) for value in (0.0, 1.0))
    if nothing != 0.0:
        raise UnitProblem(f"{symbol!r} starts elsewhere than {wanted!r}")
    return one


def _angle_power(unit: PintUnit) -> float:
    """How often an angle stands in a unit: pint takes it for a plain number."""
    base = _registry().get_base_units(unit)[1]
    return cast(float, dict(base._units).get("radian", 0.0))


def to_internal(value: float, unit: str) -> float:
    """The value in the internal unit of its kind.

    Examples
    --------
    >>> to_internal(2, "in")
    50.8
    """
    return value * parse_unit(unit).factor


def from_internal(value: float, unit: str) -> float:
    """A value in the internal unit, expressed in the given unit."""
    return value / parse_unit(unit).factor


def format_quantity(value: float, unit: str, *, digits: int = 4) -> str:
    """A value in its unit, to a number of significant digits.

    Examples
    --------
    >>> format_quantity(12.50001, "mm")
    '12.5 mm'
    >>> format_quantity(1234567.8, "N"), format_quantity(0.00002, "mm")
    ('1234568 N', '0.00002 mm')
    """
    rounded = float(f"{value:.{digits}g}") + 0.0  # adding nothing takes the sign off zero
    if abs(rounded) >= 10**digits:
        rounded = float(f"{value:.0f}")
    number = format(Decimal(repr(rounded)), "f")
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return f"{number} {unit}".strip()
