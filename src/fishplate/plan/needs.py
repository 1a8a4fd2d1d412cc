"""When each part is needed, and the work played through with what is bought."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from ..build import offer_contents
from ..work import Gates, WorkReport
from .choices import Choices
from .model import FloatArray
from .opening import Delays, Openings
from .places_due import jobs_before
from .situation import Situation
from .study import LAST_WEEK, LEAST_LATE_SHARE, Studied, first_start, held_up_by
from .told import MEASURE_WITHIN_WEEKS

MOST_PASSES = 5
SHORT_TRAVEL_WEEKS = 0.5
UNDATED_CURVE = (np.array((0.0, 520.0)), np.array((0.0, 520.0 * LEAST_LATE_SHARE)))


def earliest_arrivals(studied: Studied, holds: Mapping[str, tuple[float, str]] | None = None) -> dict[str, FloatArray]:
    """Part still to be bought -> soonest it could be in hand, by any offer ordered today or once its hold ends."""
    situation = studied.situation
    soonest: dict[str, FloatArray] = {}
    missing = situation.missing_parts
    choices = Choices(situation)
    for offer in situation.build.offers:
        held = max((holds or {}).get(offer.id, (0.0, ""))[0], choices.first_week(offer))
        if held == math.inf:
            continue
        moment = held + studied.deliveries.lead_weeks(offer) + SHORT_TRAVEL_WEEKS
        for part in offer_contents(situation.build, offer):
            if part in missing:
                soonest[part] = np.minimum(soonest.get(part, moment), moment)
    return soonest


def played(
    studied: Studied, arrivals: Mapping[str, FloatArray], ends: Mapping[str, FloatArray], delays: Delays
) -> tuple[Openings, Gates, WorkReport | None]:
    """Arrivals played through the work, until jobs and what is measured in them agree on when.

    Parameters
    ----------
    ends : job -> moment it is done, to begin with
    """
    measuring = measuring_jobs(studied)
    for _ in range(MOST_PASSES):
        opened = studied.opener.at(arrivals, ends, delays)
        gates = gates_of(studied, opened, arrivals, delays)
        if studied.simulator is None:
            return opened, gates, None
        run = studied.simulator.run(gates)
        if all(np.array_equal(run.ends[job], ends[job]) for job in measuring if job in ends):
            break
        ends = run.ends
    return opened, gates, run


def measuring_jobs(studied: Studied) -> frozenset[str]:
    """Jobs still to be done in which something is measured."""
    build, facts = studied.situation.build, studied.situation.facts
    jobs = {dimension.job for dimension in build.dimensions if dimension.job and not facts.is_done(dimension.job)}
    return frozenset(jobs & facts.wanted_jobs)


def gates_of(studied: Studied, opened: Openings, arrivals: Mapping[str, FloatArray], delays: Delays) -> Gates:
    """Everything that holds jobs, with the moment it opens."""
    jobs = {key: week for (kind, key), week in delays.weeks.items() if kind == "do"}
    parts: dict[str, float | FloatArray] = dict(arrivals)
    for part in studied.situation.missing_parts:
        # What nobody sells yet is taken to be found in time, and said in the assumptions.
        parts.setdefault(part, 0.0)
    return Gates(
        parts=parts,
        decisions=opened.decisions,
        interfaces=opened.interfaces,
        jobs=jobs,
        misfits=studied.misfits,
    )


def needs_of(
    studied: Studied, soonest: WorkReport, planned: WorkReport | None, arrivals: Mapping[str, FloatArray]
) -> dict[str, FloatArray]:
    """Part -> moment it is needed, given what else holds its job up.

    Parameters
    ----------
    soonest : the work with every part as soon as can be
    planned : the work with the last round's purchases, and `arrivals` their moments
    """
    needs = _first_needed(studied, soonest)
    for part, need in _first_needed(studied, planned).items() if planned else ():
        arrival = arrivals.get(part)
        if arrival is not None and part in needs:
            # Where something else held the job longer, the part may come that much later.
            needs[part] = np.where(arrival < need - 0.01, need, needs[part])
    needs = {part: np.minimum(need, LAST_WEEK) for part, need in _with_undated(studied, needs, soonest).items()}
    return _with_held_orders(studied, needs)


def _first_needed(studied: Studied, run: WorkReport) -> dict[str, FloatArray]:
    """Part -> moment the first job needs it in hand, or needs it measured."""
    needs, build, planned = dict(run.need_weeks), studied.situation.build, run.starts.__contains__
    for part, interfaces in studied.settled_by.items():
        for interface in sorted(interfaces):
            place = build.find("interfaces", interface)
            start = first_start(run, {*studied.gated.get(interface, ()), *jobs_before(build, place, planned).jobs})
            if start is not None:
                measured = np.maximum(start - MEASURE_WITHIN_WEEKS, 0.0)
                needs[part] = np.minimum(needs.get(part, measured), measured)
    return needs


def _with_held_orders(studied: Studied, needs: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """A part whose dimension holds an order is needed a week before that order has to go out."""
    build = studied.situation.build
    for earlier, later in held_up_by(studied.situation, studied.told):
        offers = [offer for offer in build.offers if later in offer_contents(build, offer)]
        if later not in needs or not offers or not studied.situation.facts.missing(build, later):
            continue
        lead = min(float(np.quantile(studied.deliveries.lead_weeks(offer), 0.9)) for offer in offers)
        order = np.maximum(needs[later] - lead - SHORT_TRAVEL_WEEKS - MEASURE_WITHIN_WEEKS, 0.0)
        needs[earlier] = np.minimum(needs.get(earlier, order), order)
    return needs


def _with_undated(studied: Studied, needs: dict[str, FloatArray], run: WorkReport) -> dict[str, FloatArray]:
    """Parts no job names are needed by the first job of their phase, or by the end."""
    build = studied.situation.build
    for part_id in studied.situation.missing_parts:
        if part_id in needs:
            continue
        part = build.find("parts", part_id)
        later = [
            run.starts[job.id]
            for job in build.jobs
            if job.id in run.starts and part.phase is not None and job.phase.order >= part.phase.order
        ]
        needs[part_id] = np.minimum.reduce(later) if later else np.maximum(run.finish_weeks - 4, 0)
    return needs


def delay_cost(situation: Situation, finish: FloatArray | None) -> float:
    """Expected cost of the time until the finish, home currency."""
    if finish is None:
        return 0.0
    return float(np.mean(np.minimum(finish, LAST_WEEK))) * situation.week_delay_cost
