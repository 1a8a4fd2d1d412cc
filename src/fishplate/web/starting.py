"""Starters: what a kind of rebuild usually takes, shown against the build before any of it is written."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from ..build import Build
from ..starters import Match, Merge, Starter, merge, starter, starters
from ..starters.matching import SAID
from .ask import Ask, Asked
from .course import say
from .kept import Standing
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
MERGE_SECONDS: Final = 0.1  # how long bringing one in waits for what it comes to, before that is shown first
SEEN_AT: Final = {
    "jobs": "/jobs", "decisions": "/decisions", "parts": "/parts", "interfaces": "/interfaces",
    "gates": "/schedule/gates", "requirements": "/evidence",
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
    """Two things that are one, or may be.

    Parameters
    ----------
    key : what its tick sends, empty where one name is one thing; taken : it is the same because the owner says so
    """

    key: str
    theirs: str
    own: str
    how: str
    taken: bool = False


@dataclass(frozen=True, slots=True)
class StarterPage:
    """A starter against the build.

    Parameters
    ----------
    added : heading and names of what is new; same : heading and pairs; doubts : pairs that are asked about
    waiting : jobs of the build that will wait for a new one
    apart : what is held apart from what it is taken for
    again : where it can be seen once it is worked out, empty if it is; far : how far that is
    answers : what was answered otherwise than it is taken to be, as fields are sent along
    anew : whether it was accepted already, of another build or with other answers than were shown
    """

    name: str
    title: str
    about: str
    said: str
    added: tuple[tuple[str, tuple[str, ...]], ...] = ()
    same: tuple[tuple[str, tuple[Pair, ...]], ...] = ()
    doubts: tuple[Pair, ...] = ()
    waiting: tuple[tuple[str, str], ...] = ()
    left_out: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
    again: str = ""
    far: Standing[Merge] | None = None
    anew: bool = False


@dataclass(frozen=True, slots=True)
class BroughtPage:
    """What of a starter is in the build now: counts in words, each with where it is seen."""

    counts: tuple[tuple[str, str], ...]
    held: int
    undated: int


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


def starter_page(
    name: str,
    standing: Standing[Merge],
    apart: Collection[str] = (),
    taken: Collection[str] = (),
    *,
    anew: bool = False,
) -> StarterPage:
    """What a starter would bring, and what the build has already.

    Parameters
    ----------
    standing : the build with the starter in it, as far as it is worked out
    anew : whether it was accepted already, of another build or with other answers than were shown
    """
    item, found = starter(name), standing.value if standing.current else None
    if found is None:
        return StarterPage(
            item.name, item.title, item.about, _size(item), answers=_answers(apart, taken),
            again=_address(name, apart, taken, anew=anew), far=standing, anew=anew,
        )  # fmt: skip
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
            if (pairs := tuple(_pair(each) for own_list, each in same if own_list == list_name))
        ),
        waiting=found.waiting,
        left_out=found.left_out,
        doubts=tuple(map(_pair, found.doubts)),
        apart=tuple(sorted(apart)),
        anew=anew,
    )


def _pair(match: Match) -> Pair:
    key = "" if match.surely else f"{match.list_name}:{match.id}"
    return Pair(key, match.name, match.own_name, match.how, match.how == SAID)


def _address(name: str, apart: Collection[str], taken: Collection[str], *, anew: bool = False) -> str:
    """Where a starter is seen, with what was answered otherwise than it is taken to be."""
    query = urlencode([*_answers(apart, taken), *([("anew", "yes")] if anew else [])])
    return f"/start/{name}{'?' if query else ''}{query}"


def _answers(apart: Collection[str], taken: Collection[str]) -> tuple[tuple[str, str], ...]:
    return (*(("apart", each) for each in sorted(apart)), *(("taken", each) for each in sorted(taken)))


def merged(build: Build, name: str, apart: Collection[str], taken: Collection[str] = ()) -> Merge:
    """A build with a starter in it, what is ticked off held apart, what is in doubt and ticked taken as the same."""
    return merge(build, starter(name), apart=_keys(apart), taken=_keys(taken), progress=say)


def _keys(texts: Collection[str]) -> list[tuple[str, str]]:
    return [(list_name, id_) for each in texts for list_name, _, id_ in [each.partition(":")]]


# routes


@router.get("/start")
def show(ask: Asked) -> Response:
    """The page."""
    return ask.show("starters.html", starters_page(), title="Starters")


def show_starter(
    ask: Ask, name: str, apart: Collection[str], taken: Collection[str] = (), *, anew: bool = False
) -> Response:
    """What a starter would bring."""
    title, asked = starter(name).title, (name, frozenset(apart), frozenset(taken))
    if ask.request.query_params.get("again"):
        ask.desk.merges.again(asked)
    standing = ask.desk.merges.of(ask.view, asked)
    return ask.show("starter.html", starter_page(name, standing, apart, taken, anew=anew), title=title)


def brought_page(view: View, found: Merge) -> BroughtPage:
    """What came of a starter, and what to look at next.

    Parameters
    ----------
    found : the build with it in it once more, so that all of it is the same
    """
    from ..work.gates import gate_states
    from .phasing import undated

    count = {key: sum(each.list_name == key for each in found.same) for key in SEEN_AT}
    return BroughtPage(
        counts=tuple((path, f"{HEADS[key]}: {count[key]}") for key, path in SEEN_AT.items() if count[key]),
        held=sum(not state.open for state in gate_states(view.build, view.facts)),
        undated=len(undated(view)),
    )


@router.get("/start/{name}/brought")
def show_brought(name: str, ask: Asked) -> Response:
    """What came of it, once it is set beside the build anew."""
    asked = (name, frozenset[str](), frozenset(ask.request.query_params.getlist("taken")))
    if ask.request.query_params.get("again"):
        ask.desk.merges.again(asked)
    standing = ask.desk.merges.of(ask.view, asked)
    page = None if standing.value is None or not standing.current else brought_page(ask.view, standing.value)
    shown = {"it": page, "far": standing, "path": _brought_at(name, asked[2])}
    return ask.show("started.html", shown, title=f"Brought in: {starter(name).title}")


@router.get("/start/{name}")
def show_one(name: str, ask: Asked) -> Response:
    """What a starter would bring, those held apart or taken as the same that the address names."""
    query = ask.request.query_params
    return show_starter(ask, name, query.getlist("apart"), query.getlist("taken"), anew="anew" in query)


@router.post("/start/{name}/stop")
def stop(name: str, ask: Asked) -> Response:
    """Give up setting it beside the build."""
    starter(name)
    apart, taken = ask.form.every("apart"), ask.form.every("taken")
    ask.desk.merges.stop((name, frozenset(apart), frozenset(taken)))
    return RedirectResponse(_address(name, apart, taken), status_code=303)


@router.post("/start/{name}")
def accept(name: str, ask: Asked) -> Response:
    """Bring it in as one change, what was unticked held apart, what was in doubt only as it was ticked."""
    title = starter(name).title
    shown, kept = set(ask.form.every("shown")), set(ask.form.every("same"))
    apart, taken = frozenset(shown - kept), frozenset(ask.form.every("taken"))

    found = ask.desk.merges.of(ask.view, (name, apart, taken), patience_seconds=MERGE_SECONDS)
    if not found.current or found.value is None:  # the build or the ticks are others than were shown
        return ask.leave(_address(name, apart, taken, anew=True))
    merge_now = found.value

    def edit(build: Build) -> Build:
        return merge_now.build if build is ask.view.build else merged(build, name, apart, taken).build

    again = lambda ask: show_starter(ask, name, apart, taken)  # noqa: E731 - the page this form is on
    return ask.write(edit, message=f"started from {title.lower()}", back=_brought_at(name, taken), again=again)


def _brought_at(name: str, taken: Collection[str]) -> str:
    """Where it says what came of it."""
    return _address(f"{name}/brought", (), taken)
