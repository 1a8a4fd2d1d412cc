"""Hours of the year: other hours a week in some months, by spans of months."""

from __future__ import annotations

from calendar import month_name
from typing import Final

from ..build import Build
from ..build.owner import SeasonHours
from .form import Form, made

MONTHS: Final = tuple((str(month), month_name[month]) for month in range(1, 13))


def season_words(season: SeasonHours) -> str:
    """Its months in words, those that follow each other as one span, and its hours."""
    months = set(season.months)
    begins = [month for month in season.months if (month - 2) % 12 + 1 not in months] or [season.months[0]]
    spans = [_span(first, months) for first in begins]
    return f"{', '.join(spans)}: {season.hours:g} h a week"


def _span(first: int, months: set[int]) -> str:
    """From a month to the last of those that follow it, over the turn of the year too.

    Examples
    --------
    >>> _span(11, {11, 12, 1, 2}), _span(6, {6})
    ('November to February', 'June')
    """
    last = first
    while last % 12 + 1 in months - {first}:
        last = last % 12 + 1
    names = [month_name[month] for month in (first, last)]
    return names[0] if first == last else " to ".join(names)


def in_season(build: Build, form: Form) -> Build:
    """The build with other hours a week from one month to another, over the turn of the year too."""
    known = [key for key, _ in MONTHS]
    first, last = form.choice("from", known), form.choice("to", known)
    hours = form.number("season_hours", at_least=0, at_most=168)
    if form.problems:
        return build
    count = (int(last) - int(first)) % 12 + 1
    months = [(int(first) - 1 + k) % 12 + 1 for k in range(count)]
    others = [tuple(month for month in season.months if month not in months) for season in build.owner.seasons]
    kept = [season.model_copy(update={"months": left})
            for season, left in zip(build.owner.seasons, others, strict=True) if left]  # fmt: skip
    new = made(SeasonHours, months=tuple(months), hours=hours)
    return _with(build, (*kept, new))


def as_usual(build: Build, position: int) -> Build:
    """The build without one of its seasons: its months have a usual week's hours."""
    return _with(build, tuple(season for at, season in enumerate(build.owner.seasons) if at != position))


def _with(build: Build, seasons: tuple[SeasonHours, ...]) -> Build:
    ordered = tuple(sorted(seasons, key=lambda season: season.months))
    return build.model_copy(update={"owner": build.owner.model_copy(update={"seasons": ordered})})
