"""Lead times and days as lists write them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime
from functools import lru_cache

from ..build.base import ThreePoint
from ..build.numbers import NUMBER_PATTERN, Unreadable, ascii_digits, parse_number
from .words import keys_by_word, plain, plain_words, words

# Days of a unit of time in weeks; a working week has five days, a month a twelfth of a year.
_WEEKS = {"weeks": 1.0, "days": 1 / 7, "workdays": 1 / 5, "months": 365.25 / 12 / 7, "hours": 1 / 168}


def parse_lead_weeks(text: str, mark: str | None = None, *, unit: str | None = None) -> tuple[ThreePoint | None, str]:
    """A lead time [weeks] and what is to be said about it.

    Parameters
    ----------
    text : as the list writes it; unit : "weeks", "days" or "months" where the column's name gives it

    Returns
    -------
    the estimate, None where the text says it is not known; and a sentence, empty if there is nothing to say

    Raises
    ------
    Unreadable
        if it is not a time, or no unit is given anywhere

    Examples
    --------
    >>> parse_lead_weeks("2-3 weeks")[0]
    ThreePoint(low=2.0, likely=2.5, high=3.0)
    >>> parse_lead_weeks("10 Tage")[0].likely
    1.428571
    """
    bare = " ".join(ascii_digits(text).casefold().split()).strip(" .")
    if not bare or bare in words("cells", "no_lead"):
        return None, f'the lead time is given as "{bare}"' if bare else ""
    if bare in words("cells", "in_stock") or plain(bare) in plain_words("cells", "in_stock"):
        return ThreePoint(low=0, likely=0.5, high=1), f'"{bare}" is taken as up to a week to dispatch (common practice)'
    return _timed(bare, mark, unit)


_TIME = re.compile(
    rf"^(?:ca\.?|~|about|approx\.?|circa|etwa|env\.?|up to|max\.?)?\s*({NUMBER_PATTERN})"
    rf"\s*(?:(?:-|–|—|to|tot|bis|à|a|/)\s*({NUMBER_PATTERN}))?"
    r"\s*(\+)?\s*([^\d(+]*?)\s*(\+)?\s*(?:\(.*\))?$"
)


def _timed(bare: str, mark: str | None, unit: str | None) -> tuple[ThreePoint | None, str]:
    match = _TIME.match(bare)
    if match is None:
        raise Unreadable("lead-time", "not a time", "Write it as 3 weeks or 2-3 weeks.")
    word = plain(match[4].strip(" ."))
    named = keys_by_word("lead_units").get(word) if word else unit
    if named is None:
        raise Unreadable("lead-time", "a time without a unit", "Write weeks or days behind it or in the column's name.")
    low = float(parse_number(match[1], mark)) * _WEEKS[named]
    high = float(parse_number(match[2], mark)) * _WEEKS[named] if match[2] else low
    if low < 0 or high < low or high > 520:
        raise Unreadable("lead-time", "not a lead time between 0 and 520 weeks", "Write it as 3 weeks or 2-3 weeks.")
    points = [round(value, 6) for value in (low, (low + high) / 2, high)]
    said = f'"{bare}" names no longest time; the figure itself is taken' if match[3] or match[5] else ""
    return ThreePoint(low=points[0], likely=points[1], high=points[2]), said


_NUMERIC = re.compile(r"^(\d{1,4})\s*[-/.\s]\s*(\d{1,2})\s*[-/.\s]\s*(\d{2}|\d{4})\.?(?:[T ]\d{1,2}:\d{2}.*)?$")
_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?$")
_COMPACT = re.compile(r"^(20\d{2})(\d{2})(\d{2})$")
_DAY_MONTH = re.compile(
    r"^(?:\w{2,10}[.,]\s+)?(\d{1,2})(?:st|nd|rd|th|\.|er|º)?[\s-]*(?:de\s+)?([^\W\d]+)\.?,?[\s-]*(?:de\s+|')?(\d{4}|\d{2})$"
)
_MONTH_DAY = re.compile(r"^([^\W\d]+)\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})$")


def day_order(texts: Iterable[str]) -> str | None:
    """Which of the first two numbers of a column's dates is the day: "dmy", "mdy", None if open or both.

    Examples
    --------
    >>> day_order(["03/04/2026", "25/04/2026"]), day_order(["03/04/2026"]) is None
    ('dmy', True)
    """
    found = set()
    for text in texts:
        match = _NUMERIC.match(ascii_digits(text).strip())
        if match and len(match[1]) <= 2:
            first, second = int(match[1]), int(match[2])
            if first > 12 >= second:
                found.add("dmy")
            elif second > 12 >= first:
                found.add("mdy")
    return found.pop() if len(found) == 1 else None


@lru_cache(maxsize=1)
def _months() -> dict[str, int]:
    return {word: int(key) for word, key in keys_by_word("months").items()}


def parse_day(text: str, order: str | None = None) -> date:
    """A day as a list writes it.

    Parameters
    ----------
    text : a date; order : "dmy" or "mdy" where the column tells

    Raises
    ------
    Unreadable
        with code "date" if it is no date, "ambiguous-date" if day and month could be swapped

    Examples
    --------
    >>> parse_day("14 mrt 2026"), parse_day("3/4/26", "dmy")
    (datetime.date(2026, 3, 14), datetime.date(2026, 4, 3))
    """
    bare = " ".join(ascii_digits(text).split())
    try:
        return _read_day(bare, order)
    except (ValueError, OverflowError) as error:
        if isinstance(error, Unreadable):
            raise
        raise Unreadable("date", "not a day of the calendar", "Write it as 2026-03-14.") from None


def _read_day(bare: str, order: str | None) -> date:
    if match := _ISO.match(bare) or _COMPACT.match(bare):
        return date(int(match[1]), int(match[2]), int(match[3]))
    if match := _NUMERIC.match(bare):
        if len(match[1]) > 2:
            raise Unreadable("date", "not a date", "Write it as 2026-03-14.")
        return _ordered(int(match[1]), int(match[2]), _year(match[3]), order)
    if match := _DAY_MONTH.match(bare):
        return date(_year(match[3]), _month(match[2]), int(match[1]))
    if match := _MONTH_DAY.match(bare):
        return date(_year(match[3]), _month(match[1]), int(match[2]))
    raise Unreadable("date", "not a date", "Write it as 2026-03-14.")


def _ordered(first: int, second: int, year: int, order: str | None) -> date:
    if first > 12 or (order == "dmy" and second <= 12) or first == second:
        return date(year, second, first)
    if second > 12 or order == "mdy":
        return date(year, first, second)
    raise Unreadable(
        "ambiguous-date",
        f"it could be {date(year, second, first).isoformat()} or {date(year, first, second).isoformat()}",
        "Write it as 2026-03-14.",
    )


def _month(word: str) -> int:
    month = _months().get(plain(word))
    if month is None:
        raise Unreadable("date", "not a month Fishplate knows", "Write it as 2026-03-14.")
    return month


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def as_day(value: object) -> date | None:
    """The day of a cell that the file itself holds as a date."""
    if isinstance(value, datetime):
        return value.date()
    return value if isinstance(value, date) else None
