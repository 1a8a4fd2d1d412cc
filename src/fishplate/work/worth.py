"""What an hour more a week, an evening more with help, a second bay or lift would bring, under the same draws."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..build.calendar import DEFAULT_HOURS_PER_WEEK
from ..build.owner import Helper, Owner
from .model import Gates
from .simulator import Simulator

_MOST_PLACES = 8


@dataclass(frozen=True, slots=True)
class Worth:
    """How much sooner the build is finished for one thing more.

    Parameters
    ----------
    what : the thing
    weeks_sooner, standard_error : mean over the runs of the finish without it less that with it [weeks]; runs not
        finished within the horizon count as finished at its end
    money : what that is worth at the owner's week, in home currency; None where no week has a price
    text : a sentence
    """

    what: Literal["hour", "helper", "bay", "lift"]
    weeks_sooner: float
    standard_error: float
    money: float | None
    text: str


def worth_of_more(simulator: Simulator, gates: Gates | None = None, *, runs: int | None = None) -> tuple[Worth, ...]:
    """What each thing more would bring, most weeks first.

    An evening with help is tried where some evenings are stated and a job needs a second person; a bay or lift where
    a job takes one.

    Parameters
    ----------
    gates : when what is outside opens
    runs : only the first so many
    """
    base = np.minimum(simulator.finish_weeks(gates, runs=runs), simulator.horizon_weeks)
    price = simulator.build.owner.week_delay_cost
    found = []
    for what, owner, words in _more(simulator):
        other = np.minimum(simulator.with_owner(owner).finish_weeks(gates, runs=runs), simulator.horizon_weeks)
        gain = base - other
        mean, error = float(gain.mean()), float(gain.std() / np.sqrt(gain.size))
        money = None if price is None else float(price) * mean
        found.append(Worth(what, mean, error, money, f"{words}: {_sooner(mean, error)}."))
    return tuple(sorted(found, key=lambda item: (-item.weeks_sooner, item.what)))


def _more(simulator: Simulator) -> Iterator[tuple[Literal["hour", "helper", "bay", "lift"], Owner, str]]:
    owner, jobs = simulator.build.owner, simulator.jobs.values()
    usual = DEFAULT_HOURS_PER_WEEK if owner.hours_per_week is None else owner.hours_per_week
    seasons = tuple(
        season.model_copy(update={"hours": season.hours + 1}) if season.hours > 0 else season
        for season in owner.seasons
    )
    yield "hour", owner.model_copy(update={"hours_per_week": usual + 1, "seasons": seasons}), "An hour more a week"
    if owner.helpers and any(job.second_person for job in jobs):
        evening = Helper(hours_per_week=usual / (len(set(owner.weekdays)) or 7))
        more = owner.model_copy(update={"helpers": (*owner.helpers, evening)})
        yield "helper", more, "An evening more a week with a second person"
    if any(job.bay for job in jobs) and owner.bays < _MOST_PLACES:
        yield "bay", owner.model_copy(update={"bays": owner.bays + 1}), "One bay more"
    if any(job.lift for job in jobs) and owner.lifts < _MOST_PLACES:
        yield "lift", owner.model_copy(update={"lifts": owner.lifts + 1}), "One lift more"


def _sooner(weeks: float, error: float) -> str:
    if abs(weeks) <= max(2 * error, 0.05):
        return f"no sooner, within {max(2 * error, 0.05):.1f} weeks"
    if weeks < 0:
        return f"finished {-weeks:.1f} weeks later, for the order of the jobs comes out otherwise"
    return f"finished {weeks:.1f} weeks sooner on average"
