"""Interfaces written by hand: a place where parts meet, changed, and taken out with its conditions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, get_args

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.interface_kinds import interface_kinds
from ..build.interfaces import Interface
from ..build.parts import Hazard
from .ask import Ask, Asked
from .desk import View, put, without
from .form import Form, made
from .ids import fresh_place
from .resting import refuse_resting, resting

router = APIRouter()
HAZARDS: Final = tuple((name, name.replace("-", " ")) for name in get_args(Hazard))
GO_ALONG: Final = frozenset({"conditions", "settled"})
Options = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Parts of a system, to be ticked."""

    name: str
    parts: Options


@dataclass(frozen=True, slots=True)
class InterfaceForm:
    """The form of an interface.

    Parameters
    ----------
    interface : the one to be changed; None for a new one
    stays : what rests on it, so that it can't be taken out; conditions : how many would go with it
    """

    interface: Interface | None
    systems: Options
    groups: tuple[Group, ...]
    jobs: Options
    stand_ins: Options
    stays: str
    conditions: int


def interface_form(view: View, interface: Interface | None = None) -> InterfaceForm:
    """The form of an interface, to write a new one or change one."""
    build = view.build
    names = {"": "Of no system", **{item.id: item.name for item in build.systems}}
    by_system: dict[str, list[tuple[str, str]]] = {key: [] for key in names}
    for part in build.parts:
        by_system[part.system or ""].append((part.id, part.name))
    found = () if interface is None else resting(build, "interfaces", interface.id, but=GO_ALONG)
    return InterfaceForm(
        interface=interface,
        systems=tuple((item.id, item.name) for item in build.systems),
        groups=tuple(Group(names[key], tuple(parts)) for key, parts in by_system.items() if parts),
        jobs=(("", "no job in particular"), *((item.id, item.name) for item in build.jobs)),
        stand_ins=(("", "none"), *((item.id, item.name) for item in build.stand_ins)),
        stays=", ".join(found),
        conditions=0 if interface is None else sum(each.interface == interface.id for each in build.conditions),
    )


# changes


def written(build: Build, form: Form, *, old: Interface | None = None) -> Build:
    """The build with an interface as it is on the form."""
    name = form.required("name", "Say what meets what, such as “Front tyre in its arch”.")
    if not name:
        return build
    fields = {
        **(old.model_dump() if old else {"id": fresh_place(build, name)}),
        "name": name,
        "kind": form.text("kind") or None,
        "systems": form.every("system"),
        "parts": form.every("part"),
        "settle_by": form.text("settle_by") or None,
        "closed_by": form.text("closed_by") or None,
        "stand_in": form.text("stand_in") or None,
        "hazards": form.every("hazard"),
        "if_wrong": form.text("if_wrong"),
        "check": form.text("check"),
    }
    return put(build, "interfaces", made(Interface, **fields))


def taken_out(build: Build, interface: Interface) -> Build:
    """The build without an interface, its conditions and what was seen; raises Refused if something rests on it."""
    refuse_resting(interface.name, resting(build, "interfaces", interface.id, but=GO_ALONG))
    for condition in build.conditions:
        if condition.interface == interface.id:
            refuse_resting(condition.name, resting(build, "conditions", condition.id, but=frozenset({"settled"})))
    left = without(build, "interfaces", interface.id)
    return left.model_copy(
        update={
            "conditions": tuple(item for item in build.conditions if item.interface != interface.id),
            "settled": tuple(item for item in build.settled if item.interface != interface.id),
        }
    )


# routes


def show_form(ask: Ask, id_: str = "") -> Response:
    """The form of an interface."""
    noun: Interface | None = ask.find("interfaces", id_) if id_ else None
    kinds = (("", "none of these"), *sorted(interface_kinds().items(), key=lambda item: item[1]))
    page = {"it": interface_form(ask.view, noun), "hazards": HAZARDS, "kinds": kinds}
    return ask.show("interface_form.html", page, title=noun.name if noun else "A place where parts meet")


@router.get("/interfaces/new")
def show_new(ask: Asked) -> Response:
    """An interface to be written."""
    return show_form(ask)


@router.post("/interfaces/new")
def write_new(ask: Asked) -> Response:
    """Write an interface."""
    made_here: list[str] = []

    def edit(build: Build) -> Build:
        new = written(build, ask.form)
        made_here[:] = new.index["interfaces"].keys() - build.index["interfaces"].keys()
        return new

    return ask.write(
        edit, message=f"a place where parts meet: {ask.form.text('name')[:80]}",
        back=lambda: f"/interfaces/{made_here[0]}", again=show_form,
    )  # fmt: skip


@router.get("/interfaces/{id_}/change")
def show_change(id_: str, ask: Asked) -> Response:
    """An interface to be changed."""
    return show_form(ask, id_)


@router.post("/interfaces/{id_}/change")
def change(id_: str, ask: Asked) -> Response:
    """Change an interface."""
    noun = ask.find("interfaces", id_)
    return ask.write(
        lambda build: written(build, ask.form, old=noun), message=f"changed: {noun.name}",
        back=f"/interfaces/{id_}", again=lambda ask: show_form(ask, id_),
    )  # fmt: skip


@router.post("/interfaces/{id_}/out")
def take_out(id_: str, ask: Asked) -> Response:
    """Take an interface out."""
    noun = ask.find("interfaces", id_)
    return ask.write(
        lambda build: taken_out(build, noun), message=f"took out the place: {noun.name}", back="/interfaces",
        again=lambda ask: show_form(ask, id_),
    )  # fmt: skip
