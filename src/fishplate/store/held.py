"""What a build file holds, kept in memory by its last batch: the build, and where each noun stands in its list.

A change to one noun of thousands then looks at that list alone, and every noun left alone stays the object it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Any, Final

from pydantic import ValidationError

from ..build import Build, Refused, build_from_data, document_data, noun_data
from ..build.document import LISTS, LISTS_WITH_IDS
from ..build.edit_faults import edit_faults
from ..build.field_faults import field_faults
from .model import Change, Key, Mark
from .positions import place
from .rows import ABOUT, OWN_FIELDS, ROW_LISTS, Row, document_of, numbered

OWN: Final = ("name", "started", "frame_origin", "owner")
Places = Mapping[str, Mapping[str, int]]


@dataclass(frozen=True, slots=True)
class Held:
    """What the file holds at a batch.

    Parameters
    ----------
    mark : tells the batch
    places : position of every noun, by list name and id, in the order of the build's lists
    """

    mark: Mark
    build: Build
    places: Places

    def nouns(self, name: str) -> dict[str, Any]:
        """Nouns of a list, or values of the build's own fields, by id."""
        ids = self.places.get(name, {})
        values = [getattr(self.build, id_) for id_ in ids] if name == OWN_FIELDS else getattr(self.build, name)
        return dict(zip(ids, values, strict=True))

    def rows(self) -> dict[Key, Row]:
        """All of it as rows."""
        return {
            (name, id_): Row(self.places[name][id_], _data(noun))
            for name in self.places
            for id_, noun in self.nouns(name).items()
        }


def held_of(rows: Mapping[Key, Row], mark: Mark, source: str) -> Held:
    """What rows of a file hold; raises Refused with every problem."""
    build = build_from_data(document_of(rows), source=source)
    places: dict[str, dict[str, int]] = {}
    for (name, id_), row in sorted(rows.items(), key=lambda item: item[1].position):
        places.setdefault(name, {})[id_] = row.position
    return Held(mark, build, places)


def changes_to(held: Held, wanted: Build) -> tuple[Change, ...]:
    """The fewest changes that turn what is held into what is wanted; nouns that are the same objects are alike."""
    return tuple(
        change
        for name in ROW_LISTS
        if name == OWN_FIELDS or getattr(held.build, name) is not getattr(wanted, name)
        for change in _changes_in(name, held, _own(wanted) if name == OWN_FIELDS else _by_id(name, wanted))
    )


def _changes_in(name: str, held: Held, wanted: Mapping[str, Any]) -> Iterable[Change]:
    before, was_at = held.nouns(name), held.places.get(name, {})
    now_at = place(list(wanted), was_at)
    for id_, noun in before.items():
        if id_ not in wanted:
            yield Change(name, id_, None, _data(noun), was_at[id_], None)
    for id_, noun in wanted.items():
        was = before.get(id_)
        if id_ not in before:
            yield Change(name, id_, _data(noun), None, None, now_at[id_])
        elif was is not noun or was_at[id_] != now_at[id_]:
            old, new = _data(was), _data(noun)
            if old != new or was_at[id_] != now_at[id_]:
                yield Change(name, id_, new, old, was_at[id_], now_at[id_])


def _own(build: Build) -> dict[str, Any]:
    """The build's own fields that are not as in a new build; it always has its name."""
    fields = Build.model_fields
    return {name: value for name in OWN if (value := getattr(build, name)) != fields[name].default or name == "name"}


def _by_id(name: str, build: Build) -> dict[str, Any]:
    nouns = getattr(build, name)
    if name in LISTS_WITH_IDS:
        return dict(zip(numbered(noun.id for noun in nouns), nouns, strict=True))
    return dict(zip(numbered(_about(name, noun) for noun in nouns), nouns, strict=True))


def _about(name: str, noun: Any) -> str:
    values = (getattr(noun, field) for field in ABOUT[name])
    return " ".join(_word(value) for value in values if value is not None)


def _word(value: Any) -> str:
    match value:
        case date():
            return value.isoformat()
        case Enum():
            return str(value.value)
        case _:
            return str(value)


def _data(value: Any) -> Any:
    match value:
        case date():
            return value.isoformat()
        case str():
            return value
        case _:
            return noun_data(value)


def after(held: Held, changes: Sequence[Change], source: str) -> Held:
    """What is held once changes with their places were made, at the same mark; only what they bring is validated.

    Raises
    ------
    Refused
        if what they bring is no noun
    """
    brought = _nouns_of(changes, source)
    touched: dict[str, list[Change]] = {}
    for change in changes:
        touched.setdefault(change.list_name, []).append(change)
    places, lists = dict(held.places), dict[str, Any]()
    for name, of_list in touched.items():
        nouns, at = held.nouns(name), dict(held.places.get(name, {}))
        for change in of_list:
            if change.after_position is None:
                nouns.pop(change.id, None)
                at.pop(change.id, None)
            else:
                nouns[change.id], at[change.id] = brought[change.key], change.after_position
        places[name] = dict(sorted(at.items(), key=lambda item: item[1]))
        if name == OWN_FIELDS:
            lists |= {field: nouns.get(field, Build.model_fields[field].default) for field in OWN}
        else:
            lists[name] = tuple(nouns[id_] for id_ in places[name])
    return Held(held.mark, held.build.model_copy(update=lists), places)


def _nouns_of(changes: Sequence[Change], source: str) -> dict[Key, Any]:
    """What changes bring, as nouns; raises Refused."""
    found: dict[Key, Any] = {}
    data: dict[str, Any] = {}
    for change in changes:
        if change.after is None:
            continue
        if change.list_name == OWN_FIELDS:
            data[change.id] = change.after
        else:
            data.setdefault(change.list_name, []).append(noun_data(change.after))
    try:
        build = Build.model_validate(data)
    except ValidationError as error:
        raise Refused(field_faults(error, data, source)) from None
    waiting = {name: iter(getattr(build, name)) for name in data if name in LISTS}
    for change in changes:
        if change.after is not None:
            own = change.list_name == OWN_FIELDS
            found[change.key] = getattr(build, change.id) if own else next(waiting[change.list_name])
    return found


def asked_for(held: Held, changes: Sequence[Change]) -> Build | None:
    """The build that asked-for changes lead to, what is new last in its list; None where the whole must be read."""
    if any(name not in ROW_LISTS or (name == OWN_FIELDS and id_ not in OWN) for name, id_ in (c.key for c in changes)):
        return None
    try:
        brought = _nouns_of(changes, "")
    except Refused:
        return None
    lists: dict[str, dict[str, Any]] = {}
    for change in changes:
        nouns = lists.setdefault(change.list_name, held.nouns(change.list_name))
        if change.after is None:
            nouns.pop(change.id, None)
        else:
            nouns[change.id] = brought[change.key]
    own = lists.pop(OWN_FIELDS, None)
    update: dict[str, Any] = {name: tuple(nouns.values()) for name, nouns in lists.items()}
    if own is not None:
        update |= {field: own.get(field, Build.model_fields[field].default) for field in OWN}
    return held.build.model_copy(update=update)


def checked(held: Held, changes: Sequence[Change], wanted: Build, source: str) -> Held:
    """What will be held once changes were made; raises Refused with every problem, nothing is half taken."""
    try:
        new = after(held, changes, source)
    except Refused:
        build_from_data(document_data(wanted), source=source)  # tells the places in the whole document
        raise
    problems = tuple(edit_faults(held.build, new.build, source=source))
    if problems:
        raise Refused(problems)
    return new
