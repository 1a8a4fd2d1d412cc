"""Work sent out: its turn, which stages were shown and paid, and until when it can be taken elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from ..build import Build, Money
from ..build.commerce import Stage, Workshop
from ..build.events import Payment, StageShown


@dataclass(frozen=True, slots=True)
class StageState:
    """A stage of a workshop's work.

    Parameters
    ----------
    shown_on, photo : when and by which photo it was shown; paid : what was paid for it
    """

    stage: Stage
    shown_on: date | None
    photo: str
    paid: Money

    @property
    def to_pay(self) -> bool:
        """Whether it was shown by a photo and is not paid."""
        return bool(self.photo) and self.paid.amount < self.stage.amount.amount

    @property
    def paid_unseen(self) -> bool:
        """Whether it was paid before anything was shown."""
        return self.paid.amount > 0 and not self.photo


@dataclass(frozen=True, slots=True)
class WorkshopState:
    """A workshop.

    Parameters
    ----------
    turn : when its turn was likely to come, by the queue it named
    withdraw_by : last day to take the work elsewhere; None once it has begun
    """

    workshop: Workshop
    stages: tuple[StageState, ...]
    turn: date | None
    began_on: date | None
    withdraw_by: date | None


def workshop_states(build: Build, as_of: date) -> tuple[WorkshopState, ...]:
    """Every workshop as it stands on a day."""
    return tuple(_state(build, shop, as_of) for shop in build.workshops)


def _state(build: Build, shop: Workshop, as_of: date) -> WorkshopState:
    shown = [event for event in build.events if isinstance(event, StageShown) and event.workshop == shop.id
             and event.day <= as_of]  # fmt: skip
    began = min((day for day in (shop.began_on, *(event.day for event in shown)) if day and day <= as_of), default=None)
    weeks = None if shop.queue_weeks is None else shop.queue_weeks.likely
    turn = None if shop.booked_on is None or weeks is None else shop.booked_on + timedelta(days=round(7 * weeks))
    stages = tuple(_stage(build, shop, stage, shown, as_of) for stage in shop.stages)
    return WorkshopState(shop, stages, turn, began, None if began else shop.withdraw_on)


def _stage(build: Build, shop: Workshop, stage: Stage, shown: list[StageShown], as_of: date) -> StageState:
    mine = sorted(
        (event for event in shown if event.stage == stage.name), key=lambda event: (not event.photo, event.day)
    )
    none = Money(amount=Decimal(0), currency=stage.amount.currency)
    paid = sum((event.amount for event in build.events if isinstance(event, Payment) and event.workshop == shop.id
                and event.stage == stage.name and event.day <= as_of and event.amount.currency == none.currency),
               none)  # fmt: skip
    return StageState(stage, mine[0].day if mine else None, mine[0].photo if mine else "", paid)
