"""What tells a dimension of a part that is not in hand: its drawing, its supplier, or something that stands in for it.

Where nothing does, the part itself has to come first; that moves the date to have it in hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple

from ..build import Assumption, Build, offer_contents
from ..build.jobs import Release
from ..fit import FitReport, MeasureCandidate, answer_weeks, supplier_to_ask
from .situation import Situation

MEASURE_WITHIN_WEEKS = 1.0


class Told(NamedTuple):
    """How a dimension is known without its part in hand.

    Parameters
    ----------
    weeks : from asking, or from when it can be begun, until it is known
    supplier : who is asked
    """

    by: Literal["drawing", "enquiry", "stand-in"]
    weeks: float
    supplier: str | None = None


def told_without_part(situation: Situation, fit: FitReport) -> Mapping[str, Told]:
    """Dimensions wanted of parts not in hand that something tells sooner than the part, and what does."""
    measures = {item.dimension: item for item in fit.measures}
    found: dict[str, Told] = {}
    for key in sorted({*(key for key, item in measures.items() if item.needed), *unknown_dimensions(situation)}):
        told = _told(situation, key, measures.get(key))
        if told is not None:
            found[key] = told
    drawn = Told("drawing", MEASURE_WITHIN_WEEKS)
    return {**found, **dict.fromkeys(told_by_drawing(situation.build), drawn)}


def _told(situation: Situation, key: str, measure: MeasureCandidate | None) -> Told | None:
    part = situation.build.find("dimensions", key).part
    if part is None or situation.facts.owned.get(part, 0.0) > 0:
        return None
    supplier = supplier_to_ask(situation.build, situation.facts, key)
    if measure is not None and measure.means == "stand-in":
        return Told("stand-in", MEASURE_WITHIN_WEEKS)
    if supplier is not None and (measure is None or measure.means == "enquiry"):
        return Told("enquiry", answer_weeks(), supplier)
    return None


def answers_assumed(situation: Situation, told: Mapping[str, Told]) -> Iterator[Assumption]:
    """That suppliers answer, and that it is enough."""
    build = situation.build
    for key, item in told.items():
        if item.supplier is not None:
            text = (
                f"{build.find('suppliers', item.supplier).name} is asked for {build.find('dimensions', key).name}, "
                f"answers within {item.weeks:g} weeks and is right (our own default)"
            )
            yield Assumption("enquiry-answer", f"dimension {key}", text)


def unknown_dimensions(situation: Situation) -> frozenset[str]:
    """Dimensions that a release names and that have no reading which still holds."""
    known = _known(situation)
    return frozenset(key for release in situation.build.releases for key in release.dimensions if key not in known)


def unknown_of_sheet(situation: Situation) -> frozenset[str]:
    """Dimensions of the foundation sheet, to be measured, that have no reading which still holds."""
    known = _known(situation)
    return frozenset(
        item.id
        for item in situation.build.dimensions
        if item.foundation and not item.provision and item.id not in known
    )


def _known(situation: Situation) -> set[str]:
    facts = situation.facts
    return {
        reading.dimension
        for reading in situation.build.readings
        if reading.day <= facts.as_of and facts.state_changed.get(reading.against or "", reading.day) <= reading.day
    }


def told_by_drawing(build: Build) -> frozenset[str]:
    """Dimensions of the very part whose order waits for them: its drawing or maker tells them, not the part in hand."""
    held = {release.id: held_parts(build, release) for release in build.releases}
    return frozenset(
        key
        for release in build.releases
        for key in release.dimensions
        if build.find("dimensions", key).part in held[release.id]
    )


def held_parts(build: Build, release: Release) -> set[str]:
    """Parts whose order a release holds."""
    if release.part is not None:
        return {release.part}
    return set(offer_contents(build, build.find("offers", release.offer or "")))
