"""What is on order and what can go back: where it is, what has come, what was paid; arrived, cancelled, sent back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money
from ..build.events import Order, Receipt, Return
from ..records import (
    ClaimDue,
    OrderAccount,
    OrderedLine,
    OrderState,
    ReturnRight,
    claims_due,
    known_threads,
    ledger,
    order_states,
    refund_by_terms,
    return_rights,
)
from .amounts import to_home, typed, with_original
from .ask import Ask, Asked, NotHereError
from .desk import View
from .order_edits import FAULTS, arrived, cancelled, delayed, refunded, sent_back
from .order_history import order_history
from .words import RETURN_ENDS, day, exact, listed, number

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ComingPart:
    """A part of an order that is still to come; thread : that is known of it, as a hint beside its field."""

    part: str
    name: str
    waiting: str
    thread: str


@dataclass(frozen=True, slots=True)
class OnOrder:
    """An order of which something is still to come.

    Parameters
    ----------
    what : the sentence; where : by which way and until when; arrived : what has come of it
    money : what it costs and what of it is paid
    parts : what is still to come, as fields; came : the day it came, as far as a trip tells, else today
    """

    id: str
    path: str
    supplier: str
    currency: str
    what: str
    where: str
    overdue: str
    arrived: str
    money: str
    note: str
    parts: tuple[ComingPart, ...]
    came: str


@dataclass(frozen=True, slots=True)
class CanGoBack:
    """A part in hand that can still go back.

    Parameters
    ----------
    what : the sentence; terms : on what terms, and whether they are assumed
    most : how many; cost : as fields are filled with them
    due : what comes back by its terms, beside the field
    """

    key: str
    path: str
    what: str
    terms: str
    most: str
    currency: str
    due: str
    cost: str


@dataclass(frozen=True, slots=True)
class OpenRefund:
    """Something that went back, and whose refund has not been written down; foreign: not in home currency."""

    id: str
    path: str
    what: str
    currency: str
    foreign: bool


@dataclass(frozen=True, slots=True)
class OrdersShown:
    """What is on order and what can go back."""

    on_order: tuple[OnOrder, ...]
    can_go_back: tuple[CanGoBack, ...]
    refunds: tuple[OpenRefund, ...]


def orders_shown(view: View) -> OrdersShown:
    """What is on order and what can go back, from the events up to today."""
    build, as_of = view.build, view.as_of
    states = order_states(build, as_of)
    books = ledger(build, as_of, to_home(build))
    accounts = {account.order.id: account for account in books.accounts}
    open_ = [state for state in states if state.is_open]
    open_.sort(key=lambda state: (_last_promise(state) or date.max, state.order.day, state.order.id))
    rights = return_rights(build, as_of)
    return OrdersShown(
        on_order=tuple(_on_order(view, state, accounts[state.order.id]) for state in open_),
        can_go_back=tuple(_can_go_back(view, right) for right in rights),
        refunds=tuple(_open_refund(view, build.find("events", event)) for event in books.refunds_open),
    )


def order_path(order: str) -> str:
    """Address of an order."""
    return f"/buying/orders/{quote(order, safe='')}"


def _names(build: Build) -> Mapping[str, str]:
    return {part.id: part.name for part in build.parts}


def counted(quantity: float, name: str) -> str:
    """So many of a thing.

    Examples
    --------
    >>> counted(2, "Rear spring"), counted(1, "Radiator")
    ('2 × Rear spring', 'Radiator')
    """
    return name if quantity == 1 else f"{number(quantity)} × {name}"


def _on_order(view: View, state: OrderState, account: OrderAccount) -> OnOrder:
    build, order = view.build, state.order
    names = _names(build)
    supplier = build.find("suppliers", order.supplier)
    coming = [counted(line.waiting, names[line.part]) for line in state.waiting]
    coming = coming or [counted(line.ordered, names[line.part]) for line in state.lines]
    came = [counted(line.arrived, names[line.part]) for line in state.lines if line.arrived]
    promised = _last_promise(state)
    late = 0 if promised is None else (view.as_of - promised).days
    return OnOrder(
        id=order.id,
        path=order_path(order.id),
        supplier=supplier.name,
        currency=order.lines[0].price.currency if order.lines else supplier.currency,
        what=f"{listed(coming, 4)} from {supplier.name}",
        where=_where(build, state),
        overdue=_overdue(view, order, late) if state.is_open else "",
        came=(_fetched_on(view, order) or view.as_of).isoformat(),
        arrived=_arrived(build, order, came),
        money=money_words_of(account),
        note=order.note,
        parts=tuple(_coming(view, line, names[line.part]) for line in state.waiting),
    )


def _coming(view: View, line: OrderedLine, name: str) -> ComingPart:
    known = known_threads(view.build, line.part, view.as_of)
    hint = f"it should be {' or '.join(known)}" if known else "as M10x1.25"
    return ComingPart(line.part, name, number(line.waiting), hint)


def _fetched_on(view: View, order: Order) -> date | None:
    """The day of the last trip that has fetched it, if nothing of it was counted in since."""
    trips = [trip.day for trip in view.build.collections if order.day <= trip.day <= view.as_of
             and (order.collection == trip.id or (order.collection is None and order.route == trip.route))]  # fmt: skip
    came = [event.day for event in view.build.events if isinstance(event, Receipt) and event.order == order.id]
    last = max(trips, default=None)
    return None if last is None or any(last <= day <= view.as_of for day in came) else last


def _overdue(view: View, order: Order, late: int) -> str:
    trip = _fetched_on(view, order)
    if trip is not None:
        return f"The trip of {day(trip)} is to be counted in."
    if late <= 0:
        return ""
    route = view.build.index["routes"].get(order.route or "")
    fetched = route is not None and route.kind == "collection"
    ask = "ask the depot whether it is there" if fetched else "ask them where it is"
    return f"That day was {late} day{'s' if late > 1 else ''} ago: {ask}."


def _last_promise(state: OrderState) -> date | None:
    """The last day promised for anything still to come; None if none stands."""
    return max((line.expected for line in state.waiting if line.expected), default=None)


def _where(build: Build, state: OrderState) -> str:
    order, last = state.order, _last_promise(state)
    promised = f"promised for {day(last)}" if last else "no day was promised"
    late = [line.part for line in state.waiting if line.on_back_order]
    if late:
        faulty = _faulty(build, order)
        held = [
            _listed(build, set(late) - faulty, "on back-order, without a day"),
            _listed(build, set(late) & faulty, "came faulty: another is owed"),
        ]
        promised = "; ".join(filter(None, [promised if last else "", *held]))
    if state.cancelled_on is not None:
        return f"Ordered on {day(order.day)}; what had not come was cancelled on {day(state.cancelled_on)}."
    if not state.is_open:
        return f"Ordered on {day(order.day)}; nothing of it is still to come."
    words = f"Ordered on {day(order.day)}, {promised}"
    trip = build.index["collections"].get(order.collection or "")
    if trip is not None:
        return f"{words}; waits for the trip of {day(trip.day)}."
    route = build.index["routes"].get(order.route or "")
    return f"{words}; {route.name}." if route is not None else f"{words}."


def _faulty(build: Build, order: Order) -> set[str]:
    """Parts of an order that came faulty."""
    receipts = [event for event in build.events if isinstance(event, Receipt) and event.order == order.id]
    return {line.part for receipt in receipts for line in receipt.lines if line.faulty}


def _listed(build: Build, parts: set[str], words: str) -> str:
    names = [part.name for part in build.parts if part.id in parts]
    return f"{listed(names, 3)} {words}" if names else ""


def _arrived(build: Build, order: Order, came: list[str]) -> str:
    if not came:
        return ""
    receipts = [event for event in build.events if isinstance(event, Receipt) and event.order == order.id]
    places = dict.fromkeys(event.place for event in receipts if event.place)
    where = f" ({', '.join(places)})" if places else ""
    return f"Already here: {listed(came, 4)}{where}."


def money_words_of(account: OrderAccount) -> str:
    """What an order costs, and what of it is paid."""
    due = with_original(account.due_home, account.due) if account.due_home else exact(account.due)
    owed = account.owed.rounded()
    if owed.amount == 0:
        return f"{due}, all paid."
    if owed.amount < 0:
        return f"{due}, paid with {exact(-owed)} beyond it: a deposit or a charge that may come back."
    return f"{due}, of which {exact(owed)} is still to be paid."


def _can_go_back(view: View, right: ReturnRight) -> CanGoBack:
    name = view.build.find("parts", right.part).name
    supplier = view.build.find("suppliers", right.supplier).name
    days = (right.until - view.as_of).days
    left = "today is the last day" if days == 0 else f"{days} day{'s' if days > 1 else ''} left"
    refund, back = right.refund(right.quantity), right.terms.freight_back
    due = "" if refund is None else f"; {exact(refund)} by {'usual' if right.assumed else 'their'} terms"
    return CanGoBack(
        key=f"{right.order}-{right.part}-{right.came}",
        path=f"/buying/returns/{quote(right.order, safe='')}/{quote(right.part, safe='')}/{right.came}",
        what=f"{counted(right.quantity, name)} can go back to {supplier} until {day(right.until)}: {left}",
        terms=_terms(right),
        most=number(right.quantity),
        currency=right.paid.currency,
        due=f"empty while it has not come{due}",
        cost="" if back is None else typed(float(back.amount), back.currency),
    )


def _terms(right: ReturnRight) -> str:
    terms = right.terms
    ends = f", unless it is {' or '.join(RETURN_ENDS[end] for end in terms.ended_by)} by then" if terms.ended_by else ""
    fee = f"; they keep {terms.restocking_percent:g} %" if terms.restocking_percent else ""
    whose = "taken for granted, common practice" if right.assumed else "their terms"
    return f"Came on {day(right.came)}; {terms.days} days from then{ends}{fee} ({whose})."


def _open_refund(view: View, event: Return) -> OpenRefund:
    order = view.build.index["events"].get(event.order or "")
    currency = order.lines[0].price.currency if isinstance(order, Order) and order.lines else view.currency
    name = view.build.find("parts", event.part).name
    due = refund_by_terms(view.build, event)
    comes = "" if due is None else f", {exact(due[0])} should come by {'usual' if due[1] else 'their'} terms"
    what = f"{counted(event.quantity, name)} went back on {day(event.day)}; no refund is written down{comes}"
    path = f"/buying/refunds/{quote(event.id, safe='')}"
    return OpenRefund(event.id, path, what, currency, currency != view.currency)


# routes


@dataclass(frozen=True, slots=True)
class OrderPage:
    """One order by itself; open : something of it is still to come; history : what happened with it, day by day."""

    order: OnOrder
    lines: tuple[tuple[str, str, str], ...]
    charges: Money
    delayable: tuple[tuple[str, str], ...]
    open: bool
    history: tuple[str, ...]
    faults: tuple[tuple[str, str], ...] = (("", "is all right"), *FAULTS.items())


def _open_order(view: View, id_: str) -> OrderState:
    """An order of which something is still to come; not here if there is none such."""
    state = _order(view, id_)
    if not state.is_open:
        raise NotHereError("events", id_)
    return state


def _order(view: View, id_: str) -> OrderState:
    for state in order_states(view.build, view.as_of):
        if state.order.id == id_:
            return state
    raise NotHereError("events", id_)


def show_order(ask: Ask, id_: str) -> Response:
    """The page of one order, or the piece of it that unfolds in the list."""
    view = ask.view
    state = _order(view, id_)
    books = ledger(view.build, view.as_of, to_home(view.build))
    account = next(account for account in books.accounts if account.order.id == id_)
    names = _names(view.build)
    lines = tuple(
        (counted(line.ordered, names[line.part]), number(line.arrived), exact(state.order.lines[line.line].price))
        for line in state.lines
    )
    offers = {line.offer: names[line.part] for line in state.waiting}
    delayable = (("", "all that is still to come"), *offers.items())
    shown, history = _on_order(view, state, account), order_history(view, state.order)
    page = OrderPage(shown, lines, account.charges, delayable, state.is_open, history)
    return ask.show("order.html", page, title=page.order.what)


@router.get("/buying/orders/{order}")
def show_one(order: str, ask: Asked) -> Response:
    """One order."""
    return show_order(ask, order)


@router.post("/buying/orders/{order}/arrived")
def take_arrival(order: str, ask: Asked) -> Response:
    """Parts of an order have come."""
    state, view = _open_order(ask.view, order), ask.view
    to_report: list[ClaimDue] = []

    def edit(build: Build) -> Build:
        new = arrived(build, state, ask.form, ask.today, keep=ask.keep_photo)
        to_report[:] = [due for due in claims_due(new, view.as_of) if due.order == order]
        return new

    return ask.write(
        edit,
        message=f"arrived from {view.build.find('suppliers', state.order.supplier).name}",
        back=lambda: "/shelf#in" if to_report else "/buying#on-order",
        again=lambda ask: show_order(ask, order),
    )


@router.post("/buying/orders/{order}/delayed")
def take_delay(order: str, ask: Asked) -> Response:
    """The supplier gave another day."""
    state = _open_order(ask.view, order)
    return ask.write(
        lambda build: delayed(build, state, ask.form, ask.today),
        message=f"another day from {ask.view.build.find('suppliers', state.order.supplier).name}",
        back="/buying#on-order",
        again=lambda ask: show_order(ask, order),
    )


@router.post("/buying/orders/{order}/cancelled")
def take_cancellation(order: str, ask: Asked) -> Response:
    """What is still to come will not."""
    state = _open_order(ask.view, order)
    return ask.write(
        lambda build: cancelled(build, state.order, ask.form, ask.today),
        message=f"cancelled with {ask.view.build.find('suppliers', state.order.supplier).name}",
        back="/buying#on-order",
        again=lambda ask: show_order(ask, order),
    )


@router.post("/buying/returns/{order}/{part}/{came}")
def take_return(order: str, part: str, came: str, ask: Asked) -> Response:
    """A part goes back."""
    from .buying import show_buying

    rights = return_rights(ask.view.build, ask.view.as_of)
    right = next((r for r in rights if (r.order, r.part, r.came.isoformat()) == (order, part, came)), None)
    if right is None:
        raise NotHereError("events", order)
    return ask.write(
        lambda build: sent_back(build, right, ask.form, ask.today),
        message=f"sent back: {ask.find('parts', part).name}",
        back="/buying#returns",
        again=show_buying,
    )


@router.post("/buying/refunds/{event}")
def take_refund(event: str, ask: Asked) -> Response:
    """A refund has come."""
    from .buying import show_buying

    found = ask.find("events", event)
    if not isinstance(found, Return):
        raise NotHereError("events", event)
    shown = _open_refund(ask.view, found)
    return ask.write(
        lambda build: refunded(build, found, ask.form, shown.currency, ask.today),
        message=f"refund: {ask.find('parts', found.part).name}",
        back="/buying#returns",
        again=show_buying,
    )
