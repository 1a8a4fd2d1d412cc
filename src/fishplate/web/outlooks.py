"""An offer's price: now, what is expected week by week, the price to stop waiting at; a price seen today."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter
from fastapi.responses import Response
from markupsafe import Markup

from ..build import Build, offer_contents
from ..build.commerce import Offer, Sighting
from ..build.money import minor_unit
from ..papers.charts import Chart, drawn, price_chart
from .advice import WEEKS, Advised, Read, offer_path, read_offers
from .ask import Ask, Asked
from .desk import View
from .form import Form, made
from .words import amount, chance, day, exact, number

if TYPE_CHECKING:
    from ..prices import Outlook, TriggerPlan

router = APIRouter()
LEAST_SHOWN_WEEKS: Final = 26
BEYOND_WEEKS: Final = 4
LATER_WEEKS: Final = 8


@dataclass(frozen=True, slots=True)
class SightingShown:
    """A price seen on a day."""

    day: date
    price: str
    sale: bool
    note: str


@dataclass(frozen=True, slots=True)
class OfferPage:
    """One offer's outlook.

    Parameters
    ----------
    grounds : what the outlook rests on, each with its weight in words where several are weighed
    against : label and value of what buying early and late costs beyond the price
    facts : label and value of what is known of the offer
    chart : expected price by week, and the price to buy at
    why_not : why there is no advice, if there is none
    """

    advised: Advised
    outlook: str
    grounds: tuple[tuple[str, str], ...]
    against: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]
    chart: Chart
    why_not: str
    sightings: tuple[SightingShown, ...]
    assumptions: tuple[str, ...]

    @property
    def drawing(self) -> Markup:
        """The chart as SVG."""
        return Markup(drawn(self.chart))


@dataclass(frozen=True, slots=True)
class PricesPage:
    """Every offer of what is missing, the largest expected saving first.

    Parameters
    ----------
    everything : offers the plan does not buy are shown too
    others : how many are left out
    """

    offers: tuple[Advised, ...]
    everything: bool
    others: int


def prices_page(view: View, *, everything: bool) -> PricesPage:
    """The page of all prices."""
    plan = view.plan
    timings = {} if plan is None else {timing.offer: timing for timing in plan.purchase.timings}
    known = {offer: timing for offer, timing in timings.items() if offer in view.build.index["offers"]}
    missing = {offer: timing for offer, timing in known.items() if _is_missing(view, view.build.find("offers", offer))}
    bought = set() if plan is None else {line.offer for line in plan.purchase.lines}
    shown = [offer for offer in missing if everything or offer in bought]
    found = [read.advised for read in read_offers(view, shown, missing, whole=False)]
    found.sort(key=lambda item: (-item.saving, item.name, item.offer))
    return PricesPage(tuple(found), everything, len(missing) - len(shown))


def offer_page(view: View, offer: Offer) -> OfferPage:
    """The page of one offer."""
    timings = {} if view.plan is None else {timing.offer: timing for timing in view.plan.purchase.timings}
    read = next(read_offers(view, [offer.id], timings, whole=True))
    sightings = sorted((s for s in view.build.sightings if s.offer == offer.id), key=lambda s: s.day, reverse=True)
    why_not = ""
    if read.timing is None:
        why_not = "Until when it may wait is not known before the next plan." if _is_missing(view, offer) else (
            "Nothing that it brings is missing any more, so there is nothing to wait for."
        )  # fmt: skip
    return OfferPage(
        advised=read.advised,
        outlook=read.outlook.text,
        grounds=tuple(_grounds(read)),
        against=tuple(_against(view, offer, read)),
        facts=tuple(_facts(view, offer, read.outlook)),
        chart=_chart(view, read.outlook, read.plan),
        why_not=why_not,
        sightings=tuple(SightingShown(s.day, exact(s.price), s.sale, s.note) for s in sightings),
        assumptions=tuple(dict.fromkeys(str(item) for item in read.outlook.assumptions)),
    )


def _is_missing(view: View, offer: Offer) -> bool:
    """Whether something that an offer brings is still wanted."""
    parts = offer_contents(view.build, offer)
    return any(part in view.facts.wanted_parts and view.facts.missing(view.build, part) > 0 for part in parts)


def _grounds(read: Read) -> Iterator[tuple[str, str]]:
    for ground in read.outlook.grounds:
        weight = "" if ground.weight is None else chance(ground.weight)
        yield ground.text[:1].upper() + ground.text[1:], weight
    yield from ((text[:1].upper() + text[1:], "") for text in read.rate)


def _against(view: View, offer: Offer, read: Read) -> Iterator[tuple[str, str]]:
    """What buying early and late costs beyond the price."""
    timing, outlook = read.timing, read.outlook
    if timing is None or not timing.waits.weeks or read.rate_now is None:
        return
    price = outlook.today * read.rate_now
    last = max(0, (timing.last_safe - view.as_of).days // 7)
    late, keeping = read.waits_at((0, last, last + LATER_WEEKS))
    yield (
        "Having it early, if bought now",
        f"{amount(price * keeping[0], view.currency)}, or {100 * keeping[0]:.0f} % of the price: money tied up, "
        f"room and warranty, plans that change, the right to send it back lapsed{_spoiling(view, offer)}",
    )
    yield "Coming late, if bought now", amount(late[0], view.currency)
    yield f"Coming late, if bought on {day(max(timing.last_safe, view.as_of))}", amount(late[1], view.currency)
    yield f"Coming late, if bought {number(LATER_WEEKS)} weeks after that", amount(late[2], view.currency)


def _spoiling(view: View, offer: Offer) -> str:
    """That what an offer brings keeps only so long, and would have to be bought again; empty where it keeps."""
    parts = (view.build.find("parts", part) for part in offer_contents(view.build, offer))
    weeks = min((part.shelf_weeks for part in parts if part.shelf_weeks is not None), default=None)
    return "" if weeks is None else f", and it keeps only {number(weeks)} weeks: past that it is bought again"


def _facts(view: View, offer: Offer, outlook: Outlook) -> list[tuple[str, str]]:
    pack = f" for {offer.pack:g}" if offer.pack != 1 else ""
    rise = f"{100 * outlook.drift_yearly:+.1f} % a year"
    found = [("Listed", exact(offer.price) + pack), ("Regular price moves", rise)]
    if offer.lead_weeks is not None:
        weeks = offer.lead_weeks
        found.append(("Order to dispatch", f"{weeks.low:g}, likely {weeks.likely:g}, at worst {weeks.high:g} weeks"))
    if offer.available_from is not None:
        found.append(("Can be ordered from", day(offer.available_from)))
    if offer.available_until is not None:
        found.append(("Can be ordered until", day(offer.available_until)))
    if offer.deposit_percent:
        found.append(("Paid with the order", f"{offer.deposit_percent:g} %"))
    if offer.made_to_order:
        found.append(("Made to order", "yes"))
    parts = [f"{count:g} × {view.build.find('parts', part).name}" for part, count in
             offer_contents(view.build, offer).items()]  # fmt: skip
    return [("Brings", ", ".join(parts)), *found]


def _chart(view: View, outlook: Outlook, plan: TriggerPlan | None) -> Chart:
    last = plan.last_safe if plan is not None else None
    count = min(WEEKS, max(LEAST_SHOWN_WEEKS, (last or 0) + 1 + BEYOND_WEEKS))
    weeks = [view.as_of + timedelta(days=7 * week) for week in range(count)]
    expected = [float(outlook.today), *(float(price) for price in outlook.expected[1:count])]
    levels = [] if plan is None else [float(price) for price in plan.prices[:count]]
    trigger = [level if math.isfinite(level) and level > 0 else None for level in levels]
    return price_chart(
        outlook.name,
        outlook.currency,
        weeks,
        expected,
        [*trigger, *[None] * (count - len(trigger))],
        last_safe=last,
        digits=minor_unit(outlook.currency),
    )


# changes


def seen(build: Build, offer: Offer, form: Form, today: date) -> Build:
    """The build with a price that was seen; one of the same day and kind is put right."""
    price, when = form.money("price", offer.price.currency), form.day("day", today)
    sale, note = form.ticked("sale"), form.text("note")
    if price is None:
        if not form.problems:
            form.refuse("price", "nothing was filled in", do="Give the price you saw.")
        return build
    if when > today:
        form.refuse("day", "after today", when.isoformat(), "Give the day you saw it.")
        return build
    sighting = made(Sighting, offer=offer.id, day=when, price=price, sale=sale, note=note)
    kept = tuple(s for s in build.sightings if (s.offer, s.day, s.sale) != (offer.id, when, sale))
    return build.model_copy(update={"sightings": (*kept, sighting)})


# routes


def show_offer(ask: Ask, offer: Offer) -> Response:
    """The page of one offer."""
    page = offer_page(ask.view, offer)
    return ask.show("offer.html", page, title=page.advised.name)


@router.get("/buying/offers/{offer}")
def show_one(offer: str, ask: Asked) -> Response:
    """One offer."""
    return show_offer(ask, ask.find("offers", offer))


@router.post("/buying/offers/{offer}/seen")
def take_sighting(offer: str, ask: Asked) -> Response:
    """A price seen."""
    found: Offer = ask.find("offers", offer)
    return ask.write(
        lambda build: seen(build, build.find("offers", offer), ask.form, ask.today),
        message=f"price seen: {name_of_offer(ask.view.build, found)}",
        back=offer_path(offer),
        again=lambda ask: show_offer(ask, found),
    )


def name_of_offer(build: Build, offer: Offer) -> str:
    """What an offer sells."""
    noun = build.find("parts", offer.part) if offer.part is not None else build.find("kits", offer.kit or "")
    return str(noun.name)


@router.get("/buying/prices")
def show_prices(ask: Asked) -> Response:
    """Every offer of what is missing; kept until the build, the day or the plan is another."""
    view, everything = ask.view, "all" in ask.request.query_params
    key = (view.revision, view.as_of, view.plan and (view.plan.revision, view.plan.as_of), everything)
    kept, page = getattr(ask.request.app.state, "prices", (None, None))
    if kept != key:
        page = prices_page(view, everything=everything)
        ask.request.app.state.prices = (key, page)
    return ask.show("prices.html", page, title="Prices")
