"""Work sent out: the shop's queue and turnaround, and until when it can be taken elsewhere."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..build import Assumption, Build, Facts, week_of
from ..build.base import ThreePoint
from ..build.commerce import Workshop
from ..build.jobs import Job
from ..build.words import day_words
from .chance import stream, triangular
from .kernel_types import Floats32
from .model import FloatArray, Spreads, Withdrawal

SHOP_QUEUE = SHOP_WORK = ThreePoint(low=1, likely=2, high=4)
LEAST_WORK_LEFT = 0.1


def mean_shop_weeks(build: Build, job: Job, spreads: Spreads) -> float:
    """Likely weeks at the shop, slippage included; 0 for work done at home."""
    if job.workshop is None:
        return 0.0
    shop = build.find("workshops", job.workshop)
    return spreads.craft_median * ((shop.queue_weeks or SHOP_QUEUE).mean + (shop.work_weeks or SHOP_WORK).mean)


def shop_days(build: Build, facts: Facts, jobs: Sequence[Job], craft: FloatArray, seed: int) -> Floats32:
    """Days each job is still at its shop, run by run (S, R).

    Parameters
    ----------
    jobs : jobs sent out; craft : slippage of outside shops (R,)
    """
    days = np.empty((len(jobs), craft.size), dtype=np.float32)
    for row, job in enumerate(jobs):
        shop = build.find("workshops", job.workshop or "")
        queue, work = _queue(shop, job, craft, seed), _work(shop, job, craft, seed)
        if _is_given(facts, shop, jobs):
            queue, work = _still(facts, shop, queue, work)
        days[row] = queue + work
    return days


def withdrawals(
    build: Build, facts: Facts, jobs: Sequence[Job], craft: FloatArray, seed: int
) -> tuple[Withdrawal, ...]:
    """Shops that were given work with a day to take it elsewhere that is still to come, and have not begun."""
    found = []
    for shop in build.workshops:
        mine = [job for job in jobs if job.workshop == shop.id]
        if shop.withdraw_on is None or shop.withdraw_on < facts.as_of or shop.began_on is not None:
            continue
        if not _is_given(facts, shop, jobs):
            continue
        left, _ = _still(facts, shop, _queue(shop, mine[0], craft, seed), 0.0 * craft)
        chance = float((left > 7 * week_of(facts.as_of, shop.withdraw_on)).mean())
        text = (
            f"If {shop.name} has not begun by {day_words(shop.withdraw_on)}, take the work elsewhere: "
            f"about {10 * chance:.0f} chances in 10 that it has not."
        )
        found.append(Withdrawal(shop.id, tuple(job.id for job in mine), chance, text))
    return tuple(found)


def _queue(shop: Workshop, job: Job, craft: FloatArray, seed: int) -> FloatArray:
    uniform = stream(seed, "queue", job.id).random(craft.size, dtype=np.float32)
    days: FloatArray = 7 * craft * triangular(shop.queue_weeks or SHOP_QUEUE, uniform)
    return days


def _work(shop: Workshop, job: Job, craft: FloatArray, seed: int) -> FloatArray:
    uniform = stream(seed, "shop", job.id).random(craft.size, dtype=np.float32)
    days: FloatArray = 7 * craft * triangular(shop.work_weeks or SHOP_WORK, uniform)
    return days


def _is_given(facts: Facts, shop: Workshop, jobs: Sequence[Job]) -> bool:
    """Whether the shop has the work already; told only where one job is still to be done there."""
    given = shop.booked_on or shop.began_on
    return given is not None and given <= facts.as_of and sum(job.workshop == shop.id for job in jobs) == 1


def _still(facts: Facts, shop: Workshop, queue: FloatArray, work: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What is left of queue and work once the days since then are taken off."""
    if shop.began_on is not None and shop.began_on <= facts.as_of:
        return 0.0 * queue, np.maximum(work - (facts.as_of - shop.began_on).days, LEAST_WORK_LEFT * work)
    waited = (facts.as_of - shop.booked_on).days if shop.booked_on is not None else 0
    return np.maximum(queue - waited, 0.0), work


def shop_assumptions(build: Build, shops: Sequence[Job], spreads: Spreads) -> tuple[Assumption, ...]:
    """What was taken for work sent out."""
    if not shops:
        return ()
    slip = (
        f"outside shops take {spreads.craft_median:g} times what they say (common practice), one factor a run for all "
        f"with a log standard deviation of {spreads.craft_log_sd:g} (own estimate); the owner's part comes first, the "
        "shop's queue begins when the work reaches it, less what was waited since it was given the work"
    )
    found = [Assumption("shop-slippage", "build", slip)]
    for name in sorted({job.workshop for job in shops if job.workshop is not None}):
        shop = build.find("workshops", name)
        for label, points in (("queue", shop.queue_weeks), ("work", shop.work_weeks)):
            if points is None:
                found.append(
                    Assumption("shop-time-default", name, f"its {label} takes 1, 2 or 4 weeks (common practice)")
                )
    return tuple(found)
