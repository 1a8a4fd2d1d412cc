"""What happened in the world on a day. Events may be entered late; `as_of` filters them."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from .base import Id, Note, NotNegative, Noun, Positive
from .money import Money


class OrderLine(Noun):
    """One line of an order: so many of an offer at a unit price."""

    offer: Id
    quantity: Positive = 1
    price: Money


class _Happening(Noun):
    id: Id
    day: date
    note: Note = ""


class Order(_Happening):
    """An order was placed."""

    kind: Literal["ordered"] = "ordered"
    supplier: Id
    route: Id | None = None
    collection: Id | None = None
    lines: tuple[OrderLine, ...]
    freight: Money | None = None
    deposit: Money | None = None
    promised: date | None = None


class Payment(_Happening):
    """Money was paid on an order, or a charge on its way home.

    Parameters
    ----------
    home_amount : what it came to in home currency, as the bank booked it
    allowance : what was set aside and is drawn on, for what no order names
    """

    kind: Literal["paid"] = "paid"
    order: Id | None = None
    allowance: Id | None = None
    amount: Money
    home_amount: Money | None = None
    what: Literal["goods", "deposit", "freight", "duty", "tax", "fees", "work", "other"] = "goods"


class PartCount(Noun):
    """So many of a part."""

    part: Id
    quantity: Positive = 1


class Receipt(_Happening):
    """Goods arrived."""

    kind: Literal["arrived"] = "arrived"
    order: Id | None = None
    lines: tuple[PartCount, ...]
    place: str = ""


class Check(_Happening):
    """Goods were checked on arrival, or offered up."""

    kind: Literal["checked"] = "checked"
    part: Id
    how: Literal["counted", "measured", "offered-up"] = "counted"
    good: bool = True


class Fitting(_Happening):
    """A part was fitted."""

    kind: Literal["fitted"] = "fitted"
    part: Id
    quantity: Positive = 1
    job: Id | None = None


class Return(_Happening):
    """A part went back."""

    kind: Literal["returned"] = "returned"
    order: Id | None = None
    part: Id
    quantity: Positive = 1
    refund: Money | None = None
    cost: Money | None = None


class Cancellation(_Happening):
    """What is still to come of an order was cancelled."""

    kind: Literal["cancelled"] = "cancelled"
    order: Id
    refund: Money | None = None


class Work(_Happening):
    """Hours were worked on a job."""

    kind: Literal["worked"] = "worked"
    job: Id
    hours: NotNegative
    done: bool = False
    hours_left: NotNegative | None = None


class StateChange(_Happening):
    """A state of the vehicle that readings were taken against has changed."""

    kind: Literal["changed"] = "changed"
    state: Id


Event = Annotated[
    Order | Payment | Receipt | Check | Fitting | Return | Cancellation | Work | StateChange,
    Field(discriminator="kind"),
]
