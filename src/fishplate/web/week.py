"""This week: what to do next, why, and what waiting costs; each action can be done or put off on the spot."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..fit import SEE
from ..plan import Action, ActionKind, Plan
from ..plan.granted import granted
from ..store import Batch
from . import carrying_out
from .ask import Ask, Asked, NotHereError
from .behind import Behind, behind
from .carrying_out import Act, act_of
from .desk import View
from .first_steps import AWAY, FirstSteps, first_steps, steps_asked
from .questions import ANSWERED, Asking, asking, enough_for_today
from .words import amount, day, waiting

router = APIRouter()
FIRST = 7
EVENINGS = 4
REASONS = 2


@dataclass(frozen=True, slots=True)
class Line:
    """An action as it stands in the list.

    Parameters
    ----------
    path : address of its own page; anchor : its place in the list
    when : by which day, and until when it is free to wait
    reason : the first of its reasons; the others unfold
    """

    action: Action
    path: str
    anchor: str
    what: str
    when: str
    waiting: str
    reason: str


@dataclass(frozen=True, slots=True)
class Postponed:
    """An action that was put off."""

    line: Line
    until: date
    why: str


@dataclass(frozen=True, slots=True)
class Way:
    """What one way home from one supplier brings, at the door."""

    supplier: str
    route: str
    parts: int
    total: float


@dataclass(frozen=True, slots=True)
class WeekPage:
    """What to do next.

    Parameters
    ----------
    first, evenings, later : what costs most to leave, jobs for any evening, the rest
    done : actions of the plan that were carried out since it was made
    ways : money at the door by supplier and way home; unpriced : parts no offer is known for
    since : the day of the plan that `changes` are told from; steady : how near the plan stays to the last one
    steps : the first evenings, and the step that comes next
    next_step : what to tell the plan for the next kind of answer; empty once it knows all kinds
    assumptions : what is taken for granted, by kind
    """

    first: tuple[Line, ...]
    evenings: tuple[Line, ...]
    later: tuple[Line, ...]
    postponed: tuple[Postponed, ...]
    done: tuple[str, ...]
    questions: tuple[Asking, ...]
    enough: bool
    finish: str
    total: float
    ways: tuple[Way, ...]
    unpriced: tuple[str, ...]
    next_step: str
    assumptions: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]
    steps: FirstSteps
    since: str = ""
    steady: str = ""
    changes: tuple[str, ...] = ()
    shelf: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class BeforePlan:
    """What there is to say before the first plan: sums as listed, by currency, and the step that comes next."""

    sums: dict[str, str]
    steps: FirstSteps


NEXT_STEPS = {
    0: "The plan knows prices, and adds up what all costs at the door. With phases it says when to order.",
    1: "The plan knows prices and phases. With lead times and return terms of the dearest parts it says buy or wait.",
    2: "The plan knows prices, phases and lead times. With the places where parts meet it says what to measure.",
}


def week_page(
    view: View, plan: Plan, since: Sequence[Batch] = (), *, enough: bool = False, is_away: bool = False
) -> WeekPage:
    """The page of a plan.

    Parameters
    ----------
    since : what was changed after the plan was made
    enough : whether the questions of an evening were answered already
    is_away : whether the first evenings were put away
    """
    touched = carried_out(since)
    lines = [line_of(action, plan.as_of) for action in plan.actions]
    done = [line for line in lines if is_done(view, line.action, touched)]
    open_ = [line for line in lines if line not in done]
    postponed = [found for line in open_ if (found := _postponed(view, line, plan)) is not None]
    waiting_ones = {found.line.anchor for found in postponed}
    open_ = [line for line in open_ if line.anchor not in waiting_ones]
    first, rest = open_[:FIRST], open_[FIRST:]
    evenings = [line for line in rest if line.action.kind is ActionKind.DO][:EVENINGS]
    return WeekPage(
        first=tuple(first),
        evenings=tuple(evenings),
        later=tuple(line for line in rest if line not in evenings),
        postponed=tuple(postponed),
        done=tuple(line.what for line in done),
        questions=asking(view, plan),
        enough=enough,
        finish=_finish(plan),
        total=plan.purchase.total,
        ways=_ways(view.build, plan),
        unpriced=tuple(_name(view.build, "parts", part) for part in plan.purchase.unmet),
        next_step=NEXT_STEPS.get(plan.level, ""),
        assumptions=granted(plan, view.build),
        notes=plan.notes,
        steps=first_steps(view, is_away=is_away),
        since="" if plan.changed_since is None else day(plan.changed_since),
        steady="" if plan.stability is None else plan.stability.text,
        changes=tuple(change.text for change in plan.changes),
        shelf=tuple((month.text, month.later) for month in plan.shelf),
    )


def line_of(action: Action, as_of: date) -> Line:
    """An action in words."""
    free = f"; free to wait until {day(action.free_until)}" if action.free_until > max(action.by, as_of) else ""
    by = "Today" if action.by <= as_of else f"By {day(action.by)}"
    key = quote(action.key, safe="")
    return Line(
        action=action,
        path=f"/week/{action.kind}/{key}",
        anchor=f"{action.kind}-{''.join(c if c.isalnum() else '-' for c in action.key)}",
        what=action.what.rstrip("."),
        when=f"{by}{free}.",
        waiting=waiting(action),
        reason=" ".join(action.reasons[:REASONS]),
    )


def carried_out(since: Iterable[Batch]) -> frozenset[tuple[str, str]]:
    """What changes touched: kind of action and dimension measured, offer ordered, part tried or sent back."""
    found: set[tuple[str, str]] = set()
    for change in (change for batch in since for change in batch.changes):
        noun: Any = change.after if isinstance(change.after, dict) else {}
        if change.list_name == "readings" and noun:
            found.add((ActionKind.MEASURE, noun["dimension"]))
        if change.list_name == "events" and noun.get("kind") == "checked":
            found.add(("try", noun["part"]))
        if change.list_name == "events" and noun.get("kind") == "returned":
            found.add(("back", noun["part"]))
        if change.list_name == "events" and noun.get("kind") == "ordered":
            found |= {(ActionKind.BUY, line["offer"]) for line in noun.get("lines", ())}
    return frozenset(found)


def is_done(view: View, action: Action, touched: frozenset[tuple[str, str]]) -> bool:
    """Whether an action of an earlier plan needs no doing any more."""
    match action.kind:
        case ActionKind.DECIDE:
            choice = view.facts.choices.get(action.key)
            return choice is None or choice.decided
        case ActionKind.MEASURE if action.key.startswith(SEE):
            return _is_seen(view, action.key.removeprefix(SEE))
        case ActionKind.MEASURE:
            return ("measure", action.key) in touched or action.key not in view.build.index["dimensions"]
        case ActionKind.BUY:
            offers = {line.offer for line in _lines(view.plan, action)}
            return bool(offers) and all(("buy", offer) in touched for offer in offers)
        case ActionKind.COLLECT:
            return action.key not in view.build.index["collections"]
        case ActionKind.DO:
            verb, _, part = action.key.partition(":")
            return view.facts.is_done(action.key) or (verb, part) in touched


def _is_seen(view: View, condition: str) -> bool:
    """Whether a condition was seen on the vehicle, alone or with its interface, or is no longer there."""
    noun = view.build.index["conditions"].get(condition)
    return noun is None or condition in view.facts.settled_conditions or noun.interface in view.facts.settled


def _lines(plan: Plan | None, action: Action) -> list[Any]:
    return [] if plan is None else [line for line in plan.purchase.lines if line.shipment == action.key]


def _postponed(view: View, line: Line, plan: Plan) -> Postponed | None:
    """The owner's putting off of an action, if it still stands; of every offer, for an order."""
    held = {(str(item.kind), item.what): item for item in view.build.put_off if item.until > view.as_of}
    action = line.action
    keys = carrying_out.put_off_as(view.build, plan, action)
    found = [held.get((str(action.kind), key)) for key in keys]
    items = [item for item in found if item is not None]
    if not items or len(items) < len(keys):
        return None
    return Postponed(line, min(item.until for item in items), items[0].why)


def _finish(plan: Plan) -> str:
    if plan.finish.p50 is None:
        return ""
    sure = f"; four chances in five by {day(plan.finish.p80)}" if plan.finish.p80 is not None else ""
    return f"An even chance that it is finished by {day(plan.finish.p50)}{sure}."


def _ways(build: Build, plan: Plan) -> tuple[Way, ...]:
    sums: dict[tuple[str, str], list[float]] = {}
    for line in plan.purchase.lines:
        sums.setdefault((line.supplier, line.route), []).append(line.landed)
    found = [
        Way(_name(build, "suppliers", supplier), route, len(each), sum(each))
        for (supplier, route), each in sums.items()
    ]
    return tuple(sorted(found, key=lambda way: (-way.total, way.supplier)))


def _name(build: Build, list_name: str, id_: str) -> str:
    noun = build.index[list_name].get(id_)
    return str(getattr(noun, "name", id_))


# one action by itself


@dataclass(frozen=True, slots=True)
class ActionPage:
    """An action with everything behind it.

    Parameters
    ----------
    act : what can be done about it here
    weeks : loss if put off, by weeks, in words
    until : the day suggested for putting it off
    """

    line: Line
    more_reasons: tuple[str, ...]
    act: Act
    weeks: tuple[tuple[str, str], ...]
    behind: Behind
    until: date


def action_page(view: View, plan: Plan, action: Action) -> ActionPage:
    """The page of one action."""
    cost = action.cost_of_waiting
    weeks = tuple(
        (f"{length:g} week{'' if length == 1 else 's'}", _loss(loss, cost.resolution, cost.currency))
        for length, loss in cost.curve
    )
    return ActionPage(
        line=line_of(action, plan.as_of),
        more_reasons=tuple(action.reasons[REASONS:]),
        act=act_of(view, plan, action),
        weeks=weeks,
        behind=behind(view, plan, action),
        until=max(action.free_until, view.as_of + timedelta(days=7)),
    )


def _loss(loss: float, resolution: float, currency: str) -> str:
    if abs(loss) <= resolution:
        return f"less than {amount(max(1.0, resolution), currency)}"
    return amount(loss, currency) if loss > 0 else f"{amount(-loss, currency)} gained"


def found_action(view: View, kind: str, key: str) -> tuple[Plan, Action]:
    """An action of the last plan; not here if it holds none such."""
    for action in view.plan.actions if view.plan else ():
        if (str(action.kind), action.key) == (kind, key):
            assert view.plan is not None
            return view.plan, action
    raise NotHereError(kind, key)


# routes


def show_week(ask: Ask) -> Response:
    """The page, or the way in for a build with nothing in it yet."""
    view = ask.view
    if not view.build.parts and not view.build.jobs:
        return ask.show("start.html", steps_asked(ask), title="This week")
    if view.plan is None:
        return ask.show("first.html", BeforePlan(listed(view.build), steps_asked(ask)), title="This week")
    since = ask.desk.file.history(since=view.plan.revision) if view.changes_since else ()
    answered = ask.request.cookies.get(ANSWERED, "")
    enough = "more" not in ask.request.query_params and enough_for_today(answered, view.as_of)
    page = week_page(view, view.plan, since, enough=enough, is_away=AWAY in ask.request.cookies)
    return ask.show("week.html", page, title="This week")


def listed(build: Build) -> dict[str, str]:
    """What the offers add up to as listed, by currency, before any plan."""
    sums: dict[str, float] = {}
    quantity = {part.id: part.quantity for part in build.parts}
    for offer in build.offers:
        count = quantity.get(offer.part or "", 1.0) / offer.pack
        sums[offer.price.currency] = sums.get(offer.price.currency, 0.0) + float(offer.price.amount) * count
    return {code: amount(total, code) for code, total in sorted(sums.items())}


@router.get("/")
def show(ask: Asked) -> Response:
    """The page."""
    return show_week(ask)


def show_action(ask: Ask, kind: str, key: str) -> Response:
    """The page of one action, or the piece of it that unfolds in the list."""
    plan, action = found_action(ask.view, kind, key)
    page = action_page(ask.view, plan, action)
    return ask.show("action_piece.html" if ask.in_place else "action.html", page, title=page.line.what)


@router.get("/week/{kind}/{key}")
def show_one(kind: str, key: str, ask: Asked) -> Response:
    """One action."""
    return show_action(ask, kind, key)


@router.post("/week/{kind}/{key}")
def carry_out(kind: str, key: str, ask: Asked) -> Response:
    """Do what an action says: decide, write down a reading, an order, a trip, hours."""
    plan, action = found_action(ask.view, kind, key)
    edit, message = carrying_out.edit_of(ask, plan, action)
    return ask.write(edit, message=message, back="/", again=lambda ask: show_action(ask, kind, key))


@router.post("/week/{kind}/{key}/later")
def put_off(kind: str, key: str, ask: Asked) -> Response:
    """Put an action off, with a reason."""
    plan, action = found_action(ask.view, kind, key)

    def edit(build: Build) -> Build:
        until = ask.form.day("until")
        if until <= ask.today:
            ask.form.refuse("until", "not after today", until.isoformat(), "Give a later day.")
        return carrying_out.postponed(build, plan, action, until, ask.form.text("why"))

    message = f"put off: {action.what.rstrip('.')}"
    return ask.write(edit, message=message[:200], back="/", again=lambda ask: show_action(ask, kind, key))


@router.post("/week/{kind}/{key}/now")
def take_up(kind: str, key: str, ask: Asked) -> Response:
    """Take up an action that was put off."""
    plan, action = found_action(ask.view, kind, key)
    message = f"taken up again: {action.what.rstrip('.')}"
    return ask.write(
        lambda build: carrying_out.taken_up(build, plan, action), message=message[:200], back="/", again=show_week
    )
