"""Our factors against pint's, for every unit we answer without asking pint, and for those a builder may write."""

from __future__ import annotations

import contextlib

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fishplate.build.quantities import parse_quantity
from fishplate.build.units import _COMMON, INTERNAL_UNITS, UnitProblem, parse_unit

REGISTRY = pint.UnitRegistry(cache_folder=None)
WRITTEN = [
    "µm", "km", "mile", "yard", "thou", "tonne", "oz", "stone", "kN", "lbf", "kgf", "kPa", "GPa", "psi", "ksi",
    "N/mm**2", "N*m", "lbf*ft", "lbf*in", "kgf*m", "N/mm", "N/m", "lbf/in", "kgf/mm", "mrad", "arcmin", "turn", "ms",
    "minute", "hour", "m/s", "km/h", "mph", "ft/s", "mV", "kV", "mA", "kW", "hp", "l", "gallon", "cc",
    "in**2", "mm**3", "m^2",
]  # fmt: skip


@pytest.mark.parametrize("symbol", [*(symbol for symbol in _COMMON if symbol), *WRITTEN])
def test_a_unit_has_the_factor_and_dimension_pint_gives_it(symbol: str) -> None:
    unit = parse_unit(symbol)
    internal = INTERNAL_UNITS[unit.kind]
    ours = REGISTRY.Quantity(3.0, symbol).to(internal).magnitude
    assert 3.0 * unit.factor == pytest.approx(ours, rel=1e-13)


@pytest.mark.parametrize("symbol", [symbol for symbol in _COMMON if symbol and symbol != "degC"])
def test_the_look_up_and_the_long_way_agree(symbol: str) -> None:
    from fishplate.build.units import _unit_from_pint

    ours, theirs = parse_unit(symbol), _unit_from_pint(symbol)
    assert (ours.kind, ours.symbol) == (theirs.kind, theirs.symbol)
    assert ours.factor == pytest.approx(theirs.factor, rel=1e-15)


@given(st.text(st.sampled_from("minftlbkgNPaVW*/^-+0123456789.,° \"'()e_"), max_size=14))
def test_any_text_is_a_unit_or_refused_in_words(text: str) -> None:
    for parse in (parse_unit, parse_quantity):
        with contextlib.suppress(UnitProblem):
            parse(text)
