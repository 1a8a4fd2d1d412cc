"""Jobs that must begin soon after others, where what has to happen in between takes longer: the fewest links at fault.

Every link is a least time between two moments, and a window a greatest one. They can all be kept if and only if no
circle of them has a positive sum (R. Dechter, I. Meiri and J. Pearl, Temporal constraint networks, Artificial
Intelligence 49, 1991); hands-on time counts as none, so that what is named is at fault whatever the hours.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from ..build import Problem
from ..build.jobs import Gate, Job, Link
from ..build.words import joined
from .job_fault import JobFault

Moment = tuple[str, Literal["start", "end"]]
CLOSED = 1e-6


@dataclass(frozen=True, slots=True)
class Least:
    """A moment is at least so many days after another.

    Parameters
    ----------
    days : negative where the other is at most so many days after it
    text : the link or gate it comes from, as a clause
    """

    before: Moment
    after: Moment
    days: float
    text: str


def closed_windows(jobs: Mapping[str, Job], gates: Iterable[Gate] = ()) -> Iterator[JobFault]:
    """A problem for each group of links that can't all be kept, naming the fewest of them.

    Parameters
    ----------
    jobs : those still to be done, by id; links to others are over
    """
    if not any(link.within_days is not None for job in jobs.values() for link in job.after):
        return
    for group in _tied([*least_times(jobs), *_gates(jobs, gates)]):
        fault = fewest(group)
        if fault:
            yield _problem(fault)


def least_times(jobs: Mapping[str, Job]) -> Iterator[Least]:
    """The least times that the links between some jobs ask for."""
    for job in jobs.values():
        for link in job.after:
            if link.job in jobs:
                yield from _of_link(jobs[link.job], job, link)


def _of_link(first: Job, job: Job, link: Link) -> Iterator[Least]:
    start: Moment = (job.id, "start")
    names = f"“{job.name}”", f"“{first.name}”"
    if link.kind == "start-start":
        from_: Moment = (first.id, "start")
        took, words = link.lag_days, f"{names[0]} waits until {names[1]} has begun"
    else:
        from_ = (first.id, "end")
        took, words = first.cure_days + link.lag_days, f"{names[0]} waits for {names[1]}"
    yield Least(from_, start, took, f"{words}{f' and {took:g} days more' if took else ''}")
    if link.within_days is not None:
        text = f"{names[0]} must begin within {link.within_days:g} days of {names[1]}"
        yield Least(start, from_, -link.within_days, text)


def _gates(jobs: Mapping[str, Job], gates: Iterable[Gate]) -> Iterator[Least]:
    for gate in gates:
        for first in gate.after:
            for later in gate.before:
                if first in jobs and later in jobs:
                    text = f"the gate “{gate.name}” holds “{jobs[later].name}” until “{jobs[first].name}” is done"
                    yield Least((first, "end"), (later, "start"), 0.0, text)


def _tied(found: Sequence[Least]) -> Iterator[list[Least]]:
    """Groups of what lies on circles with each other."""
    import networkx as nx

    graph = nx.DiGraph((item.before, item.after) for item in found)
    graph.add_edges_from(((id_, "start"), (id_, "end")) for id_, _ in list(graph))
    for group in sorted(nx.strongly_connected_components(graph), key=min):
        if len(group) > 1:
            yield [item for item in found if item.before in group and item.after in group]


def fewest(found: Sequence[Least]) -> tuple[Least, ...]:
    """The fewest that can't all be kept, in a circle; none if they can be."""
    steps = [*_steps(found)]
    if not _has_positive_circle(steps):
        return ()
    best: tuple[Least, ...] = ()
    for start in sorted({item.before for _, _, item in steps}):
        circle = _shortest_circle(steps, start, len(best) - 1 if best else len(found))
        best = circle or best
    return best


def _steps(found: Iterable[Least]) -> Iterator[tuple[Moment, Moment, Least]]:
    """Each from where it begins; from a job's start too where it begins at its end, which is no sooner."""
    for item in found:
        yield item.before, item.after, item
        if item.before[1] == "end":
            yield (item.before[0], "start"), item.after, item


def _has_positive_circle(steps: Sequence[tuple[Moment, Moment, Least]]) -> bool:
    latest: dict[Moment, float] = defaultdict(float)
    for _ in range(1 + len({moment for before, after, _ in steps for moment in (before, after)})):
        moved = False
        for before, after, item in steps:
            if latest[before] + item.days > latest[after] + CLOSED:
                latest[after] = latest[before] + item.days
                moved = True
        if not moved:
            return False
    return True


def _shortest_circle(
    steps: Sequence[tuple[Moment, Moment, Least]], start: Moment, most: int
) -> tuple[Least, ...]:  # fmt: skip
    """The fewest that lead from a moment back to it in more than no time, up to so many."""
    reached: dict[Moment, tuple[float, tuple[Least, ...]]] = {start: (0.0, ())}
    for _ in range(most):
        further: dict[Moment, tuple[float, tuple[Least, ...]]] = {}
        for before, after, item in steps:
            if before not in reached:
                continue
            days, path = reached[before]
            if after not in further or days + item.days > further[after][0]:
                further[after] = days + item.days, (*path, item)
        if further.get(start, (0.0,))[0] > CLOSED:
            return further[start][1]
        reached = further
    return ()


def _problem(fault: Sequence[Least]) -> JobFault:
    window = next(item for item in fault if item.days < 0)
    clauses = joined([item.text for item in sorted(fault, key=lambda item: (item.days >= 0, item.text))])
    what = f"these can't all be kept: {clauses}"
    do = "Lengthen the window, shorten what lies between, or take one of the links out."
    held = dict.fromkeys(id_ for item in fault for id_, _ in (item.before, item.after))
    where = f"jobs ({window.before[0]}), after ({window.after[0]})"
    return JobFault(Problem(where, "window-closed", what, "", do), tuple(held))
