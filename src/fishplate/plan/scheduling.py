"""The schedule of the work by the dates of the last plan: when parts come and decisions are taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from ..build import Assumption, Build, Facts, facts_of, offer_contents, week_of
from ..build.words import day_words
from ..work import Gates, usual_gates, with_phase_jobs
from ..work.schedule_model import Limits, Progress, Stop
from ..work.schedule_plan import work_schedule
from ..work.schedule_result import WorkSchedule
from .model import ActionKind, FloatArray, Plan
from .need_dates import learnt_slippage

RUNS = 500
UNKNOWN_DOUBT = 0.5


def scheduled(
    build: Build,
    as_of: date,
    plan: Plan | None,
    *,
    deadline: date | None = None,
    last: WorkSchedule | None = None,
    baseline: WorkSchedule | None = None,
    revision: int = 0,
    limits: Limits | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> WorkSchedule:
    """The schedule of a build on a day.

    Parameters
    ----------
    plan : the last plan, whose orders and decisions give the dates; without one, what is missing is ordered today
    deadline, last, baseline, revision, limits, progress, stop : see `work.schedule_plan.work_schedule`

    Raises
    ------
    ValueError
        if jobs wait for each other in a circle
    """
    build, by_phase = with_phase_jobs(build, facts_of(build, as_of))
    facts = facts_of(build, as_of)
    usual, supposed = usual_gates(build, facts, runs=RUNS, learnt=learnt_slippage(build, as_of))
    gates = usual if plan is None else _with_plan(build, facts, usual, plan)
    found = work_schedule(
        build, facts, gates, doubts=_doubts(plan), deadline=deadline, last=last, baseline=baseline,
        revision=revision, limits=limits, progress=progress, stop=stop,
    )  # fmt: skip
    said = supposed if plan is None else (_dates_of(plan),)
    return replace(found, assumptions=tuple(dict.fromkeys([*by_phase, *said, *found.assumptions])))


def _with_plan(build: Build, facts: Facts, usual: Gates, plan: Plan) -> Gates:
    """Gates with the plan's dates where it has any."""
    parts: dict[str, float | FloatArray] = dict(usual.parts)
    for line in plan.purchase.lines:
        offer = build.index["offers"].get(line.offer)
        if offer is None or line.arrives_p50 is None:
            continue
        week = max(0.0, week_of(facts.as_of, line.arrives_p50))
        for part in offer_contents(build, offer):
            # a part that comes in several deliveries is there with the last of them
            if part in usual.parts:
                known = [item.arrives_p50 for item in plan.purchase.lines if _brings(build, item.offer, part)]
                parts[part] = max([week, *(max(0.0, week_of(facts.as_of, day)) for day in known if day is not None)])
    decisions: dict[str, float | FloatArray] = dict(usual.decisions)
    for action in plan.actions:
        if action.kind is ActionKind.DECIDE and action.key in decisions:
            think = build.find("decisions", action.key).think_weeks
            decisions[action.key] = max(think, week_of(facts.as_of, action.by))
    return Gates(parts=parts, decisions=decisions)


def _brings(build: Build, offer_id: str, part: str) -> bool:
    offer = build.index["offers"].get(offer_id)
    return offer is not None and part in offer_contents(build, offer)


def _doubts(plan: Plan | None) -> Mapping[str, float]:
    """By interface, the chance of its worst condition not to hold; half where that is not known."""
    doubts: dict[str, float] = {}
    for line in () if plan is None else plan.fit:
        doubt = UNKNOWN_DOUBT if line.chance is None else 1 - line.chance
        doubts[line.interface] = max(doubt, doubts.get(line.interface, 0.0))
    return doubts


def _dates_of(plan: Plan) -> Assumption:
    text = (
        f"parts come and decisions are taken as in the plan of {day_words(plan.as_of)}; an interface of which "
        f"nothing is known counts as wrong with a chance of {UNKNOWN_DOUBT:g} (own choice)"
    )
    return Assumption("schedule-plan", "build", text)
