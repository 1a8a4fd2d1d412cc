"""What happened in the world on a day. Events may be entered late; `as_of` filters them."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, model_validator

from .base import Id, Note, NotNegative, Noun, Positive, Text
from .money import Money


class OrderLine(Noun):
    """One line of an order: so many of an offer at a unit price.

    Parameters
    ----------
    expected : the day the supplier gave for this line, where it is not the order's
    core : core charge paid for one, which comes back with the old part
    listed : regular price of one in the week of the order
    announced : a higher price of one that was announced by then; both frozen, so that a saving stays what it was
    listed_at_door : all of it at the regular price, brought home by the seller's usual way; home currency
    at_door : all of it as ordered, by the way it comes; home currency; both as reckoned when it was ordered
    """

    offer: Id
    quantity: Positive = 1
    price: Money
    expected: date | None = None
    core: Money | None = None
    listed: Money | None = None
    announced: Money | None = None
    listed_at_door: Money | None = None
    at_door: Money | None = None


class LikelyCharge(Noun):
    """One amount likely to be asked on arrival, as it was reckoned when the order was placed.

    Parameters
    ----------
    amount : home currency; rule : id of the rule it rests on; note : where it comes from, in words
    """

    label: Text
    kind: Literal["freight", "duty", "tax", "fee"]
    amount: Money
    rule: Text
    note: Note = ""


class _Happening(Noun):
    id: Id
    day: date
    note: Note = ""


class Order(_Happening):
    """An order was placed.

    Parameters
    ----------
    likely_bill : what was likely to be asked on arrival; None if it was not reckoned
    """

    kind: Literal["ordered"] = "ordered"
    supplier: Id
    route: Id | None = None
    collection: Id | None = None
    lines: tuple[OrderLine, ...]
    freight: Money | None = None
    deposit: Money | None = None
    promised: date | None = None
    likely_bill: tuple[LikelyCharge, ...] | None = None


class Payment(_Happening):
    """Money was paid on an order, or a charge on its way home.

    Parameters
    ----------
    home_amount : what it came to in home currency, as the bank booked it
    allowance : what was set aside and is drawn on, for what no order names
    workshop, stage : the outside shop it went to, and for which stage of its work
    """

    kind: Literal["paid"] = "paid"
    order: Id | None = None
    invoice: Id | None = None
    workshop: Id | None = None
    stage: str = ""
    allowance: Id | None = None
    amount: Money
    home_amount: Money | None = None
    what: Literal["goods", "deposit", "freight", "duty", "tax", "fees", "work", "other"] = "goods"


class Delay(_Happening):
    """The supplier gave another day for what is still to come.

    Parameters
    ----------
    offers : the lines it is for; none: all that is still to come
    expected : the day; None: none was given, it is on back-order
    """

    kind: Literal["delayed"] = "delayed"
    order: Id
    offers: tuple[Id, ...] = ()
    expected: date | None = None


class InvoiceLine(Noun):
    """One amount of an invoice; offer : the goods it is for."""

    label: Text
    amount: Money
    what: Literal["goods", "freight", "duty", "tax", "fees", "core", "work", "other"] = "goods"
    offer: Id | None = None


class Invoice(_Happening):
    """An invoice came; its day is the one printed on it.

    Parameters
    ----------
    number : as printed; due : last day to pay
    """

    kind: Literal["invoiced"] = "invoiced"
    order: Id | None = None
    workshop: Id | None = None
    number: str = ""
    sent_by: Literal["seller", "carrier", "workshop"] = "seller"
    due: date | None = None
    lines: tuple[InvoiceLine, ...] = ()
    photo: str = ""


Fault = Literal["damaged", "wrong-item", "wrong-side", "wrong-thread", "short"]


class PartCount(Noun):
    """So many of a part, as they were counted and looked at.

    Parameters
    ----------
    quantity : counted, the faulty ones included
    faulty : how many of them are no use as they are; they are not owned, and the seller still owes them
    noted : how many the delivery note says, where that is not what was counted
    side, thread : as found on the part
    made_on, use_by : by its date code
    photo : name of an attachment
    """

    part: Id
    quantity: Positive = 1
    faulty: NotNegative = 0
    fault: Fault | None = None
    noted: NotNegative | None = None
    side: Literal["left", "right"] | None = None
    thread: Annotated[str, Field(max_length=60)] = ""
    made_on: date | None = None
    use_by: date | None = None
    photo: str = ""

    @model_validator(mode="after")
    def _no_more_faulty_than_counted(self) -> PartCount:
        if self.faulty > self.quantity:
            raise ValueError("more are faulty than were counted")
        return self


class Receipt(_Happening):
    """Goods arrived."""

    kind: Literal["arrived"] = "arrived"
    order: Id | None = None
    lines: tuple[PartCount, ...]
    place: str = ""


class Claim(_Happening):
    """Faulty or missing goods were reported to the seller, or the carrier.

    Parameters
    ----------
    receipt : the arrival it is about
    """

    kind: Literal["claimed"] = "claimed"
    order: Id | None = None
    receipt: Id | None = None
    part: Id
    quantity: Positive = 1
    fault: Fault = "damaged"
    photo: str = ""


class Settlement(_Happening):
    """How a claim ended.

    Parameters
    ----------
    outcome : "replacement" another one comes; "refund" money comes and nothing more is sent; "price-reduction" it is
        kept and is good enough; "refused" nothing comes
    """

    kind: Literal["settled"] = "settled"
    claim: Id
    outcome: Literal["replacement", "refund", "price-reduction", "refused"]
    amount: Money | None = None


class Check(_Happening):
    """Goods were checked on arrival, or offered up.

    Parameters
    ----------
    quantity : how many were checked; None: all that lie there
    how : how far the check went, which may end the right to send it back
    faulty : how many of them are not right, where it is not good; None: all of them
    """

    kind: Literal["checked"] = "checked"
    part: Id
    quantity: Positive | None = None
    how: Literal["counted", "measured", "opened", "offered-up", "bolted", "electrical", "altered"] = "counted"
    good: bool = True
    faulty: Positive | None = None

    @model_validator(mode="after")
    def _no_more_faulty_than_checked(self) -> Check:
        if self.faulty is not None and self.good:
            raise ValueError("some are not right, so that it is not good")
        if self.faulty is not None and self.quantity is not None and self.faulty > self.quantity:
            raise ValueError("more are not right than were checked")
        return self

    @property
    def wrong(self) -> float | None:
        """How many were found not right; None: all that lie there."""
        return 0.0 if self.good else self.faulty or self.quantity


class Fitting(_Happening):
    """A part was fitted."""

    kind: Literal["fitted"] = "fitted"
    part: Id
    quantity: Positive = 1
    job: Id | None = None


class Return(_Happening):
    """A part went back.

    Parameters
    ----------
    claim : the claim it belongs to: what was faulty was never owned
    refund : what came back for it; fee : what the seller kept of the price; cost : of sending it
    """

    kind: Literal["returned"] = "returned"
    order: Id | None = None
    claim: Id | None = None
    part: Id
    quantity: Positive = 1
    refund: Money | None = None
    fee: Money | None = None
    cost: Money | None = None


class Reclaim(_Happening):
    """Tax or duty was asked back from an authority."""

    kind: Literal["reclaimed"] = "reclaimed"
    order: Id | None = None
    returned: Id | None = None
    what: Literal["import-tax", "origin-tax"] = "import-tax"
    amount: Money | None = None


class Refund(_Happening):
    """Money came back.

    Parameters
    ----------
    returned, claim : what it is for, where it is for a return or a claim
    home_amount : what it came to in home currency, as the bank booked it
    """

    kind: Literal["refunded"] = "refunded"
    order: Id | None = None
    returned: Id | None = None
    claim: Id | None = None
    offer: Id | None = None
    amount: Money
    home_amount: Money | None = None
    what: Literal["goods", "core", "import-tax", "origin-tax", "other"] = "goods"


class CoreSent(_Happening):
    """Old parts went back for their core charge."""

    kind: Literal["core-sent"] = "core-sent"
    order: Id | None = None
    offer: Id
    quantity: Positive = 1
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


class Move(_Happening):
    """Something was put somewhere else.

    Parameters
    ----------
    quantity : how many; None: all of it
    from_place : where it was taken from; empty: wherever it lies
    """

    kind: Literal["moved"] = "moved"
    part: Id
    quantity: Positive | None = None
    from_place: str = ""
    place: str


class StockTake(_Happening):
    """What lies there was counted, fitted ones left out; the count stands from then on.

    Parameters
    ----------
    place : where it was counted; empty: everywhere
    """

    kind: Literal["counted"] = "counted"
    part: Id
    quantity: NotNegative
    place: str = ""


class StageShown(_Happening):
    """A workshop showed that a stage of its work is done."""

    kind: Literal["stage-shown"] = "stage-shown"
    workshop: Id
    stage: Text
    photo: str = ""


class StateChange(_Happening):
    """A state of the vehicle that readings were taken against has changed."""

    kind: Literal["changed"] = "changed"
    state: Id


Event = Annotated[
    Order
    | Payment
    | Delay
    | Invoice
    | Receipt
    | Claim
    | Settlement
    | Check
    | Fitting
    | Return
    | Reclaim
    | Refund
    | CoreSent
    | Cancellation
    | Work
    | Move
    | StockTake
    | StageShown
    | StateChange,
    Field(discriminator="kind"),
]
