"""Plan time: weeks since `as_of`, and the hours the owner has in each.

Week k holds the days as_of + 7k to as_of + 7k + 6. A moment is a float number of weeks since as_of.
"""

from __future__ import annotations

import math
from datetime import date, timedelta

from .owner import Owner
from .problem import Assumption

DEFAULT_HOURS_PER_WEEK = 5.0
FIRST_DATE, LAST_DATE = date.min, date.max


def date_at(as_of: date, week: float) -> date:
    """The day a moment falls on; moments beyond the calendar's ends, infinite ones too, give its first or last day.

    Examples
    --------
    >>> date_at(date(2026, 3, 2), 1.5)
    datetime.date(2026, 3, 12)
    """
    if week * 7 >= (LAST_DATE - as_of).days:
        return LAST_DATE
    if week * 7 <= (FIRST_DATE - as_of).days:
        return FIRST_DATE
    return as_of + timedelta(days=math.floor(week * 7 + 1e-9))


def week_of(as_of: date, day: date) -> float:
    """The moment a day begins, in weeks since as_of; negative before it.

    Examples
    --------
    >>> week_of(date(2026, 3, 2), date(2026, 3, 16))
    2.0
    """
    return (day - as_of).days / 7


def month_of(as_of: date, week: float) -> str:
    """The calendar month of a moment, as "2026-03"."""
    return date_at(as_of, week).strftime("%Y-%m")


def hours_on(owner: Owner, day: date) -> float:
    """Hours the owner has on a day: a seventh of the week's, none on days off [h]."""
    if any(span.first <= day <= span.last for span in owner.days_off):
        return 0.0
    for season in owner.seasons:
        if day.month in season.months:
            return season.hours / 7
    usual = DEFAULT_HOURS_PER_WEEK if owner.hours_per_week is None else owner.hours_per_week
    return usual / 7


def weekly_hours(owner: Owner, as_of: date, weeks: int) -> tuple[float, ...]:
    """Hours the owner has in each of the next weeks [h].

    Examples
    --------
    >>> weekly_hours(Owner(hours_per_week=7), date(2026, 3, 2), 2)
    (7.0, 7.0)
    """
    days = [hours_on(owner, date_at(as_of, offset / 7)) for offset in range(7 * weeks)]
    return tuple(round(sum(days[7 * k : 7 * k + 7]), 9) for k in range(weeks))


def hours_assumptions(owner: Owner) -> tuple[Assumption, ...]:
    """What was taken for granted about the owner's time."""
    covered = {month for season in owner.seasons for month in season.months}
    if owner.hours_per_week is not None or len(covered) == 12:
        return ()
    text = f"{DEFAULT_HOURS_PER_WEEK:g} hours a week at the vehicle (common practice: 3 to 8 until hours are logged)"
    return (Assumption("hours-per-week-default", "build", text),)
