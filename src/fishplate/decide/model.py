"""What the decision engine gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from ..build import Assumption, Problem
from ..build.graph import Node


@dataclass(frozen=True, slots=True)
class Tear:
    """An edge of a loop that the order goes against: `target` is taken while `source` is only assumed.

    Parameters
    ----------
    fixes : the edge is a strong one; the decisions of its loop have to be settled together
    """

    source: str
    target: str
    fixes: bool


@dataclass(frozen=True, slots=True)
class StaysOpen:
    """Until when an option can be kept open at no cost.

    Parameters
    ----------
    until : None if nothing it brings has a date; week : the same [weeks since as_of]
    """

    option: str
    week: float | None
    until: date | None
    because: str


@dataclass(frozen=True, slots=True)
class DecisionResult:
    """One decision: its place in the order, its date and what hangs on it.

    Parameters
    ----------
    rank : place in the order, from 1; 0 once it is decided
    decided, leading, assumed : whether it is taken, the option planned with, whether that is only the first listed
    block : the decisions it forms a loop with, itself included; empty if it stands alone
    assumes : decisions of the block that it has to take for granted at their leading option
    by_week : latest moment to sit down to it; None if nothing waits for it [weeks since as_of]
    by : the day of by_week
    free_until : last day to which putting it off costs nothing; None if nothing waits for it
    because : what sets the date
    by_risk : the day that comes too late with each of some chances, as (chance, day); empty if nothing waits for it
    open : each option, and until when it can be kept open at no cost; empty once decided
    hangs : what rests on it in the end, as (list name, id)
    holds_offers, holds_jobs : what must not be ordered or begun before it is taken
    """

    decision: str
    name: str
    rank: int
    decided: bool
    leading: str
    assumed: bool
    block: tuple[str, ...]
    assumes: tuple[str, ...]
    by_week: float | None
    by: date | None
    free_until: date | None
    because: str
    open: tuple[StaysOpen, ...]
    hangs: tuple[Node, ...]
    holds_offers: tuple[str, ...]
    holds_jobs: tuple[str, ...]
    text: str
    by_risk: tuple[tuple[float, date], ...] = ()


@dataclass(frozen=True, slots=True)
class DecisionReport:
    """All decisions: the open ones in the order to take them, then the decided ones.

    Parameters
    ----------
    blocks : loops that are settled as a group, each in the order to go through it
    tears : the edges the order goes against
    modelled_weeks : moment each is taken if the first ones are begun today; 0 once decided [weeks since as_of]
    risk : chance that a date comes too late, where moments were given for joint draws
    problems : decided options that contradict each other, or were decided before what fixes them
    """

    decisions: tuple[DecisionResult, ...]
    blocks: tuple[tuple[str, ...], ...]
    tears: tuple[Tear, ...]
    modelled_weeks: Mapping[str, float]
    risk: float
    problems: tuple[Problem, ...]
    assumptions: tuple[Assumption, ...]
