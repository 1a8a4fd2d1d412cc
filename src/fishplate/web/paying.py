"""Writing down a payment: on an order, out of an allowance, or neither."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money
from ..build.events import Order, Payment
from .amounts import rates_today, typed
from .ask import Ask, Asked, NotHereError
from .desk import View, fresh_id, put, without
from .form import Form, made
from .words import day, listed

router = APIRouter()
FOR: Final = (
    ("goods", "goods"),
    ("deposit", "a deposit"),
    ("freight", "freight"),
    ("duty", "duty"),
    ("tax", "tax"),
    ("fees", "fees of the carrier or the bank"),
    ("work", "work sent out"),
    ("other", "something else"),
)
NAMED: Final = 3


@dataclass(frozen=True, slots=True)
class PayForm:
    """The form of a payment, as it is filled.

    Parameters
    ----------
    key : names the form on its page
    order : the one it is for; chosen : the one the list stands at
    amount, currency : filled in where the order is not paid
    orders, allowances : what it can be on, or out of; currencies : home first
    """

    key: str
    order: str
    chosen: str
    amount: str
    currency: str
    orders: tuple[tuple[str, str], ...]
    allowances: tuple[tuple[str, str], ...]
    currencies: tuple[tuple[str, str], ...]
    kinds: tuple[tuple[str, str], ...] = FOR


def pay_form(view: View, *, order: str = "", chosen: str = "", money: Money | None = None) -> PayForm:
    """The form, for one order if it is named; else it can be chosen."""
    currency = view.currency if money is None else money.currency
    return PayForm(
        key=f"pay-{order}" if order else "pay",
        order=order,
        chosen=chosen,
        amount="" if money is None else typed(float(money.amount), currency),
        currency=currency,
        orders=(("", "no order"), *order_words(view)),
        allowances=(("", "nothing that is set aside"), *_allowances(view.build)),
        currencies=_currencies(view),
    )


def order_words(view: View) -> list[tuple[str, str]]:
    """Orders as a list to choose from, latest first."""
    build = view.build
    orders = [event for event in build.events if isinstance(event, Order) and event.day <= view.as_of]
    orders.sort(key=lambda order: (order.day, order.id), reverse=True)
    return [(order.id, f"{day(order.day)}, {_what(build, order)}") for order in orders]


def _what(build: Build, order: Order) -> str:
    names = []
    for line in order.lines:
        offer = build.find("offers", line.offer)
        noun = build.find("parts", offer.part) if offer.part is not None else build.find("kits", offer.kit or "")
        names.append(str(noun.name))
    return f"{build.find('suppliers', order.supplier).name}: {listed(names, NAMED)}"


def _allowances(build: Build) -> list[tuple[str, str]]:
    found = []
    for item in build.allowances:
        system = build.index["systems"].get(item.system or "")
        kind = "small things" if item.kind == "small-things" else "what is found on the way"
        found.append((item.id, f"{kind}, {system.name}" if system is not None else kind))
    return found


def _currencies(view: View) -> tuple[tuple[str, str], ...]:
    used = [supplier.currency for supplier in view.build.suppliers]
    used += [offer.price.currency for offer in view.build.offers]
    return tuple((code, code) for code in dict.fromkeys([view.currency, *sorted(set(used))]))


# changes


def paid(view: View, build: Build, form: Form) -> Build:
    """The build with a payment."""
    when, currency = form.day("day", view.as_of), form.text("currency", view.currency).upper()
    if currency not in rates_today(view):
        form.refuse("currency", "no rate is known for it", currency, "Take another, or enter a rate for it.")
        return build
    amount, booked = form.money("amount", currency), form.money("home", view.currency)
    if amount is None and not form.problems:
        form.refuse("amount", "nothing was filled in", do="Give what was paid.")
    _check(view, build, form, when)
    if form.problems:
        return build
    payment = made(
        Payment,
        id=fresh_id(build, "events", f"paid {when.isoformat()} {form.text('order') or form.text('what')}"),
        day=when,
        order=form.text("order") or None,
        allowance=form.text("allowance") or None,
        amount=amount,
        home_amount=booked,
        what=form.choice("what", [what for what, _ in FOR]),
        note=form.text("note"),
    )
    return put(build, "events", payment)


def _check(view: View, build: Build, form: Form, when: date) -> None:
    order, allowance = build.index["events"].get(form.text("order")), form.text("allowance")
    if when > view.as_of:
        form.refuse("day", "after today", when.isoformat(), "Give the day it was paid.")
    if form.text("order") and not isinstance(order, Order):
        form.refuse("order", "not an order of this build", form.text("order"), "Choose one of the list.")
    if allowance and allowance not in build.index["allowances"]:
        form.refuse("allowance", "not set aside in this build", allowance, "Choose one of the list.")


# routes


def _again(ask: Ask) -> Response:
    from .money import show_money

    return show_money(ask)


@router.post("/money/payments")
def take_payment(ask: Asked) -> Response:
    """A payment."""
    return ask.write(lambda build: paid(ask.view, build, ask.form), message=_message(ask), back="/money", again=_again)


def _message(ask: Ask) -> str:
    order = ask.view.build.index["events"].get(ask.form.text("order"))
    if isinstance(order, Order):
        return f"paid to {ask.view.build.find('suppliers', order.supplier).name}"
    return f"paid: {dict(FOR).get(ask.form.text('what'), 'something')}"


@router.post("/money/payments/{event}/out")
def take_out(event: str, ask: Asked) -> Response:
    """A payment that was written down by mistake."""
    if not isinstance(ask.find("events", event), Payment):
        raise NotHereError("events", event)
    return ask.write(
        lambda build: without(build, "events", event), message="took a payment out", back="/money", again=_again
    )
