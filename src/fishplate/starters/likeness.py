"""Whether two names mean one thing: by the nouns that matter in them.

A name is read as phrases. The first is the thing it names, the rest says more of it. How the words are compared stands
in `words.toml`; what a name is reduced to is common practice, not a standard.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Iterable
from enum import IntEnum
from functools import cache
from importlib.resources import files
from typing import Any

# Share of a name's nouns the other has to hold, where both name what meets.
_MOST_OF = 0.6


class Likeness(IntEnum):
    """How sure it is that two names mean one thing."""

    NONE = 0
    UNSURE = 1
    SURE = 2


def compared(theirs: str, own: str, *, known: Collection[str] = (), joint: bool = False) -> Likeness:
    """How sure it is that a name of one's own means what another list names.

    Parameters
    ----------
    theirs, own : the two names
    known : words the thing is also known by
    joint : whether the names say what meets what, so that most nouns have to be shared and not the first thing alone

    Returns
    -------
    Likeness
        sure where all that the own name's first phrase names is in the other (any phrase, unless they are joints);
        unsure where a noun that matters is shared; none where it is not, or where one says front and the other rear

    Examples
    --------
    >>> compared("Anti-roll bar links", "Anti-roll bar link").name
    'SURE'
    >>> words = ("exhaust", "line")
    >>> compared("Exhaust manifold beside brake lines", "Heater exhaust to fuel line", known=words, joint=True).name
    'UNSURE'
    >>> compared("Front door seal", "Rear door seal").name, compared("Brake pads", "Brake pedal").name
    ('NONE', 'NONE')
    """
    if opposed(theirs, own):
        return Likeness.NONE
    yours, all_yours = _phrases(own), nouns(own)
    vocabulary = nouns(theirs) | {_stem(word) for each in known for word in _read(each)}
    if not vocabulary & all_yours:
        return Likeness.NONE
    whole = yours[0] <= vocabulary if joint else any(each <= vocabulary for each in yours)
    if whole and (not joint or len(all_yours & vocabulary) >= _MOST_OF * len(all_yours)):
        return Likeness.SURE
    return Likeness.UNSURE if known or _head(theirs) == _head(own) else Likeness.NONE


def alike(theirs: str, own: str) -> Likeness:
    """How sure it is that two parts are one, nothing but their names known; a size only one of them gives is left out.

    Examples
    --------
    >>> alike("Master cylinder to suit the calipers", "Master cylinder").name, alike("Damper", "Rear damper").name
    ('UNSURE', 'UNSURE')
    >>> alike("Tyres", "Tyre 205/75 R 16 C").name, alike("Primer with hardener", "Primer with hardener, 5 l").name
    ('SURE', 'SURE')
    >>> alike("Bolt M10", "Bolt M8 x 20").name
    'NONE'
    """
    if opposed(theirs, own) or not _sizes(theirs) <= _sizes(own):
        return Likeness.NONE
    mine, yours = _phrases(theirs), _phrases(own)
    if not mine or not yours:
        return Likeness.NONE
    if nouns(theirs) == nouns(own):
        return Likeness.SURE if _places(theirs) == _places(own) else Likeness.UNSURE
    within = mine[0] <= yours[0] or yours[0] <= mine[0]
    return Likeness.UNSURE if within and _head(theirs) == _head(own) else Likeness.NONE


def nouns(name: str) -> frozenset[str]:
    """What a name names, each word reduced to its stem."""
    return frozenset().union(*_phrases(name))


def opposed(one: str, other: str) -> bool:
    """Whether one name says front and the other rear, or the like, and neither says both.

    Examples
    --------
    >>> opposed("Front hub", "Rear hub"), opposed("Hub", "Rear hub"), opposed("Front hub", "Front and rear hubs")
    (True, False, False)
    """
    ours, theirs = set(_read(one)), set(_read(other))
    return any(
        (a in ours and b not in ours and b in theirs and a not in theirs)
        or (b in ours and a not in ours and a in theirs and b not in theirs)
        for a, b in _table()["opposed"]
    )


def _sizes(name: str) -> set[str]:
    return {word for word in _read(name) if any(map(str.isdigit, word))}


def _places(name: str) -> set[str]:
    return {word for word in _read(name) if word in _table()["places"]}


def _head(name: str) -> str:
    """The last noun of what a name names first."""
    for words in _split(name):
        kept = [_stem(word) for word in words if _names(word)]
        if kept:
            return kept[-1]
    return ""


def _phrases(name: str) -> list[frozenset[str]]:
    found = (frozenset(_stem(word) for word in words if _names(word)) for words in _split(name))
    return [phrase for phrase in found if phrase]


def _split(name: str) -> Iterable[list[str]]:
    for piece in re.split(r"[,;:()]", _one(name)):
        words: list[str] = []
        for word in re.findall(r"[^\W_]+", piece):
            if word in _table()["breaks"]:
                yield words
                words = []
            else:
                words.append(word)
        yield words


def _read(name: str) -> list[str]:
    return re.findall(r"[^\W_]+", _one(name))


def _names(word: str) -> bool:
    return len(word) > 1 and word.isalpha() and word not in _table()["passing"]


def _one(name: str) -> str:
    """A name with each trade term written in one way."""
    text = name.casefold()
    for pattern, first in _terms():
        text = pattern.sub(first, text)
    return text


def _stem(word: str) -> str:
    for ending, least in (("ing", 4), ("ed", 3), ("es", 3), ("s", 3)):
        if word.endswith(ending) and not word.endswith("ss") and len(word) - len(ending) >= least:
            word = word.removesuffix(ending)
            break
    return word.removesuffix("e")


@cache
def _terms() -> tuple[tuple[re.Pattern[str], str], ...]:
    rows = [(other, first) for first, *others in _table()["one"] for other in others]
    rows.sort(key=lambda row: -len(row[0]))
    return tuple((re.compile(rf"\b{other.replace(' ', '[ -]')}(?=(?:e?s)?\b)"), first) for other, first in rows)


@cache
def _table() -> dict[str, Any]:
    text = (files(__package__) / "words.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
