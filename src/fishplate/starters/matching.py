"""What of a starter a build has already: the same by its id, its name, or the words its place or job is known by.

One thing of the build stands for at most one thing of the starter. Exact names are paired first and likenesses after,
the likest first, so that what an earlier merge added is found again whatever else is alike.
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

ALIKE = 88
COMPARED: Final = 0.7  # of the whole of bringing a starter in, the share that is done once all is compared
EXACT = "the same name"
MATCHED = (
    "systems", "states", "workshops", "parts", "stand_ins", "dimensions", "interfaces", "conditions", "criteria",
    "decisions", "jobs", "gates", "allowances", "releases", "requirements",
)  # fmt: skip
# Lists in which an id names a thing of the trade, so that the same id is the same thing whatever it is called.
_KNOWN_BY_ID = frozenset(("systems", "dimensions", "interfaces", "stand_ins", "criteria"))

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Match:
    """A thing of a starter that the build has already.

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


def matches(
    build: Build,
    starter: Build,
    *,
    known_by: Mapping[str, Any] | None = None,
    apart: Collection[Key] = (),
    say: Callable[[str, float], None] = lambda _stage, _share: None,
) -> dict[Key, Match]:
    """What is taken as the same, by list and id in the starter.

    Parameters
    ----------
    known_by : sets of words by id; a thing is known by a name or id in which each word of a set begins a word
    apart : what the owner says is not the same although it is alike; one name is always one thing
    say : told what is compared and the share done of bringing it in, before each thing; may raise
    """
    found: dict[Key, Match] = {}
    sizes = {name: len(getattr(build, name)) * len(getattr(starter, name)) for name in MATCHED}
    done, whole = 0, max(1, sum(sizes.values()))
    for list_name, size in sizes.items():
        told = partial(say, f"Comparing {list_name.replace('_', ' ')}", COMPARED * done / whole)
        found |= _Pairing(build, starter, list_name, found, known_by or {}, told).pairs(apart)
        done += size
    return found


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

    def pairs(self, apart: Collection[Key]) -> dict[Key, Match]:
        """What is the same, the surest first."""
        free = {noun.id: noun for noun in self.own}
        open_ = {noun.id: noun for noun in self.theirs if not self._is_apart(noun, apart)}
        # what the owner holds apart may have been added under its own name before
        held = {noun.id: noun for noun in self.theirs if noun.id not in open_}
        result: dict[Key, Match] = {}
        for _, how, theirs, own in sorted(self._exact({**open_, **held}), key=_order):
            self._take(result, free, theirs, own, how)
        for _, how, theirs, own in sorted(self._likely(open_, free, result), key=_order):
            self._take(result, free, theirs, own, how)
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
    ) -> Iterator[tuple[float, str, Any, Any]]:
        for mine in theirs.values():
            if (self.list_name, mine.id) in taken:
                continue
            self.told()
            for own in free.values():
                if self._may_be(mine, own):
                    score, how = self._likeness(mine, own)
                    if score >= ALIKE:
                        yield score, how, mine, own

    def _likeness(self, mine: Any, own: Any) -> tuple[float, str]:
        from rapidfuzz import fuzz

        if mine.id == own.id and (self.list_name in _KNOWN_BY_ID or fuzz.token_set_ratio(_key(mine), _key(own)) >= 60):
            return 150.0, "known by its id"
        if _key(mine) == _key(own):
            return 140.0, "the same name, under another heading"
        if self._is_known(mine, own):
            return 120.0 + fuzz.token_set_ratio(_key(mine), _key(own)) / 10, "known by its words"
        if self.list_name == "parts":
            return fuzz.token_sort_ratio(*_bare(mine, own)), "much the same name"
        return fuzz.token_sort_ratio(_key(mine), _key(own)), "much the same name"

    def _is_known(self, mine: Any, own: Any) -> bool:
        words = self.known.get(mine.id, ())
        if self.list_name == "interfaces":
            words = known_words(mine.id)
            systems = {self.found[key].own for id_ in mine.systems if (key := ("systems", id_)) in self.found}
            if (own.kind or mine.kind) != mine.kind or not systems & set(own.systems):
                return False
        return any(all(_begins(word, own) for word in each) for each in words)

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


def _order(item: tuple[float, str, Any, Any]) -> tuple[float, str, str]:
    return -item[0], item[2].id, item[3].id


def _key(noun: Any) -> str:
    return " ".join(re.findall(r"\w+", name_of(noun).casefold()))


def _bare(mine: Any, own: Any) -> tuple[str, str]:
    """Both names without what a starter leaves open; without sizes, where the starter gives none."""
    theirs, ours = _key(mine).removesuffix(" as chosen"), _key(own).split()
    if not any(map(str.isdigit, theirs)):
        ours = [word for word in ours if len(word) > 1 and word.isalpha()] or ours
    return theirs, " ".join(ours)


def _begins(word: str, noun: Any) -> bool:
    text = f"{name_of(noun)} {noun.id}".replace("-", " ").replace("_", " ")
    return re.search(rf"\b{re.escape(word)}", text, re.IGNORECASE) is not None
