"""Dimensions written by hand: what is measured, what is to be made, what errs together with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, get_args

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.designations import FAMILIES
from ..build.expression import RESERVED
from ..build.interfaces import Dimension, Material, Reading
from ..build.units import Unit, UnitProblem, parse_unit
from .ask import Ask, Asked
from .desk import View, put, without
from .dimensions import known, show_dimension, state_words
from .form import Form, made
from .ids import fresh_dimension
from .kept import Standing
from .resting import refuse_resting, resting
from .together import erring_together, without_pair
from .verdicts import Fitted
from .words import INSTRUMENTS

router = APIRouter()
GO_ALONG: Final = frozenset({"readings"})
TAKES: Final = (("", "a number"), *((family, f"a {family}, as it is marked") for family in FAMILIES))
MATERIALS: Final = (("", "not said"), *((name, name.replace("-", " ")) for name in get_args(Material)))
Options = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Row:
    """A dimension as it is listed."""

    id: str
    name: str
    known: str
    state: str


@dataclass(frozen=True, slots=True)
class DimensionForm:
    """The form of a dimension.

    Parameters
    ----------
    dimension : the one to be changed; None for a new one
    stays : what rests on it, so that it can't be taken out; readings : how many would go with it
    """

    dimension: Dimension | None
    parts: Options
    jobs: Options
    stays: str
    readings: int


def rows(view: View, fit: Standing[Fitted], words: str = "") -> tuple[Row, ...]:
    """The dimensions of a build whose names hold some words, by name."""
    found, wanted = fit.value, words.casefold().split()
    return tuple(
        Row(
            item.id,
            item.name,
            "" if found is None else known(view, item, found),
            "" if found is None or item.id in found.states else state_words(item.id, found, view),
        )
        for item in sorted(view.build.dimensions, key=lambda item: item.name.casefold())
        if all(word in f"{item.name} {item.id}".casefold() for word in wanted)
    )


def dimension_form(view: View, dimension: Dimension | None = None) -> DimensionForm:
    """The form of a dimension, to write a new one or change one."""
    build = view.build
    found = () if dimension is None else resting(build, "dimensions", dimension.id, but=GO_ALONG)
    return DimensionForm(
        dimension=dimension,
        parts=(("", "no part in particular"), *((item.id, item.name) for item in build.parts)),
        jobs=(("", "no job; it can be measured now"), *((item.id, item.name) for item in build.jobs)),
        stays=", ".join(found),
        readings=0 if dimension is None else sum(each.dimension == dimension.id for each in build.readings),
    )


# changes


def written(build: Build, form: Form, *, old: Dimension | None = None) -> Build:
    """The build with a dimension as it is on the form; where its unit changed, its readings with it."""
    name = form.required("name", "Say what it is, such as “Wheel: centre bore”.")
    takes = form.text("designates") or None
    unit = "" if takes else _unit(form)
    money = {key: form.maybe_number(key, at_least=0) for key in ("too_little_cost", "too_much_cost")}
    minutes = form.maybe_number("minutes", at_least=0, at_most=10_000)
    heat = form.maybe_number("runs_at_c", at_least=-80, at_most=1200)
    if old is not None and takes != old.designates and any(item.dimension == old.id for item in build.readings):
        form.refuse("designates", "it has readings", takes or "a number", "Take them out first.")
    id_ = old.id if old else _id(build, form, name)
    readings = _converted(build, old, unit, form)
    if form.problems:
        return build
    fields = {
        "id": id_, "name": name, "unit": unit or "", "designates": takes, "foundation": form.ticked("foundation"),
        "provision": form.ticked("provision"), **money, "part": form.text("part") or None,
        "minutes": 20 if minutes is None else minutes, "job": form.text("job") or None,
        "tools": tuple(item.strip() for item in form.text("tools").split(",") if item.strip()),
        "instrument": form.text("instrument") or None, "material": form.text("material") or None,
        "runs_at_c": heat, "how": form.text("how"),
    }  # fmt: skip
    return put(build, "dimensions", made(Dimension, **fields)).model_copy(update={"readings": readings})


def _unit(form: Form) -> str:
    text = form.text("unit")
    try:
        parse_unit(text)
    except UnitProblem as problem:
        form.refuse("unit", str(problem), text, "Write it as mm, in, deg, kg or N; leave it empty for a plain number.")
        return ""
    return text


def _id(build: Build, form: Form, name: str) -> str:
    """What arithmetic calls a new dimension: as it was given, or made from its name."""
    given = form.text("id")
    if not given:
        return fresh_dimension(build, name or "dimension")
    if given in RESERVED or given in build.index["dimensions"]:
        what = "that is a function of arithmetic" if given in RESERVED else "another dimension has that name"
        form.refuse("id", what, given, "Give another.")
    return given


def _converted(build: Build, old: Dimension | None, unit: str, form: Form) -> tuple[Reading, ...]:
    """The readings, those of the dimension turned into its new unit."""
    if (
        old is None
        or old.designates
        or form.text("designates")
        or unit == old.unit
        or any(each.where == "unit" for each in form.problems)
    ):
        return build.readings
    own, its = parse_unit(old.unit), parse_unit(unit)
    mine = [item for item in build.readings if item.dimension == old.id]
    if mine and own.kind != its.kind:
        do = f"Take out its {len(mine)} readings first, or give a unit of the same kind."
        form.refuse("unit", f"it was measured in {old.unit}, which is another kind", unit, do)
        return build.readings
    return tuple(_in_unit(item, own, its) if item in mine else item for item in build.readings)


def _in_unit(reading: Reading, own: Unit, its: Unit) -> Reading:
    def turned(value: float | None) -> float | None:
        return None if value is None else float(f"{value * own.factor / its.factor:.9g}")

    return reading.model_copy(update={"value": turned(reading.value), "spread": turned(reading.spread)})


def taken_out(build: Build, dimension: Dimension) -> Build:
    """The build without a dimension and its readings; raises Refused if something rests on it."""
    refuse_resting(dimension.name, resting(build, "dimensions", dimension.id, but=GO_ALONG))
    kept = tuple(item for item in build.readings if item.dimension != dimension.id)
    return without(build, "dimensions", dimension.id).model_copy(update={"readings": kept})


# routes


def show_form(ask: Ask, id_: str = "") -> Response:
    """The form of a dimension."""
    noun: Dimension | None = ask.find("dimensions", id_) if id_ else None
    page = {"it": dimension_form(ask.view, noun), "takes": TAKES, "materials": MATERIALS,
            "instruments": (("", "nothing in particular"), *INSTRUMENTS)}  # fmt: skip
    return ask.show("dimension_form.html", page, title=noun.name if noun else "A dimension")


@router.get("/interfaces/dimensions")
def show_list(ask: Asked) -> Response:
    """Every dimension."""
    words = ask.request.query_params.get("q", "").strip()[:80]
    page = {"rows": rows(ask.view, ask.desk.verdicts.of(ask.view), words), "words": words}
    return ask.show("dimensions.html", page, title="Dimensions")


@router.get("/interfaces/dimensions/new")
def show_new(ask: Asked) -> Response:
    """A dimension to be written."""
    return show_form(ask)


@router.post("/interfaces/dimensions/new")
def write_new(ask: Asked) -> Response:
    """Write a dimension."""
    made_here: list[str] = []

    def edit(build: Build) -> Build:
        new = written(build, ask.form)
        made_here[:] = new.index["dimensions"].keys() - build.index["dimensions"].keys()
        return new

    return ask.write(
        edit, message=f"a dimension: {ask.form.text('name')[:80]}",
        back=lambda: f"/interfaces/dimensions/{made_here[0]}", again=show_form,
    )  # fmt: skip


@router.get("/interfaces/dimensions/{id_}/change")
def show_change(id_: str, ask: Asked) -> Response:
    """A dimension to be changed."""
    return show_form(ask, id_)


@router.post("/interfaces/dimensions/{id_}/change")
def change(id_: str, ask: Asked) -> Response:
    """Change a dimension."""
    noun = ask.find("dimensions", id_)
    return ask.write(
        lambda build: written(build, ask.form, old=noun), message=f"changed: {noun.name}",
        back=f"/interfaces/dimensions/{id_}", again=lambda ask: show_form(ask, id_),
    )  # fmt: skip


@router.post("/interfaces/dimensions/{id_}/out")
def take_out(id_: str, ask: Asked) -> Response:
    """Take a dimension out."""
    noun = ask.find("dimensions", id_)
    return ask.write(
        lambda build: taken_out(build, noun), message=f"took out the dimension: {noun.name}",
        back="/interfaces/dimensions", again=lambda ask: show_form(ask, id_),
    )  # fmt: skip


@router.post("/interfaces/dimensions/{id_}/together")
def err_together(id_: str, ask: Asked) -> Response:
    """Say that two dimensions err together."""
    noun = ask.find("dimensions", id_)
    return ask.write(
        lambda build: erring_together(build, noun, ask.form), message=f"errs together with another: {noun.name}",
        back=f"/interfaces/dimensions/{id_}", again=lambda ask: show_dimension(ask, id_),
    )  # fmt: skip


@router.post("/interfaces/dimensions/{id_}/together/{other}/out")
def err_apart(id_: str, other: str, ask: Asked) -> Response:
    """Say that two dimensions err each by itself."""
    noun = ask.find("dimensions", id_)
    return ask.write(
        lambda build: build.model_copy(update={"correlations": without_pair(build, id_, other)}),
        message=f"errs by itself: {noun.name}", back=f"/interfaces/dimensions/{id_}",
        again=lambda ask: show_dimension(ask, id_),
    )  # fmt: skip
