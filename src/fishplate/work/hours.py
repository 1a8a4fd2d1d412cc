"""The hours each job takes in each run: its own triangular draw, the owner's pace, what is discovered on the way.

Each draw belongs to (seed, what it is for, run): adding, dropping or reordering jobs leaves the draws of the others as
they were, and fewer runs are the first of more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..build import Assumption, Build, Facts
from ..build.jobs import Job
from ..build.parts import Phase
from .allowances import default_discovery, discovery_assumptions, discovery_percent, small_things, systems_of
from .chance import stream, triangular, triangular_share
from .kernel_types import Floats, Floats32
from .model import Spreads
from .outside import shop_assumptions, shop_days
from .pace import pace_of

LEAST_SHARE_LEFT = 0.1


@dataclass(frozen=True, slots=True)
class HourDraws:
    """Draws of all runs.

    Parameters
    ----------
    jobs, shops : rows of the arrays below
    hours : hours left of each job (J, R) [h]
    shop_days : days at the shop, queue included (S, R)
    pace, craft : factors of each run (R,)
    """

    jobs: Mapping[str, int]
    shops: Mapping[str, int]
    hours: Floats32
    shop_days: Floats32
    pace: Floats
    craft: Floats
    assumptions: tuple[Assumption, ...]


def draw_hours(
    build: Build, facts: Facts, jobs: Mapping[str, Job], *, runs: int, seed: int, spreads: Spreads
) -> HourDraws:
    """Draw the hours left of every job in every run."""
    learnt = pace_of(build, facts, spreads)
    pace = learnt.median * np.exp(learnt.log_sd * stream(seed, "pace").standard_normal(runs))
    craft = spreads.craft_median * np.exp(spreads.craft_log_sd * stream(seed, "craft").standard_normal(runs))
    found = {system: _discovery(build, facts, system, runs, seed, spreads) for system in systems_of(jobs)}
    small = {system: small_things(build, system) for system in found}
    hours = np.empty((len(jobs), runs), dtype=np.float32)
    for row, job in enumerate(jobs.values()):
        factor = pace * small[job.system] * (1.0 if job.phase is Phase.DEFINE else 1 + found[job.system])
        hours[row] = _hours_left(job, facts, factor.astype(np.float32), stream(seed, "job", job.id))
    shops = [job for job in jobs.values() if job.workshop is not None]
    return HourDraws(
        jobs={id_: row for row, id_ in enumerate(jobs)},
        shops={job.id: row for row, job in enumerate(shops)},
        hours=hours,
        shop_days=shop_days(build, facts, shops, craft, seed),
        pace=pace,
        craft=craft,
        assumptions=(
            *learnt.assumptions,
            *discovery_assumptions(build, facts, jobs, spreads),
            *shop_assumptions(build, shops, spreads),
            *_overrun_assumptions(jobs, facts),
        ),
    )


def _discovery(
    build: Build, facts: Facts, system: str | None, runs: int, seed: int, spreads: Spreads
) -> npt.NDArray[np.float64]:
    """Share of hours found on the way in each run, one draw for all jobs of a system."""
    share = discovery_percent(build, facts, system, default_discovery(build, facts, system, spreads)) / 100
    shape = spreads.discovery_shape
    if share == 0 or shape == 0:
        return np.full(runs, share)
    return share * stream(seed, "discovery", system or "").standard_gamma(shape, runs) / shape


def _hours_left(job: Job, facts: Facts, factor: Floats32, random: np.random.Generator) -> Floats32:
    """Hours left in each run: as said by the owner with the job's own spread, else the draw less what is worked."""
    uniform = random.random(factor.size, dtype=np.float32)
    state = facts.jobs.get(job.id)
    points = job.hours
    if state is not None and state.hours_left is not None:
        if points.likely <= 0:
            return np.float32(state.hours_left) * factor
        return triangular(points, uniform) * factor * np.float32(state.hours_left / points.likely)
    worked = state.hours_worked if state is not None else 0.0
    if worked <= 0:
        return triangular(points, uniform) * factor
    # the job is not done, so it takes more than was worked: draw from that part of the distribution
    passed = triangular_share(points, worked / factor)
    left = triangular(points, passed + uniform * (1 - passed)) * factor - np.float32(worked)
    least = np.float32(LEAST_SHARE_LEFT * points.likely) * factor
    hours: Floats32 = np.maximum(left, least).astype(np.float32)
    return hours


def expected_hours_left(job: Job, facts: Facts) -> float:
    """Mean hours left of a job by its own estimate, without the factors of a run [h]."""
    state = facts.jobs.get(job.id)
    if state is not None and state.hours_left is not None:
        return state.hours_left
    worked = state.hours_worked if state is not None else 0.0
    return max(job.hours.mean - worked, LEAST_SHARE_LEFT * job.hours.likely)


def _overrun_assumptions(jobs: Mapping[str, Job], facts: Facts) -> tuple[Assumption, ...]:
    found = []
    for id_, job in jobs.items():
        state = facts.jobs.get(id_)
        if state is not None and state.hours_left is None and state.hours_worked >= job.hours.high > 0:
            text = (
                f"{state.hours_worked:g} h were worked, more than its high estimate of {job.hours.high:g} h; at least "
                f"{LEAST_SHARE_LEFT:.0%} of its likely hours are taken to be left (own estimate)"
            )
            found.append(Assumption("hours-overrun", id_, text))
    return tuple(found)
