"""The savings book: what each order saved or avoided, less what having it early cost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Money
from ..records import LeadTimes, SavingsBook, SavingsLine, lead_times, savings_book
from .advice import offer_path
from .amounts import to_home
from .ask import Ask, Asked
from .desk import View
from .outlooks import name_of_offer
from .words import exact, listed

router = APIRouter()


@dataclass(frozen=True, slots=True)
class SavedLine:
    """One line of the book; parts : what it is made of, in words."""

    day: date
    what: str
    path: str
    kept: str
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SavedPage:
    """The book; suppliers : how their lead times turned out."""

    total: str
    tentative: str
    lines: tuple[SavedLine, ...]
    left_out: str
    suppliers: tuple[str, ...]


def saved_page(view: View) -> SavedPage:
    """The page, from the events up to today."""
    book = savings_book(view.build, view.facts, to_home(view.build))
    names = [name_of_offer(view.build, view.build.find("offers", offer)) for _, offer in book.without_rate]
    return SavedPage(
        total=_total(book),
        tentative=f"{exact(book.tentative)} more if the announced rises are seen." if book.tentative.amount else "",
        lines=tuple(_line(view, line) for line in book.lines),
        left_out=f"Left out, because no rate is known: {listed(names)}." if names else "",
        suppliers=tuple(_supplier(item) for item in lead_times(view.build, view.as_of).values()),
    )


def _total(book: SavingsBook) -> str:
    if not book.lines:
        return "Nothing is ordered yet."
    if book.kept.amount < 0:
        return f"Up to today the orders cost {exact(-book.kept)} more than buying at the regular price when needed."
    return f"Up to today {exact(book.kept)} was kept."


def _line(view: View, line: SavingsLine) -> SavedLine:
    offer = view.build.find("offers", line.offer)
    return SavedLine(line.day, name_of_offer(view.build, offer), offer_path(line.offer), _signed(line.kept),
                     tuple(_parts(line)))  # fmt: skip


def _signed(money: Money) -> str:
    return exact(money) if money.amount >= 0 else f"−{exact(-money)}"


def _parts(line: SavingsLine) -> Iterator[str]:
    if line.returned.amount:
        yield f"{exact(line.returned)} lost on what went back or never came: what they kept, and what sending it cost"
    if line.forfeited.amount:
        yield f"{exact(line.forfeited)} lost of what had been paid: it was cancelled, and they kept it"
    if not line.paid.amount:  # all of it went back, and saved nothing
        if line.carrying.amount:
            yield f"{exact(line.carrying)} for money tied up until then"
        return
    yield f"{exact(line.paid)} {'at the door' if line.at_door else 'for the goods alone'}"
    if line.saving is None:
        yield "no regular price was known then"
    else:
        frozen = "written down with the order" if line.frozen else "seen by then"
        way = " by the usual way home" if line.at_door else ""
        gained = f"{_signed(line.saving)} against" if line.saving.amount else "as much as"
        yield f"{gained} the regular price{way}, {frozen}"
    if line.avoidance is not None:
        seen = "a higher price seen since" if line.seen else "a rise that was announced; it counts once it is seen"
        yield f"{exact(line.avoidance)} against {seen}"
    if line.carrying.amount:
        yield f"{exact(line.carrying)} for money tied up until it is fitted"
    if line.lapsed.amount:
        yield f"{exact(line.lapsed)} likely lost: no use, and it can't go back any more"


def _supplier(item: LeadTimes) -> str:
    count = len(item.deliveries)
    own = sum(delivery.factor for delivery in item.deliveries) / count
    came = "its one delivery" if count == 1 else f"its {count} deliveries"
    return f"{item.name}: {came} took {own:.2g} times as long as quoted; the plan counts on {item.factor:.2g} times."


def show_saved(ask: Ask) -> Response:
    """The page."""
    return ask.show("saved.html", saved_page(ask.view), title="Savings book")


@router.get("/money/saved")
def show(ask: Asked) -> Response:
    """The page."""
    return show_saved(ask)
