"""One job a phase, for a build that lists parts by phase and no jobs yet."""

from __future__ import annotations

import tomllib
from collections import defaultdict
from functools import cache
from importlib import resources
from typing import Any

from ..build import Assumption, Build, Facts
from ..build.base import ThreePoint
from ..build.jobs import Job, Link
from ..build.parts import Part, Phase


def with_phase_jobs(build: Build, facts: Facts) -> tuple[Build, tuple[Assumption, ...]]:
    """The build with a job for each phase its parts are needed in; unchanged if it lists jobs, or no parts.

    Parts needed up to the mock-up are to try in their phase, later ones to keep; parts without a phase are taken to be
    needed at assembly.
    """
    parts = [part for part in build.parts if part.id in facts.wanted_parts]
    if build.jobs or not parts:
        return build, ()
    by_phase: dict[Phase, list[str]] = defaultdict(list)
    for part in parts:
        by_phase[part.phase or Phase.ASSEMBLY].append(part.id)
    phases = [phase for phase in Phase if phase in by_phase]
    size, sized = _size(build, parts, phases)
    jobs = []
    for position, phase in enumerate(phases):
        ids = tuple(sorted(by_phase[phase]))
        to_try = phase.order <= Phase.MOCK_UP.order
        jobs.append(
            Job(
                id=phase.value,
                name=phase.value.capitalize(),
                phase=phase,
                hours=_scaled(typical_hours()[phase], size),
                after=(Link(job=phases[position - 1].value),) if position else (),
                to_try=ids if to_try else (),
                to_keep=() if to_try else ids,
            )
        )
    return build.model_copy(update={"jobs": tuple(jobs)}), (*sized, *_by_phase_assumptions(parts))


@cache
def typical_hours() -> dict[Phase, ThreePoint]:
    """Typical hours of each phase of a restomod [h]."""
    return {Phase(name): ThreePoint(**points) for name, points in _table()["hours"].items()}


@cache
def _table() -> dict[str, Any]:
    text = resources.files(__package__).joinpath("data/phase_hours.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _scaled(points: ThreePoint, size: float) -> ThreePoint:
    return ThreePoint(low=points.low * size, likely=points.likely * size, high=points.high * size)


def _size(build: Build, parts: list[Part], phases: list[Phase]) -> tuple[float, tuple[Assumption, ...]]:
    table = _table()
    if build.owner.hours_left is not None:
        size = build.owner.hours_left / sum(typical_hours()[phase].likely for phase in phases)
        text = (
            f"the {build.owner.hours_left:g} hours said to be left are shared out over the phases as in a typical "
            f"restomod ({table['source']})"
        )
        return size, (Assumption("phase-hours-shared", "build", text),)
    size = min(table["largest_size"], max(table["least_size"], len(parts) / table["whole_build_parts"]))
    text = (
        f"hours of each phase are {size:.2f} times those of {table['source'].removeprefix('own trade estimate for ')}"
        f", by its {len(parts)} parts against {table['whole_build_parts']} (own estimate); say how many hours are left"
    )
    return size, (Assumption("phase-hours-default", "build", text),)


def _by_phase_assumptions(parts: list[Part]) -> tuple[Assumption, ...]:
    text = "no jobs are listed: one job a phase, and all parts of a phase are needed when it begins"
    found = [Assumption("phase-jobs", "build", text)]
    without = sorted(part.id for part in parts if part.phase is None)
    if without:
        named = ", ".join(without[:5]) + (f" and {len(without) - 5} more" if len(without) > 5 else "")
        found.append(Assumption("phase-default", "build", f"parts without a phase are needed at assembly: {named}"))
    return tuple(found)
