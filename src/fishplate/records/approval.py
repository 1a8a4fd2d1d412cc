"""What an inspector will ask: what evidence is there, what is missing, and until when it can still be seen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from ..build import Build, Facts
from ..build.approval import Evidence, EvidenceKind, Requirement

WHO_DECIDES = "The inspector decides what is enough; what stands here is no approval."


@dataclass(frozen=True, slots=True)
class RequirementState:
    """One requirement on a day.

    Parameters
    ----------
    evidence : what there is, oldest first; lacking : kinds asked for of which there is none
    missing : nothing is there, or a kind that was asked for is lacking
    hides : the job that hides it, not done yet; None if nothing will
    hidden_on : since when it can't be seen any more; hiding : the job that hides it has begun
    made_there : the job that hides it is one of those it is seen at, so that it can be seen until that job's end
    """

    requirement: Requirement
    evidence: tuple[Evidence, ...]
    lacking: tuple[EvidenceKind, ...]
    missing: bool
    hides: str | None
    hidden_on: date | None
    hiding: bool
    made_there: bool

    @property
    def standing(self) -> Literal["there", "missing", "too-late"]:
        """In a word: there; missing but still to be seen; missing and out of sight."""
        if not self.missing:
            return "there"
        return "missing" if self.hidden_on is None else "too-late"


def requirement_states(build: Build, facts: Facts) -> tuple[RequirementState, ...]:
    """Every requirement in the order they are listed, with the evidence there is on the day of the facts."""
    return tuple(_state(build, facts, requirement) for requirement in build.requirements)


def _state(build: Build, facts: Facts, requirement: Requirement) -> RequirementState:
    pieces = [item for item in build.evidence if item.requirement == requirement.id and item.day <= facts.as_of]
    there = {item.kind for item in pieces}
    lacking = tuple(kind for kind in dict.fromkeys(requirement.wants) if kind not in there)
    job = requirement.visible_until
    wanted = job in facts.wanted_jobs  # a job that only another choice calls for hides nothing
    state = facts.jobs.get(job) if job is not None else None
    made_there = job in requirement.jobs
    return RequirementState(
        requirement=requirement,
        evidence=tuple(sorted(pieces, key=lambda item: (item.day, item.id))),
        lacking=lacking,
        missing=not pieces or bool(lacking),
        hides=None if not wanted or (state is not None and state.done_on is not None) else job,
        hidden_on=None if state is None else state.done_on,
        hiding=state is not None and state.done_on is None and state.hours_worked > 0 and not made_there,
        made_there=made_there,
    )


def hidden_by(states: Iterable[RequirementState], job: str) -> tuple[RequirementState, ...]:
    """Requirements whose evidence is missing and that a job hides."""
    return tuple(state for state in states if state.hides == job and state.standing == "missing")


def seen_at(states: Iterable[RequirementState], job: str) -> tuple[RequirementState, ...]:
    """Requirements whose evidence is missing and can be taken at a job, without being hidden by it."""
    return tuple(
        state
        for state in states
        if job in state.requirement.jobs and state.hides != job and state.standing == "missing"
    )


def lacking_words(state: RequirementState) -> str:
    """What is missing, as words; empty if nothing is.

    Examples
    --------
    >>> wanted = Requirement(id="r", name="Welds", wants=("photo", "certificate"))
    >>> lacking_words(RequirementState(wanted, (), ("photo", "certificate"), True, None, None, False, False))
    'a photo and a certificate'
    """
    if not state.missing:
        return ""
    return " and ".join(f"a {kind}" for kind in state.lacking) if state.lacking else "evidence"
