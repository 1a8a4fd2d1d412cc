"""What happened with an order, day by day, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from ..build import Build, Money
from ..build.events import (
    Cancellation,
    Claim,
    CoreSent,
    Delay,
    Event,
    Invoice,
    Order,
    Payment,
    Receipt,
    Reclaim,
    Refund,
    Return,
    Settlement,
)
from .desk import View
from .words import day, exact, listed, number

_PAID: Final[Mapping[str, str]] = {
    "goods": "the goods", "deposit": "a deposit", "freight": "freight", "duty": "duty", "tax": "tax", "fees": "fees",
    "work": "work", "other": "something else",
}  # fmt: skip
_BACK: Final[Mapping[str, str]] = {
    "goods": "for goods", "core": "for the old part", "import-tax": "of duty and tax",
    "origin-tax": "of the seller's tax", "other": "for something else",
}  # fmt: skip
_FAULTS: Final[Mapping[str, str]] = {
    "damaged": "damaged", "wrong-item": "the wrong thing", "wrong-side": "for the wrong side",
    "wrong-thread": "with the wrong thread", "short": "short",
}  # fmt: skip
_ENDED: Final[Mapping[str, str]] = {
    "replacement": "another one is sent", "refund": "the money comes back", "price-reduction": "it is kept for less",
    "refused": "they refused",
}  # fmt: skip


def order_history(view: View, order: Order) -> tuple[str, ...]:
    """Every event of an order up to today, earliest first, a sentence each."""
    claims = {event.id for event in view.build.events if isinstance(event, Claim) and event.order == order.id}
    mine = [
        event for event in view.build.events
        if event.day <= view.as_of and event.id != order.id
        and (getattr(event, "order", None) == order.id or getattr(event, "claim", None) in claims)
    ]  # fmt: skip
    mine.sort(key=lambda event: event.day)
    return tuple(
        f"{day(event.day)}: {text}{f' ({event.note})' if event.note else ''}."
        for event in mine
        for text in _said(view.build, event)
    )


def _said(build: Build, event: Event) -> Iterator[str]:
    match event:
        case Receipt():
            came = [_counted(line.quantity, _part(build, line.part)) for line in event.lines]
            yield f"came: {listed(came, 6)}{f', put at {event.place}' if event.place else ''}"
            for line in event.lines:
                if line.faulty:
                    fault = _FAULTS[line.fault or "damaged"]
                    yield f"{number(line.faulty)} × {_part(build, line.part)} came {fault}"
        case Payment():
            yield f"paid {_money(event.amount, event.home_amount)} for {_PAID[event.what]}"
        case Delay():
            yield (
                f"another day was given: {day(event.expected)}"
                if event.expected
                else "put on back-order, without a day"
            )
        case Invoice():
            number_ = f" {event.number}" if event.number else ""
            yield f"invoice{number_} came, from the {event.sent_by}"
        case Claim():
            yield f"reported {_counted(event.quantity, _part(build, event.part))} as {_FAULTS[event.fault]}"
        case Settlement():
            promised = "" if event.amount is None else f", {exact(event.amount)}"
            yield f"the claim ended: {_ENDED[event.outcome]}{promised}"
        case Return():
            cost = "" if event.cost is None else f", which cost {exact(event.cost)}"
            back = "" if event.refund is None else f"; {exact(event.refund)} came back"
            yield f"sent back {_counted(event.quantity, _part(build, event.part))}{cost}{back}"
        case Refund():
            yield f"{_money(event.amount, event.home_amount)} came back {_BACK[event.what]}"
        case Reclaim():
            yield "asked for the tax back"
        case CoreSent():
            yield f"sent {number(event.quantity)} old part{'' if event.quantity == 1 else 's'} back"
        case Cancellation():
            back = "" if event.refund is None else f"; they refund {exact(event.refund)}"
            yield f"what was still to come was cancelled{back}"
        case _:
            pass


def _money(amount: Money, booked: Money | None) -> str:
    return f"{exact(amount)}{'' if booked is None or booked == amount else f' (booked as {exact(booked)})'}"


def _part(build: Build, part: str) -> str:
    return str(build.find("parts", part).name)


def _counted(quantity: float, name: str) -> str:
    return name if quantity == 1 else f"{number(quantity)} × {name}"
