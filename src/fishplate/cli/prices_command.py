"""`fishplate prices`"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..build.words import day_words
from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, emit, read_build, say, table

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ..build import Assumption, Build, Facts
    from ..build.commerce import Offer
    from ..plan.need_dates import Due
    from ..prices import Outlook, PriceCheck, RateWalk, ReadyToBuy, TriggerPlan

WEEKS = 104
# Where no date is known by which a part is needed.
OPEN_END_WEEKS = 26
SENTENCES_SHOWN = 12
CHECKS_SHOWN = 3
# How long after the last safe week a sale may still be worth lateness.
BEYOND_SAFE_WEEKS = 13
# A price held for less than this is not worth a word [home currency].
LEAST_HELD = 0.5
NEVER_BACK = "It can't go back: order it only once everything it rests on is known."


@dataclass(frozen=True, slots=True)
class _Line:
    """One offer for missing parts: its outlook, when it is needed, what to do."""

    offer: Offer
    outlook: Outlook
    plan: TriggerPlan
    need_week: float | None
    last_week: int
    units: float
    saving: float
    go_back: str

    @property
    def text(self) -> str:
        """The advice; nothing of going back later where it can't."""
        from ..prices.trigger_words import GO_BACK_LATER

        return self.plan.text.replace(GO_BACK_LATER, "") if self.go_back == NEVER_BACK else self.plan.text


@click.command("prices")
@BUILD_FILE
@AS_OF
@SEED
@click.option("--all", "everything", is_flag=True, help="Show every sentence and assumption.")
@JSON_FLAG
def command(file: Path, as_of: date | None, seed: int, everything: bool, as_json: bool) -> None:
    """Buy now or wait, and at which price to stop waiting.

    \f
    Keys of --json: as_of, currency (home), offers (offer, name, supplier, currency, now, seen_on, today, drift_yearly,
    expected by week, advice, triggers by week up to the last safe one: null means at any price, trigger (this week's or
    the next), wait_until, bought_by, last_safe, needed_on, chance_to_see, regret (chance of it), units, expected_saving
    for all units in home currency, held_triggers and held_saving (where a price seen stays open, for one unit),
    grounds (text, weight), outlook, text), ready_to_buy (key, kind: sale, rise or end, supplier, first, last, offers,
    decide, measure, fund, saving, text, chance, depth, ground), check_again (offer, part, reservation, text),
    assumptions (code, about, text).
    """
    from ..plan.need_dates import due
    from ..prices import outlooks, prices_to_check
    from ..wiring import load_walk, today
    from .common import home_rates

    dates = due(read_build(file), as_of or today(), seed)
    build, facts = dates.build, dates.facts
    rates, rate_notes = home_rates(build, facts.as_of)
    seen = outlooks(build, facts, weeks=WEEKS)
    needs = {part: facts.missing(build, part) for part in sorted(facts.wanted_parts)}
    walk = load_walk(facts.as_of, build)
    lines = [line for offer in build.offers if (line := _line(dates, offer, seen[offer.id], needs, rates, walk))]
    ready = _ready(dates, seen, needs, rates, lines)
    checks = prices_to_check(build, facts, seen, needs, rates, look_cost=_look_cost(build))
    assumptions = tuple(
        dict.fromkeys(
            [
                *(note for line in lines for note in line.outlook.assumptions),
                *_owner_notes(build, lines),
                *rate_notes,
                *walk.assumptions,
                *dates.assumptions,
            ]
        )
    )
    if as_json:
        emit(_plain(build, facts, lines, ready, checks, assumptions))
    else:
        _show(build, lines, ready, checks, assumptions, everything)


def _look_cost(build: Build) -> float:
    """What looking at a price costs; never nothing, or there would be no end to it."""
    from ..build.defaults import LOOK_HOURS, hour_worth

    return LOOK_HOURS * (hour_worth(build.owner) or 0.01)


def _line(
    dates: Due,
    offer: Offer,
    outlook: Outlook,
    needs: Mapping[str, float],
    rates: Mapping[str, float],
    walk: RateWalk,
) -> _Line | None:
    """What to do about an offer; None if nothing it brings is missing, or no rate is known for its currency."""
    from ..build import offer_contents
    from ..build.defaults import carrying_percent, week_delay_cost
    from ..plan.need_dates import last_safe_week
    from ..prices import trigger_plan

    build, owner = dates.build, dates.build.owner
    counts = {part: n for part, n in offer_contents(build, offer).items() if needs.get(part, 0) > 0}
    if not counts or outlook.currency not in rates:
        return None
    units = max(math.ceil(needs[part] / count - 1e-9) for part, count in counts.items())
    carrying = carrying_percent(owner) / 100 / 52
    late = week_delay_cost(owner)
    early = carrying * outlook.today * units * rates[outlook.currency]
    need = min((dates.need_weeks[part] for part in counts if part in dates.need_weeks), default=None)
    last = float(OPEN_END_WEEKS)
    if need is not None and late + early > 0:
        last = last_safe_week(build, offer, need, late=late, early=early, learnt=dates.learnt)
    week = min(WEEKS - 1, max(0, math.floor(last)))
    waits = _waits(dates, offer, need, late=late / units, carrying=carrying)
    plan = trigger_plan(
        outlook,
        last_week=week,
        carrying_per_week=0.0 if waits else carrying,
        late_cost=waits[0] if waits else None,
        keeping=waits[1] if waits else None,
        horizon=min(WEEKS - 1, week + BEYOND_SAFE_WEEKS) if waits else None,
        rate=rates[outlook.currency],
        rate_sigma=walk.sigma_weekly(outlook.currency),
        look_cost=_look_cost(build) / units,
    )
    back = _going_back(dates, offer, need)
    return _Line(offer, outlook, plan, need, week, units, plan.expected_saving * units, back)


def _waits(
    dates: Due, offer: Offer, need: float | None, *, late: float, carrying: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Cost of coming late and share of the price that having it early costs, by order week; None without a date.

    Parameters
    ----------
    late : cost of coming a week late, for one unit [home currency]
    carrying : cost of having it a week early, as a share of its price
    """
    import numpy as np

    from ..build.defaults import LEAD_WEEKS
    from ..plan.need_dates import lead_slippage, travel_weeks
    from ..prices import triangular_points

    if need is None:
        return None
    leads = np.array(triangular_points(offer.lead_weeks or LEAD_WEEKS))
    takes = leads * lead_slippage(dates.build, offer, dates.learnt) + travel_weeks(dates.build, offer)
    behind = np.arange(WEEKS)[:, None] + takes - need
    return late * np.maximum(0, behind).mean(axis=1), carrying * np.maximum(0, -behind).mean(axis=1)


def _going_back(dates: Due, offer: Offer, need: float | None) -> str:
    """What ordering today means for the right to return it, as a sentence; empty where it makes no difference."""
    from ..build import date_at
    from ..build.defaults import LEAD_WEEKS
    from ..plan.need_dates import lead_slippage, travel_weeks
    from ..records import terms_of

    days = terms_of(offer)[0].days
    if offer.made_to_order or days == 0:
        return NEVER_BACK
    if need is None:
        return ""
    lead = (offer.lead_weeks or LEAD_WEEKS).likely
    arrives = lead * lead_slippage(dates.build, offer, dates.learnt) + travel_weeks(dates.build, offer)
    until = date_at(dates.facts.as_of, arrives) + timedelta(days=days)
    needed = date_at(dates.facts.as_of, max(0.0, need))
    if until >= needed:
        return ""
    last, first = day_words(until), day_words(needed)
    return f"Ordered today it could go back until about {last}, before it is first needed ({first})."


def _ready(
    dates: Due,
    seen: Mapping[str, Outlook],
    needs: Mapping[str, float],
    rates: Mapping[str, float],
    lines: Iterable[_Line],
) -> tuple[ReadyToBuy, ...]:
    from ..decide import order_decisions
    from ..plan.need_dates import order_by_weeks
    from ..prices import ready_to_buy

    build, facts = dates.build, dates.facts
    report = order_decisions(
        build, facts, start_weeks=dates.start_weeks, order_by_weeks=order_by_weeks(build, facts, dates.need_weeks)
    )
    decide: dict[str, tuple[str, ...]] = {}
    for result in report.decisions:
        for held in result.holds_offers:
            decide[held] = (*decide.get(held, ()), result.decision)
    known = {reading.dimension for reading in build.readings if reading.day <= facts.as_of}
    measure = {}
    for offer in build.offers:
        holding = [r for r in build.releases if r.offer == offer.id or (r.part is not None and r.part == offer.part)]
        measure[offer.id] = tuple(sorted({id_ for r in holding for id_ in r.dimensions if id_ not in known}))
    safe = {
        line.offer.id: facts.as_of + timedelta(days=7 * line.last_week + 6)
        for line in lines
        if line.need_week is not None
    }
    return ready_to_buy(build, facts, seen, needs, rates, decide, measure, safe)


def _owner_notes(build: Build, lines: Iterable[_Line]) -> Iterator[Assumption]:
    from ..build import Assumption
    from ..build.defaults import lead_assumed, look_assumed, owner_assumed, returns_assumed

    yield from owner_assumed(build.owner)
    yield look_assumed()
    for line in lines:
        if line.offer.lead_weeks is None:
            yield lead_assumed(line.offer.id)
        if line.offer.returns is None and not line.offer.made_to_order:
            yield returns_assumed(line.offer.id)
    text = "quoted lead times slip by 1.3, those of craft shops by 2 (common practice)"
    yield Assumption("lead-slippage-default", "build", text)
    if any(line.need_week is None for line in lines):
        text = f"no date is known by which some parts are needed; they are taken to keep {OPEN_END_WEEKS} weeks"
        yield Assumption("need-date-open", "build", text)


def _plain(
    build: Build,
    facts: Facts,
    lines: Iterable[_Line],
    ready: Iterable[ReadyToBuy],
    checks: Iterable[PriceCheck],
    assumptions: Iterable[Assumption],
) -> dict[str, Any]:
    return {
        "as_of": facts.as_of,
        "currency": build.owner.currency,
        "offers": [_plain_line(line) for line in lines],
        "ready_to_buy": [asdict(item) for item in ready],
        "check_again": [asdict(item) for item in checks],
        "assumptions": [asdict(item) for item in assumptions],
    }


def _plain_line(line: _Line) -> dict[str, Any]:
    from ..prices.trigger_words import wait_day

    outlook, plan = line.outlook, line.plan
    triggers = [round(float(price), 4) if math.isfinite(price) else None for price in plan.prices]
    return {
        "offer": outlook.offer,
        "name": outlook.name,
        "supplier": outlook.supplier,
        "currency": outlook.currency,
        "now": outlook.now,
        "seen_on": outlook.seen_on,
        "today": round(outlook.today, 4),
        "drift_yearly": round(outlook.drift_yearly, 6),
        "expected": [round(float(price), 4) for price in outlook.expected],
        "advice": plan.advice,
        "triggers": triggers,
        "trigger": triggers[0],
        "wait_until": None if plan.wait_until_week is None else wait_day(outlook, plan.wait_until_week),
        "bought_by": _week_day(outlook, plan.bought_by),
        "last_safe": _week_day(outlook, line.last_week),
        "needed_on": _week_day(outlook, line.need_week),
        "chance_to_see": round(plan.chance_to_see, 6),
        "regret": round(plan.regret, 3),
        "units": line.units,
        "expected_saving": round(line.saving, 2),
        "held_triggers": [round(float(price), 4) if math.isfinite(price) else None for price in plan.held_prices],
        "held_saving": round(plan.held_saving, 2),
        "grounds": [asdict(ground) for ground in outlook.grounds],
        "outlook": outlook.text,
        "text": " ".join(filter(None, (line.text, line.go_back))),
    }


def _week_day(outlook: Outlook, week: float | None) -> date | None:
    from ..build import date_at

    return None if week is None else date_at(outlook.as_of, week)


def _show(
    build: Build,
    lines: list[_Line],
    ready: Iterable[ReadyToBuy],
    checks: tuple[PriceCheck, ...],
    assumptions: tuple[Assumption, ...],
    everything: bool,
) -> None:
    if not lines:
        say("No offer is known for a part that is missing.")
        return
    ranked = sorted(lines, key=lambda line: (-line.saving, line.outlook.offer))
    heads = ("Offer", "Today", "Buy", "Last safe", "Saves")
    table(heads, (_row(line) for line in ranked), right=(1, 4), whole=(1, 2, 3, 4))
    say(f"Buy: at what price, or when. Saves: expected against buying all of it today, {build.owner.currency}.")
    say("Regretted: buying later, or today, would have cost less in all, by more than a look at the price is worth.\n")
    for line in ranked if everything else ranked[:SENTENCES_SHOWN]:
        held = _held(line, build.owner.currency)
        say(" ".join(filter(None, (line.text, _regret(line.plan), held, line.go_back))))
    _list("\nBefore a sale or a rise", (item.text for item in ready))
    _list("\nPrices worth looking up again", (c.text for c in (checks if everything else checks[:CHECKS_SHOWN])))
    shown = [note for note in assumptions if everything or note.about == "build"]
    more = len(assumptions) - len(shown)
    _list(
        f"\nTaken for granted ({len(assumptions)})",
        [
            *(f"  {note}" if note.about == "build" else f"  {note.about}: {note}" for note in shown),
            *([f"  … and {more} about single offers (--all)"] if more else []),
        ],
    )


def _regret(plan: TriggerPlan) -> str:
    """How likely it is to be regretted; nothing where it can't be ordered."""
    from ..plan.sentences import chance_words

    return f"Chance that it is regretted: {chance_words(plan.regret)}." if math.isfinite(plan.expected_cost) else ""


def _held(line: _Line, home: str) -> str:
    """What it is worth, and changes, if the seller holds today's price; nothing where that is next to nothing."""
    from ..prices.wording import format_price

    plan, outlook = line.plan, line.outlook
    if len(plan.held_prices) < 2 or plan.held_saving < LEAST_HELD:
        return ""
    level = float(plan.held_prices[0])
    until = f" until {format_price(level, outlook.currency)} or less" if 0 < level < 0.999 * outlook.today else ""
    worth = format_price(plan.held_saving, home)
    return f"If the seller holds today's price for you, take that and look on{until}: worth {worth} each."


def _list(head: str, texts: Iterable[str]) -> None:
    lines = list(texts)
    if lines:
        say(head)
        for line in lines:
            say(line)


def _row(line: _Line) -> tuple[str, ...]:
    from ..prices.trigger_words import later_trigger, wait_day, waits_a_week

    outlook, plan = line.outlook, line.plan
    buy = plan.advice.removeprefix("buy ")
    if plan.advice == "buy at the trigger":
        buy = f"up to {later_trigger(outlook, plan.prices):,.2f}"
        if waits_a_week(outlook, plan.prices):
            buy = f"from {outlook.as_of + timedelta(days=7):%-d %b %Y}"
    elif plan.advice == "wait" and plan.wait_until_week is not None:
        buy = f"{wait_day(outlook, plan.wait_until_week):%-d %b %Y}"
    return (
        outlook.offer,
        f"{outlook.today:,.2f} {outlook.currency}",
        buy,
        f"{outlook.as_of + timedelta(days=7 * line.last_week):%-d %b %Y}",
        f"{line.saving:,.0f}",
    )
