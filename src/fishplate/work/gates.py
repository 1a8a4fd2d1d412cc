"""Where the build stops and looks before it goes on: what each gate still waits for, and what must be welded before."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Final

from ..build import Build, Facts
from ..build.jobs import Gate, GateKind, Job
from ..build.parts import Phase
from ..build.words import joined
from .network import wanted_jobs


@dataclass(frozen=True, slots=True)
class GateState:
    """How a gate stands.

    Parameters
    ----------
    jobs : jobs still to be done before it; interfaces : those not yet seen to be right on the vehicle
    welds : jobs with welding that must be done before it opens, of a list of last welds
    after_it : jobs with welding that neither come before it nor wait for it, although they should
    holds : jobs that wait for it
    text : a sentence
    """

    gate: str
    open: bool
    jobs: tuple[str, ...]
    interfaces: tuple[str, ...]
    welds: tuple[str, ...]
    after_it: tuple[str, ...]
    holds: tuple[str, ...]
    text: str


def gate_states(build: Build, facts: Facts) -> tuple[GateState, ...]:
    """Every gate, in the order they are listed."""
    jobs = wanted_jobs(build, facts)
    return tuple(_state(build, facts, jobs, gate) for gate in build.gates)


def _state(build: Build, facts: Facts, jobs: dict[str, Job], gate: Gate) -> GateState:
    waits = tuple(job for job in gate.after if job in jobs)
    unproved = tuple(id_ for id_ in gate.interfaces if id_ not in facts.settled or not facts.settled[id_].good)
    welding = sorted(job.id for job in jobs.values() if "welding" in job.hazards)
    welds: tuple[str, ...] = ()
    later: tuple[str, ...] = ()
    if gate.kind == "last-welds":
        before = _before(build, gate)
        welds = tuple(job for job in welding if job in before)
        later = tuple(job for job in welding if job not in before and job not in gate.before)
    holds = tuple(job for job in gate.before if job in jobs)
    text = _sentence(build, gate, waits, unproved, welds, later)
    return GateState(gate.id, not waits and not unproved, waits, unproved, welds, later, holds, text)


def _before(build: Build, gate: Gate) -> set[str]:
    """Jobs that must be done before a gate opens, through links and other gates."""
    earlier: dict[str, set[str]] = defaultdict(set)
    for job in build.jobs:
        earlier[job.id].update(link.job for link in job.after if link.kind == "finish-start")
    for other in build.gates:
        for job_id in other.before:
            earlier[job_id].update(other.after)
    found: set[str] = set()
    todo = list(gate.after)
    while todo:
        here = todo.pop()
        if here not in found:
            found.add(here)
            todo.extend(earlier[here])
    return found


def gate_of_kind(build: Build, facts: Facts, kind: GateKind) -> Gate:
    """A gate of a kind as it mostly stands, from the phases and hazards of what is still to be done: common practice.

    Parameters
    ----------
    kind : "re-plan" between strip and structure; "dry-build" between body fit and finish; "last-welds" between the last
        welding job and the first coat of paint; "tacked" between tacking in mock-up and welding out

    Returns
    -------
    Gate; it waits for nothing, or holds nothing, where the build lists no such jobs
    """
    jobs = wanted_jobs(build, facts)
    after, before, interfaces = _usual_sides(build, jobs, kind)
    gate = Gate(id=kind, name=_NAMES[kind], kind=kind, after=tuple(after), interfaces=tuple(interfaces))
    earlier = _before(build, gate)
    return gate.model_copy(update={"before": tuple(job for job in before if job not in earlier)})


def _usual_sides(build: Build, jobs: dict[str, Job], kind: GateKind) -> tuple[list[str], list[str], list[str]]:
    """Jobs a gate waits for, jobs it holds, and interfaces it waits for."""

    def in_phase(*phases: Phase) -> list[str]:
        return [job.id for job in build.jobs if job.id in jobs and job.phase in phases]

    welds = {job.id for job in jobs.values() if "welding" in job.hazards}
    match kind:
        case "re-plan":
            return in_phase(Phase.STRIP), in_phase(Phase.STRUCTURE), []
        case "dry-build":
            return in_phase(Phase.MOCK_UP, Phase.BODY_FIT), in_phase(Phase.FINISH), []
        case "last-welds":
            painted = [job for job in in_phase(Phase.FINISH) if "paint" in jobs[job].hazards]
            return sorted(welds - set(in_phase(Phase.FINISH))), painted, []
        case "tacked":
            tacked = [job for job in in_phase(Phase.MOCK_UP) if job in welds]
            out = [job for job in in_phase(Phase.BODY_FIT) if job in welds]
            closed = {id_ for job in out for id_ in jobs[job].closes}
            seen = [item.id for item in build.interfaces if item.id in closed or item.closed_by in out]
            return tacked, out, seen


_NAMES: dict[GateKind, str] = {
    "re-plan": "Look at the plan again after the strip",
    "dry-build": "Everything has stood together once, dry",
    "last-welds": "Nothing left to weld before paint",
    "tacked": "Tacked until seen to be right",
}
_MOST_NAMED: Final = 3
_OPEN = {
    "re-plan": "look at the plan again before going on",
    "dry-build": "it has all been together dry",
    "last-welds": "nothing is left to weld",
    "tacked": "what was tacked may be welded out",
}


def _sentence(
    build: Build, gate: Gate, waits: tuple[str, ...], unproved: tuple[str, ...], welds: tuple[str, ...],
    later: tuple[str, ...],
) -> str:  # fmt: skip
    parts = []
    if waits:
        parts.append(f"still to be done: {_names(build, 'jobs', waits)}")
    if unproved:
        words = "stays tacked until seen to be right" if gate.kind == "tacked" else "still to be seen to be right"
        parts.append(f"{words}: {_names(build, 'interfaces', unproved)}")
    others = tuple(job for job in welds if job not in waits)
    if others:
        parts.append(f"to be welded before: {_names(build, 'jobs', others)}")
    if later:
        parts.append(f"welding that no link puts before it: {_names(build, 'jobs', later)}")
    return f"{gate.name}: {'; '.join(parts) or _OPEN[gate.kind]}."


def _names(build: Build, list_name: str, ids: tuple[str, ...]) -> str:
    names = [f"“{build.find(list_name, id_).name}”" for id_ in ids]
    rest = len(names) - _MOST_NAMED
    return joined([*names[:_MOST_NAMED], f"{rest} more"] if rest > 1 else names)
