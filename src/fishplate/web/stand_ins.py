"""Stand-ins and states of the vehicle, written by hand: what settles dimensions, what readings are taken against."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Facts
from ..build.interfaces import StandIn, VehicleState
from ..build.words import joined
from .ask import Ask, Asked
from .desk import View, fresh_id, put, without
from .form import Form, made
from .resting import refuse_resting, resting
from .words import day

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Held:
    """A stand-in, or a state, with its form.

    Parameters
    ----------
    fine : what there is to say of it; stays : what rests on it, so that it can't be taken out
    """

    noun: StandIn | VehicleState
    fine: str
    stays: str


@dataclass(frozen=True, slots=True)
class StandInsPage:
    """Every stand-in, and what one can settle.

    Parameters
    ----------
    one : the one whose form is shown; None for the list and a form for a new one
    """

    held: tuple[Held, ...]
    one: Held | None
    dimensions: tuple[tuple[str, str], ...]
    currency: str


def stand_ins_page(view: View, one: str = "") -> StandInsPage:
    """The page of stand-ins, or of one of them."""
    build = view.build
    held = tuple(
        Held(item, _settles(build, item), ", ".join(resting(build, "stand_ins", item.id))) for item in build.stand_ins
    )
    ordered = sorted(build.dimensions, key=lambda item: item.name.casefold())
    alone = next((item for item in held if item.noun.id == one), None)
    return StandInsPage(held, alone, tuple((item.id, item.name) for item in ordered), view.currency)


def _settles(build: Build, item: StandIn) -> str:
    names = joined([f"“{build.find('dimensions', id_).name}”" for id_ in item.dimensions])
    cost = f", {item.cost:g} {build.owner.currency}" if item.cost else ""
    return f"Settles {names or 'nothing yet'}. It takes {item.hours:g} h{cost}."


def states_page(view: View) -> tuple[Held, ...]:
    """The states of the vehicle."""
    build = view.build
    return tuple(
        Held(item, _since(view.facts, item), ", ".join(resting(build, "states", item.id))) for item in build.states
    )


def _since(facts: Facts, state: VehicleState) -> str:
    changed = facts.state_changed.get(state.id)
    return "Nothing has changed it." if changed is None else f"Changed on {day(changed)}."


# changes


def stand_in_written(build: Build, form: Form, *, old: StandIn | None = None) -> Build:
    """The build with a stand-in as it is on the form."""
    name = form.required("name", "Say what it is, such as “Ply disc cut to the tyre”.")
    told = form.every("dimension")
    if not told:
        form.refuse("dimension", "nothing is ticked", do="Tick what it settles.")
    hours, cost = form.maybe_number("hours", at_least=0), form.maybe_number("cost", at_least=0)
    spread = form.maybe_number("spread", at_least=0)
    if form.problems:
        return build
    id_ = old.id if old else fresh_id(build, "stand_ins", name)
    noun = made(StandIn, id=id_, name=name, dimensions=told, hours=1 if hours is None else hours, cost=cost or 0,
                spread=spread, note=form.text("note"))  # fmt: skip
    return put(build, "stand_ins", noun)


def state_written(build: Build, form: Form, *, old: VehicleState | None = None) -> Build:
    """The build with a state of the vehicle as it is on the form."""
    name = form.required("name", "Say how the vehicle stands, such as “On its springs, old engine in”.")
    if not name:
        return build
    id_ = old.id if old else fresh_id(build, "states", name)
    return put(build, "states", made(VehicleState, id=id_, name=name, note=form.text("note")))


def taken_out(build: Build, list_name: str, noun: StandIn | VehicleState) -> Build:
    """The build without a stand-in or a state; raises Refused if something rests on it."""
    refuse_resting(noun.name, resting(build, list_name, noun.id))
    return without(build, list_name, noun.id)


# routes


def show_stand_ins(ask: Ask, one: str = "") -> Response:
    """Stand-ins, or one of them."""
    return ask.show("stand_ins.html", stand_ins_page(ask.view, one), title="Stand-ins")


def show_states(ask: Ask) -> Response:
    """States of the vehicle."""
    return ask.show("states.html", states_page(ask.view), title="How the vehicle stands")


@router.get("/interfaces/stand-ins")
def stand_ins(ask: Asked) -> Response:
    """Stand-ins."""
    return show_stand_ins(ask)


@router.post("/interfaces/stand-ins")
def write_stand_in(ask: Asked) -> Response:
    """Write a stand-in."""
    return ask.write(
        lambda build: stand_in_written(build, ask.form), message=f"a stand-in: {ask.form.text('name')[:80]}",
        back="/interfaces/stand-ins", again=show_stand_ins,
    )  # fmt: skip


@router.get("/interfaces/stand-ins/{id_}")
def stand_in(id_: str, ask: Asked) -> Response:
    """One stand-in."""
    ask.find("stand_ins", id_)
    return show_stand_ins(ask, id_)


@router.post("/interfaces/stand-ins/{id_}")
def change_stand_in(id_: str, ask: Asked) -> Response:
    """Change a stand-in."""
    noun = ask.find("stand_ins", id_)
    return ask.write(
        lambda build: stand_in_written(build, ask.form, old=noun), message=f"changed: {noun.name}",
        back="/interfaces/stand-ins", again=lambda ask: show_stand_ins(ask, id_),
    )  # fmt: skip


@router.post("/interfaces/stand-ins/{id_}/out")
def take_stand_in_out(id_: str, ask: Asked) -> Response:
    """Take a stand-in out."""
    noun = ask.find("stand_ins", id_)
    return ask.write(
        lambda build: taken_out(build, "stand_ins", noun), message=f"took out the stand-in: {noun.name}",
        back="/interfaces/stand-ins", again=lambda ask: show_stand_ins(ask, id_),
    )  # fmt: skip


@router.get("/interfaces/states")
def states(ask: Asked) -> Response:
    """States of the vehicle."""
    return show_states(ask)


@router.post("/interfaces/states")
def write_state(ask: Asked) -> Response:
    """Write a state of the vehicle."""
    return ask.write(
        lambda build: state_written(build, ask.form), message=f"how the vehicle stands: {ask.form.text('name')[:80]}",
        back="/interfaces/states", again=show_states,
    )  # fmt: skip


@router.post("/interfaces/states/{id_}")
def change_state(id_: str, ask: Asked) -> Response:
    """Change a state of the vehicle."""
    noun = ask.find("states", id_)
    return ask.write(
        lambda build: state_written(build, ask.form, old=noun), message=f"changed: {noun.name}",
        back="/interfaces/states", again=show_states,
    )  # fmt: skip


@router.post("/interfaces/states/{id_}/out")
def take_state_out(id_: str, ask: Asked) -> Response:
    """Take a state of the vehicle out."""
    noun = ask.find("states", id_)
    return ask.write(
        lambda build: taken_out(build, "states", noun), message=f"took out how the vehicle stands: {noun.name}",
        back="/interfaces/states", again=show_states,
    )  # fmt: skip
