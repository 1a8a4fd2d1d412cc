"""What differs between a build as it is and as it would be, noun by noun."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ..build import Build
from ..build.document import LISTS, LISTS_WITH_IDS

# What is only said of a noun, and nothing is reckoned from.
WORDS: Final = frozenset({"name", "note", "source", "how", "why", "if_wrong", "check", "photo", "minutes", "tools"})
# What tells the nouns of a list without ids apart.
_KEYS: Final[Mapping[str, Callable[[Any], tuple[Any, ...]]]] = {
    "sightings": lambda it: (it.offer, it.day),
    "rates": lambda it: (it.currency, it.day),
    "rule_overrides": lambda it: (it.rule, it.day),
    "correlations": lambda it: (it.first, it.second),
    "settled": lambda it: (it.interface, it.condition, it.day),
    "edges": lambda it: (it.source, it.target),
    "rules": lambda it: (it.option, it.requires, it.excludes),
}


@dataclass(frozen=True, slots=True)
class Change:
    """A noun that is otherwise, comes or goes.

    Parameters
    ----------
    list_name : the list it is in; "owner" for a field of the owner's, "build" for one of the build's
    id : its id; the name of the field; of a list without ids what tells it apart
    before, after : the noun; None where it is not there
    """

    list_name: str
    id: str
    before: Any
    after: Any

    @property
    def fields(self) -> frozenset[str]:
        """Names of the fields that differ; every one, where it comes or goes."""
        nouns = [noun for noun in (self.before, self.after) if noun is not None]
        if self.list_name in ("owner", "build"):
            return frozenset((self.id,))
        names = frozenset(name for noun in nouns for name in type(noun).model_fields)
        if len(nouns) < 2:
            return names
        return frozenset(name for name in names if getattr(nouns[0], name, None) != getattr(nouns[1], name, None))

    @property
    def matters(self) -> bool:
        """Whether anything is reckoned from what differs."""
        return self.list_name in ("owner", "build") or not self.fields <= WORDS


def changes_between(before: Build, after: Build) -> tuple[Change, ...]:
    """Every noun that differs between two builds, in the order of the build's lists.

    Examples
    --------
    >>> from fishplate.build import build_from_data
    >>> van = build_from_data({"parts": [{"id": "seat", "name": "Seat"}]})
    >>> two = build_from_data({"parts": [{"id": "seat", "name": "Seat", "quantity": 2}]})
    >>> [(change.list_name, change.id, sorted(change.fields)) for change in changes_between(van, two)]
    [('parts', 'seat', ['quantity'])]
    """
    return (*_owner_changes(before, after), *(change for name in LISTS for change in _of_list(before, after, name)))


def _owner_changes(before: Build, after: Build) -> Iterator[Change]:
    for name in type(before.owner).model_fields:
        was, now = getattr(before.owner, name), getattr(after.owner, name)
        if was != now:
            yield Change("owner", name, was, now)
    if before.started != after.started:
        yield Change("build", "started", before.started, after.started)


def _of_list(before: Build, after: Build, name: str) -> Iterator[Change]:
    if getattr(before, name) is getattr(after, name):
        return
    first, second = _by_key(before, name), _by_key(after, name)
    for key in dict.fromkeys((*first, *second)):
        was, now = first.get(key), second.get(key)
        if was != now:
            yield Change(name, key, was, now)


def _by_key(build: Build, name: str) -> Mapping[str, Any]:
    if name in LISTS_WITH_IDS:
        return build.index[name]
    found: dict[str, Any] = {}
    counts: dict[str, int] = defaultdict(int)
    for noun in getattr(build, name):
        key = " ".join(str(item) for item in _KEYS.get(name, lambda it: (it.kind, it.what))(noun) if item is not None)
        counts[key] += 1
        found[key if counts[key] == 1 else f"{key} {counts[key]}"] = noun
    return found
