"""Work sent out: workshops with their queue, what each stage must show, what is shown and what is paid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.base import ThreePoint
from ..build.commerce import Stage, Workshop
from ..build.events import Payment, StageShown
from ..build.money import known_currencies
from ..records import StageState, WorkshopState, workshop_states
from .amounts import as_typed, typed
from .ask import Ask, Asked, NotHereError
from .desk import View, fresh_id, put
from .fetching import read_money
from .form import Form, made
from .words import day, exact, in_field

router = APIRouter()
PATH: Final = "/shelf/workshops"
SPARE_STAGES: Final = 3
MOST_STAGES: Final = 40


@dataclass(frozen=True, slots=True)
class StageFilled:
    """A stage as fields hold it."""

    at: int
    name: str
    amount: str
    shows: str


@dataclass(frozen=True, slots=True)
class WorkshopFilled:
    """A workshop as fields hold it; a new one has no id."""

    id: str
    path: str
    name: str
    country: str
    currency: str
    queue: tuple[str, str, str]
    work: tuple[str, str, str]
    booked: str
    began: str
    withdraw: str
    note: str
    stages: tuple[StageFilled, ...]


@dataclass(frozen=True, slots=True)
class StageShownHere:
    """A stage of the work: what is said of it, and what is left to write down.

    Parameters
    ----------
    shown, pay : whether the form for it stands; owed : as the amount's field is filled
    """

    key: str
    path: str
    name: str
    said: str
    photo: str
    shown: bool
    pay: bool
    owed: str
    currency: str


@dataclass(frozen=True, slots=True)
class WorkshopShown:
    """A workshop with its stages."""

    id: str
    name: str
    said: tuple[str, ...]
    stages: tuple[StageShownHere, ...]
    form: WorkshopFilled


@dataclass(frozen=True, slots=True)
class SentOutPage:
    """The page."""

    workshops: tuple[WorkshopShown, ...]
    new: WorkshopFilled


def sent_out_page(view: View) -> SentOutPage:
    """Every workshop as it stands, and a form for a new one."""
    states = workshop_states(view.build, view.as_of)
    return SentOutPage(tuple(_shown(view, state) for state in states), _filled(view, None))


def _shown(view: View, state: WorkshopState) -> WorkshopShown:
    shop = state.workshop
    path = f"{PATH}/{quote(shop.id, safe='')}"
    return WorkshopShown(
        id=shop.id,
        name=shop.name,
        said=tuple(queue_words(state)),
        stages=tuple(_stage(shop, stage, at, path) for at, stage in enumerate(state.stages)),
        form=_filled(view, shop),
    )


def queue_words(state: WorkshopState) -> Iterator[str]:
    """When its turn is, and until when the work can be taken elsewhere."""
    if state.began_on is not None:
        yield f"Begun on {day(state.began_on)}."
    elif state.turn is not None:
        yield f"Its turn is likely around {day(state.turn)}."
    if state.withdraw_by is not None:
        yield f"Take the work elsewhere if it has not begun by {day(state.withdraw_by)}."


def stage_words(state: StageState) -> str:
    """What is to be shown and paid of a stage."""
    stage = state.stage
    shows = f" showing {stage.shows}" if stage.shows else ""
    if state.paid_unseen:
        return f"{exact(state.paid)} paid before a photo showed it."
    if state.to_pay:
        part = f", of which {exact(state.paid)} is paid" if state.paid.amount else ""
        return f"Shown on {day(state.shown_on)}; {exact(stage.amount)} is to be paid{part}."
    if state.paid.amount:
        return f"Shown and paid: {exact(state.paid)}."
    if state.photo:
        return f"Shown on {day(state.shown_on)}."
    told = f"They say it is done, on {day(state.shown_on)}. " if state.shown_on else ""
    return f"{told}{exact(stage.amount)} against a photo{shows}."


def _stage(shop: Workshop, state: StageState, at: int, path: str) -> StageShownHere:
    owed = state.stage.amount - state.paid
    return StageShownHere(
        key=f"{shop.id}-{at}",
        path=f"{path}/{at}",
        name=state.stage.name,
        said=stage_words(state),
        photo=state.photo,
        shown=not state.photo,
        pay=owed.amount > 0,
        owed=typed(float(owed.amount), owed.currency),
        currency=owed.currency,
    )


def _filled(view: View, shop: Workshop | None) -> WorkshopFilled:
    stages = () if shop is None else shop.stages
    currency = stages[0].amount.currency if stages else view.currency
    rows = [StageFilled(at, item.name, as_typed(item.amount, currency), item.shows) for at, item in enumerate(stages)]
    rows += [StageFilled(at, "", "", "") for at in range(len(rows), min(MOST_STAGES, len(rows) + SPARE_STAGES))]
    return WorkshopFilled(
        id="" if shop is None else shop.id,
        path=PATH if shop is None else f"{PATH}/{quote(shop.id, safe='')}",
        name="" if shop is None else shop.name,
        country=view.build.owner.country if shop is None else shop.country,
        currency=currency,
        queue=_three(None if shop is None else shop.queue_weeks),
        work=_three(None if shop is None else shop.work_weeks),
        booked="" if shop is None or shop.booked_on is None else shop.booked_on.isoformat(),
        began="" if shop is None or shop.began_on is None else shop.began_on.isoformat(),
        withdraw="" if shop is None or shop.withdraw_on is None else shop.withdraw_on.isoformat(),
        note="" if shop is None else shop.note,
        stages=tuple(rows),
    )


def _three(points: ThreePoint | None) -> tuple[str, str, str]:
    return ("", "", "") if points is None else (in_field(points.low), in_field(points.likely), in_field(points.high))


# changes


def with_workshop(build: Build, id_: str, form: Form) -> Build:
    """The build with a workshop as typed; a new one where there is no id."""
    name, code = form.required("name"), form.text("currency", build.owner.currency).upper()
    if code not in known_currencies():
        form.refuse("currency", "not a currency code", code, "Write it as EUR or GBP.")
        return build
    told = {
        "name": name,
        "country": form.required("country", "Give two letters, as GB.").upper(),
        "queue_weeks": form.three_point("queue"),
        "work_weeks": form.three_point("work"),
        "booked_on": form.maybe_day("booked"),
        "began_on": form.maybe_day("began"),
        "withdraw_on": form.maybe_day("withdraw"),
        "stages": tuple(_typed_stages(form, code)),
        "note": form.text("note"),
    }
    if form.problems:
        return build
    return put(build, "workshops", made(Workshop, id=id_ or fresh_id(build, "workshops", name), **told))


def _typed_stages(form: Form, currency: str) -> Iterator[Stage]:
    names = set()
    for at in range(MOST_STAGES):
        name, amount = form.text(f"stage-{at}"), read_money(form, f"amount-{at}", currency, zero=True)
        if not name:
            if amount is not None:
                form.refuse(f"stage-{at}", "nothing was filled in", do="Say what is done by then.")
            continue
        if name in names:
            form.refuse(f"stage-{at}", "there is another stage of that name", name, "Give it a name of its own.")
        names.add(name)
        if amount is None:
            form.refuse(f"amount-{at}", "nothing was filled in", do="Give what is paid then; 0 if nothing.")
        else:
            yield made(Stage, name=name, amount=amount, shows=form.text(f"shows-{at}"))


def stage_shown(build: Build, shop: Workshop, stage: Stage, ask: Ask) -> Build:
    """The build with a stage shown, by a photo if one was sent."""
    when = _not_later(ask)
    photo = ask.keep_photo("photo", f"{shop.name} {stage.name}")
    if ask.form.problems:
        return build
    id_ = fresh_id(build, "events", f"shown {when.isoformat()} {shop.id} {stage.name}")
    note = ask.form.text("note")
    event = made(StageShown, id=id_, day=when, workshop=shop.id, stage=stage.name, photo=photo, note=note)
    return put(build, "events", event)


def stage_paid(build: Build, shop: Workshop, stage: Stage, ask: Ask) -> Build:
    """The build with a stage paid."""
    when, amount = _not_later(ask), read_money(ask.form, "amount", stage.amount.currency)
    booked = read_money(ask.form, "home", ask.view.currency)
    if amount is None and not ask.form.problems:
        ask.form.refuse("amount", "nothing was filled in", do="Give what was paid.")
    if ask.form.problems:
        return build
    id_ = fresh_id(build, "events", f"paid {when.isoformat()} {shop.id} {stage.name}")
    event = made(Payment, id=id_, day=when, workshop=shop.id, stage=stage.name, amount=amount, home_amount=booked,
                 what="work", note=ask.form.text("note"))  # fmt: skip
    return put(build, "events", event)


def _not_later(ask: Ask) -> date:
    when = ask.form.day("day", ask.today)
    if when > ask.today:
        ask.form.refuse("day", "after today", when.isoformat(), "Give the day it happened.")
    return when


# routes


def show_sent_out(ask: Ask) -> Response:
    """The page."""
    return ask.show("sent_out.html", sent_out_page(ask.view), title="Work sent out")


@router.get(PATH)
def show(ask: Asked) -> Response:
    """The page."""
    return show_sent_out(ask)


@router.post(PATH)
def add(ask: Asked) -> Response:
    """A new workshop."""
    message = f"workshop: {ask.form.text('name')[:80]}"
    return ask.write(lambda build: with_workshop(build, "", ask.form), message=message, back=PATH, again=show_sent_out)


@router.post(f"{PATH}/{{workshop}}")
def change(workshop: str, ask: Asked) -> Response:
    """A workshop as typed."""
    message = f"workshop: {ask.find('workshops', workshop).name}"
    return ask.write(
        lambda build: with_workshop(build, workshop, ask.form), message=message, back=PATH, again=show_sent_out
    )


@router.post(f"{PATH}/{{workshop}}/{{at}}/{{what}}")
def take_stage(workshop: str, at: str, what: str, ask: Asked) -> Response:
    """A stage was shown, or paid."""
    shop: Workshop = ask.find("workshops", workshop)
    edit = {"shown": stage_shown, "paid": stage_paid}.get(what)
    place = int(at) if at.isascii() and at.isdigit() and len(at) < 4 else len(shop.stages)
    if edit is None or place >= len(shop.stages):
        raise NotHereError("stages", at)
    stage = shop.stages[place]
    return ask.write(
        lambda build: edit(build, shop, stage, ask), message=f"{what}: {stage.name}, {shop.name}", back=PATH,
        again=show_sent_out,
    )  # fmt: skip
