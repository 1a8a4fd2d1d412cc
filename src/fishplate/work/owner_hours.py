"""The owner's hours day by day as arrays, and back: from hours worked to the moment.

Inside the kernel time runs in days since as_of, so that day and month boundaries are whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from ..build import Build, Facts, date_at
from ..build.calendar import hours_on
from .kernel_types import HandsCalendar

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
    """

    days: npt.NDArray[np.float64]
    months: tuple[str, ...]
    month_of_day: npt.NDArray[np.int64]
    first_day: npt.NDArray[np.int64]
    numbers: npt.NDArray[np.int64]

    @cached_property
    def cumulative(self) -> npt.NDArray[np.float64]:
        """Hours before each day begins (days + 1,) [h]."""
        return np.concatenate([[0.0], np.cumsum(self.days)])

    def per_week(self, weeks: int) -> float:
        """Mean hours a week over the first weeks [h]."""
        first = self.days[: 7 * weeks]
        return float(first.sum() / (first.size / 7)) if first.size else 0.0

    def has_hours_in(self, months: Iterable[int]) -> bool:
        """Whether any day of these months of the year has hours."""
        return bool(self.days[np.isin(self.numbers, list(months))].any())


def owner_hours(build: Build, facts: Facts, weeks: int) -> OwnerHours:
    """The owner's hours over the next weeks."""
    days = [date_at(facts.as_of, k / 7) for k in range(7 * weeks)]
    names = [day.strftime("%Y-%m") for day in days]
    months = tuple(dict.fromkeys(names))
    place = {name: position for position, name in enumerate(months)}
    month_of_day = np.array([place[name] for name in names], dtype=np.int64)
    first = np.concatenate([np.searchsorted(month_of_day, np.arange(len(months))), [len(days)]])
    hours = np.array([hours_on(build.owner, day) for day in days], dtype=np.float64)
    return OwnerHours(hours, months, month_of_day, first.astype(np.int64), np.array([day.month for day in days]))


def calendar_arrays(hours: OwnerHours, windows: tuple[tuple[int, ...], ...]) -> HandsCalendar:
    """The calendar as the kernel reads it.

    Parameters
    ----------
    windows : sets of months of the year in which some job can be done
    """
    n = hours.days.size
    cumulative = hours.cumulative
    step = max(cumulative[-1] / _STEPS, 1e-9)
    # the day in which each step of hours is reached, from which the kernel walks on
    reached = np.searchsorted(cumulative[1:], np.arange(_STEPS + 2) * step, side="left")
    shape = (max(1, len(windows)), n + 1)
    opens, closes = np.full(shape, n, dtype=np.int64), np.full(shape, n, dtype=np.int64)
    for row, months in enumerate(windows):
        opens[row], closes[row] = _window(np.isin(hours.numbers, months))
    return HandsCalendar(
        cumulative=cumulative,
        hours=hours.days,
        next_day=_window(hours.days > 0)[0],
        reached=np.minimum(reached, n - 1).astype(np.int64),
        step=step,
        opens=opens,
        closes=closes,
        month_of_day=hours.month_of_day,
        first_day=hours.first_day,
        month_hours=np.diff(cumulative[hours.first_day]),
    )


def _window(is_open: npt.NDArray[np.bool_]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """For each day, the next open day (itself if open), and the day the stretch then ends."""
    n = is_open.size
    opens, closes = np.full(n + 1, n, dtype=np.int64), np.full(n + 1, n, dtype=np.int64)
    for day in range(n - 1, -1, -1):
        if is_open[day]:
            opens[day] = day
            closes[day] = closes[day + 1] if opens[day + 1] == day + 1 else day + 1
        else:
            opens[day], closes[day] = opens[day + 1], closes[day + 1]
    return opens, closes
