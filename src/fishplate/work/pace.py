"""The owner's pace, learnt from logged hours and shared by all jobs."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..build import Assumption, Build, Facts
from ..build.jobs import Job
from ..build.parts import Phase
from .allowances import discovery_percent, small_things
from .chance import triangular
from .model import Spreads

# A job's own luck beside the shared pace, so wide that five done jobs weigh as much as what was thought before.
JOBS_WORTH_THE_PRIOR = 5.0
_QUANTILES = ((np.arange(256) + 0.5) / 256).astype(np.float32)


@dataclass(frozen=True, slots=True)
class Pace:
    """How long things take against their estimates, as a lognormal factor.

    Parameters
    ----------
    median, log_sd : of the factor
    jobs : done jobs it was learnt from
    """

    median: float
    log_sd: float
    jobs: int
    assumptions: tuple[Assumption, ...]


def pace_of(build: Build, facts: Facts, spreads: Spreads) -> Pace:
    """The owner's pace from the hours of done jobs, drawn towards the estimates.

    Notes
    -----
    The log pace m is normal with mean 0 and standard deviation t (`spreads.pace_log_sd`); the log of a done job's hours
    over its estimate is normal about m + e with variance 5 t^2 + v, where e and v are mean and variance of the log of
    its own triangular distribution. The posterior of m is normal (known variances, conjugate: Gelman et al., Bayesian
    Data Analysis, 2.5). That five jobs weigh as much as the prior is our own choice.
    """
    prior = spreads.pace_log_sd or Spreads().pace_log_sd
    done = [job for job in build.jobs if facts.is_done(job.id) and facts.jobs[job.id].hours_worked > 0]
    seen = [item for item in (_log_ratio(build, facts, job, spreads) for job in done) if item is not None]
    if not seen:
        text = (
            "the owner's pace is taken as estimated, and varies from run to run with a log standard deviation of "
            f"{spreads.pace_log_sd:g}, the same for all jobs (own estimate)"
        )
        return Pace(1.0, spreads.pace_log_sd, 0, (Assumption("pace-default", "build", text),))
    weights = [1 / (JOBS_WORTH_THE_PRIOR * prior**2 + variance) for _, variance in seen]
    precision = 1 / prior**2 + sum(weights)
    median = math.exp(sum(w * ratio for w, (ratio, _) in zip(weights, seen, strict=True)) / precision)
    log_sd = spreads.pace_log_sd * math.sqrt(1 / prior**2 / precision)
    logged = sum(facts.jobs[job.id].hours_worked for job in done)
    jobs = "1 done job" if len(seen) == 1 else f"{len(seen)} done jobs"
    text = (
        f"the owner's pace is {median:.2f} times the estimates, learnt from {jobs} ({logged:.0f} h logged) and weighed "
        f"as if five more had gone as estimated; it varies from run to run with a log standard deviation of "
        f"{log_sd:.2g}, the same for all jobs"
    )
    return Pace(median, log_sd, len(seen), (Assumption("pace-learnt", "build", text),))


def _log_ratio(build: Build, facts: Facts, job: Job, spreads: Spreads) -> tuple[float, float] | None:
    """Log of logged hours over those estimated, and the variance the estimate itself gives it."""
    if job.hours.likely <= 0:
        return None
    found = discovery_percent(build, facts, job.system, spreads.discovery_after_percent) / 100
    factor = small_things(build, job.system) * (1.0 if job.phase is Phase.DEFINE else 1 + found)
    logs = np.log(np.maximum(triangular(job.hours, _QUANTILES), 1e-3 * job.hours.likely).astype(np.float64))
    ratio = math.log(facts.jobs[job.id].hours_worked / factor) - float(logs.mean())
    return ratio, float(logs.var())
