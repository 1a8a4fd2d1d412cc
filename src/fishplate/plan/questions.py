"""The next three questions worth answering, by how much the answer can change the plan."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..build import offer_contents
from .loop import Round, Studied, missing_parts
from .market import RETURNS_DEFAULT
from .model import FloatArray, Question
from .sentences import money_words

AN_EVENING = 3
LEAD_SWING_WEEKS = 6.0


def next_questions(studied: Studied, chosen: Round, finish: FloatArray | None) -> tuple[Question, ...]:
    """At most three questions, the most telling first.

    Each is scored by the money its answer can move: the swing of the assumed figure times what it bears on.
    """
    found = [*_owner(studied, chosen, finish), *_offers(studied, chosen), *_gaps(studied, chosen)]
    found.sort(key=lambda question: (-question.worth, question.key))
    return tuple(found[:AN_EVENING])


def _money_at_stake(chosen: Round) -> float:
    return float(
        sum(chosen.market.entries[line.candidate].candidate.cost * line.units for line in chosen.purchase.lines)
    )


def _owner(studied: Studied, chosen: Round, finish: FloatArray | None) -> Iterator[Question]:
    situation = studied.situation
    owner, currency = situation.build.owner, situation.build.owner.currency
    spend = _money_at_stake(chosen)
    weeks = None if finish is None else float(np.median(np.minimum(finish, 520)))
    if owner.hours_per_week is None and not owner.seasons:
        # half or double the hours taken moves the finish by about half its distance
        worth = 0.5 * weeks * situation.week_delay_cost if weeks is not None else 0.1 * spend + 200
        yield Question(
            "hours-per-week",
            "How many hours a week do you really get at the vehicle, summer and winter?",
            worth,
            "Every date in the plan rests on it.",
        )
    if owner.week_delay_cost is None:
        delay = 0.25 * weeks * situation.week_delay_cost if weeks is not None else 0.02 * spend
        yield Question(
            "week-delay-cost",
            f"What is a week of delay worth to you in {currency}: rent, a missed season, patience?",
            delay,
            "It decides what is worth paying to avoid waiting.",
        )
    if owner.cash_per_month is None and spend > 500:
        yield Question(
            "cash-per-month",
            f"How much can you spend a month, and how much is in hand now, in {currency}?",
            0.05 * spend,
            f"{money_words(spend, currency)} is still to be bought, and the plan keeps to no limit.",
        )
    if owner.hour_worth is None:
        yield Question(
            "hour-worth",
            f"What is one of your own hours worth, in {currency}, against paying someone else?",
            0.01 * spend + 20,
            "It weighs fetching against having it brought, and making against buying.",
        )


def _offers(studied: Studied, chosen: Round) -> Iterator[Question]:
    """Lead time and return terms of the dearest offers that leave them open."""
    situation, build = studied.situation, studied.situation.build
    for line in chosen.purchase.lines:
        entry = chosen.market.entries[line.candidate]
        offer, cost = entry.offer, entry.candidate.cost * line.units
        parts = list(offer_contents(build, offer))
        name = build.find("parts", parts[0]).name
        supplier = build.find("suppliers", offer.supplier)
        if offer.lead_weeks is None:
            curves = [studied.late_weeks[part] for part in parts if part in studied.late_weeks]
            moved = max((float(np.interp(LEAD_SWING_WEEKS, *curve)) for curve in curves), default=0.3)
            worth = moved * situation.week_delay_cost + 0.01 * cost
            yield Question(
                f"lead:{offer.id}",
                f"How long from order to dispatch for {name} at {supplier.name}: at best, likely, at worst?",
                worth,
                "The latest safe order date rests on it.",
            )
        if offer.returns is None:
            misfit = max((chosen.demand.misfit.get(part, 0.1) for part in parts), default=0.1)
            yield Question(
                f"returns:{offer.id}",
                f"Until when, and in what state, does {supplier.name} take {name} back?",
                misfit * cost * 0.4,
                f"{RETURNS_DEFAULT.days} days was taken.",
            )
    foreign = {supplier.id for supplier in build.suppliers if not supplier.freight}
    for supplier_id in sorted(
        foreign & {chosen.market.entries[line.candidate].offer.supplier for line in chosen.purchase.lines}
    ):
        supplier = build.find("suppliers", supplier_id)
        value = sum(
            chosen.market.entries[line.candidate].candidate.cost * line.units
            for line in chosen.purchase.lines
            if chosen.market.entries[line.candidate].offer.supplier == supplier_id
        )
        yield Question(
            f"freight:{supplier_id}",
            f"What does {supplier.name} ({supplier.country}) charge for freight, and by which way does it come?",
            0.08 * value + 5,
            "Nothing was added for it.",
        )


def _gaps(studied: Studied, chosen: Round) -> Iterator[Question]:
    situation, build = studied.situation, studied.situation.build
    missing = missing_parts(situation)
    spend = _money_at_stake(chosen)
    if not build.interfaces and build.jobs and spend > 0:
        yield Question(
            "interfaces",
            "Where do the new parts meet the vehicle or each other, and which of those places are you least sure of?",
            0.06 * spend,
            "A misfit found late is the dearest mistake of a build, and nothing is known yet of what meets what.",
        )
    undated = [p for p in missing if build.find("parts", p).phase is None and not _named_by_job(studied, p)]
    if undated:
        cost = _cost_of(chosen, set(undated))
        yield Question(
            "phases",
            f"In which phase do you need each of the {len(undated)} parts that name none, the dearest first?",
            0.1 * cost + 5 * len(undated),
            "Without a phase the plan can't say when to order.",
        )
    unsold = chosen.market.unoffered()
    for part in sorted(unsold)[:2]:
        yield Question(
            f"offer:{part}",
            f"Who sells {build.find('parts', part).name}, and for how much?",
            150.0,
            "The build needs it and no offer is known.",
        )
    for decision in studied.decided.decisions:
        choice = situation.facts.choices.get(decision.decision)
        if choice is not None and choice.assumed and not choice.decided:
            yield Question(
                f"leading:{decision.decision}",
                f"Which way do you lean on “{build.find('decisions', decision.decision).name}”?",
                60.0,
                f"“{choice.option.name}” was taken because it stands first.",
            )


def _named_by_job(studied: Studied, part: str) -> bool:
    jobs = studied.situation.build.jobs
    return any(part in job.to_try or part in job.to_keep for job in jobs if not job.id.startswith("phase-"))


def _cost_of(chosen: Round, parts: set[str]) -> float:
    entries = [(chosen.market.entries[line.candidate], line.units) for line in chosen.purchase.lines]
    return float(sum(e.candidate.cost * units for e, units in entries if parts & set(e.candidate.covers)))
