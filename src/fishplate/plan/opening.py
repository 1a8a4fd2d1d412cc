"""When things that hold work and orders open: decisions, dimensions, interfaces, releases."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import networkx as nx
import numpy as np

from ..build import Assumption, Build, offer_contents
from ..build.decisions import Strength
from ..fit import FitReport, Verdict
from .model import FloatArray
from .situation import Situation

MEASURE_WITHIN_WEEKS = 1.0


@dataclass(frozen=True)
class Delays:
    """Actions put off: (kind, key) -> weeks from as_of before which it is not done."""

    weeks: Mapping[tuple[str, str], float] = field(default_factory=dict)

    def of(self, kind: str, key: str) -> float:
        """Weeks an action is put off; 0 if it is not."""
        return self.weeks.get((kind, key), 0.0)


@dataclass(frozen=True)
class Openings:
    """Modelled moments, weeks since as_of; arrays have shape (runs,).

    Parameters
    ----------
    decisions : open decisions -> moment they are taken
    dimensions : dimensions to be measured -> moment they are known
    interfaces : interfaces not settled -> moment they are
    holds : offer -> (first week it may be ordered, what it waits for)
    """

    decisions: Mapping[str, float]
    dimensions: Mapping[str, float]
    interfaces: Mapping[str, float | FloatArray]
    holds: Mapping[str, tuple[float, str]]
    assumptions: tuple[Assumption, ...] = ()


def openings(
    situation: Situation,
    fit: FitReport,
    modelled_weeks: Mapping[str, float],
    arrivals: Mapping[str, float | FloatArray],
    job_ends: Mapping[str, FloatArray],
    waiting_jobs: Mapping[str, frozenset[str]],
    delays: Delays,
    *,
    with_holds: bool = True,
) -> Openings:
    """Modelled moments at which decisions, dimensions, interfaces and held orders open.

    Parameters
    ----------
    modelled_weeks : decision -> week it is taken if begun today, from the decide engine
    arrivals : part -> moment it is in hand; parts left out are owned
    job_ends : job -> moment it is done, from a run without interface gates
    waiting_jobs : dimension -> jobs that wait for it, from `jobs_waiting_for`
    delays : actions put off
    with_holds : also find when held orders and dimensions open; gates alone need neither
    """
    decisions = _decision_weeks(situation.build, modelled_weeks, delays)
    dimensions, looped = _dimension_weeks(situation, fit, arrivals, job_ends, waiting_jobs, delays)
    interfaces = _interface_weeks(situation, fit, dimensions)
    if not with_holds:
        return Openings(decisions, {}, interfaces, {}, tuple(looped))
    typical = {key: _typical(moment) for key, moment in dimensions.items()}
    return Openings(
        decisions, typical, interfaces, _holds(situation, fit, decisions, typical, interfaces), tuple(looped)
    )


def _typical(moment: float | FloatArray) -> float:
    return float(np.median(moment)) if np.ndim(moment) else float(moment)


def _decision_weeks(build: Build, modelled: Mapping[str, float], delays: Delays) -> dict[str, float]:
    weeks = {key: week for key, week in modelled.items() if week > 0}
    for key in weeks:
        put_off = delays.of("decide", key)
        if put_off:
            weeks[key] = max(weeks[key], put_off + build.find("decisions", key).think_weeks)
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


def _dimension_weeks(
    situation: Situation,
    fit: FitReport,
    arrivals: Mapping[str, float | FloatArray],
    job_ends: Mapping[str, FloatArray],
    waiting_jobs: Mapping[str, frozenset[str]],
    delays: Delays,
) -> tuple[dict[str, float | FloatArray], list[Assumption]]:
    build, known = situation.build, {item.dimension for item in fit.measures}
    weeks: dict[str, float | FloatArray] = {}
    loops: list[Assumption] = []
    for key in sorted(known):
        dimension = build.find("dimensions", key)
        moment: float | FloatArray = 0.0
        if dimension.part is not None and dimension.part in arrivals:
            moment = np.maximum(moment, arrivals[dimension.part])
        job = dimension.job
        if job is not None and not situation.facts.is_done(job) and job in job_ends:
            if job in waiting_jobs.get(key, frozenset()):
                text = f"{dimension.name} is to be measured in {job}, which waits for it: taken as measurable before"
                loops.append(Assumption("measure-loop", f"dimension {key}", text))
            else:
                moment = np.maximum(moment, job_ends[job])
        moment = np.maximum(moment, delays.of("measure", key))
        weeks[key] = moment + MEASURE_WITHIN_WEEKS
    return weeks, loops


def jobs_waiting_for(build: Build) -> dict[str, frozenset[str]]:
    """Dimension -> jobs that wait, directly or through others, for an interface that uses it."""
    from ..build.expression import names_in

    graph: nx.DiGraph = nx.DiGraph()
    for job in build.jobs:
        graph.add_node(job.id)
        graph.add_edges_from((link.job, job.id) for link in job.after)
    by_interface: dict[str, set[str]] = {}
    for condition in build.conditions:
        texts = (condition.expression, condition.at_least, condition.at_most)
        by_interface.setdefault(condition.interface, set()).update(*(names_in(text) for text in texts if text))
    waiting: dict[str, set[str]] = {}
    for job in build.jobs:
        for interface in job.interfaces:
            for name in by_interface.get(interface, ()):
                waiting.setdefault(name, set()).update({job.id} | nx.descendants(graph, job.id))
    return {name: frozenset(jobs) for name, jobs in waiting.items()}


def _interface_weeks(
    situation: Situation,
    fit: FitReport,
    dimensions: Mapping[str, float | FloatArray],
) -> dict[str, float | FloatArray]:
    by_interface: dict[str, list[str]] = {}
    for measure in fit.measures:
        for interface in measure.interfaces:
            by_interface.setdefault(interface, []).append(measure.dimension)
    weekly = max(1.0, float(situation.build.owner.hours_per_week or 5.0))
    early_hours = {c.id: c.early_hours for c in situation.build.conditions}
    weeks: dict[str, float | FloatArray] = {}
    for result in fit.interfaces:
        if result.settled or result.verdict is Verdict.FITS:
            continue
        moment: float | FloatArray = 0.0
        for key in by_interface.get(result.interface, []):
            moment = np.maximum(moment, dimensions[key])
        if result.verdict is Verdict.DOES_NOT_FIT:
            repair = max((early_hours.get(condition, 0.0) for condition in result.conditions), default=0.0)
            moment = moment + repair / weekly
        weeks[result.interface] = np.maximum(moment, MEASURE_WITHIN_WEEKS)
    return weeks


def _holds(
    situation: Situation,
    fit: FitReport,
    decisions: Mapping[str, float],
    dimensions: Mapping[str, float],
    interfaces: Mapping[str, float | FloatArray],
) -> dict[str, tuple[float, str]]:
    """First week each held offer may be ordered, and what it waits for."""
    build = situation.build
    not_known = {name for result in fit.conditions for name in (*result.missing, *result.stale)}
    holds: dict[str, tuple[float, str]] = {}

    def hold(offer: str, week: float, why: str) -> None:
        if week > holds.get(offer, (0.0, ""))[0]:
            holds[offer] = (week, why)

    for release in build.releases:
        for offer in build.offers:
            if release.offer != offer.id and release.part not in offer_contents(build, offer):
                continue
            for key in release.decisions:
                hold(offer.id, decisions.get(key, 0.0), f"decision: {build.find('decisions', key).name}")
            for key in release.dimensions:
                own = build.find("dimensions", key).part in offer_contents(build, offer)
                if not own and (key in dimensions or key in not_known):
                    week = dimensions.get(key, MEASURE_WITHIN_WEEKS)
                    hold(offer.id, week, f"measurement: {build.find('dimensions', key).name}")
            for key in release.interfaces:
                if key in interfaces:
                    hold(offer.id, _typical(interfaces[key]), f"fit: {build.find('interfaces', key).name}")
    for decision, week in decisions.items():
        called = {part for option in build.find("decisions", decision).options for part in option.parts}
        for offer in build.offers:
            no_return = offer.made_to_order or (offer.returns is not None and offer.returns.days == 0)
            if no_return and called & set(offer_contents(build, offer)):
                hold(offer.id, week, f"decision: {build.find('decisions', decision).name}")
    return holds
