"""Calculations: give one figures as they were read, see its answer, source and the condition that belongs to it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Problem, Refused
from ..build.formats import CANONICAL, current
from ..build.quantities import in_unit, plain, split_quantity
from ..build.units import UnitProblem, conversion_factor, from_internal, parse_unit
from . import putting
from .ask import Asked, Filled, NotHereError
from .choosing import SUBJECTS, Line, choosing, condition_line, subject_of
from .desk import View
from .fields import beside_field
from .form import Form
from .putting import carried
from .words import number

if TYPE_CHECKING:
    from ..trade import Calculation
    from ..trade.answers import Answer
    from ..trade.catalogue import Parameter
    from .verdicts import Fitted

router = APIRouter()
router.include_router(putting.router)

_IMPERIAL: Final = {
    "mm": "in", "mm**2": "in**2", "mm**3": "in**3", "kg": "lb", "N": "lbf", "N*mm": "lbf*ft", "MPa": "psi",
    "mm/s": "mph", "N/mm": "lbf/in",
}  # fmt: skip
_INCHES: Final = re.compile(r"\d\s*\"|\b(?:in|inch|inches|ft|lb|lbs|lbf|psi|mph)\b")
_SAYS_UNIT: Final = re.compile(r"\d\s*[^\W\d_]|[\"'°]")
ROWS: Final = 60


@dataclass(frozen=True, slots=True)
class Field:
    """A parameter as it is asked for.

    Parameters
    ----------
    kind : number, array, text, count or flag; known : name of the list of figures the build knows of its kind
    """

    name: str
    label: str
    unit: str
    hint: str
    kind: str
    value: str
    known: str


@dataclass(frozen=True, slots=True)
class Row:
    """A part of the answer; an array of rows is told row by row."""

    name: str
    values: tuple[str, ...]
    fine: str


@dataclass(frozen=True, slots=True)
class CalculationPage:
    """One calculation.

    Parameters
    ----------
    known : figures of the build by kind, as (text, name)
    rows : the answer, if it was asked for; example : its worked example, given and answer in words
    conditions : what it can be put to the vehicle as, with the figures given carried along
    """

    id: str
    name: str
    subject: str
    subject_name: str
    fields: tuple[Field, ...]
    known: Mapping[str, tuple[tuple[str, str], ...]]
    rows: tuple[Row, ...]
    example: tuple[tuple[str, str], ...]
    example_rows: tuple[Row, ...]
    example_path: str
    notes: str
    source: str
    settles: str
    caution: str
    conditions: tuple[Line, ...]
    place: str


# --- one calculation --------------------------------------------------------------------------------------------------


def calculation_page(
    view: View, found: Calculation, given: Mapping[str, str], answer: Answer | None, fit: Fitted | None, place: str = ""
) -> CalculationPage:
    """The page of one calculation.

    Parameters
    ----------
    given : what was written; answer : what came of it, if it was asked for; fit : what the build knows
    place : the interface its condition is wanted for
    """
    from ..trade.answers import example_of, label, value_words, work_out

    example = example_of(found)
    shown = work_out(found, [], example)
    names = {item.name: label(item.quantity) for item in found.parameters}
    return CalculationPage(
        id=found.id,
        name=found.purpose.rstrip("."),
        subject=subject_of(found.id),
        subject_name=SUBJECTS[subject_of(found.id)],
        fields=tuple(_field(item) for item in found.parameters),
        known=_known(view, found, fit),
        rows=() if answer is None else tuple(_rows(answer, inches=_in_both(view, given.values()))),
        example=tuple((names[name], value_words(text, "")) for name, text in example.items()),
        example_rows=tuple(_rows(shown, inches=False)),
        example_path=f"/calculations/{found.id}?{urlencode({**example, **({'for': place} if place else {})})}",
        notes=_read_aloud(found.notes),
        source=" ".join(found.references.split()),
        settles=found.settles,
        caution=found.caution,
        conditions=tuple(condition_line(item, place, carried(item, found, given)) for item in found.templates),
        place=place,
    )


def _in_both(view: View, given: Iterable[str]) -> bool:
    """Whether an owner used to the metric system wrote something in the other."""
    return view.build.owner.units == "metric" and any(map(_INCHES.search, given))


def _read_aloud(text: str) -> str:
    """Notes of a docstring with the names in it as words.

    Examples
    --------
    >>> _read_aloud("see `rise_in_roll`\\nfor one - alone")
    'see “rise in roll” for one − alone'
    """
    spelled = re.sub(r"`(?:\w+\.)?(\w+)`", lambda match: f"“{match[1].replace('_', ' ')}”", text)
    return " ".join(spelled.split()).replace(" - ", " − ")


def _field(item: Parameter) -> Field:
    from ..trade.answers import label

    unit = "" if item.quantity.unit == "-" else item.quantity.unit
    words = _read_aloud(item.quantity.words)
    hint = words[:1].upper() + words[1:]
    if item.kind == "array":
        hint += ". Parted by commas" + ("; rows by semicolons" if "," in item.quantity.shape.strip("(),") else "")
    value = "" if item.required or item.default is None else _as_written(item.default)
    known = _kind(unit) if item.kind == "number" else ""
    return Field(item.name, label(item.quantity).capitalize(), unit, f"{hint}.", item.kind, value, known)


def _as_written(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return number(value) if isinstance(value, int | float) else str(value)


def _kind(unit: str) -> str:
    try:
        return parse_unit(unit).kind if unit else ""
    except UnitProblem:
        return ""


def _known(
    view: View, found: Calculation, fit: Fitted | None
) -> dict[str, tuple[tuple[str, str], ...]]:  # fmt: skip
    """Figures the build knows of each kind the calculation takes."""
    if fit is None:
        return {}
    kinds = {_kind(item.quantity.unit) for item in found.parameters if item.kind == "number"} - {""}
    by_kind: dict[str, list[tuple[str, str]]] = {kind: [] for kind in sorted(kinds)}
    for dimension in view.build.dimensions:
        state = fit.states.get(dimension.id)
        kind = "" if dimension.designates else parse_unit(dimension.unit).kind
        if state is not None and kind in by_kind:
            held = float(number(from_internal(state.value, dimension.unit)))
            value = f"{current().typed(held)} {dimension.unit}".strip()  # it goes into a field as it stands here
            by_kind[kind].append((value, dimension.name))
    return {kind: tuple(items) for kind, items in by_kind.items()}


def _rows(answer: Answer, *, inches: bool) -> Iterator[Row]:
    from ..trade.answers import label

    for quantity, value in answer.parts:
        alone = quantity.name == "value"
        name = (quantity.words or "Result") if alone else label(quantity)
        held = [value] if getattr(value, "ndim", 0) < 2 else list(value.reshape(-1, value.shape[-1])[:ROWS])
        texts = tuple(text for each in held if (text := _with_inches(each, quantity.unit, inches=inches)))
        if texts:
            yield Row(name[:1].upper() + name[1:], texts, "" if alone else quantity.words)


def _with_inches(value: Any, unit: str, *, inches: bool) -> str:
    from ..trade.answers import value_words

    text, shown = value_words(value, unit), _IMPERIAL.get(unit)
    if not text or not inches or shown is None:
        return text
    return f"{text}, or {value_words(value * conversion_factor(unit, shown), shown)}"


# --- routes -----------------------------------------------------------------------------------------------------------


@router.get("/calculations")
def show(ask: Asked) -> Response:
    """The room: everything that can be calculated."""
    query = ask.request.query_params
    subject = query.get("subject", "")
    page = choosing(
        ask.view,
        words=query.get("q", "").strip()[:80],
        subject=subject if subject in SUBJECTS else "",
        ready="ready" in query,
        place=query.get("for", ""),
        every="every" in query,
    )
    return ask.show("calculations.html", page, title="Calculations")


@router.get("/calculations/{id_}")
def show_one(id_: str, ask: Asked) -> Response:
    """One calculation, with its answer where figures were given."""
    from ..trade import calculations
    from ..trade.answers import work_out

    found = calculations().get(id_)
    if found is None:
        raise NotHereError("calculations", id_)
    query = {name: plain(text) for name, text in ask.request.query_params.items()}
    typed = Form({name: (text,) for name, text in query.items()})
    given = {item.name: _canonical(item, typed) for item in found.parameters if query.get(item.name)}
    answer, problems = None, list[Problem]()
    if "ask" in query or given:
        try:
            answer = work_out(found, [], given)
        except Refused as refused:
            problems = [_at_field(problem, found) for problem in refused.problems]
    place = query.get("for", "") if query.get("for", "") in ask.view.build.index["interfaces"] else ""
    fit = ask.desk.verdicts.of(ask.view).value
    filled = Filled("calculation", ask.view.revision, typed if query.keys() - {"for"} else None, tuple(problems))
    # what says its unit itself goes on as it was written; a bare figure with the unit of its field
    carry = {name: query[name] if _SAYS_UNIT.search(query[name]) else text for name, text in given.items()}
    page = {"it": calculation_page(ask.view, found, carry, answer, fit, place), "filled": filled}
    return ask.show("calculation.html", page, title=found.purpose, status=422 if problems else 200)


def _canonical(item: Parameter, form: Form) -> str:
    """What was written in a field, with the decimal point, and with its unit where the field shows another."""
    text = form.text(item.name)
    if item.kind not in ("number", "count") or re.search(r"\de[+-]?\d", text, re.IGNORECASE):  # powers of ten
        return text
    beside = beside_field(form, item.name)
    try:
        value, unit, _ = split_quantity(text, form.formats.mark)
        if not unit and beside.held:
            value, unit = in_unit(value, beside.shown, beside.held), beside.held
    except UnitProblem:
        return text
    return f"{CANONICAL.typed(value)} {unit}".rstrip()


def _at_field(problem: Problem, found: Calculation) -> Problem:
    """A fault in what was written, told at the field it is in."""
    name = problem.where.rpartition(", ")[2]
    parameter = next((item for item in found.parameters if item.name == name), None)
    if parameter is None:
        return Problem("", problem.code, problem.what, problem.got, problem.do)
    unit = parameter.quantity.unit
    do = "Write it as in 12.5 or 1 3/8 in." if _kind(unit) == "length" else f"Give it in {unit}, or a like unit."
    if unit in ("", "-") or parameter.kind in ("array", "text", "flag", "count"):
        do = f"Give {parameter.quantity.words}."
    if problem.code in ("range", "designation"):  # what it is stands beside the field
        do = problem.do if problem.code == "designation" else ""
    what = f"that is {problem.what}" if problem.what.endswith("is wanted") else problem.what
    return Problem(name, problem.code, what, problem.got, do)
