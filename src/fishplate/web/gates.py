"""Gates: where the build stops and looks, which stand open, what each holds; written, changed and taken out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, get_args

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.jobs import Gate, GateKind
from .ask import Ask, Asked
from .desk import View, fresh_id, put, without
from .form import Form, made
from .job_forms import JobGroup, jobs_by_phase

if TYPE_CHECKING:
    from ..work.gates import GateState

router = APIRouter()
PATH: Final = "/schedule/gates"
KINDS: Final[dict[GateKind, tuple[str, str]]] = {
    "re-plan": (
        "Look again",
        "What the strip brings to light can change what is worth doing.",
    ),
    "dry-build": ("Dry build", "All of it stands together once, bare, before anything is painted or sealed."),
    "last-welds": ("Last welds", "A list of what is still to be welded, closed before paint comes near."),
    "tacked": ("Tacked until proved", "Nothing is welded out before the places named were seen to be right."),
}


@dataclass(frozen=True, slots=True)
class Named:
    """Something a gate names, and its page."""

    path: str
    name: str


@dataclass(frozen=True, slots=True)
class GateShown:
    """A gate as it stands.

    Parameters
    ----------
    said : whether it is open, and what for; waits, unproved, welds : what it still waits for
    strays : jobs with welding that should come before it and do not
    """

    id: str
    name: str
    kind: str
    open: bool
    said: str
    waits: tuple[Named, ...]
    unproved: tuple[Named, ...]
    welds: tuple[Named, ...]
    strays: tuple[Named, ...]
    holds: tuple[Named, ...]


@dataclass(frozen=True, slots=True)
class GatesPage:
    """Every gate, those that hold something first; usual : kinds there is none of yet, with what they are for."""

    gates: tuple[GateShown, ...]
    usual: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class GateForm:
    """The form of a gate.

    Parameters
    ----------
    gate : as it is, or as it is proposed; old : whether it is there already
    """

    gate: Gate
    old: bool
    kinds: tuple[tuple[str, str, str], ...]
    groups: tuple[JobGroup, ...]
    interfaces: tuple[tuple[str, str], ...]


def gates_page(view: View) -> GatesPage:
    """Every gate of a build."""
    from ..work.gates import gate_states

    shown = [_shown(view.build, state) for state in gate_states(view.build, view.facts)]
    shown.sort(key=lambda gate: (gate.open, not gate.holds))
    there = {gate.kind for gate in view.build.gates}
    return GatesPage(tuple(shown), tuple((kind, *words) for kind, words in KINDS.items() if kind not in there))


def _shown(build: Build, state: GateState) -> GateShown:
    gate: Gate = build.find("gates", state.gate)
    others = tuple(job for job in state.welds if job not in state.jobs)
    places = _named(build, "interfaces", state.interfaces)
    waits, welds, strays, holds = (
        _named(build, "jobs", ids) for ids in (state.jobs, others, state.after_it, state.holds)
    )
    said = _said(gate, state)
    return GateShown(gate.id, gate.name, KINDS[gate.kind][0], state.open, said, waits, places, welds, strays, holds)


def _named(build: Build, list_name: str, ids: tuple[str, ...]) -> tuple[Named, ...]:
    return tuple(Named(f"/{list_name}/{id_}", build.find(list_name, id_).name) for id_ in ids)


def _said(gate: Gate, state: GateState) -> str:
    if not state.open:
        count = len(state.holds)
        held = "nothing that is still to be done" if not count else "one job" if count == 1 else f"{count} jobs"
        return f"Shut. It holds {held}."
    if gate.kind == "re-plan" and state.holds:
        return "Open. Look at the plan again before going on."
    return "Open."


def gate_form(view: View, gate: Gate, *, old: bool) -> GateForm:
    """The form of a gate, to write a new one or change one."""
    return GateForm(
        gate=gate,
        old=old,
        kinds=tuple((kind, *words) for kind, words in KINDS.items()),
        groups=jobs_by_phase(view.build),
        interfaces=tuple((item.id, item.name) for item in view.build.interfaces),
    )


# changes


def gate_written(build: Build, form: Form, old: Gate | None) -> Build:
    """The build with a gate as it is on the form."""
    name = form.required("name", "Say where the build stops and looks, such as “Before anything is painted”.")
    kind = form.choice("kind", get_args(GateKind))
    fields = {"after": form.every("after"), "interfaces": form.every("interface"), "before": form.every("before")}
    if not (fields["after"] or fields["interfaces"]):
        form.refuse("after", "it waits for nothing", do="Tick the jobs or the places it waits for.")
    if not fields["before"]:
        form.refuse("before", "it holds nothing", do="Tick the jobs that wait for it.")
    if form.problems:
        return build
    id_ = old.id if old else fresh_id(build, "gates", name)
    id_ = fresh_id(build, "gates", "gate") if id_ == "new" else id_
    return put(build, "gates", made(Gate, id=id_, name=name, kind=kind, **fields))


# routes


@router.get(PATH)
def show(ask: Asked) -> Response:
    """Every gate."""
    return ask.show("gates.html", gates_page(ask.view), title="Gates")


def show_gate_form(ask: Ask, id_: str = "") -> Response:
    """The form of a gate, or of one of a kind as it mostly stands."""
    from ..work.gates import gate_of_kind

    if id_:
        gate: Gate = ask.find("gates", id_)
        return ask.show("gate_form.html", gate_form(ask.view, gate, old=True), title=gate.name)
    asked = ask.request.query_params.get("kind", "")
    kind = next((each for each in KINDS if each == asked), None)
    empty = Gate(id="new", name="A gate", kind="re-plan")
    usual = gate_of_kind(ask.view.build, ask.view.facts, kind) if kind else empty.model_copy(update={"name": ""})
    return ask.show("gate_form.html", gate_form(ask.view, usual, old=False), title="A gate")


@router.get(f"{PATH}/new")
def show_new(ask: Asked) -> Response:
    """A gate to be written."""
    return show_gate_form(ask)


@router.post(f"{PATH}/new")
def write_new(ask: Asked) -> Response:
    """Write a gate."""
    return ask.write(
        lambda build: gate_written(build, ask.form, None), message=f"a gate: {ask.form.text('name')[:150]}",
        back=PATH, again=show_gate_form,
        verdicts=True,
    )  # fmt: skip


@router.get(f"{PATH}/{{id_}}")
def show_change(id_: str, ask: Asked) -> Response:
    """A gate to be changed."""
    return show_gate_form(ask, id_)


@router.post(f"{PATH}/{{id_}}")
def change(id_: str, ask: Asked) -> Response:
    """Change a gate."""
    gate: Gate = ask.find("gates", id_)
    return ask.write(
        lambda build: gate_written(build, ask.form, build.find("gates", id_)),
        message=f"changed: {gate.name}"[:200], back=PATH, again=lambda ask: show_gate_form(ask, id_),
        verdicts=True,
    )  # fmt: skip


@router.post(f"{PATH}/{{id_}}/out")
def take_out(id_: str, ask: Asked) -> Response:
    """Take a gate out."""
    gate: Gate = ask.find("gates", id_)
    return ask.write(
        lambda build: without(build, "gates", id_), message=f"took out: {gate.name}"[:200],
        back=PATH, again=lambda ask: show_gate_form(ask, id_),
    )  # fmt: skip
