"""The build as an import leaves it, row by row: what was there, and what rows put in its place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel, ValidationError

from ..build import Build, Money, Problem
from ..build.base import ThreePoint
from .model import Change, Upsert
from .names import slug


class Draft:
    """Lists of a build with the changes of an import laid over them; one row can be taken back.

    Parameters
    ----------
    build : the build before the import
    """

    def __init__(self, build: Build) -> None:
        self.build = build
        self._lists: dict[str, dict[str, Any]] = {}
        self._sightings: list[Any] = list(build.sightings)
        self._row: dict[tuple[str, str], tuple[Any, Upsert]] = {}

    def nouns(self, list_name: str) -> dict[str, Any]:
        """Nouns of a list by id, as they stand now."""
        if list_name not in self._lists:
            self._lists[list_name] = dict(self.build.index[list_name])
        return self._lists[list_name]

    def new_id(self, list_name: str, name: str, *, stem: str) -> str:
        """An id for a new noun, made from its name."""
        return slug(name, self.nouns(list_name), stem=stem)

    def put(self, list_name: str, noun: Any) -> None:
        """Put a noun in; nothing happens if it is there already, just so."""
        held = self.nouns(list_name).get(noun.id)
        if held != noun:
            before = self._row.get((list_name, noun.id), (held, None))[0]
            self.nouns(list_name)[noun.id] = noun
            self._row[list_name, noun.id] = (before, Upsert(list_name, noun))

    def sight(self, sighting: Any) -> None:
        """Keep a price that was seen, once."""
        if sighting not in self._sightings:
            self._sightings.append(sighting)
            self._row["sightings", f"{sighting.offer} {sighting.day}"] = (None, Upsert("sightings", sighting))

    def begin(self) -> None:
        """A new row begins: what is put in from now on is its own."""
        self._row = {}

    def take_back(self) -> None:
        """Take back what the row put in."""
        for (list_name, id_), (before, upsert) in self._row.items():
            if list_name == "sightings":
                self._sightings.remove(upsert.noun)
            elif before is None:
                del self.nouns(list_name)[id_]
            else:
                self.nouns(list_name)[id_] = before
        self._row = {}

    def upserts(self) -> tuple[Upsert, ...]:
        """What the row put in."""
        return tuple(upsert for _, upsert in self._row.values())

    def adds(self, list_name: str) -> bool:
        """Whether the row put a new noun into a list."""
        return any(name == list_name and before is None for (name, _), (before, _) in self._row.items())

    def changes(self) -> tuple[Change, ...]:
        """Field by field, what the row changes."""
        return tuple(
            change
            for (list_name, id_), (before, upsert) in self._row.items()
            for change in _changes(list_name, id_, before, upsert.noun)
        )


def _changes(list_name: str, id_: str, before: Any, after: Any) -> Iterator[Change]:
    if before is None:
        yield Change(list_name, id_, "id", "", id_)
    for name, field in type(after).model_fields.items():
        new, old = getattr(after, name), getattr(before, name, None)
        if before is None and (name == "id" or (new == field.default and name != "quantity")):
            continue
        if old != new or before is None:
            yield Change(list_name, id_, name, value_text(old) if before is not None else "", value_text(new))


def value_text(value: Any) -> str:
    """A field's value as a person reads it.

    Examples
    --------
    >>> value_text(ThreePoint(low=1, likely=2, high=4)), value_text(4.0), value_text(None)
    ('1 / 2 / 4', '4', '')
    """
    match value:
        case None:
            return ""
        case Money():
            return (
                f"{value.amount.normalize():f} {value.currency}"
                if value.amount != value.rounded().amount
                else str(value)
            )
        case ThreePoint():
            return f"{value.low:g} / {value.likely:g} / {value.high:g}"
        case bool():
            return "yes" if value else "no"
        case float():
            return f"{value:g}" if abs(value) < 1e6 and round(value, 4) == value else repr(value)
        case tuple():
            return "; ".join(map(value_text, value))
        case BaseModel():
            shown = ((name, getattr(value, name)) for name in type(value).model_fields)
            return ", ".join(f"{name} {value_text(item)}" for name, item in shown if item not in (None, "", ()))
        case _:
            return str(value)


def problems_of(error: ValidationError, where: str) -> Iterator[Problem]:
    """What a noun refuses, as problems of the row it was made from."""
    for detail in error.errors(include_url=False):
        what = detail["msg"].removeprefix("Value error, ").rstrip(".")
        field = ", ".join(str(step) for step in detail["loc"])
        place = f"{where}, {field}" if field else where
        code = detail["type"].replace("_", "-")
        yield Problem(place, code, what[:1].lower() + what[1:], str(detail.get("input", ""))[:60], "Correct it there.")
