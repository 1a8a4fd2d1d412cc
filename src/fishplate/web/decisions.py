"""Decisions: in the order to take them, what each option brings, and what a choice changes before it is made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from ..build import Build
from ..build.decisions import Decision
from ..impact import Tweak
from ..store import with_reasons
from . import bearing, decision_forms, swings, whole
from .ask import MOST_WHY, Ask, Asked, NotHereError
from .consequences import Consequences, Turn, leaning, opened, turned
from .deciding import Decided, Known, decided_words, decision_page, decisions_page
from .desk import View, decision_order
from .kept import Standing
from .loosened import Loose, kept_lines
from .side_by_side import Plans, both_plans
from .trials import Trial, TrialKey
from .weighing import Way, ways

if TYPE_CHECKING:
    from ..decide import DecisionReport
    from ..plan import Situation

router = APIRouter()
# pages of their own come before those of a decision
for part in (bearing, whole, decision_forms, swings):
    router.include_router(part.router)


@dataclass(frozen=True, slots=True)
class TurnPage:
    """A way a decision is to go, with what it changes.

    Parameters
    ----------
    way : the option with what it brings; None if the decision is to be open again
    changes : what it changes, as far as that is worked out; opens : what no longer waits for the decision
    standing : whether it was decided so already; can_lean : whether the plan can go by it until it is decided
    plans : two plans side by side, if they are worked out
    path : where what it costs on later days is asked for; later : that, None where nothing is given up
    """

    decision: Decision
    decided: Decided | None
    way: Way | None
    changes: Standing[Consequences]
    opens: tuple[Loose, ...]
    standing: bool
    can_lean: bool
    plans: Plans
    path: str
    later: Standing[tuple[str, ...]] | None


def plans_of(view: View, turn: Turn, trial: Trial | None, *, is_busy: bool) -> Plans:
    """How far the two plans of a turn are.

    Parameters
    ----------
    is_busy : whether the plan of the build as it is is being worked out
    """
    return both_plans(view, f"{turn.path}/plans", lambda: turned(view.build, turn, view.as_of), trial, is_busy=is_busy)


# routes


ORDER_SECONDS: Final = 20.0
SHOWN_SECONDS: Final = 0.1  # how long the page of all waits for their order, before it says that it comes


def report_of(ask: Ask) -> DecisionReport:
    """The order of decisions of the build as it stands."""
    found = ask.desk.order.of(ask.view, patience_seconds=ORDER_SECONDS)
    # another change may have come between
    return found.value if found.value is not None and found.current else decision_order(ask.view)


def situation_of(ask: Ask) -> Situation:
    """Rules and rates of the day."""
    return ask.view.once(_situation)


def _situation(view: View) -> Situation:
    from ..wiring import situation

    return situation(view.build, view.as_of)


@router.get("/decisions")
def show(ask: Asked) -> Response:
    """The page, or how far the order of decisions is."""
    if ask.request.query_params.get("again"):
        ask.desk.order.again()
    found = ask.desk.order.of(ask.view, patience_seconds=SHOWN_SECONDS)
    if found.value is None or not found.current:
        return ask.show("decisions_waiting.html", found, title="Decisions")
    return ask.show("decisions.html", decisions_page(ask.view, found.value), title="Decisions")


def show_decision(ask: Ask, id_: str) -> Response:
    """The page of one decision."""
    decision = ask.find("decisions", id_)
    known = Known(
        report_of(ask),
        ask.desk.verdicts.of(ask.view),
        ask.desk.weighings.of(ask.view, id_),
        ask.desk.dates.of(ask.view),
    )
    page = decision_page(ask.view, decision, situation_of(ask), known)
    return ask.show("decision.html", page, title=decision.name)


@router.get("/decisions/{id_}")
def show_one(id_: str, ask: Asked) -> Response:
    """One decision."""
    return show_decision(ask, id_)


def turn_of(ask: Ask, id_: str, option: str | None) -> Turn:
    """A turn by its ids; not here if there is no such option, or nothing to open again."""
    decision: Decision = ask.find("decisions", id_)
    if option is None:
        if not ask.view.facts.choices[id_].decided:
            raise NotHereError("decisions", id_)
        return Turn(decision, None)
    try:
        return Turn(decision, decision.option(option))
    except KeyError:
        raise NotHereError("decisions", id_) from None


def trial_key(view: View, turn: Turn) -> TrialKey:
    """Names the trial of a turn."""
    return TrialKey(view.revision, view.as_of, turn.path)


def plans_now(ask: Ask, turn: Turn) -> Plans:
    """How far the two plans of a turn are now."""
    trial = ask.desk.trials.of(trial_key(ask.view, turn))
    return plans_of(ask.view, turn, trial, is_busy=ask.desk.is_busy)


def show_turn(ask: Ask, turn: Turn) -> Response:
    """The page of a turn."""
    view, decision = ask.view, turn.decision
    situation, choice = situation_of(ask), view.facts.choices[decision.id]
    if ask.request.query_params.get("again"):
        ask.desk.later.again(_tweaks(turn))
    result = next(item for item in report_of(ask).decisions if item.decision == decision.id)
    standing = turn.option is not None and choice.decided and choice.option.id == turn.option.id
    every = {way.id: way for way in ways(view, decision, situation)} if turn.option is not None else {}
    page = TurnPage(
        decision=decision,
        decided=decided_words(decision) if choice.decided else None,
        way=None if turn.option is None else every[turn.option.id],
        changes=ask.desk.turns.of(view, turn.key),
        opens=opened(view, turn, result),
        standing=standing,
        can_lean=turn.option is not None and not choice.decided and decision.leading != turn.option.id,
        plans=plans_now(ask, turn),
        path=turn.path,
        later=None if standing or turn.option is None else ask.desk.later.of(view, _tweaks(turn)),
    )
    title = f"Open again: {decision.name}" if turn.option is None else f"{decision.name}: {turn.option.name}"
    return ask.show("turn.html", page, title=title)


def _tweaks(turn: Turn) -> tuple[Tweak, ...]:
    if turn.option is None:
        return (Tweak("reopen", turn.decision.id),)
    return (Tweak("choose", turn.decision.id, turn.option.id),)


def take_turn(ask: Ask, turn: Turn) -> Response:
    """Take a turn, with its reason and day."""
    name = turn.decision.name
    words = f"open again: {name}" if turn.option is None else f"decided: {name}: {turn.option.name}"
    found = ask.desk.turns.of(ask.view, turn.key)
    came_of_it = kept_lines(found.value.told) if found.value is not None and found.current else ()

    def edit(build: Build) -> Build:
        on = ask.form.day("day", ask.today)
        if on > ask.today:
            ask.form.refuse("day", "after today", on.isoformat(), "Give the day it was decided.")
        return turned(build, turn, on, ask.form.text("why"))

    return ask.write(
        edit, message=with_reasons(words[:200], ask.form.text("why")[:MOST_WHY], came_of_it),
        back=f"/decisions/{turn.decision.id}", again=lambda ask: show_turn(ask, turn),
    )  # fmt: skip


def start_plans(ask: Ask, turn: Turn) -> Response:
    """Work out the plan as it would be."""
    view = ask.view
    standing = view.plan if view.is_current else None
    ask.desk.trials.start(trial_key(view, turn), turned(view.build, turn, view.as_of), standing)
    return show_plans(ask, turn)


def show_plans(ask: Ask, turn: Turn) -> Response:
    """The two plans as a piece of the page, or the page."""
    if ask.in_place:
        return ask.show("plans.html", plans_now(ask, turn), title="Two plans")
    return RedirectResponse(turn.path, status_code=303)


@router.get("/decisions/{id_}/options/{option}")
def show_option(id_: str, option: str, ask: Asked) -> Response:
    """What taking an option changes."""
    return show_turn(ask, turn_of(ask, id_, option))


@router.post("/decisions/{id_}/options/{option}")
def decide(id_: str, option: str, ask: Asked) -> Response:
    """Take an option."""
    return take_turn(ask, turn_of(ask, id_, option))


@router.post("/decisions/{id_}/options/{option}/lean")
def lean(id_: str, option: str, ask: Asked) -> Response:
    """Plan with an option until the decision is taken."""
    turn = turn_of(ask, id_, option)
    assert turn.option is not None
    taken = turn.option
    return ask.write(
        lambda build: leaning(build, turn.decision, taken),
        message=f"leaning to {taken.name}: {turn.decision.name}"[:200],
        back=f"/decisions/{id_}",
        again=lambda ask: show_turn(ask, turn),
    )


@router.get("/decisions/{id_}/options/{option}/plans")
def option_plans(id_: str, option: str, ask: Asked) -> Response:
    """Two plans side by side, as far as they are."""
    return show_plans(ask, turn_of(ask, id_, option))


@router.post("/decisions/{id_}/options/{option}/plans")
def plan_option(id_: str, option: str, ask: Asked) -> Response:
    """Plan with an option taken, beside the plan as it is."""
    return start_plans(ask, turn_of(ask, id_, option))


@router.post("/decisions/{id_}/options/{option}/plans/stop")
def stop_option(id_: str, option: str, ask: Asked) -> Response:
    """Give up planning with an option taken."""
    turn = turn_of(ask, id_, option)
    ask.desk.trials.stop()
    return show_plans(ask, turn)


@router.post("/decisions/{id_}/options/{option}/later/stop")
def stop_later(id_: str, option: str, ask: Asked) -> Response:
    """Give up working out what taking an option costs on later days."""
    turn = turn_of(ask, id_, option)
    ask.desk.later.stop(_tweaks(turn))
    return show_later(ask, turn)


@router.get("/decisions/{id_}/options/{option}/later")
def option_later(id_: str, option: str, ask: Asked) -> Response:
    """What taking an option costs on later days, as far as that is known."""
    return show_later(ask, turn_of(ask, id_, option))


def show_later(ask: Ask, turn: Turn) -> Response:
    """What it costs later as a piece of the page, or the page."""
    if ask.in_place:
        page = {"later": ask.desk.later.of(ask.view, _tweaks(turn)), "path": turn.path}
        return ask.show("later.html", page, title="Later")
    return RedirectResponse(turn.path, status_code=303)


@router.get("/decisions/{id_}/reopen")
def show_reopening(id_: str, ask: Asked) -> Response:
    """What opening a decision again changes."""
    return show_turn(ask, turn_of(ask, id_, None))


@router.post("/decisions/{id_}/reopen")
def reopen(id_: str, ask: Asked) -> Response:
    """Open a decision again."""
    return take_turn(ask, turn_of(ask, id_, None))


@router.get("/decisions/{id_}/reopen/plans")
def reopening_plans(id_: str, ask: Asked) -> Response:
    """Two plans side by side, as far as they are."""
    return show_plans(ask, turn_of(ask, id_, None))


@router.post("/decisions/{id_}/reopen/plans")
def plan_reopening(id_: str, ask: Asked) -> Response:
    """Plan with the decision open again, beside the plan as it is."""
    return start_plans(ask, turn_of(ask, id_, None))


@router.post("/decisions/{id_}/reopen/plans/stop")
def stop_reopening(id_: str, ask: Asked) -> Response:
    """Give up planning with the decision open again."""
    turn = turn_of(ask, id_, None)
    ask.desk.trials.stop()
    return show_plans(ask, turn)
