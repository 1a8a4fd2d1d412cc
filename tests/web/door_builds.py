"""The demo build with orders from abroad, as tests of the door and of trips need it."""

from __future__ import annotations

from datetime import date

from fishplate.build import Build, Money
from fishplate.build.events import Order, OrderLine
from fishplate.starters import load_demo
from fishplate.wiring import with_likely_bills

ORDERED = date(2026, 11, 10)
TRIP = "ferry-december"


def with_orders() -> Build:
    """The demo build with wheels ordered by courier and a moulding waiting for the December trip."""
    build = load_demo()
    orders = (
        Order(
            id="o-wheel", day=ORDERED, supplier="tidegate", route="courier-gb", promised=date(2026, 12, 5),
            lines=(OrderLine(offer="tidegate-wheel-made", price=Money.of(82, "GBP")),),
        ),
        Order(
            id="o-roof", day=ORDERED, supplier="ostlerbridge", route="depot-gb", collection=TRIP,
            promised=date(2026, 12, 5), lines=(OrderLine(offer="ostlerbridge-roof", price=Money.of(545, "GBP")),),
        ),
    )  # fmt: skip
    return with_likely_bills(build, build.model_copy(update={"events": (*build.events, *orders)}))
