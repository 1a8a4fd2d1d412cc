"""Choosing what to calculate: every calculation and every condition that is ready, by subject, by words, by place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import urlencode

from .desk import View
from .holding import spelled
from .words import begun

if TYPE_CHECKING:
    from ..trade import Calculation, Template

SUBJECTS: Final = {
    "arches": "Room in the arch",
    "axes": "Axes of a text and of the vehicle",
    "brakes": "Brake balance and adhesion",
    "coupling": "Trailer and coupling",
    "driveline": "Shafts and joints",
    "fasteners": "Screws and threads",
    "gearing": "Ratios and speeds",
    "housings": "Bell housings and bores",
    "hydraulics": "Pedals, cylinders and pistons",
    "linkages": "Links and arms in space",
    "mounts": "Power unit mounts",
    "springs": "Springs, dampers and roll",
    "steering": "Steering and turning",
    "weight": "Axle and corner loads",
    "wheels": "Wheels and tyres",
    "wiring": "Wires and fuses",
}


@dataclass(frozen=True, slots=True)
class Line:
    """A calculation, or a condition, as it is listed."""

    path: str
    name: str
    fine: str


@dataclass(frozen=True, slots=True)
class Shelf:
    """The calculations of a subject."""

    id: str
    name: str
    count: int


@dataclass(frozen=True, slots=True)
class Choosing:
    """What can be calculated.

    Parameters
    ----------
    words, subject : what was asked for; place, place_name : the interface a condition is wanted for
    calculations, conditions : what was found; usual : of the conditions, those of the place's kind only
    """

    words: str
    subject: str
    subjects: tuple[Shelf, ...]
    calculations: tuple[Line, ...]
    conditions: tuple[Line, ...]
    asked: bool
    place: str
    place_name: str
    usual: bool
    total: int
    ready: int


def choosing(
    view: View, *, words: str = "", subject: str = "", ready: bool = False, place: str = "", every: bool = False
) -> Choosing:
    """What can be calculated, narrowed by words and subject.

    Parameters
    ----------
    ready : list only the conditions that are ready for an interface; place : the interface one is wanted for
    every : those of other kinds of interface too
    """
    from ..trade import calculations, templates

    held, asked = calculations(), bool(words or subject or ready)
    wanted = [each for each in held.values() if _found(words, _text(each)) and subject in ("", subject_of(each.id))]
    put = [each for each in templates() if _found(words, _template_text(each)) and subject in ("", _of(each))]
    interface = view.build.index["interfaces"].get(place)
    own = [each for each in put if interface is not None and interface.kind in each.interfaces]
    usual = ready and not every and bool(own)
    counts = [sum(subject_of(id_) == key for id_ in held) for key in SUBJECTS]
    behind = f"?for={place}" if interface else ""
    lines = (Line(f"/calculations/{each.id}{behind}", each.purpose.rstrip("."), each.settles) for each in wanted)
    return Choosing(
        words=words,
        subject=subject,
        subjects=tuple(Shelf(key, name, count) for (key, name), count in zip(SUBJECTS.items(), counts, strict=True)),
        calculations=tuple(lines) if asked and not ready else (),
        conditions=tuple(condition_line(each, place if interface else "") for each in (own if usual else put))
        if asked
        else (),
        asked=asked,
        place=place if interface else "",
        place_name=interface.name if interface else "",
        usual=usual,
        total=len(held),
        ready=len(templates()),
    )


def condition_line(template: Template, place: str, given: Mapping[str, str] | None = None) -> Line:
    """A condition ready for an interface, as it is listed; figures given are carried along."""
    query = urlencode({**(given or {}), **({"for": place} if place else {})})
    path = f"/calculations/conditions/{template.id}{'?' if query else ''}{query}"
    return Line(path, template.name, f"{begun(limits_words(template))}. {template.if_wrong}")


def limits_words(template: Template) -> str:
    """The limits of a condition in words."""
    limits = (("at least", template.at_least), ("at most", template.at_most))
    return " and ".join(f"{words} {spelled(text)}" for words, text in limits if text is not None)


def subject_of(id_: str) -> str:
    """The subject of a calculation.

    Examples
    --------
    >>> subject_of("arches.bump_room")
    'arches'
    """
    return id_.split(".")[0]


def _of(template: Template) -> str:
    return subject_of(template.calculation) if template.calculation else ""


def _found(words: str, text: str) -> bool:
    return all(word in text for word in words.casefold().split())


def _text(item: Calculation) -> str:
    takes = " ".join(f"{each.name} {each.quantity.words}" for each in item.parameters)
    conditions = " ".join(each.name for each in item.templates)
    subject = SUBJECTS[subject_of(item.id)]
    return f"{item.id} {subject} {item.purpose} {item.settles} {takes} {conditions}".replace("_", " ").casefold()


def _template_text(item: Template) -> str:
    names = " ".join(each.name for each in item.dimensions)
    text = f"{item.name} {' '.join(item.interfaces)} {item.if_wrong} {names} {SUBJECTS.get(_of(item), '')}"
    return text.replace("-", " ").casefold()
