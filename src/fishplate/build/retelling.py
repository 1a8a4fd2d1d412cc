"""Figures of a sentence told anew, in the owner's units and locale.

Whatever is put together inside holds canonical figures: 1,234.50 EUR, 3 February 2027, 12.5 mm, 10.1 to 14.2 mm. They
are told anew here, and what the owner wrote is left alone: a spacer called "20 mm spacer" stays one, and so does what
stands in “quotation marks”. `telling` does this once, where a sentence or a page leaves the program.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date
from functools import lru_cache
from typing import Final

from .formats import CANONICAL, Formats, sign_of

# Month as it is printed -> its number, and whether it is in full; May is both, and taken as in full.
_MONTHS: Final = {
    date(2000, at, 1).strftime(style): (at, style == "%B") for style in ("%b", "%B") for at in range(1, 13)
}
_MONTH: Final = "|".join(sorted(_MONTHS, key=len, reverse=True))
_DAY: Final = re.compile(rf"(?<![\w.,])(\d{{1,2}}) ({_MONTH})\b(?: (\d{{4}})\b)?")
_MONTH_OF_YEAR: Final = re.compile(rf"\b({_MONTH}) (\d{{4}})\b")
_ALONE: Final = r"(?<![\w.,/])(?<!\w-)"  # no end of a designation, an id or a fraction
_NUMBER: Final = r"[-−]?\d+(?:,\d{3})*(?:\.\d+)?"
_UNITS: Final = (
    "mm", "cm", "m", "km", "kg", "g", "N", "kN", "N*m", "N·m", "N*mm", "N·mm", "N/mm", "bar", "kPa", "MPa", "km/h",
    "°C", "ft", "lb", "lbf", "psi", "mi", "mph", "thou", "lb·ft", "lb·in", "lb/in",
)  # fmt: skip
_PARSED: Final = {"N·m": "N*m", "N·mm": "N*mm", "°C": "degC", "lb·ft": "lbf*ft", "lb·in": "lbf*in", "lb/in": "lbf/in"}
_UNIT: Final = "|".join(map(re.escape, _UNITS)) + r"|in(?=[.,;:)]|$| to spare| too )"  # "in" is also a word
_WIDTH: Final = " ± |, give or take |, standard deviation "
_SERIES: Final = rf"(?<=between ){_NUMBER} and {_NUMBER}|{_NUMBER}(?: (?:to|or) {_NUMBER})*"
_SIZE: Final = re.compile(
    rf"{_ALONE}(?P<ends>{_SERIES})(?:(?P<before>{_WIDTH})(?P<within>{_NUMBER}))? "
    rf"(?P<unit>{_UNIT})(?![\w/*·²³])(?:(?P<behind>{_WIDTH})(?P<beyond>{_NUMBER})(?![\w.,]*\d))?"
)
_HELD: Final = re.compile(rf"(?<=held as ){_NUMBER} \S+")
_FIGURE: Final = re.compile(rf"{_ALONE}\d{{1,3}}(?:,\d{{3}})+(?:\.\d+)?(?![\d.,]*\d)|{_ALONE}\d+\.\d+(?![\w.]*\d)")
_DIGITS: Final = re.compile(r"\d+")
_AS_WRITTEN: Final = re.compile(
    "|".join((
        "“[^“”]*”", r'(?<![^\s(])"[^"]*"(?![^\s.,:;)])', r"(?<![^\s(])&#34;.*?&#34;",  # what is quoted
        r"\[[-−\d.,;\s]*\]",  # a row of figures, parted by commas
        r"\b(?:headings?|section|clause|table|chapter|article|version) [\d.]*\d",  # a tariff heading, a place in a text
    )),
    re.IGNORECASE,
)  # fmt: skip


def retell(text: str, formats: Formats, kept: Iterable[str] = ()) -> str:
    """A sentence with its money, days and sizes as the owner reads them.

    Parameters
    ----------
    text : with canonical figures; kept : words that stay as they were written

    Examples
    --------
    >>> retell("20 mm spacer: 12.5 mm too little, 1,234 EUR by 3 February 2027.", Formats("imperial", "de_DE"),
    ...        ["20 mm spacer"])
    '20 mm spacer: 0,492 in too little, 1.234 EUR by 3. Februar 2027.'
    >>> retell("1.5 mm to spare (0.2 to 2.8 mm in nine cases of ten)", Formats(locale="nl_NL"))
    '1,5 mm to spare (0,2 to 2,8 mm in nine cases of ten)'
    """
    return text if formats == CANONICAL else retold(text, formats, Kept(kept))


class Kept:
    """Words that are to stay as they were written, found by a number in each, so that many cost little more than few.

    Examples
    --------
    >>> list(Kept(["20 mm spacer", "Spacer 5"]).spans("The 20 mm spacer, not spacer 50"))
    [(4, 16)]
    """

    def __init__(self, words: Iterable[str]) -> None:
        longest = sorted(set(words), key=lambda word: (-len(word), word))
        common = Counter(number for word in longest for number in _DIGITS.findall(word))
        self._by_number: dict[str, list[tuple[int, str]]] = {}
        for word in longest:
            if numbers := list(_DIGITS.finditer(word)):
                rare = min(numbers, key=lambda number: common[number[0]])
                self._by_number.setdefault(rare[0], []).append((rare.start(), word.lower()))

    def spans(self, text: str) -> Iterator[tuple[int, int]]:
        """Where they stand in a text, from start to end, the longest where several do."""
        done = 0
        for start, end in sorted(self._places(text), key=lambda place: (place[0], -place[1])):
            if start >= done:
                yield start, end
                done = end

    def _places(self, text: str) -> Iterator[tuple[int, int]]:
        for number in _DIGITS.finditer(text) if self._by_number else ():
            for before, word in self._by_number.get(number[0], ()):
                start, end = number.start() - before, number.start() - before + len(word)
                if start >= 0 and text[start:end].lower() == word and not _is_within(text, start, end):
                    yield start, end


def _is_within(text: str, start: int, end: int) -> bool:
    """Whether a span is a piece of a longer word."""
    return text[start - 1 : start].isalnum() or text[end : end + 1].isalnum()


def retold(text: str, formats: Formats, kept: Kept) -> str:
    """A sentence told anew, but for the words that are kept."""
    pieces, done = [], 0
    for start, end in kept.spans(text):
        pieces += [_told(text[done:start], formats), text[start:end]]
        done = end
    return "".join((*pieces, _told(text[done:], formats)))


@lru_cache(maxsize=8192)
def _told(text: str, formats: Formats) -> str:
    """Each figure once: what was told anew is set aside, so that no later rule reads it again."""
    told: list[str] = []

    def aside(shown: str) -> str:
        told.append(shown)
        return f"\0{len(told) - 1}\0"

    text = _AS_WRITTEN.sub(lambda match: aside(match[0]), text)
    text = _DAY.sub(lambda match: aside(_day(match, formats)), text)
    text = _MONTH_OF_YEAR.sub(lambda match: aside(_month(match, formats)), text)
    text = _HELD.sub(lambda match: aside(formats.remarked(match[0])), text)
    text = _SIZE.sub(lambda match: aside(_size(match, formats)), text)
    text = _FIGURE.sub(lambda match: aside(formats.remarked(match[0])), text)
    return re.sub(r"\0(\d+)\0", lambda match: told[int(match[1])], text) if told else text


def _day(match: re.Match[str], formats: Formats) -> str:
    at, in_full = _MONTHS[match[2]]
    try:
        found = date(int(match[3] or 2000), at, int(match[1]))
    except ValueError:
        return match[0]
    if match[3]:
        return formats.day(found) if in_full else formats.short_day(found)
    return formats.day_of_year(found)


def _month(match: re.Match[str], formats: Formats) -> str:
    at, in_full = _MONTHS[match[1]]
    found = date(int(match[2]), at, 1)
    return formats.month(found) if in_full else formats.short_month(found)


def _size(match: re.Match[str], formats: Formats) -> str:
    """A size, or from one to another, and its half width; as fine as it was told, to a step of the other system."""
    unit = _PARSED.get(match["unit"], match["unit"])
    shown = formats.unit(unit)
    if shown == unit:
        return formats.remarked(match[0])
    half = match["within"] or match["beyond"]
    width = None if half is None else _value(half)
    text = _ends(match["ends"], unit, formats, width)
    if half is None:
        return f"{text} {sign_of(shown)}"
    said = formats.like(_value(half), unit, _half_digit(half), is_width=True)
    if match["within"]:
        return f"{text}{match['before']}{said} {sign_of(shown)}"
    return f"{text} {sign_of(shown)}{match['behind']}{said}"


def _ends(text: str, unit: str, formats: Formats, width: float | None) -> str:
    """One value or several that belong together: all in fractions, or all in decimals."""

    def told(match: re.Match[str]) -> str:
        each = match[0]
        said = formats.like(_value(each), unit, _half_digit(each), width=width, in_fractions=in_fractions)
        return said.replace("-", each[0], 1) if each[0] in "-−" else said

    in_fractions = True
    said = re.sub(_NUMBER, told, text)
    if formats.mark not in said or "/" not in said:
        return said
    in_fractions = False
    return re.sub(_NUMBER, told, text)


def _value(text: str) -> float:
    return float(text.replace("−", "-").replace(",", ""))


def _half_digit(text: str) -> float:
    return 0.5 * 10.0 ** -len(text.partition(".")[2])
