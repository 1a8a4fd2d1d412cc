"""Where parts meet: interfaces, dimensions, readings, conditions."""

from __future__ import annotations

import re
from datetime import date
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints, field_validator, model_validator

from .base import DimensionId, Id, Note, NotNegative, Noun, Number, Share, Text, ThreePoint
from .designations import Family
from .interface_kinds import known_kind
from .parts import Hazard
from .units import parse_unit

_DIMENSION_ID = re.compile(r"[a-z][a-z0-9_]*")


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
    "dial-gauge",
    "angle-finder",
    "plumb-line",
    "straight-edge",
    "laser",
    "template",
    "scan",
    "feeler",
    "scale",
    "thread-gauge",
    "other",
]
Material = Literal[
    "steel", "stainless", "cast-iron", "aluminium", "brass", "copper", "titanium", "magnesium", "plastic", "rubber"
]  # fmt: skip


class Dimension(Noun):
    """A number with a unit that fit depends on; or a standard designation, such as a thread's.

    Parameters
    ----------
    designates : the family of designations it takes instead of a number
    foundation : on the foundation sheet: most else rests on it
    provision : the owner will make it while its counterpart is unknown
    too_little_cost, too_much_cost : of a provision made too small, or too large, in home currency
    part : the part it belongs to, if it belongs to one
    minutes : how long it takes to measure [min]; job : the job that makes it measurable
    tools : what measuring it takes; instrument : the one to take it with
    material, runs_at_c : what it is made of and how hot it gets in use [°C]; readings are taken as of 20 °C
    """

    id: DimensionId
    name: Text
    unit: str = "mm"
    designates: Family | None = None
    foundation: bool = False
    provision: bool = False
    too_little_cost: NotNegative | None = None
    too_much_cost: NotNegative | None = None
    part: Id | None = None
    minutes: NotNegative = 20
    job: Id | None = None
    tools: tuple[Text, ...] = ()
    instrument: Instrument | None = None
    material: Material | None = None
    runs_at_c: Annotated[Number, Field(ge=-80, le=1200)] | None = None
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
    designation : instead of a value, where the dimension designates, such as "M10x1.25"
    against : the state of the vehicle it was taken against; the reading goes stale when that changes
    photo : name of an attachment
    """

    id: Id
    dimension: DimensionId
    value: Annotated[Number, Field(ge=-1e12, le=1e12)] | None = None
    designation: Annotated[str, StringConstraints(strip_whitespace=True, max_length=60)] = ""
    spread: NotNegative | None = None
    spread_means: SpreadMeaning = SpreadMeaning.LIMITS
    provenance: Provenance = Provenance.MEASURED
    instrument: Instrument | None = None
    against: Id | None = None
    day: date
    photo: str = ""
    note: Note = ""

    @model_validator(mode="after")
    def _one_figure(self) -> Reading:
        if (self.value is None) == (not self.designation):
            raise ValueError("a reading has a value, or a designation where its dimension takes one")
        return self


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
    kind : what meets what, a word of `interface_kinds`; conditions that usually hold there go by it
    settle_by : the job before which it must be settled
    closed_by : the job that covers it, after which it can't be seen
    """

    id: Id
    name: Text
    kind: Annotated[str, AfterValidator(known_kind)] | None = None
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
    kind : clearance, range, angle: arithmetic within limits; match: arithmetic, or two designations that mate;
        dry-run: in and out with tools, recorded when it was seen on the vehicle and never computed
    expression : arithmetic over dimension ids, e.g. "arch_height - tyre_radius - bump_travel"
    at_least, at_most : limits, each a number with unit or arithmetic over dimensions, e.g. "15 mm"
    mates : of a match, what goes in and what it goes into: a dimension that designates, or a designation
    hot : judged with every dimension that names its material and heat grown to it
    tools : what must get in as well
    late_hours, late_cost : rework if the misfit is found late; early_hours, early_cost : putting it right now
    """

    id: Id
    interface: Id
    name: Text
    kind: Literal["clearance", "range", "angle", "match", "dry-run"] = "clearance"
    expression: Annotated[str, StringConstraints(strip_whitespace=True, max_length=400)] = ""
    at_least: str | None = None
    at_most: str | None = None
    mates: tuple[Text, Text] | None = None
    hot: bool = False
    tools: tuple[Text, ...] = ()
    consequence: Consequence = Consequence.REWORK
    late_hours: ThreePoint | None = None
    late_cost: NotNegative = 0
    early_hours: NotNegative = 0
    early_cost: NotNegative = 0
    source: str = ""
    note: Note = ""

    @property
    def names(self) -> frozenset[str]:
        """Ids of the dimensions it rests on; raises ExpressionError."""
        from .expression import names_in  # it brings numpy, which the nouns do without

        texts = (text for text in (self.expression, self.at_least, self.at_most) if text)
        return frozenset().union(*(names_in(text) for text in texts), filter(is_dimension_id, self.mates or ()))


def is_dimension_id(text: str) -> bool:
    """Whether one of two mates is the id of a dimension, not a designation."""
    return _DIMENSION_ID.fullmatch(text) is not None


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
    """An interface, or one of its conditions, seen to be right (or not) on the vehicle, with or without numbers."""

    interface: Id
    condition: Id | None = None
    day: date
    good: bool = True
    by: Text
    photo: str = ""
    chance_right: Share = 1.0
