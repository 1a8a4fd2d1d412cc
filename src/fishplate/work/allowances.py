"""What is set aside for small things and for what is found on the way, by system."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..build import Assumption, Build, Facts
from ..build.jobs import Allowance, Job
from ..build.parts import Phase
from .model import Spreads


def systems_of(jobs: Mapping[str, Job]) -> list[str | None]:
    """Systems that jobs belong to, those without one first."""
    return sorted({job.system for job in jobs.values()}, key=lambda system: system or "")


def _stated(build: Build, kind: str, system: str | None) -> list[Allowance]:
    """The allowances stated for a system, else those for the whole build."""
    own = [a for a in build.allowances if a.kind == kind and a.system == system and system is not None]
    return own or [a for a in build.allowances if a.kind == kind and a.system is None]


def small_things(build: Build, system: str | None) -> float:
    """The factor on hours for small things that are not listed."""
    return 1 + sum(a.hours_percent for a in _stated(build, "small-things", system)) / 100


def discovery_percent(build: Build, facts: Facts, system: str | None, default: float) -> float:
    """Hours still to be found on the way in a system: as stated for now, else the default [%]."""
    stated = _stated(build, "discovery", system)
    if not stated:
        return default
    after = strip_is_finished(build, facts, system)
    return sum(a.hours_percent if a.after_strip_percent is None or not after else a.after_strip_percent for a in stated)


def strip_is_finished(build: Build, facts: Facts, system: str | None) -> bool:
    """Whether the strip is over: a gate to re-plan after it is passed, or its jobs are done.

    These are the strip jobs of the system where it has some of its own, else those of the whole vehicle.
    """
    gates = [gate for gate in build.gates if gate.kind == "re-plan" and gate.after]
    if any(_all_done(facts, gate.after) for gate in gates):
        return True
    strip = [job for job in build.jobs if job.phase is Phase.STRIP]
    own = [job for job in strip if job.system == system and system is not None]
    return _all_done(facts, (job.id for job in own or strip))


def _all_done(facts: Facts, jobs: Iterable[str]) -> bool:
    return all(facts.is_done(job) for job in jobs)


def default_discovery(build: Build, facts: Facts, system: str | None, spreads: Spreads) -> float:
    """Hours still to be found on the way where nothing is stated [%]."""
    after = strip_is_finished(build, facts, system)
    return spreads.discovery_after_percent if after else spreads.discovery_before_percent


def discovery_assumptions(
    build: Build, facts: Facts, jobs: Mapping[str, Job], spreads: Spreads
) -> tuple[Assumption, ...]:
    """What was taken for what is found on the way."""
    found = []
    for system in systems_of(jobs):
        if _stated(build, "discovery", system):
            continue
        percent = default_discovery(build, facts, system, spreads)
        stage = "once the strip is done" if strip_is_finished(build, facts, system) else "before the strip is done"
        text = (
            f"{percent:g} % more hours are found on the way {stage} (common practice), one draw a run for all its "
            f"jobs, gamma-distributed with shape {spreads.discovery_shape:g} (own estimate)"
        )
        found.append(Assumption("discovery-default", system or "jobs without a system", text))
    return tuple(found)
