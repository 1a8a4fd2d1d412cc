"""What of a starter a build has already: the same by its id, its name, or the words its place or job is known by.

One thing of the build stands for at most one thing of the starter. Exact names are paired first and likenesses after,
the likest first, so that what an earlier merge added is found again whatever else is alike. A pair that shares no
noun that matters is none; where that is unsure the pair is not taken either: it is a doubt, which the owner is asked
about.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from ..build import Build
from ..build.units import parse_unit
from ..fit.usual import known_words
from .likeness import Likeness, alike, compared, nouns, opposed

ALIKE = 88
COMPARED: Final = 0.7  # of the whole of bringing a starter in, the share that is done once all is compared
EXACT = "the same name"
SAID = "as you say"
MATCHED = (
    "systems", "states", "workshops", "parts", "stand_ins", "dimensions", "interfaces", "conditions", "criteria",
    "decisions", "jobs", "gates", "allowances", "releases", "requirements",
)  # fmt: skip
# Lists in which an id names a thing of the trade, so that the same id is the same thing whatever it is called.
_KNOWN_BY_ID = frozenset(("systems", "dimensions", "interfaces", "stand_ins", "criteria"))
# Lists in which much the same name is not enough: the nouns that matter have to be shared.
_NAMED_BY_NOUNS = frozenset(("jobs", "decisions", "interfaces"))

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Match:
    """A thing of a starter that the build has already, or may have.

    Parameters
    ----------
    own : id in the build; how : why it is taken to be the same, in words
    surely : they have one name, and can't be held apart
    """

    list_name: str
    id: str
    name: str
    own: str
    own_name: str
    how: str

    @property
    def surely(self) -> bool:
        """Whether they have one name."""
        return self.how == EXACT


@dataclass(frozen=True, slots=True)
class Found:
    """What of a starter a build has.

    Parameters
    ----------
    same : by list and id in the starter
    doubts : pairs that may be the same and are not taken to be
    """

    same: dict[Key, Match]
    doubts: tuple[Match, ...] = ()


def matches(
    build: Build,
    starter: Build,
    *,
    known_by: Mapping[str, Any] | None = None,
    apart: Collection[Key] = (),
    taken: Collection[Key] = (),
    say: Callable[[str, float], None] = lambda _stage, _share: None,
) -> Found:
    """What is taken as the same, and what is asked about.

    Parameters
    ----------
    known_by : sets of words by id; a thing is known by a name or id in which each word of a set begins a word
    apart : what the owner says is not the same although it is alike; one name is always one thing
    taken : which doubts the owner says are the same
    say : told what is compared and the share done of bringing it in, before each thing; may raise
    """
    found: dict[Key, Match] = {}
    doubts: list[Match] = []
    sizes = {name: len(getattr(build, name)) * len(getattr(starter, name)) for name in MATCHED}
    done, whole = 0, max(1, sum(sizes.values()))
    for list_name, size in sizes.items():
        told = partial(say, f"Comparing {list_name.replace('_', ' ')}", COMPARED * done / whole)
        pairing = _Pairing(build, starter, list_name, found, known_by or {}, told)
        found |= pairing.pairs(apart, taken)
        doubts += pairing.doubts
        done += size
    return Found(found, tuple(doubts))


def name_of(noun: Any) -> str:
    """What a thing is called; one without a name by its id."""
    return str(getattr(noun, "name", "") or noun.id.replace("-", " "))


class _Pairing:
    """The pairs of one list, with what is known of the lists before it."""

    def __init__(
        self, build: Build, starter: Build, list_name: str, found: Mapping[Key, Match], known: Any,
        told: Callable[[], None],
    ) -> None:  # fmt: skip
        self.list_name, self.found, self.known, self.told = list_name, found, known, told
        self.own, self.theirs = getattr(build, list_name), getattr(starter, list_name)
        self.doubts: list[Match] = []

    def pairs(self, apart: Collection[Key], taken: Collection[Key]) -> dict[Key, Match]:
        """What is the same, the surest first; what is left unsure stands in `doubts`."""
        free = {noun.id: noun for noun in self.own}
        open_ = {noun.id: noun for noun in self.theirs if not self._is_apart(noun, apart)}
        # what the owner holds apart may have been added under its own name before
        held = {noun.id: noun for noun in self.theirs if noun.id not in open_}
        result: dict[Key, Match] = {}
        for _, how, theirs, own in sorted(self._exact({**open_, **held}), key=_order):
            self._take(result, free, theirs, own, how)
        likely = sorted(self._likely(open_, free, result), key=_order)
        for sure, _, how, theirs, own in likely:
            if sure is Likeness.SURE:
                self._take(result, free, theirs, own, how)
        for sure, _, how, theirs, own in likely:
            key = (self.list_name, theirs.id)
            if sure is Likeness.UNSURE and key not in result and own.id in free:
                if key in taken:
                    self._take(result, free, theirs, own, SAID)
                elif key not in {(each.list_name, each.id) for each in self.doubts}:
                    self.doubts.append(Match(*key, name_of(theirs), own.id, name_of(own), how))
        return result

    def _is_apart(self, noun: Any, apart: Collection[Key]) -> bool:
        return (self.list_name, noun.id) in apart

    def _take(self, result: dict[Key, Match], free: dict[str, Any], theirs: Any, own: Any, how: str) -> None:
        key = (self.list_name, theirs.id)
        if key not in result and own.id in free:
            if self.list_name != "systems" or how == EXACT:  # an area may hold several of the starter's
                del free[own.id]
            result[key] = Match(self.list_name, theirs.id, name_of(theirs), own.id, name_of(own), how)

    def _exact(self, theirs: Mapping[str, Any]) -> Iterator[tuple[float, str, Any, Any]]:
        for mine in theirs.values():
            self.told()
            for own in self.own:
                if _key(mine) == _key(own) and self._may_be(mine, own) and not self._elsewhere(mine, own):
                    yield 200.0 + (mine.id == own.id), EXACT, mine, own

    def _likely(
        self, theirs: Mapping[str, Any], free: Mapping[str, Any], taken: Mapping[Key, Match]
    ) -> Iterator[tuple[Likeness, float, str, Any, Any]]:
        for mine in theirs.values():
            if (self.list_name, mine.id) in taken:
                continue
            self.told()
            for own in free.values():
                if self._may_be(mine, own):
                    sure, score, how = self._likeness(mine, own)
                    if sure is not Likeness.NONE:
                        yield sure, score, how, mine, own

    def _likeness(self, mine: Any, own: Any) -> tuple[Likeness, float, str]:
        from rapidfuzz import fuzz

        theirs, ours = _key(mine), _key(own)
        if mine.id == own.id and (self.list_name in _KNOWN_BY_ID or fuzz.token_set_ratio(theirs, ours) >= 60):
            return Likeness.SURE, 150.0, "known by its id"
        if theirs == ours:
            return Likeness.SURE, 140.0, "the same name, under another heading"
        near = fuzz.token_set_ratio(theirs, ours) / 10
        if words := self._known_words(mine, own):
            known = (*words, *re.findall(r"\w+", mine.id.replace("-", " ")))
            joint = self.list_name == "interfaces"
            return compared(name_of(mine), name_of(own), known=known, joint=joint), 120.0 + near, "known by its words"
        if self.list_name == "parts":
            return self._alike(mine, own), 90.0 + near, "much the same name"
        score = fuzz.token_sort_ratio(theirs, ours)
        if score < ALIKE or opposed(theirs, ours):
            return Likeness.NONE, 0.0, ""
        if self.list_name in _NAMED_BY_NOUNS:
            return compared(name_of(mine), name_of(own)), score, "much the same name"
        return Likeness.SURE, score, "much the same name"

    def _alike(self, mine: Any, own: Any) -> Likeness:
        """How sure two parts are one; what a starter leaves open left out of its name."""
        theirs = name_of(mine).removesuffix(" as chosen")
        found = alike(theirs, name_of(own))
        if found is Likeness.UNSURE and self._elsewhere(mine, own) and len(nouns(theirs) & nouns(name_of(own))) < 2:
            return Likeness.NONE
        return found

    def _known_words(self, mine: Any, own: Any) -> tuple[str, ...]:
        """The words of the first set by which it is known; none if it is not."""
        words = self.known.get(mine.id, ())
        if self.list_name == "interfaces":
            words = known_words(mine.id)
            systems = {self.found[key].own for id_ in mine.systems if (key := ("systems", id_)) in self.found}
            if (own.kind or mine.kind) != mine.kind or not systems & set(own.systems):
                return ()
        return next((tuple(each) for each in words if all(_begins(word, own) for word in each)), ())

    def _may_be(self, mine: Any, own: Any) -> bool:
        """Whether two things of one name could be one at all."""
        match self.list_name:
            case "parts":
                return not self._elsewhere(mine, own) or own.system not in self._known_systems()
            case "jobs":
                return bool(mine.phase is own.phase and self._agree("systems", mine.system, own.system))
            case "dimensions":
                return mine.designates == own.designates and parse_unit(mine.unit).kind == parse_unit(own.unit).kind
            case "criteria":
                return bool(mine.measured == own.measured and mine.unit == own.unit)
            case "conditions":
                return self._agree("interfaces", mine.interface, own.interface, both=True)
            case "gates":
                return bool(mine.kind == own.kind)
            case "allowances":
                return bool(mine.kind == own.kind and self._agree("systems", mine.system, own.system, both=True))
            case "releases":
                return self._agree("parts", mine.part, own.part, both=True)
        return True

    def _elsewhere(self, mine: Any, own: Any) -> bool:
        """Whether a part stands under a heading that is not known to be the starter's area."""
        return self.list_name == "parts" and not self._agree("systems", mine.system, own.system)

    def _known_systems(self) -> set[str]:
        """The build's areas that are one of the starter's; any other is a heading of the owner's own."""
        return {match.own for match in self.found.values() if match.list_name == "systems"}

    def _agree(self, list_name: str, mine: str | None, own: str | None, *, both: bool = False) -> bool:
        """Whether what each names is one thing too; where one names nothing, unless both must."""
        if mine is None or own is None:
            return mine == own or not both
        known = self.found.get((list_name, mine))
        return known is not None and known.own == own


def _order(item: tuple[Any, ...]) -> tuple[float, str, str]:
    score, _, theirs, own = item[-4:]
    return -score, theirs.id, own.id


def _key(noun: Any) -> str:
    return " ".join(re.findall(r"\w+", name_of(noun).casefold()))


def _begins(word: str, noun: Any) -> bool:
    text = f"{name_of(noun)} {noun.id}".replace("-", " ").replace("_", " ")
    return re.search(rf"\b{re.escape(word)}", text, re.IGNORECASE) is not None
