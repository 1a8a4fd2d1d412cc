"""Parts that can go back, and until when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from ..build import Build, Money, offer_contents
from ..build.commerce import Offer, ReturnTerms
from ..build.defaults import RETURNS
from ..build.events import Check, Fitting, Order, OrderLine, Receipt, Return
from .model import ReturnRight

# Common practice; where an offer states its terms, they stand instead.


def return_rights(build: Build, as_of: date) -> tuple[ReturnRight, ...]:
    """Parts received on an order, neither fitted nor sent back, whose right to go back still runs; soonest first.

    Notes
    -----
    What was fitted or sent back is taken from what came first. A check that its terms name ends the right; what was
    done without being written down can't: its terms say what would.
    """
    found = [right for right in _rights(build, as_of) if right.until >= as_of]
    return tuple(sorted(found, key=lambda right: (right.until, right.part, right.order)))


def _rights(build: Build, as_of: date) -> Iterator[ReturnRight]:
    events = [event for event in build.events if event.day <= as_of]
    orders = {event.id: event for event in events if isinstance(event, Order)}
    gone: dict[str, float] = defaultdict(float)
    for event in events:
        if isinstance(event, Fitting) or (isinstance(event, Return) and event.claim is None):
            gone[event.part] += event.quantity
    checks: dict[str, list[Check]] = defaultdict(list)
    for event in events:
        if isinstance(event, Check):
            checks[event.part].append(event)
    receipts = sorted(
        (event for event in events if isinstance(event, Receipt)), key=lambda event: (event.day, event.id)
    )
    for receipt in receipts:
        for counted in receipt.lines:
            used = min(counted.quantity - counted.faulty, gone[counted.part])
            gone[counted.part] -= used
            left, order = counted.quantity - counted.faulty - used, orders.get(receipt.order or "")
            line = None if order is None else _line_of(build, order, counted.part)
            if left <= 0 or order is None or line is None:
                continue
            right = _right(build, order, line, counted.part, receipt.day, left)
            if right is not None and not _is_ended(checks[right.part], right):
                yield right


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


def _is_ended(checks: Iterable[Check], right: ReturnRight) -> bool:
    """Whether a check of the part has ended the right already."""
    return any(check.how in right.terms.ended_by and right.came <= check.day for check in checks)
