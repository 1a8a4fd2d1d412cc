"""What is still to be paid on orders already placed, and when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from ..build import Money, UnknownRateError
from ..build.events import Invoice
from ..records import ledger, order_states
from .situation import Situation

TOO_LITTLE = 0.5
"""Less is not counted as owed [EUR]."""


@dataclass(frozen=True, slots=True)
class Owed:
    """What one order still costs.

    Parameters
    ----------
    day : when it is to be paid: by its invoice, else when the last of it is promised; today where nothing says so
    amount : home currency; currency : the one it is asked in
    """

    day: date
    amount: float
    currency: str


def owed_on_orders(situation: Situation) -> Iterator[Owed]:
    """Every order with something left to pay, at the rates of the day."""
    build, as_of = situation.build, situation.as_of

    def to_home(money: Money, _day: date) -> Money | None:
        try:
            return situation.rates.convert(money, build.owner.currency)
        except UnknownRateError:
            return None

    states = {state.order.id: state for state in order_states(build, as_of)}
    due = {event.order: event.due for event in build.events
           if isinstance(event, Invoice) and event.day <= as_of and event.sent_by == "seller"}  # fmt: skip
    for account in ledger(build, as_of, to_home).accounts:
        owed = to_home(account.owed, as_of)
        if owed is None or float(owed.amount) <= situation.in_home(TOO_LITTLE):
            continue
        order = account.order
        promised = max((line.expected for line in states[order.id].waiting if line.expected), default=None)
        day = due.get(order.id) or promised or as_of
        yield Owed(max(day, as_of), float(owed.amount), account.owed.currency)
