"""Starters: what a kind of rebuild usually takes, shown against the build before any of it is written."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..starters import Merge, Starter, merge, starter, starters
from .ask import Ask, Asked
from .words import number

if TYPE_CHECKING:
    from .desk import View

router = APIRouter()
HEADS: Final = {
    "systems": "Systems", "parts": "Parts", "criteria": "What matters", "decisions": "Decisions",
    "interfaces": "Interfaces", "jobs": "Jobs",
    "gates": "Gates", "requirements": "What will be asked", "releases": "Orders held until something is known",
    "dimensions": "Dimensions", "conditions": "Conditions", "stand_ins": "Stand-ins", "workshops": "Workshops",
    "states": "States of the vehicle", "allowances": "Allowances",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Offered:
    """A starter as it is offered."""

    name: str
    title: str
    about: str
    said: str


@dataclass(frozen=True, slots=True)
class Pair:
    """Something taken as the same; key : what its tick sends, empty where one name is one thing."""

    key: str
    theirs: str
    own: str
    how: str


@dataclass(frozen=True, slots=True)
class StarterPage:
    """A starter against the build.

    Parameters
    ----------
    added : heading and names of what is new; same : heading and pairs
    waiting : jobs of the build that will wait for a new one
    """

    name: str
    title: str
    about: str
    said: str
    added: tuple[tuple[str, tuple[str, ...]], ...]
    same: tuple[tuple[str, tuple[Pair, ...]], ...]
    waiting: tuple[tuple[str, str], ...]
    left_out: tuple[str, ...]
    apart: tuple[str, ...]


def starters_page() -> tuple[Offered, ...]:
    """Every starter."""
    return tuple(Offered(item.name, item.title, item.about, _size(item)) for item in starters())


def _size(item: Starter) -> str:
    build = item.build
    hours = number(round(sum(job.hours.likely for job in build.jobs), -1))
    return (
        f"{len(build.jobs)} jobs of about {hours} hours, {len(build.decisions)} decisions, "
        f"{len(build.interfaces)} interfaces, {len(build.parts)} parts"
    )


def starter_page(view: View, name: str, apart: Collection[str] = ()) -> StarterPage:
    """What a starter would bring, and what the build has already."""
    item, found = starter(name), merged(view.build, name, frozenset(apart))
    same = [(each.list_name, each) for each in found.same]
    return StarterPage(
        name=item.name,
        title=item.title,
        about=item.about,
        said=_size(item),
        added=tuple(
            (head, names)
            for list_name, head in HEADS.items()
            if (names := tuple(each.name for each in found.added if each.list_name == list_name))
        ),
        same=tuple(
            (head, pairs)
            for list_name, head in HEADS.items()
            if (
                pairs := tuple(
                    Pair("" if each.surely else f"{list_name}:{each.id}", each.name, each.own_name, each.how)
                    for own_list, each in same
                    if own_list == list_name
                )
            )
        ),
        waiting=found.waiting,
        left_out=found.left_out,
        apart=tuple(sorted(apart)),
    )


@lru_cache(maxsize=8)
def _merged(build: _ById, name: str, apart: frozenset[str]) -> Merge:
    keys = [(list_name, id_) for each in apart for list_name, _, id_ in [each.partition(":")]]
    return merge(build.build, starter(name), apart=keys)


class _ById:
    """A build as a key of its own: two are the same only if they are one object."""

    def __init__(self, build: Build) -> None:
        self.build = build

    def __hash__(self) -> int:
        return id(self.build)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ById) and other.build is self.build


def merged(build: Build, name: str, apart: frozenset[str]) -> Merge:
    """A build with a starter in it, worked out once."""
    return _merged(_ById(build), name, apart)


# routes


@router.get("/start")
def show(ask: Asked) -> Response:
    """The page."""
    return ask.show("starters.html", starters_page(), title="Starters")


def show_starter(ask: Ask, name: str, apart: Collection[str]) -> Response:
    """What a starter would bring."""
    return ask.show("starter.html", starter_page(ask.view, name, apart), title=starter(name).title)


@router.get("/start/{name}")
def show_one(name: str, ask: Asked) -> Response:
    """What a starter would bring, those held apart that the address names."""
    return show_starter(ask, name, ask.request.query_params.getlist("apart"))


@router.post("/start/{name}")
def accept(name: str, ask: Asked) -> Response:
    """Bring it in as one change, what was unticked held apart."""
    title = starter(name).title
    shown, kept = set(ask.form.every("shown")), set(ask.form.every("same"))
    apart = frozenset(shown - kept)

    def edit(build: Build) -> Build:
        return merged(build, name, apart).build

    again = lambda ask: show_starter(ask, name, apart)  # noqa: E731 - the page this form is on
    return ask.write(edit, message=f"started from {title.lower()}", back="/jobs", again=again)
