"""What must be chosen: decisions, options, edges between them."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from pydantic import model_validator

from .base import Id, Note, NotNegative, Noun, Text, ThreePoint


class Strength(StrEnum):
    """How strongly one decision bears on another."""

    FIXES = "fixes"
    LIMITS = "limits"
    NUDGES = "nudges"


class Option(Noun):
    """One way a decision can go, and what it brings.

    Parameters
    ----------
    parts, jobs, conditions : needed only if this option is chosen
    score : how much the owner likes it, 0 to 100, where scored
    """

    id: Id
    name: Text
    parts: tuple[Id, ...] = ()
    jobs: tuple[Id, ...] = ()
    conditions: tuple[Id, ...] = ()
    score: NotNegative | None = None
    note: Note = ""


class Decision(Noun):
    """A choice to be made.

    Parameters
    ----------
    options : at least one; leading : the option planned with until it is decided
    chosen, chosen_on : the option taken and the day
    freeze_by : the job before which it must be settled
    think_weeks : time from sitting down to being decided: enquiries, sleeping on it [weeks]
    late_hours : extra work if changed after it was frozen [h]
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
    note: Note = ""

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
    """An option requires or excludes another."""

    option: Id
    requires: Id | None = None
    excludes: Id | None = None
    why: Note = ""


class Criterion(Noun):
    """What matters to the owner, with its swing weight."""

    id: Id
    name: Text
    weight: NotNegative = 1
