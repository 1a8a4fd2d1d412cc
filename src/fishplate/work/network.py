"""Jobs cut into pieces at their stop points, in order of priority, with what each waits for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from ..build import Build, Facts, week_of
from ..build.jobs import Job
from .critical_path import critical_path
from .kernel_types import Flags, Floats, Ints, Network
from .model import CriticalPath, Precedence
from .owner_hours import Window
from .pattern import parted

GateKey = tuple[str, str]
"""(list of Gates, id)."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a job between two stop points; of a gate, or of a job not called for, nothing but its links.

    Parameters
    ----------
    node : the job's id, or the gate's with "gate " before it
    share : of the job's hours left
    gates : what must be open before it starts
    """

    node: str
    number: int
    job: Job | None
    share: float
    gates: tuple[GateKey, ...]
    last: bool


_ANY_TIME: Window = ((), False)


class Recoat(NamedTuple):
    """A job that must begin within so many days of another's end, or start, or else takes hours more."""

    before: str
    after: str
    by_start: bool
    days: float
    hours: float


@dataclass(frozen=True, slots=True)
class WorkNetwork:
    """Pieces in order of priority, and the arrays made from them.

    Parameters
    ----------
    jobs : wanted jobs not yet done, by id
    links : between nodes, lags in days, cure left out
    opens_days, opened_by : by node, earliest day left over from jobs done before, and the job that sets it
    path : critical path of the nodes, in weeks
    windows : months and need of help of some job
    recoats : links by which a job must begin in time, as far as both are still to do
    recoats_past : by job, days counted from as_of by which it must begin, and the hours it takes more if it does not
    shared_parts : pairs of jobs that one part keeps apart, the earlier first
    hurried : jobs that must begin in time, or need a second person who is not always there: others rest for them
    begun : jobs begun before as_of
    """

    jobs: Mapping[str, Job]
    pieces: tuple[Piece, ...]
    links: tuple[Precedence, ...]
    opens_days: Mapping[str, float]
    opened_by: Mapping[str, str]
    path: CriticalPath
    windows: tuple[Window, ...]
    recoats: tuple[Recoat, ...] = ()
    recoats_past: Mapping[str, tuple[tuple[float, float], ...]] = field(default_factory=dict)
    shared_parts: tuple[tuple[str, str, str], ...] = ()
    hurried: frozenset[str] = frozenset()
    begun: frozenset[str] = frozenset()


def wanted_jobs(build: Build, facts: Facts) -> dict[str, Job]:
    """Jobs to be done still, by id: neither done, dropped, nor called for only by options not chosen."""
    optional = {job for decision in build.decisions for option in decision.options for job in option.jobs}
    return {
        job.id: job
        for job in sorted(build.jobs, key=lambda job: job.id)
        if not facts.is_done(job.id) and not job.dropped and (job.id not in optional or job.id in facts.wanted_jobs)
    }


def work_network(build: Build, facts: Facts, weeks_of_work: Mapping[str, float]) -> WorkNetwork:
    """The network of what is left to do.

    Parameters
    ----------
    weeks_of_work : by job, its likely length with its share of the owner's week and the shop's time [weeks]
    """
    jobs = wanted_jobs(build, facts)
    listed = tuple(dict.fromkeys(_links(build, facts, jobs)))
    shared = tuple(parted(jobs, listed))
    links = (*listed, *(Precedence(before, after) for before, after, _ in shared))
    nodes = _nodes(build, facts)
    lags = [link._replace(lag=(link.lag + _cure_days(jobs, link)) / 7) for link in links]
    path = critical_path({node: weeks_of_work.get(node, 0.0) for node in nodes}, lags)
    recoats, past = _recoats(facts, jobs), _recoats_past(facts, jobs)
    hurried = {*(recoat.after for recoat in recoats), *past}
    gates_of = _gates_of(build, jobs.values())
    pieces = [piece for node in nodes for piece in _pieces_of(build, facts, node, jobs.get(node), gates_of)]
    # what must begin in time, or when someone is there to help, goes before anything else that is ready
    if build.owner.helpers:
        hurried |= {job.id for job in jobs.values() if job.second_person}
    pieces.sort(key=lambda p: (p.node not in hurried, round(path.slack[p.node], 9), p.node, p.number))
    windows = tuple(sorted({window for job in jobs.values() if (window := window_of(job)) is not None}))
    opens = _opens(build, facts)
    return WorkNetwork(
        jobs=jobs,
        pieces=tuple(pieces),
        links=links,
        opens_days={node: day for node, (day, _) in opens.items()},
        opened_by={node: before for node, (_, before) in opens.items()},
        path=path,
        windows=windows,
        recoats=recoats,
        recoats_past=past,
        shared_parts=shared,
        hurried=frozenset(hurried),
        begun=frozenset(job for job in jobs if _has_begun(facts, job)),
    )


def window_of(job: Job) -> Window | None:
    """When a job can be worked, if not at any time."""
    months = tuple(sorted(set(job.months)))
    return (months, job.second_person) if months or job.second_person else None


def _recoats(facts: Facts, jobs: Mapping[str, Job]) -> tuple[Recoat, ...]:
    return tuple(
        Recoat(link.job, job.id, link.kind == "start-start", link.within_days, link.redo_hours)
        for job in jobs.values()
        for link in job.after
        if link.within_days is not None and link.job in jobs and not _has_begun(facts, job.id)
        if link.kind == "finish-start" or not _has_begun(facts, link.job)
    )


def _recoats_past(facts: Facts, jobs: Mapping[str, Job]) -> dict[str, tuple[tuple[float, float], ...]]:
    """By job, what must follow jobs done before as_of in time."""
    found: dict[str, tuple[tuple[float, float], ...]] = {}
    for job in jobs.values():
        for link in job.after:
            done = facts.jobs[link.job].done_on if link.job in facts.jobs else None
            if link.within_days is None or link.kind != "finish-start" or done is None or _has_begun(facts, job.id):
                continue
            day = 7 * week_of(facts.as_of, done) + link.within_days
            found[job.id] = (*found.get(job.id, ()), (day, link.redo_hours))
    return found


def network_arrays(
    network: WorkNetwork, rows: Mapping[str, int], shop_rows: Mapping[str, int], rework_rows: Mapping[str, int]
) -> Network:
    """The network as the kernel reads it.

    Parameters
    ----------
    rows, shop_rows, rework_rows : row of each job in the hours, in the shop's times, in the rework
    """
    pieces = network.pieces
    place = {(piece.node, piece.number): position for position, piece in enumerate(pieces)}
    edges = list(_edges(network, place))
    forward = _grouped(edges, len(pieces), by_after=False)
    backward = _grouped(edges, len(pieces), by_after=True)
    jobs = [piece.job for piece in pieces]
    whole = [job if job and piece.last else None for job, piece in zip(jobs, pieces, strict=True)]
    window = {each: row for row, each in enumerate(network.windows)}
    late = _late_arrays(network, place)
    return Network(
        hands=np.array([_takes_hands(piece, network, rework_rows) for piece in pieces], dtype=np.bool_),
        job=np.array([rows[job.id] if job else -1 for job in jobs], dtype=np.int64),
        share=np.array([piece.share for piece in pieces], dtype=np.float64),
        shop=np.array([shop_rows.get(job.id, -1) if job else -1 for job in whole], dtype=np.int64),
        cure=np.array([job.cure_days if job else 0.0 for job in whole], dtype=np.float64),
        window=np.array([window.get(window_of(job) or _ANY_TIME, -1) if job else -1 for job in jobs], dtype=np.int64),
        resumes=np.array([_resumes(piece, network, place) for piece in pieces], dtype=np.int64),
        setup=np.array([job.setting_up_minutes / 60 if job else 0.0 for job in jobs], dtype=np.float64),
        holds=np.array([(job.bay, job.lift) if job else (False, False) for job in jobs], dtype=np.bool_).reshape(-1, 2),
        verify=np.array([rework_rows.get(job.id, -1) if job else -1 for job in whole], dtype=np.int64),
        urgent=np.array([piece.node in network.hurried for piece in pieces], dtype=np.bool_),
        any_urgent=bool(network.hurried),
        late_first=late[0],
        late_piece=late[1],
        late_days=late[2],
        late_hours=late[3],
        late_start=late[4],
        opens=np.array([0.0 if p.number else network.opens_days.get(p.node, 0.0) for p in pieces], dtype=np.float64),
        waits=np.diff(backward[0]),
        after_first=forward[0],
        after=forward[1],
        after_lag=forward[2],
        after_start=forward[3],
        before_first=backward[0],
        before=backward[1],
        before_lag=backward[2],
        before_start=backward[3],
    )


def _takes_hands(piece: Piece, network: WorkNetwork, rework_rows: Mapping[str, int]) -> bool:
    """Whether it comes to hours, or someone has to be there for it."""
    job = piece.job
    if job is None:
        return False
    comes_to = piece.share > 0 and job.hours.high > 0
    placed = job.bay or job.lift
    redone = any(recoat.after == job.id for recoat in network.recoats) or job.id in network.recoats_past
    return comes_to or placed or redone or (piece.last and job.id in rework_rows)


def _resumes(piece: Piece, network: WorkNetwork, place: Mapping[tuple[str, int], int]) -> int:
    if piece.number:
        return place[piece.node, piece.number - 1]
    return len(network.pieces) if piece.node in network.begun else -1


def _late_arrays(
    network: WorkNetwork, place: Mapping[tuple[str, int], int]
) -> tuple[Ints, Ints, Floats, Floats, Flags]:
    """What each piece must begin in time after: where each piece's begin, the other piece, days, hours, by start."""
    last = {piece.node: piece.number for piece in network.pieces if piece.last}
    rows = [
        (place[r.after, 0], place[r.before, 0 if r.by_start else last[r.before]], r.days, r.hours, r.by_start)
        for r in network.recoats
    ]
    rows += [
        (place[job, 0], -1, day, hours, False) for job, past in network.recoats_past.items() for day, hours in past
    ]
    rows.sort()
    counts = np.bincount(np.array([row[0] for row in rows], dtype=np.int64), minlength=len(network.pieces))
    return (
        np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(counts)]),
        np.array([row[1] for row in rows], dtype=np.int64),
        np.array([row[2] for row in rows], dtype=np.float64),
        np.array([row[3] for row in rows], dtype=np.float64),
        np.array([row[4] for row in rows], dtype=np.bool_),
    )


def gate_node(gate: str) -> str:
    """The node a gate stands for; no job's id holds a blank."""
    return f"gate {gate}"


def _nodes(build: Build, facts: Facts) -> list[str]:
    jobs = [job.id for job in build.jobs if not facts.is_done(job.id)]
    return sorted([*jobs, *(gate_node(gate.id) for gate in build.gates)])


def _links(build: Build, facts: Facts, jobs: Mapping[str, Job]) -> Iterator[Precedence]:
    """Links between what is left, lags in days; a job not called for passes them on without lag."""
    for job in build.jobs:
        if facts.is_done(job.id):
            continue
        for link in job.after:
            begun = link.kind == "start-start" and _has_begun(facts, link.job)
            if not facts.is_done(link.job) and not begun:
                yield Precedence(link.job, job.id, link.kind, link.lag_days if link.job in jobs else 0.0)
    for gate in build.gates:
        node = gate_node(gate.id)
        yield from (Precedence(before, node) for before in gate.after if not facts.is_done(before))
        yield from (Precedence(node, after) for after in gate.before if not facts.is_done(after))


def _cure_days(jobs: Mapping[str, Job], link: Precedence) -> float:
    return jobs[link.before].cure_days if link.kind == "finish-start" and link.before in jobs else 0.0


def _has_begun(facts: Facts, job: str) -> bool:
    state = facts.jobs.get(job)
    return state is not None and state.hours_worked > 0


def _opens(build: Build, facts: Facts) -> dict[str, tuple[float, str]]:
    """By node, the day until which a job done before still cures or lags, and that job."""
    opens: dict[str, tuple[float, str]] = {}
    waits = [(job.id, link.job, link.lag_days, link.kind) for job in build.jobs for link in job.after]
    waits += [(gate_node(gate.id), job, 0.0, "finish-start") for gate in build.gates for job in gate.after]
    for node, before, lag, kind in waits:
        state = facts.jobs.get(before)
        if state is not None and state.done_on is not None and kind == "finish-start":
            cured = 7 * week_of(facts.as_of, state.done_on) + build.find("jobs", before).cure_days + lag
            if cured > 0:
                opens[node] = max(opens.get(node, (0.0, "")), (cured, before))
    return opens


def _pieces_of(
    build: Build,
    facts: Facts,
    node: str,
    job: Job | None,
    gates_of: Mapping[str, list[GateKey]],
) -> list[Piece]:
    if job is None:
        interfaces = next((gate.interfaces for gate in build.gates if gate_node(gate.id) == node), ())
        return [Piece(node, 0, None, 0.0, tuple(("interfaces", id_) for id_ in sorted(set(interfaces))), last=True)]
    done = share_done(job, facts)
    needed = {part: max(0.0, at) for part, at in needed_from(facts, job).items()}
    cuts = sorted({0.0, *(at for at in needed.values() if at > done)})
    cuts[0] = done
    pieces = []
    for number, begin in enumerate(cuts):
        end = cuts[number + 1] if number + 1 < len(cuts) else 1.0
        parts = [part for part, at in needed.items() if (max(at, done) == begin)]
        gates = [("parts", part) for part in sorted(parts)]
        if number == 0:
            gates += gates_of[job.id]
        share = (end - begin) / (1 - done) if done < 1 else 0.0
        pieces.append(Piece(node, number, job, share, tuple(gates), last=number + 1 == len(cuts)))
    return pieces


def share_done(job: Job, facts: Facts) -> float:
    """The share of a job's hours already worked, by the hours said to be left or else its likely hours."""
    state = facts.jobs.get(job.id)
    if state is None or state.hours_worked <= 0:
        return 0.0
    if state.hours_left is not None:
        return state.hours_worked / (state.hours_worked + state.hours_left)
    return min(0.95, state.hours_worked / job.hours.likely) if job.hours.likely > 0 else 0.0


def needed_from(facts: Facts, job: Job) -> dict[str, float]:
    """By wanted part, the share of the job's hours that can be worked without it."""
    needed = dict.fromkeys([*job.to_try, *job.to_keep, *job.works_on], 0.0)
    for stop in job.stop_points:
        for part in stop.without:
            needed[part] = max(needed.get(part, 0.0), stop.share)
    return {part: at for part, at in needed.items() if part in facts.wanted_parts}


def _gates_of(build: Build, jobs: Iterable[Job]) -> dict[str, list[GateKey]]:
    """What jobs wait for besides parts, by job."""
    decisions, interfaces = defaultdict[str, set[str]](set), defaultdict[str, set[str]](set)
    for item in build.decisions:
        decisions[item.freeze_by or ""].add(item.id)
    for place in build.interfaces:
        interfaces[place.settle_by or ""].add(place.id)
    gates = {}
    for job in jobs:
        # a job that itself settles an interface on the vehicle can't wait for it
        settled = {*job.interfaces, *interfaces[job.id]} - set(job.settles)
        decided = {*job.decisions, *decisions[job.id]}
        keys = [("decisions", id_) for id_ in sorted(decided)] + [("interfaces", id_) for id_ in sorted(settled)]
        gates[job.id] = [*keys, ("jobs", job.id)]
    return gates


_Edge = tuple[int, int, float, bool]


def _edges(network: WorkNetwork, place: Mapping[tuple[str, int], int]) -> Iterator[_Edge]:
    """Links between pieces: (before, after, lag in days, by start)."""
    last = {piece.node: piece.number for piece in network.pieces if piece.last}
    for link in network.links:
        by_start = link.kind == "start-start"
        before = place[link.before, 0 if by_start else last[link.before]]
        yield before, place[link.after, 0], link.lag, by_start
    for node, count in last.items():
        yield from ((place[node, number], place[node, number + 1], 0.0, False) for number in range(count))


def _grouped(edges: list[_Edge], pieces: int, *, by_after: bool) -> tuple[Ints, Ints, Floats, Flags]:
    """Links by the piece at one end: where each piece's begin, the piece at the other end, lags, whether by start."""
    ends = [(after, before) if by_after else (before, after) for before, after, _, _ in edges]
    order = sorted(range(len(edges)), key=lambda k: ends[k])
    counts = np.bincount(np.array([near for near, _ in ends], dtype=np.int64), minlength=pieces)
    first = np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(counts)])
    far = np.array([ends[k][1] for k in order], dtype=np.int64)
    lags = np.array([edges[k][2] for k in order], dtype=np.float64)
    return first, far, lags, np.array([edges[k][3] for k in order], dtype=np.bool_)
