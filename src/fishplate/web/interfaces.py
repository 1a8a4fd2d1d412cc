"""Interfaces: a drawing of what meets what, each interface with its margins, what was seen on the vehicle."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.interfaces import Condition, Interface, Settled
from . import conditions, dimension_forms, dimensions, interface_forms, stand_ins
from .ask import Ask, Asked, NotHereError
from .dimensions import CHOICES
from .drawing import interfaces_page, usual_page
from .form import Form, made
from .holding import interface_page, what_must_be_known
from .photos import photos

router = APIRouter()
for each in (interface_forms, dimension_forms, dimensions, stand_ins, conditions):
    router.include_router(each.router)

HOW_SURE: Final = (
    ("1.0", "sure: measured, or tried through"),
    ("0.95", "fairly sure: looked at closely"),
    ("0.85", "it looked right"),
)


# changes


def seen(build: Build, interface: Interface, form: Form, today: date, *, photo: Callable[[], str]) -> Build:
    """The build with an interface seen on the vehicle.

    Parameters
    ----------
    photo : keeps the photo that was sent, if one was, and gives its name; asked once the rest is found to be right
    """
    good, by = form.choice("good", ("yes", "no")), form.required("by", "Say who looked, and how.")
    seen_on, sure = form.day("day", today), form.text("sure", HOW_SURE[0][0])
    if seen_on > today:
        form.refuse("day", "after today", seen_on.isoformat(), "Give the day it was seen on.")
    if form.problems:
        return build
    noun = made(
        Settled, interface=interface.id, condition=form.text("what") or None, day=seen_on, good=good == "yes", by=by,
        photo=photo(), chance_right=sure,
    )  # fmt: skip
    same = (noun.interface, noun.condition, noun.day)
    kept = tuple(item for item in build.settled if (item.interface, item.condition, item.day) != same)
    return build.model_copy(update={"settled": (*kept, noun)})


def with_places(build: Build, form: Form) -> Build:
    """The build with the usual places that were ticked, their dimensions and conditions."""
    from ..fit import with_usual

    ticked = form.every("place")
    if not ticked:
        form.refuse("place", "nothing is ticked", do="Tick the places to list.")
    return with_usual(build, ticked)


def unseen(build: Build, interface: Interface) -> Build:
    """The build with nothing seen of an interface."""
    kept = tuple(item for item in build.settled if item.interface != interface.id)
    return build.model_copy(update={"settled": kept})


# routes


def show_interface(ask: Ask, id_: str) -> Response:
    """The page of one interface."""
    interface = ask.find("interfaces", id_)
    page = interface_page(ask.view, interface, ask.desk.verdicts.of(ask.view), photos(ask))
    return ask.show("interface.html", {"it": page, "how_sure": HOW_SURE, **CHOICES}, title=interface.name)


def show_interfaces(ask: Ask) -> Response:
    """The drawing."""
    page = interfaces_page(
        ask.view, ask.desk.verdicts.of(ask.view), only_open="open" in ask.request.query_params
    )  # fmt: skip
    return ask.show("interfaces.html", page, title="Interfaces")


@router.get("/interfaces")
def show(ask: Asked) -> Response:
    """The page."""
    return show_interfaces(ask)


def show_usual(ask: Ask) -> Response:
    """Places usually worth listing."""
    return ask.show("usual.html", usual_page(ask.view.build), title="Places usually worth listing")


@router.get("/interfaces/usual")
def show_places(ask: Asked) -> Response:
    """Places usually worth listing."""
    return show_usual(ask)


@router.post("/interfaces/usual")
def list_usual(ask: Asked) -> Response:
    """List usual places where parts meet."""
    return ask.write(
        lambda build: with_places(build, ask.form),
        message="listed places where parts usually meet",
        back="/interfaces",
        again=show_usual,
    )


@router.get("/interfaces/{id_}")
def show_one(id_: str, ask: Asked) -> Response:
    """One interface."""
    return show_interface(ask, id_)


@router.get("/interfaces/{id_}/known/{condition}")
def show_known(id_: str, condition: str, ask: Asked) -> Response:
    """What must be known for a condition to be sure, as a piece of its interface's page or as a page."""
    noun: Condition = ask.find("conditions", condition)
    if noun.interface != id_ or noun.id not in ask.view.facts.wanted_conditions or not noun.expression:
        raise NotHereError("conditions", condition)
    page = {"name": noun.name, "back": id_, "text": what_must_be_known(ask.view, noun)}
    return ask.show("known_piece.html" if ask.in_place else "known.html", page, title=noun.name)


@router.post("/interfaces/{id_}/seen")
def see(id_: str, ask: Asked) -> Response:
    """Write down what was seen on the vehicle."""
    interface = ask.find("interfaces", id_)

    def edit(build: Build) -> Build:
        words = f"{id_} {ask.form.text('day')}"
        return seen(build, interface, ask.form, ask.today, photo=lambda: ask.keep_photo("photo", words))

    return ask.write(
        edit, message=f"seen on the vehicle: {interface.name}", back=f"/interfaces/{id_}",
        again=lambda ask: show_interface(ask, id_),
    )  # fmt: skip


@router.post("/interfaces/{id_}/unseen")
def unsee(id_: str, ask: Asked) -> Response:
    """Take back what was seen: it has to be looked at again."""
    interface = ask.find("interfaces", id_)
    return ask.write(
        lambda build: unseen(build, interface), message=f"to be looked at again: {interface.name}",
        back=f"/interfaces/{id_}", again=lambda ask: show_interface(ask, id_),
    )  # fmt: skip
