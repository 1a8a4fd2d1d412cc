"""The owner's hours day by day as arrays, and back: from hours worked to the moment.

Inside the kernel time runs in days since as_of, so that day and month boundaries are whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
import numpy.typing as npt

from ..build import Facts, date_at
from ..build.calendar import help_chance, hours_on
from ..build.owner import Owner
from .chance import stream
from .kernel_types import HandsCalendar

HELP_VARIANTS = 32
"""So many ways the evenings with help may fall; runs take them in turn."""
_STEPS = 8192


@dataclass(frozen=True)
class OwnerHours:
    """Hours of each day of the horizon, and the months they fall in.

    Parameters
    ----------
    days : (days,) [h]
    months : names of the months touched, as "2027-01"
    month_of_day : (days,) position in `months`
    first_day : (months + 1,) first day of each month, 0 for the one as_of lies in
    numbers : (days,) month of the year; dates : of each day
    """

    days: npt.NDArray[np.float64]
    months: tuple[str, ...]
    month_of_day: npt.NDArray[np.int64]
    first_day: npt.NDArray[np.int64]
    numbers: npt.NDArray[np.int64]
    dates: tuple[date, ...]

    @cached_property
    def cumulative(self) -> npt.NDArray[np.float64]:
        """Hours before each day begins (days + 1,) [h]."""
        return np.concatenate([[0.0], np.cumsum(self.days)])

    def per_week(self, weeks: int) -> float:
        """Mean hours a week over the first weeks [h]."""
        first = self.days[: 7 * weeks]
        return float(first.sum() / (first.size / 7)) if first.size else 0.0

    @property
    def days_an_hour(self) -> npt.NDArray[np.float64]:
        """Calendar days that an hour of each month stands for (months,) [d/h]; 0 in months without hours."""
        hours = np.diff(self.cumulative[self.first_day])
        return np.divide(np.diff(self.first_day), hours, out=np.zeros_like(hours), where=hours > 0)

    def has_hours_in(self, months: Iterable[int]) -> bool:
        """Whether any day of these months of the year has hours."""
        return bool(self.days[np.isin(self.numbers, list(months))].any())


def owner_hours(owner: Owner, facts: Facts, weeks: int) -> OwnerHours:
    """The owner's hours over the next weeks."""
    days = [date_at(facts.as_of, k / 7) for k in range(7 * weeks)]
    names = [day.strftime("%Y-%m") for day in days]
    months = tuple(dict.fromkeys(names))
    place = {name: position for position, name in enumerate(months)}
    month_of_day = np.array([place[name] for name in names], dtype=np.int64)
    first = np.concatenate([np.searchsorted(month_of_day, np.arange(len(months))), [len(days)]])
    hours = np.array([hours_on(owner, day) for day in days], dtype=np.float64)
    numbers = np.array([day.month for day in days])
    return OwnerHours(hours, months, month_of_day, first.astype(np.int64), numbers, tuple(days))


Window = tuple[tuple[int, ...], bool]
"""Months of the year, none for any; and whether a second person must be there."""


def calendar_arrays(hours: OwnerHours, windows: tuple[Window, ...], owner: Owner, seed: int) -> HandsCalendar:
    """The calendar as the kernel reads it.

    Parameters
    ----------
    windows : when some job can be done
    seed : of the evenings on which a second person comes
    """
    n = hours.days.size
    cumulative = hours.cumulative
    step = max(cumulative[-1] / _STEPS, 1e-9)
    # the day in which each step of hours is reached, from which the kernel walks on
    reached = np.searchsorted(cumulative[1:], np.arange(_STEPS + 2) * step, side="left")
    helped = _helped(hours, owner, seed) if any(helper for _, helper in windows) else np.ones((1, n), dtype=np.bool_)
    count = max(1, len(windows))
    shape = (len(helped) * count, n + 1)
    opens, closes = np.full(shape, n, dtype=np.int64), np.full(shape, n, dtype=np.int64)
    for variant, comes in enumerate(helped):
        for row, (months, helper) in enumerate(windows):
            days = np.isin(hours.numbers, months) if months else np.ones(n, dtype=np.bool_)
            opens[variant * count + row], closes[variant * count + row] = _window(days & comes if helper else days)
    return HandsCalendar(
        cumulative=cumulative,
        hours=hours.days,
        next_day=_window(hours.days > 0)[0],
        reached=np.minimum(reached, n - 1).astype(np.int64),
        step=step,
        opens=opens,
        closes=closes,
        windows=count,
        variants=len(helped),
        slots=np.array([owner.bays, owner.lifts], dtype=np.int64),
        month_of_day=hours.month_of_day,
        first_day=hours.first_day,
        month_hours=np.diff(cumulative[hours.first_day]),
    )


def _helped(hours: OwnerHours, owner: Owner, seed: int) -> npt.NDArray[np.bool_]:
    """On which days a second person is there (variants, days); one variant where nothing is left to chance."""
    chance = np.array([help_chance(owner, day) for day in hours.dates])
    if np.isin(chance, (0.0, 1.0)).all():
        return chance[None, :] > 0
    return np.array([stream(seed, "help", str(k)).random(chance.size) < chance for k in range(HELP_VARIANTS)])


def _window(is_open: npt.NDArray[np.bool_]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """For each day, the next open day (itself if open), and the day the stretch then ends."""
    n = is_open.size
    days = np.arange(n + 1)
    # the day after the last counts as neither, so that both end there
    opens = _next(np.append(np.where(is_open, days[:-1], n), n))
    ends = _next(np.append(np.where(is_open, n, days[:-1]), n))
    return opens, ends[opens]


def _next(days: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    nearest: npt.NDArray[np.int64] = np.minimum.accumulate(days[::-1])[::-1]
    return nearest
