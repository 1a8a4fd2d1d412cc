"""What is set aside for what is not listed, hours and money: as it stands, changed, added, taken out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.jobs import Allowance
from .ask import Ask, Asked
from .desk import fresh_id, put, without
from .form import Form, made
from .resting import refuse_resting, resting

router = APIRouter()
PATH: Final = "/money/aside"
KINDS: Final = (
    ("small-things", "Small things"),
    ("discovery", "What only shows once it is apart"),
)


@dataclass(frozen=True, slots=True)
class AsideShown:
    """An allowance with its name; `stays` names what rests on it, empty if it can be taken out."""

    noun: Allowance
    name: str
    stays: str


@dataclass(frozen=True, slots=True)
class AsidePage:
    """The page; `systems` are what one can be for."""

    shown: tuple[AsideShown, ...]
    systems: tuple[tuple[str, str], ...]


def aside_page(build: Build) -> AsidePage:
    """The page of all that is set aside."""
    systems = (("", "the whole vehicle, but for what has its own"), *((it.id, it.name) for it in build.systems))
    shown = (AsideShown(it, name_of(build, it), ", ".join(resting(build, "allowances", it.id)))
             for it in build.allowances)  # fmt: skip
    return AsidePage(tuple(shown), systems)


def name_of(build: Build, item: Allowance) -> str:
    """What a person calls an allowance."""
    kind = dict(KINDS)[item.kind]
    return f"{kind}: {build.find('systems', item.system).name}" if item.system else kind


def set_aside(build: Build, form: Form, old: Allowance | None) -> Build:
    """The build with an allowance as it was typed."""
    kind = form.choice("kind", [key for key, _ in KINDS])
    system = form.text("system")
    if system and system not in build.index["systems"]:
        form.refuse("system", "not a system of this build", system, "Choose one of the list.")
    hours = form.maybe_number("hours_percent", at_least=0, at_most=1000) or 0
    money = form.maybe_number("money_percent", at_least=0, at_most=1000) or 0
    later = form.maybe_number("after_strip_percent", at_least=0, at_most=1000)
    same = [it for it in build.allowances if (it.kind, it.system or "") == (kind, system) and it != old]
    if same:
        form.refuse("system", "set aside already", name_of(build, same[0]), "Change that one.")
    if form.problems:
        return build
    id_ = old.id if old is not None else fresh_id(build, "allowances", f"{kind} {system}")
    allowance = made(
        Allowance, id=id_, kind=kind, system=system or None, hours_percent=hours, money_percent=money,
        after_strip_percent=later if kind == "discovery" else None, note=form.text("note"),
    )  # fmt: skip
    return put(build, "allowances", allowance)


# routes


def show_aside(ask: Ask) -> Response:
    """The page."""
    return ask.show("setting_aside.html", {"it": aside_page(ask.view.build), "kinds": KINDS}, title="Set aside")


@router.get(PATH)
def show(ask: Asked) -> Response:
    """All that is set aside."""
    return show_aside(ask)


@router.post(PATH)
def add(ask: Asked) -> Response:
    """Set something more aside."""
    return ask.write(
        lambda build: set_aside(build, ask.form, None), message="set something aside", back=PATH, again=show_aside
    )


@router.post(f"{PATH}/{{id_}}")
def change(id_: str, ask: Asked) -> Response:
    """Set more or less aside."""
    name = name_of(ask.view.build, ask.find("allowances", id_))
    return ask.write(
        lambda build: set_aside(build, ask.form, build.find("allowances", id_)),
        message=f"set aside: {name}"[:200], back=PATH, again=show_aside,
    )  # fmt: skip


@router.post(f"{PATH}/{{id_}}/out")
def take_out(id_: str, ask: Asked) -> Response:
    """Set nothing aside any more."""
    name = name_of(ask.view.build, ask.find("allowances", id_))

    def edit(build: Build) -> Build:
        refuse_resting(name, resting(build, "allowances", id_))
        return without(build, "allowances", id_)

    return ask.write(edit, message=f"no longer set aside: {name}"[:200], back=PATH, again=show_aside)
