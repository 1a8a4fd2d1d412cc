"""Bills that came, line by line against what was likely when the order was placed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Refused
from ..build.events import Cancellation, Order, Payment
from ..landed import BillReport
from ..wiring import bill_report
from .ask import Ask, Asked, NotHereError
from .desk import View
from .words import day, exact

router = APIRouter()
CHARGES = ("duty", "tax", "fees")


@dataclass(frozen=True, slots=True)
class BillListed:
    """An order whose bill came or is to come.

    Parameters
    ----------
    what : from whom, ordered when; said : expected and billed, in words; odd : what stands out
    """

    path: str
    what: str
    said: str
    odd: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BillRow:
    """One line of a bill against what was expected."""

    label: str
    expected: str
    billed: str
    odd: bool
    text: str


@dataclass(frozen=True, slots=True)
class BillPage:
    """The bill of one order.

    Parameters
    ----------
    lead : how it stands, in a sentence; kept : when the likely bill was reckoned
    """

    what: str
    lead: str
    kept: str
    rows: tuple[BillRow, ...]
    expected: str
    billed: str
    order: str
    pay: str


def bill_path(order: str) -> str:
    """Address of an order's bill."""
    return f"/door/bills/{quote(order, safe='')}"


def bills_listed(view: View) -> tuple[BillListed, ...]:
    """Orders with a bill, those with something odd first, then the latest."""
    billed = {event.order for event in view.build.events if isinstance(event, Payment) and event.what in CHARGES}
    cancelled = {event.order for event in view.build.events if isinstance(event, Cancellation)}
    orders = [
        event
        for event in view.build.events
        if isinstance(event, Order) and event.id not in cancelled and (event.likely_bill or event.id in billed)
    ]
    found = [_listed(view, order, came=order.id in billed) for order in orders]
    days: dict[str, date] = {bill_path(order.id): order.day for order in orders}
    return tuple(sorted(found, key=lambda item: (not item.odd, -days[item.path].toordinal(), item.path)))


def _listed(view: View, order: Order, *, came: bool) -> BillListed:
    """An order's bill in a sentence; only what was kept with the order is compared in the list."""
    what = _what(view.build, order)
    if order.likely_bill is None:
        return BillListed(bill_path(order.id), what, "A bill came; none was reckoned when it was ordered.", ())
    report, _ = bill_report(view.build, order.id, view.as_of)
    if not came:
        return BillListed(bill_path(order.id), what, f"{exact(report.expected)} is likely to be asked on arrival.", ())
    odd = tuple(_sentence(line.text) for line in report.lines if line.odd)
    said = f"{exact(report.billed)} billed, {exact(report.expected)} expected."
    return BillListed(bill_path(order.id), what, said, odd)


def _what(build: Build, order: Order) -> str:
    return f"{build.find('suppliers', order.supplier).name}, ordered on {day(order.day)}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def bill_page(view: View, order: Order) -> BillPage:
    """The bill of one order; raises Refused where nothing can be reckoned."""
    report, kept = bill_report(view.build, order.id, view.as_of)
    when = "kept when it was ordered" if kept else "reckoned now, by today's rules: none was kept when it was ordered"
    return BillPage(
        what=_what(view.build, order),
        lead=_lead(report),
        kept=f"What was likely is {when}.",
        rows=tuple(
            BillRow(
                f"{line.label[:1].upper()}{line.label[1:]}",
                "–" if line.expected is None else exact(line.expected).rpartition(" ")[0],
                "–" if line.billed is None else exact(line.billed).rpartition(" ")[0],
                line.odd,
                _sentence(line.text) if line.odd else "",
            )
            for line in report.lines
        ),
        expected=exact(report.expected).rpartition(" ")[0],
        billed=exact(report.billed).rpartition(" ")[0],
        order=order.id,
        pay=f"/money?order={quote(order.id, safe='')}#pay",
    )


def _lead(report: BillReport) -> str:
    odd = [line for line in report.lines if line.odd]
    if odd:
        words = "One line of this bill stands out" if len(odd) == 1 else f"{len(odd)} lines of this bill stand out"
        return f"{words}: ask what it was reckoned on before you pay more."
    if report.billed.amount:
        return "Nothing on this bill stands out."
    if report.expected.amount:
        return f"No bill is written down yet; {exact(report.expected)} is likely to be asked on arrival."
    return "Nothing is likely to be asked on arrival."


def order_of(view: View, id_: str) -> Order:
    """An order by its id; not here if there is none such."""
    found = view.build.index["events"].get(id_)
    if not isinstance(found, Order):
        raise NotHereError("events", id_)
    return found


def show_bill(ask: Ask, id_: str) -> Response:
    """The bill of one order."""
    order = order_of(ask.view, id_)
    try:
        page = bill_page(ask.view, order)
    except Refused as refused:
        said = "; ".join(problem.what for problem in refused.problems)
        page = BillPage(_what(ask.view.build, order), f"It can't be reckoned: {said}.", "", (), "", "", id_, "")
    return ask.show("bill.html", page, title="A bill")


@router.get("/door/bills")
def show(ask: Asked) -> Response:
    """Every order with a bill."""
    return ask.show("bills.html", bills_listed(ask.view), title="Bills that came")


@router.get("/door/bills/{order}")
def show_one(order: str, ask: Asked) -> Response:
    """The bill of one order."""
    return show_bill(ask, order)
