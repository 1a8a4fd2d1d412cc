"""Search: everything a build holds, the rooms and the settings, found by words, with where each stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from .ask import Asked
from .finding import Index, Thing, words_of
from .kept import Standing

if TYPE_CHECKING:
    from .verdicts import Fitted

router = APIRouter()
# Each kind of thing as it heads what was found of it; in the order of the table where nothing else tells.
KINDS: Final = {
    "room": "Rooms", "setting": "Settings", "part": "Parts", "job": "Jobs", "decision": "Decisions",
    "option": "Options", "interface": "Interfaces", "condition": "Conditions", "dimension": "Dimensions",
    "reading": "Readings", "supplier": "Suppliers", "enquiry": "Questions to suppliers", "offer": "Offers",
    "order": "Orders", "invoice": "Invoices", "collection": "Collections", "way home": "Ways home",
    "workshop": "Workshops", "place": "Places on the shelf", "evidence": "Evidence", "system": "Systems",
    "state": "States of the vehicle", "stand-in": "Stand-ins", "word": "Words", "calculation": "Calculations",
    "note": "What happened",
}  # fmt: skip
MOST_LETTERS: Final = 200
A_FEW, MANY = 5, 200


@dataclass(frozen=True, slots=True)
class Hit:
    """Something that was found; said : where it stands, as a sentence."""

    name: str
    path: str
    said: str


@dataclass(frozen=True, slots=True)
class Found:
    """What was found of a kind.

    Parameters
    ----------
    more : how many are not shown; path : where they are
    """

    kind: str
    name: str
    hits: tuple[Hit, ...]
    more: int
    path: str


@dataclass(frozen=True, slots=True)
class SearchPage:
    """What was looked for, and what was found.

    Parameters
    ----------
    kind : the only kind that is shown; empty for all
    working : what can be found is being gone through, for the first time or after a change
    """

    text: str
    kind: str
    groups: tuple[Found, ...]
    said: str
    working: bool

    @property
    def again(self) -> str:
        """Address of the page."""
        return _path(self.text, self.kind)


def search_page(text: str, kind: str, known: Standing[Index], fitted: Fitted | None) -> SearchPage:
    """The page for what was typed.

    Parameters
    ----------
    kind : show only this kind; empty for all
    fitted : the verdicts, as far as they are known
    """
    text, kind = text.strip()[:MOST_LETTERS], kind if kind in KINDS else ""
    if not text or known.value is None:
        return SearchPage(text, kind, (), known.said, bool(text) and known.working)
    verdicts = _verdicts(fitted)
    by_kind: dict[str, list[Thing]] = {}
    for thing in _found(known.value, text, verdicts):
        by_kind.setdefault(thing.kind, []).append(thing)
    count = sum(map(len, by_kind.values()))
    most, of_plan = MANY if kind else A_FEW, ", by the last plan" if fitted is not None and fitted.of_plan else ""
    groups = tuple(
        Found(
            each,
            KINDS[each],
            tuple(_hit(thing, verdicts.get((thing.kind, thing.id), ""), of_plan) for thing in things[:most]),
            max(0, len(things) - most),
            _path(text, each),
        )
        for each, things in by_kind.items()
        if kind in ("", each)
    )
    shown = sum(len(group.hits) + group.more for group in groups)
    return SearchPage(text, kind, groups, _said(shown, count), known.working)


def _hit(thing: Thing, verdict: str, of_plan: str) -> Hit:
    said = f"{verdict[:1].upper()}{verdict[1:]}{of_plan}." if verdict else thing.said
    return Hit(thing.name, thing.path, said)


def _said(shown: int, count: int) -> str:
    if not count:
        return "Nothing is found by these words. Fewer words, or the beginning of one, find more."
    things = f"{count} thing{'' if count == 1 else 's'}"
    return f"{things} found." if shown == count else f"{shown} of {things} found."


def _path(text: str, kind: str) -> str:
    return "/search?" + urlencode({"q": text, **({"kind": kind} if kind else {})})


def _verdicts(fitted: Fitted | None) -> Mapping[tuple[str, str], str]:
    """Verdicts of interfaces and conditions, by kind and id."""
    if fitted is None:
        return {}
    return {
        **{("interface", id_): result.verdict.value for id_, result in fitted.interfaces.items()},
        **{("condition", id_): result.verdict.value for id_, result in fitted.conditions.items()},
    }


def _found(index: Index, text: str, verdicts: Mapping[tuple[str, str], str]) -> list[Thing]:
    """What is found; where a verdict is named, what has that verdict first."""
    found = [thing for _, thing in index.find(text)]
    plain = " ".join(text.casefold().split())
    for verdict in set(verdicts.values()):
        if verdict in plain:
            rest = plain.replace(verdict, " ")
            among = [thing for _, thing in index.find(rest)] if words_of(rest) else index.things
            have = [thing for thing in among if verdicts.get((thing.kind, thing.id)) == verdict]
            named = {(thing.kind, thing.id) for thing in have}
            return [*have, *(thing for thing in found if (thing.kind, thing.id) not in named)]
    return found


@router.get("/search")
def show(ask: Asked) -> Response:
    """The page, or the piece that opens over another page."""
    query = ask.request.query_params
    fitted = ask.desk.verdicts.of(ask.view, patience_seconds=0).value if ask.view.build.interfaces else None
    page = search_page(query.get("q", ""), query.get("kind", ""), ask.desk.words.of(ask.view), fitted)
    return ask.show("search_piece.html" if ask.in_place else "search.html", page, title="Search")
