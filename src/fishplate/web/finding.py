"""Finding by words: accents, case and small slips do not count, nor dashes and blanks in a part number."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from rapidfuzz import process
from rapidfuzz.distance import OSA

from ..exchange.names import bare_letters, number_key

MOST_WORDS: Final = 8
_WORD: Final = re.compile(r"[^\W_]+(?:(?<=\d)[./](?=\d)[^\W_]+)*")
_DECIMAL: Final = re.compile(r"(?<=\d),(?=\d)")
_TIMES: Final = re.compile(r"(?<=\d)\s*[x×]\s*(?=\d)")
_UNTOLD: Final = frozenset({
    "a", "an", "and", "at", "by", "for", "from", "in", "is", "it", "of", "on", "or", "that", "the", "to", "was", "what",
    "where", "which", "with",
})  # fmt: skip
# Of a word that is the same, that begins so, that holds it, and that is a slip away.
_SAME, _BEGINS, _HOLDS, _SLIP = 1.0, 0.8, 0.5, 0.4
# Slips are looked for in words of this length and more; in words of so many letters, two of them.
_LEAST_LETTERS, _TWO_SLIPS, _LEAST_HELD = 4, 8, 3


def words_of(text: str) -> list[str]:
    """The words of a text as they are compared; designations are one word however they are written.

    Examples
    --------
    >>> words_of("Bolts, M10×1,25"), words_of("bolt m10 x 1.25")
    (['bolt', 'm10x1.25'], ['bolt', 'm10x1.25'])
    """
    plain = _DECIMAL.sub(".", _TIMES.sub("x", bare_letters(text)))
    return [_one(word) for word in _WORD.findall(plain)]


def _one(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") and word.isalpha() else word


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that can be found.

    Parameters
    ----------
    id : of its noun; empty where it has none; kind : what it is, one of several words
    said : where it stands, as a sentence
    told : further texts it can be found by, as (weight, text); its kind weighs 2
    numbers : its part numbers and the like
    weight : of its name
    """

    id: str
    kind: str
    name: str
    path: str
    said: str = ""
    told: tuple[tuple[float, str], ...] = ()
    numbers: tuple[str, ...] = ()
    weight: float = 4.0


class Index:
    """Things by the words they can be found by.

    Parameters
    ----------
    things : in the order they are shown where nothing else tells which comes first
    whole : words that count only where they stand by themselves, not within others or a slip away
    """

    def __init__(self, things: Iterable[Thing], whole: Iterable[str] = ()) -> None:
        self.things, self._whole = tuple(things), frozenset(whole)
        held: dict[str, dict[int, float]] = defaultdict(dict)
        numbers: dict[str, set[int]] = defaultdict(set)
        kept: dict[str, tuple[str, ...]] = {}  # the same words come again and again: a system's, a supplier's
        for at, thing in enumerate(self.things):
            for weight, text in (
                (thing.weight, thing.name),
                (2.0, thing.kind),
                *thing.told,
                *((5.0, n) for n in thing.numbers),
            ):
                if text not in kept:
                    kept[text] = tuple(words_of(text))
                for word in kept[text]:
                    held[word][at] = max(weight, held[word].get(at, 0.0))
            for number in filter(None, map(number_key, thing.numbers)):
                numbers[number].add(at)
                held[number][at] = 5.0
        self._held, self._words = dict(held), sorted(held)
        self._names = [" ".join(kept[thing.name]) for thing in self.things]
        self._numbers, self._sorted_numbers = dict(numbers), sorted(numbers)

    def find(self, text: str) -> list[tuple[float, Thing]]:
        """Things that every word of a text leads to, best first, each with how well it answers."""
        asked = [word for word in words_of(text)[: 2 * MOST_WORDS] if word not in _UNTOLD][:MOST_WORDS]
        if not asked:
            return []
        each = [self._led_to(word) for word in asked]
        found = _by_all(each)
        for first, last, numbered in self._as_numbers(asked):
            rest = _by_all([*each[:first], *each[last:], numbered])
            found = {at: max(score, found.get(at, 0.0)) for at, score in rest.items()} | {
                at: score for at, score in found.items() if at not in rest
            }
        whole = " ".join(words_of(text))
        scored = [(score + self._nearness(at, whole), at) for at, score in found.items()]
        scored.sort(key=lambda item: (-item[0], item[1]))
        return [(score, self.things[at]) for score, at in scored]

    def _nearness(self, at: int, whole: str) -> float:
        """More for a name that is what was typed, or begins so; a little more for a short one."""
        name = self._names[at]
        begins = 2.0 if name.startswith(whole) else 0.0
        return begins + (4.0 if name == whole else 0.0) + 1.0 / (1 + len(name) / 20)

    def _led_to(self, word: str) -> Mapping[int, float]:
        """Things a word leads to, with how well."""
        found: dict[int, float] = {}
        # a single letter begins nearly everything
        alone = word in self._whole or len(word) == 1
        begin, hold = ([], []) if alone else (self._begin(word), self._hold(word))
        for share, words in ((_SAME, (word,)), (_BEGINS, begin), (_HOLDS, hold)):
            for each in words:
                for at, weight in self._held.get(each, {}).items():
                    if at not in found or found[at] < share * weight:
                        found[at] = share * weight
        if found or alone or len(word) < _LEAST_LETTERS or not word.isalpha():  # M10 is no slip of M12
            return found
        slips = 2 if len(word) >= _TWO_SLIPS else 1
        for near, _, _ in process.extract(word, self._words, scorer=OSA.distance, score_cutoff=slips, limit=20):
            if near.isalpha():
                for at, weight in self._held[near].items():
                    found[at] = max(found.get(at, 0.0), _SLIP * weight)
        return found

    def _begin(self, word: str) -> Iterator[str]:
        for place in range(bisect_left(self._words, word), len(self._words)):
            if not self._words[place].startswith(word):
                return
            yield self._words[place]

    def _hold(self, word: str) -> list[str]:
        return [each for each in self._words if word in each] if len(word) >= _LEAST_HELD else []

    def _as_numbers(self, asked: list[str]) -> Iterator[tuple[int, int, dict[int, float]]]:
        """Runs of words that, written together, are a part number or begin one: (first, last, things)."""
        for first in range(len(asked)):
            for last in range(first + 2, len(asked) + 1):
                joined = number_key("".join(asked[first:last]))
                if not any(c.isdigit() for c in joined):
                    continue
                found: dict[int, float] = {}
                for place in range(bisect_left(self._sorted_numbers, joined), len(self._sorted_numbers)):
                    number = self._sorted_numbers[place]
                    if not number.startswith(joined):
                        break
                    share = _SAME if number == joined else _BEGINS
                    found |= dict.fromkeys(self._numbers[number], 5.0 * share * (last - first))
                if found:
                    yield first, last, found


def _by_all(each: list[Mapping[int, float]]) -> dict[int, float]:
    """What every word leads to, with the sum of how well."""
    first, *others = sorted(each, key=len)
    return {at: score + sum(other[at] for other in others) for at, score in first.items()
            if all(at in other for other in others)}  # fmt: skip
