"""Where parts meet: interfaces, dimensions, readings, conditions."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Literal

from pydantic import Field, field_validator

from .base import DimensionId, Id, Note, NotNegative, Noun, Number, Share, Text, ThreePoint
from .parts import Hazard
from .units import parse_unit


class VehicleState(Noun):
    """Something about the vehicle that readings are taken against, e.g. "on its springs, old engine in"."""

    id: Id
    name: Text
    note: Note = ""


class SpreadMeaning(StrEnum):
    """What "± 2" says."""

    LIMITS = "limits"
    LIMITS_TRIANGULAR = "limits-triangular"
    STANDARD_DEVIATION = "standard-deviation"
    EXPANDED = "expanded-k2"


class Provenance(StrEnum):
    """Where a figure comes from, most trusted first."""

    MEASURED = "measured"
    STAND_IN = "stand-in"
    SUPPLIER = "supplier"
    DRAWING = "drawing"
    CATALOGUE = "catalogue"
    OTHER_BUILDER = "other-builder"
    ESTIMATE = "estimate"


Instrument = Literal[
    "tape",
    "rule",
    "caliper",
    "micrometer",
    "angle-finder",
    "plumb-line",
    "straight-edge",
    "laser",
    "template",
    "scan",
    "feeler",
    "scale",
    "other",
]


class Dimension(Noun):
    """A number with a unit that fit depends on.

    Parameters
    ----------
    foundation : on the foundation sheet: most else rests on it
    provision : the owner will make it while its counterpart is unknown
    part : the part it belongs to, if it belongs to one
    minutes : how long it takes to measure [min]; job : the job that makes it measurable
    tools : what measuring it takes
    """

    id: DimensionId
    name: Text
    unit: str = "mm"
    foundation: bool = False
    provision: bool = False
    part: Id | None = None
    minutes: NotNegative = 20
    job: Id | None = None
    tools: tuple[Text, ...] = ()
    how: Note = ""

    @field_validator("unit")
    @classmethod
    def _known_unit(cls, unit: str) -> str:
        parse_unit(unit)
        return unit


class Reading(Noun):
    """One value of a dimension, by one means, on one day.

    Parameters
    ----------
    value : in the dimension's unit; spread : half-width or standard deviation in the same unit, as `spread_means` says
    against : the state of the vehicle it was taken against; the reading goes stale when that changes
    photo : name of an attachment
    """

    id: Id
    dimension: DimensionId
    value: Number
    spread: NotNegative | None = None
    spread_means: SpreadMeaning = SpreadMeaning.LIMITS
    provenance: Provenance = Provenance.MEASURED
    instrument: Instrument | None = None
    against: Id | None = None
    day: date
    photo: str = ""
    note: Note = ""


class Correlation(Noun):
    """Two dimensions that err together."""

    first: DimensionId
    second: DimensionId
    coefficient: float = Field(ge=-1, le=1)


class Consequence(StrEnum):
    """What a misfit found late means."""

    INCONVENIENCE = "inconvenience"
    REWORK = "rework"
    HIDDEN = "hidden"
    HAZARD = "hazard"


class Interface(Noun):
    """A place where parts meet.

    Parameters
    ----------
    settle_by : the job before which it must be settled
    closed_by : the job that covers it, after which it can't be seen
    """

    id: Id
    name: Text
    systems: tuple[Id, ...] = ()
    parts: tuple[Id, ...] = ()
    settle_by: Id | None = None
    closed_by: Id | None = None
    stand_in: Id | None = None
    hazards: tuple[Hazard, ...] = ()
    if_wrong: Note = ""
    check: Note = ""


class Condition(Noun):
    """What must hold at an interface.

    Parameters
    ----------
    expression : arithmetic over dimension ids, e.g. "arch_height - tyre_radius - bump_travel"
    at_least, at_most : limits, each a number with unit or arithmetic over dimensions, e.g. "15 mm"
    late_hours, late_cost : rework if the misfit is found late; early_hours, early_cost : putting it right now
    """

    id: Id
    interface: Id
    name: Text
    kind: Literal["clearance", "range", "angle", "match"] = "clearance"
    expression: Text
    at_least: str | None = None
    at_most: str | None = None
    consequence: Consequence = Consequence.REWORK
    late_hours: ThreePoint | None = None
    late_cost: NotNegative = 0
    early_hours: NotNegative = 0
    early_cost: NotNegative = 0
    source: str = ""
    note: Note = ""


class StandIn(Noun):
    """A cheap, borrowed or home-made substitute that settles dimensions in mock-up."""

    id: Id
    name: Text
    dimensions: tuple[DimensionId, ...]
    hours: NotNegative = 1
    cost: NotNegative = 0
    spread: NotNegative | None = None
    note: Note = ""


class Settled(Noun):
    """An interface seen to be right (or not) on the vehicle, with or without numbers."""

    interface: Id
    day: date
    good: bool = True
    by: Text
    photo: str = ""
    chance_right: Share = 1.0
