"""The next three questions worth answering, by how much the answer can change the plan."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from ..build import Build, offer_contents
from ..build.commerce import Supplier
from ..build.defaults import RESALE_SHARE, RETURNS
from .demand import Entry
from .loop import Round
from .market import CHANGE_OF_MIND, UNKNOWN_MISFIT
from .model import FloatArray, Question
from .offered import crosses_border
from .sentences import money_words, phases_asked
from .study import LAST_WEEK, PROBE_RUNS, Studied
from .waiting import selection_of

AN_EVENING = 3
LEAD_SWING_WEEKS = 4.0
# What an answer typically moves: half of what it is asked about (our own defaults, checked by planning again).
HALF, AVOIDABLE = 0.5, 0.15
CASH_SHARE, PATIENCE_SHARE, INTERFACE_SHARE, DATE_SHARE = 0.12, 0.003, 0.03, 0.1
# What freight nobody named usually comes to: shares of the goods, and amounts [EUR].
PARCEL_SHARE, PARCEL, BORDER_SHARE, BORDER_FEES = 0.01, 8.0, 0.03, 40.0


def next_questions(studied: Studied, chosen: Round, finish: FloatArray | None) -> tuple[Question, ...]:
    """At most three questions, the most telling first.

    Parameters
    ----------
    finish : weeks to the finish in each run; None if nothing dates the work

    Notes
    -----
    Each is worth the money its answer can move, home currency: what the figure taken instead bears on, times how far
    an answer usually lies from it. What no answer can move yet is not asked.
    """
    found = list(_start(studied.situation.build))
    if not found:
        found = [*_owner(studied, chosen, finish), *_offers(studied, chosen), *_suppliers(studied, chosen)]
        found += [*_gaps(studied, chosen), *_decisions(studied, chosen)]
    found = [question for question in found if question.worth >= 1]
    found.sort(key=lambda question: (-question.worth, question.key))
    return tuple(found[:AN_EVENING])


def _start(build: Build) -> Iterator[Question]:
    if not build.parts and not build.jobs:
        text = (
            "Which parts do you know you need, and what do they cost? Any list will do: a spreadsheet, a page of notes."
        )
        yield Question("parts", text, 1.0, "Everything else begins with it.")


def _owner(studied: Studied, chosen: Round, finish: FloatArray | None) -> Iterator[Question]:
    situation = studied.situation
    owner, currency = situation.build.owner, situation.build.owner.currency
    spend = _cost_of(chosen)
    if finish is not None:
        delay = float(np.median(np.minimum(finish, 520))) * situation.week_delay_cost
        if owner.hours_per_week is None and not owner.seasons:
            # half or double the hours moves the finish by half its distance or more
            text = "How many hours a week do you really get at the vehicle, summer and winter?"
            yield Question("hours-per-week", text, HALF * delay, "Every date in the plan rests on it.")
        if owner.hours_left is None and any(a.code == "phase-hours-default" for a in studied.assumptions):
            text = "About how many hours of work are left, all told?"
            why = "The hours of each phase were guessed from the number of parts."
            yield Question("hours-left", text, 1.25 * HALF * delay, why)
        if owner.week_delay_cost is None:
            # what waits together is late together
            lates = (chosen.market.entries[line.candidate].late * line.units for line in chosen.purchase.lines)
            late = max(lates, default=0.0)
            text = f"What is a week of delay worth to you in {currency}: rent, a missed season, patience?"
            why = "It decides what is worth paying to avoid waiting."
            yield Question("week-delay-cost", text, AVOIDABLE * late + PATIENCE_SHARE * spend, why)
        if owner.cash_per_month is None:
            text = f"How much can you spend a month, and how much is in hand now, in {currency}?"
            why = f"{money_words(spend, currency)} is still to be bought, and the plan keeps to no limit."
            yield Question("cash-per-month", text, CASH_SHARE * spend, why)
    if owner.hour_worth is None:
        hours = sum(trip.hours for trip in situation.build.collections if trip.id in chosen.market.trips)
        rework = sum(measure.value for measure in studied.fit.measures)
        worth = HALF * (hours * situation.hour_worth + HALF * rework)
        text = f"What is one of your own hours worth, in {currency}, against paying someone else?"
        yield Question(
            "hour-worth", text, worth, "It weighs fetching against having it brought, and making against buying."
        )


def _offers(studied: Studied, chosen: Round) -> Iterator[Question]:
    """Lead time and return terms of what is bought, where they are not known."""
    situation, build = studied.situation, studied.situation.build
    for line in chosen.purchase.lines:
        entry = chosen.market.entries[line.candidate]
        offer, cost = entry.offer, entry.candidate.cost * line.units
        parts = list(offer_contents(build, offer))
        name, supplier = build.find("parts", parts[0]).name, build.find("suppliers", offer.supplier).name
        if offer.lead_weeks is None and studied.simulator is not None:
            # a longer lead time only costs what ordering sooner can't make up for
            moved = _finish_moved(studied, chosen, parts, max(0.0, LEAD_SWING_WEEKS - entry.week))
            text = f"How long from order to dispatch for {name} at {supplier}: at best, likely, at worst?"
            worth = HALF * moved * situation.week_delay_cost + 0.003 * cost
            yield Question(f"lead:{offer.id}", text, worth, "The latest safe order date rests on it.")
        if offer.returns is None and not offer.made_to_order:
            misfit = max(chosen.demand.misfit.get(part, UNKNOWN_MISFIT) for part in parts)
            text = f"Until when, and in what state, does {supplier} take {name} back?"
            worth = misfit * cost * (1 - RESALE_SHARE)
            yield Question(f"returns:{offer.id}", text, worth, f"{RETURNS.days} days was taken.")


def _finish_moved(studied: Studied, chosen: Round, parts: list[str], weeks: float) -> float:
    """How far the finish moves if some parts come so much later than planned, all else as planned [weeks]."""
    if studied.simulator is None or not weeks:
        return 0.0
    later = {part: chosen.gates.parts[part] + weeks for part in parts if part in chosen.gates.parts}
    moved = studied.simulator.finish_weeks(
        replace(chosen.gates, parts={**chosen.gates.parts, **later}), runs=PROBE_RUNS
    )
    base = studied.simulator.finish_weeks(chosen.gates, runs=PROBE_RUNS)
    return float(np.mean(np.minimum(moved, LAST_WEEK) - np.minimum(base, LAST_WEEK)))


def _suppliers(studied: Studied, chosen: Round) -> Iterator[Question]:
    """Freight, and what is in doubt about duty and tax, of those that something is bought from."""
    build = studied.situation.build
    bought: Mapping[str, list[Entry]] = _by_supplier(chosen)
    for key in sorted(bought):
        supplier = build.find("suppliers", key)
        if supplier.freight:
            continue
        abroad = crosses_border(studied.situation, supplier)
        share, least = (BORDER_SHARE, BORDER_FEES) if abroad else (PARCEL_SHARE, PARCEL)
        worth = share * _cost_of(chosen, supplier=key) + studied.situation.in_home(least)
        text = f"What does {supplier.name} ({supplier.country}) charge for freight, and by which way does it come?"
        yield Question(f"freight:{key}", text, worth, "Nothing was added for it.")
    yield from _doubts(studied, chosen)


def _by_supplier(chosen: Round) -> Mapping[str, list[Entry]]:
    bought: dict[str, list[Entry]] = defaultdict(list)
    for line in chosen.purchase.lines:
        entry = chosen.market.entries[line.candidate]
        bought[entry.offer.supplier].append(entry)
    return bought


def _doubts(studied: Studied, chosen: Round) -> Iterator[Question]:
    """What the landed cost itself says could fall out otherwise, by how much; the like of one supplier together."""
    build = studied.situation.build
    swings: dict[tuple[str, str], float] = defaultdict(float)
    for key, cost in chosen.recosting.doubted(selection_of(chosen)).items():
        for doubt in cost.doubts:
            swings[chosen.market.shipments[key].supplier, doubt.code] += float(doubt.high.amount - doubt.low.amount)
    for (key, code), swing in sorted(swings.items()):
        asked = _doubt_words(build.find("suppliers", key), code)
        if asked:
            yield Question(f"{code}:{key}", asked[0], HALF * swing, asked[1])


def _doubt_words(supplier: Supplier, code: str) -> tuple[str, str] | None:
    words = {
        "origin-tax": (
            f"Does {supplier.name} export, and sell without its own sales tax?",
            "Its prices were taken to keep it, and the import tax comes on top.",
        ),
        "heading": (
            f"Under which tariff headings do the goods from {supplier.name} fall?",
            "A usual duty was taken.",
        ),
        "preference": (
            f"Can {supplier.name} give a proof of origin?",
            "With one the goods may come in without duty; none was taken for granted.",
        ),
    }
    return words.get(code)


def _gaps(studied: Studied, chosen: Round) -> Iterator[Question]:
    build = studied.situation.build
    if not build.interfaces and studied.simulator is not None:
        text = "Where do the new parts meet the vehicle or each other, and which of those places are you least sure of?"
        why = "A misfit found late is the dearest mistake of a build, and nothing is known yet of what meets what."
        yield Question("interfaces", text, INTERFACE_SHARE * _cost_of(chosen), why)
    named = {part for job in build.jobs if job.id not in _phase_jobs(studied) for part in (*job.to_try, *job.to_keep)}
    missing = studied.situation.missing_parts
    undated = [part for part in missing if build.find("parts", part).phase is None and part not in named]
    if undated:
        text = phases_asked([build.find("parts", part).name for part in _dearest(chosen, undated)])
        worth = DATE_SHARE * _cost_of(chosen, parts=set(undated)) + 2 * len(undated)
        yield Question("phases", text, worth, "Without a phase the plan can't say when to order.")
    unsold = sorted(chosen.market.unoffered())
    costs = [chosen.market.entries[line.candidate].candidate.cost * line.units for line in chosen.purchase.lines]
    typical = float(np.median(costs)) if costs else 100.0
    for part in unsold:
        if not any(part in offer_contents(build, offer) for offer in build.offers):
            text = f"Who sells {build.find('parts', part).name}, and for how much?"
            yield Question(f"offer:{part}", text, typical, "The build needs it and no offer is known.")


def _decisions(studied: Studied, chosen: Round) -> Iterator[Question]:
    """Open decisions of which not even the leading option is known."""
    build = studied.situation.build
    for result in studied.decided.decisions:
        choice = studied.situation.facts.choices[result.decision]
        if not choice.assumed or choice.decided:
            continue
        decision = build.find("decisions", result.decision)
        parts = {part for option in decision.options for part in option.parts}
        text = f"Which way do you lean on “{decision.name}”?"
        worth = CHANGE_OF_MIND * _cost_of(chosen, parts=parts) + 20
        yield Question(
            f"leading:{decision.id}", text, worth, f"“{choice.option.name}” was taken because it stands first."
        )


def _phase_jobs(studied: Studied) -> set[str]:
    """Jobs made up from phases, not the owner's."""
    guessed = any(assumption.code == "phase-jobs" for assumption in studied.assumptions)
    return {job.id for job in studied.situation.build.jobs} if guessed else set()


def _dearest(chosen: Round, parts: list[str]) -> list[str]:
    return sorted(parts, key=lambda part: (-_cost_of(chosen, parts={part}), part))


def _cost_of(chosen: Round, *, parts: set[str] | None = None, supplier: str | None = None) -> float:
    """What the planned lines cost, home currency: all, those that bring some of these parts, or of one supplier."""
    entries = [(chosen.market.entries[line.candidate], line.units) for line in chosen.purchase.lines]
    return float(
        sum(
            entry.candidate.cost * units
            for entry, units in entries
            if (parts is None or parts & set(entry.candidate.covers))
            and (supplier is None or entry.offer.supplier == supplier)
        )
    )
