"""What every engine finds for one build on one day, before anything is bought."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeAlias

import networkx as nx
import numpy as np

from ..build import Assumption, Build, facts_of
from ..decide import DecisionReport, order_decisions
from ..fit import FitReport, assess
from ..prices import Outlook, outlooks
from ..records import lead_times
from ..work import Gates, WorkReport, with_phase_jobs
from .door import Doors
from .draws import Deliveries
from .memory import PRICED, Forgetful, Memo, Remembered, RememberedSimulator, digest_of, digest_of_text
from .model import FloatArray
from .opening import (
    Delays,
    Opener,
    interfaces_settled_by,
    jobs_gated_by,
    jobs_waiting_for,
    put_off_by_owner,
)
from .order_weeks import HORIZON_WEEKS
from .situation import Situation
from .told import Told, answers_assumed, held_parts, told_without_part

Progress: TypeAlias = Callable[[str, float], None]
LAST_WEEK = 520.0
PROBED_WEEKS = (4.0, 13.0, 26.0)
PROBE_RUNS = 160
LEAST_LATE_SHARE = 0.02


@dataclass(frozen=True)
class Studied:
    """What does not change while purchases are tried: engines' frozen results for one build on one day.

    Parameters
    ----------
    free_run : the work if nothing outside holds it up
    late_weeks : part -> (weeks late, weeks the finish then moves)
    waiting_jobs : dimension -> jobs that wait for an interface that uses it
    told : dimension of a part not in hand -> what tells it sooner than the part
    settled_by : part -> interfaces that can't be settled before it is in hand
    gated : interface -> jobs that wait for it
    misfits : interface not seen right yet -> chance that it proves wrong when it is verified on the vehicle
    doors : what offers cost at the door, worked out once for all rounds
    planned : offer -> weeks in which the last plan orders it
    """

    situation: Situation
    fit: FitReport
    decided: DecisionReport
    outlooks: Mapping[str, Outlook]
    simulator: RememberedSimulator | None
    remembered: Remembered
    deliveries: Deliveries
    incoming: Mapping[str, FloatArray]
    free_run: WorkReport | None
    late_weeks: Mapping[str, tuple[FloatArray, FloatArray]]
    waiting_jobs: Mapping[str, frozenset[str]]
    told: Mapping[str, Told]
    settled_by: Mapping[str, frozenset[str]]
    gated: Mapping[str, frozenset[str]]
    put_off: Delays
    assumptions: tuple[Assumption, ...]
    misfits: Mapping[str, float]
    doors: Doors
    planned: Mapping[str, frozenset[int]] = field(default_factory=dict)

    @cached_property
    def opener(self) -> Opener:
        """Finds when what holds work and orders opens."""
        return Opener(self.situation, self.fit, self.decided.modelled_weeks, self.waiting_jobs, self.told)


def study(situation: Situation, progress: Progress, memo: Memo | None = None) -> Studied:
    """Run every engine that does not depend on what is bought."""
    build, phase_assumptions = _with_dates(situation)
    if build is not situation.build:
        situation = replace(situation, build=build, facts=facts_of(build, situation.as_of))
    key = digest_of(build, situation.as_of, situation.seed, situation.runs, without=PRICED)
    remembered = Remembered(memo or Forgetful(), key, digest_of_text("purchases of", build.name))
    progress("fit", 0.05)
    # what can be asked of suppliers, or bought early, is worth measuring another way
    asked = digest_of(build, without=set(type(build).model_fields) - {"offers", "kits", "enquiries"})
    fit: FitReport = remembered.recall(f"fit {asked}", lambda: assess(build, situation.facts, seed=situation.seed))
    progress("prices", 0.15)
    seen = outlooks(build, situation.facts, weeks=HORIZON_WEEKS)
    progress("work", 0.2)
    simulator = _simulator(build, situation, remembered)
    learnt = lead_times(build, situation.as_of)
    deliveries = Deliveries(build, situation.facts, situation.runs, situation.seed, learnt)
    incoming = deliveries.incoming()
    misfits = {
        each.interface: 1.0 - each.chance for each in fit.interfaces if each.chance is not None and not each.settled
    }
    free_run = simulator.run(Gates(misfits=misfits)) if simulator else None
    decided = order_decisions(build, situation.facts, start_weeks=_latest_starts(free_run), order_by_weeks={})
    assumptions = (*situation.assumptions(), *phase_assumptions, *fit.assumptions, *decided.assumptions)
    if simulator is not None:
        assumptions += tuple(simulator.assumptions)
    told = told_without_part(situation, fit)
    assumptions += tuple(answers_assumed(situation, told))
    settled_by, gated = interfaces_settled_by(situation, fit, told), jobs_gated_by(build)
    late_weeks = _late_curves(situation, simulator, free_run, told, settled_by, gated, misfits)
    return Studied(
        situation,
        fit,
        decided,
        seen,
        simulator,
        remembered,
        deliveries,
        incoming,
        free_run,
        late_weeks,
        jobs_waiting_for(build),
        told,
        settled_by,
        gated,
        put_off_by_owner(build, situation.as_of),
        assumptions,
        misfits,
        Doors(situation),
    )


def _with_dates(situation: Situation) -> tuple[Build, tuple[Assumption, ...]]:
    """The build with a job for each phase, where it says by phase but not by job when its parts are needed."""
    build = situation.build
    if not any(part.phase is not None for part in build.parts):
        return build, ()
    return with_phase_jobs(build, situation.facts)


def _simulator(build: Build, situation: Situation, remembered: Remembered) -> RememberedSimulator | None:
    if not any(job.id in situation.facts.wanted_jobs for job in build.jobs):
        return None
    return RememberedSimulator(build, situation.facts, runs=situation.runs, seed=situation.seed, remembered=remembered)


def _latest_starts(free_run: WorkReport | None) -> dict[str, float]:
    """Job -> early (one in ten) start put off by its slack: begun later, it moves the finish."""
    if free_run is None:
        return {}
    starts = {job: float(np.quantile(moments, 0.1, method="inverted_cdf")) for job, moments in free_run.starts.items()}
    return {job: week + max(0.0, free_run.slack_weeks.get(job, 0.0)) for job, week in starts.items()}


def _late_curves(
    situation: Situation,
    simulator: RememberedSimulator | None,
    free_run: WorkReport | None,
    told: Mapping[str, Told],
    settled_by: Mapping[str, frozenset[str]],
    gated: Mapping[str, frozenset[str]],
    misfits: Mapping[str, float],
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Part -> (weeks late, weeks the finish then moves), by making it late and looking: a missed season shows."""
    if simulator is None or free_run is None:
        return {}
    few = min(PROBE_RUNS, situation.runs)
    base = np.minimum(simulator.finish_weeks(Gates(misfits=misfits), runs=few), LAST_WEEK)
    late = np.array((0.0, *PROBED_WEEKS))
    curves = {}
    known: dict[Hashable, tuple[FloatArray, FloatArray]] = {}  # parts that stop the same jobs are late alike
    stops = _jobs_stopped(situation.build)
    for part in sorted(situation.missing_parts):
        need = {part: free_run.need_weeks[part]} if part in free_run.need_weeks else {}
        starts = {key: first_start(free_run, gated.get(key, ())) for key in sorted(settled_by.get(part, ()))}
        held = {key: start for key, start in starts.items() if start is not None}
        if not need and not held:
            continue
        alike = (stops.get(part, frozenset()) if need else None, tuple(held))
        if alike in known:
            curves[part] = known[alike]
            continue
        moved = [0.0]
        for weeks in PROBED_WEEKS:
            gates = Gates(
                parts={key: moment + weeks for key, moment in need.items()},
                interfaces={key: moment + weeks for key, moment in held.items()},
                misfits=misfits,
            )
            finish = np.minimum(simulator.finish_weeks(gates, runs=few), LAST_WEEK)
            # A part that stops nothing still costs a little patience when it is late.
            moved.append(max(moved[-1], float(np.mean(finish - base)), LEAST_LATE_SHARE * weeks))
        curves[part] = known[alike] = _extended(late, np.array(moved))
    for earlier, later in held_up_by(situation, told):
        # A part whose dimension holds an order is as late as what is then ordered late.
        if later in curves:
            own = curves.get(earlier, curves[later])
            curves[earlier] = own[0], np.maximum(own[1], curves[later][1])
    return curves


def _jobs_stopped(build: Build) -> dict[str, frozenset[str]]:
    """Part -> the jobs that need it; with its own name where one can go on up to a stop point without it."""
    found: dict[str, set[str]] = defaultdict(set)
    for job in build.jobs:
        for part in (*job.to_try, *job.to_keep):
            found[part].add(job.id)
        for stop in job.stop_points:
            for part in stop.without:
                found[part].add(f"without {part}")
    return {part: frozenset(jobs) for part, jobs in found.items()}


def first_start(run: WorkReport, jobs: Iterable[str]) -> FloatArray | None:
    """Moment the first of some jobs begins, shape (runs,); None if none of them is planned."""
    starts = [run.starts[job] for job in sorted(jobs) if job in run.starts]
    return np.minimum.reduce(starts) if starts else None


def held_up_by(situation: Situation, told: Mapping[str, Told]) -> list[tuple[str, str]]:
    """(part, part whose order waits for a dimension of the first in hand), in the order in which they are bought."""
    graph: nx.DiGraph[str] = nx.DiGraph()
    for release in situation.build.releases:
        for key in release.dimensions:
            part = situation.build.find("dimensions", key).part
            if part is not None and key not in told:
                graph.add_edges_from((part, held) for held in held_parts(situation.build, release) if held != part)
    components = nx.condensation(graph)
    order = {part: n for n, c in enumerate(nx.topological_sort(components)) for part in components.nodes[c]["members"]}
    # later ones first, so that what is passed on is complete
    return sorted(graph.edges, key=lambda edge: (-order[edge[1]], edge))


def _extended(late: FloatArray, moved: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The curve continued beyond the last probe at one week for a week."""
    return np.append(late, late[-1] + 520), np.append(moved, moved[-1] + 520)
