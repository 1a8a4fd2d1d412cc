"""From a settled round to the plan a person reads: lines, stalls, fit, notes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import ROUND_FLOOR, Decimal

import numpy as np

from ..build import Assumption, Money, date_at, offer_contents
from ..build.defaults import look_assumed
from ..build.money import minor_unit
from ..landed import LandedCost
from ..prices import Outlook, ReadyToBuy, ready_to_buy
from ..work import WorkReport
from .demand import Entry
from .loop import Round
from .market import arrivals_of
from .model import (
    ChargeLine,
    DecidingLine,
    Finish,
    FitLine,
    OfferTiming,
    PlannedCollection,
    PlannedConsignment,
    PlannedLine,
    PurchaseSummary,
    Range,
    RuleGround,
    StallLine,
    day_at,
)
from .opening import waited_for
from .sentences import chance_words, day_words, money_words, name_of
from .study import Studied
from .timing import offer_timings
from .waiting import selection_of

STALL_SHOWN = 0.05
DECIDING_SHOWN = 0.05
GOES_ALONG_WEEKS = 10.0
LEAST_SAVING = 2.0
"""A sale or rise that saves less is not worth a line [EUR]."""


def landed_by_line(chosen: Round) -> dict[str, float]:
    """Candidate -> money at the door of its planned units, shared fees by value, home currency."""
    market, selection = chosen.market, selection_of(chosen)
    costs = chosen.recosting.landed(selection)
    landed: dict[str, float] = {}
    for key, lines in selection.items():
        entries = [(market.entries[candidate], units) for candidate, units in lines]
        shares = [(entry.candidate.cost - entry.extras) * units for entry, units in entries]
        amounts = shared_out(costs[key].total, shares)
        landed |= {candidate: float(amount) for (candidate, _units), amount in zip(lines, amounts, strict=True)}
    return landed


def shared_out(total: Money, shares: Sequence[float]) -> list[Decimal]:
    """An amount shared out in whole minor units that add up to it; what is left over goes to the first ones.

    Examples
    --------
    >>> [str(amount) for amount in shared_out(Money.of("10.00", "EUR"), (1, 1, 1))]
    ['3.34', '3.33', '3.33']
    """
    unit = Decimal(1).scaleb(-minor_unit(total.currency))
    weight = Decimal(str(sum(shares)))
    even = [Decimal(str(share)) / weight if weight else Decimal(1) / len(shares) for share in shares]
    amounts = [(total.amount * part).quantize(unit, ROUND_FLOOR) for part in even]
    left = int((total.amount - sum(amounts)) / unit)
    return [amount + unit if position < left else amount for position, amount in enumerate(amounts)]


def purchase_summary(studied: Studied, chosen: Round, landed: Mapping[str, float]) -> PurchaseSummary:
    """The purchase plan in dates, names and money."""
    market, purchase = chosen.market, chosen.purchase
    lines = [_line(studied, chosen, market.entries[item.candidate], item.units, landed) for item in purchase.lines]
    lines.sort(key=lambda line: (line.order_week, line.supplier, line.shipment, line.offer))
    trips = [_trip(studied, chosen, trip, lines) for trip in purchase.trips]
    total = sum(landed[item.candidate] for item in purchase.lines) + sum(trip.trip_cost for trip in trips)
    unmet = {**market.unoffered(), **purchase.unmet}
    held = {offer: why for offer, (week, why) in chosen.openings.holds.items() if week > 0}
    waits = {offer: waited_for(studied.situation, offer, chosen.openings) for offer in sorted(held)}
    return PurchaseSummary(
        consignments=consignments_of(chosen),
        timings=offer_timings(studied, chosen),
        total=round(total, 2),
        gap=purchase.gap,
        lines=tuple(lines),
        collections=tuple(trips),
        expected_cost=round(chosen.money, 2),
        unmet=dict(sorted(unmet.items())),
        held=dict(sorted(held.items())),
        waits=waits,
        note=purchase.text,
    )


def consignments_of(chosen: Round) -> tuple[PlannedConsignment, ...]:
    """Every planned shipment itemised, with what could fall out otherwise."""
    found = chosen.recosting.doubted(selection_of(chosen))
    return tuple(_consignment(key, found[key]) for key in sorted(found))


def _consignment(key: str, cost: LandedCost) -> PlannedConsignment:
    return PlannedConsignment(
        shipment=key,
        lines=tuple(ChargeLine(x.label, float(x.amount.amount), x.kind, x.rule, x.note) for x in cost.lines),
        total=float(cost.total.amount),
        flags=cost.flags,
        assumptions=tuple(str(item) for item in cost.assumptions),
        ranges=tuple(Range(float(x.low.amount), float(x.high.amount), x.text) for x in cost.doubts),
        rules=tuple(RuleGround(x.id, x.status, x.as_of, x.source, x.url, x.note) for x in cost.rules),
    )


def _line(studied: Studied, chosen: Round, entry: Entry, units: int, landed: Mapping[str, float]) -> PlannedLine:
    situation, market = studied.situation, chosen.market
    moment = arrivals_of(market, entry)
    dated = is_dated(studied, chosen, entry)
    needs = [chosen.demand.needs[part] for part in entry.candidate.covers if part in chosen.demand.needs]
    late = float(np.mean(np.any([moment > need for need in needs], axis=0))) if needs else 0.0
    offer = entry.offer
    name = (
        name_of(situation.build, "parts", offer.part)
        if offer.part
        else name_of(situation.build, "kits", offer.kit or "")
    )
    return PlannedLine(
        part=name,
        offer=offer.id,
        supplier=offer.supplier,
        units=units * entry.count,
        order_by=_order_day(studied, entry) if dated else None,
        order_week=entry.week,
        route=entry.way.name,
        collection=entry.way.collection.id if entry.way.collection else None,
        shipment=entry.candidate.shipment,
        landed=round(landed[entry.candidate.key], 2),
        arrives_p50=date_at(situation.as_of, float(np.quantile(moment, 0.5))) if dated else None,
        arrives_p90=date_at(situation.as_of, float(np.quantile(moment, 0.9))) if dated else None,
        late_chance=late,
        late_cost=round(entry.late * units, 2),
        why=_why(studied, chosen, entry),
    )


def is_dated(studied: Studied, chosen: Round, entry: Entry) -> bool:
    """Whether anything says when to order: a job or phase, a hold, an expected sale or a rise."""
    outlook = studied.outlooks[entry.offer.id]
    needed = any(part in chosen.demand.needs for part in entry.candidate.covers)
    held = chosen.openings.holds.get(entry.offer.id, (0.0, ""))[0] > 0
    return needed or held or outlook.sale_chance[entry.week] > 0 or _rises_after(outlook, entry)


def _rises_after(outlook: Outlook, entry: Entry) -> bool:
    """Whether the price goes up soon after the week of a line."""
    later = outlook.expected[min(entry.week + 3, len(outlook.expected) - 1)] * entry.level
    return bool(later > entry.price * 1.015)


def _order_day(studied: Studied, entry: Entry) -> date:
    """First day of the order week; of a sale that begins within it, the sale's first day."""
    situation = studied.situation
    day = date_at(situation.as_of, entry.week)
    for sale in studied.outlooks[entry.offer.id].sales:
        if sale.first is not None and sale.first_week == entry.week:
            day = max(day, min(sale.first, day + timedelta(days=6)))
    return day


def _why(studied: Studied, chosen: Round, entry: Entry) -> str:
    """The reason for a line's week: what it waits for, the sale it takes, or the day it is needed."""
    as_of = studied.situation.as_of
    outlook = studied.outlooks[entry.offer.id]
    week, hold = chosen.openings.holds.get(entry.offer.id, (0.0, ""))
    chosen_so = chosen.market.choices.wanted(entry.offer)
    if chosen_so is not None:
        return "You chose it" + (f": {chosen_so.why}" if chosen_so.why else ".")
    if week > 0 and entry.week <= week + 2:
        return f"Held until then by {hold}."
    if outlook.sale_chance[entry.week] > 0:
        chance = f"{outlook.sale_chance[entry.week]:.0%}".replace("%", " %")
        about = f"{outlook.sale_price[entry.week] * entry.level:.0f} {outlook.currency}"
        return f"A sale is expected then ({chance}), about {about}."
    if _rises_after(outlook, entry):
        later = outlook.expected[min(entry.week + 3, len(outlook.expected) - 1)] * entry.level
        return f"The price rises to {later:.0f} {outlook.currency} soon after."
    needs = [chosen.demand.needs[part] for part in entry.candidate.covers if part in chosen.demand.needs]
    if not needs:
        return "No job or phase says when it is needed."
    early = min(float(np.quantile(need, 0.1)) for need in needs)
    lead = situation_lead(studied, entry)
    if early > entry.week + lead + GOES_ALONG_WEEKS and _shares_shipment(chosen, entry):
        return f"Goes along and saves its own freight; needed from {day_words(date_at(as_of, early), as_of)}."
    return f"May be needed from {day_words(date_at(as_of, max(0.0, early)), as_of)}" + _lead_words(lead)


def _shares_shipment(chosen: Round, entry: Entry) -> bool:
    shipment = entry.candidate.shipment
    return sum(line.shipment == shipment for line in chosen.purchase.lines) > 1


def situation_lead(studied: Studied, entry: Entry) -> float:
    """Weeks within which nine in ten deliveries of an entry come, slippage included."""
    lead = studied.deliveries.lead_weeks(entry.offer) + studied.deliveries.travel_weeks(entry.offer, entry.way.route)
    return float(np.quantile(lead, 0.9))


def _lead_words(weeks: float) -> str:
    return f", and takes up to {weeks:.0f} weeks to come." if weeks >= 1.5 else "."


def _trip(studied: Studied, chosen: Round, trip: str, lines: list[PlannedLine]) -> PlannedCollection:
    collection = studied.situation.build.find("collections", trip)
    parts = tuple(line.part for line in lines if line.collection == trip)
    cost = chosen.market.trip_fixed(trip)
    return PlannedCollection(trip, collection.day, parts, round(cost, 2))


def finish_of(studied: Studied, run: WorkReport | None) -> Finish:
    """The finish as dates by chance."""
    if run is None:
        return Finish(None, None, None, None)
    as_of = studied.situation.as_of
    return Finish(*(day_at(as_of, float(run.quantile(p))) for p in (0.1, 0.5, 0.8, 0.95)))


def stall_lines(studied: Studied, run: WorkReport | None) -> tuple[StallLine, ...]:
    """Months with a chance of stalling, or with stalled hours, and what causes them."""
    if run is None:
        return ()
    lines = []
    for month in run.stalls:
        if month.chance < STALL_SHOWN and month.hours < 1:
            continue
        causes = tuple(_cause(studied, c.kind, c.id, c.hours) for c in month.causes[:4] if c.hours >= 0.1)
        lines.append(StallLine(month.month, month.chance, round(month.hours, 1), causes))
    return tuple(lines)


def deciding_lines(studied: Studied, run: WorkReport | None) -> tuple[DecidingLine, ...]:
    """Jobs on the chain that sets the finish, and what that chain begins with waiting for, the likeliest first."""
    if run is None:
        return ()
    build = studied.situation.build
    lines = []
    for job, chance in run.criticality.items():
        if chance >= DECIDING_SHOWN:
            name = name_of(build, "jobs", job)
            text = f"“{name}” is on the chain of work that sets the finish, with a chance of {chance_words(chance)}."
            lines.append(DecidingLine("jobs", job, chance, text))
    for (kind, id_), chance in run.decided_by.items():
        if chance >= DECIDING_SHOWN:
            list_name, words = _CAUSES[kind]
            why = words.format(name_of(build, list_name, id_))
            text = f"The chain of work that sets the finish begins with waiting {why}, with a chance of "
            lines.append(DecidingLine(list_name, id_, chance, f"{text}{chance_words(chance)}."))
    return tuple(sorted(lines, key=lambda line: (-line.chance, line.kind, line.id)))


_CAUSES = {
    "part": ("parts", "for want of {}"),
    "decision": ("decisions", "until “{}” is decided"),
    "interface": ("interfaces", "until {} is settled"),
    "workshop": ("workshops", "while {} has the work"),
    "season": ("jobs", "for the season of {}"),
    "cure": ("jobs", "while {} cures"),
    "job": ("jobs", "until {} may begin"),
    "helper": ("jobs", "for a second person for {}"),
    "bay": ("jobs", "while {} keeps the bay or lift"),
}


def _cause(studied: Studied, kind: str, id_: str, hours: float) -> str:
    list_name, words = _CAUSES[kind]
    return f"{hours:.1f} h {words.format(name_of(studied.situation.build, list_name, id_))}"


def fit_lines(studied: Studied) -> tuple[FitLine, ...]:
    """Every condition with its verdict."""
    return tuple(
        FitLine(
            interface=item.interface,
            condition=item.condition,
            verdict=str(item.verdict),
            chance=item.chance,
            standard_error=item.standard_error,
            shares=dict(item.shares),
            text=item.text,
        )
        for item in studied.fit.conditions
    )


def ready_lines(
    studied: Studied, chosen: Round, timings: Iterable[OfferTiming], lines: Iterable[PlannedLine]
) -> tuple[ReadyToBuy, ...]:
    """What must be decided, measured and funded before each expected sale, announced rise and end of an offer.

    What the plan itself orders later than its last safe day waits for what happens until then.
    """
    situation, build = studied.situation, studied.situation.build
    open_decisions: dict[str, tuple[str, ...]] = {}
    open_measures: dict[str, tuple[str, ...]] = {}
    for offer in build.offers:
        parts = set(offer_contents(build, offer))
        decisions = [
            key for key in chosen.openings.decisions
            if any(parts & set(option.parts) for option in build.find("decisions", key).options)
        ]  # fmt: skip
        releases = [r for r in build.releases if r.offer == offer.id or r.part in parts]
        decisions += [key for release in releases for key in release.decisions if key in chosen.openings.decisions]
        measures = [key for release in releases for key in release.dimensions if key in chosen.openings.dimensions]
        open_decisions[offer.id] = tuple(dict.fromkeys(decisions))
        open_measures[offer.id] = tuple(dict.fromkeys(measures))
    planned = {line.offer: line.order_by for line in lines if line.order_by is not None}
    found = ready_to_buy(
        build,
        situation.facts,
        {entry.offer.id: studied.outlooks[entry.offer.id] for entry in chosen.market.entries.values()},
        situation.missing_parts,
        situation.to_home,
        open_decisions,
        open_measures,
        {
            timing.offer: max(timing.last_safe, planned.get(timing.offer, timing.last_safe))
            for timing in timings
            if timing.needed is not None
        },
    )
    return tuple(
        replace(item, fund=round(item.fund, 2), saving=round(item.saving, 2))
        for item in found
        if item.saving >= studied.situation.in_home(LEAST_SAVING) or item.kind == "end"
    )


def rule_flags(chosen: Round) -> tuple[str, ...]:
    """Doubts about the import rules behind the planned consignments: undated, old, out of validity."""
    costs = chosen.recosting.landed(selection_of(chosen)).values()
    flags = {flag for cost in costs for flag in cost.flags}
    return tuple(sorted(flags))


def all_assumptions(studied: Studied, chosen: Round, extra: tuple[Assumption, ...]) -> tuple[Assumption, ...]:
    """Everything taken for granted anywhere in the plan, without repeats."""
    found: set[Assumption] = {*studied.assumptions, *extra, *chosen.openings.assumptions, *chosen.purchase.assumptions}
    found |= set(studied.deliveries.assumptions.values()) | set(chosen.market.assumptions.values())
    for offer in {entry.offer.id for entry in chosen.market.entries.values()}:
        found |= set(studied.outlooks[offer].assumptions)
    found |= {Assumption("import-rule", "build", flag) for flag in rule_flags(chosen)}
    for part in studied.situation.facts.wrong:
        name = name_of(studied.situation.build, "parts", part)
        text = f"“{name}” was found not right; another is planned once it has gone back"
        found.add(Assumption("found-wrong", f"part {part}", text))
    if chosen.market.entries:
        found.add(look_assumed())
    for choice_id, choice in studied.situation.facts.choices.items():
        if not choice.decided:
            name = name_of(studied.situation.build, "decisions", choice_id)
            ground = "it stands first" if choice.assumed else "you lean to it"
            text = f"“{name}” is open; planned with “{choice.option.name}”, because {ground}"
            found.add(Assumption("open-decision", f"decision {choice_id}", text))
    return tuple(sorted(found))


def _unoffered(studied: Studied, chosen: Round, part: str) -> str:
    """Why a part can't be bought."""
    build = studied.situation.build
    offers = [offer for offer in build.offers if part in offer_contents(build, offer)]
    held = sorted({why for offer in offers if (why := chosen.openings.holds.get(offer.id, (0.0, ""))[1])})
    if held:
        return f"not ordered, because nothing planned settles its {held[0]}"
    return "no offer for it can be ordered any more" if offers else "nobody is known to sell it"


def notes_of(studied: Studied, chosen: Round, rounds: int, run: WorkReport | None) -> Iterator[str]:
    """What a reader should know of how the plan was made."""
    currency = studied.situation.build.owner.currency
    if rounds > 1:
        yield f"Dates and purchases settled in {rounds} rounds; the cheapest is shown."
    for what, why in sorted(chosen.market.ruled_out.items()):
        yield f"Ruled out: {what}: {why}."
    if run is not None and run.unfinished_share > 0:
        share = chance_words(run.unfinished_share) if run.unfinished_share < 1 else "all"
        yield f"In {share} of the runs the build is not finished within ten years."
    for part, count in sorted(chosen.market.unoffered().items()):
        name = name_of(studied.situation.build, "parts", part)
        yield f"{name} ({count:g} wanted): {_unoffered(studied, chosen, part)}; taken as found in time, at no cost."
    if chosen.purchase.lines:
        yield (
            f"Money is in {currency}, an estimate on the day's rates and rules; declare goods honestly: "
            "the customs authority or a licensed broker decides."
        )
        yield f"Purchase gap for these dates: {chosen.purchase.gap:.2%}".replace("%", " %") + (
            f" of {money_words(chosen.purchase.total, currency)} expected cost."
        )
