"""Several lines of a list changed at once: ticked, shown what would change, written as one change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from .ask import LOOK, LOOKED, Ask, Asked, Filled, NotHereError
from .desk import View
from .finding import words_of
from .form import Form
from .several_edits import Field, Listing, Options, Several, several
from .several_lists import LISTINGS

router = APIRouter()
LEAVE: Final = ("", "as it is")


@dataclass(frozen=True, slots=True)
class Line:
    """A line that can be ticked."""

    id: str
    name: str
    said: str
    on: bool


@dataclass(frozen=True, slots=True)
class FieldShown:
    """A field that can be changed."""

    name: str
    label: str
    kind: str
    options: Options


@dataclass(frozen=True, slots=True)
class SeveralPage:
    """Lines to tick, and what can be changed of them; or what a change would do.

    Parameters
    ----------
    text : words that the lines which are not ticked have
    ticked, count : how many lines are ticked, and how many there are
    shown : what the change would do; None while it is being made up
    """

    listing: Listing
    text: str
    lines: tuple[Line, ...]
    fields: tuple[FieldShown, ...]
    ticked: int
    count: int
    shown: Several | None

    @property
    def path(self) -> str:
        """Address of the page."""
        return f"/several/{self.listing.name}"


def several_page(
    view: View, listing: Listing, ticked: Sequence[str], text: str = "", shown: Several | None = None
) -> SeveralPage:
    """The page of a list.

    Parameters
    ----------
    ticked : ids of the lines that are ticked; they come first and stay, whatever is looked for
    """
    state, wanted, on = listing.state(view), words_of(text), set(ticked)
    ids = listing.ids(view)
    lines = tuple(
        Line(id_, name, said, id_ in on)
        for id_ in sorted(ids, key=lambda id_: id_ not in on)
        for name, said in [(listing.title(view, id_), state(id_))]
        if id_ in on or not wanted or _has(f"{name} {said}", wanted)
    )
    fields = tuple(
        FieldShown(field.name, field.label, field.kind, (LEAVE, *field.options(view)) if field.kind == "choose" else ())
        for field in listing.fields
    )
    return SeveralPage(listing, text, lines, fields, len(on), len(ids), shown)


def _has(said: str, wanted: Sequence[str]) -> bool:
    words = words_of(said)
    return all(any(word.startswith(each) for word in words) for each in wanted)


# routes


def _listing(name: str) -> Listing:
    try:
        return LISTINGS[name]
    except KeyError:
        raise NotHereError("lists", name) from None


def _ticked(ask: Ask, listing: Listing) -> list[str]:
    """The lines that were ticked, of those there are."""
    known = set(listing.ids(ask.view))
    return [id_ for id_ in dict.fromkeys(ask.form.every("line")) if id_ in known]


def _given(ask: Ask, listing: Listing) -> Mapping[str, Any]:
    """What the fields are to be; what can't be is noted."""
    form, given = ask.form, {}
    for field in (field for field in listing.fields if form.text(field.name)):
        before = len(form.problems)
        value = _value(form, field, [value for value, _ in field.options(ask.view)])
        if len(form.problems) == before:
            given[field.name] = value
    if not given and not form.problems:
        form.refuse("form", "nothing is to change", do="Say for at least one thing what it is to be.")
    return given


def _value(form: Form, field: Field, allowed: Sequence[str]) -> Any:
    if field.kind == "day":
        return form.maybe_day(field.name)
    if field.kind == "number":
        return form.maybe_number(field.name, at_least=0)
    text = form.choice(field.name, allowed) if field.kind == "choose" else form.text(field.name)
    try:
        return field.read(text) if text else None
    except ValueError as error:
        form.refuse(field.name, str(error), text)
        return None


def show_several(ask: Ask, listing: Listing, shown: Several | None = None) -> Response:
    """The page, with the lines that were ticked and what was typed."""
    asked = ask.request.query_params if ask.request.method == "GET" else {}
    page = several_page(ask.view, listing, _ticked(ask, listing), ask.form.text("q") or asked.get("q", "")[:200], shown)
    title = f"Several {listing.many}"
    form = ask.form if ask.request.method == "POST" else None
    filled = Filled(f"several-{listing.name}", ask.view.revision, form, ask.problems)
    return ask.show("several.html", {"it": page, "form": filled}, title=title)


@router.get("/several/{name}")
def show(name: str, ask: Asked) -> Response:
    """Lines to tick."""
    return show_several(ask, _listing(name))


@router.post("/several/{name}")
def change(name: str, ask: Asked) -> Response:
    """Find other lines, show what would change, or write it."""
    listing, form = _listing(name), ask.form
    step = "write" if form.ticked(LOOK) or form.ticked(LOOKED) else form.text("step")
    if step not in ("show", "write"):
        return show_several(ask, listing)
    ticked, given = _ticked(ask, listing), _given(ask, listing)
    if not ticked:
        form.refuse("line", "no line is ticked", do="Tick what is to change.")
    found = several(ask.view, listing, ticked, given)
    if step == "show" or form.problems or not found.changes:
        ask.problems = tuple(form.problems)
        return show_several(ask, listing, None if form.problems else found)

    def edit(build: Build) -> Build:
        return listing.write(ask.view, build, found.changes)

    return ask.write(
        edit, message=found.in_short[:200], back=listing.back, again=lambda ask: show_several(ask, listing)
    )
