"""The shelf: what lies where, what must be reported or go back, what others owe, what spoils; counted on the phone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.events import Claim, Fault, Order, Settlement
from ..records import (
    MoneyBack,
    best_check,
    claims_due,
    money_back,
    return_rights,
    shelf_lives,
    threads_apart,
    to_send_back,
    warranties,
    workshop_states,
)
from . import enquiring, sent_out, shelving
from .amounts import to_home, typed
from .ask import Ask, Asked
from .desk import View
from .enquiring import path_of
from .ordering import counted
from .owned import Found, found_by_words
from .sent_out import queue_words, stage_words
from .words import day, exact, listed, number

router = APIRouter()
router.include_router(shelving.router)
router.include_router(enquiring.router)
router.include_router(sent_out.router)
NOWHERE: Final = "Nobody said where"
LATEST_BACK: Final = 60
"""Days after its end for which a claim asks whether something went back."""
ENDED: Final = {
    "replacement": "send another one", "refund": "give the money back", "price-reduction": "take something off",
    "refused": "refuse",
}  # fmt: skip
FAULTS: Final[dict[Fault, str]] = {
    "damaged": "came damaged", "wrong-item": "is the wrong thing", "wrong-side": "is for the wrong side",
    "wrong-thread": "has the wrong thread", "short": "is on the delivery note and did not come",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Lying:
    """A part at a place: its field, and how many lie there."""

    part: str
    name: str
    count: str


@dataclass(frozen=True, slots=True)
class Place:
    """A place and what lies there; key : of its form."""

    key: str
    name: str
    title: str
    parts: tuple[Lying, ...]


@dataclass(frozen=True, slots=True)
class ToReport:
    """A fault that was found on arrival and not reported."""

    key: str
    what: str
    by: str
    receipt: str
    part: str
    fault: str
    quantity: str


@dataclass(frozen=True, slots=True)
class Reported:
    """A claim that has not ended, or of which something is still to go back.

    Parameters
    ----------
    currency : of what may come back; ended : how it ended, in words; empty: it has not
    back : how many may still have to go back; empty: none
    """

    id: str
    path: str
    what: str
    currency: str
    ended: str
    back: str


@dataclass(frozen=True, slots=True)
class ToCheck:
    """A part that can go back, and the strongest check that keeps that so.

    Parameters
    ----------
    readings : name and path of what to measure on it; several : more than one of it can go back
    """

    part: str
    path: str
    what: str
    check: str
    how: str
    readings: tuple[tuple[str, str], ...]
    several: bool


@dataclass(frozen=True, slots=True)
class NotRight:
    """A part that was checked and is not right, and until when it can go back."""

    what: str
    until: str


@dataclass(frozen=True, slots=True)
class Owing:
    """Money that is to come back.

    Parameters
    ----------
    sent : path of the form for what was sent or asked for; empty where it was, or nothing is to be
    came : path of the form for what has come
    foreign : whether it comes in another currency than that of home
    """

    key: str
    what: str
    text: str
    sent: str
    sent_words: str
    came: str
    amount: str
    currency: str
    foreign: bool


@dataclass(frozen=True, slots=True)
class ShelfPage:
    """The whole room."""

    lead: str
    coming: tuple[tuple[str, str], ...]
    threads: tuple[tuple[str, str], ...]
    report: tuple[ToReport, ...]
    reported: tuple[Reported, ...]
    wrong: tuple[NotRight, ...]
    check: tuple[ToCheck, ...]
    owing: tuple[Owing, ...]
    spoils: tuple[str, ...]
    warranties: tuple[str, ...]
    workshops: tuple[tuple[str, tuple[str, ...]], ...]
    places: tuple[Place, ...]
    names: tuple[str, ...]
    sellers: tuple[tuple[str, str], ...]
    looked_for: str
    found: tuple[Found, ...]


def shelf_page(view: View, looked_for: str = "") -> ShelfPage:
    """The room, from the events up to today."""
    build = view.build
    report, reported = tuple(_to_report(view)), tuple(_reported(view))
    owing = owing_of(view)
    places, wrong = _places(view), tuple(_not_right(view))
    return ShelfPage(
        lead=_lead(view, len(report), len(wrong), len(owing)),
        coming=tuple(_coming(view)),
        threads=tuple(_threads(view)),
        report=report,
        reported=reported,
        wrong=wrong,
        check=tuple(_to_check(view)),
        owing=owing,
        spoils=tuple(_spoils(view)),
        warranties=tuple(_warranties(view)),
        workshops=tuple(_workshops(view)),
        places=places,
        names=tuple(part.name for part in build.parts),
        sellers=tuple((item.name, path_of(item.id)) for item in build.suppliers),
        looked_for=looked_for,
        found=found_by_words(view, looked_for) if looked_for else (),
    )


def _lead(view: View, faults: int, wrong: int, owing: int) -> str:
    if faults:
        return f"{faults} thing{'s' if faults > 1 else ''} came faulty or short and must be reported."
    if wrong:
        return f"{wrong} thing{'s are' if wrong > 1 else ' is'} not right: send {'them' if wrong > 1 else 'it'} back."
    if owing:
        return f"Money is to come back for {owing} thing{'s' if owing > 1 else ''}."
    lying = sum(1 for item in view.facts.lies.values() if item.lying > 0)
    return f"{lying} part{'s lie' if lying != 1 else ' lies'} ready." if lying else "Nothing lies on the shelf yet."


def _coming(view: View) -> Iterator[tuple[str, str]]:
    """Orders something is still to come of, as (what, path to its goods-in)."""
    orders: dict[str, list[str]] = defaultdict(list)
    for item in view.facts.incoming:
        orders[item.order].append(counted(item.quantity, view.build.find("parts", item.part).name))
    for order, names in orders.items():
        seller = view.build.find("suppliers", view.build.find("events", order).supplier).name
        yield f"{listed(names, 4)} from {seller}", f"/buying/orders/{quote(order, safe='')}"


def _threads(view: View) -> Iterator[tuple[str, str]]:
    """Threads that are others than is known, each with the page of its part."""
    for item in threads_apart(view.build, view.as_of):
        name = view.build.find("parts", item.part).name
        yield (
            f"{name} came with {item.found}; {item.known} is what is known of it: look again, and send it back if so",
            f"/parts/{quote(item.part, safe='')}",
        )


def _to_report(view: View) -> Iterator[ToReport]:
    for due in claims_due(view.build, view.as_of):
        name = view.build.find("parts", due.part).name
        late = "; that day has passed: tell them at once" if due.until < view.as_of else ""
        terms = "common practice; their terms may give less" if due.assumed else "their terms"
        whom = "the seller" if due.supplier is None else view.build.find("suppliers", due.supplier).name
        yield ToReport(
            f"claim-{due.receipt}-{due.part}-{due.fault}",
            f"{counted(due.quantity, name)} {FAULTS[due.fault]}",
            f"Tell {whom} by {day(due.until)} ({terms}){late}.",
            *(due.receipt, due.part, due.fault, number(due.quantity)),
        )


def _reported(view: View) -> Iterator[Reported]:
    ends = {event.claim: event for event in view.build.events if isinstance(event, Settlement)
            and event.day <= view.as_of}  # fmt: skip
    for claim in (event for event in view.build.events if isinstance(event, Claim) and event.day <= view.as_of):
        end, back = ends.get(claim.id), to_send_back(view.build, claim, view.as_of)
        if end is not None and (back <= 0 or (view.as_of - end.day).days > LATEST_BACK):
            continue
        name = view.build.find("parts", claim.part).name
        order = view.build.index["events"].get(claim.order or "")
        seller = view.build.find("suppliers", order.supplier) if isinstance(order, Order) else None
        whom = "" if seller is None else f" to {seller.name}"
        what = f"{counted(claim.quantity, name)} {FAULTS[claim.fault]}: reported{whom} on {day(claim.day)}"
        currency = view.currency if seller is None else seller.currency
        ended = "" if end is None else f"They {ENDED[end.outcome]}, on {day(end.day)}."
        path = f"/shelf/claims/{quote(claim.id, safe='')}"
        yield Reported(claim.id, path, what, currency, ended, number(back) if back > 0 else "")


def _not_right(view: View) -> Iterator[NotRight]:
    rights = {right.part: right for right in reversed(return_rights(view.build, view.as_of))}  # the soonest stays
    for part, found in view.facts.wrong.items():
        name, wrong, lies = view.build.find("parts", part).name, view.facts.wrong_counts[part], view.facts.lies[part]
        some = f"{number(wrong)} of {number(lies.lying)} × {name}, as checked on {day(found)}, "
        some += "is not right" if wrong == 1 else "are not right"
        what = f"{name} was checked on {day(found)} and is not right" if wrong >= lies.lying else some
        right = rights.get(part)
        if right is None:
            yield NotRight(what, "")
        else:
            seller = view.build.find("suppliers", right.supplier).name
            yield NotRight(what, f"It can go back to {seller} until {day(right.until)}.")


def _to_check(view: View) -> Iterator[ToCheck]:
    seen = set(view.facts.wrong)
    for right in return_rights(view.build, view.as_of):
        check = best_check(view.build, right, view.as_of)
        if check.done or right.part in seen:
            continue
        seen.add(right.part)
        name = view.build.find("parts", right.part).name
        how = "bolted" if check.how == "fitted" else check.how
        what = f"{counted(right.quantity, name)} can go back until {day(right.until)}"
        names = {id_: view.build.find("dimensions", id_).name for id_ in check.dimensions}
        readings = tuple((name, f"/interfaces/dimensions/{quote(id_, safe='')}") for id_, name in names.items())
        yield ToCheck(
            right.part, f"/shelf/checks/{quote(right.part, safe='')}", what, check.text, how,
            readings if check.how != "counted" else (), right.quantity > 1,
        )  # fmt: skip


def owing_of(view: View) -> tuple[Owing, ...]:
    """Money that is to come back."""
    return tuple(_owing(view, item) for item in money_back(view.build, view.as_of, to_home(view.build)))


def _owing(view: View, item: MoneyBack) -> Owing:
    build = view.build
    name = _name_of(build, item)
    order = build.index["events"].get(item.order or "")
    currency = item.amount.currency if item.amount else order.lines[0].price.currency if order else view.currency
    words = {
        "refund": "Refund for", "claim": "Promised for", "cancelled": "Paid for what was cancelled with",
        "core": "Core charge of", "import-tax": "Duty and tax on", "origin-tax": "Tax of the country of",
    }  # fmt: skip
    amount = "" if item.amount is None else f", {exact(item.amount)}"
    until = "" if item.until is None else f" Until {day(item.until)}."
    flagged = f" ({item.source}{', common practice' if item.assumed else ''})" if item.source else ""
    base = f"/shelf/back/{item.kind}/{quote(item.key, safe='')}"
    asked = {"core": "The old part is sent", "import-tax": "I asked customs", "origin-tax": "I asked for it"}
    return Owing(
        key=f"{item.kind}-{item.key}".replace("/", "-"),
        what=f"{words[item.kind]} {name}{amount}",
        text=f"{item.text}{until}{flagged}",
        sent="" if item.asked or item.kind not in asked else f"{base}/sent",
        sent_words=asked.get(item.kind, ""),
        came=f"{base}/came",
        amount=typed(None if item.amount is None else float(item.amount.amount), currency),
        currency=currency,
        foreign=currency != view.currency,
    )


def _name_of(build: Build, item: MoneyBack) -> str:
    for name in ("parts", "suppliers"):
        if item.what in build.index[name]:
            return str(build.find(name, item.what).name)
    offer = build.find("offers", item.what)
    noun = build.find("parts", offer.part) if offer.part is not None else build.find("kits", offer.kit or "")
    return str(noun.name)


def _spoils(view: View) -> Iterator[str]:
    for life in shelf_lives(view.build, view.as_of):
        name = counted(life.quantity, view.build.find("parts", life.part).name)
        over = "is past its day" if life.use_by < view.as_of else "keeps until"
        yield f"{name} {over}{':' if life.use_by < view.as_of else ''} {day(life.use_by)} (by {life.ground})"


def _warranties(view: View) -> Iterator[str]:
    for item in warranties(view.build, view.as_of):
        name = view.build.find("parts", item.part).name
        if item.until is None:
            yield f"{name}: {item.months} months from the day it is fitted"
        else:
            yield f"{name}: until {day(item.until)} ({item.months} months from {day(item.from_day)})"


def _workshops(view: View) -> Iterator[tuple[str, tuple[str, ...]]]:
    for state in workshop_states(view.build, view.as_of):
        said = [*queue_words(state), *(f"{item.stage.name}: {stage_words(item)}" for item in state.stages)]
        if said:
            yield state.workshop.name, tuple(said)


def _places(view: View) -> tuple[Place, ...]:
    places: dict[str, list[Lying]] = defaultdict(list)
    for part in view.build.parts:
        lies = view.facts.lies.get(part.id)
        for place, count in () if lies is None else sorted(lies.places.items()):
            places[place].append(Lying(part.id, part.name, number(count)))
    return tuple(
        Place(f"count-{index}", name, name or NOWHERE, tuple(places[name]))
        for index, name in enumerate(sorted(places, key=lambda name: (not name, name.casefold())))
    )


def show_shelf(ask: Ask) -> Response:
    """The room as a page."""
    looked_for = ask.request.query_params.get("part", "").replace("\x00", "").strip()[:200]
    return ask.show("shelf.html", shelf_page(ask.view, looked_for), title="Shelf")


@router.get("/shelf")
def show(ask: Asked) -> Response:
    """The page."""
    return show_shelf(ask)
