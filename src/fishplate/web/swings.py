"""What matters in a decision, asked in plain questions; and how good each option is by it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.base import ThreePoint
from ..build.decisions import Criterion, Decision, Measure, Option, Score, Swing
from .ask import Ask, Asked
from .desk import View, put
from .form import Form, made
from .words import in_field, number

if TYPE_CHECKING:
    from ..decide.weighed import Weighing

router = APIRouter()
UNIT_OF: Final = {Measure.HOURS: "h", Measure.FINISH: "weeks"}

# What is said of a swing beside the one before it [percent].
COMPARED: Final[dict[str, tuple[str, tuple[float, float, float] | None]]] = {
    "unsaid": ("no more than it, I can't say how much", None),
    "alike": ("as much", (90, 100, 100)),
    "most": ("about three quarters as much", (60, 75, 90)),
    "half": ("about half as much", (35, 50, 65)),
    "quarter": ("about a quarter as much", (10, 25, 40)),
    "hardly": ("hardly", (0, 5, 15)),
}


@dataclass(frozen=True, slots=True)
class SwingAsked:
    """A criterion as it is asked about.

    Parameters
    ----------
    place : 1 for what matters most; "" if it does not count
    compared : key of what was said of it beside the one before it, or "as-written" for something else
    measured : whether the plan measures it
    """

    id: str
    name: str
    unit: str
    worst: str
    best: str
    place: str
    compared: str
    measured: bool


@dataclass(frozen=True, slots=True)
class SwingsPage:
    """The questions about swings."""

    decision: Decision
    swings: tuple[SwingAsked, ...]
    places: tuple[tuple[str, str], ...]
    answers: tuple[tuple[str, str], ...]
    importance: str


def unit_of(criterion: Criterion, currency: str) -> str:
    """What a criterion's scores are in, in words."""
    if criterion.measured is Measure.MONEY:
        return currency
    return UNIT_OF.get(criterion.measured, "") if criterion.measured else criterion.unit or "points"


def swings_page(view: View, decision: Decision, found: Weighing | None) -> SwingsPage:
    """The questions about swings, with what was answered.

    Parameters
    ----------
    found : the decision weighed, if that is at hand: it proposes the ends of what is measured
    """
    proposed = {} if found is None else {item.criterion: (item.worst, item.best) for item in found.criteria}
    stated = {swing.criterion: (place, swing) for place, swing in enumerate(decision.swings, 1)}
    asked = []
    for criterion in view.build.criteria:
        place, swing = stated.get(criterion.id, (None, None))
        ends = (swing.worst, swing.best) if swing else proposed.get(criterion.id, (0.0, 100.0))
        asked.append(
            SwingAsked(
                criterion.id, criterion.name, unit_of(criterion, view.currency), number(round(ends[0], 1)),
                number(round(ends[1], 1)), "" if place is None else str(place), _said(swing), bool(criterion.measured),
            )
        )  # fmt: skip
    count = len(view.build.criteria)
    order = {"1": "matters most", "2": "comes next"}
    places = (("", "does not count here"), *((str(n), order.get(str(n), f"comes {n}th" if n > 3 else "comes third"))
                                              for n in range(1, count + 1)))  # fmt: skip
    answers = [(key, words) for key, (words, _) in COMPARED.items()]
    if any(item.compared == "as-written" for item in asked):
        answers.append(("as-written", "as it was written"))
    asked.sort(key=lambda item: int(item.place or 99))
    return SwingsPage(decision, tuple(asked), places, tuple(answers), in_field(decision.importance))


def _said(swing: Swing | None) -> str:
    if swing is None or swing.compared is None:
        return "unsaid"
    spread = swing.compared.low, swing.compared.likely, swing.compared.high
    return next((key for key, (_, each) in COMPARED.items() if each == spread), "as-written")


def answered(build: Build, form: Form, decision: Decision) -> Build:
    """The build with what was answered about swings."""
    old = {swing.criterion: swing for swing in decision.swings}
    placed: dict[int, Swing] = {}
    for criterion in build.criteria:
        place = form.text(f"place-{criterion.id}")
        if not place.isdigit() or len(place) > 3:
            continue
        if int(place) in placed:
            form.refuse(f"place-{criterion.id}", "another has this place", place, "Give each a place of its own.")
            continue
        swing = _swing(form, criterion, old.get(criterion.id))
        if swing is not None:
            placed[int(place)] = swing
    in_order = [placed[place] for place in sorted(placed)]
    swings = [in_order[0].model_copy(update={"compared": None}), *in_order[1:]] if in_order else []
    importance = form.maybe_number("importance", at_least=0, at_most=1000)
    fields = {**decision.model_dump(), "swings": swings, "importance": 1 if importance is None else importance}
    return put(build, "decisions", made(Decision, **fields))


def _swing(form: Form, criterion: Criterion, old: Swing | None) -> Swing | None:
    worst, best = form.number(f"worst-{criterion.id}"), form.number(f"best-{criterion.id}")
    if worst == best:
        form.refuse(f"best-{criterion.id}", "the worst and the best are the same", str(best), "Give both ends.")
        return None
    answer = form.text(f"compared-{criterion.id}")
    spread = COMPARED.get(answer, ("", None))[1]
    said = None if spread is None else ThreePoint(low=spread[0], likely=spread[1], high=spread[2])
    if answer == "as-written" and old is not None:
        said = old.compared
    return made(Swing, criterion=criterion.id, worst=worst, best=best, compared=said)


# scores


@dataclass(frozen=True, slots=True)
class ScoreAsked:
    """A score as it is asked for, with what was scored: low, likely, high, or nothing."""

    key: str
    option: str
    points: tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class ScoredBy:
    """A criterion with a score to give for every option."""

    name: str
    unit: str
    ends: str
    scores: tuple[ScoreAsked, ...]


def scored_by(view: View, decision: Decision) -> tuple[ScoredBy, ...]:
    """Criteria by which the options of a decision are scored by hand: those that count in it, or all."""
    swings = {swing.criterion: swing for swing in decision.swings}
    found = []
    for criterion in view.build.criteria:
        if criterion.measured is None and (not swings or criterion.id in swings):
            swing = swings.get(criterion.id) or Swing(criterion=criterion.id)
            ends = f"{number(swing.worst)} is the worst there is, {number(swing.best)} the best"
            scores = tuple(
                ScoreAsked(f"{option.id}-{criterion.id}", option.name, _points(option, criterion.id))
                for option in decision.options
            )
            found.append(ScoredBy(criterion.name, unit_of(criterion, view.currency), ends, scores))
    return tuple(found)


def _points(option: Option, criterion: str) -> tuple[str, str, str]:
    for score in option.scores:
        if score.criterion == criterion:
            return in_field(score.points.low), in_field(score.points.likely), in_field(score.points.high)
    return "", "", ""


def scored(build: Build, form: Form, decision: Decision) -> Build:
    """The build with the scores of the options of a decision."""
    options = []
    for option in decision.options:
        kept = {score.criterion: score for score in option.scores}
        for criterion in build.criteria:
            name = f"{option.id}-{criterion.id}"
            if f"{name}-likely" in form.fields:
                kept.pop(criterion.id, None)
                points = form.three_point(name)
                if points is not None:
                    kept[criterion.id] = Score(criterion=criterion.id, points=points)
        options.append(option.model_copy(update={"scores": tuple(kept.values())}))
    return put(build, "decisions", decision.model_copy(update={"options": tuple(options)}))


# routes


def show_swings(ask: Ask, id_: str) -> Response:
    """The questions about swings."""
    decision: Decision = ask.find("decisions", id_)
    found = ask.desk.weighings.of(ask.view, id_).value
    return ask.show("swings.html", swings_page(ask.view, decision, found), title=f"What matters: {decision.name}")


@router.get("/decisions/{id_}/swings")
def show(id_: str, ask: Asked) -> Response:
    """The questions about swings."""
    return show_swings(ask, id_)


@router.post("/decisions/{id_}/swings")
def answer(id_: str, ask: Asked) -> Response:
    """Write down what matters in a decision."""
    decision: Decision = ask.find("decisions", id_)
    return ask.write(
        lambda build: answered(build, ask.form, build.find("decisions", id_)),
        message=f"what matters: {decision.name}"[:200], back=f"/decisions/{id_}",
        again=lambda ask: show_swings(ask, id_),
    )  # fmt: skip


def show_scores(ask: Ask, id_: str) -> Response:
    """The scores of the options."""
    decision: Decision = ask.find("decisions", id_)
    page = {"decision": decision, "by": scored_by(ask.view, decision)}
    return ask.show("scores.html", page, title=f"Scores: {decision.name}")


@router.get("/decisions/{id_}/scores")
def scores(id_: str, ask: Asked) -> Response:
    """The scores of the options."""
    return show_scores(ask, id_)


@router.post("/decisions/{id_}/scores")
def write_scores(id_: str, ask: Asked) -> Response:
    """Write down the scores of the options."""
    decision: Decision = ask.find("decisions", id_)
    return ask.write(
        lambda build: scored(build, ask.form, build.find("decisions", id_)),
        message=f"scores: {decision.name}"[:200], back=f"/decisions/{id_}", again=lambda ask: show_scores(ask, id_),
    )  # fmt: skip
