"""Each order line by line, and what has come of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date

from ..build import Build, offer_contents
from ..build.events import Cancellation, Event, Order
from ..build.facts import came_of, news_of_orders, promise_of
from .model import OrderedLine, OrderState


def order_states(build: Build, as_of: date) -> tuple[OrderState, ...]:
    """Orders placed up to a day, as they stand on it, earliest first.

    What has come is set against the order's lines in their order, as `build.facts_of` does.
    """
    events = [event for event in build.events if event.day <= as_of]
    cancelled = {event.order: event.day for event in events if isinstance(event, Cancellation)}
    came = came_of(events)
    by_order: dict[str, dict[str, tuple[float, float]]] = defaultdict(dict)
    for (order_id, part), counts in came.items():
        by_order[order_id][part] = counts
    news = news_of_orders(events)
    orders = sorted((event for event in events if isinstance(event, Order)), key=lambda order: (order.day, order.id))
    return tuple(
        OrderState(order, _lines(build, order, by_order[order.id], news.get(order.id, ())), cancelled.get(order.id))
        for order in orders
    )


def _lines(
    build: Build, order: Order, came: Mapping[str, tuple[float, float]], news: Sequence[Event]
) -> tuple[OrderedLine, ...]:
    here = {part: counts[0] for part, counts in came.items()}
    off = {part: counts[1] for part, counts in came.items()}
    found = []
    for position, line in enumerate(order.lines):
        for part, count in offer_contents(build, build.find("offers", line.offer)).items():
            ordered = count * line.quantity
            used = min(ordered, here.get(part, 0.0))
            gone = min(ordered - used, off.get(part, 0.0))
            here[part] = here.get(part, 0.0) - used
            off[part] = off.get(part, 0.0) - gone
            expected, told = promise_of(order, line, part, news)
            found.append(OrderedLine(position, line.offer, part, ordered, used, gone, expected, told))
    return tuple(found)
