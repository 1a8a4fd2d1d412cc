"""Conditions written by hand: what must hold at an interface; faults of units are named at the field they are in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.condition_faults import condition_faults
from ..build.interfaces import Condition, Consequence, Interface
from ..build.quantities import in_arithmetic, plain
from .ask import Ask, Asked, NotHereError
from .desk import View, fresh_id, put, without
from .dimensions import known
from .form import Form, made
from .resting import refuse_resting, resting

if TYPE_CHECKING:
    from .verdicts import Fitted

router = APIRouter()

CONSEQUENCES: Final = (
    (Consequence.INCONVENIENCE.value, "a nuisance"),
    (Consequence.REWORK.value, "work done again"),
    (Consequence.HIDDEN.value, "hidden once it is closed up"),
    (Consequence.HAZARD.value, "someone can be hurt"),
)
# What a person chooses -> its kind in the build.
KINDS: Final = {
    "clearance": ("clearance", "Room", "Something stays clear: what is left, at least so much."),
    "range": ("range", "Within limits", "A figure lies between a least and a most."),
    "angle": ("angle", "Angle", "An angle stays within limits."),
    "figures": ("match", "Sizes that match", "Two sizes agree within limits, such as hole pitches."),
    "match": ("match", "Threads and the like that mate", "What goes in and what it goes into, as they are marked."),
    "dry-run": ("dry-run", "Tried in place", "In and out with tools, seen on the vehicle; never computed."),
}


@dataclass(frozen=True, slots=True)
class Known:
    """A dimension as arithmetic can name it."""

    id: str
    name: str
    known: str


@dataclass(frozen=True, slots=True)
class ConditionPage:
    """The form of a condition.

    Parameters
    ----------
    kinds : every kind as (id, name, what it is for); kind : the one the form is for
    condition : the one to be changed; None for a new one
    named : what its arithmetic, or its mates, can name
    gone : why it can't be taken out; empty if it can
    """

    interface: Interface
    kinds: tuple[tuple[str, str, str], ...]
    kind: str
    condition: Condition | None
    named: tuple[Known, ...]
    gone: str


def condition_page(
    view: View, interface: Interface, fit: Fitted | None, *, kind: str = "", condition: Condition | None = None
) -> ConditionPage:
    """The form of a condition, to write a new one or change one."""
    chosen = kind_of(condition) if condition is not None else kind if kind in KINDS else "clearance"
    wanted = [item for item in view.build.dimensions if (item.designates is not None) == (chosen == "match")]
    named = tuple(Known(item.id, item.name, "" if fit is None else known(view, item, fit)) for item in wanted)
    found = () if condition is None else resting(view.build, "conditions", condition.id, but=frozenset({"settled"}))
    kinds = tuple((id_, name, fine) for id_, (_, name, fine) in KINDS.items())
    return ConditionPage(interface, kinds, chosen, condition, named, ", ".join(found))


def kind_of(condition: Condition) -> str:
    """The kind a person chose for it."""
    if condition.kind == "match" and condition.mates is None:
        return "figures"
    return condition.kind


# changes


def written(build: Build, interface: Interface, form: Form, *, old: Condition | None = None) -> Build:
    """The build with a condition as it is on the form; faults are noted at their fields."""
    kind = form.choice("kind", tuple(KINDS))
    name = form.required("name", "Say what must hold, in a few words.")
    consequence = form.choice("consequence", [value for value, _ in CONSEQUENCES])
    early = form.maybe_number("early_hours", at_least=0), form.maybe_number("early_cost", at_least=0)
    late = form.three_point("late_hours"), form.maybe_number("late_cost", at_least=0)
    told = _what_holds(form, kind)
    if form.problems:
        return build
    fields = {
        "id": old.id if old else fresh_id(build, "conditions", f"{interface.id} {name}"),
        "interface": interface.id, "name": name, "kind": KINDS[kind][0], "consequence": consequence,
        "early_hours": early[0] or 0, "early_cost": early[1] or 0, "late_hours": late[0], "late_cost": late[1] or 0,
        "source": form.text("source"), "note": form.text("note"), **told,
    }  # fmt: skip
    condition = made(Condition, **fields)
    noted_faults(form, build, condition)
    return put(build, "conditions", condition)


def _what_holds(form: Form, kind: str) -> dict[str, object]:
    """The fields that say what must hold; those of the other kinds are left out."""
    if kind == "dry-run":
        return {"tools": tuple(item.strip() for item in form.text("tools").split(",") if item.strip())}
    if kind == "match":
        mates = (form.required("goes_in", "Name a dimension, or write it as it is marked."),
                 form.required("goes_into", "Name a dimension, or write it as it is marked."))  # fmt: skip
        return {"mates": mates}
    text = arithmetic(form.required("expression", "Write it as in arch_height - tyre_diameter / 2."))
    low, high = (limit(form, name) or None for name in ("at_least", "at_most"))
    if low is None and high is None:
        form.refuse("at_least", "no limit is given", do="Give at least, at most, or both, as in 15 mm.")
    return {"expression": text, "at_least": low, "at_most": high, "hot": form.ticked("hot")}


def arithmetic(text: str) -> str:
    """Arithmetic in plain signs.

    Examples
    --------
    >>> arithmetic("gap − 2 × rim_width")
    'gap - 2 * rim_width'
    """
    return plain(text).replace("×", "*").replace("·", "*").replace("÷", "/")


def limit(form: Form, name: str) -> str:
    """A limit as it is held: arithmetic, with the decimal point whatever mark a quantity was typed with."""
    return in_arithmetic(arithmetic(form.text(name)), form.formats.mark)


# What a fault is of, or where it is -> the field to tell it at.
FIELDS: Final = {"mates": "goes_in", "no-limit": "at_least", "limits": "at_most", "expression": "expression",
                 "at_least": "at_least", "at_most": "at_most"}  # fmt: skip


def noted_faults(form: Form, build: Build, condition: Condition) -> None:
    """Note what keeps a condition from being evaluated, at the field it is in."""
    alone = build.model_copy(update={"conditions": (condition,)})
    for fault in condition_faults(alone, ""):
        named = [FIELDS[word] for word in (*fault.where.split(", "), fault.code) if word in FIELDS]
        do = "Write it down as a dimension first, or name another." if fault.code == "refers-to-nothing" else fault.do
        for field in named[:1]:
            form.refuse(field, fault.what, fault.got, do)


def taken_out(build: Build, condition: Condition) -> Build:
    """The build without a condition and what was seen of it; raises Refused if something rests on it."""
    refuse_resting(condition.name, resting(build, "conditions", condition.id, but=frozenset({"settled"})))
    kept = tuple(item for item in build.settled if item.condition != condition.id)
    return without(build, "conditions", condition.id).model_copy(update={"settled": kept})


# routes


def show_form(ask: Ask, id_: str, condition: str = "") -> Response:
    """The form of a condition."""
    interface = ask.find("interfaces", id_)
    noun: Condition | None = ask.find("conditions", condition) if condition else None
    if noun is not None and noun.interface != id_:
        raise NotHereError("conditions", condition)
    kind = ask.form.text("kind") or ask.request.query_params.get("kind", "")
    page = condition_page(ask.view, interface, ask.desk.verdicts.of(ask.view).value, kind=kind, condition=noun)
    title = noun.name if noun else "What must hold"
    return ask.show("condition_form.html", {"it": page, "consequences": CONSEQUENCES}, title=title)


@router.get("/interfaces/{id_}/conditions/new")
def show_new(id_: str, ask: Asked) -> Response:
    """A condition to be written."""
    return show_form(ask, id_)


@router.post("/interfaces/{id_}/conditions/new")
def write_new(id_: str, ask: Asked) -> Response:
    """Write a condition."""
    interface = ask.find("interfaces", id_)
    return ask.write(
        lambda build: written(build, interface, ask.form), message=f"to hold: {ask.form.text('name')[:80]}",
        back=f"/interfaces/{id_}", again=lambda ask: show_form(ask, id_),
        verdicts=True,
    )  # fmt: skip


@router.get("/interfaces/{id_}/conditions/{condition}/change")
def show_change(id_: str, condition: str, ask: Asked) -> Response:
    """A condition to be changed."""
    return show_form(ask, id_, condition)


@router.post("/interfaces/{id_}/conditions/{condition}/change")
def change(id_: str, condition: str, ask: Asked) -> Response:
    """Change a condition."""
    interface, noun = ask.find("interfaces", id_), ask.find("conditions", condition)
    return ask.write(
        lambda build: written(build, interface, ask.form, old=noun), message=f"changed: {noun.name}",
        back=f"/interfaces/{id_}", again=lambda ask: show_form(ask, id_, condition),
        verdicts=True,
    )  # fmt: skip


@router.post("/interfaces/{id_}/conditions/{condition}/out")
def take_out(id_: str, condition: str, ask: Asked) -> Response:
    """Take a condition out."""
    ask.find("interfaces", id_)
    noun: Condition = ask.find("conditions", condition)
    return ask.write(
        lambda build: taken_out(build, noun), message=f"took out the condition: {noun.name}",
        back=f"/interfaces/{id_}", again=lambda ask: show_form(ask, id_, condition),
    )  # fmt: skip
