"""Work sent out: its turn, which stages were shown and paid, and until when it can be taken elsewhere."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from ..build import Build, Money
from ..build.commerce import Stage, Workshop
from ..build.events import Event, Invoice, Payment, StageShown


@dataclass(frozen=True, slots=True)
class StageState:
    """A stage of a workshop's work.

    Parameters
    ----------
    shown_on, photo : when and by which photo it was shown
    paid : what was paid for it, by itself or by an invoice that asks for it
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
    events = [event for event in build.events if event.day <= as_of]
    shares = {event.id: stages_asked(shop, event).get(stage.name, Decimal(0)) for event in events
              if isinstance(event, Invoice)}  # fmt: skip
    paid = sum((event.amount * _share_of(stage, event, shares) for event in _paid_to(shop, events)
                if event.amount.currency == none.currency), none)  # fmt: skip
    return StageState(stage, mine[0].day if mine else None, mine[0].photo if mine else "", paid.rounded())


def _paid_to(shop: Workshop, events: Iterable[Event]) -> list[Payment]:
    """Payments that name a workshop, or an invoice it sent."""
    sent = {event.id for event in events if isinstance(event, Invoice) and event.workshop == shop.id}
    return [event for event in events if isinstance(event, Payment)
            and (event.workshop == shop.id or event.invoice in sent)]  # fmt: skip


def _share_of(stage: Stage, payment: Payment, shares: Mapping[str, Decimal]) -> Decimal:
    """Share of a payment that is for a stage: by the stage it names, else by what its invoice asks for."""
    if payment.stage:
        return Decimal(payment.stage == stage.name)
    return shares.get(payment.invoice or "", Decimal(0))


def stages_asked(shop: Workshop, invoice: Invoice) -> Mapping[str, Decimal]:
    """Stages a workshop's invoice asks to be paid for -> share of its money; empty where nothing tells.

    A line is for the stage whose name it says. Where none says one, the whole is for the only stage that costs as much,
    tax in or out. Tax follows what it is on.
    """
    lines = [line for line in invoice.lines if line.what != "tax"]
    if invoice.workshop != shop.id or not lines or len({line.amount.currency for line in invoice.lines}) > 1:
        return {}
    net = sum((line.amount for line in lines[1:]), lines[0].amount)
    whole = sum((line.amount for line in invoice.lines if line.what == "tax"), net)
    named: dict[str, Money] = {}
    for line in lines:
        if name := _named(shop, line.label):
            named[name] = named.get(name, line.amount * 0) + line.amount
    every = max(net.amount, sum(money.amount for money in named.values()))  # what was taken off is taken off all
    if named and every > 0:
        return {name: money.amount / every for name, money in named.items()}
    alike = [stage.name for stage in shop.stages if stage.amount in (net, whole)]
    return {alike[0]: Decimal(1)} if len(alike) == 1 else {}


def _named(shop: Workshop, label: str) -> str:
    """The stage whose name stands in a label, the longest if several do; "" if none does."""
    found = [stage.name for stage in shop.stages
             if re.search(rf"(?<!\w){re.escape(stage.name)}(?!\w)", label, re.IGNORECASE)]  # fmt: skip
    return max(found, key=len, default="")
