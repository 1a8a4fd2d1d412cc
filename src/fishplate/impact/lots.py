"""What was bought of a part, when, from whom and for how much; or is owned without a purchase."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from ..build import Build, Facts, Money, offer_contents
from ..build.commerce import Offer
from ..build.events import Order, Receipt, Return


@dataclass(frozen=True, slots=True)
class Lot:
    """Some of a part that was bought or received together.

    Parameters
    ----------
    quantity : how many, in the part's unit
    offer, order : ids; None for what was not bought under an order
    price : what was paid for so many `pieces` of the part; None if not known
    ordered_on, promised : days of the order; received_on : day of arrival, None while it is on its way
    """

    part: str
    quantity: float
    offer: str | None = None
    order: str | None = None
    price: Money | None = None
    pieces: float = 1.0
    ordered_on: date | None = None
    promised: date | None = None
    received_on: date | None = None
    from_kit: bool = False


def lots_of(build: Build, facts: Facts, part: str) -> tuple[Lot, ...]:
    """Everything owned or on its way of a part on the day of the facts, what was returned taken off."""
    lots = [*_stock(build, facts, part), *_received(build, facts, part)]
    for event in sorted(build.events, key=lambda event: (event.day, event.id)):
        if isinstance(event, Return) and event.part == part and event.day <= facts.as_of:
            lots = _taken_off(lots, event)
    return (*lots, *_coming(build, facts, part))


def _stock(build: Build, facts: Facts, part: str) -> Iterator[Lot]:
    for stock in build.stock:
        if stock.part == part and (stock.since is None or stock.since <= facts.as_of):
            yield Lot(part, stock.quantity, received_on=stock.since or facts.as_of)


def _received(build: Build, facts: Facts, part: str) -> Iterator[Lot]:
    for event in sorted(build.events, key=lambda event: (event.day, event.id)):
        if not isinstance(event, Receipt) or event.day > facts.as_of:
            continue
        for line in event.lines:
            if line.part == part and line.quantity > line.faulty:  # what came faulty is still to come
                bought = _bought(build, event.order, part) if event.order else Lot(part, 0)
                yield replace(bought, quantity=line.quantity - line.faulty, received_on=event.day)


def _coming(build: Build, facts: Facts, part: str) -> Iterator[Lot]:
    for item in facts.incoming:
        if item.part == part:
            yield replace(_bought(build, item.order, part, item.offer), quantity=item.quantity)


def _bought(build: Build, order_id: str, part: str, offer_id: str | None = None) -> Lot:
    """The lot an order brings of a part, its quantity left to the caller."""
    order: Order = build.find("events", order_id)
    for line in order.lines:
        offer: Offer = build.find("offers", line.offer)
        if offer_id in (None, offer.id) and part in offer_contents(build, offer):
            # without better knowledge every piece of a kit is worth the same
            pieces = sum(offer_contents(build, offer).values())
            bought = Lot(part, 0, offer.id, order.id, line.price, pieces, order.day, order.promised)
            return replace(bought, from_kit=offer.kit is not None)
    return Lot(part, 0, order=order.id, ordered_on=order.day, promised=order.promised)


def _taken_off(lots: list[Lot], event: Return) -> list[Lot]:
    """The lots without what went back, the last received first; the order it names before others."""
    left = event.quantity
    kept: list[Lot] = []

    def likeliest(lot: Lot) -> tuple[bool, bool, date]:
        named = event.order is not None and lot.order == event.order
        return named, lot.order is not None, lot.received_on or date.max

    for lot in sorted(lots, key=likeliest, reverse=True):
        gone = min(left, lot.quantity)
        left -= gone
        if lot.quantity > gone:
            kept.append(replace(lot, quantity=lot.quantity - gone))
    return kept[::-1]
