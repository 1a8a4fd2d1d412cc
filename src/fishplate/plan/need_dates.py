"""When parts and jobs are due, for what runs one engine without a plan."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ..build import Assumption, Build, Facts
    from ..build.commerce import Offer

    FloatArray = NDArray[np.float64]

Moment = TypeVar("Moment", float, "FloatArray")

RUNS = 400
# One run in ten needs it sooner.
EARLY = 0.1


@dataclass(frozen=True, slots=True)
class Due:
    """When work needs things, without waiting for any of them.

    Parameters
    ----------
    build, facts : with a job a phase where the build lists none
    start_weeks : job -> early start, put off by its slack [weeks since as_of]
    need_weeks : part -> early moment it is first needed [weeks since as_of]
    starts, needs : the same in joint draws, shape (runs,)
    learnt : supplier -> what its quoted lead times are multiplied by, as its deliveries turned out
    """

    build: Build
    facts: Facts
    start_weeks: Mapping[str, float]
    need_weeks: Mapping[str, float]
    assumptions: tuple[Assumption, ...]
    starts: Mapping[str, FloatArray] = field(default_factory=dict)
    needs: Mapping[str, FloatArray] = field(default_factory=dict)
    learnt: Mapping[str, float] = field(default_factory=dict)


def due(build: Build, as_of: date, seed: int) -> Due:
    """What the work engine says of starts and needs; nothing where the build lists neither jobs nor phases."""
    import numpy as np

    from ..build import facts_of
    from ..work import Simulator, with_phase_jobs

    dated = bool(build.jobs) or any(part.phase is not None for part in build.parts)
    if not dated:
        return Due(build, facts_of(build, as_of), {}, {}, ())
    phased, assumed = with_phase_jobs(build, facts_of(build, as_of))
    facts = facts_of(phased, as_of)
    report = Simulator(phased, facts, runs=RUNS, seed=seed).run()
    starts = {job: float(np.quantile(moments, EARLY)) for job, moments in report.starts.items()}
    needs = {part: float(np.quantile(moments, EARLY)) for part, moments in report.need_weeks.items()}
    drawn = {
        job: np.asarray(moments + max(0.0, report.slack_weeks.get(job, 0.0)), np.float64)
        for job, moments in report.starts.items()
    }
    needed = {part: np.asarray(moments, np.float64) for part, moments in report.need_weeks.items()}
    return Due(
        phased,
        facts,
        {job: week + max(0.0, report.slack_weeks.get(job, 0.0)) for job, week in starts.items() if math.isfinite(week)},
        {part: week for part, week in needs.items() if math.isfinite(week)},
        (*assumed, *report.assumptions),
        drawn,
        {**_of_other_options(phased, drawn), **needed},
        learnt_slippage(phased, as_of),
    )


def _of_other_options(build: Build, starts: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """When parts of options not planned with would be needed: as the first job that names them begins."""
    import numpy as np

    found: dict[str, FloatArray] = {}
    for job in build.jobs:
        for part in (*job.to_try, *job.to_keep) if job.id in starts else ():
            found[part] = np.minimum(found[part], starts[job.id]) if part in found else starts[job.id]
    return found


def learnt_slippage(build: Build, as_of: date) -> Mapping[str, float]:
    """By supplier, what its quoted lead times are multiplied by, as its deliveries up to a day turned out."""
    from ..records import lead_times

    return {supplier: learnt.factor for supplier, learnt in lead_times(build, as_of).items()}


def lead_slippage(build: Build, offer: Offer, learnt: Mapping[str, float]) -> float:
    """What a quoted lead time is multiplied by: what was learnt of its supplier, else common practice."""
    from ..build.defaults import slippage

    own = learnt.get(offer.supplier)
    return slippage(build.find("suppliers", offer.supplier)) if own is None else own


def travel_weeks(build: Build, offer: Offer) -> float:
    """Likely time on the way by the supplier's first route [weeks]; 0 where none is named."""
    freight = build.find("suppliers", offer.supplier).freight
    weeks = build.find("routes", freight[0].route).weeks if freight else None
    return 0.0 if weeks is None else float(weeks.likely)


def last_safe_week(
    build: Build, offer: Offer, need_week: float, *, late: float, early: float, learnt: Mapping[str, float]
) -> float:
    """Last moment to order, weighing a week late against a week early [weeks since as_of].

    Parameters
    ----------
    need_week : when the part is needed
    late, early : cost of having it a week late, and a week early [home currency]
    learnt : by supplier, what its quoted lead times are multiplied by
    """
    from ..build.defaults import LEAD_WEEKS
    from ..prices import lead_allowance, triangular_quantile

    lead = offer.lead_weeks or LEAD_WEEKS
    quoted = lead_allowance(lambda chance: triangular_quantile(lead, chance), late=late, early=early)
    return need_week - quoted * lead_slippage(build, offer, learnt) - travel_weeks(build, offer)


def order_by_weeks(build: Build, facts: Facts, needs: Mapping[str, Moment]) -> dict[str, Moment]:
    """Moment each missing part has to be ordered from its quickest offer, at likely lead times [weeks since as_of].

    Parameters
    ----------
    needs : part -> moment it is needed, or the same in joint draws
    """
    from ..build import offer_contents
    from ..build.defaults import LEAD_WEEKS

    quickest: dict[str, float] = {}
    learnt = learnt_slippage(build, facts.as_of)
    for offer in build.offers:
        lead = (offer.lead_weeks or LEAD_WEEKS).likely
        total = lead * lead_slippage(build, offer, learnt) + travel_weeks(build, offer)
        for part in offer_contents(build, offer):
            if part in needs and facts.missing(build, part) > 0:
                quickest[part] = min(quickest.get(part, math.inf), total)
    return {part: needs[part] - total for part, total in quickest.items()}
