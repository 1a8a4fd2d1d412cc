"""Decisions and their options written by hand, changed, and taken out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Problem, Refused
from ..build.decisions import Decision, Given, Option
from .ask import Ask, Asked, NotHereError
from .desk import View, fresh_id, put, without
from .form import Form, made
from .resting import refuse_resting, resting
from .words import in_field, number

router = APIRouter()
Options = tuple[tuple[str, str], ...]
# Addresses under /decisions that are pages of their own.
TAKEN: Final = frozenset({"new", "matters", "bearing", "whole"})
GO_ALONG: Final = frozenset({"edges"})
BLANK_ROWS: Final = 2


@dataclass(frozen=True, slots=True)
class DecisionForm:
    """The form of a decision; `stays` is what rests on it, so that it can't be taken out."""

    decision: Decision | None
    jobs: Options
    stays: str


@dataclass(frozen=True, slots=True)
class GivenRow:
    """A dimension an option gives, as it stands on the form."""

    key: str
    dimension: str
    value: str
    spread: str


@dataclass(frozen=True, slots=True)
class OptionForm:
    """The form of an option.

    Parameters
    ----------
    groups : parts by system; rows : dimensions it gives, and some rows to fill in
    stays : why it can't be taken out
    """

    decision: Decision
    option: Option | None
    groups: tuple[tuple[str, Options], ...]
    jobs: Options
    conditions: Options
    dimensions: Options
    rows: tuple[GivenRow, ...]
    stays: str


def decision_form(view: View, decision: Decision | None) -> DecisionForm:
    """The form of a decision, to write a new one or change one."""
    jobs = (("", "no job in particular"), *((job.id, job.name) for job in view.build.jobs))
    found = () if decision is None else resting(view.build, "decisions", decision.id, but=GO_ALONG)
    return DecisionForm(decision, jobs, ", ".join(found))


def option_form(view: View, decision: Decision, option: Option | None) -> OptionForm:
    """The form of an option, to write a new one or change one."""
    build = view.build
    names = {"": "Of no system", **{item.id: item.name for item in build.systems}}
    by_system: dict[str, list[tuple[str, str]]] = {key: [] for key in names}
    for part in build.parts:
        by_system[part.system or ""].append((part.id, part.name))
    interfaces = build.index["interfaces"]
    return OptionForm(
        decision=decision,
        option=option,
        groups=tuple((names[key], tuple(parts)) for key, parts in by_system.items() if parts),
        jobs=tuple((job.id, job.name) for job in build.jobs),
        conditions=tuple((each.id, f"{interfaces[each.interface].name}: {each.name}") for each in build.conditions),
        dimensions=(("", "none"), *((each.id, f"{each.name} [{each.unit}]" if each.unit else each.name)
                                    for each in build.dimensions)),
        rows=_rows(option),
        stays="" if option is None else _stays(build, decision, option),
    )  # fmt: skip


def _rows(option: Option | None) -> tuple[GivenRow, ...]:
    given = () if option is None else option.dimensions
    rows = [
        GivenRow(
            f"given-{place}", item.dimension, item.designation or ("" if item.value is None else number(item.value)),
            "" if item.spread is None else in_field(item.spread),
        )
        for place, item in enumerate(given)
    ]  # fmt: skip
    return (*rows, *(GivenRow(f"given-{len(rows) + extra}", "", "", "") for extra in range(BLANK_ROWS)))


def _stays(build: Build, decision: Decision, option: Option) -> str:
    if len(decision.options) == 1:
        return "it is the only way; take the decision out instead"
    if decision.chosen == option.id:
        return "it is decided so; open the decision again first"
    named = any(option.id in (*rule.options, rule.requires, rule.excludes) for rule in build.rules)
    return "a rule names it; change that first" if named else ""


# changes


def decision_written(build: Build, form: Form, old: Decision | None) -> Build:
    """The build with a decision as it is on the form."""
    name = form.required("name", "Say what is to be decided, such as “Tyre size”.")
    fields: dict[str, Any] = {} if old is None else old.model_dump()
    if old is None:
        ways = tuple(dict.fromkeys(line.strip() for line in form.text("ways").splitlines() if line.strip()))
        if not ways:
            form.refuse("ways", "no way it can go was written", do="Write each way on a line of its own.")
        id_ = _fresh_decision(build, name or "decision")
        fields = {"id": id_, "options": _new_options(build, ways)}
    think, importance = form.maybe_number("think_weeks", at_least=0, at_most=520), fields.get("importance", 1)
    fields |= {
        "name": name,
        "freeze_by": form.text("freeze_by") or None,
        "think_weeks": 1 if think is None else think,
        "late_hours": form.three_point("late_hours"),
        "importance": importance,
        "note": form.text("note"),
    }
    return build if form.problems else put(build, "decisions", made(Decision, **fields))


def _fresh_decision(build: Build, name: str) -> str:
    id_ = fresh_id(build, "decisions", name)
    return fresh_id(build, "decisions", f"{id_} choice") if id_ in TAKEN else id_


def _new_options(build: Build, names: tuple[str, ...]) -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    for name in names:
        taken = _option_ids(build) | {item["id"] for item in found}
        found.append({"id": _fresh_option(taken, name), "name": name})
    return found


def _option_ids(build: Build) -> set[str]:
    return {option.id for decision in build.decisions for option in decision.options}


def _fresh_option(taken: set[str], name: str) -> str:
    """An id that no option of any decision has: rules name options by it."""
    stem = fresh_id(Build(), "decisions", name)
    id_, count = stem, 1
    while id_ in taken:
        count += 1
        id_ = f"{stem}-{count}"
    return id_


def option_written(build: Build, form: Form, decision: Decision, old: Option | None) -> Build:
    """The build with an option of a decision as it is on the form."""
    name = form.required("name", "Say which way it is, such as “Air springs”.")
    fields: dict[str, Any] = {} if old is None else old.model_dump()
    id_ = old.id if old else _fresh_option(_option_ids(build), name or "way")
    fields |= {
        "id": id_,
        "name": name,
        "parts": form.every("part"),
        "jobs": form.every("job"),
        "conditions": form.every("condition"),
        "dimensions": _given(build, form, old),
        "score": form.maybe_number("score", at_least=0, at_most=100),
        "note": form.text("note"),
    }
    if form.problems:
        return build
    options = {**{option.id: option for option in decision.options}, id_: made(Option, **fields)}
    return put(build, "decisions", decision.model_copy(update={"options": tuple(options.values())}))


def _given(build: Build, form: Form, old: Option | None) -> list[Given]:
    """The dimensions an option gives; what the form does not ask about them stays."""
    kept = {item.dimension: item for item in old.dimensions} if old else {}
    found = []
    for place in range(len(kept) + BLANK_ROWS):
        key, dimension = f"given-{place}", form.text(f"given-{place}")
        noun = build.index["dimensions"].get(dimension)
        if noun is None:
            continue
        figure: dict[str, Any] = {"value": None, "designation": form.text(f"{key}-value")}
        if noun.designates is None:
            figure = {"value": form.number(f"{key}-value"), "designation": ""}
        elif not figure["designation"]:
            form.refuse(f"{key}-value", "nothing was filled in", do="Write it as it is marked, such as M10x1.25.")
            continue
        before = kept[dimension].model_dump() if dimension in kept else {"dimension": dimension}
        found.append(made(Given, **{**before, **figure, "spread": form.maybe_number(f"{key}-spread", at_least=0)}))
    return found


def decision_out(build: Build, decision: Decision) -> Build:
    """The build without a decision, its options and how it bears on others; raises Refused if something rests on it."""
    refuse_resting(decision.name, resting(build, "decisions", decision.id, but=GO_ALONG))
    for option in decision.options:
        if any(option.id in (*rule.options, rule.requires, rule.excludes) for rule in build.rules):
            raise Refused([Problem("", "in-use", f"a rule names “{option.name}”", "", "Take the rule out first.")])
    edges = tuple(edge for edge in build.edges if decision.id not in (edge.source, edge.target))
    return without(build, "decisions", decision.id).model_copy(update={"edges": edges})


def option_out(build: Build, decision: Decision, option: Option) -> Build:
    """The build without an option; raises Refused if something stands against it."""
    stays = _stays(build, decision, option)
    if stays:
        raise Refused([Problem("", "in-use", stays.partition(";")[0], option.name[:60], "See why above.")])
    left = tuple(each for each in decision.options if each.id != option.id)
    leading = None if decision.leading == option.id else decision.leading
    return put(build, "decisions", decision.model_copy(update={"options": left, "leading": leading}))


# routes


def show_decision_form(ask: Ask, id_: str = "") -> Response:
    """The form of a decision."""
    noun: Decision | None = ask.find("decisions", id_) if id_ else None
    return ask.show("decision_form.html", decision_form(ask.view, noun), title=noun.name if noun else "A decision")


@router.get("/decisions/new")
def show_new(ask: Asked) -> Response:
    """A decision to be written."""
    return show_decision_form(ask)


@router.post("/decisions/new")
def write_new(ask: Asked) -> Response:
    """Write a decision."""
    made_here: list[str] = []

    def edit(build: Build) -> Build:
        new = decision_written(build, ask.form, None)
        made_here[:] = new.index["decisions"].keys() - build.index["decisions"].keys()
        return new

    return ask.write(
        edit, message=f"to be decided: {ask.form.text('name')[:80]}", back=lambda: f"/decisions/{made_here[0]}",
        again=show_decision_form,
    )  # fmt: skip


@router.get("/decisions/{id_}/change")
def show_change(id_: str, ask: Asked) -> Response:
    """A decision to be changed."""
    return show_decision_form(ask, id_)


@router.post("/decisions/{id_}/change")
def change(id_: str, ask: Asked) -> Response:
    """Change a decision."""
    noun: Decision = ask.find("decisions", id_)
    return ask.write(
        lambda build: decision_written(build, ask.form, build.find("decisions", id_)),
        message=f"changed: {noun.name}"[:200], back=f"/decisions/{id_}", again=lambda ask: show_decision_form(ask, id_),
    )  # fmt: skip


@router.post("/decisions/{id_}/out")
def take_out(id_: str, ask: Asked) -> Response:
    """Take a decision out."""
    noun: Decision = ask.find("decisions", id_)
    return ask.write(
        lambda build: decision_out(build, build.find("decisions", id_)), message=f"took out: {noun.name}"[:200],
        back="/decisions", again=lambda ask: show_decision_form(ask, id_),
    )  # fmt: skip


def show_option_form(ask: Ask, id_: str, option: str = "") -> Response:
    """The form of an option."""
    decision: Decision = ask.find("decisions", id_)
    noun = option_of(decision, option) if option else None
    page = option_form(ask.view, decision, noun)
    return ask.show("option_form.html", page, title=noun.name if noun else f"Another way: {decision.name}")


def option_of(decision: Decision, option: str) -> Option:
    """An option of a decision; not here if it has none of this id."""
    try:
        return decision.option(option)
    except KeyError:
        raise NotHereError("decisions", decision.id) from None


@router.get("/decisions/{id_}/ways/new")
def show_new_option(id_: str, ask: Asked) -> Response:
    """An option to be written."""
    return show_option_form(ask, id_)


@router.post("/decisions/{id_}/ways/new")
def write_option(id_: str, ask: Asked) -> Response:
    """Write an option."""
    noun: Decision = ask.find("decisions", id_)
    return ask.write(
        lambda build: option_written(build, ask.form, build.find("decisions", id_), None),
        message=f"another way: {noun.name}"[:200], back=f"/decisions/{id_}",
        again=lambda ask: show_option_form(ask, id_),
    )  # fmt: skip


@router.get("/decisions/{id_}/ways/{option}/change")
def show_option_change(id_: str, option: str, ask: Asked) -> Response:
    """An option to be changed."""
    return show_option_form(ask, id_, option)


@router.post("/decisions/{id_}/ways/{option}/change")
def change_option(id_: str, option: str, ask: Asked) -> Response:
    """Change an option."""
    noun = option_of(ask.find("decisions", id_), option)

    def edit(build: Build) -> Build:
        decision = build.find("decisions", id_)
        return option_written(build, ask.form, decision, decision.option(option))

    return ask.write(
        edit, message=f"changed: {noun.name}"[:200], back=f"/decisions/{id_}",
        again=lambda ask: show_option_form(ask, id_, option),
    )  # fmt: skip


@router.post("/decisions/{id_}/ways/{option}/out")
def take_option_out(id_: str, option: str, ask: Asked) -> Response:
    """Take an option out."""
    noun = option_of(ask.find("decisions", id_), option)

    def edit(build: Build) -> Build:
        decision = build.find("decisions", id_)
        return option_out(build, decision, decision.option(option))

    return ask.write(
        edit, message=f"took out: {noun.name}"[:200], back=f"/decisions/{id_}",
        again=lambda ask: show_option_form(ask, id_, option),
    )  # fmt: skip
