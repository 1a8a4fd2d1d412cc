"""Work at the vehicle: jobs, links, stop points, gates, allowances."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field, model_validator

from .base import Id, Note, NotNegative, Noun, Number, Percent, Share, Text, ThreePoint
from .owner import Month
from .parts import Hazard, Phase

GateKind: TypeAlias = Literal["re-plan", "dry-build", "last-welds", "tacked"]


class Link(Noun):
    """What comes before a job.

    Parameters
    ----------
    job : the earlier job
    kind : "finish-start": after it is done; "start-start": after it has begun
    lag_days : days to wait in between, e.g. for curing [days]
    within_days : days after that same moment by which this job must have begun, its cure counted in, e.g. until when a
        coat takes the next one; None: any time [days]
    redo_hours : hours this job takes more if it begins later, e.g. to rub down [h]
    """

    job: Id
    kind: Literal["finish-start", "start-start"] = "finish-start"
    lag_days: NotNegative = 0
    within_days: NotNegative | None = None
    redo_hours: NotNegative = 0

    @model_validator(mode="after")
    def _open_at_all(self) -> Link:
        if self.within_days is not None and self.within_days < self.lag_days:
            raise ValueError("it must begin within fewer days than it has to wait")
        return self


class StopPoint(Noun):
    """How far a job can go without some parts: `share` of its hours."""

    share: Share
    without: tuple[Id, ...]
    name: str = ""


class Job(Noun):
    """Work at the vehicle.

    Parameters
    ----------
    hours : hands-on hours for the whole job [h]; for work sent out, the owner's part of it
    to_try, to_keep : parts needed for mock-up, and for final fitting
    works_on : parts it has in hands or sends away, which no other job can use meanwhile
    decisions, interfaces : decisions that must be taken, interfaces that must fit, before it starts
    months : months of the year in which it can be done; empty for any
    cure_days : time after the work before the next job can start [days]
    workshop : the outside shop that does it; `cost` is its price in home currency
    bay, lift : it takes the garage's bay, a lift, from its start until it has cured
    second_person : it can only be worked with a second person at hand
    setting_up_minutes : to lay out and clear away each time it is taken up again after a rest; the first time is in
        its hours [min]
    loud : whether it can be heard next door; None: not said, and taken as loud if it welds
    dry : whether it needs a dry evening; None: not said, and taken as needed if it paints
    least_c : the least warmth it needs [°C]; None: not said, and taken as 10 if it paints
    settles : interfaces it verifies on the vehicle; closes : interfaces it covers up
    rework : hours to put right what it verifies, if that proves wrong [h]
    changes : states of the vehicle that readings were taken against and that it changes
    dropped : it is not to be done; what was worked on it stays on record
    releases_delay : the job counts as useful work although nothing waits for it
    """

    id: Id
    name: Text
    phase: Phase
    system: Id | None = None
    hours: ThreePoint
    after: tuple[Link, ...] = ()
    to_try: tuple[Id, ...] = ()
    to_keep: tuple[Id, ...] = ()
    works_on: tuple[Id, ...] = ()
    decisions: tuple[Id, ...] = ()
    interfaces: tuple[Id, ...] = ()
    stop_points: tuple[StopPoint, ...] = ()
    months: tuple[Month, ...] = ()
    cure_days: NotNegative = 0
    workshop: Id | None = None
    cost: NotNegative = 0
    tools: tuple[Text, ...] = ()
    bay: bool = False
    lift: bool = False
    second_person: bool = False
    setting_up_minutes: NotNegative = 0
    loud: bool | None = None
    dry: bool | None = None
    least_c: Annotated[Number, Field(ge=-60, le=60)] | None = None
    settles: tuple[Id, ...] = ()
    rework: ThreePoint | None = None
    closes: tuple[Id, ...] = ()
    changes: tuple[Id, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    note: Note = ""
    dropped: bool = False


class Gate(Noun):
    """A point where the build stops and looks before it goes on.

    Parameters
    ----------
    after : jobs that must be done; interfaces : verdicts that must hold; before : jobs that wait for it
    """

    id: Id
    name: Text
    kind: GateKind
    after: tuple[Id, ...] = ()
    interfaces: tuple[Id, ...] = ()
    before: tuple[Id, ...] = ()


class Allowance(Noun):
    """Hours and money set aside for what is not listed, by system or for the whole build.

    Parameters
    ----------
    hours_percent, money_percent : on top of the listed jobs and parts [%]
    after_strip_percent : of discovery, what is left of hours_percent once the strip is done; None: as much [%]
    """

    id: Id
    kind: Literal["small-things", "discovery"]
    system: Id | None = None
    hours_percent: Percent = Field(default=0)
    money_percent: Percent = Field(default=0)
    after_strip_percent: Percent | None = None
    note: Note = ""


class Release(Noun):
    """An order that can't go back is held until these exist and are not stale.

    Parameters
    ----------
    part or offer : what is held
    dimensions, interfaces, decisions : what must be known, fit and be decided
    """

    id: Id
    part: Id | None = None
    offer: Id | None = None
    dimensions: tuple[Id, ...] = ()
    interfaces: tuple[Id, ...] = ()
    decisions: tuple[Id, ...] = ()
    note: Note = ""

    @model_validator(mode="after")
    def _one_thing(self) -> Release:
        if (self.part is None) == (self.offer is None):
            raise ValueError("a release holds one part or one offer")
        return self
