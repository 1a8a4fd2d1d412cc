"""Buying: what to order, when and from whom; what is on order; what can go back; what is ahead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, offer_contents
from ..plan import Plan
from ..plan.model import PlannedCollection, PlannedLine, clash_lines
from . import (
    confirming,
    consignments,
    day_file,
    fixing,
    ordering,
    outlooks,
    stress,
    suppliers,
    terms,
    whole_system,
    why,
)
from .ahead import Ahead, Held, ahead_of, held_of
from .amounts import to_the_cent
from .ask import Ask, Asked
from .consignments import ConsignmentShown, consignment_shown, still_to_order
from .desk import View
from .form import Form
from .ordering import OrdersShown, orders_shown
from .questions import answer
from .suppliers import supplier_path
from .words import amount, day, listed

router = APIRouter()
for part in (
    day_file,
    fixing,
    why,
    stress,
    consignments,
    ordering,
    outlooks,
    confirming,
    suppliers,
    terms,
    whole_system,
):
    router.include_router(part.router)

FIRST = 5


@dataclass(frozen=True, slots=True)
class TripShown:
    """A trip the plan makes."""

    what: str
    brings: str
    path: str


@dataclass(frozen=True, slots=True)
class Unsold:
    """A part that nobody is known to sell, or none of whose offers can be ordered."""

    part: str
    name: str
    path: str
    why: str


@dataclass(frozen=True, slots=True)
class BuyingPage:
    """The page.

    Parameters
    ----------
    total, gap : what is still to be bought, and how far from the cheapest that can be
    first, later : consignments, soonest first; done : what was ordered since the plan
    clash : why not everything can be bought, and ways out
    suppliers : names of those who sell, for an offer that is added; sellers : their names and pages
    """

    total: str
    gap: str
    first: tuple[ConsignmentShown, ...]
    later: tuple[ConsignmentShown, ...]
    later_total: str
    done: tuple[str, ...]
    trips: tuple[TripShown, ...]
    held: tuple[Held, ...]
    unsold: tuple[Unsold, ...]
    ahead: tuple[Ahead, ...]
    orders: OrdersShown
    suppliers: tuple[str, ...]
    clash: tuple[str, ...] = ()
    sellers: tuple[tuple[str, str], ...] = ()


def buying_page(view: View) -> BuyingPage:
    """The page, from the last plan and the events up to today."""
    orders = orders_shown(view)
    suppliers = tuple(supplier.name for supplier in view.build.suppliers)
    plan = view.plan
    if plan is None:
        unsold = tuple(_unsold(view, None))
        return BuyingPage("", "", (), (), "", (), (), (), unsold, (), orders, suppliers, sellers=_sellers(view.build))
    groups = still_to_order(view, plan)
    shown = [consignment_shown(view, plan, lines) for lines in groups]
    later = groups[FIRST:]
    open_offers = {line.offer for lines in groups for line in lines}
    return BuyingPage(
        total=_total(plan, [line for lines in groups for line in lines]),
        gap=gap_words(plan),
        first=tuple(shown[:FIRST]),
        later=tuple(shown[FIRST:]),
        later_total=amount(sum(line.landed for lines in later for line in lines), plan.currency),
        done=tuple(line.part for line in plan.purchase.lines if line.offer not in open_offers),
        trips=tuple(_trip(view.build, plan, trip) for trip in plan.purchase.collections),
        held=held_of(view, plan),
        clash=tuple(clash_lines(plan.purchase.clash)),
        unsold=tuple(_unsold(view, plan)),
        ahead=ahead_of(view, plan),
        orders=orders,
        suppliers=suppliers,
        sellers=_sellers(view.build),
    )


def _sellers(build: Build) -> tuple[tuple[str, str], ...]:
    """Name and page of everyone who sells."""
    return tuple((item.name, supplier_path(item.id)) for item in build.suppliers)


def gap_words(plan: Plan) -> str:
    """How far the purchases are from the cheapest for these dates, in words."""
    if not plan.purchase.lines:
        return ""
    if plan.purchase.gap < 0.00005:
        return "For these dates no way of buying costs less."
    percent = f"{plan.purchase.gap:.2%}".replace("%", " %")
    most = amount(max(1.0, plan.purchase.gap * plan.purchase.expected_cost), plan.currency)
    return f"For these dates no way of buying costs less by more than {percent}, about {most}."


def _total(plan: Plan, lines: Sequence[PlannedLine]) -> str:
    """What is still to be bought, trips included."""
    trips = sum(trip.trip_cost for trip in plan.purchase.collections)
    if not lines:
        return ""
    total = to_the_cent(sum(line.landed for line in lines) + trips, plan.currency)
    return f"{total} at the door for what is still to be ordered{', trips and own hours included' if trips else ''}."


def _trip(build: Build, plan: Plan, trip: PlannedCollection) -> TripShown:
    collection = build.index["collections"].get(trip.collection)
    place = collection.place if collection is not None and collection.place else trip.collection
    what = f"Fetch from {place} on {day(trip.day)}: {to_the_cent(trip.trip_cost, plan.currency)}, own hours included"
    return TripShown(what, listed(trip.parts, 6), f"/week/collect/{quote(trip.collection, safe='')}")


def _unsold(view: View, plan: Plan | None) -> Iterator[Unsold]:
    """Missing parts without an offer that can be ordered."""
    build, facts = view.build, view.facts
    offered = {part for offer in build.offers for part in offer_contents(build, offer)}
    unmet = set() if plan is None else set(plan.purchase.unmet)
    held = {} if plan is None else plan.purchase.held
    for part in build.parts:
        if part.id not in facts.wanted_parts or facts.missing(build, part.id) <= 0:
            continue
        path = f"/buying/parts/{quote(part.id, safe='')}/offer"
        if part.id not in offered:
            yield Unsold(part.id, part.name, path, "")
        elif part.id in unmet:
            whys = {held[offer.id] for offer in build.offers if offer.id in held and part.id in
                    offer_contents(build, offer)}  # fmt: skip
            why = f"Not ordered: nothing planned settles its {sorted(whys)[0]}." if whys else (
                "No offer for it can be ordered any more."
            )  # fmt: skip
            yield Unsold(part.id, part.name, path, why)


# changes


def offered(build: Build, part: str, form: Form) -> Build:
    """The build with one more offer for a part, and its supplier if it is new."""
    return answer(build, "offer", part, form)


# routes


def show_buying(ask: Ask) -> Response:
    """The page."""
    return ask.show("buying.html", buying_page(ask.view), title="Buying")


@router.get("/buying")
def show(ask: Asked) -> Response:
    """The page."""
    return show_buying(ask)


@router.post("/buying/parts/{part}/offer")
def add_offer(part: str, ask: Asked) -> Response:
    """An offer for a part that nobody sold."""
    name = ask.find("parts", part).name
    return ask.write(
        lambda build: offered(build, part, ask.form),
        message=f"an offer for {name}",
        back="/buying#unsold",
        again=show_buying,
    )
