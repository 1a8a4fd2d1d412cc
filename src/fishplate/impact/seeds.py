"""Where a change begins: what is otherwise in the build as it would be, read off both builds and their facts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ..build import Build, Facts
from ..build.decisions import Option
from ..build.graph import Node
from .changes import WORDS, Change
from .reach import Seeds, begun_jobs

# Of a dimension, what its value does not go by.
_BESIDE: Final = WORDS | {"foundation", "job", "too_little_cost", "too_much_cost"}


@dataclass(frozen=True, slots=True)
class Pair:
    """A build as it is and as it would be, with what is so in each."""

    before: Build
    after: Build
    was: Facts
    now: Facts

    def find(self, list_name: str, id_: str) -> Any:
        """A noun as it is, or as it would be where it is not there yet; raises KeyError."""
        known = self.before.index[list_name]
        return known[id_] if id_ in known else self.after.find(list_name, id_)

    def has(self, list_name: str, id_: str) -> bool:
        """Whether a noun is there as things are."""
        return id_ in self.before.index[list_name]

    def lost(self, name: str) -> frozenset[str]:
        """Ids wanted as it is and no longer then; `name` is "parts", "jobs" or "conditions"."""
        return _wanted(self.was, name) - _wanted(self.now, name)

    def gained(self, name: str) -> frozenset[str]:
        """Ids wanted only then."""
        return _wanted(self.now, name) - _wanted(self.was, name)


def seeds_of(pair: Pair, changes: Sequence[Change]) -> Seeds:
    """What is certainly otherwise, from the changes and from what follows for the facts."""
    turned, flipped = _turned(pair), _flipped(pair)
    renewed = frozenset(_renewed(pair, changes, {*turned, *flipped}))
    restated, stale = _restated(pair)
    interfaces = frozenset(_interfaces(pair, changes))
    releases = frozenset(_releases(pair, changes, flipped))
    nodes: set[Node] = {
        *(("parts", id_) for id_ in pair.lost("parts") | _replaced(changes)),
        *(("conditions", id_) for id_ in pair.lost("conditions") | _changed(changes, "conditions")),
        *(("jobs", id_) for id_ in pair.lost("jobs") & begun_jobs(pair.was)),
        *(("decisions", id_) for id_ in turned),
        *(("dimensions", id_) for id_ in renewed | restated),
        *(("interfaces", id_) for id_ in interfaces),
        *(("releases", id_) for id_ in releases),
    }
    return Seeds(
        nodes=frozenset(node for node in nodes if pair.has(*node)),
        turned={id_: option for id_, option in turned.items() if option is not None},
        renewed=(renewed | restated) - _still_stale(pair, restated),
        stale=stale,
        interfaces=interfaces,
        releases=releases,
        reopened=frozenset(_reopened(pair, changes)),
    )


def _wanted(facts: Facts, name: str) -> frozenset[str]:
    return {"parts": facts.wanted_parts, "jobs": facts.wanted_jobs, "conditions": facts.wanted_conditions}[name]


def _turned(pair: Pair) -> dict[str, Option | None]:
    """Decisions that are planned with another option, or are gone."""
    found: dict[str, Option | None] = {}
    for id_, choice in pair.was.choices.items():
        then = pair.now.choices.get(id_)
        if then is None or _brings(then.option) != _brings(choice.option):
            found[id_] = None if then is None else then.option
    return found


def _brings(option: Option) -> tuple[Any, ...]:
    """What makes an option another one: its id and all it calls for."""
    return tuple(getattr(option, name) for name in type(option).model_fields if name not in WORDS | {"score"})


def _flipped(pair: Pair) -> frozenset[str]:
    """Decisions taken only as it is, or only then."""
    return frozenset(
        id_
        for id_, choice in pair.was.choices.items()
        if (id_ in pair.now.choices and pair.now.choices[id_].decided) != choice.decided
    )


def _reopened(pair: Pair, changes: Sequence[Change]) -> Iterator[str]:
    """Decisions taken that are open then, or whose rules or edges are otherwise."""
    yield from (id_ for id_ in _flipped(pair) if pair.was.choices[id_].decided)
    for change in changes:
        nouns = [noun for noun in (change.before, change.after) if noun is not None]
        if change.list_name == "edges" and change.matters:
            yield from (id_ for noun in nouns for id_ in (noun.source, noun.target) if pair.has("decisions", id_))
        if change.list_name == "rules" and change.matters:
            named = {id_ for noun in nouns for id_ in (noun.option, noun.requires, noun.excludes)}
            for decision in pair.before.decisions:
                if named & {option.id for option in decision.options}:
                    yield decision.id


def _changed(changes: Iterable[Change], list_name: str) -> set[str]:
    return {change.id for change in changes if change.list_name == list_name and change.matters}


def _replaced(changes: Iterable[Change]) -> set[str]:
    """Parts that become another: their maker's number is another one."""
    return {
        change.id
        for change in changes
        if change.list_name == "parts" and change.before is not None and change.after is not None
        if change.before.part_number and change.after.part_number and "part_number" in change.fields
    }


def _renewed(pair: Pair, changes: Sequence[Change], decisions: set[str]) -> Iterator[str]:
    """Dimensions known otherwise by what was written down, not by what became of the vehicle."""
    for change in changes:
        nouns = [noun for noun in (change.before, change.after) if noun is not None]
        match change.list_name:
            case "dimensions" if change.fields - _BESIDE:
                yield change.id
            case "readings" if change.matters:
                yield from (noun.dimension for noun in nouns)
            case "correlations":
                yield from (id_ for noun in nouns for id_ in (noun.first, noun.second))
            case "stand_ins" if change.fields & {"spread", "dimensions"}:
                yield from (id_ for noun in nouns for id_ in noun.dimensions)
            case "decisions":
                decisions = decisions | {change.id}
            case _:
                pass
    for id_ in decisions:
        for build in (pair.before, pair.after):
            if id_ in build.index["decisions"]:
                options = build.find("decisions", id_).options
                yield from (item.dimension for option in options for item in getattr(option, "dimensions", ()))


def _restated(pair: Pair) -> tuple[frozenset[str], frozenset[str]]:
    """Dimensions and readings whose readings hold only as it is, or only then; those that no longer hold."""
    moved = {
        state
        for state in {*pair.was.state_changed, *pair.now.state_changed}
        if pair.was.state_changed.get(state) != pair.now.state_changed.get(state)
    }
    met = [reading for reading in pair.before.readings if reading.against in moved]
    stale = frozenset(r.id for r in met if _is_stale(r, pair.now) and not _is_stale(r, pair.was))
    otherwise = [reading for reading in met if _is_stale(reading, pair.now) != _is_stale(reading, pair.was)]
    return frozenset(reading.dimension for reading in otherwise), stale


def _is_stale(reading: Any, facts: Facts) -> bool:
    changed = facts.state_changed.get(reading.against or "")
    return changed is not None and changed > reading.day


def _still_stale(pair: Pair, restated: frozenset[str]) -> frozenset[str]:
    """Dimensions restated that no reading holds for then."""
    held = {
        reading.dimension
        for reading in pair.after.readings
        if reading.day <= pair.now.as_of and not _is_stale(reading, pair.now)
    }
    return restated - held


def _interfaces(pair: Pair, changes: Sequence[Change]) -> Iterator[str]:
    """Interfaces whose verdict is otherwise by themselves or their conditions, or which come or go."""
    for change in changes:
        nouns = [noun for noun in (change.before, change.after) if noun is not None]
        if change.list_name == "interfaces" and change.matters:
            yield change.id
        elif (change.list_name == "conditions" and change.matters) or change.list_name == "settled":
            yield from (noun.interface for noun in nouns)
    for id_ in pair.gained("conditions") | pair.lost("conditions"):
        yield pair.find("conditions", id_).interface


def _releases(pair: Pair, changes: Sequence[Change], flipped: frozenset[str]) -> Iterator[str]:
    """Releases that are otherwise, or name a decision that is open again then."""
    yield from _changed(changes, "releases")
    for release in pair.before.releases:
        if any(id_ in flipped and pair.was.choices[id_].decided for id_ in release.decisions):
            yield release.id
