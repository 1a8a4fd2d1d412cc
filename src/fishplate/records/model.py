"""What the records say: frozen results, exact money."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TypeAlias

from ..build import Money
from ..build.commerce import ReturnTerms
from ..build.events import Order

ToHome: TypeAlias = Callable[[Money, date], Money | None]
"""Money of a day in home currency, unrounded; None if no rate is known."""


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """A part that an order brings, and how much of it has come.

    Parameters
    ----------
    line : position of the order's line it belongs to; a kit brings several parts by one line
    ordered, arrived : how many of the part; faulty ones have not arrived
    off : how many will not come any more, because a claim ended in money or in nothing
    expected : the day last given for it; told : the day of the last news of it, if there was any since the order
    """

    line: int
    offer: str
    part: str
    ordered: float
    arrived: float
    off: float = 0.0
    expected: date | None = None
    told: date | None = None

    @property
    def waiting(self) -> float:
        """How many are still to come."""
        return max(0.0, self.ordered - self.arrived - self.off)

    @property
    def on_back_order(self) -> bool:
        """Whether it is still to come and the last news of it gave no day."""
        return self.waiting > 0 and self.told is not None and self.expected is None


@dataclass(frozen=True, slots=True)
class OrderState:
    """An order and what has come of it.

    Parameters
    ----------
    cancelled_on : day what was still to come was cancelled
    """

    order: Order
    lines: tuple[OrderedLine, ...]
    cancelled_on: date | None = None

    @property
    def is_open(self) -> bool:
        """Whether something is still to come."""
        return self.cancelled_on is None and any(line.waiting > 0 for line in self.lines)

    @property
    def waiting(self) -> tuple[OrderedLine, ...]:
        """What is still to come."""
        return tuple(line for line in self.lines if line.waiting > 0) if self.is_open else ()

    def value_of(self, position: int) -> Money:
        """Price of all units of one line."""
        line = self.order.lines[position]
        return line.price * Decimal(str(line.quantity))

    def share_kept(self, position: int) -> Decimal:
        """Share of a line that came or is still to come: less what was cancelled, and what a claim ended without."""
        lines = [line for line in self.lines if line.line == position]
        ordered = sum(line.ordered for line in lines)
        gone = sum(line.off + (line.waiting if self.cancelled_on is not None else 0.0) for line in lines)
        return Decimal(1) if ordered == 0 else 1 - Decimal(str(gone)) / Decimal(str(ordered))

    def share_due(self, position: int) -> Decimal:
        """Share of a line that is to be paid for: all of it, unless what did not come was cancelled."""
        lines = [line for line in self.lines if line.line == position]
        ordered = sum(line.ordered for line in lines)
        if self.cancelled_on is None or ordered == 0:
            return Decimal(1)
        return Decimal(str(sum(line.arrived for line in lines))) / Decimal(str(ordered))


@dataclass(frozen=True, slots=True)
class ReturnRight:
    """A part in hand that can still go back.

    Parameters
    ----------
    quantity : how many of those that came then are neither fitted nor sent back
    until : last day
    terms : the offer's terms; assumed: it states none, and common practice stands in
    paid : what the offer's units cost, per unit of the offer; each_holds : how many of the part a unit holds,
        None for a kit, which has no price by part
    """

    part: str
    order: str
    offer: str
    supplier: str
    came: date
    quantity: float
    until: date
    terms: ReturnTerms
    assumed: bool
    paid: Money
    each_holds: float | None

    def refund(self, quantity: float) -> Money | None:
        """What its terms give back for so many, to the minor unit; None for a kit, whose price is not by part."""
        if self.each_holds is None:
            return None
        return (self.worth(quantity) * (1 - Decimal(str(self.terms.restocking_percent)) / 100)).rounded()

    def worth(self, quantity: float) -> Money:
        """What was paid for so many, unrounded; for a kit, for all of it."""
        return self.paid * (1 if self.each_holds is None else Decimal(str(quantity)) / Decimal(str(self.each_holds)))


@dataclass(frozen=True, slots=True)
class PaidLine:
    """Money that went out, or came back.

    Parameters
    ----------
    amount : as it was paid, negative if it came back; home: in home currency, None if no rate is known
    booked : home is what the owner wrote down, not a conversion at the day's reference rate
    what : goods, freight, tax …; "refund" and "sending back" for what a return brings and costs
    """

    event: str
    day: date
    what: str
    order: str | None
    allowance: str | None
    amount: Money
    home: Money | None
    booked: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class OrderAccount:
    """What an order costs, and what of it is paid.

    Parameters
    ----------
    due : its lines and freight as ordered, less what was cancelled or went back
    paid : payments for goods, deposit and freight less refunds
        (both in the order's currency where all are in it, else in home currency at the rates of each day)
    charges : duty, tax, fees and other payments made on it, home currency
    """

    order: Order
    due: Money
    paid: Money
    due_home: Money | None
    paid_home: Money | None
    charges: Money

    @property
    def owed(self) -> Money:
        """What is still to be paid; below zero: paid beyond it."""
        return self.due - self.paid


@dataclass(frozen=True, slots=True)
class SystemPaid:
    """What went to one area of the vehicle, home currency; system None: what names none, or several."""

    system: str | None
    paid: Money
    owed: Money


@dataclass(frozen=True, slots=True)
class AllowanceUse:
    """What was paid out of an allowance, home currency."""

    allowance: str
    drawn: Money


@dataclass(frozen=True, slots=True)
class Ledger:
    """What was paid and is owed, home currency.

    Parameters
    ----------
    lines : every payment and refund, latest first
    paid : all of them, less what came back; owed : what orders still cost
    without_rate : lines left out of every sum, because no rate is known
    refunds_open : returns whose refund has not been written down
    """

    currency: str
    lines: tuple[PaidLine, ...]
    accounts: tuple[OrderAccount, ...]
    paid: Money
    owed: Money
    systems: tuple[SystemPaid, ...]
    allowances: tuple[AllowanceUse, ...]
    without_rate: tuple[PaidLine, ...]
    refunds_open: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LineAgainstList:
    """An order's line against the price its offer had then.

    Parameters
    ----------
    paid : price of one as ordered; listed : regular price of one then, None if none is known in its currency
    seen : day the regular price was seen; later than the order if none was seen before it
    saved : on all units, in the order's currency; below zero: more than listed
    """

    order: str
    day: date
    offer: str
    quantity: float
    paid: Money
    listed: Money | None
    seen: date | None
    saved: Money | None
    saved_home: Money | None
