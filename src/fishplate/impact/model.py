"""What the impact engine gives."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from ..build import Assumption
from ..build.graph import Node


class Fate(StrEnum):
    """What becomes of a part that is no longer wanted as it is, mildest first."""

    NOT_ORDERED = "not ordered"
    CANCELLABLE = "cancellable"
    RETURNABLE = "returnable"
    RESELLABLE = "resellable"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class PartFate:
    """What becomes of some of a part, bought or received together.

    Parameters
    ----------
    quantity : how many, in the part's unit
    until : last day on which it can be cancelled or sent back
    loss : what undoing it then costs [home currency]
    certain : it is the thing that changes, or called for by the option given up; else it only may no longer fit
    """

    part: str
    fate: Fate
    quantity: float
    until: date | None
    loss: float
    certain: bool
    text: str


@dataclass(frozen=True, slots=True)
class JobRedo:
    """Work done or begun that rests on what changes.

    Parameters
    ----------
    hours : what was worked on it [h]
    certain : it has to be done again; else it has to be looked at again
    """

    job: str
    hours: float
    certain: bool
    text: str


@dataclass(frozen=True, slots=True)
class ToBuy:
    """So many more of a part that have to be bought.

    Parameters
    ----------
    soonest, latest : when they may be ready at the seller, if they are ordered now; None: nobody offers it
    """

    part: str
    quantity: float
    soonest: date | None
    latest: date | None
    text: str


@dataclass(frozen=True, slots=True)
class PriceMove:
    """What is still to be bought of a part costs otherwise at the cheapest seller.

    Parameters
    ----------
    before, after : for all that is missing, before freight, duty and tax [home currency]; None: nobody offers it
    """

    part: str
    before: float | None
    after: float | None
    text: str


@dataclass(frozen=True, slots=True)
class ImpactReport:
    """What comes loose, by kind; every figure is about what is so on the day of the facts.

    Parameters
    ----------
    target : (list name, id) of what changes; of a change of several things the first
    changes : what is otherwise, in words
    stale : dimensions that no longer hold; readings : their readings, to be taken again
    interfaces : places where the verdict goes
    releases : orders that are held again; decisions : choices that are open again
    following : jobs done or begun after those to be redone, which may be in their way
    money_low, money_likely, money_high : loss if only what is certain comes loose, half of the rest, or all
        [home currency]
    hours_low, hours, hours_high : the same for work to be redone [h]
    cautions : what has to be checked where people can be hurt
    to_buy : what has to be bought besides; prices : what is still to be bought and costs otherwise
    more_hours : work still to be done, more than before [h]
    waiting : jobs not done yet whose dates may move; orders : parts whose order may; offers : whose price or terms do
    dates : what is known to move, in sentences; whole : why all else may move a little too
    groups : decisions that bear on each other in a circle, which have to be settled together, each as their ids
    """

    target: Node
    parts: tuple[PartFate, ...]
    jobs: tuple[JobRedo, ...]
    stale: tuple[str, ...]
    readings: tuple[str, ...]
    interfaces: tuple[str, ...]
    releases: tuple[str, ...]
    decisions: tuple[str, ...]
    following: tuple[str, ...]
    money_low: float
    money_likely: float
    money_high: float
    hours_low: float
    hours: float
    hours_high: float
    cautions: tuple[str, ...]
    text: str
    assumptions: tuple[Assumption, ...]
    changes: tuple[str, ...] = ()
    to_buy: tuple[ToBuy, ...] = ()
    prices: tuple[PriceMove, ...] = ()
    more_hours: float = 0.0
    waiting: tuple[str, ...] = ()
    orders: tuple[str, ...] = ()
    offers: tuple[str, ...] = ()
    dates: tuple[str, ...] = ()
    whole: tuple[str, ...] = ()
    groups: tuple[tuple[str, ...], ...] = ()

    @property
    def loosens(self) -> bool:
        """Whether anything that was bought, made, measured, judged or decided comes loose."""
        bought = any(fate.fate is not Fate.NOT_ORDERED for fate in self.parts)
        return bought or bool(self.jobs or self.stale or self.readings or self.interfaces or self.decisions)

    @property
    def nothing(self) -> bool:
        """Whether nothing comes of it that is known of."""
        return not (
            self.loosens
            or self.parts
            or self.releases
            or self.to_buy
            or self.prices
            or self.more_hours
            or self.waiting
            or self.orders
            or self.dates
            or self.whole
        )
