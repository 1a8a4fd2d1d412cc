"""When things that hold work and orders open: decisions, dimensions, interfaces, releases."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import TypeAlias

import networkx as nx
import numpy as np

from ..build import Assumption, Build, week_of
from ..build.decisions import Strength
from ..fit import FitReport, Verdict
from .model import FloatArray
from .situation import Situation
from .told import MEASURE_WITHIN_WEEKS, Told, unknown_dimensions
from .waits import Wait

Holds: TypeAlias = Mapping[str, tuple[float, str]]
Moments: TypeAlias = Mapping[str, float | FloatArray]


@dataclass(frozen=True)
class Delays:
    """Actions put off: (kind, key) -> weeks from as_of before which it is not done."""

    weeks: Mapping[tuple[str, str], float] = field(default_factory=dict)

    def of(self, kind: str, key: str) -> float:
        """Weeks an action is put off; 0 if it is not."""
        return self.weeks.get((kind, key), 0.0)

    def besides(self, weeks: Mapping[tuple[str, str], float]) -> Delays:
        """These delays with others; where both put something off, the later counts."""
        return Delays({key: max(self.weeks.get(key, 0.0), weeks.get(key, 0.0)) for key in {*self.weeks, *weeks}})


def put_off_by_owner(build: Build, as_of: date) -> Delays:
    """What the owner has put off beyond today."""
    weeks: dict[tuple[str, str], float] = {}
    for item in build.put_off:
        if item.until > as_of:
            key = (item.kind, item.what)
            weeks[key] = max(weeks.get(key, 0.0), week_of(as_of, item.until))
    return Delays(weeks)


@dataclass(frozen=True)
class Openings:
    """Modelled moments, weeks since as_of; arrays have shape (runs,).

    Parameters
    ----------
    decisions : open decisions -> moment they are taken
    dimensions : dimensions to be measured -> moment they are known; infinite if nothing planned makes them so
    interfaces : interfaces not settled -> moment they are
    holds : offer -> (first week it may be ordered, what it waits for)
    """

    decisions: Mapping[str, float]
    dimensions: Mapping[str, float]
    interfaces: Mapping[str, float | FloatArray]
    holds: Holds
    assumptions: tuple[Assumption, ...] = ()


@dataclass(frozen=True)
class _Measured:
    """What holds a dimension up, whatever the dates.

    Parameters
    ----------
    part : that has to be in hand; job : in which it is measured; None where nothing holds it up
    loop : said where it is measured in a job that waits for it
    answer : weeks in which a supplier answers instead; in_hand : the part that may come before the answer
    """

    part: str | None
    job: str | None
    loop: Assumption | None
    answer: float | None
    in_hand: str | None


@dataclass(frozen=True)
class Opener:
    """Finds the moments at which decisions, dimensions, interfaces and held orders open.

    Parameters
    ----------
    modelled_weeks : decision -> week it is taken if begun today, from the decide engine
    waiting_jobs : dimension -> jobs that wait for it, from `jobs_waiting_for`
    told : what is known without its part in hand
    """

    situation: Situation
    fit: FitReport
    modelled_weeks: Mapping[str, float]
    waiting_jobs: Mapping[str, frozenset[str]]
    told: Mapping[str, Told]

    def at(self, arrivals: Moments, job_ends: Mapping[str, FloatArray], delays: Delays) -> Openings:
        """Everything that opens.

        Parameters
        ----------
        arrivals : part -> moment it is in hand; parts left out are owned, or nobody is known to sell them
        job_ends : job -> moment it is done, from an earlier run
        delays : actions put off
        """
        decisions, dimensions, interfaces = self._moments(arrivals, job_ends, delays)
        typical = {key: self._known_by(key, moment, arrivals, job_ends) for key, moment in dimensions.items()}
        holds = _holds(self.situation, decisions, typical, interfaces)
        return Openings(decisions, typical, interfaces, holds, tuple(self._loops(job_ends)))

    def gates(self, arrivals: Moments, job_ends: Mapping[str, FloatArray], delays: Delays) -> Openings:
        """What jobs wait for, by itself; parameters as for `at`."""
        decisions, _, interfaces = self._moments(arrivals, job_ends, delays)
        return Openings(decisions, {}, interfaces, {})

    def holds(self, arrivals: Moments, job_ends: Mapping[str, FloatArray], delays: Delays) -> Holds:
        """What orders wait for, by itself; parameters as for `at`."""
        decisions, dimensions, interfaces = self._moments(arrivals, job_ends, delays)
        waited = self.situation.waited_for
        typical = {
            key: self._known_by(key, moment, arrivals, job_ends)
            for key, moment in dimensions.items()
            if ("measure", key) in waited
        }
        return _holds(self.situation, decisions, typical, interfaces)

    def _moments(
        self, arrivals: Moments, job_ends: Mapping[str, FloatArray], delays: Delays
    ) -> tuple[dict[str, float], dict[str, float | FloatArray], dict[str, float | FloatArray]]:
        decisions = decision_weeks(self.situation.build, self.modelled_weeks, delays)
        dimensions = {
            key: _measured_at(item, arrivals, job_ends, delays.of("measure", key))
            for key, item in self._measured.items()
        }
        return decisions, dimensions, self._interface_weeks(dimensions, delays)

    @cached_property
    def _measured(self) -> Mapping[str, _Measured]:
        build, facts = self.situation.build, self.situation.facts
        asked = {item.dimension for item in self.fit.measures if item.needed}
        found = {}
        for key in sorted(asked | unknown_dimensions(self.situation)):
            dimension, told = build.find("dimensions", key), self.told.get(key)
            by_enquiry = told is not None and told.by == "enquiry"
            job = None if dimension.job is None or facts.is_done(dimension.job) else dimension.job
            loop = None
            if job is not None and job in self.waiting_jobs.get(key, ()):
                text = f"{dimension.name} is to be measured in {job}, which waits for it: taken as measurable before"
                loop = Assumption("measure-loop", f"dimension {key}", text)
            found[key] = _Measured(
                part=dimension.part if told is None or by_enquiry else None,
                job=job,
                loop=loop,
                answer=told.weeks if told is not None and by_enquiry else None,
                in_hand=dimension.part,
            )
        return found

    def _loops(self, job_ends: Mapping[str, FloatArray]) -> list[Assumption]:
        return [item.loop for item in self._measured.values() if item.loop is not None and item.job in job_ends]

    def _known_by(
        self, key: str, moment: float | FloatArray, arrivals: Moments, job_ends: Mapping[str, FloatArray]
    ) -> float:
        """The typical moment; never for a part that never comes, or a job of measuring that is not planned."""
        facts, dimension = self.situation.facts, self.situation.build.find("dimensions", key)
        part, job = dimension.part, dimension.job
        if key in self.told and self.told[key].by == "enquiry":
            return _typical(moment)
        no_part = part is not None and part not in arrivals and facts.owned.get(part, 0.0) <= 0 and key not in self.told
        no_job = job is not None and not facts.is_done(job) and bool(job_ends) and job not in job_ends
        return math.inf if no_part or no_job else _typical(moment)

    @cached_property
    def _settled(self) -> Mapping[str, tuple[list[str], list[str], float]]:
        """Open interface -> dimensions it waits for, looks at it, and weeks of repair where it does not fit."""
        by_interface: dict[str, list[str]] = {}
        for measure in self.fit.measures:
            for interface in measure.interfaces if measure.needed else ():
                by_interface.setdefault(interface, []).append(measure.dimension)
        looks: dict[str, list[str]] = {}
        for look in self.fit.looks:
            looks.setdefault(look.interface, []).append(look.key)
        weekly = max(1.0, float(self.situation.build.owner.hours_per_week or 5.0))
        early_hours = {c.id: c.early_hours for c in self.situation.build.conditions}
        found = {}
        for result in self.fit.interfaces:
            if result.settled or result.verdict is Verdict.FITS:
                continue
            repair = 0.0
            if result.verdict is Verdict.DOES_NOT_FIT:
                repair = max((early_hours.get(condition, 0.0) for condition in result.conditions), default=0.0)
            key = result.interface
            found[key] = by_interface.get(key, []), looks.get(key, []), repair / weekly
        return found

    def _interface_weeks(
        self, dimensions: Mapping[str, float | FloatArray], delays: Delays
    ) -> dict[str, float | FloatArray]:
        weeks: dict[str, float | FloatArray] = {}
        for interface, (measured, looks, repair) in self._settled.items():
            moment: float | FloatArray = 0.0
            for key in measured:
                moment = np.maximum(moment, dimensions[key])
            for key in looks:
                moment = np.maximum(moment, delays.of("measure", key) + MEASURE_WITHIN_WEEKS)
            weeks[interface] = np.maximum(moment + repair, MEASURE_WITHIN_WEEKS)
        return weeks


def _measured_at(
    item: _Measured, arrivals: Moments, job_ends: Mapping[str, FloatArray], put_off: float
) -> float | FloatArray:
    """The moment a dimension is known."""
    moment: float | FloatArray = 0.0
    if item.part is not None and item.part in arrivals:
        moment = np.maximum(moment, arrivals[item.part])
    if item.loop is None and item.job is not None and item.job in job_ends:
        moment = np.maximum(moment, job_ends[item.job])
    known = np.maximum(moment, put_off) + MEASURE_WITHIN_WEEKS
    if item.answer is None:
        return known
    answered = put_off + item.answer
    return np.minimum(known, answered) if item.in_hand in arrivals else answered


def _typical(moment: float | FloatArray) -> float:
    return float(np.median(moment)) if np.ndim(moment) else float(moment)


def decision_weeks(build: Build, modelled: Mapping[str, float], delays: Delays) -> dict[str, float]:
    """Open decisions -> week each is taken, with what is put off pushing the ones it fixes."""
    weeks = {key: week for key, week in modelled.items() if week > 0}
    for key in weeks:
        put_off = delays.of("decide", key)
        if put_off:
            weeks[key] = max(weeks[key], put_off + build.find("decisions", key).think_weeks)
    if not any(kind == "decide" for kind, _ in delays.weeks):
        return weeks
    followers: dict[str, list[str]] = {}
    for edge in build.edges:
        if edge.strength is Strength.FIXES and edge.source in weeks and edge.target in weeks:
            followers.setdefault(edge.source, []).append(edge.target)
    # A late decision pushes the ones it fixes; one pass per decision settles any chain.
    for _ in range(len(weeks)):
        moved = False
        for source, targets in followers.items():
            for target in targets:
                late = weeks[source] + build.find("decisions", target).think_weeks
                if delays.of("decide", source) and late > weeks[target] + 1e-9 and target != source:
                    weeks[target] = late
                    moved = True
        if not moved:
            break
    return weeks


def jobs_waiting_for(build: Build) -> dict[str, frozenset[str]]:
    """Dimension -> jobs that wait, directly or through others, for an interface that uses it."""
    from ..build.expression import names_in

    graph: nx.DiGraph = nx.DiGraph()
    for job in build.jobs:
        graph.add_node(job.id)
        graph.add_edges_from((link.job, job.id) for link in job.after)
    for gate in build.gates:
        graph.add_edges_from((job, f"gate {gate.id}") for job in gate.after)
        graph.add_edges_from((f"gate {gate.id}", job) for job in gate.before)
    by_interface: dict[str, set[str]] = {}
    for condition in build.conditions:
        texts = (condition.expression, condition.at_least, condition.at_most)
        by_interface.setdefault(condition.interface, set()).update(*(names_in(text) for text in texts if text))
    waiting: dict[str, set[str]] = {}
    for interface, jobs in jobs_gated_by(build).items():
        held = jobs.union(*(nx.descendants(graph, job) for job in jobs))
        for name in by_interface.get(interface, ()):
            waiting.setdefault(name, set()).update(held)
    return {name: frozenset(jobs) for name, jobs in waiting.items()}


def jobs_gated_by(build: Build) -> dict[str, frozenset[str]]:
    """Interface -> jobs that wait for it, by themselves or behind a gate."""
    gated: dict[str, set[str]] = {}
    for job in build.jobs:
        for interface in job.interfaces:
            gated.setdefault(interface, set()).add(job.id)
    for gate in build.gates:
        for interface in gate.interfaces:
            gated.setdefault(interface, set()).update(gate.before)
    return {interface: frozenset(jobs) for interface, jobs in gated.items()}


def interfaces_settled_by(situation: Situation, fit: FitReport, told: Mapping[str, Told]) -> dict[str, frozenset[str]]:
    """Part -> open interfaces that can't be settled before it is in hand and measured."""
    found: dict[str, set[str]] = {}
    for measure in fit.measures:
        part = situation.build.find("dimensions", measure.dimension).part
        if measure.needed and part is not None and measure.dimension not in told:
            found.setdefault(part, set()).update(measure.interfaces)
    return {part: frozenset(interfaces) for part, interfaces in found.items()}


def _holds(
    situation: Situation,
    decisions: Mapping[str, float],
    dimensions: Mapping[str, float],
    interfaces: Mapping[str, float | FloatArray],
) -> dict[str, tuple[float, str]]:
    """First week each held offer may be ordered, and what it waits for."""
    names = {"decide": ("decisions", "decision"), "measure": ("dimensions", "measurement"),
             "settle": ("interfaces", "fit")}  # fmt: skip
    weeks: dict[Wait, float] = {("decide", key): week for key, week in decisions.items()}
    weeks |= {("measure", key): week for key, week in dimensions.items()}
    waited = situation.waited_for
    weeks |= {("settle", key): _typical(moment) for key, moment in interfaces.items() if ("settle", key) in waited}
    holds: dict[str, tuple[float, str]] = {}
    for offer, waits in situation.offer_waits.items():
        longest = max((wait for wait in waits if wait in weeks), key=weeks.__getitem__, default=None)
        if longest is not None and weeks[longest] > 0:
            list_name, word = names[longest[0]]
            holds[offer] = (weeks[longest], f"{word}: {situation.build.find(list_name, longest[1]).name}")
    return holds


def waited_for(situation: Situation, offer: str, opened: Openings) -> tuple[Wait, ...]:
    """What the order of an offer waits for: ("decide", decision), ("measure", dimension) or ("settle", interface)."""
    open_now = {
        "decide": {key for key, week in opened.decisions.items() if week > 0},
        "measure": opened.dimensions.keys(),
        "settle": opened.interfaces.keys(),
    }
    return tuple(wait for wait in situation.offer_waits.get(offer, ()) if wait[1] in open_now[wait[0]])
