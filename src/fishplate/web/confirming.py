"""An order taken from a supplier's confirmation: a spreadsheet, a mail or pasted rows, shown before it is written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Refused
from ..build.commerce import Supplier
from ..exchange.confirmation import Confirmation, ConfirmedRow
from ..wiring import with_likely_bills
from .ask import Ask, Asked
from .bringing import ConfirmationAsked, Listed, keep_list, kept_list, read_order
from .desk import View, put
from .form import Form
from .importing import READING_SECONDS, brought
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
    if row.how in ("freight", "core"):
        return RowShown(row.place, said.removeprefix("1 × "), row.why, "", ())
    if row.offer is None:
        return RowShown(row.place, said, "", row.why, ())
    taken = name_of_offer(view.build, view.build.find("offers", row.offer))
    return RowShown(row.place, said, f"{taken}, by its {row.how}", row.why, owned_before(view, row.offer))


def confirmed(build: Build, listed: Listed, asked: ConfirmationAsked, found: Confirmation | None) -> Build:
    """The build with the order a confirmation tells of; raises Refused where something stands in the way.

    Parameters
    ----------
    found : as it was read beside the page; None: it was not, or the build is another by now
    """
    if found is None or (found.order is not None and found.order.id in build.index["events"]):
        found = read_order(listed, build, asked)
    if found.order is None:
        raise Refused(found.problems)
    return with_likely_bills(build, put(build, "events", found.order))


def _days(form: Form, today: date) -> tuple[date, date | None]:
    when, promised = form.day("day", today), form.maybe_day("promised")
    if when > today:
        form.refuse("day", "after today", when.isoformat(), "Give the day you ordered.")
    return when, promised


def _asked(ask: Ask, supplier: str, key: str, form: Form) -> ConfirmationAsked:
    when, promised = _days(form, ask.today)
    return ConfirmationAsked(supplier, key, min(when, ask.today), promised)


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
    return ask.leave(_path(ConfirmationAsked(supplier, keep_list(ask, name, content), when, promised)))


def show_confirmation(ask: Ask, supplier: str, key: str, form: Form) -> Response:
    """What a confirmation would write, row by row, once it is read."""
    seller: Supplier = ask.find("suppliers", supplier)
    listed, asked = kept_list(ask, key), _asked(ask, supplier, key, form)
    standing = ask.desk.confirmed.of(ask.view, asked, patience_seconds=READING_SECONDS)
    title = f"Order from {seller.name}"
    if standing.value is None or not standing.current:
        over = (supplier_path(seller.id), seller.name)
        waits = {"name": listed.name, "said": standing.said, "path": _path(asked), "over": over}
        return ask.show("being_read.html", waits, title=title)
    page = confirmation_page(ask.view, seller, listed, standing.value, asked.day, asked.promised)
    return ask.show("confirmation.html", page, title=title)


def _path(asked: ConfirmationAsked) -> str:
    days = {"day": asked.day.isoformat()} | ({"promised": asked.promised.isoformat()} if asked.promised else {})
    return f"/buying/confirmations/{quote(asked.supplier, safe='')}/{asked.key}?{urlencode(days)}"


@router.get("/buying/confirmations/{supplier}/{key}")
def show(supplier: str, key: str, ask: Asked) -> Response:
    """What a confirmation would write."""
    query = {name: [value] for name, value in ask.request.query_params.items()}
    return show_confirmation(ask, supplier, key, Form(query))


@router.post("/buying/confirmations/{supplier}/{key}")
def accept(supplier: str, key: str, ask: Asked) -> Response:
    """Write the order that was shown."""
    seller: Supplier = ask.find("suppliers", supplier)
    listed, asked = kept_list(ask, key), _asked(ask, supplier, key, Form(ask.form.fields))
    standing = ask.desk.confirmed.of(ask.view, asked, patience_seconds=READING_SECONDS)
    found = standing.value if standing.current else None

    def edit(build: Build) -> Build:
        _days(ask.form, ask.today)
        return build if ask.form.problems else confirmed(build, listed, asked, found)

    return ask.write(
        edit,
        message=f"ordered from {seller.name}, by {listed.name}",
        back="/buying#on-order",
        again=lambda ask: show_confirmation(ask, supplier, key, ask.form),
    )
