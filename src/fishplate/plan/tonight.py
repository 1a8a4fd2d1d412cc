"""Tonight: the jobs of an evening with what they open, what to lay out and read, and what else fits the minutes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ..build import Assumption, Build, Facts, date_at
from ..build.cautions import hazard_lines, who_decides
from ..build.jobs import Job
from ..fit import SEE, FitReport
from ..records import hidden_by, requirement_states, seen_at
from ..records.approval import RequirementState, lacking_words
from ..work import Gates
from ..work.evening_choice import Picked
from ..work.laying_out import LaidOut, laid_out
from ..work.tonight import Evening, EveningChoice, choose_evening, is_loud
from .at_the_job import Figure, ToRead, figures_at, readings_at
from .cannot_be import cannot_be
from .model import Action, ActionKind, Plan
from .sentences import day_words, list_words, name_of

# Own estimates: what an action takes that says nothing of it, and how many are named beside the jobs.
ACTION_MINUTES: Final = 30.0
MOST_BESIDES: Final = 3
LEAST_LEFT: Final = 10.0
_BESIDES: Final = (ActionKind.MEASURE, ActionKind.DECIDE)


@dataclass(frozen=True, slots=True)
class EvidenceDue:
    """Evidence to take at a job.

    Parameters
    ----------
    lacking : what is missing, in words; hides : the job hides it; before : it must be taken before the job begins
    """

    requirement: str
    name: str
    lacking: str
    hides: bool
    before: bool
    note: str

    @property
    def text(self) -> str:
        """A sentence."""
        if self.before:
            return f"Before you begin: this hides “{self.name}”, and {self.lacking} is still missing."
        if self.hides:
            return f"Before it is closed: this hides “{self.name}”, and {self.lacking} is still missing."
        return f"While it can be seen: take {self.lacking} for “{self.name}”."


@dataclass(frozen=True, slots=True)
class TonightJob:
    """A job of the evening.

    Parameters
    ----------
    minutes : with setting up [min]; hours : hands-on [h]
    ends : "end", "stop" at a stop point or for a missing part, or "midway"
    said : how far it goes, as a sentence; opens : names of jobs that can begin after it
    """

    job: str
    name: str
    minutes: float
    hours: float
    ends: str
    said: str
    opens: tuple[str, ...]
    loud: bool
    laid: LaidOut
    readings: tuple[ToRead, ...]
    figures: tuple[Figure, ...]
    evidence: tuple[EvidenceDue, ...]
    cautions: tuple[str, ...]

    @property
    def in_short(self) -> str:
        """How long it takes and how far it goes, in a few words."""
        return f"{minutes_words(self.minutes)}, {_ENDS[self.ends]}{', loud' if self.loud else ''}"


_ENDS: Final = {"end": "to its end", "stop": "to where it can rest", "midway": "as far as it goes"}


@dataclass(frozen=True, slots=True)
class Beside:
    """Something to measure or decide in the minutes that are left."""

    kind: str
    key: str
    what: str
    minutes: float
    why: str


@dataclass(frozen=True, slots=True)
class Tonight:
    """What to do with an evening.

    Parameters
    ----------
    said : the evening in a few sentences
    minutes_left : that no job takes [min]; besides : what else fits them
    left_out : names of ready jobs, and what the evening would have to give
    cannot : jobs that wait for nothing yet can't be as they are entered, with their names, and why
    who_decides : said once where something can hurt; empty if nothing can
    """

    evening: Evening
    said: str
    jobs: tuple[TonightJob, ...]
    besides: tuple[Beside, ...]
    minutes_left: float
    left_out: tuple[tuple[str, str, tuple[str, ...]], ...]
    cannot: tuple[tuple[str, str, str], ...]
    tools: tuple[str, ...]
    who_decides: str
    assumptions: tuple[Assumption, ...]


def tonight(build: Build, facts: Facts, evening: Evening, closed: Mapping[str, str], plan: Plan | None) -> Tonight:
    """What to do with an evening.

    Parameters
    ----------
    closed : interfaces that do not fit for sure, which hold their jobs back
    plan : the last plan, for what waiting costs and what to measure or decide; None: by slack alone
    """
    gates = Gates(interfaces=dict.fromkeys(closed, float("inf")))
    actions = () if plan is None else plan.actions
    waiting = {item.key: item.cost_of_waiting.per_week for item in actions if item.kind is ActionKind.DO}
    choice = choose_evening(build, facts, evening, gates, waiting, cannot=cannot_be(build, facts, evening=True))
    states = requirement_states(build, facts)
    jobs = tuple(_job(build, facts, choice, picked, states) for picked in choice.picked)
    left = max(0.0, evening.minutes - choice.minutes)
    besides = tuple(_besides(build, facts, actions, left))
    return Tonight(
        evening=evening,
        said=_said(jobs, besides, left, choice, evening),
        jobs=jobs,
        besides=besides,
        minutes_left=left,
        left_out=tuple((item.job, name_of(build, "jobs", item.job), item.wants) for item in choice.left_out),
        cannot=tuple((job, name_of(build, "jobs", job), why) for job, why in choice.cannot.items()),
        tools=tuple(sorted({tool for item in choice.ready.values() for tool in item.tools})),
        who_decides=who_decides() if any(job.cautions for job in jobs) else "",
        assumptions=choice.assumptions,
    )


def closed_interfaces(report: FitReport | None) -> Mapping[str, str]:
    """Interfaces that were not seen right and do not fit for sure, with their verdict."""
    results = () if report is None else report.interfaces
    return {item.interface: str(item.verdict) for item in results if not item.settled and item.verdict != "fits"}


def _job(
    build: Build, facts: Facts, choice: EveningChoice, picked: Picked, states: Sequence[RequirementState]
) -> TonightJob:  # fmt: skip
    job: Job = build.find("jobs", picked.job)
    system = build.index["systems"].get(job.system or "")
    ends = "midway" if picked.step.midway else "stop" if picked.step.goal else "end"
    begun = facts.jobs.get(job.id) is not None and facts.jobs[job.id].hours_worked > 0
    return TonightJob(
        job=job.id,
        name=job.name,
        minutes=picked.step.minutes,
        hours=picked.step.hours,
        ends=ends,
        said=_how_far(build, choice, picked, begun=begun) + _in_time(choice, picked, facts),
        opens=tuple(name_of(build, "jobs", id_) for id_ in choice.opened(picked)),
        loud=is_loud(job),
        laid=laid_out(build, facts, job),
        readings=readings_at(build, facts, job),
        figures=figures_at(build, facts, job),
        evidence=tuple(_evidence(states, job)),
        cautions=hazard_lines([*job.hazards, *(system.hazards if system is not None else ())]),
    )


def _evidence(states: Sequence[RequirementState], job: Job) -> Iterator[EvidenceDue]:
    for state in hidden_by(states, job.id):
        yield _due(state, hides=True)
    for state in seen_at(states, job.id):
        yield _due(state, hides=False)


def _due(state: RequirementState, *, hides: bool) -> EvidenceDue:
    wanted = state.requirement
    before = hides and not state.made_there
    return EvidenceDue(wanted.id, wanted.name, lacking_words(state), hides, before, wanted.note)


def evidence_due(build: Build, facts: Facts, job: Job) -> tuple[EvidenceDue, ...]:
    """Evidence still to be taken at a job, what it hides first."""
    return tuple(_evidence(requirement_states(build, facts), job))


def _how_far(build: Build, choice: EveningChoice, picked: Picked, *, begun: bool) -> str:
    step, ready = picked.step, choice.ready[picked.job]
    name, span = name_of(build, "jobs", picked.job), minutes_words(step.minutes)
    if step.midway:
        left = ready.hours_left - step.hours
        verb = "Go on with" if begun else "Begin"
        return f"{verb} “{name}” for {span}, which leaves about {hours_words(left)}."
    if step.goal:
        return f"Take “{name}” to where it can rest: {_named(build, step.goal)}, about {span}."
    opened = [f"“{name_of(build, 'jobs', id_)}”" for id_ in choice.opened(picked)]
    then = f", and {list_words(opened, most=2)} can begin" if opened else ""
    return f"{'Finish' if begun else 'Do'} “{name}”: about {span}, then it is done{then}."


def _in_time(choice: EveningChoice, picked: Picked, facts: Facts) -> str:
    """By when a job must begin to take what went before, if that is soon; empty if not."""
    if picked.job not in choice.hurried:
        return ""
    days, hours = choice.hurried[picked.job]
    last = day_words(date_at(facts.as_of, days / 7), facts.as_of)
    return f" It must begin by {last}, or it takes {hours_words(hours)} more."


def _named(build: Build, until: str) -> str:
    """A stop point's name; or the parts it needs then, by name."""
    needs = "it needs "
    if not until.startswith(needs):
        return until
    return f"then it needs {list_words([name_of(build, 'parts', id_) for id_ in until[len(needs) :].split(', ')])}"


def _besides(build: Build, facts: Facts, actions: Sequence[Action], minutes: float) -> Iterator[Beside]:
    """What to measure, ask or decide in the minutes left, in the plan's order, as far as it is still open."""
    away = {(str(item.kind), item.what) for item in build.put_off if item.until > facts.as_of}
    left, count = minutes, 0
    for action in actions:
        takes = action.minutes if action.minutes is not None else ACTION_MINUTES
        put_off = (str(action.kind), action.key) in away
        if action.kind not in _BESIDES or action.blocked or put_off or takes > left or left < LEAST_LEFT:
            continue
        if _is_done(build, facts, action):
            continue
        yield Beside(str(action.kind), action.key, action.what, takes, action.reasons[0] if action.reasons else "")
        left, count = left - takes, count + 1
        if count == MOST_BESIDES:
            return


def _is_done(build: Build, facts: Facts, action: Action) -> bool:
    """Whether an action of an older plan was carried out, or what it is about is gone."""
    if action.kind is ActionKind.DECIDE:
        return action.key not in facts.choices or facts.choices[action.key].decided
    if action.key.startswith(SEE):
        return action.key.removeprefix(SEE) in facts.settled_conditions
    return any(item.dimension == action.key and item.day >= facts.as_of for item in build.readings)


def _said(
    jobs: Sequence[TonightJob], besides: Sequence[Beside], left: float, choice: EveningChoice, evening: Evening
) -> str:
    if not jobs:
        return _nothing(besides, choice)
    first, *rest = (job.said for job in jobs)
    said = " ".join([first, *(f"Then: {text[:1].lower()}{text[1:]}" for text in rest)])
    if evening.loud_minutes is not None and any(job.loud for job in jobs) and not all(job.loud for job in jobs):
        said += " What is loud comes first."
    if besides and left >= LEAST_LEFT:
        said += f" In the {minutes_words(left)} left over: {_inner(besides[0].what)}."
    return said


def _nothing(besides: Sequence[Beside], choice: EveningChoice) -> str:
    why = "No job fits this evening" if choice.ready else "Every job waits for something"
    if choice.cannot and not choice.ready:
        why = "No job that could be next can be done as it is entered"
    if not besides:
        return f"{why}."
    return f"{why}; do this instead: {_inner(besides[0].what)}."


def _inner(what: str) -> str:
    return f"{what[:1].lower()}{what[1:]}".rstrip(".")


def minutes_words(minutes: float) -> str:
    """A span of an evening in words, to five minutes; from two hours on in hours.

    Examples
    --------
    >>> minutes_words(42), minutes_words(90), minutes_words(118), minutes_words(150)
    ('45 min', '90 min', '2 h', '2½ h')
    """
    rounded = max(5.0, 5 * -(-minutes // 5))
    return f"{rounded:.0f} min" if rounded < 120 else hours_words(minutes / 60)


def hours_words(hours: float) -> str:
    """A span of work in words, to the half hour.

    Examples
    --------
    >>> hours_words(0.4), hours_words(2.4), hours_words(16.2)
    ('25 min', '2½ h', '16 h')
    """
    if hours < 1:
        return f"{max(5, 5 * round(hours * 12))} min"
    halves = round(hours * 2)
    whole = f"{halves // 2}" if hours < 10 else f"{hours:.0f}"
    return f"{whole}½ h" if hours < 10 and halves % 2 else f"{whole} h"
