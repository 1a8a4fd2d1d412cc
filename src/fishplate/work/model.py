"""Inputs and results of the work engine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from ..build import Assumption, Problem

FloatArray = npt.NDArray[np.floating]

CauseKind = Literal["part", "decision", "interface", "workshop", "season", "cure", "job", "helper", "bay"]


class Precedence(NamedTuple):
    """One job waits for another; `lag` in the unit of the durations."""

    before: str
    after: str
    kind: str = "finish-start"
    lag: float = 0.0


@dataclass(frozen=True, slots=True)
class CriticalPath:
    """Earliest and latest start and finish, slack, and what is critical.

    Parameters
    ----------
    es, ef, ls, lf, slack : by job, in the unit of the durations
    critical : every job without slack, in order of start
    duration : of the whole
    chain : one longest chain of jobs
    """

    es: Mapping[str, float]
    ef: Mapping[str, float]
    ls: Mapping[str, float]
    lf: Mapping[str, float]
    slack: Mapping[str, float]
    critical: tuple[str, ...]
    duration: float
    chain: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Spreads:
    """How widely the shared factors of a run spread. The defaults are common practice or our own estimate.

    Parameters
    ----------
    pace_log_sd : of the owner's pace, one factor a run on all hours
    craft_median, craft_log_sd : of outside shops' slippage, one factor a run on all their times
    discovery_before_percent, discovery_after_percent : hours found on the way, before and after the strip is done [%]
    discovery_shape : of the gamma distribution by which a system's discovery varies round its mean; 0: not at all
    """

    pace_log_sd: float = 0.2
    craft_median: float = 2.0
    craft_log_sd: float = 0.3
    discovery_before_percent: float = 30.0
    discovery_after_percent: float = 15.0
    discovery_shape: float = 2.0


@dataclass(frozen=True, slots=True)
class Gates:
    """The moment each thing outside the jobs opens, in weeks since as_of: one number, or one for each run.

    A missing key is open already; `inf` never opens within the horizon.

    Parameters
    ----------
    misfits : by interface, the chance that it proves wrong when it is verified on the vehicle; missing: it does not
    """

    parts: Mapping[str, float | FloatArray] = field(default_factory=dict)
    decisions: Mapping[str, float | FloatArray] = field(default_factory=dict)
    interfaces: Mapping[str, float | FloatArray] = field(default_factory=dict)
    jobs: Mapping[str, float | FloatArray] = field(default_factory=dict)
    misfits: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StallCause:
    """What kept the owner waiting: the last thing to open, and the expected hours it cost [h].

    `id` is that of the part, decision, interface or workshop; for a season, a second person or a held job, of the job
    that waits; for a cure or the bay, of the job that has to cure.

    Parameters
    ----------
    days : calendar days these hours are, at the month's hours a day
    """

    kind: CauseKind
    id: str
    hours: float
    days: float = 0.0


@dataclass(frozen=True, slots=True)
class StallMonth:
    """Owner hours of a month that no ready job could absorb.

    Parameters
    ----------
    month : as "2027-01"
    chance : that more than half of the month's hours are stalled
    hours : expected stalled hours [h]
    causes : most hours first
    """

    month: str
    chance: float
    hours: float
    causes: tuple[StallCause, ...]


@dataclass(frozen=True, slots=True)
class ReadyJob:
    """A job that can be worked today.

    Parameters
    ----------
    hours_left : likely hours to its end, or to the stop point where a part is missing [h]
    until : the stop point's name or missing parts, where it can't be finished now; else empty
    unlocks : jobs that wait for this one
    cautions : what to heed before starting
    text : a sentence
    """

    job: str
    hours_left: float
    unlocks: tuple[str, ...]
    tools: tuple[str, ...]
    second_person: bool
    text: str
    until: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """A shop that was given work, and the day to take it elsewhere if it has not begun.

    Parameters
    ----------
    chance : that it has not begun by then
    """

    workshop: str
    jobs: tuple[str, ...]
    chance: float
    text: str


@dataclass(frozen=True, slots=True)
class WorkReport:
    """What the simulated runs came to. Moments are weeks since as_of; inf where not reached within the horizon.

    Parameters
    ----------
    finish_weeks : when the last job is done and cured (runs,)
    need_weeks : by part, when it is first needed (runs,)
    starts, ends : by job (runs,)
    critical : one longest chain of jobs by links and likely hours alone
    slack_weeks : by job, how much it can slip by links alone
    criticality : by job, share of runs in which it is on the chain that sets the finish
    decided_by : share of runs in which that chain begins with waiting for this outside thing
    unfinished_share : share of runs not finished within the horizon
    withdrawals : shops that were given work with a day to take it elsewhere
    never : jobs that start in no run, and why
    """

    finish_weeks: FloatArray
    need_weeks: Mapping[str, FloatArray]
    starts: Mapping[str, FloatArray]
    ends: Mapping[str, FloatArray]
    stalls: tuple[StallMonth, ...]
    ready: tuple[ReadyJob, ...]
    critical: tuple[str, ...]
    slack_weeks: Mapping[str, float]
    criticality: Mapping[str, float]
    decided_by: Mapping[tuple[CauseKind, str], float]
    unfinished_share: float
    horizon_weeks: int
    never: tuple[Problem, ...]
    assumptions: tuple[Assumption, ...]
    withdrawals: tuple[Withdrawal, ...] = ()

    @property
    def causes(self) -> tuple[StallCause, ...]:
        """What the build stands still for over all months, most expected days first."""
        hours: dict[tuple[CauseKind, str], float] = {}
        days: dict[tuple[CauseKind, str], float] = {}
        for cause in (cause for month in self.stalls for cause in month.causes):
            key = cause.kind, cause.id
            hours[key] = hours.get(key, 0.0) + cause.hours
            days[key] = days.get(key, 0.0) + cause.days
        found = [StallCause(kind, id_, hours[kind, id_], days[kind, id_]) for kind, id_ in hours]
        return tuple(sorted(found, key=lambda cause: (-cause.days, -cause.hours, cause.kind, cause.id)))

    def quantile(self, p: float) -> float:
        """Moment by which a share p of the runs has finished [weeks]; inf if that lies beyond the horizon.

        Raises
        ------
        ValueError
            if p is not between 0 and 1
        """
        if not 0 <= p <= 1:
            raise ValueError("a quantile lies between 0 and 1")
        return float(np.quantile(self.finish_weeks, p, method="inverted_cdf"))

    @property
    def mean_weeks(self) -> float:
        """Mean finish [weeks], unfinished runs counted at the horizon: a lower bound where there are any."""
        return float(np.minimum(self.finish_weeks, self.horizon_weeks).mean())

    @property
    def stalled_hours(self) -> float:
        """Expected stalled hours over the whole build [h]."""
        return sum(month.hours for month in self.stalls)
