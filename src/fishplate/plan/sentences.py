"""The plan's words: short sentences a builder would say."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ..build import Build
from ..build.words import joined


def day_words(day: date, as_of: date) -> str:
    """A day as a person says it: "today", "3 December", with the year if it is another one.

    Examples
    --------
    >>> day_words(date(2027, 2, 3), date(2026, 11, 1))
    '3 February 2027'
    """
    if day == as_of:
        return "today"
    words = f"{day.day} {day.strftime('%B')}"
    return words if day.year == as_of.year else f"{words} {day.year}"


def money_words(amount: float, currency: str) -> str:
    """An amount to the whole unit of currency.

    Examples
    --------
    >>> money_words(1234.5, "EUR")
    '1,234 EUR'
    """
    return f"{amount:,.0f} {currency}"


def list_words(names: list[str], *, most: int = 3) -> str:
    """Names joined as in a sentence; beyond `most` they are counted.

    Examples
    --------
    >>> list_words(["hub", "disc", "hose", "pad"])
    'hub, disc, hose and 1 more'
    """
    if not names:
        return "nothing"
    rest = len(names) - most
    return f"{', '.join(names[:most])} and {rest} more" if rest > 0 else joined(names)


def phases_asked(names: list[str]) -> str:
    """The question in which phase parts are needed, the dearest first.

    Examples
    --------
    >>> phases_asked(["hub", "disc", "hose", "pad"])
    'In which phase do you need each of the 4 parts that name none: hub, disc, hose and 1 more?'
    >>> phases_asked(["hub"])
    'In which phase do you need hub?'
    """
    each = "" if len(names) == 1 else f"each of the {len(names)} parts that name none: "
    return f"In which phase do you need {each}{list_words(names)}?"


def quoted_list(names: Sequence[str], *, most: int = 3) -> str:
    """Names as in a sentence, each in quotes, because a name may hold pauses of its own; counted beyond `most`.

    Examples
    --------
    >>> quoted_list(["Heat shield, embossed", "2 × Hub"])
    '“Heat shield, embossed” and 2 × “Hub”'
    """
    return list_words([_quoted(name) for name in names], most=most)


def _quoted(name: str) -> str:
    count, times, rest = name.partition(" × ")
    return f"{count} × “{rest}”" if times and count.isdigit() else f"“{name}”"


def name_of(build: Build, list_name: str, id_: str) -> str:
    """The name of a noun; its id if it has none."""
    noun = build.index[list_name].get(id_)
    return str(getattr(noun, "name", id_)) if noun is not None else id_


def weeks_words(weeks: float) -> str:
    """A number of weeks in words.

    Examples
    --------
    >>> weeks_words(1.0), weeks_words(4.0)
    ('a week', '4 weeks')
    """
    return "a week" if weeks == 1 else f"{weeks:g} weeks"


def chance_words(chance: float) -> str:
    """A chance that is never shown as 0 or 100 percent.

    Examples
    --------
    >>> chance_words(0.9999), chance_words(0.83)
    ('over 99 %', '83 %')
    """
    if chance >= 0.995:
        return "over 99 %"
    if chance <= 0.005:
        return "under 1 %"
    return f"{chance:.0%}".replace("%", " %")
