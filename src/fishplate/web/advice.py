"""What to do about an offer's price, in words: by the last plan's dates and the prices seen up to today."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

import numpy as np

from ..build.commerce import Offer
from ..plan.model import OfferTiming
from ..records import terms_of
from ..wiring import load_walk
from .amounts import rates_today, to_the_cent, typed
from .desk import View
from .words import amount, chance, day

if TYPE_CHECKING:
    from ..prices import Outlook, RateWalk, TriggerPlan

WEEKS: Final = 104
# How long after the last safe week a sale may still be worth lateness.
BEYOND_SAFE_WEEKS: Final = 13


@dataclass(frozen=True, slots=True)
class Advised:
    """An offer with what to do about its price.

    Parameters
    ----------
    now, seen : the price last seen and the day, in words
    trigger, later : buy this week, and from next week on, at this price or less, in words
    until : the last safe day to order, and when what it brings is first needed, in words
    regret, hold : how likely it is to be regretted, and what a price that the seller holds changes, in words
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
    regret: str
    hold: str
    saving: float
    said: str
    held: str
    typed_now: str


@dataclass(frozen=True, slots=True)
class Read:
    """An offer's outlook and what follows from it.

    Parameters
    ----------
    rate : how its currency's rate may wander, in words; rate_now : home currency for one unit of it
    since_plan : weeks since the plan was made
    """

    outlook: Outlook
    advised: Advised
    plan: TriggerPlan | None
    timing: OfferTiming | None
    rate: tuple[str, ...]
    rate_now: float | None
    since_plan: float

    def waits_at(self, weeks: Sequence[int]) -> tuple[list[float], list[float]]:
        """Lateness in home currency and keeping as a share of the price, if ordered in weeks from today."""
        assert self.timing is not None
        late, keeping = self.timing.waits.at(np.array([week + self.since_plan for week in weeks]))
        return late.tolist(), keeping.tolist()


def offer_path(offer: str) -> str:
    """Address of an offer's page."""
    return f"/buying/offers/{quote(offer, safe='')}"


def read_offers(
    view: View, offers: Sequence[str], timings: Mapping[str, OfferTiming], *, whole: bool
) -> Iterator[Read]:
    """Each offer's outlook by the prices seen up to today, and its advice by the last plan's dates.

    Parameters
    ----------
    whole : with the chance of regret, and what a price that is held is worth
    """
    from ..prices import outlooks

    seen = outlooks(view.build, view.facts, weeks=WEEKS, offers=offers)
    rates, walk = rates_today(view), load_walk(view.as_of, view.build)
    since = 0.0 if view.plan is None else (view.as_of - view.plan.as_of).days / 7
    for offer in offers:
        outlook, timing = seen[offer], timings.get(offer)
        plan = None if timing is None else _trigger(view, timing, outlook, rates, walk, since, whole=whole)
        advised = _in_words(view, outlook, plan, timing, rates)
        said = tuple(str(item) for item in walk.assumptions if item.about == f"currency {outlook.currency}")
        yield Read(outlook, advised, plan, timing, said, rates.get(outlook.currency), since)


def _trigger(
    view: View, timing: OfferTiming, outlook: Outlook, rates: Mapping[str, float], walk: RateWalk, since: float,
    *, whole: bool,
) -> TriggerPlan | None:  # fmt: skip
    """Buy now or wait; None without a rate."""
    from ..prices import trigger_plan

    if outlook.currency not in rates:
        return None
    last = min(WEEKS - 1, max(0, (timing.last_safe - view.as_of).days // 7))
    late, keeping, horizon, carrying = None, None, None, timing.keeping_per_week
    if timing.waits.weeks:
        late, keeping = timing.waits.at(np.arange(WEEKS, dtype=np.float64) + since)
        carrying = 0.0
        horizon = min(WEEKS - 1, last + BEYOND_SAFE_WEEKS, max(last, int(timing.waits.weeks[-1] - since)))
    return trigger_plan(
        outlook,
        last_week=last,
        carrying_per_week=carrying,
        late_cost=late,
        keeping=keeping,
        horizon=horizon,
        rate=rates[outlook.currency],
        rate_sigma=walk.sigma_weekly(outlook.currency),
        look_cost=timing.look_cost,
        seed=1 if whole else None,
    )


def _in_words(
    view: View, outlook: Outlook, plan: TriggerPlan | None, timing: OfferTiming | None, rates: Mapping[str, float]
) -> Advised:
    price = float(outlook.now)
    now = to_the_cent(price, outlook.currency)
    if outlook.currency != view.currency and outlook.currency in rates:
        now = f"{to_the_cent(price * rates[outlook.currency], view.currency)} ({now})"
    advised = Advised(
        offer=outlook.offer,
        name=outlook.name,
        supplier=view.build.index["suppliers"][outlook.supplier].name,
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
        regret="",
        hold="",
        saving=0.0,
        said="",
        held="" if view.plan is None else view.plan.purchase.held.get(outlook.offer, ""),
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
        until=_until_words(timing, outlook, plan),
        chance=chance(plan.chance_to_see) if plan.advice == "buy at the trigger" else "",
        regret=chance(plan.regret),
        hold=_hold_words(view, outlook, plan, rates),
        saving=plan.expected_saving * timing.units,
        said=_saving_words(view, outlook, plan, timing),
    )


def _sentence(offer: Offer, outlook: Outlook, plan: TriggerPlan) -> str:
    """The advice, without the name it is about."""
    from ..prices.trigger_words import GO_BACK_LATER

    text = plan.text.removeprefix(f"{outlook.name}: ")
    if terms_of(offer)[0].days == 0:
        text = text.replace(GO_BACK_LATER, "")
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
    return f"{_priced(view, outlook, level, rates)} or less"


def _priced(view: View, outlook: Outlook, level: float, rates: Mapping[str, float]) -> str:
    words = to_the_cent(level, outlook.currency)
    if outlook.currency != view.currency:
        words = f"{to_the_cent(level * rates[outlook.currency], view.currency)} ({words})"
    return words


def _hold_words(view: View, outlook: Outlook, plan: TriggerPlan, rates: Mapping[str, float]) -> str:
    """What changes if the seller holds a price for as long as it may wait; empty where nothing does."""
    if len(plan.held_prices) < 2 or plan.held_saving < 0.5:
        return ""
    worth = f"worth {amount(plan.held_saving, view.currency)} each"
    level = float(plan.held_prices[0])
    if not 0 < level < outlook.today * 0.999:
        return f"{worth}: take the offer to hold today's price, and look on"
    return f"{worth}: with today's price kept for you, look on until {_priced(view, outlook, level, rates)} or less"


def _until_words(timing: OfferTiming, outlook: Outlook, plan: TriggerPlan) -> str:
    """Until when it may wait: the last safe day, or later where the rule has it bought later for certain."""
    last = max(timing.last_safe, outlook.as_of)
    if plan.bought_by > plan.last_safe:
        last = max(last, outlook.as_of + timedelta(days=7 * plan.bought_by))
    if timing.needed is None:
        return f"until {day(last)}, as nothing says when it is needed"
    return f"until {day(last)}; what it brings may be needed from {day(timing.needed)}"
