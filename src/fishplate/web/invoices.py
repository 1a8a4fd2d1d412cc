"""Invoices: as they came, line by line against the order; paid, or still owed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money
from ..build.events import Event, Invoice, InvoiceLine, Order, Payment
from ..build.money import known_currencies
from ..records import InvoiceState, invoice_states, stages_asked
from .amounts import typed
from .ask import Ask, Asked, NotHereError
from .desk import View, fresh_id, put, without
from .form import Form, made
from .outlooks import name_of_offer
from .paying import order_words
from .resting import refuse_resting, resting
from .words import day, exact

router = APIRouter()
SPARE_ROWS: Final = 4
MOST_ROWS: Final = 60
KINDS: Final = (
    ("goods", "goods"), ("freight", "freight"), ("duty", "duty"), ("tax", "tax"), ("fees", "fees"),
    ("core", "a charge for the old part"), ("work", "work"), ("other", "something else"),
)  # fmt: skip
SENDERS: Final = (("seller", "the seller"), ("carrier", "the carrier"), ("workshop", "a workshop"))
PAID_AS: Final[Mapping[str, str]] = {"core": "goods"}


@dataclass(frozen=True, slots=True)
class RowFilled:
    """A line of the form, as it is filled from the order."""

    at: int
    label: str
    amount: str
    kind: str
    offer: str


@dataclass(frozen=True, slots=True)
class InvoiceForm:
    """The form of an invoice; order : the one it is filled from, sender : who sent it."""

    order: str
    rows: tuple[RowFilled, ...]
    currency: str
    orders: tuple[tuple[str, str], ...]
    workshops: tuple[tuple[str, str], ...]
    kinds: tuple[tuple[str, str], ...] = KINDS
    senders: tuple[tuple[str, str], ...] = SENDERS


@dataclass(frozen=True, slots=True)
class InvoiceShown:
    """An invoice.

    Parameters
    ----------
    said : by when it is to be paid, or that it is paid; apart : where it differs from the order
    owed : as the field is filled; empty when it is paid; foreign : its currency where that is not the home one
    stages : of the workshop's work that it may be for, where nothing on it tells
    """

    id: str
    path: str
    what: str
    total: str
    said: str
    apart: tuple[str, ...]
    photo: str
    owed: str
    currency: str
    foreign: bool
    stages: tuple[tuple[str, str], ...]
    can_go: bool


@dataclass(frozen=True, slots=True)
class InvoicesPage:
    """The page."""

    invoices: tuple[InvoiceShown, ...]
    form: InvoiceForm
    open: bool


def invoices_page(view: View, *, order: str = "", rows: int = 0) -> InvoicesPage:
    """The page; the form is filled from an order if one is named.

    Parameters
    ----------
    rows : lines the form has at least, for one that was sent with so many
    """
    found = invoice_states(view.build, view.as_of)
    return InvoicesPage(tuple(_shown(view, state) for state in found), _form(view, order, rows), bool(order))


def _shown(view: View, state: InvoiceState) -> InvoiceShown:
    invoice, build = state.invoice, view.build
    number = f" {invoice.number}" if invoice.number else ""
    owed = state.owed.rounded()
    if owed.amount <= 0:
        said = "Paid." if owed.amount == 0 else f"Paid, and {exact(-owed)} beyond it."
    else:
        late = invoice.due is not None and invoice.due < view.as_of
        by = "" if invoice.due is None else f" by {day(invoice.due)}{', which has passed' if late else ''}"
        said = f"{exact(owed)} is to be paid{by}."
    return InvoiceShown(
        id=invoice.id,
        path=_path(invoice.id),
        what=f"{_sender(build, invoice)}, invoice{number} of {day(invoice.day)}",
        total=exact(state.total),
        said=said,
        apart=tuple(f"{item.text[:1].upper()}{item.text[1:]}." for item in state.lines if item.apart),
        photo=invoice.photo,
        owed=typed(float(owed.amount), owed.currency) if owed.amount > 0 else "",
        currency=owed.currency,
        foreign=owed.currency != view.currency,
        stages=_stages(build, invoice),
        can_go=not resting(build, "events", invoice.id),
    )


def _stages(build: Build, invoice: Invoice) -> tuple[tuple[str, str], ...]:
    """Stages to choose from as a form has them; none where the invoice itself tells, or its workshop has none."""
    shop = build.index["workshops"].get(invoice.workshop or "")
    if shop is None or not shop.stages or stages_asked(shop, invoice):
        return ()
    return (("", "none of its stages"), *((stage.name, stage.name) for stage in shop.stages))


def _path(id_: str) -> str:
    return f"/money/invoices/{quote(id_, safe='')}"


def _sender(build: Build, invoice: Invoice) -> str:
    order = build.index["events"].get(invoice.order or "")
    shop = build.index["workshops"].get(invoice.workshop or "")
    if shop is not None:
        return str(shop.name)
    if not isinstance(order, Order):
        return dict(SENDERS)[invoice.sent_by][:1].upper() + dict(SENDERS)[invoice.sent_by][1:]
    seller = str(build.find("suppliers", order.supplier).name)
    return f"The carrier, for what {seller} sent" if invoice.sent_by == "carrier" else seller


def _form(view: View, order: str, rows: int) -> InvoiceForm:
    build = view.build
    found = build.index["events"].get(order)
    filled = list(_from_order(build, found)) if isinstance(found, Order) else []
    lines = [RowFilled(at, *row) for at, row in enumerate(filled, 1)]
    count = min(MOST_ROWS, max(len(lines) + SPARE_ROWS, rows))
    lines += [RowFilled(at, "", "", "goods", "") for at in range(len(lines) + 1, count + 1)]
    currency = found.lines[0].price.currency if isinstance(found, Order) and found.lines else view.currency
    shops = (("", "no workshop"), *((shop.id, shop.name) for shop in build.workshops))
    return InvoiceForm(
        order if isinstance(found, Order) else "", tuple(lines), currency, (("", "no order"), *order_words(view)), shops
    )


def _from_order(build: Build, order: Order) -> Iterator[tuple[str, str, str, str]]:
    """Label, amount, kind and offer of what an invoice for an order would ask."""
    for line in order.lines:
        name = name_of_offer(build, build.find("offers", line.offer))
        units = Decimal(str(line.quantity))
        whole = (line.price * units).rounded()
        yield f"{line.quantity:g} × {name}", typed(float(whole.amount), whole.currency), "goods", line.offer
        if line.core is not None:
            core = (line.core * units).rounded()
            yield f"Old part: {name}", typed(float(core.amount), core.currency), "core", ""
    if order.freight is not None:
        yield "Freight", typed(float(order.freight.amount), order.freight.currency), "freight", ""


# changes


def invoiced(view: View, build: Build, ask: Ask) -> Build:
    """The build with an invoice."""
    form = ask.form
    when, due, code = form.day("day", view.as_of), form.maybe_day("due"), form.text("currency", view.currency).upper()
    order, shop = form.text("order"), form.text("workshop")
    if code not in known_currencies():
        form.refuse("currency", "not a currency code", code, "Write it as EUR or GBP.")
        return build
    if order and not isinstance(build.index["events"].get(order), Order):
        form.refuse("order", "not an order of this build", order, "Choose one of the list.")
    if shop and shop not in build.index["workshops"]:
        form.refuse("workshop", "not a workshop of this build", shop, "Choose one of the list.")
    if when > view.as_of:
        form.refuse("day", "after today", when.isoformat(), "Give the day printed on it.")
    lines = tuple(_typed_lines(build, form, code))
    if not lines and not form.problems:
        form.refuse("amount-1", "nothing was filled in", do="Give at least one amount.")
    sender = form.choice("sent-by", [value for value, _ in SENDERS])
    photo = ask.keep_photo("photo", f"invoice {form.text('number')} {when.isoformat()}")
    if form.problems:
        return build
    id_ = fresh_id(build, "events", f"invoiced {when.isoformat()} {form.text('number') or order or shop}")
    event = made(
        Invoice, id=id_, day=when, order=order or None, workshop=shop or None, number=form.text("number"),
        sent_by=sender, due=due, lines=lines, photo=photo, note=form.text("note"),
    )  # fmt: skip
    return put(build, "events", event)


def _typed_lines(build: Build, form: Form, currency: str) -> Iterator[InvoiceLine]:
    kinds = dict(KINDS)
    for at in range(1, MOST_ROWS + 1):
        amount = form.money(f"amount-{at}", currency)
        if amount is None:
            continue
        kind, offer = form.text(f"kind-{at}", "goods"), form.text(f"offer-{at}")
        if kind not in kinds:
            form.refuse(f"kind-{at}", "not one of the choices", kind, "Choose one.")
            continue
        label = form.text(f"label-{at}", kinds[kind].capitalize())[:400]
        known = offer if kind == "goods" and offer in build.index["offers"] else None
        yield made(InvoiceLine, label=label, amount=amount, what=kind, offer=known)


def paid(view: View, build: Build, state: InvoiceState, form: Form) -> Build:
    """The build with an invoice paid; paid whole, each kind of amount is a payment of its own."""
    owed = state.owed.rounded()
    amount, booked = form.money("amount", owed.currency), form.money("home", view.currency)
    when = form.day("day", view.as_of)
    if when > view.as_of:
        form.refuse("day", "after today", when.isoformat(), "Give the day it was paid.")
    if amount is None and not form.problems:
        form.refuse("amount", "nothing was filled in", do="Give what was paid.")
    stage, stages = form.text("stage"), dict(_stages(build, state.invoice))
    if stage and stage not in stages:
        form.refuse("stage", "not one of the choices", stage, "Choose one.")
    if form.problems or amount is None:
        return build
    sums = _by_kind(state.invoice)
    if amount != owed or state.paid.amount or any(part.amount <= 0 for part in sums.values()):
        sums = {max(sums, key=lambda kind: sums[kind].amount): amount}
    left = booked
    for kind, money in sums.items():
        last = kind == list(sums)[-1]
        home = left if booked is None or left is None or last else (booked * (money.amount / amount.amount)).rounded()
        left = None if left is None or home is None else left - home
        id_ = fresh_id(build, "events", f"paid {when.isoformat()} {state.invoice.id} {kind}")
        event: Event = made(
            Payment, id=id_, day=when, order=state.invoice.order, invoice=state.invoice.id,
            workshop=state.invoice.workshop, stage=stage, amount=money, home_amount=home, what=kind,
        )  # fmt: skip
        build = put(build, "events", event)
    return build


def _by_kind(invoice: Invoice) -> dict[str, Money]:
    sums: dict[str, Money] = {}
    for line in invoice.lines:
        kind = PAID_AS.get(line.what, line.what)
        sums[kind] = sums[kind] + line.amount if kind in sums else line.amount
    return sums


# routes


def show_invoices(ask: Ask) -> Response:
    """The page."""
    rows = sum(1 for name in ask.form.fields if name.startswith("amount-"))
    order = ask.form.text("order") or ask.request.query_params.get("order", "")
    return ask.show("invoices.html", invoices_page(ask.view, order=order, rows=rows), title="Invoices")


@router.get("/money/invoices")
def show(ask: Asked) -> Response:
    """The page."""
    return show_invoices(ask)


@router.post("/money/invoices")
def take(ask: Asked) -> Response:
    """An invoice came."""
    view, number = ask.view, ask.form.text("number")[:60]
    return ask.write(
        lambda build: invoiced(view, build, ask), message=f"invoice {number}".strip(), back="/money/invoices",
        again=show_invoices,
    )  # fmt: skip


@router.post("/money/invoices/{invoice}/paid")
def take_payment(invoice: str, ask: Asked) -> Response:
    """An invoice was paid."""
    view = ask.view
    state = next((item for item in invoice_states(view.build, view.as_of) if item.invoice.id == invoice), None)
    if state is None:
        raise NotHereError("events", invoice)
    message = f"paid: {_sender(view.build, state.invoice)}, invoice {state.invoice.number}".strip()
    return ask.write(
        lambda build: paid(view, build, state, ask.form), message=message, back="/money/invoices", again=show_invoices
    )


@router.post("/money/invoices/{invoice}/out")
def take_out(invoice: str, ask: Asked) -> Response:
    """An invoice that was written down by mistake."""
    found = ask.find("events", invoice)
    if not isinstance(found, Invoice):
        raise NotHereError("events", invoice)

    def edit(build: Build) -> Build:
        refuse_resting(f"invoice {found.number}".strip(), resting(build, "events", invoice))
        return without(build, "events", invoice)

    return ask.write(edit, message="took an invoice out", back="/money/invoices", again=show_invoices)
