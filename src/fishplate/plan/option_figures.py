"""What options come to: money at the door, own hours, the finish; and whether their conditions hold together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from ..build import Build, facts_of, offer_contents
from ..build.base import ThreePoint
from ..build.decisions import Decision, Measure, Option
from ..landed import offers_at_the_door
from ..work import Simulator
from .situation import Situation

FINISH_RUNS: Final = 200


def cheapest_alone(situation: Situation, part: str) -> tuple[float, str, str] | None:
    """What is missing of a part by its cheapest offer and way home; None if unknown.

    Returns
    -------
    home currency, supplier, way. A trip's own cost is left out: what is fetched on one shares it.
    """
    build = situation.build
    offers = tuple(offer for offer in build.offers if set(offer_contents(build, offer)) == {part})
    if not offers:
        return None
    # as if the part were wanted, whatever is chosen, and nothing were on its way
    alone = build.model_copy(update={"offers": offers, "events": (), "decisions": (), "collections": ()})
    report = offers_at_the_door(alone, facts_of(alone, situation.as_of), situation.rules, situation.rates)
    found = [
        (situation.home(way.cost.total), row.supplier, way.name)
        for row in report.together
        for way in row.ways
        if way.cost is not None
    ]
    return min(found, default=None)


def part_money(situation: Situation, part: str) -> float | None:
    """What a part still costs at the door, bought alone; 0 if it is here or on its way, None if unknown."""
    if situation.facts.missing(situation.build, part) <= 0:
        return 0.0
    found = cheapest_alone(situation, part)
    return None if found is None else found[0]


def job_hours(situation: Situation, job: str) -> ThreePoint:
    """Own hours left of a job, low, likely, high [h]."""
    noun, state = situation.build.find("jobs", job), situation.facts.jobs.get(job)
    if situation.facts.is_done(job):
        return ThreePoint(low=0, likely=0, high=0)
    if state is not None and state.hours_left is not None:
        return ThreePoint(low=state.hours_left, likely=state.hours_left, high=state.hours_left)
    worked = 0.0 if state is None else state.hours_worked
    low, likely, high = (max(0.0, each - worked) for each in (noun.hours.low, noun.hours.likely, noun.hours.high))
    return ThreePoint(low=low, likely=likely, high=high)


def measured(situation: Situation, decision: Decision) -> dict[str, dict[Measure, ThreePoint]]:
    """What the plan measures of each option of a decision, as far as it is known.

    Returns
    -------
    option -> money at the door and for its jobs [home currency], own hours [h], and the finish, with even chances if
    nothing were waited for [weeks since the day of the facts]; the finish only where a criterion is measured by it
    """
    wants_finish = any(item.measured is Measure.FINISH for item in situation.build.criteria)
    return {
        option.id: dict(_measured(situation, decision, option, wants_finish=wants_finish))
        for option in decision.options
    }


def _measured(
    situation: Situation, decision: Decision, option: Option, *, wants_finish: bool
) -> Iterator[tuple[Measure, ThreePoint]]:  # fmt: skip
    hours = [job_hours(situation, job) for job in option.jobs]
    parts = [part_money(situation, part) for part in option.parts]
    jobs = sum(float(situation.build.find("jobs", job).cost) for job in option.jobs if not situation.facts.is_done(job))
    known = [money for money in parts if money is not None]
    if len(known) == len(parts):
        yield Measure.MONEY, _exactly(sum(known) + jobs)
    yield (
        Measure.HOURS,
        ThreePoint(
            low=sum(item.low for item in hours),
            likely=sum(item.likely for item in hours),
            high=sum(item.high for item in hours),
        ),
    )
    if wants_finish:
        weeks = finish_with(situation, {decision.id: option.id})
        if weeks is not None:
            yield Measure.FINISH, _exactly(weeks)


def _exactly(value: float) -> ThreePoint:
    return ThreePoint(low=value, likely=value, high=value)


def with_options(build: Build, options: Mapping[str, str]) -> Build:
    """The build as if some decisions were taken: decision -> option."""
    taken = {"chosen_on": None}
    decisions = tuple(
        decision.model_copy(update={**taken, "chosen": options[decision.id]}) if decision.id in options else decision
        for decision in build.decisions
    )
    return build.model_copy(update={"decisions": decisions})


def situation_with(situation: Situation, options: Mapping[str, str]) -> Situation:
    """The situation as if some decisions were taken."""
    build = with_options(situation.build, options)
    return replace(situation, build=build, facts=facts_of(build, situation.as_of))


def finish_with(situation: Situation, options: Mapping[str, str], *, runs: int = FINISH_RUNS) -> float | None:
    """Even chance to be finished by then, if some decisions are taken and nothing is waited for [weeks]; None: no date.

    Parameters
    ----------
    options : decision -> option
    """
    tried = situation_with(situation, options)
    if not any(job.id in tried.facts.wanted_jobs for job in tried.build.jobs):
        return None
    finish = Simulator(tried.build, tried.facts, runs=runs, seed=situation.seed).finish_weeks()
    middle = float(np.quantile(finish, 0.5, method="inverted_cdf"))
    return middle if np.isfinite(middle) else None
