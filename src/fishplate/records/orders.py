"""Each order line by line, and what has come of it."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from ..build import Build, offer_contents
from ..build.events import Cancellation, Order, Receipt
from .model import OrderedLine, OrderState


def order_states(build: Build, as_of: date) -> tuple[OrderState, ...]:
    """Orders placed up to a day, as they stand on it, earliest first.

    What has come is set against the order's lines in their order, as `build.facts_of` does.
    """
    events = [event for event in build.events if event.day <= as_of]
    cancelled = {event.order: event.day for event in events if isinstance(event, Cancellation)}
    arrived: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for event in events:
        if isinstance(event, Receipt) and event.order is not None:
            for line in event.lines:
                arrived[event.order][line.part] += line.quantity
    orders = sorted((event for event in events if isinstance(event, Order)), key=lambda order: (order.day, order.id))
    return tuple(
        OrderState(order, _lines(build, order, arrived[order.id]), cancelled.get(order.id)) for order in orders
    )


def _lines(build: Build, order: Order, arrived: dict[str, float]) -> tuple[OrderedLine, ...]:
    found = []
    for position, line in enumerate(order.lines):
        for part, count in offer_contents(build, build.find("offers", line.offer)).items():
            ordered = count * line.quantity
            used = min(ordered, arrived[part])
            arrived[part] -= used
            found.append(OrderedLine(position, line.offer, part, ordered, used))
    return tuple(found)
