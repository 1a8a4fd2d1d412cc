"""One job: how far it is, what it waits for, what it opens, what it takes, the hours worked on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ..build.events import Work
from ..build.jobs import Job
from ..plan.sentences import day_words
from ..plan.tonight import EvidenceDue, evidence_due
from ..work.cautions import cautions_for
from .holdings import Holding, holdings
from .job_links import hangs_together
from .part import Link
from .ready import Ready, held_by_faults, hours_words, the, until_words
from .waits import Due, Wait, due_of, months_words, progress_words, until_of, waits_of
from .words import listed, number

if TYPE_CHECKING:
    from .desk import View


@dataclass(frozen=True, slots=True)
class State:
    """How far a job is: done, begun, open to be worked, waiting or at fault; `begun` of one that waits, by itself."""

    said: str
    begun: str = ""
    waits: tuple[Wait, ...] = ()
    done: bool = False
    wanted: bool = True


@dataclass(frozen=True, slots=True)
class Worked:
    """Hours of one day."""

    day: date
    hours: float
    said: str


@dataclass(frozen=True, slots=True)
class JobPage:
    """A job with everything about it.

    Parameters
    ----------
    facts : sentences on what it takes; stops : how far it can go without some parts
    evidence : what an inspector will ask and can be seen at it, still to be taken
    opens : jobs that wait for it; parts : what it needs, with how far that is
    left : hours the owner said were left, as typed
    """

    id: str
    name: str
    over: str
    state: State
    facts: tuple[str, ...]
    stops: tuple[str, ...]
    cautions: tuple[str, ...]
    evidence: tuple[EvidenceDue, ...]
    opens: tuple[Link, ...]
    parts: tuple[Link, ...]
    worked: tuple[Worked, ...]
    left: str
    note: str


def state_of(
    view: View, job: Job, held: Mapping[str, Holding], closed: Mapping[str, str], ready: Mapping[str, Ready], due: Due
) -> State:
    """How far a job is, in words."""
    state = view.facts.jobs.get(job.id)
    if state is not None and state.done_on is not None:
        hours = f", {number(state.hours_worked)} h" if state.hours_worked else ""
        return State(f"Done on {day_words(state.done_on, view.as_of)}{hours}.", done=True)
    if job.id not in view.facts.wanted_jobs:
        return State("Only with another choice.", wanted=False)
    begun = progress_words(view, job)
    start = f"{begun[:1].upper()}{begun[1:]}. " if begun else ""
    if job.id in ready:
        until = until_words(view, ready[job.id].job)
        word = "It can go on now" if begun else "It can begin now"
        return State(f"{start}{word}{f', to its stop point: {until}' if until else ''}.")
    waits = waits_of(view, job, held, closed, due)
    if not waits and job.id in view.once(held_by_faults):
        return State(f"{start}{view.once(held_by_faults)[job.id]}", start)
    return State(f"{start}Waits for {listed([str(wait) for wait in waits], 3)}.", start, waits)


def job_page(
    view: View,
    id_: str,
    closed: Mapping[str, str],
    ready: Mapping[str, Ready],
) -> JobPage:
    """The page of a job; raises KeyError if there is none."""
    build = view.build
    job: Job = build.find("jobs", id_)
    held = view.once(holdings)
    system = build.index["systems"].get(job.system or "")
    state = state_of(view, job, held, closed, ready, view.once(due_of))
    worked = view.facts.jobs.get(id_)
    left = worked.hours_left if worked else None
    return JobPage(
        id=id_,
        name=job.name,
        over=", ".join(filter(None, (job.phase.value.replace("-", " ").capitalize(), system.name if system else ""))),
        state=state,
        facts=tuple(_facts(view, job)),
        stops=tuple(f"It can go to {to} without {listed(list(parts))}." for to, parts in until_of(view, job)),
        cautions=cautions_for([*job.hazards, *(system.hazards if system else ())]),
        evidence=() if state.done else evidence_due(build, view.facts, job),
        opens=tuple(Link(f"/jobs/{each.id}", each.name) for each in build.jobs if _comes_after(each, id_)),
        parts=tuple(_parts(view, job, held)),
        worked=tuple(_worked(view, id_)),
        left="" if left is None else number(left),
        note=job.note,
    )


def _comes_after(job: Job, before: str) -> bool:
    return any(link.job == before for link in job.after)


def _facts(view: View, job: Job) -> Iterator[str]:
    hours = job.hours
    if hours.high:
        yield f"{number(hours.low)} to {number(hours.high)} h of work, about {number(hours.likely)}."
    takes = [
        *(["a second person"] if job.second_person else []),
        *map(the, job.tools),
        *(["the bay"] if job.bay else []),
        *(["the lift"] if job.lift else []),
    ]
    if takes:
        yield f"It takes {listed(takes, 9)}."
    if job.setting_up_minutes:
        yield f"Laying out and clearing away take {number(job.setting_up_minutes)} min each time."
    if job.loud is not None:
        yield "It is loud." if job.loud else "It is quiet."
    if job.dry or job.least_c is not None:
        weather = [*(["a dry evening"] if job.dry else [])]
        weather += [f"{number(job.least_c)} °C or more"] if job.least_c is not None else []
        yield f"It needs {listed(weather)}."
    if job.months:
        yield f"Only in {months_words(job)}."
    if job.cure_days:
        yield f"It cures {number(job.cure_days)} days before the next job."
    if job.workshop:
        yield f"{view.build.find('workshops', job.workshop).name} does it."
    yield from hangs_together(view, job)


def _parts(view: View, job: Job, held: Mapping[str, Holding]) -> Iterator[Link]:
    for id_ in dict.fromkeys((*job.to_try, *job.to_keep)):
        use = "to keep" if id_ in job.to_keep else "to try"
        words = held[id_].words(view.as_of)
        yield Link(f"/parts/{id_}", view.build.find("parts", id_).name, f"{use}; {words[:1].lower()}{words[1:]}")


def _worked(view: View, id_: str) -> Iterator[Worked]:
    for event in sorted(view.build.events, key=lambda event: event.day, reverse=True):
        if isinstance(event, Work) and event.job == id_:
            done = "and it was done" if event.done else ""
            left = f"{hours_words(event.hours_left)} left" if event.hours_left else ""
            yield Worked(event.day, event.hours, "; ".join(filter(None, (done, left, event.note))))
