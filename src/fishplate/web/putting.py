"""A condition ready for an interface of a kind, put to the build: with its place, its dimensions and what is known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.cautions import hazard_lines, of_figures
from ..build.interface_kinds import interface_kinds
from ..build.interfaces import Condition, Dimension, Interface, Reading
from ..build.units import parse_unit
from .ask import Ask, Asked, NotHereError
from .conditions import CONSEQUENCES, limit, noted_faults
from .desk import View, fresh_id, put, put_all
from .dimensions import WHENCE, dimensions_of, known
from .form import Form, made
from .ids import fresh_dimension, fresh_place
from .quantities import figure
from .words import day

if TYPE_CHECKING:
    from ..trade import Calculation, Template
    from ..trade.templates import TemplateDimension
    from .verdicts import Fitted

router = APIRouter()

NEW: Final = ""


@dataclass(frozen=True, slots=True)
class Place:
    """A dimension the condition asks for.

    Parameters
    ----------
    options : what can stand there: a new dimension, or one of the build's own with what is known of it
    chosen : the one proposed; value : what was given for it so far, unless the build knows it
    """

    id: str
    name: str
    unit: str
    how: str
    options: tuple[tuple[str, str], ...]
    chosen: str
    value: str


@dataclass(frozen=True, slots=True)
class PuttingPage:
    """A condition to be put to the build.

    Parameters
    ----------
    interfaces : where it can stand: a new place, or one of the build's own, likeliest first
    formula : what must hold, spelled out; cautions : what to mind near it
    """

    id: str
    name: str
    formula: str
    at_least: str
    at_most: str
    consequence: str
    if_wrong: str
    source: str
    interfaces: tuple[tuple[str, str], ...]
    chosen: str
    new_name: str
    places: tuple[Place, ...]
    calculation: str
    cautions: tuple[str, ...]


def carried(template: Template, calculation: Calculation, given: Mapping[str, str]) -> dict[str, str]:
    """What was given to a calculation, by the dimensions of its condition.

    Examples
    --------
    >>> from fishplate.trade import calculations, template
    >>> found = calculations()["arches.bump_room"]
    >>> carried(template("tyre-room-at-bump"), found, {"tyre_diameter_mm": "729"})
    {'tyre_diameter': '729 mm'}
    """
    from ..trade.answers import label

    found = {}
    for item in calculation.parameters:
        named = template.arguments.get(item.name, label(item.quantity).replace(" ", "_"))
        if isinstance(named, str) and named in template.names and (text := given.get(item.name)):
            bare = text.replace(",", ".").replace(" ", "").lstrip("+-").replace(".", "").isdigit()
            found[named] = f"{text} {item.quantity.unit}" if bare and item.quantity.unit != "-" else text
    return found


def putting_page(
    view: View, template: Template, fit: Fitted | None, *, place: str = "", given: Mapping[str, str] | None = None
) -> PuttingPage:  # fmt: skip
    """The page of a condition ready for an interface.

    Parameters
    ----------
    place : the interface it is for, if that is known; given : what is known of its dimensions, as text
    """
    from .holding import formula

    build = view.build
    chosen = place if place in build.index["interfaces"] else NEW
    here = _dimensions_at(build, chosen)
    own = {name: name for name in template.names}
    return PuttingPage(
        id=template.id,
        name=template.name,
        formula=formula(template.condition("x", "x", own)),
        at_least=template.at_least or "",
        at_most=template.at_most or "",
        consequence=template.consequence.value,
        if_wrong=template.if_wrong,
        source=template.source,
        interfaces=((NEW, "a new place"), *_interfaces(build, template)),
        chosen=chosen,
        new_name=interface_kinds()[template.interfaces[0]],
        places=tuple(_place(view, item, fit, here, given or {}) for item in template.dimensions),
        calculation=template.calculation or "",
        cautions=(*hazard_lines(template.hazards), of_figures()) if template.hazards else (),
    )


def _dimensions_at(build: Build, interface: str) -> frozenset[str]:
    return frozenset(name for each in build.conditions if each.interface == interface for name in dimensions_of(each))


def _interfaces(build: Build, template: Template) -> list[tuple[str, str]]:
    """Interfaces of the build, those of the template's kind first."""

    def likely(item: Interface) -> bool:
        if item.kind is not None:
            return item.kind in template.interfaces
        words = set(f"{item.id} {item.name}".casefold().replace("-", " ").split())
        return any(set(kind.split("-")) <= words for kind in template.interfaces)

    ordered = sorted(build.interfaces, key=lambda item: (not likely(item), item.name.casefold()))
    return [(item.id, item.name) for item in ordered]


def _place(
    view: View, wanted: TemplateDimension, fit: Fitted | None, here: frozenset[str], given: Mapping[str, str]
) -> Place:
    fits = [item for item in view.build.dimensions if _alike(item, wanted)]
    likely = [item.id for item in fits if _named_alike(item.id, wanted.id)]
    close = [id_ for id_ in likely if id_ in here] or likely
    ordered = sorted(fits, key=lambda item: (item.id not in close, item.id not in here, item.name.casefold()))
    chosen = close[0] if len(close) == 1 else NEW
    is_known = chosen != NEW and fit is not None and chosen in fit.states
    return Place(
        id=wanted.id,
        name=wanted.name,
        unit=wanted.unit,
        how=wanted.how,
        options=((NEW, "a new dimension"), *((item.id, _with_known(view, item, fit)) for item in ordered)),
        chosen=chosen,
        value="" if is_known else given.get(wanted.id, ""),
    )


def _alike(item: Dimension, wanted: TemplateDimension) -> bool:
    return item.designates is None and parse_unit(item.unit).kind == parse_unit(wanted.unit).kind


def _named_alike(id_: str, wanted: str) -> bool:
    return id_ == wanted or id_.startswith(f"{wanted}_") or id_.endswith(f"_{wanted}")


def _with_known(view: View, item: Dimension, fit: Fitted | None) -> str:
    return item.name if fit is None else f"{item.name}: {known(view, item, fit)}"


# changes


def with_condition(build: Build, template: Template, form: Form, today: date) -> Build:
    """The build with the condition at an interface, its new dimensions, and what was read of them.

    Parameters
    ----------
    form : interface, place (name of a new one), name, of-NAME, called-NAME and value-NAME for each dimension, whence,
        at_least, at_most, consequence, late_hours, late_cost
    """
    new, interface = _with_interface(build, template, form)
    ids: dict[str, str] = {}
    for item in template.dimensions:
        new, ids[item.id] = _with_dimension(new, item, form, interface, today)
    late, cost = form.three_point("late_hours"), form.maybe_number("late_cost", at_least=0)
    name = form.text("name", template.name)
    consequence = form.choice("consequence", [value for value, _ in CONSEQUENCES])
    if form.problems:
        return build
    id_ = fresh_id(new, "conditions", name)
    ready = template.condition(id_, interface, ids)
    limits = {
        field: text if (text := limit(form, field)) != (getattr(template, field) or "") else getattr(ready, field) or ""
        for field in ("at_least", "at_most")
    }
    fields = {**ready.model_dump(), "name": name, "consequence": consequence, "late_hours": late,
              "late_cost": cost or 0, **{field: text or None for field, text in limits.items()}}  # fmt: skip
    condition = made(Condition, **fields)
    noted_faults(form, new, condition)
    return put(new, "conditions", condition)


def _with_interface(build: Build, template: Template, form: Form) -> tuple[Build, str]:
    id_ = form.text("interface")
    if id_ in build.index["interfaces"]:
        return build, id_
    if id_ != NEW:
        form.refuse("interface", "not one of the choices", id_, "Choose one.")
        return build, ""
    name = form.required("place", "Say what the place is called.")
    if not name:
        return build, ""
    noun = made(
        Interface, id=fresh_place(build, name), name=name, kind=template.interfaces[0], hazards=template.hazards
    )
    return put(build, "interfaces", noun), noun.id


def _with_dimension(
    build: Build, wanted: TemplateDimension, form: Form, interface: str, today: date
) -> tuple[Build, str]:
    """The build with a dimension in the place of the template's, and the reading given of it."""
    id_ = form.text(f"of-{wanted.id}")
    if id_ == NEW:
        name = form.text(f"called-{wanted.id}", wanted.name)
        id_ = fresh_dimension(build, wanted.id, f"{interface} {wanted.id}")
        noun = made(Dimension, id=id_, name=name, unit=wanted.unit, how=wanted.how)
        build = put(build, "dimensions", noun)
    elif id_ not in {item.id for item in build.dimensions if _alike(item, wanted)}:
        form.refuse(f"of-{wanted.id}", "not one of the choices", id_, "Choose one.")
        return build, id_
    return _with_reading(build, build.find("dimensions", id_), wanted.id, form, today), id_


def _with_reading(build: Build, dimension: Dimension, field: str, form: Form, today: date) -> Build:
    if not form.text(f"value-{field}"):
        return build
    whence = form.choice("whence", [value for value, _ in WHENCE])
    value, spread = figure(form, dimension.unit, f"value-{field}", f"spread-{field}")
    if form.problems or not whence:
        return build
    id_ = fresh_id(build, "readings", f"{dimension.id} {today.isoformat()}")
    reading = made(Reading, id=id_, dimension=dimension.id, value=value, spread=spread, provenance=whence, day=today)
    return put_all(build, "readings", {id_: reading})


# routes


def _found(id_: str) -> Template:
    from ..trade import template

    try:
        return template(id_)
    except KeyError:
        raise NotHereError("templates", id_) from None


def _given(ask: Ask, template: Template) -> dict[str, str]:
    return {name: ask.request.query_params.get(name, "")[:80] for name in template.names}


def show_putting(ask: Ask, template: Template) -> Response:
    """The page of a condition ready for an interface."""
    fit = ask.desk.verdicts.of(ask.view).value
    place = ask.request.query_params.get("for", "")
    page = putting_page(ask.view, template, fit, place=place, given=_given(ask, template))
    choices = {"whence": WHENCE, "consequences": CONSEQUENCES, "said": day(ask.today)}
    return ask.show("putting.html", {"it": page, **choices}, title=template.name)


@router.get("/calculations/conditions/{id_}")
def show(id_: str, ask: Asked) -> Response:
    """A condition ready for an interface."""
    return show_putting(ask, _found(id_))


@router.post("/calculations/conditions/{id_}")
def put_it(id_: str, ask: Asked) -> Response:
    """Put the condition to the build, with everything it needs, in one batch."""
    template = _found(id_)
    where: list[str] = []

    def edit(build: Build) -> Build:
        new = with_condition(build, template, ask.form, ask.today)
        where[:] = _new_conditions(build, new)
        return new

    return ask.write(
        edit, message=f"to hold: {ask.form.text('name', template.name)[:80]}",
        back=lambda: f"/interfaces/{where[0]}", again=lambda ask: show_putting(ask, template),
    )  # fmt: skip


def _new_conditions(before: Build, after: Build) -> Iterable[str]:
    return (item.interface for item in after.conditions if item.id not in before.index["conditions"])
