"""What is taken for granted about help and about parts that several jobs share."""

from __future__ import annotations

from collections.abc import Mapping

from ..build import Assumption
from ..build.jobs import Job
from ..build.owner import Owner
from .network import WorkNetwork
from .owner_hours import HELP_VARIANTS


def help_assumptions(owner: Owner, jobs: Mapping[str, Job]) -> tuple[Assumption, ...]:
    """Whether a second person is there when a job needs one."""
    names = sorted(job.id for job in jobs.values() if job.second_person)
    if not names:
        return ()
    if not owner.helpers:
        text = f"a second person is at hand whenever these jobs are worked: {', '.join(names)}"
    elif any(0 < helper.chance < 1 or helper.hours_per_week is not None for helper in owner.helpers):
        text = f"evenings on which a second person comes by chance fall in {HELP_VARIANTS} ways, in turn over the runs"
    else:
        return ()
    return (Assumption("second-person", "build", text),)


def part_assumptions(network: WorkNetwork) -> tuple[Assumption, ...]:
    """Jobs put one after the other because both want the same part."""
    return tuple(
        Assumption("part-in-one-place", after, f"it waits for {before}, which has {part} in hands or sent away")
        for before, after, part in network.shared_parts
    )
