"""An order taken from a supplier's confirmation: a spreadsheet, a mail or pasted rows, shown before it is written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Refused
from ..build.commerce import Supplier
from ..exchange.capture import order_tables
from ..exchange.confirmation import Confirmation, ConfirmedRow, read_confirmation
from ..exchange.container import filled
from ..wiring import with_likely_bills
from .ask import Ask, Asked
from .bringing import Listed, keep_list, kept_list
from .desk import View, put
from .form import Form
from .importing import brought
from .outlooks import name_of_offer
from .owned import Found, owned_before
from .suppliers import show_supplier, supplier_path
from .words import exact, number

router = APIRouter()


@dataclass(frozen=True, slots=True)
class RowShown:
    """A row of a confirmation: what it says, what it is taken for, and what is owned of that."""

    place: str
    said: str
    taken: str
    note: str
    owned: tuple[Found, ...]


@dataclass(frozen=True, slots=True)
class ConfirmationPage:
    """A confirmation before it is written.

    Parameters
    ----------
    problems : what stands in the way, in sentences; none: it can be written
    notes : what was taken for granted in several rows, in sentences
    """

    supplier: str
    supplier_path: str
    path: str
    key: str
    file: str
    day: str
    promised: str
    rows: tuple[RowShown, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]


def confirmation_page(
    view: View, supplier: Supplier, listed: Listed, found: Confirmation, when: date, promised: date | None
) -> ConfirmationPage:
    """The page of a confirmation that was read."""
    return ConfirmationPage(
        supplier=supplier.name,
        supplier_path=supplier_path(supplier.id),
        path=f"/buying/confirmations/{quote(supplier.id, safe='')}/{listed.key}",
        key=listed.key,
        file=listed.name,
        day=when.isoformat(),
        promised="" if promised is None else promised.isoformat(),
        rows=tuple(_row(view, row) for row in found.rows),
        problems=tuple(str(problem) for problem in found.problems),
        notes=tuple(f"{note[:1].upper()}{note[1:]}." for note in found.notes),
    )


def _row(view: View, row: ConfirmedRow) -> RowShown:
    price = "" if row.price is None else f" at {exact(row.price)}"
    said = f"{number(row.quantity)} × {row.name}{price}"
    if row.offer is None:
        return RowShown(row.place, said, "", row.why, ())
    taken = name_of_offer(view.build, view.build.find("offers", row.offer))
    return RowShown(row.place, said, f"{taken}, by its {row.how}", row.why, owned_before(view, row.offer))


def read(build: Build, supplier: str, listed: Listed, when: date, promised: date | None) -> Confirmation:
    """What a confirmation says; raises Refused."""
    tables = order_tables(filled(listed.content, listed.name), listed.name, build)
    return read_confirmation(tables, build, supplier, when, promised=promised)


def confirmed(build: Build, supplier: str, listed: Listed, form: Form, today: date) -> Build:
    """The build with the order a confirmation tells of; raises Refused where something stands in the way."""
    when, promised = _days(form, today)
    if form.problems:
        return build
    found = read(build, supplier, listed, when, promised)
    if found.order is None:
        raise Refused(found.problems)
    return with_likely_bills(build, put(build, "events", found.order))


def _days(form: Form, today: date) -> tuple[date, date | None]:
    when, promised = form.day("day", today), form.maybe_day("promised")
    if when > today:
        form.refuse("day", "after today", when.isoformat(), "Give the day you ordered.")
    return when, promised


# routes


@router.post("/buying/suppliers/{supplier}/confirmation")
def bring(supplier: str, ask: Asked) -> Response:
    """A confirmation that was uploaded or pasted; what it would write comes next."""
    ask.find("suppliers", supplier)
    name, content = brought(ask)
    when, promised = _days(ask.form, ask.today)
    if ask.form.problems:
        ask.problems = tuple(ask.form.problems)
        return show_supplier(ask, supplier)
    days = {"day": when.isoformat()} | ({"promised": promised.isoformat()} if promised else {})
    key = keep_list(ask, name, content)
    return ask.leave(f"/buying/confirmations/{quote(supplier, safe='')}/{key}?{urlencode(days)}")


def show_confirmation(ask: Ask, supplier: str, key: str, form: Form) -> Response:
    """What a confirmation would write, row by row."""
    seller: Supplier = ask.find("suppliers", supplier)
    listed = kept_list(ask, key)
    when, promised = _days(form, ask.today)
    when = min(when, ask.today)
    try:
        found = read(ask.view.build, supplier, listed, when, promised)
    except Refused as refused:
        found = Confirmation((), None, refused.problems)
    page = confirmation_page(ask.view, seller, listed, found, when, promised)
    return ask.show("confirmation.html", page, title=f"Order from {seller.name}")


@router.get("/buying/confirmations/{supplier}/{key}")
def show(supplier: str, key: str, ask: Asked) -> Response:
    """What a confirmation would write."""
    query = {name: [value] for name, value in ask.request.query_params.items()}
    return show_confirmation(ask, supplier, key, Form(query))


@router.post("/buying/confirmations/{supplier}/{key}")
def accept(supplier: str, key: str, ask: Asked) -> Response:
    """Write the order that was shown."""
    seller: Supplier = ask.find("suppliers", supplier)
    listed = kept_list(ask, key)
    return ask.write(
        lambda build: confirmed(build, supplier, listed, ask.form, ask.today),
        message=f"ordered from {seller.name}, by {listed.name}",
        back="/buying#on-order",
        again=lambda ask: show_confirmation(ask, supplier, key, ask.form),
    )
