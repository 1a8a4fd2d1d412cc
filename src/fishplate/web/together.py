"""Dimensions that err together: two heights from one bent floor are off by the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..build import Build
from ..build.condition_faults import correlation_faults
from ..build.interfaces import Correlation, Dimension
from .form import Form, made
from .words import number


@dataclass(frozen=True, slots=True)
class Together:
    """A dimension that errs together with another."""

    id: str
    name: str
    said: str


def together(build: Build, id_: str) -> Iterator[Together]:
    """What errs together with a dimension."""
    for item in build.correlations:
        if id_ in (item.first, item.second):
            other = build.find("dimensions", item.second if item.first == id_ else item.first)
            way = "they err in opposite ways" if item.coefficient < 0 else "they err the same way"
            much = way if item.coefficient else "they have nothing to do with each other"
            yield Together(other.id, other.name, f"{number(item.coefficient)}: {much}")


def others(build: Build, dimension: Dimension) -> tuple[tuple[str, str], ...]:
    """What could err together with a dimension, by name."""
    found = (item for item in build.dimensions if item.id != dimension.id and item.designates is None)
    return tuple((item.id, item.name) for item in sorted(found, key=lambda item: item.name.casefold()))


def erring_together(build: Build, dimension: Dimension, form: Form) -> Build:
    """The build with two dimensions that err together; one they had before is replaced."""
    other = form.choice("other", [item.id for item in build.dimensions if item.id != dimension.id])
    much = form.number("coefficient", at_least=-1, at_most=1)
    if form.problems:
        return build
    noun = made(Correlation, first=dimension.id, second=other, coefficient=much)
    new = build.model_copy(update={"correlations": (*without_pair(build, dimension.id, other), noun)})
    for fault in correlation_faults(new, ""):
        form.refuse("coefficient", fault.what, fault.got, fault.do)
    return new


def without_pair(build: Build, first: str, second: str) -> tuple[Correlation, ...]:
    """The correlations of a build, but for that of a pair."""
    return tuple(item for item in build.correlations if {item.first, item.second} != {first, second})
