"""What to read at the vehicle while at a job, and the figures to have at hand for it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from ..build import Build, Facts
from ..build.interfaces import Condition, Dimension
from ..build.jobs import Job
from ..build.units import format_quantity, from_internal, parse_unit
from ..fit.readings import DimensionState, dimension_states

MOST_READINGS: Final = 6
MOST_FIGURES: Final = 10


class ToRead(NamedTuple):
    """A dimension to read while at a job; instrument : "" where nobody said."""

    dimension: str
    name: str
    unit: str
    minutes: float
    instrument: str
    how: str


class Figure(NamedTuple):
    """A figure to have at hand: a dimension with its spread, a torque the owner gave, a limit to hold."""

    name: str
    text: str


def readings_at(build: Build, facts: Facts, job: Job) -> tuple[ToRead, ...]:
    """Dimensions that can be read while at a job and still should be: missing, stale, or never measured here.

    Those the job makes measurable, those of the interfaces it settles or closes, and those of the parts it takes.
    """
    found = []
    for dimension in _dimensions(build, facts, job):
        if dimension.job not in (None, job.id) and not facts.is_done(dimension.job):
            continue
        if dimension.part is not None and facts.owned.get(dimension.part, 0.0) <= 0:
            continue
        if dimension.designates is None and _should_be_read(_known(build, facts, dimension)):
            found.append(dimension)
    return tuple(
        ToRead(it.id, it.name, it.unit, it.minutes, (it.instrument or "").replace("-", " "), it.how)
        for it in found[:MOST_READINGS]
    )


def figures_at(build: Build, facts: Facts, job: Job) -> tuple[Figure, ...]:
    """Figures to have at hand: limits, and what is known with its spread. A torque is there only if it was entered."""
    return tuple([*_limits(build, facts, job), *_values(build, facts, job)][:MOST_FIGURES])


def _values(build: Build, facts: Facts, job: Job) -> Iterator[Figure]:
    for dimension in _dimensions(build, facts, job):
        state = _known(build, facts, dimension)
        if state is None or _should_be_read(state):
            continue
        yield Figure(dimension.name, _value_words(dimension, state))


def _limits(build: Build, facts: Facts, job: Job) -> Iterator[Figure]:
    for condition in _conditions(build, facts, {*job.settles, *job.closes}):
        limits = [
            f"{word} {limit}"
            for word, limit in (("at least", condition.at_least), ("at most", condition.at_most))
            if limit and not set(limit) & set("_*/(+")
        ]
        if limits:
            yield Figure(condition.name, " and ".join(limits))


def _conditions(build: Build, facts: Facts, interfaces: set[str]) -> Iterator[Condition]:
    for condition in build.conditions:
        if condition.interface in interfaces and condition.id in facts.wanted_conditions:
            yield condition


def _dimensions(build: Build, facts: Facts, job: Job) -> list[Dimension]:
    """Dimensions a job has to do with, each once: what it opens to view first."""
    parts = {*job.to_try, *job.to_keep}
    named = [it for it in build.dimensions if it.job == job.id]
    for condition in _conditions(build, facts, {*job.settles, *job.closes}):
        named += [build.find("dimensions", name) for name in condition.names]
    of_parts = [it for it in build.dimensions if it.part in parts]
    used = {name for condition in build.conditions for name in condition.names}
    named += [it for it in of_parts if it.id in used or parse_unit(it.unit).kind == "torque"]
    return list(dict.fromkeys(named))


def _known(build: Build, facts: Facts, dimension: Dimension) -> DimensionState | None:
    return dimension_states(build, facts, [dimension.id])[0].get(dimension.id)


def _should_be_read(state: DimensionState | None) -> bool:
    return state is None or state.stale or (state.random and (state.default or not state.own))


def _value_words(dimension: Dimension, state: DimensionState) -> str:
    if state.designation:
        return state.designation
    value = format_quantity(from_internal(state.value, dimension.unit), dimension.unit)
    if not state.random:
        return value
    width = from_internal(state.value + state.half_width, dimension.unit) - from_internal(state.value, dimension.unit)
    return f"{value} ± {format_quantity(width, '', digits=2)}"
