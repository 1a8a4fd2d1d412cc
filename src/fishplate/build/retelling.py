"""Sentences of the engines, told in the owner's units and locale.

Engines write canonical figures: 1,234.50 EUR, 3 February 2027, 12.5 mm, 10.1 to 14.2 mm. A skin tells them anew, and
leaves alone what the owner wrote: a spacer called "20 mm spacer" stays one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from functools import lru_cache
from typing import Final

from .formats import CANONICAL, Formats, sign_of

_MONTHS: Final = {date(2000, at, 1).strftime("%B"): at for at in range(1, 13)}
_MONTH: Final = "|".join(_MONTHS)
_DAY: Final = re.compile(rf"\b(\d{{1,2}}) ({_MONTH})(?: (\d{{4}}))?\b")
_MONTH_OF_YEAR: Final = re.compile(rf"\b({_MONTH}) (\d{{4}})\b")
_NUMBER: Final = r"[-−]?\d+(?:\.\d+)?"
_UNITS: Final = ("mm", "cm", "m", "km", "kg", "N", "kN", "N*m", "N·m", "bar", "MPa", "km/h", "°C", "ft", "lb", "psi")
_UNIT: Final = "|".join(map(re.escape, _UNITS)) + r"|in(?=[.,;)]|$| to spare| too )"  # "in" is also a word
_SIZE: Final = re.compile(rf"(?<![\w.,])({_NUMBER})((?: to | ± |, give or take )({_NUMBER}))? ({_UNIT})(?![\w/*²³])")
_FIGURE: Final = re.compile(r"(?<![\w.,-])\d{1,3}(?:,\d{3})+(?:\.\d+)?(?![\d.,]*\d)|(?<![\w.,-])\d+\.\d+(?![\w.]*\d)")


def retell(text: str, formats: Formats, kept: Iterable[str] = ()) -> str:
    """A sentence with its money, days and sizes as the owner reads them.

    Parameters
    ----------
    text : with canonical figures; kept : names that stay as they were written

    Examples
    --------
    >>> retell("20 mm spacer: 12.5 mm too little, 1,234 EUR by 3 February 2027.", Formats("imperial", "de_DE"),
    ...        ["20 mm spacer"])
    '20 mm spacer: 0,492 in too little, 1.234 EUR by 3. Februar 2027.'
    >>> retell("1.5 mm to spare (0.2 to 2.8 mm in nine cases of ten)", Formats(locale="nl_NL"))
    '1,5 mm to spare (0,2 to 2,8 mm in nine cases of ten)'
    """
    if formats == CANONICAL:
        return text
    names = _pattern(tuple(sorted((name for name in kept if any(c.isdigit() for c in name)), key=len, reverse=True)))
    pieces = [text] if names is None else names.split(text)
    return "".join(piece if at % 2 else _told(piece, formats) for at, piece in enumerate(pieces))


@lru_cache(maxsize=8)
def _pattern(names: tuple[str, ...]) -> re.Pattern[str] | None:
    return re.compile(f"({'|'.join(map(re.escape, names))})", re.IGNORECASE) if names else None


def _told(text: str, formats: Formats) -> str:
    """Each figure once: what was told anew is set aside, so that no later rule reads it again."""
    told: list[str] = []

    def aside(shown: str) -> str:
        told.append(shown)
        return f"\0{len(told) - 1}\0"

    def day(match: re.Match[str]) -> str:
        try:
            found = date(int(match[3] or 2000), _MONTHS[match[2]], int(match[1]))
        except ValueError:
            return match[0]
        return aside(formats.day(found) if match[3] else formats.day_of_year(found))

    text = _DAY.sub(day, text)
    text = _MONTH_OF_YEAR.sub(lambda match: aside(formats.month(date(int(match[2]), _MONTHS[match[1]], 1))), text)
    text = _SIZE.sub(lambda match: aside(_size(match, formats)), text)
    text = _FIGURE.sub(lambda match: aside(formats.remarked(match[0])), text)
    return re.sub(r"\0(\d+)\0", lambda match: told[int(match[1])], text)


def _size(match: re.Match[str], formats: Formats) -> str:
    """A size, or two with one unit; as fine as it was told, to a step of the other system."""
    unit = match[4].replace("·", "*")
    between = match[2].removesuffix(match[3]) if match[2] else ""
    texts = [match[1], *([match[3]] if match[2] else [])]
    if formats.unit(unit) == unit:
        shown = [formats.remarked(each) for each in texts]
    else:
        widths = [False, between not in ("", " to ")]
        shown = [_in_other(each, unit, formats, is_width=width) for each, width in zip(texts, widths, strict=False)]
    return f"{between.join(shown)} {sign_of(formats.unit(unit))}"


def _in_other(text: str, unit: str, formats: Formats, *, is_width: bool) -> str:
    decimals = len(text.partition(".")[2])
    value = float(text.replace("−", "-"))
    return formats.like(value, unit, 0.5 * 10.0**-decimals, is_width=is_width)
