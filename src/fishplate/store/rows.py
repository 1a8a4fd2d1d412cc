"""From a build to the rows that hold it, and back; and what differs between two."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..build import Build, Problem, Refused, document_data, noun_data
from ..build.document import FORMAT, LISTS, LISTS_WITH_IDS, VERSION
from .model import Change, Key
from .positions import place

OWN_FIELDS = "build"
ROW_LISTS = (OWN_FIELDS, *LISTS)

# What a noun without an id is about; a second one about the same gets a number.
ABOUT = {
    "sightings": ("offer", "day"),
    "rates": ("currency", "day"),
    "rule_overrides": ("rule",),
    "correlations": ("first", "second"),
    "settled": ("interface", "day"),
    "edges": ("source", "target"),
    "rules": ("option", "requires", "excludes"),
    "put_off": ("kind", "what"),
}

Contents = Mapping[str, Mapping[str, Any]]
"""Nouns as data, by list name and id, in order."""


@dataclass(frozen=True, slots=True)
class Row:
    """A noun as it is held."""

    position: int
    data: Any


def contents_of(build: Build) -> Contents:
    """The build's nouns as data, by list name and id, in order."""
    contents: dict[str, dict[str, Any]] = {name: {} for name in ROW_LISTS}
    for name, value in document_data(build).items():
        if name in LISTS:
            contents[name] = dict(zip(_ids(name, value), value, strict=True))
        elif name not in {"format", "version"}:
            contents[OWN_FIELDS][name] = value
    return contents


def _ids(name: str, data: Sequence[Any]) -> Iterator[str]:
    if name in LISTS_WITH_IDS:
        return numbered(noun["id"] for noun in data)
    return numbered(" ".join(str(noun[f]) for f in ABOUT[name] if f in noun) for noun in data)


def numbered(abouts: Iterable[str]) -> Iterator[str]:
    """What nouns are about as their ids: a second one about the same gets a number.

    Examples
    --------
    >>> list(numbered(["hub", "disc", "hub"]))
    ['hub', 'disc', 'hub (2)']
    """
    taken: set[str] = set()
    for about in abouts:
        id_, count = about, 1
        while id_ in taken:
            count += 1
            id_ = f"{about} ({count})"
        taken.add(id_)
        yield id_


def document_of(rows: Mapping[Key, Row]) -> dict[str, Any]:
    """The build document, as data, that rows hold."""
    document: dict[str, Any] = {"format": FORMAT, "version": VERSION}
    for (name, id_), row in sorted(rows.items(), key=lambda item: item[1].position):
        if name == OWN_FIELDS:
            document[id_] = row.data
        else:
            document.setdefault(name, []).append(row.data)
    return document


def differences(held: Mapping[Key, Row], wanted: Contents) -> tuple[Change, ...]:
    """The fewest changes that turn what is held into what is wanted."""
    by_list: dict[str, dict[str, Row]] = {}
    for (name, id_), row in held.items():
        by_list.setdefault(name, {})[id_] = row
    return tuple(
        change for name in ROW_LISTS for change in _differences_in(name, by_list.get(name, {}), wanted.get(name, {}))
    )


def _differences_in(name: str, held: Mapping[str, Row], wanted: Mapping[str, Any]) -> Iterator[Change]:
    positions = place(list(wanted), {id_: row.position for id_, row in held.items()})
    for id_, row in held.items():
        if id_ not in wanted:
            yield Change(name, id_, None, row.data, row.position, None)
    for id_, data in wanted.items():
        was = held.get(id_)
        if was is None:
            yield Change(name, id_, data, None, None, positions[id_])
        elif was.data != data or was.position != positions[id_]:
            yield Change(name, id_, data, was.data, was.position, positions[id_])


def applied(held: Mapping[Key, Row], changes: Sequence[Change], source: str) -> dict[str, Any]:
    """The build document, as data, that asked-for changes lead to; what is new goes last in its list."""
    rows = dict(held)
    problems = []
    last = max((row.position for row in rows.values()), default=0)
    for change in changes:
        name, id_ = change.key
        if name not in ROW_LISTS:
            problems.append(Problem(f"{source}, {name} ({id_})", "unknown-list", "a build has no such list", name))
        elif change.after is None:
            rows.pop(change.key, None)
        else:
            last += 1
            was = rows.get(change.key)
            rows[change.key] = Row(last if was is None else was.position, noun_data(change.after))
    if problems:
        raise Refused(problems)
    return document_of(rows)


def dump(data: Any) -> str:
    """Data as compact JSON."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))
