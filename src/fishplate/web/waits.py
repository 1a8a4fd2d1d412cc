"""What a job waits for, each by its name: jobs, gates, parts, decisions, interfaces, a cure, the season."""

from __future__ import annotations

from calendar import month_name
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import ceil
from typing import TYPE_CHECKING

from ..build.jobs import Gate, Job, Link
from ..plan.sentences import day_words
from ..work.network import needed_from, share_done
from .holdings import Holding
from .words import listed, number

if TYPE_CHECKING:
    from .desk import View


@dataclass(frozen=True, slots=True)
class Wait:
    """One thing a job waits for, what is so about it, and where it is seen to."""

    name: str
    said: str
    path: str = ""

    def __str__(self) -> str:
        return f"“{self.name}” ({self.said})" if self.said else f"“{self.name}”"


@dataclass(frozen=True, slots=True)
class Due:
    """Ids of the decisions to be frozen, and of the interfaces to be settled, by a job; by the job's id."""

    decisions: Mapping[str, Sequence[str]]
    interfaces: Mapping[str, Sequence[str]]


def due_of(view: View) -> Due:
    """What is due by which job."""
    build = view.build
    decisions, interfaces = defaultdict[str, list[str]](list), defaultdict[str, list[str]](list)
    for decision in build.decisions:
        decisions[decision.freeze_by or ""].append(decision.id)
    for interface in build.interfaces:
        interfaces[interface.settle_by or ""].append(interface.id)
    return Due(decisions, interfaces)


def waits_of(
    view: View, job: Job, held: Mapping[str, Holding], closed: Mapping[str, str], due: Due
) -> tuple[Wait, ...]:  # fmt: skip
    """What keeps a job from beginning, or from going on, today; nothing if nothing does.

    Parameters
    ----------
    held : what is there of each part; closed : interfaces that do not fit for sure, with their verdict
    """
    found = [
        *_before(view, job),
        *_parts(view, job, held),
        *_decisions(view, {*job.decisions, *due.decisions.get(job.id, ())}),
        *_interfaces(view, sorted({*job.interfaces, *due.interfaces.get(job.id, ())} - {*job.settles}), closed),
        *_gates(view, job.id, closed),
        *_season(view, job),
    ]
    return tuple(dict.fromkeys(found))


def until_of(view: View, job: Job) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Stop points ahead: how far the job can go, and names of the parts it can't go beyond without."""
    done = share_done(job, view.facts)
    names = {part.id: part.name for part in view.build.parts}
    found = []
    for stop in job.stop_points:
        if stop.share > done:
            far = f"{stop.share:.0%}".replace("%", " %")
            found.append((f"{far}, {stop.name}" if stop.name else far, tuple(names[part] for part in stop.without)))
    return tuple(found)


def progress_words(view: View, job: Job) -> str:
    """How far a job has come; empty if it was not begun."""
    state = view.facts.jobs.get(job.id)
    if state is None or (not state.hours_worked and state.hours_left is None):
        return ""
    if state.hours_left is not None:
        return f"begun, {number(state.hours_worked)} h worked, {number(state.hours_left)} h left"
    return f"begun, {number(state.hours_worked)} of about {number(max(state.hours_worked, job.hours.likely))} h"


def _before(view: View, job: Job) -> Iterator[Wait]:
    for link in job.after:
        yield from _link(view, link)


def _link(view: View, link: Link) -> Iterator[Wait]:
    build, facts = view.build, view.facts
    before: Job = build.find("jobs", link.job)
    state = facts.jobs.get(before.id)
    if state is not None and state.done_on is not None:
        if link.kind == "finish-start":
            yield from _cure(view, before, link.lag_days)
    elif before.id not in facts.wanted_jobs:  # what it waits for holds this one too
        yield from _before(view, before)
        yield from _gates(view, before.id, {})
    elif link.kind == "finish-start":
        yield Wait(before.name, progress_words(view, before) or "not begun", f"/jobs/{before.id}")
    elif state is None or state.hours_worked <= 0:
        yield Wait(before.name, "to be begun first", f"/jobs/{before.id}")


def _cure(view: View, before: Job, lag_days: float) -> Iterator[Wait]:
    done_on = view.facts.jobs[before.id].done_on
    assert done_on is not None
    if (done_on - view.as_of).days + before.cure_days + lag_days > 0:
        until = done_on + timedelta(days=ceil(before.cure_days + lag_days))
        yield Wait(before.name, f"cures until {day_words(until, view.as_of)}", f"/jobs/{before.id}")


def _parts(view: View, job: Job, held: Mapping[str, Holding]) -> Iterator[Wait]:
    done = share_done(job, view.facts)
    for part, at in needed_from(view.facts, job).items():
        holding, wrong = held[part], view.facts.wrong.get(part)
        right = holding.owned - view.facts.wrong_counts.get(part, 0.0)
        if max(0.0, at) <= done and right < holding.quantity - 1e-9:
            words = holding.words(view.as_of)
            words = words if wrong is None else f"{holding.wrong_words} {day_words(wrong, view.as_of)}"
            yield Wait(view.build.find("parts", part).name, words[:1].lower() + words[1:], f"/parts/{part}")


def _decisions(view: View, ids: set[str]) -> Iterator[Wait]:
    for decision in view.build.decisions if ids else ():
        if decision.id in ids and not view.facts.choices[decision.id].decided:
            yield Wait(decision.name, "not decided", f"/decisions/{decision.id}")


def _interfaces(view: View, ids: list[str], closed: Mapping[str, str]) -> Iterator[Wait]:
    for id_ in ids:
        settled = view.facts.settled.get(id_)
        verdict = closed.get(id_, "") if settled is None else "" if settled.good else "was seen not to fit"
        if verdict:
            yield Wait(view.build.find("interfaces", id_).name, verdict, f"/interfaces/{id_}")


def _gates(view: View, job: str, closed: Mapping[str, str]) -> Iterator[Wait]:
    gate: Gate
    for gate in view.build.gates:
        if job not in gate.before:
            continue
        jobs = [wait.name for id_ in gate.after for wait in _link(view, Link(job=id_))]
        places = [wait.name for wait in _interfaces(view, list(gate.interfaces), closed)]
        if jobs or places:
            yield Wait(gate.name, f"a gate that waits for {listed(list(dict.fromkeys((*jobs, *places))))}")


def months_words(job: Job) -> str:
    """The months a job can be done in; runs of them by their ends.

    Examples
    --------
    >>> from fishplate.build.base import ThreePoint
    >>> points = ThreePoint(low=1, likely=1, high=1)
    >>> months_words(Job(id="a", name="A", phase="finish", hours=points, months=(3, 4, 5, 9)))
    'March to May and September'
    """
    return runs_of_months(job.months)


def runs_of_months(months: Iterable[int]) -> str:
    """Months in words; runs of them by their ends."""
    runs = list[list[int]]()
    for month in sorted(set(months)):
        if runs and runs[-1][-1] == month - 1:
            runs[-1].append(month)
        else:
            runs.append([month])
    names = [month_name[run[0]] + (f" to {month_name[run[-1]]}" if run[-1] != run[0] else "") for run in runs]
    return listed(names, 12)


def _season(view: View, job: Job) -> Iterator[Wait]:
    if job.months and view.as_of.month not in job.months:
        yield Wait("The season", f"only in {months_words(job)}")
