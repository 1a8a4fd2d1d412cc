"""What a schedule says: weeks, jobs, stalls, changes; all of it plain data, so that it can be kept as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from ..build import Assumption
from .model import CauseKind

LEAST_GAP_DAYS: Final = 0.05

OpenerKind = CauseKind | Literal["after", "hands", "place"]


@dataclass(frozen=True, slots=True)
class Opener:
    """What let a job begin no sooner.

    Parameters
    ----------
    kind : "hands": the hands were at another job; "after": another job had to be done; "job": a day set for it;
        "place": bay, lift or a part sent away was taken
    id : of the part, decision, interface or workshop, else of the job
    day : the day it opened
    """

    kind: OpenerKind
    id: str
    day: date


@dataclass(frozen=True, slots=True)
class PlannedJob:
    """When a job is to be done.

    Parameters
    ----------
    hours : of the owner's own that are left [h]
    first, last : the days own work begins and ends; done : the day it is done, back from the shop if it was sent
    opener : what let it begin no sooner; None if it can begin today
    resumed : the same for the last stretch of it that was put off, if one was
    """

    job: str
    hours: float
    first: date
    last: date
    done: date
    opener: Opener | None
    resumed: Opener | None = None


@dataclass(frozen=True, slots=True)
class WeekJob:
    """Hours of a week for one job [h]."""

    job: str
    hours: float
    begins: bool
    ends: bool


@dataclass(frozen=True, slots=True)
class Stall:
    """Hours with nothing to do, and what they wait for.

    Parameters
    ----------
    first, last : days; hours : of the owner's in between [h]
    waiting : the job that can't begin; "" after the last one
    """

    first: date
    last: date
    hours: float
    waiting: str
    opener: Opener
    text: str


@dataclass(frozen=True, slots=True)
class Week:
    """What to do in a week, or in several one after the other that are alike.

    Parameters
    ----------
    first, last : its days
    hours : the owner has [h]; stalled : with nothing to do [h]
    jobs : in order; text : the same in sentences
    """

    first: date
    last: date
    hours: float
    stalled: float
    jobs: tuple[WeekJob, ...]
    text: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ScheduleChange:
    """A job that moved, and why."""

    job: str
    was: date | None
    now: date | None
    text: str


@dataclass(frozen=True, slots=True)
class Fault:
    """One of the things that can't all be kept, and what can be done about it."""

    what: str
    do: str


@dataclass(frozen=True, slots=True)
class WorkSchedule:
    """Week by week what to do.

    Parameters
    ----------
    finish : the day all is done and cured; None if no schedule exists
    gap_days : no other order of the work is better by the worth of more than so many days of finish
    ended : what ended the search: "proven", "effort", "clock" or "stopped"
    stalled_hours : hours with nothing to do until the finish [h]
    opens : the days outside things open, by kind and id, as "part bell-housing"
    starts : the day each stretch of a job begins, in order
    given_up : latest moments that could not be kept, with what that costs, in sentences
    faults : a smallest set that can't all be kept, where no schedule exists
    changes : jobs that moved since `baseline`
    """

    as_of: date
    revision: int
    finish: date | None
    gap_days: float
    ended: str
    stalled_hours: float
    weeks: tuple[Week, ...] = ()
    jobs: tuple[PlannedJob, ...] = ()
    stalls: tuple[Stall, ...] = ()
    opens: dict[str, date] | None = None
    starts: dict[str, date] | None = None
    given_up: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()
    smallest: bool = True
    baseline: date | None = None
    changes: tuple[ScheduleChange, ...] = ()
    assumptions: tuple[Assumption, ...] = ()

    @property
    def bound_words(self) -> str:
        """How good it is proven to be."""
        if self.gap_days < LEAST_GAP_DAYS:
            return "No order of the work is better: that is proven."
        cut = {"proven": "", "effort": " in its time", "clock": " in its time", "stopped": " before it was stopped"}
        days = "one day" if self.gap_days <= 1 else f"{self.gap_days:.0f} days"
        return f"The search proved{cut[self.ended]} that no order of the work gains more than {days} of finish."
