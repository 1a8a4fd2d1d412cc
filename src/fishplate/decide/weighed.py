"""What weighing a decision gives."""

from __future__ import annotations

from dataclasses import dataclass

from ..build import Assumption


@dataclass(frozen=True, slots=True)
class Mattering:
    """A criterion as it counts in a decision.

    Parameters
    ----------
    worst, best : ends of its scale, in its unit
    weight, low, high : its share of the whole, on average and with one chance in twenty to be below or above, 0 to 1
    """

    criterion: str
    name: str
    unit: str
    worst: float
    best: float
    weight: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Weighed:
    """An option as it comes out.

    Parameters
    ----------
    value : 0 to 100, on average; low, high : with one chance in ten to be below or above
    ranks : chance to come first, second, and so on
    points : points by each criterion, on average
    dominated_by : an option at least as good by every criterion and better by one; surely : whatever the scores
    regret : what taking it would lose at most, in points: nineteen draws in twenty lose less
    """

    option: str
    name: str
    value: float
    low: float
    high: float
    ranks: tuple[float, ...]
    points: tuple[float, ...]
    dominated_by: str | None
    surely: bool
    regret: float


@dataclass(frozen=True, slots=True)
class Learning:
    """What knowing something for certain would be worth.

    Parameters
    ----------
    criterion, option : the score it is about; without an option the whole criterion, with neither the weights
    points : expected gain in value; money : the same in home currency, where money is among the criteria
    turns : chance that it changes which option comes first
    """

    criterion: str
    option: str
    what: str
    points: float
    money: float | None
    turns: float


@dataclass(frozen=True, slots=True)
class Weighing:
    """A decision with its options weighed, the best first.

    Parameters
    ----------
    basis : "criteria"; "overall", where options have only a score on the whole; "nothing"
    robust : whether the first stays first in nineteen draws of twenty
    safest : option with the least regret
    learning : what would change the choice, what is worth most first
    all_known : value of knowing everything, in points
    money_per_point : what a point of value is worth, home currency; None if money is not among the criteria
    """

    decision: str
    basis: str
    criteria: tuple[Mattering, ...]
    options: tuple[Weighed, ...]
    robust: bool
    safest: str
    learning: tuple[Learning, ...]
    all_known: float
    money_per_point: float | None
    assumptions: tuple[Assumption, ...]
    text: str
