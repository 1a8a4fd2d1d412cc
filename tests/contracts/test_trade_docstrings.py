"""Every calculation says what it takes, in which unit, where it holds and where it comes from, and serves something."""

import doctest
import importlib
import inspect
import re

import pytest

from fishplate.build.units import conversion_factor
from fishplate.trade import Calculation, calculations
from fishplate.trade.catalogue import SUBJECTS, read_quantities, read_sections
from fishplate.trade.tables import table

CALCULATIONS = list(calculations().values())
ALL = pytest.mark.parametrize("item", CALCULATIONS, ids=lambda item: item.id)
SUFFIXES = {
    "mm": "mm", "n": "N", "mpa": "MPa", "nmm": "N*mm", "kg": "kg", "rad": "rad", "s": "s", "mm2": "mm**2", "v": "V",
    "a": "A", "w": "W", "degc": "degC", "n_per_mm": "N/mm", "rad_per_s": "rad/s", "rad_per_s2": "rad/s**2",
    "mm_per_s": "mm/s", "nmm_per_rad": "N*mm/rad", "n_s_per_mm": "N*s/mm", "kg_per_mm3": "kg/mm**3", "ohm_mm": "ohm*mm",
}  # fmt: skip


def suffix_unit(name: str) -> str | None:
    """Unit that the end of a name says; the longest ending wins."""
    fits = [ending for ending in SUFFIXES if name.endswith(f"_{ending}")]
    return SUFFIXES[max(fits, key=len)] if fits else None


@ALL
def test_parameters_of_the_docstring_are_those_of_the_signature(item: Calculation) -> None:
    sections = read_sections(item.function.__doc__ or "")
    described = [quantity.name for quantity in read_quantities(sections["Parameters"])]
    assert described == list(inspect.signature(item.function).parameters)


@ALL
def test_every_number_has_a_unit_and_every_array_a_shape(item: Calculation) -> None:
    for parameter in item.parameters:
        quantity = parameter.quantity
        assert quantity.words, parameter.name
        if parameter.kind in ("number", "array", "count"):
            assert quantity.unit, parameter.name
        if parameter.kind == "array":
            assert quantity.shape, parameter.name
        if parameter.kind == "flag":
            assert not quantity.unit
        if (unit := suffix_unit(parameter.name)) is not None and parameter.kind != "count":
            assert quantity.unit == unit, parameter.name


@ALL
def test_every_result_is_described_with_its_unit(item: Calculation) -> None:
    hints = {"text", "note", "construction", "use", "contour", "speed_symbol", "load_index", "holes"}
    for result in item.results:
        if result.name not in hints:
            flag = inspect.signature(item.function).return_annotation == "bool"
            assert result.words or result.unit, result.name
            assert flag or result.unit, result.name


@ALL
def test_units_are_known(item: Calculation) -> None:
    quantities = [parameter.quantity for parameter in item.parameters] + list(item.results)
    for unit in {quantity.unit for quantity in quantities} - {"", "-", "degC"}:
        assert conversion_factor(unit, unit) == pytest.approx(1.0)


@ALL
def test_it_says_where_it_holds_its_source_and_an_example(item: Calculation) -> None:
    sections = read_sections(item.function.__doc__ or "")
    assert re.search(r"\bValid\b", item.notes)
    assert item.references
    assert len(item.purpose.splitlines()) == 1
    assert doctest.DocTestParser().get_examples(sections["Examples"])


@ALL
def test_a_refusal_is_announced(item: Calculation) -> None:
    body = inspect.getsource(item.function).split('"""')[-1]
    refuses = re.search(r"\b(positive|not_negative|within|raise)\b", body)
    assert not refuses or "Raises" in read_sections(item.function.__doc__ or "")


def test_every_calculation_serves_a_condition_or_a_decision() -> None:
    idle = [item.id for item in CALCULATIONS if not item.templates and not item.settles]
    assert not idle


def test_decisions_name_calculations_that_exist() -> None:
    named = {f"{subject}.{name}" for subject, rows in table("decisions").items() for name in rows}
    assert named <= calculations().keys()


def test_what_a_subject_shows_is_what_it_lists() -> None:
    for subject in SUBJECTS:
        module = importlib.import_module(f"fishplate.trade.{subject}")
        own = {
            name for name, value in vars(module).items()
            if inspect.isfunction(value) and value.__module__.startswith(module.__name__) and not name.startswith("_")
        }  # fmt: skip
        listed = {name for name in module.__all__ if inspect.isfunction(getattr(module, name))}
        assert own == listed, subject


def test_subjects_that_can_hurt_open_with_a_caution() -> None:
    for subject in ("brakes", "hydraulics", "steering", "springs", "linkages", "mounts", "weight", "wiring", "arches",
                    "wheels", "fasteners", "coupling", "driveline", "housings"):  # fmt: skip
        found = [item for item in CALCULATIONS if item.id.startswith(f"{subject}.")]
        assert all(item.hazards and item.caution for item in found), subject
        # a caution is sentences, not what the subject is made of
        assert all(item.caution.endswith(".") and "`" not in item.caution for item in found), subject
