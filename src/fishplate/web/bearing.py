"""How decisions bear on each other, which options go together, and what matters to the owner: written by hand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Problem, Refused
from ..build.decisions import Criterion, Edge, Measure, Rule, Strength
from ..decide.vehicle import rule_barriers
from .ask import Ask, Asked
from .desk import View, fresh_id, put, without
from .form import Form, made
from .resting import refuse_resting, resting

router = APIRouter()
Options = tuple[tuple[str, str], ...]
STRENGTHS: Final = (
    ("fixes", "fixes it: it can't be chosen before"),
    ("limits", "limits it: some ways fall away"),
    ("nudges", "nudges it: it tips the scale"),
)
KINDS: Final = (("requires", "needs"), ("excludes", "does not go with"))
MEASURES: Final = (
    ("", "scored by you"),
    ("money", "money at the door, from the plan"),
    ("hours", "own hours, from the plan"),
    ("finish", "weeks until it is finished, from the plan"),
)


@dataclass(frozen=True, slots=True)
class Listed:
    """Something that stands written, with what its button names it by."""

    text: str
    key: str


@dataclass(frozen=True, slots=True)
class BearingPage:
    """How decisions bear on each other, and rules."""

    edges: tuple[Listed, ...]
    rules: tuple[Listed, ...]
    decisions: Options
    options: Options


def bearing_page(view: View) -> BearingPage:
    """The page of how decisions bear on each other."""
    build = view.build
    names = {decision.id: decision.name for decision in build.decisions}
    return BearingPage(
        edges=tuple(
            Listed(f"“{names[edge.source]}” {edge.strength.value} “{names[edge.target]}”{_why(edge.why)}",
                   f"{edge.source} {edge.target}")
            for edge in build.edges
        ),
        rules=tuple(Listed(_rule_words(build, rule), rule_key(rule)) for rule in build.rules),
        decisions=tuple(names.items()),
        options=tuple((option.id, f"{decision.name}: {option.name}")
                      for decision in build.decisions for option in decision.options),
    )  # fmt: skip


def _why(why: str) -> str:
    return f": {why[:1].lower()}{why[1:].rstrip('.')}." if why else "."


def _rule_words(build: Build, rule: Rule) -> str:
    alone = build.model_copy(update={"rules": (rule,)})
    return " ".join(barrier.text for barrier in rule_barriers(alone))


def rule_key(rule: Rule) -> str:
    """Names a rule by the options it is about."""
    return " ".join((*rule.options, "requires", rule.requires or "", "excludes", rule.excludes or ""))


def edge_written(build: Build, form: Form) -> Build:
    """The build with how one decision bears on another; in place of what stood of the same two."""
    known = tuple(build.index["decisions"])
    source, target = form.choice("source", known), form.choice("target", known)
    strength = form.choice("strength", [strength.value for strength in Strength])
    if source and source == target:
        form.refuse("target", "a decision does not bear on itself", do="Choose two.")
    if form.problems:
        return build
    edge = made(Edge, source=source, target=target, strength=strength, why=form.text("why"))
    kept = [each for each in build.edges if (each.source, each.target) != (source, target)]
    return build.model_copy(update={"edges": (*kept, edge)})


def rule_written(build: Build, form: Form) -> Build:
    """The build with a rule between options; in place of the same one with another reason."""
    known = [option.id for decision in build.decisions for option in decision.options]
    option, other = form.choice("option", known), form.choice("other", known)
    kind = form.choice("kind", [key for key, _ in KINDS])
    also = form.text("also")
    if also and also not in known:
        form.refuse("also", "not one of the choices", also, "Choose one.")
    if option and other in (option, also):
        form.refuse("other", "the same on both sides", do="Choose another.")
    if form.problems:
        return build
    rule = made(Rule, option=option, also=(also,) if also else (), why=form.text("why"), **{kind: other})
    kept = [each for each in build.rules if rule_key(each) != rule_key(rule)]
    return build.model_copy(update={"rules": (*kept, rule)})


def edge_out(build: Build, key: str) -> Build:
    """The build without how one decision bears on another."""
    return build.model_copy(update={"edges": tuple(e for e in build.edges if f"{e.source} {e.target}" != key)})


def rule_out(build: Build, key: str) -> Build:
    """The build without a rule."""
    return build.model_copy(update={"rules": tuple(rule for rule in build.rules if rule_key(rule) != key)})


def criterion_written(build: Build, form: Form, old: Criterion | None) -> Build:
    """The build with something that matters."""
    name = form.required("name", "Say what matters, such as “Lasts on salted roads”.")
    measured = form.text("measured")
    if measured and measured not in [measure.value for measure in Measure]:
        form.refuse("measured", "not one of the choices", measured, "Choose one.")
    weight = form.maybe_number("weight", at_least=0, at_most=1e6)
    if form.problems:
        return build
    id_ = old.id if old else fresh_id(build, "criteria", name)
    noun = made(
        Criterion, id=id_, name=name, weight=1 if weight is None else weight, unit=form.text("unit"),
        measured=measured or None,
    )  # fmt: skip
    return put(build, "criteria", noun)


def criterion_out(build: Build, criterion: Criterion) -> Build:
    """The build without something that mattered; raises Refused if a decision weighs it."""
    refuse_resting(criterion.name, resting(build, "criteria", criterion.id))
    return without(build, "criteria", criterion.id)


# routes


def show_bearing(ask: Ask) -> Response:
    """How decisions bear on each other."""
    page = {"it": bearing_page(ask.view), "strengths": STRENGTHS, "kinds": KINDS}
    return ask.show("bearing.html", page, title="How decisions bear on each other")


@router.get("/decisions/bearing")
def show(ask: Asked) -> Response:
    """How decisions bear on each other."""
    return show_bearing(ask)


@router.post("/decisions/bearing/edge")
def write_edge(ask: Asked) -> Response:
    """Write how one decision bears on another."""
    return ask.write(
        lambda build: edge_written(build, ask.form), message="how a decision bears on another",
        back="/decisions/bearing", again=show_bearing,
    )  # fmt: skip


@router.post("/decisions/bearing/rule")
def write_rule(ask: Asked) -> Response:
    """Write a rule between options."""
    return ask.write(
        lambda build: rule_written(build, ask.form), message="which ways go together", back="/decisions/bearing",
        again=show_bearing,
    )  # fmt: skip


@router.post("/decisions/bearing/out")
def take_out(ask: Asked) -> Response:
    """Take out how decisions bear on each other, or a rule."""

    def edit(build: Build) -> Build:
        edge, rule = ask.form.text("edge"), ask.form.text("rule")
        new = edge_out(build, edge) if edge else rule_out(build, rule)
        if new == build:
            raise Refused([Problem("", "not-there", "that does not stand here any more", "", "Look again.")])
        return new

    return ask.write(edit, message="took out a rule between decisions", back="/decisions/bearing", again=show_bearing)


def show_matters(ask: Ask) -> Response:
    """What matters to the owner."""
    page = {"criteria": ask.view.build.criteria, "measures": MEASURES}
    return ask.show("matters.html", page, title="What matters to you")


@router.get("/decisions/matters")
def matters(ask: Asked) -> Response:
    """What matters to the owner."""
    return show_matters(ask)


@router.post("/decisions/matters/new")
def write_criterion(ask: Asked) -> Response:
    """Write something that matters."""
    return ask.write(
        lambda build: criterion_written(build, ask.form, None), message="something that matters",
        back="/decisions/matters", again=show_matters,
    )  # fmt: skip


@router.post("/decisions/matters/{id_}/change")
def change_criterion(id_: str, ask: Asked) -> Response:
    """Change something that matters."""
    noun: Criterion = ask.find("criteria", id_)
    return ask.write(
        lambda build: criterion_written(build, ask.form, noun), message=f"changed: {noun.name}"[:200],
        back="/decisions/matters", again=show_matters,
    )  # fmt: skip


@router.post("/decisions/matters/{id_}/out")
def take_criterion_out(id_: str, ask: Asked) -> Response:
    """Take out something that mattered."""
    noun: Criterion = ask.find("criteria", id_)
    return ask.write(
        lambda build: criterion_out(build, noun), message=f"took out: {noun.name}"[:200], back="/decisions/matters",
        again=show_matters,
    )  # fmt: skip
