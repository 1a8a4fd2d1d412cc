"""Parts that can go back, and until when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta

from ..build import Build, Money, offer_contents
from ..build.commerce import Offer, ReturnTerms
from ..build.defaults import RETURNS
from ..build.events import Check, Order, OrderLine, Return
from .lots import lots_of
from .model import ReturnRight


def return_rights(build: Build, as_of: date) -> tuple[ReturnRight, ...]:
    """Parts received on an order, neither fitted nor sent back, whose right to go back still runs; soonest first.

    Notes
    -----
    What was fitted or sent back is taken off as `lots_of` does. A check that its terms name ends the right of as many
    as were checked; what was done without being written down can't: its terms say what would.
    """
    found = [right for right in _rights(build, as_of) if right.until >= as_of]
    return tuple(sorted(found, key=lambda right: (right.until, right.part, right.order)))


def _rights(build: Build, as_of: date) -> Iterator[ReturnRight]:
    checks: dict[str, list[Check]] = defaultdict(list)
    for event in build.events:
        if isinstance(event, Check) and event.day <= as_of:
            checks[event.part].append(event)
    for lots in lots_of(build, as_of).values():
        for lot in lots:
            order = build.index["events"].get(lot.order or "")
            line = _line_of(build, order, lot.part) if isinstance(order, Order) else None
            if lot.left <= 0 or line is None or not isinstance(order, Order) or order.day > as_of:
                continue
            right = _right(build, order, line, lot.part, lot.came, lot.left)
            left = 0.0 if right is None else lot.left - _ended(checks[lot.part], right)
            if right is not None and left > 0:
                yield replace(right, quantity=left)


def refund_by_terms(build: Build, event: Return) -> tuple[Money, bool] | None:
    """What a part that went back is to bring.

    Parameters
    ----------
    event : its sending back, with what the seller was said to keep, if that was said

    Returns
    -------
    the money by its terms, in the currency it was paid in, and whether these are assumed; None where they say nothing
    """
    order = build.index["events"].get(event.order or "")
    line = _line_of(build, order, event.part) if isinstance(order, Order) else None
    if line is None or not isinstance(order, Order):
        return None
    right = _right(build, order, line, event.part, event.day, event.quantity)
    refund = None if right is None else right.refund(event.quantity)
    if right is None or refund is None:
        return None
    if event.fee is not None and event.fee.currency == refund.currency:
        return right.worth(event.quantity) - event.fee, right.assumed
    return refund, right.assumed


def _line_of(build: Build, order: Order, part: str) -> OrderLine | None:
    """The line of an order that brings a part."""
    return next((line for line in order.lines if part in offer_contents(build, build.find("offers", line.offer))), None)


def _right(build: Build, order: Order, line: OrderLine, part: str, came: date, quantity: float) -> ReturnRight | None:
    offer: Offer = build.find("offers", line.offer)
    terms, assumed = terms_of(offer)
    if terms.days == 0:
        return None
    return ReturnRight(
        part=part,
        order=order.id,
        offer=offer.id,
        supplier=order.supplier,
        came=came,
        quantity=quantity,
        until=came + timedelta(days=terms.days),
        terms=terms,
        assumed=assumed,
        paid=line.price,
        each_holds=offer.pack if offer.part is not None else None,
    )


def terms_of(offer: Offer) -> tuple[ReturnTerms, bool]:
    """When an offer can go back, and whether that had to be assumed; what is made to order can't, unless it says so."""
    if offer.returns is not None:
        return offer.returns, False
    return (ReturnTerms(days=0) if offer.made_to_order else RETURNS), True


def _ended(checks: Iterable[Check], right: ReturnRight) -> float:
    """How many of a right a check of the part has ended already."""
    ends = [check for check in checks if check.how in right.terms.ended_by and right.came <= check.day]
    return sum(right.quantity if check.quantity is None else check.quantity for check in ends)
