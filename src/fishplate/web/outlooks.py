"""An offer's price: now, what is expected week by week, the price to stop waiting at; a price seen today."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response
from markupsafe import Markup

from ..build import Build, offer_contents
from ..build.commerce import Offer, Sighting
from ..build.money import minor_unit
from ..papers.charts import Chart, drawn, price_chart
from ..plan.model import OfferTiming
from ..records import terms_of
from .amounts import rates_today, to_the_cent, typed
from .ask import Ask, Asked
from .desk import View
from .form import Form, made
from .words import amount, chance, day, exact

if TYPE_CHECKING:
    from ..prices import Outlook, TriggerPlan

router = APIRouter()
WEEKS: Final = 104
LEAST_SHOWN_WEEKS: Final = 26
BEYOND_WEEKS: Final = 4


@dataclass(frozen=True, slots=True)
class Advised:
    """An offer with what to do about its price.

    Parameters
    ----------
    now, seen : the price last seen and the day, in words
    trigger, later : buy this week, and from next week on, at this price or less, in words
    until : the last safe day to order, and when what it brings is first needed, in words
    saving : expected against buying today, all units, home currency; said : in words where the sentence doesn't say it
    held : what its order waits for, by the plan
    """

    offer: str
    name: str
    supplier: str
    path: str
    currency: str
    now: str
    seen: str
    advice: str
    sentence: str
    trigger: str
    later: str
    until: str
    chance: str
    saving: float
    said: str
    held: str
    typed_now: str


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
    facts : label and value of what is known of the offer
    chart : expected price by week, and the price to buy at
    why_not : why there is no advice, if there is none
    """

    advised: Advised
    outlook: str
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


def offer_path(offer: str) -> str:
    """Address of an offer's page."""
    return f"/buying/offers/{quote(offer, safe='')}"


@dataclass(frozen=True, slots=True)
class _Read:
    """An offer's outlook and what follows from it."""

    outlook: Outlook
    advised: Advised
    plan: TriggerPlan | None
    timing: OfferTiming | None


def prices_page(view: View, *, everything: bool) -> PricesPage:
    """The page of all prices."""
    plan = view.plan
    timings = {} if plan is None else {timing.offer: timing for timing in plan.purchase.timings}
    known = {offer: timing for offer, timing in timings.items() if offer in view.build.index["offers"]}
    missing = {offer: timing for offer, timing in known.items() if _is_missing(view, view.build.find("offers", offer))}
    bought = set() if plan is None else {line.offer for line in plan.purchase.lines}
    shown = [offer for offer in missing if everything or offer in bought]
    found = [read.advised for read in _read(view, shown, missing)]
    found.sort(key=lambda item: (-item.saving, item.name, item.offer))
    return PricesPage(tuple(found), everything, len(missing) - len(shown))


def offer_page(view: View, offer: Offer) -> OfferPage:
    """The page of one offer."""
    timings = {} if view.plan is None else {timing.offer: timing for timing in view.plan.purchase.timings}
    read = next(_read(view, [offer.id], timings))
    sightings = sorted((s for s in view.build.sightings if s.offer == offer.id), key=lambda s: s.day, reverse=True)
    why_not = ""
    if read.timing is None:
        why_not = "Until when it may wait is not known before the next plan." if _is_missing(view, offer) else (
            "Nothing that it brings is missing any more, so there is nothing to wait for."
        )  # fmt: skip
    return OfferPage(
        advised=read.advised,
        outlook=read.outlook.text,
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


def _read(view: View, offers: Sequence[str], timings: Mapping[str, OfferTiming]) -> Iterator[_Read]:
    """Each offer's outlook by the prices seen up to today, and its advice by the last plan's dates."""
    from ..prices import outlooks

    seen = outlooks(view.build, view.facts, weeks=WEEKS, offers=offers)
    rates = rates_today(view)
    for offer in offers:
        outlook, timing = seen[offer], timings.get(offer)
        plan = None if timing is None else trigger_of(view, timing, outlook, rates)
        yield _Read(outlook, _in_words(view, outlook, plan, timing, rates), plan, timing)


def trigger_of(view: View, timing: OfferTiming, outlook: Outlook, rates: Mapping[str, float]) -> TriggerPlan | None:
    """Buy now or wait, by the last plan's dates and the prices seen up to today; None without a rate."""
    from ..prices import trigger_plan

    if outlook.currency not in rates:
        return None
    return trigger_plan(
        outlook,
        last_week=last_safe_week(view, timing),
        carrying_per_week=timing.keeping_per_week,
        rate=rates[outlook.currency],
        look_cost=timing.look_cost,
    )


def last_safe_week(view: View, timing: OfferTiming) -> int:
    """Week of the last safe day, counted from today."""
    return min(WEEKS - 1, max(0, (timing.last_safe - view.as_of).days // 7))


def _in_words(
    view: View, outlook: Outlook, plan: TriggerPlan | None, timing: OfferTiming | None, rates: Mapping[str, float]
) -> Advised:
    supplier = view.build.index["suppliers"][outlook.supplier]
    price = float(outlook.now)
    now = to_the_cent(price, outlook.currency)
    if outlook.currency != view.currency and outlook.currency in rates:
        now = f"{to_the_cent(price * rates[outlook.currency], view.currency)} ({now})"
    held = "" if view.plan is None else view.plan.purchase.held.get(outlook.offer, "")
    advised = Advised(
        offer=outlook.offer,
        name=outlook.name,
        supplier=supplier.name,
        path=offer_path(outlook.offer),
        currency=outlook.currency,
        now=now,
        seen=f"seen {day(outlook.seen_on)}" if outlook.seen_on else "the day it was seen is not known",
        advice="",
        sentence="",
        trigger="",
        later="",
        until="",
        chance="",
        saving=0.0,
        said="",
        held=held,
        typed_now=typed(price, outlook.currency),
    )
    if plan is None or timing is None:
        return advised
    return replace(
        advised,
        advice=plan.advice,
        sentence=_sentence(view.build.find("offers", outlook.offer), outlook, plan),
        trigger=_trigger_words(view, outlook, plan, rates, 0),
        later=_trigger_words(view, outlook, plan, rates, 1) if len(plan.prices) > 2 else "",
        until=_until_words(timing, outlook),
        chance=chance(plan.chance_to_see) if plan.advice == "buy at the trigger" else "",
        saving=plan.expected_saving * timing.units,
        said=_saving_words(view, outlook, plan, timing),
    )


def _sentence(offer: Offer, outlook: Outlook, plan: TriggerPlan) -> str:
    """The advice, without the name it is about."""
    text = plan.text.removeprefix(f"{outlook.name}: ")
    if terms_of(offer)[0].days == 0:
        text = text.removesuffix(" What is bought later can go back later.")
        text += " It can't go back: order it only once everything it rests on is known."
    return text[:1].upper() + text[1:]


def _saving_words(view: View, outlook: Outlook, plan: TriggerPlan, timing: OfferTiming) -> str:
    """The expected saving where it is for several, or in another currency than the sentence says it in."""
    saving = plan.expected_saving * timing.units
    if saving < 0.5 or (timing.units == 1 and outlook.currency == view.currency):
        return ""
    of = f" for all {timing.units}" if timing.units > 1 else ""
    return f"Expected saving{of}: {amount(saving, view.currency)}."


def _trigger_words(view: View, outlook: Outlook, plan: TriggerPlan, rates: Mapping[str, float], week: int) -> str:
    """The price at or below which to buy in a week."""
    level = float(plan.prices[week])
    if level <= 0 or not outlook.available[week]:
        return "it can't be ordered then"
    if not math.isfinite(level):
        return "any price: it is the last safe week"
    words = to_the_cent(level, outlook.currency)
    if outlook.currency != view.currency:
        words = f"{to_the_cent(level * rates[outlook.currency], view.currency)} ({words})"
    return f"{words} or less"


def _until_words(timing: OfferTiming, outlook: Outlook) -> str:
    last = max(timing.last_safe, outlook.as_of)
    if timing.needed is None:
        return f"until {day(last)}, as nothing says when it is needed"
    return f"until {day(last)}; what it brings may be needed from {day(timing.needed)}"


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
    last = len(plan.prices) - 1 if plan is not None else None
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
