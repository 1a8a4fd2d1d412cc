"""Jobs that verify on the vehicle may find that it does not fit: hours to put it right, drawn run by run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..build import Assumption, Build, Facts
from ..build.base import ThreePoint
from ..build.jobs import Job
from .chance import stream, triangular
from .kernel_types import Floats32
from .model import FloatArray

USUAL_REWORK = ThreePoint(low=1, likely=2, high=6)


@dataclass(frozen=True, slots=True)
class Rework:
    """What may come of verifying.

    Parameters
    ----------
    jobs : rows of the rework by job
    interfaces : by interface, the job that verifies it first
    luck, hours : by interface, a uniform draw, and the hours if it is wrong (R,) [h]
    """

    jobs: Mapping[str, int]
    interfaces: Mapping[str, str]
    luck: Mapping[str, Floats32]
    hours: Mapping[str, Floats32]
    runs: int
    assumptions: tuple[Assumption, ...]

    def draws(self, misfits: Mapping[str, float]) -> Floats32:
        """Hours of rework of each verifying job (K, R) [h].

        Parameters
        ----------
        misfits : by interface, the chance that it proves wrong

        Raises
        ------
        ValueError
            if a chance does not lie between 0 and 1
        """
        found = np.zeros((max(1, len(self.jobs)), self.runs), dtype=np.float32)
        for interface, chance in misfits.items():
            if not 0 <= chance <= 1:
                raise ValueError(f"misfits {interface}: a chance lies between 0 and 1")
            if interface in self.interfaces:
                wrong = self.luck[interface] < chance
                found[self.jobs[self.interfaces[interface]]] += np.where(wrong, self.hours[interface], np.float32(0))
        return found


def rework_of(build: Build, facts: Facts, jobs: Mapping[str, Job], pace: FloatArray, *, seed: int) -> Rework:
    """Draw what putting right takes wherever a job verifies something still open."""
    first = _first_to_verify(facts, jobs)
    points = {interface: _hours(build, jobs[job], interface) for interface, job in first.items()}
    runs = pace.size
    luck = {id_: stream(seed, "verify", id_).random(runs, dtype=np.float32) for id_ in first}
    hours = {
        id_: triangular(points[id_] or USUAL_REWORK, stream(seed, "rework", id_).random(runs, dtype=np.float32))
        * pace.astype(np.float32)
        for id_ in first
    }
    rows = {job: row for row, job in enumerate(sorted(set(first.values())))}
    return Rework(rows, first, luck, hours, runs, _assumptions([id_ for id_ in sorted(first) if points[id_] is None]))


def _first_to_verify(facts: Facts, jobs: Mapping[str, Job]) -> dict[str, str]:
    """By interface not yet seen to be right, the job that verifies it; the earliest phase where several do."""
    first: dict[str, str] = {}
    for job in sorted(jobs.values(), key=lambda job: (job.phase.order, job.id)):
        for interface in job.settles:
            if interface not in facts.settled or not facts.settled[interface].good:
                first.setdefault(interface, job.id)
    return first


def _hours(build: Build, job: Job, interface: str) -> ThreePoint | None:
    """As the job says, else what the interface's conditions say of putting it right now: the dearest of them."""
    if job.rework is not None:
        return job.rework
    early = max((c.early_hours for c in build.conditions if c.interface == interface), default=0.0)
    return ThreePoint(low=early / 2, likely=early, high=2 * early) if early > 0 else None


def _assumptions(unstated: Sequence[str]) -> tuple[Assumption, ...]:
    if not unstated:
        return ()
    named = ", ".join(unstated[:5]) + (f" and {len(unstated) - 5} more" if len(unstated) > 5 else "")
    text = f"what proves wrong when it is verified takes 1, 2 or 6 h to put right (own default): {named}"
    return (Assumption("rework-default", "build", text),)
