"""Plan time: weeks since `as_of`, and the hours the owner has in each.

Week k holds the days as_of + 7k to as_of + 7k + 6. A moment is a float number of weeks since as_of.
"""

from __future__ import annotations

import math
from datetime import date, timedelta
from functools import lru_cache

from .owner import Helper, Owner
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
    """Hours the owner has on a day: the week's, shared out over its working days, none on days off [h].

    Examples
    --------
    >>> hours_on(Owner(hours_per_week=6, weekdays=(6, 7)), date(2026, 3, 7))
    3.0
    """
    if owner.weekdays and day.isoweekday() not in owner.weekdays:
        return 0.0
    if any(span.first <= day <= span.last for span in owner.days_off):
        return 0.0
    if not owner.works_on_holidays and day in public_holidays(owner.country, owner.region, day.year):
        return 0.0
    return hours_in_week_of(owner, day) / (len(set(owner.weekdays)) or 7)


def hours_in_week_of(owner: Owner, day: date) -> float:
    """Hours of a whole week at that time of year [h]."""
    for season in owner.seasons:
        if day.month in season.months:
            return season.hours
    return DEFAULT_HOURS_PER_WEEK if owner.hours_per_week is None else owner.hours_per_week


@lru_cache(maxsize=512)
def public_holidays(country: str, region: str, year: int) -> frozenset[date]:
    """Public holidays of a country, and of a region where it is one the holiday tables know; empty if unknown.

    Examples
    --------
    >>> date(2026, 4, 27) in public_holidays("NL", "", 2026)
    True
    """
    from holidays import country_holidays

    for subdivision in dict.fromkeys([region or None, None]):
        try:
            return frozenset(country_holidays(country, subdiv=subdivision, years=year))
        except NotImplementedError:  # a country, or a region of it, that the tables do not hold
            continue
    return frozenset()


def help_chance(owner: Owner, day: date) -> float:
    """Chance that a second person is there on a day; 1 where the owner names no helper.

    Several come independently of each other. One who comes some hours a week comes on any day with the share these
    are of the owner's hours.

    Examples
    --------
    >>> from .owner import Helper
    >>> help_chance(Owner(helpers=(Helper(weekdays=(6,), chance=0.5),)), date(2026, 3, 7))
    0.5
    """
    if not owner.helpers:
        return 1.0
    alone = 1.0
    for helper in owner.helpers:
        alone *= 1 - _comes(helper, owner, day)
    return 1 - alone


def _comes(helper: Helper, owner: Owner, day: date) -> float:
    if helper.weekdays and day.isoweekday() not in helper.weekdays:
        return 0.0
    if helper.hours_per_week is None:
        return helper.chance
    week = hours_in_week_of(owner, day)
    return helper.chance * min(1.0, helper.hours_per_week / week) if week > 0 else 0.0


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
    found = []
    covered = {month for season in owner.seasons for month in season.months}
    if owner.hours_per_week is None and len(covered) < 12:
        text = (
            f"{DEFAULT_HOURS_PER_WEEK:g} hours a week at the vehicle (common practice: 3 to 8 until hours are logged)"
        )
        found.append(Assumption("hours-per-week-default", "build", text))
    if not owner.works_on_holidays:
        where = f"{owner.country} {owner.region}".strip()
        known = public_holidays(owner.country, owner.region, 2026)
        text = f"no work on public holidays of {where}" if known else f"no public holidays are known for {where}"
        found.append(Assumption("public-holidays", "build", text))
    return tuple(found)
