"""What a part is as goods: what it weighs and measures packed, where it was made, how long it keeps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.parts import Part
from .ask import Ask, Asked
from .desk import put
from .form import Form, made
from .words import in_field

router = APIRouter()
BOX: Final = ("long", "wide", "high")


@dataclass(frozen=True, slots=True)
class PartGoodsPage:
    """The fields of a part as goods, as they are filled.

    Parameters
    ----------
    box : length, width and height of one packed; keeps : weeks until it must be fitted
    """

    name: str
    path: str
    back: str
    mass: str
    box: tuple[str, str, str]
    origin: str
    heading: str
    category: str
    categories: tuple[str, ...]
    keeps: str


def part_goods_page(build: Build, part: Part) -> PartGoodsPage:
    """The page of one part."""
    long, wide, high = ("", "", "") if part.box_mm is None else map(in_field, part.box_mm)
    return PartGoodsPage(
        name=part.name,
        path=f"/parts/{part.id}/goods",
        back=f"/parts/{part.id}",
        mass=_plain(part.mass_kg),
        box=(long, wide, high),
        origin=part.origin or "",
        heading=part.heading or "",
        category=part.category,
        categories=tuple(sorted({item.category for item in build.parts if item.category})),
        keeps=_plain(part.shelf_weeks),
    )


def _plain(value: float | None) -> str:
    return "" if value is None else in_field(value)


def with_goods(part: Part, form: Form) -> Part:
    """The part with its goods as typed; what is left empty is not known."""
    keeps = form.maybe_number("keeps", at_least=0, at_most=10_000)
    if keeps == 0:
        form.refuse("keeps", "it keeps no time at all", "0", "Leave it empty if it keeps for good.")
    told = {
        "mass_kg": form.maybe_number("mass", at_least=0),
        "box_mm": read_box(form),
        "origin": read_origin(form),
        "heading": read_heading(form),
        "category": form.text("category"),
        "shelf_weeks": keeps,
    }
    return part if form.problems else made(Part, **{**dict(part), **told})


def read_box(form: Form, stem: str = "") -> tuple[float, float, float] | None:
    """Length, width and height of a box from the fields long, wide and high; None if all were left empty.

    Parameters
    ----------
    stem : what stands behind the names of the fields
    """
    sides = {f"{side}{stem}": form.maybe_number(f"{side}{stem}", at_least=0) for side in BOX}
    if not any(sides.values()):
        return None
    lacking = next((name for name, size in sides.items() if not size), None)
    if lacking is not None:
        if not form.problems:
            form.refuse(lacking, "nothing was filled in", do="Give all three sizes of the box, or none.")
        return None
    long, wide, high = (size or 0.0 for size in sides.values())
    return long, wide, high


def read_origin(form: Form, stem: str = "") -> str | None:
    """A country of origin; None if the field was left empty."""
    origin = form.text(f"origin{stem}").upper()
    if origin and not (len(origin) == 2 and origin.isascii() and origin.isalpha()):
        form.refuse(f"origin{stem}", "not a country code", origin, "Write two letters, as GB.")
    return origin or None


def read_heading(form: Form, stem: str = "") -> str | None:
    """A tariff heading; None if the field was left empty."""
    heading = form.text(f"heading{stem}").replace(" ", "").replace(".", "")
    if heading and not (heading.isascii() and heading.isdigit() and len(heading) in (4, 6, 8, 10)):
        form.refuse(f"heading{stem}", "not a tariff heading", heading, "Give 4, 6, 8 or 10 digits.")
    return heading or None


# routes


def show_goods(ask: Ask, id_: str) -> Response:
    """The page of one part as goods."""
    page = part_goods_page(ask.view.build, ask.find("parts", id_))
    return ask.show("part_goods.html", page, title=f"{page.name} as goods")


@router.get("/parts/{id_}/goods")
def show(id_: str, ask: Asked) -> Response:
    """What a part is as goods."""
    return show_goods(ask, id_)


@router.post("/parts/{id_}/goods")
def take(id_: str, ask: Asked) -> Response:
    """What a part is as goods, as typed."""
    name = ask.find("parts", id_).name
    return ask.write(
        lambda build: put(build, "parts", with_goods(build.find("parts", id_), ask.form)),
        message=f"as goods: {name}",
        back=f"/parts/{id_}",
        again=lambda ask: show_goods(ask, id_),
    )
