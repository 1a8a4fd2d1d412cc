"""The hours each job takes in each run: its own triangular draw, the owner's pace, what is discovered on the way.

Each draw belongs to (seed, what it is for, run): adding, dropping or reordering jobs leaves the draws of the others as
they were, and fewer runs are the first of more.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..build import Assumption, Build, Facts
from ..build.base import ThreePoint
from ..build.jobs import Job
from ..build.parts import Phase
from .kernel_types import Draws, Floats32
from .model import FloatArray, Spreads

SHRINKAGE_JOBS = 5.0
LEAST_SHARE_LEFT = 0.1
SHOP_QUEUE = SHOP_WORK = ThreePoint(low=1, likely=2, high=4)


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
    pace: FloatArray
    craft: FloatArray
    assumptions: tuple[Assumption, ...]

    @property
    def kernel(self) -> Draws:
        """The arrays the kernel reads."""
        return Draws(self.hours, self.shop_days)


def stream(seed: int, *words: str) -> np.random.Generator:
    """Random numbers that belong to a seed and what they are for."""
    digest = hashlib.blake2b("\x1f".join([str(seed), *words]).encode(), digest_size=16).digest()
    return np.random.Generator(np.random.PCG64(int.from_bytes(digest, "little")))


def triangular(points: ThreePoint, uniform: Floats32) -> Floats32:
    """Triangular values at uniform ones, by the inverse distribution."""
    low, likely, high = (np.float32(value) for value in (points.low, points.likely, points.high))
    if high <= low:
        return np.full(uniform.shape, likely, dtype=np.float32)
    rising = np.sqrt(uniform * (high - low) * (likely - low))
    falling = np.sqrt((1 - uniform) * (high - low) * (high - likely))
    values: Floats32 = np.where(uniform * (high - low) < likely - low, low + rising, high - falling).astype(np.float32)
    return values


def draw_hours(
    build: Build, facts: Facts, jobs: Mapping[str, Job], *, runs: int, seed: int, spreads: Spreads
) -> HourDraws:
    """Draw the hours left of every job in every run."""
    median, learnt = pace_median(build, facts, spreads)
    normal = stream(seed, "pace").standard_normal(runs)
    pace = median * np.exp(spreads.pace_log_sd * normal)
    craft = spreads.craft_median * np.exp(spreads.craft_log_sd * stream(seed, "craft").standard_normal(runs))
    found = {system: _discovery(build, facts, system, runs, seed, spreads) for system in _systems(jobs)}
    small = {system: _small_things(build, system) for system in found}
    hours = np.empty((len(jobs), runs), dtype=np.float32)
    for row, job in enumerate(jobs.values()):
        factor = pace * small[job.system] * (1.0 if job.phase is Phase.DEFINE else 1 + found[job.system])
        hours[row] = _hours_left(job, facts, factor.astype(np.float32), stream(seed, "job", job.id))
    shops = [job for job in jobs.values() if job.workshop is not None]
    shop_days = np.empty((len(shops), runs), dtype=np.float32)
    for row, job in enumerate(shops):
        shop_days[row] = 7 * craft * _shop_weeks(build, job, seed, runs)
    return HourDraws(
        jobs={id_: row for row, id_ in enumerate(jobs)},
        shops={job.id: row for row, job in enumerate(shops)},
        hours=hours,
        shop_days=shop_days,
        pace=pace,
        craft=craft,
        assumptions=(
            *learnt,
            *_discovery_assumptions(build, facts, jobs, spreads),
            *_shop_assumptions(build, shops, spreads),
            *_overrun_assumptions(jobs, facts),
        ),
    )


def pace_median(build: Build, facts: Facts, spreads: Spreads) -> tuple[float, tuple[Assumption, ...]]:
    """The owner's pace: logged hours of done jobs over what they were estimated at, drawn towards 1.

    Notes
    -----
    median = exp(n / (n + 5) × log(logged / estimated)) for n done jobs with logged hours, as if five more jobs had
    gone as estimated; an estimate is the triangular mean with its discovery allowance. A simple shrinkage, own choice.
    """
    done = [job for job in build.jobs if facts.is_done(job.id) and facts.jobs[job.id].hours_worked > 0]
    logged = sum(facts.jobs[job.id].hours_worked for job in done)
    after = spreads.discovery_after_percent
    estimated = sum(
        job.hours.mean
        * _small_things(build, job.system)
        * (1.0 if job.phase is Phase.DEFINE else 1 + _discovery_percent(build, job.system, after) / 100)
        for job in done
    )
    spread = (
        f"and varies from run to run with a log standard deviation of {spreads.pace_log_sd:g}, the same for all jobs"
    )
    if not done or estimated <= 0:
        text = f"the owner's pace is taken as estimated, {spread} (own estimate)"
        return 1.0, (Assumption("pace-default", "build", text),)
    weight = len(done) / (len(done) + SHRINKAGE_JOBS)
    median = math.exp(weight * math.log(logged / estimated))
    text = (
        f"the owner's pace is {median:.2f} times the estimates: {len(done)} done jobs took {logged:.0f} h against "
        f"{estimated:.0f} h expected, weighed as if five more had gone as estimated; it {spread[4:]}"
    )
    return median, (Assumption("pace-learnt", "build", text),)


def _systems(jobs: Mapping[str, Job]) -> list[str | None]:
    return sorted({job.system for job in jobs.values()}, key=lambda system: system or "")


def _allowance(build: Build, kind: str, system: str | None) -> float | None:
    """The allowance stated for a system, else the one for the whole build, else None [%]."""
    own = [a.hours_percent for a in build.allowances if a.kind == kind and a.system == system and system is not None]
    whole = [a.hours_percent for a in build.allowances if a.kind == kind and a.system is None]
    return sum(own) if own else sum(whole) if whole else None


def _small_things(build: Build, system: str | None) -> float:
    return 1 + (_allowance(build, "small-things", system) or 0.0) / 100


def _discovery_percent(build: Build, system: str | None, default: float) -> float:
    stated = _allowance(build, "discovery", system)
    return default if stated is None else stated


def strip_is_finished(build: Build, facts: Facts, system: str | None) -> bool:
    """Whether the strip is over: of the system where it has strip jobs of its own, else of the whole vehicle."""
    strip = [job for job in build.jobs if job.phase is Phase.STRIP]
    own = [job for job in strip if job.system == system and system is not None]
    return all(facts.is_done(job.id) for job in own or strip)


def _default_discovery(build: Build, facts: Facts, system: str | None, spreads: Spreads) -> float:
    after = strip_is_finished(build, facts, system)
    return spreads.discovery_after_percent if after else spreads.discovery_before_percent


def _discovery(
    build: Build, facts: Facts, system: str | None, runs: int, seed: int, spreads: Spreads
) -> npt.NDArray[np.float64]:
    """Share of hours found on the way in each run, one draw for all jobs of a system."""
    share = _discovery_percent(build, system, _default_discovery(build, facts, system, spreads)) / 100
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
    passed = _triangular_share(points, worked / factor)
    left = triangular(points, passed + uniform * (1 - passed)) * factor - np.float32(worked)
    least = np.float32(LEAST_SHARE_LEFT * points.likely) * factor
    hours: Floats32 = np.maximum(left, least).astype(np.float32)
    return hours


def _triangular_share(points: ThreePoint, value: Floats32) -> Floats32:
    """Share of a triangular distribution below a value."""
    low, likely, high = points.low, points.likely, points.high
    if high <= low:
        return np.zeros_like(value)
    x = np.clip(value, low, high)
    rising = (x - low) ** 2 / ((high - low) * max(likely - low, 1e-12))
    falling = 1 - (high - x) ** 2 / ((high - low) * max(high - likely, 1e-12))
    shares: Floats32 = np.clip(np.where(x < likely, rising, falling), 0, 1).astype(np.float32)
    return shares


def _shop_weeks(build: Build, job: Job, seed: int, runs: int) -> Floats32:
    shop = build.find("workshops", job.workshop or "")
    queue = triangular(shop.queue_weeks or SHOP_QUEUE, stream(seed, "queue", job.id).random(runs, dtype=np.float32))
    work = triangular(shop.work_weeks or SHOP_WORK, stream(seed, "shop", job.id).random(runs, dtype=np.float32))
    weeks: Floats32 = queue + work
    return weeks


def expected_hours_left(job: Job, facts: Facts) -> float:
    """Mean hours left of a job by its own estimate, without the factors of a run [h]."""
    state = facts.jobs.get(job.id)
    if state is not None and state.hours_left is not None:
        return state.hours_left
    worked = state.hours_worked if state is not None else 0.0
    return max(job.hours.mean - worked, LEAST_SHARE_LEFT * job.hours.likely)


def mean_shop_weeks(build: Build, job: Job, spreads: Spreads) -> float:
    """Likely weeks at the shop, slippage included; 0 for work done at home."""
    if job.workshop is None:
        return 0.0
    shop = build.find("workshops", job.workshop)
    return spreads.craft_median * ((shop.queue_weeks or SHOP_QUEUE).mean + (shop.work_weeks or SHOP_WORK).mean)


def _discovery_assumptions(
    build: Build, facts: Facts, jobs: Mapping[str, Job], spreads: Spreads
) -> tuple[Assumption, ...]:
    found = []
    for system in _systems(jobs):
        if _allowance(build, "discovery", system) is not None:
            continue
        percent = _default_discovery(build, facts, system, spreads)
        stage = "once the strip is done" if strip_is_finished(build, facts, system) else "before the strip is done"
        text = (
            f"{percent:g} % more hours are found on the way {stage} (common practice), one draw a run for all its "
            f"jobs, gamma-distributed with shape {spreads.discovery_shape:g} (own estimate)"
        )
        found.append(Assumption("discovery-default", system or "jobs without a system", text))
    return tuple(found)


def _shop_assumptions(build: Build, shops: list[Job], spreads: Spreads) -> tuple[Assumption, ...]:
    if not shops:
        return ()
    slip = (
        f"outside shops take {spreads.craft_median:g} times what they say (common practice), one factor a run for all "
        f"with a log standard deviation of {spreads.craft_log_sd:g} (own estimate); the owner's part comes first, the "
        "shop's queue begins when the work reaches it"
    )
    found = [Assumption("shop-slippage", "build", slip)]
    for name in sorted({job.workshop for job in shops if job.workshop is not None}):
        shop = build.find("workshops", name)
        for label, points in (("queue", shop.queue_weeks), ("work", shop.work_weeks)):
            if points is None:
                found.append(
                    Assumption("shop-time-default", name, f"its {label} takes 1, 2 or 4 weeks (common practice)")
                )
    return tuple(found)


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
