"""Parts: the list, found by text and by how far each is; the rooms of one part hang on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Final, get_args
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.commerce import ReturnEnd
from ..build.parts import Part
from ..exchange.names import match_key
from . import adding, part_edits, part_goods, part_photos, phasing
from .ask import Ask, Asked
from .desk import Edit, View
from .holdings import Has, Holding, holdings
from .part import PartPage, counted, order_words, part_page, planned
from .unfolding import list_behind
from .words import amount

router = APIRouter()
router.include_router(adding.router)
router.include_router(phasing.router)
router.include_router(part_goods.router)
NO_SYSTEM: Final = "No system named"


@dataclass(frozen=True, slots=True)
class Row:
    """A part as it stands in the list.

    Parameters
    ----------
    name : with how many, where that is not one
    said : how far it is; plan : what the plan does about it
    """

    id: str
    name: str
    said: str
    plan: str


@dataclass(frozen=True, slots=True)
class Group:
    """The parts of a system."""

    id: str
    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Show:
    """A word that narrows the list, with how many it leaves."""

    word: str
    count: int
    path: str
    on: bool


@dataclass(frozen=True, slots=True)
class Query:
    """What is looked for.

    Parameters
    ----------
    text : words that must all be in a part's name, number, system or category
    has : how far it is; empty for all
    open : the part that is unfolded
    """

    text: str = ""
    has: str = ""
    open: str = ""

    def path(self, **other: str) -> str:
        """Address of the list."""
        given = {"q": self.text, "has": self.has, "open": self.open, **other}
        asked = urlencode({key: value for key, value in given.items() if value})
        return f"/parts?{asked}" if asked else "/parts"


@dataclass(frozen=True, slots=True)
class PartsPage:
    """The list.

    Parameters
    ----------
    count : parts in the build; found : of them in the list
    undated : parts that neither a phase nor a job says when they are needed
    open : the part that is unfolded, if any
    """

    query: Query
    groups: tuple[Group, ...]
    shows: tuple[Show, ...]
    count: int
    found: int
    undated: int
    open: PartPage | None
    added: PartPage | None

    @property
    def said(self) -> str:
        """How many are shown."""
        parts = f"{self.count} part{'' if self.count == 1 else 's'}"
        return f"{parts}." if self.found == self.count else f"{self.found} of {parts}."


def parts_page(view: View, query: Query, *, added: str = "") -> PartsPage:
    """The page of the list.

    Parameters
    ----------
    added : the part that was just added, if any
    """
    held = view.once(holdings)
    systems = {system.id: system.name for system in view.build.systems}
    matching = [part for part in view.build.parts if _is_meant(part, systems, match_key(query.text).split())]
    shown = [part for part in matching if not query.has or held[part.id].has == query.has]
    known = view.build.index["parts"]
    return PartsPage(
        query=query,
        groups=_groups(view, shown, held),
        shows=_shows(query, matching, held),
        count=len(view.build.parts),
        found=len(shown),
        undated=len(phasing.undated(view)),
        open=part_page(view, query.open) if query.open in known else None,
        added=part_page(view, added) if added in known else None,
    )


def _is_meant(part: Part, systems: Mapping[str, str], words: Iterable[str]) -> bool:
    if not words:
        return True
    said = match_key(f"{part.name} {part.part_number} {systems.get(part.system or '', '')} {part.category}")
    return all(word in said for word in words)


def _groups(view: View, parts: Iterable[Part], held: Mapping[str, Holding]) -> tuple[Group, ...]:
    by_system: dict[str, list[Part]] = {}
    for part in parts:
        by_system.setdefault(part.system or "", []).append(part)
    names = {system.id: system.name for system in view.build.systems} | {"": NO_SYSTEM}
    planned = _planned(view)

    def row(part: Part) -> Row:
        return Row(part.id, counted(part), held[part.id].words(view.as_of) + ".", planned.get(part.id, ""))

    return tuple(
        Group(id_ or "none", name, tuple(map(row, sorted(by_system[id_], key=lambda part: not held[part.id].wanted))))
        for id_, name in names.items()
        if id_ in by_system
    )


def _planned(view: View) -> dict[str, str]:
    """By part, when the plan orders it and what it costs at the door."""
    as_of, found = view.as_of, dict[str, str]()
    for part, (line, offer) in planned(view).items():
        when = f"Order it {order_words(line, as_of)}"
        door = f"{amount(line.landed, view.currency)} at the door" if offer.part else "in a kit"
        found[part] = f"{when}; {door}."
    return found


def _shows(query: Query, parts: Iterable[Part], held: Mapping[str, Holding]) -> tuple[Show, ...]:
    counts = dict.fromkeys(Has, 0)
    for part in parts:
        counts[held[part.id].has] += 1
    every = Show("everything", sum(counts.values()), query.path(has="", open=""), not query.has)
    found = [Show(has, count, query.path(has=has, open=""), query.has == has) for has, count in counts.items()]
    return (every, *(show for show in found if show.count or show.on))


# routes


def show_parts(ask: Ask, query: Query | None = None) -> Response:
    """The list."""
    asked = ask.request.query_params
    page = parts_page(ask.view, query or query_of(asked), added=asked.get("added", ""))
    return ask.show("parts.html", page, title="Parts")


def query_of(asked: Mapping[str, str]) -> Query:
    """What is looked for, from an address."""
    has = asked.get("has", "")
    return Query(asked.get("q", "")[:200], has if has in set(Has) else "", asked.get("open", ""))


def list_of(ask: Ask) -> Query | None:
    """The list that a form was unfolded in; None if it stood on a page of its own."""
    asked = list_behind(ask, "/parts")
    return None if asked is None else query_of({key: values[0] for key, values in asked.items()})


def show_part(ask: Ask, id_: str) -> Response:
    """A part: by itself, as the piece that unfolds in the list, or in the list where a form of it was refused there."""
    query = list_of(ask)
    if query is not None and ask.request.method != "GET":
        return show_parts(ask, replace(query, open=id_))
    page = part_page(ask.view, ask.find("parts", id_).id)
    return ask.show("part_piece.html" if ask.in_place else "part.html", page, title=page.name)


def write(ask: Ask, id_: str, edit: Edit, message: str) -> Response:
    """Change something about a part, and go back to where it was shown."""
    query = list_of(ask)
    back = f"/parts/{id_}" if query is None else replace(query, open=id_).path()
    return ask.write(edit, message=message[:200], back=back, again=lambda ask: show_part(ask, id_))


@router.get("/parts")
def show(ask: Asked) -> Response:
    """The page."""
    return show_parts(ask)


@router.get("/parts/{id_}")
def show_one(id_: str, ask: Asked) -> Response:
    """One part."""
    return show_part(ask, id_)


@router.post("/parts/{id_}/phase")
def tap_phase(id_: str, ask: Asked) -> Response:
    """A part goes into a phase."""
    name = ask.find("parts", id_).name
    words = ask.form.text("phase")[:20]
    return write(ask, id_, lambda build: part_edits.phased(build, id_, phasing.phase_of(ask)), f"{name}: {words}")


@router.post("/parts/{id_}/arrived")
def arrived(id_: str, ask: Asked) -> Response:
    """So many of a part came."""
    name = ask.find("parts", id_).name

    def edit(build: Build) -> Build:
        form = ask.form
        count, day, order = above_nothing(ask, "count"), past_day(ask), form.text("order") or None
        if order is not None and order not in build.index["events"]:
            form.refuse("order", "not one of the choices", order, "Choose one.")
        elif part_edits.came_too_early(build, order, day):
            form.refuse("day", "before it was ordered", day.isoformat(), "Give the day it came.")
        if form.problems:
            return build
        photo = part_photos.kept_photo(ask, id_)
        build = part_edits.arrived(build, id_, count, day, order=order, place=form.text("place"))
        return build if photo is None else part_photos.photographed(build, id_, photo)

    return write(ask, id_, edit, f"arrived: {name}")


@router.post("/parts/{id_}/place")
def move(id_: str, ask: Asked) -> Response:
    """A part lies elsewhere."""
    name = ask.find("parts", id_).name

    def edit(build: Build) -> Build:
        for field in ask.form.fields:
            if field.startswith(("stock-", "events-")):
                build = part_edits.moved(build, field, ask.form.text(field)[:400])
        return build

    return write(ask, id_, edit, f"moved: {name}")


@router.post("/parts/{id_}/photo")
def keep_photo(id_: str, ask: Asked) -> Response:
    """A photo is kept with a part."""
    name = ask.find("parts", id_).name

    def edit(build: Build) -> Build:
        if "photo" not in ask.form.files:
            ask.form.refuse("photo", "no photo was given", do="Take one, or choose one.")
        photo = part_photos.kept_photo(ask, id_)
        return build if photo is None else part_photos.photographed(build, id_, photo)

    return write(ask, id_, edit, f"photo of {name}")


@router.post("/parts/{id_}/fitted")
def fit(id_: str, ask: Asked) -> Response:
    """So many of a part were fitted."""
    name = ask.find("parts", id_).name

    def edit(build: Build) -> Build:
        count, day, job = above_nothing(ask, "count"), past_day(ask), ask.form.text("job") or None
        if job is not None and job not in build.index["jobs"]:
            ask.form.refuse("job", "not one of the choices", job, "Choose one.")
        return build if ask.form.problems else part_edits.fitted(build, id_, count, day, job=job)

    return write(ask, id_, edit, f"fitted: {name}")


@router.post("/parts/{id_}")
def change(id_: str, ask: Asked) -> Response:
    """Name, number, quantity, system, own day to order and note of a part."""
    name = ask.find("parts", id_).name

    def edit(build: Build) -> Build:
        form = ask.form
        systems = [system.id for system in build.systems]
        given = {
            "name": form.required("name", "Say what it is."),
            "part_number": form.text("part_number"),
            "quantity": above_nothing(ask, "quantity"),
            "unit": form.text("unit", "each"),
            "system": form.choice("system", systems) or None if form.text("system") else None,
            "note": form.text("note"),
            "order_on": form.maybe_day("order_on"),
        }
        return build if form.problems else part_edits.changed(build, id_, **given)

    return write(ask, id_, edit, f"changed: {name}")


@router.post("/parts/{id_}/offers/{offer}")
def change_offer(id_: str, offer: str, ask: Asked) -> Response:
    """Price, lead time and return terms of an offer."""
    name, currency = ask.find("parts", id_).name, ask.find("offers", offer).price.currency

    def edit(build: Build) -> Build:
        form, old = ask.form, build.find("offers", offer)
        price = form.money("price", currency)
        if price is None or price.amount < 0:
            form.refuse("price", "not a price", form.text("price"), "Give the price of one, as 12.50.")
        lead, days = form.three_point("lead"), form.maybe_number("days", at_least=0, at_most=3650)
        ends = [end for end in form.every("ends") if end in get_args(ReturnEnd)]
        restocking = form.maybe_number("restocking", at_least=0, at_most=100)
        if form.problems or price is None:
            return build
        terms = part_edits.terms_of(days, ends, restocking, old.returns)
        return part_edits.offer_changed(build, offer, price=price, lead=lead, returns=terms, today=ask.today)

    return write(ask, id_, edit, f"offer for {name}")


@router.post("/parts/{id_}/off")
def take_off(id_: str, ask: Asked) -> Response:
    """A part is taken off the list."""
    name = ask.find("parts", id_).name
    query = list_of(ask) or Query()
    back = replace(query, open="").path()
    again = lambda ask: show_part(ask, id_)  # noqa: E731 - the page this form is on
    return ask.write(
        lambda build: part_edits.taken_off(build, id_), message=f"taken off the list: {name}", back=back, again=again
    )


def above_nothing(ask: Ask, field: str) -> float:
    """A number above nothing."""
    value = ask.form.number(field, at_most=1e9)
    if value <= 0 and not any(problem.where == field for problem in ask.form.problems):
        ask.form.refuse(field, "not above nothing", ask.form.text(field), "Say how many.")
    return value


def past_day(ask: Ask) -> date:
    """A day up to today."""
    day = ask.form.day("day", ask.today)
    if day > ask.today:
        ask.form.refuse("day", "after today", day.isoformat(), "Give the day it happened.")
    return day
