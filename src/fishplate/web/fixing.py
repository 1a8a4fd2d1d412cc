"""What the owner fixes of a part: this seller, not that one, ordered between these days, whatever would be cheaper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, offer_contents
from ..build.commerce import FixedChoice
from .ask import Ask, Asked
from .desk import View, fresh_id, put, without
from .form import Form, made
from .words import day

router = APIRouter()
DAYS: Final = "days"


@dataclass(frozen=True, slots=True)
class FixingPage:
    """What is fixed of a part, and what can be.

    Parameters
    ----------
    fixed : id and words of each choice; ways : value and words of what can be fixed
    """

    part: str
    name: str
    fixed: tuple[tuple[str, str], ...]
    ways: tuple[tuple[str, str], ...]


def fixing_page(view: View, part: str) -> FixingPage:
    """What is fixed of a part; raises KeyError if there is no such part."""
    build = view.build
    sellers = {
        offer.id: build.find("suppliers", offer.supplier).name
        for offer in build.offers
        if part in offer_contents(build, offer)
    }
    fixed = tuple(
        (choice.id, _words(choice, sellers))
        for choice in build.fixed_choices
        if choice.part == part or choice.offer in sellers
    )
    ways = (
        *((f"want {id_}", f"buy it from {name}") for id_, name in sellers.items()),
        *((f"not {id_}", f"do not buy it from {name}") for id_, name in sellers.items()),
        (DAYS, "order it between these days, from whomever"),
    )
    return FixingPage(part, build.find("parts", part).name, fixed, ways)


def _words(choice: FixedChoice, sellers: dict[str, str]) -> str:
    what = "order it" if choice.offer is None else f"buy it from {sellers[choice.offer]}"
    said = what if choice.wanted else f"do not {what}"
    if choice.first is not None:
        said += f" from {day(choice.first)} on"
    if choice.last is not None:
        said += f" until {day(choice.last)}"
    return f"{said[0].upper()}{said[1:]}{f': {choice.why}' if choice.why else ''}."


def with_choice(build: Build, part: str, form: Form, ways: tuple[str, ...]) -> Build:
    """The build with what was typed fixed."""
    way = form.choice("way", ways)
    first, last = form.maybe_day("first"), form.maybe_day("last")
    if way == DAYS and first is None and last is None:
        form.refuse("first", "no day was filled in", do="Say from which day on, or until which.")
    if form.problems:
        return build
    verb, _, offer = way.partition(" ")
    about = {"part": part} if way == DAYS else {"offer": offer, "wanted": verb == "want"}
    id_ = fresh_id(build, "fixed_choices", f"{verb} {offer or part}")
    choice = made(FixedChoice, id=id_, first=first, last=last, why=form.text("why"), **about)
    return put(build, "fixed_choices", choice)


def show_fixing(ask: Ask, part: str) -> Response:
    """The page."""
    page = fixing_page(ask.view, part)
    return ask.show("fixing.html", page, title=f"What you have fixed: {page.name}")


@router.get("/buying/fixed/{part}")
def show(part: str, ask: Asked) -> Response:
    """What is fixed of a part."""
    ask.find("parts", part)
    return show_fixing(ask, part)


@router.post("/buying/fixed/{part}")
def fix(part: str, ask: Asked) -> Response:
    """Something more is fixed."""
    name = ask.find("parts", part).name
    ways = tuple(value for value, _ in fixing_page(ask.view, part).ways)
    return ask.write(
        lambda build: with_choice(build, part, ask.form, ways),
        message=f"fixed: how {name} is bought",
        back=f"/buying/fixed/{quote(part, safe='')}",
        again=lambda again: show_fixing(again, part),
    )


@router.post("/buying/fixed/{part}/{choice}/out")
def let_go(part: str, choice: str, ask: Asked) -> Response:
    """Something is left to the plan again."""
    name = ask.find("parts", part).name
    ask.find("fixed_choices", choice)
    return ask.write(
        lambda build: without(build, "fixed_choices", choice),
        message=f"left to the plan: how {name} is bought",
        back=f"/buying/fixed/{quote(part, safe='')}",
        again=lambda again: show_fixing(again, part),
    )
