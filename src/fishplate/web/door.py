"""At the door: what goods cost by every way home; goods as typed, an offer of the build, or a supplier's basket."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response
from markupsafe import Markup

from ..build import Problem, Rates, Refused, UnknownRateError
from ..build.commerce import Offer, Supplier
from ..landed import (
    PLAIN_WAYS,
    AskedGoods,
    AtTheDoor,
    RuleSet,
    WayHome,
    baskets_at_the_door,
    collection_cost,
    offers_at_the_door,
    unknown_fees,
    ways_for,
)
from ..landed.model import total_of
from ..papers.share_chart import ShareChart
from ..wiring import load_rates, rules_of
from . import bills, own_rates, ways_home
from .ask import Ask, Asked, Filled, NotHereError
from .asked_goods import TAXES, asked_goods, quoted
from .desk import View
from .form import Form
from .itemised import WayShown, cheapest_first, drawing, ends, lacking, share_chart, way_shown
from .ordering import counted
from .outlooks import name_of_offer
from .words import day, exact, listed

router = APIRouter()
for part in (own_rates, ways_home, bills):
    router.include_router(part.router)

MOST_LISTED: Final = 40


@dataclass(frozen=True, slots=True)
class DoorPage:
    """The page.

    Parameters
    ----------
    f : the form of goods outside the build, as it was typed
    what : what is asked about, in words; lead : the cheapest way, in words
    said : what was taken for granted in all; rates : which exchange rates were used
    offers : of the supplier that is asked about, each with its address; more : how many are left out
    kinds : headings the rules know, with their words; routes : ways home to choose from
    """

    f: Filled
    what: str
    lead: str
    ways: tuple[WayShown, ...]
    chart: ShareChart | None
    said: tuple[str, ...]
    rates: str
    offers: tuple[tuple[str, str], ...]
    more: int
    suppliers: tuple[tuple[str, str], ...]
    supplier: str
    kinds: tuple[tuple[str, str], ...]
    routes: tuple[tuple[str, str], ...]
    taxes: tuple[tuple[str, str], ...]
    no_rules: str = ""

    @property
    def drawing(self) -> Markup:
        """The chart as SVG."""
        return drawing(self.chart)


@dataclass(frozen=True, slots=True)
class _Answer:
    """What was reckoned: ways home as they are, and without what the owner set."""

    what: str = ""
    ways: tuple[WayHome, ...] = ()
    without: tuple[WayHome, ...] = ()
    said: tuple[str, ...] = ()


def _told(problem: Problem) -> str:
    """A problem as a clause; where a rule file of one's own is wrong, with its place and what to do."""
    return problem.what if problem.code == "no-rules" else str(problem).rstrip(".")


def door_page(view: View, form: Form) -> DoorPage:
    """The page, for what its address asks about."""
    rates, said = load_rates(view.as_of, view.build)
    try:
        rules = rules_of(view.build)
    except Refused as refused:
        why = "; ".join(_told(problem) for problem in refused.problems)
        return replace(_page(view, form, None, rates), no_rules=why)
    answer = _answer(view, form, rules, rates)
    in_force, _ = rules.with_overrides(view.build.rule_overrides)
    ways = cheapest_first(answer.ways)
    without = {way.name: way for way in answer.without}
    shown = tuple(
        _with_trip(view, rates, way_shown(view, in_force, way, place, without.get(way.name)))
        for place, way in enumerate(ways, 1)
    )
    page = _page(view, form, rules, rates)
    return replace(
        page,
        what=answer.what,
        lead=_lead(ways),
        ways=shown,
        chart=share_chart(f"What it costs at the door, {view.currency}", ways, view.currency),
        said=(*(str(item) for item in said), *answer.said),
    )


def _page(view: View, form: Form, rules: RuleSet | None, rates: Rates) -> DoorPage:
    """The page before anything is reckoned."""
    build = view.build
    supplier = build.index["suppliers"].get(form.text("supplier"))
    offers = _offers_of(view, supplier) if supplier is not None else []
    mine = [(route.id, route.name) for route in build.routes]
    plain = [(f"any-{kind}", name) for kind, name in PLAIN_WAYS.items()]
    return DoorPage(
        f=Filled("goods", view.revision, form if form.fields else None, tuple(form.problems)),
        what="",
        lead="",
        ways=(),
        chart=None,
        said=(),
        rates=f"Rates of {day(rates.day)}, {rates.source}",
        offers=tuple((name_of_offer(build, offer), f"/door?{urlencode({'offer': offer.id})}") for offer in offers)[
            :MOST_LISTED
        ],
        more=max(0, len(offers) - MOST_LISTED),
        suppliers=tuple((each.id, f"{each.name}, {each.country}") for each in build.suppliers),
        supplier=supplier.id if supplier is not None else "",
        kinds=(("", "not known"), *_kinds(rules, view)),
        routes=(("", "every way home"), *mine, *plain),
        taxes=TAXES,
    )


def _kinds(rules: RuleSet | None, view: View) -> list[tuple[str, str]]:
    """Kinds of goods the rules know a heading for, in words."""
    if rules is None:
        return []
    found = {
        rule.heading: rule.note.split(";")[0].split(".")[0]
        for rule in rules.rules
        if rule.kind == "duty-rate" and rule.note and rule.holds_on(view.as_of) and rule.status != "owner"
    }
    even = {heading: words for heading, words in found.items() if len(heading) % 2 == 0 and len(heading) >= 4}
    return [(heading, f"{words[:60]} ({heading})") for heading, words in sorted(even.items(), key=lambda it: it[1])]


def _offers_of(view: View, supplier: Supplier) -> list[Offer]:
    return [
        offer
        for offer in view.build.offers
        if offer.supplier == supplier.id and (offer.available_until is None or offer.available_until >= view.as_of)
    ]


def _answer(view: View, form: Form, rules: RuleSet, rates: Rates) -> _Answer:
    """What the address asks about, reckoned; nothing if it asks about nothing."""
    bare = view.build.model_copy(update={"rule_overrides": ()})
    has_own = bool(view.build.rule_overrides)
    if offer := form.text("offer"):
        if offer not in view.build.index["offers"]:
            raise NotHereError("offers", offer)
        found = offers_at_the_door(view.build, view.facts, rules, rates, [offer])
        without = offers_at_the_door(bare, view.facts, rules, rates, [offer]).alone if has_own else ()
        named = f"{name_of_offer(view.build, view.build.find('offers', offer))} from {found.alone[0].supplier}, one"
        about = f"supplier {view.build.find('offers', offer).supplier}"
        said = tuple(str(item) for item in found.assumptions if item.about == about)
        return _Answer(named, found.alone[0].ways, _ways(without), said)
    if supplier := form.text("supplier"):
        if supplier not in view.build.index["suppliers"]:
            raise NotHereError("suppliers", supplier)
        rows = baskets_at_the_door(view.build, view.facts, rules, rates, [supplier])
        without = baskets_at_the_door(bare, view.facts, rules, rates, [supplier]) if has_own else ()
        what = (
            f"What {view.build.find('suppliers', supplier).name} offers of the parts still missing, in one consignment"
        )
        if not rows:
            what = f"{view.build.find('suppliers', supplier).name} offers nothing that is still missing"
        return _Answer(what, _ways(rows), _ways(without))
    if not form.fields:
        return _Answer()
    asked = asked_goods(view, form)
    if asked is None:
        return _Answer()
    private = not form.ticked("business")
    ways = tuple(quoted(view, asked, rules, rates, private=private))
    without_own = tuple(quoted(view, asked, rules, rates, private=private, own=False)) if has_own else ()
    plain = ways_for(view.build, asked, view.as_of, rules.single_market)
    said = tuple(str(item) for item in unknown_fees(asked, plain, rules.single_market))
    return _Answer(f"{_named(asked)} from {asked.seller.country}", ways, without_own, said)


def _named(asked: AskedGoods) -> str:
    """What is asked about, and what it costs there."""
    names = listed([counted(item.quantity, item.label) for item in asked.goods], 4)
    return f"{names[:1].upper()}{names[1:]}, {exact(asked.value)}"


def _ways(rows: Sequence[AtTheDoor]) -> tuple[WayHome, ...]:
    return rows[0].ways if rows else ()


def _lead(ways: Sequence[WayHome]) -> str:
    """The cheapest way to the door, how far the next is from it, and what fetching it saves before the trip is paid."""
    known = [way for way in ways if way.cost is not None]
    if not known:
        return "By no way home can this be reckoned." if ways else ""
    sent = [way for way in known if not way.fetched]
    first = (sent or known)[0]
    said = [_first(first)]
    if len(sent) > 1:
        said.append(_next(sent[1], first))
    fetched = next((way for way in known if way.fetched and sent), None)
    if fetched is not None:
        less = _more(first, fetched)
        more = f"{_more(fetched, first)} more" if less.startswith("-") else f"{less} less"
        said.append(f"Fetched, {_lower(fetched.name)}, it costs {more}, the trip itself left out.")
    return " ".join(said)


def _next(way: WayHome, first: WayHome) -> str:
    name, more = _lower(way.name), _more(way, first)
    alike = way.cost is not None and first.cost is not None and way.cost.total == first.cost.total
    return f"The next, {name}, costs the same." if alike else f"The next, {name}, costs {more} more."


def _more(dear: WayHome, cheap: WayHome) -> str:
    assert dear.cost is not None
    assert cheap.cost is not None
    return exact(dear.cost.total - cheap.cost.total)


def _first(way: WayHome) -> str:
    """What a way costs, what of it is not counted, and between what it may fall out."""
    cost = way.cost
    assert cost is not None
    low, high = ends(cost)
    left_out = [words for words in ("the trip itself left out" if way.fetched else "", lacking(way)) if words]
    said = f"{exact(cost.total)} at the door: {', '.join([_lower(way.name), *left_out])}."
    return said if low == high else f"{said} It may fall out between {low.rpartition(' ')[0]} and {high}."


def _lower(name: str) -> str:
    return name[:1].lower() + name[1:] if name in PLAIN_WAYS.values() else name


def _with_trip(view: View, rates: Rates, way: WayShown) -> WayShown:
    """A way that is fetched, with what the next trip costs by itself."""
    routes = {route.id for route in view.build.routes if route.name == way.name and route.kind == "collection"}
    trips = [trip for trip in view.build.collections if trip.route in routes and trip.day >= view.as_of]
    if not trips or way.refused:
        return way
    trip = min(trips, key=lambda trip: (trip.day, trip.id))
    try:
        cost = exact(total_of(collection_cost(trip, view.build.owner, rates), view.currency))
    except UnknownRateError:
        return way
    said = f"The trip of {day(trip.day)} costs {cost} by itself, shared by all it fetches, and is not counted here."
    return replace(way, trip=said, trip_path=f"/collections/{trip.id}")


def show_door(ask: Ask) -> Response:
    """The page, for what its address asks about."""
    query = ask.request.query_params
    form = Form({name: query.getlist(name) for name in query})
    page = door_page(ask.view, form)
    if form.problems:
        page = replace(page, f=Filled("goods", ask.view.revision, form, tuple(form.problems)))
    return ask.show("door.html", page, title="At the door", status=422 if form.problems else 200)


@router.get("/door")
def show(ask: Asked) -> Response:
    """The page."""
    return show_door(ask)
