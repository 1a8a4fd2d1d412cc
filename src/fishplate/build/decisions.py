"""What must be chosen: decisions, options, edges between them."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Annotated

from pydantic import Field, StringConstraints, model_validator

from .base import DimensionId, Id, Note, NotNegative, Noun, Number, Text, ThreePoint
from .interfaces import Provenance, SpreadMeaning


class Strength(StrEnum):
    """How strongly one decision bears on another."""

    FIXES = "fixes"
    LIMITS = "limits"
    NUDGES = "nudges"


class Given(Noun):
    """What a dimension is if an option is chosen.

    It stands in place of readings, but for own ones taken since the option was decided for.

    Parameters
    ----------
    value : in the dimension's unit; spread : in the same unit, as `spread_means` says
    designation : instead of a value, where the dimension designates
    """

    dimension: DimensionId
    value: Annotated[Number, Field(ge=-1e12, le=1e12)] | None = None
    designation: Annotated[str, StringConstraints(strip_whitespace=True, max_length=60)] = ""
    spread: NotNegative | None = None
    spread_means: SpreadMeaning = SpreadMeaning.LIMITS
    provenance: Provenance = Provenance.CATALOGUE

    @model_validator(mode="after")
    def _one_figure(self) -> Given:
        if (self.value is None) == (not self.designation):
            raise ValueError("it gives a value, or a designation where the dimension takes one")
        return self


class Score(Noun):
    """How good an option is by one criterion, low, likely, high, on the scale the decision states for it."""

    criterion: Id
    points: ThreePoint
    note: Note = ""


class Option(Noun):
    """One way a decision can go, and what it brings.

    Parameters
    ----------
    parts, jobs, conditions : needed only if this option is chosen
    dimensions : what they are if it is chosen
    score : how much the owner likes it on the whole, 0 to 100, where scored
    scores : the same by criterion, which counts for more
    """

    id: Id
    name: Text
    parts: tuple[Id, ...] = ()
    jobs: tuple[Id, ...] = ()
    conditions: tuple[Id, ...] = ()
    dimensions: tuple[Given, ...] = ()
    score: NotNegative | None = None
    scores: tuple[Score, ...] = ()
    note: Note = ""

    @model_validator(mode="after")
    def _once(self) -> Option:
        for what, ids in (
            ("dimension is given", [item.dimension for item in self.dimensions]),
            ("criterion is scored", [item.criterion for item in self.scores]),
        ):
            if len(set(ids)) != len(ids):
                raise ValueError(f"a {what} twice")
        return self


class Swing(Noun):
    """How much it matters, in one decision, to go from the worst to the best of a criterion.

    Parameters
    ----------
    worst, best : ends of the scale; best may be the lower one, as with money
    compared : how much the swing matters compared with the one before it [percent]; None: no more than that one
    """

    criterion: Id
    worst: Number = 0
    best: Number = 100
    compared: ThreePoint | None = None

    @model_validator(mode="after")
    def _scale(self) -> Swing:
        if self.worst == self.best:
            raise ValueError("the worst and the best are the same")
        if self.compared is not None and self.compared.high > 100:
            raise ValueError("it can't matter more than the one before it; change their order")
        return self


class Decision(Noun):
    """A choice to be made.

    Parameters
    ----------
    options : at least one; leading : the option planned with until it is decided
    chosen, chosen_on : the option taken and the day
    freeze_by : the job before which it must be settled
    think_weeks : time from sitting down to being decided: enquiries, sleeping on it [weeks]
    late_hours : extra work if changed after it was frozen [h]
    swings : what matters in it, what matters most first
    importance : how much going from its worst to its best option matters, beside other decisions
    """

    id: Id
    name: Text
    options: tuple[Option, ...]
    leading: Id | None = None
    chosen: Id | None = None
    chosen_on: date | None = None
    why: Note = ""
    freeze_by: Id | None = None
    think_weeks: NotNegative = 1
    late_hours: ThreePoint | None = None
    swings: tuple[Swing, ...] = ()
    importance: NotNegative = 1
    note: Note = ""

    @model_validator(mode="after")
    def _swings_differ(self) -> Decision:
        criteria = [swing.criterion for swing in self.swings]
        if len(set(criteria)) != len(criteria):
            raise ValueError("a criterion is weighed twice")
        return self

    @model_validator(mode="after")
    def _options_exist(self) -> Decision:
        ids = [option.id for option in self.options]
        if not ids:
            raise ValueError("a decision has at least one option")
        if len(set(ids)) != len(ids):
            raise ValueError("two options have the same id")
        for label, option in (("leading", self.leading), ("chosen", self.chosen)):
            if option is not None and option not in ids:
                raise ValueError(f"the {label} option {option!r} is not among its options")
        return self

    def option(self, id_: str) -> Option:
        """The option with this id; raises KeyError."""
        for option in self.options:
            if option.id == id_:
                return option
        raise KeyError(id_)


class Edge(Noun):
    """One decision bears on another."""

    source: Id
    target: Id
    strength: Strength
    why: Note = ""


class Rule(Noun):
    """An option, alone or together with others, requires or excludes another.

    Parameters
    ----------
    also : options that have to be taken too before the rule applies
    """

    option: Id
    also: tuple[Id, ...] = ()
    requires: Id | None = None
    excludes: Id | None = None
    why: Note = ""

    @property
    def options(self) -> tuple[str, ...]:
        """Every option it applies to, taken together."""
        return (self.option, *self.also)


class Measure(StrEnum):
    """What the plan measures of an option, so that nobody has to type it."""

    MONEY = "money"
    HOURS = "hours"
    FINISH = "finish"


class Criterion(Noun):
    """What matters to the owner.

    Parameters
    ----------
    weight : how much, where a decision does not say; unit : of its scores, points out of 100 if empty
    measured : taken from the plan instead of scored: money at the door, own hours, weeks until it is finished
    """

    id: Id
    name: Text
    weight: NotNegative = 1
    unit: Annotated[str, StringConstraints(strip_whitespace=True, max_length=20)] = ""
    measured: Measure | None = None
