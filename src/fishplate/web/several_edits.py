"""Changes to several nouns of a list at once: what would change, what can't and why."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..build import Build

if TYPE_CHECKING:
    from .desk import View

Options = tuple[tuple[str, str], ...]
# From a noun's id and the value it is to have to why it can't, as a clause; empty if it can.
Check = Callable[[str, Any], str]


@dataclass(frozen=True, slots=True)
class Field:
    """Something that can be changed of several at once.

    Parameters
    ----------
    name : of the noun's field; kind : how it is asked for: choose, day, number or text
    read : from what was chosen or typed to the value; raises ValueError with what is wrong
    words : a value in words
    options : what can be chosen
    why_not : tells of a noun why it can't have a value
    moves : said as "moves from … to …"
    """

    name: str
    label: str
    kind: str
    words: Callable[[View, Any], str]
    read: Callable[[str], Any] = str
    options: Callable[[View], Options] = lambda _view: ()
    why_not: Callable[[View], Check] = lambda _view: lambda _id, _value: ""
    moves: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """A list whose nouns can be changed together.

    Parameters
    ----------
    name : of the list in an address; one, many : what they are called
    back : the room they are in; ids : of the lines, in their order; title, state : of a line
    now : the value of a noun's field; write : the build with the changed nouns
    """

    name: str
    one: str
    many: str
    back: str
    room: str
    fields: tuple[Field, ...]
    ids: Callable[[View], Sequence[str]]
    title: Callable[[View, str], str]
    state: Callable[[View], Callable[[str], str]]
    now: Callable[[View, str, str], Any]
    write: Callable[[View, Build, Mapping[str, Mapping[str, Any]]], Build]

    def counted(self, count: int) -> str:
        """So many of them."""
        return f"{count} {self.one if count == 1 else self.many}"


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence, and the names of what it is about."""

    text: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Several:
    """What a change to several would do.

    Parameters
    ----------
    changes : noun -> field -> new value
    does, cannot : what changes, and what can't and why, in sentences; same : how many are so already
    """

    changes: Mapping[str, Mapping[str, Any]]
    does: tuple[Said, ...]
    cannot: tuple[Said, ...]
    same: int

    @property
    def in_short(self) -> str:
        """What changes, on one line."""
        return "; ".join(said.text.rstrip(".") for said in self.does)


def several(view: View, listing: Listing, ids: Iterable[str], given: Mapping[str, Any]) -> Several:
    """What a change would do.

    Parameters
    ----------
    ids : the nouns that were ticked; given : field -> the value it is to have
    """
    changes: dict[str, dict[str, Any]] = {}
    does: dict[tuple[str, str], list[str]] = {}
    cannot: dict[tuple[str, str], list[str]] = {}
    same, checks = set(), {field.name: field.why_not(view) for field in listing.fields if field.name in given}
    for id_ in dict.fromkeys(ids):
        for field in (field for field in listing.fields if field.name in given):
            value, now = given[field.name], listing.now(view, id_, field.name)
            why = "" if value == now else checks[field.name](id_, value)
            if value == now:
                same.add(id_)
            elif why:
                cannot.setdefault((field.name, why), []).append(listing.title(view, id_))
            else:
                changes.setdefault(id_, {})[field.name] = value
                does.setdefault((field.name, field.words(view, now)), []).append(listing.title(view, id_))
    by_name = {field.name: field for field in listing.fields}
    return Several(
        changes,
        tuple(
            Said(_does(listing, by_name[name], len(names), was, by_name[name].words(view, given[name])), tuple(names))
            for (name, was), names in does.items()
        ),
        tuple(
            Said(f"{listing.counted(len(names))} can't, in “{by_name[name].label}”, because {why}.", tuple(names))
            for (name, why), names in cannot.items()
        ),
        len(same - changes.keys()),
    )


def _does(listing: Listing, field: Field, count: int, was: str, will: str) -> str:
    if field.moves:
        return f"{listing.counted(count)} move{'s' if count == 1 else ''} from {was} to {will}."
    return f"{listing.counted(count)}: “{field.label}” becomes {will}, until now {was}."
