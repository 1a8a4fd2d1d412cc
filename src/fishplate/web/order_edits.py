"""Changes to an order: goods in as they were found, another day, cancelled, sent back, refunded."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Final

from ..build import Build
from ..build.events import Cancellation, Delay, Order, PartCount, Receipt, Refund, Return
from ..records import OrderState, ReturnRight
from .desk import fresh_id, put
from .form import Form, made
from .words import day

FAULTS: Final = {
    "damaged": "came damaged", "wrong-item": "is the wrong thing", "wrong-side": "is for the wrong side",
    "wrong-thread": "has the wrong thread",
}  # fmt: skip


def arrived(
    build: Build, state: OrderState, form: Form, today: date, *, keep: Callable[[str, str], str] = lambda *_: ""
) -> Build:
    """The build with parts of an order received, as many of each as were counted.

    Parameters
    ----------
    keep : keeps the photo of a field under a name made from words, and says which
    """
    when, place = form.day("day", today), form.text("place")
    counts = []
    for line in state.waiting:
        count = form.maybe_number(f"came-{line.part}", at_least=0)
        if count:
            counts.append(_as_found(form, line.part, count, keep))
    if not counts and not form.problems:
        form.refuse("form", "nothing has come", do="Leave the number of at least one part above nothing.")
    not_after(form, when, today)
    if when < state.order.day and not form.problems:
        form.refuse("day", "before it was ordered", when.isoformat(), f"It was ordered on {day(state.order.day)}.")
    if form.problems:
        return build
    receipt = made(
        Receipt,
        id=fresh_id(build, "events", f"arrived {when.isoformat()} {state.order.supplier}"),
        day=when,
        order=state.order.id,
        lines=tuple(counts),
        place=place,
        note=form.text("note"),
    )
    return put(build, "events", receipt)


def _as_found(form: Form, part: str, count: float, keep: Callable[[str, str], str]) -> PartCount:
    """A part as it was counted and looked at."""
    faulty = form.maybe_number(f"faulty-{part}", at_least=0, at_most=count) or 0.0
    fault, side = form.text(f"fault-{part}"), form.text(f"side-{part}")
    if faulty and fault not in FAULTS:
        form.refuse(f"fault-{part}", "not said what is wrong with it", do="Choose what it is.")
    if fault in FAULTS and not faulty:
        form.refuse(f"faulty-{part}", "not said how many", do="Give how many of it.")
    noted = form.maybe_number(f"noted-{part}", at_least=0)
    made_on, use_by = form.maybe_day(f"made-{part}"), form.maybe_day(f"use-{part}")
    if form.problems:
        return PartCount(part=part, quantity=count)
    return made(
        PartCount,
        part=part,
        quantity=count,
        faulty=faulty,
        fault=fault if faulty else None,
        noted=noted,
        side=side or None,
        thread=form.text(f"thread-{part}"),
        made_on=made_on,
        use_by=use_by,
        photo=keep(f"photo-{part}", f"goods in {part}"),
    )


def delayed(build: Build, state: OrderState, form: Form, today: date) -> Build:
    """The build with another day, or none, for what is still to come of an order."""
    when, expected = form.day("day", today), form.maybe_day("expected")
    line = form.text("line")
    if line and line not in {item.offer for item in state.waiting}:
        form.refuse("line", "nothing of that is still to come", line, "Choose one of the list.")
    not_after(form, when, today)
    if form.problems:
        return build
    event = made(
        Delay,
        id=fresh_id(build, "events", f"delayed {when.isoformat()} {state.order.supplier}"),
        day=when,
        order=state.order.id,
        offers=(line,) if line else (),
        expected=expected,
        note=form.text("note"),
    )
    return put(build, "events", event)


def cancelled(build: Build, order: Order, form: Form, today: date) -> Build:
    """The build with what is still to come of an order cancelled."""
    when = form.day("day", today)
    refund = form.money("refund", _currency(build, order))
    not_after(form, when, today)
    if form.problems:
        return build
    id_ = fresh_id(build, "events", f"cancelled {when.isoformat()} {order.supplier}")
    event = made(Cancellation, id=id_, day=when, order=order.id, refund=refund, note=form.text("note"))
    return put(build, "events", event)


def sent_back(build: Build, right: ReturnRight, form: Form, today: date) -> Build:
    """The build with a part sent back."""
    when, quantity = form.day("day", today), form.number("quantity", at_least=0, at_most=right.quantity)
    refund, cost = form.money("refund", right.paid.currency), form.money("cost", right.paid.currency)
    not_after(form, when, today)
    if quantity == 0 and not form.problems:
        form.refuse("quantity", "none goes back", do="Give how many.")
    if form.problems:
        return build
    event = made(
        Return,
        id=fresh_id(build, "events", f"returned {when.isoformat()} {right.part}"),
        day=when,
        order=right.order,
        part=right.part,
        quantity=quantity,
        refund=refund,
        cost=cost,
        note=form.text("note"),
    )
    return put(build, "events", event)


def refunded(build: Build, event: Return, form: Form, currency: str, today: date) -> Build:
    """The build with what came back for a part that was sent back."""
    refund, booked = form.money("refund", currency), form.money("home", build.owner.currency)
    when = form.day("day", today)
    not_after(form, when, today)
    if refund is None:
        if not form.problems:
            form.refuse("refund", "nothing was filled in", do="Give what came back; 0 if nothing will.")
        return build
    if form.problems:
        return build
    id_ = fresh_id(build, "events", f"refunded {when.isoformat()} {event.part}")
    came = made(Refund, id=id_, day=when, order=event.order, returned=event.id, amount=refund, home_amount=booked)
    return put(build, "events", came)


def not_after(form: Form, when: date, today: date) -> None:
    """Refuses a day that has not come."""
    if when > today:
        form.refuse("day", "after today", when.isoformat(), "Give the day it happened.")


def _currency(build: Build, order: Order) -> str:
    return order.lines[0].price.currency if order.lines else str(build.find("suppliers", order.supplier).currency)
