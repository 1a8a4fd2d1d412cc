"""Which jobs set the length of the work, from durations and links alone, and how much the others can slip."""

from __future__ import annotations

import heapq
from collections import defaultdict, deque
from collections.abc import Iterable, Mapping

from .model import CriticalPath, Precedence

_TOUCHING = 1e-9


def critical_path(
    durations: Mapping[str, float], links: Iterable[Precedence | tuple[str, str] | tuple[str, str, str, float]]
) -> CriticalPath:
    """Earliest and latest moments of every job, unlimited hands.

    Parameters
    ----------
    durations : by job, in any one unit of time
    links : (before, after), or (before, after, "finish-start" or "start-start", lag) with the lag in the same unit

    Returns
    -------
    the forward and backward pass; `chain` is one longest chain, ties broken by id

    Raises
    ------
    ValueError
        if a duration is negative, a link names a job without a duration, or jobs wait for each other in a circle

    Notes
    -----
    Critical path method, Kelley & Walker (1959), extended by start-start links (precedence diagram).

    Examples
    --------
    >>> path = critical_path({"strip": 2, "weld": 5, "paint": 3}, [("strip", "weld"), ("strip", "paint")])
    >>> path.duration, path.critical, path.slack["paint"]
    (7.0, ('strip', 'weld'), 2.0)
    """
    edges = [Precedence(*link) for link in links]
    _refuse_bad(durations, edges)
    order = _in_order(durations, edges)
    before: dict[str, list[Precedence]] = defaultdict(list)
    after: dict[str, list[Precedence]] = defaultdict(list)
    for edge in edges:
        before[edge.after].append(edge)
        after[edge.before].append(edge)
    es: dict[str, float] = {}
    ef: dict[str, float] = {}
    binding: dict[str, str | None] = {}
    for job in order:
        candidates = [(_moment(edge, es, ef), edge.before) for edge in before[job]]
        latest = max((moment for moment, _ in candidates), default=0.0)
        es[job] = max(0.0, latest)
        ef[job] = es[job] + durations[job]
        tied = [name for moment, name in candidates if moment >= es[job] - _TOUCHING]
        binding[job] = min(tied) if tied else None
    duration = max(ef.values(), default=0.0)
    ls, lf = _backward(order, durations, after, duration)
    slack = {job: _exact(ls[job] - es[job]) for job in order}
    critical = tuple(sorted((job for job in order if slack[job] == 0), key=lambda job: (es[job], job)))
    return CriticalPath(es, ef, ls, lf, slack, critical, duration, _chain(ef, binding, duration))


def pert_mean_variance(low: float, likely: float, high: float) -> tuple[float, float]:
    """Mean and variance of a job's length by the classical three-point rule.

    Parameters
    ----------
    low, likely, high : in any one unit of time

    Returns
    -------
    mean in that unit, variance in its square

    Notes
    -----
    mean = (low + 4 likely + high) / 6, variance = ((high - low) / 6)^2; Malcolm et al. (1959). The simulation reads
    the three points as a triangular distribution instead.

    Examples
    --------
    >>> pert_mean_variance(1, 4, 7)
    (4.0, 1.0)
    """
    return (low + 4 * likely + high) / 6, ((high - low) / 6) ** 2


def _exact(slack: float) -> float:
    return 0.0 if abs(slack) <= _TOUCHING else slack


def _moment(edge: Precedence, es: Mapping[str, float], ef: Mapping[str, float]) -> float:
    return (es if edge.kind == "start-start" else ef)[edge.before] + edge.lag


def _refuse_bad(durations: Mapping[str, float], edges: list[Precedence]) -> None:
    negative = sorted(job for job, duration in durations.items() if not duration >= 0)
    if negative:
        raise ValueError(f"a duration is negative or not a number: {', '.join(negative)}")
    unknown = sorted({job for edge in edges for job in (edge.before, edge.after) if job not in durations})
    if unknown:
        raise ValueError(f"a link names jobs without a duration: {', '.join(unknown)}")


def _in_order(durations: Mapping[str, float], edges: list[Precedence]) -> list[str]:
    waiting = dict.fromkeys(durations, 0)
    following: dict[str, list[str]] = defaultdict(list)
    for edge in edges:
        waiting[edge.after] += 1
        following[edge.before].append(edge.after)
    free = [job for job, count in waiting.items() if count == 0]
    heapq.heapify(free)
    order = []
    while free:
        job = heapq.heappop(free)
        order.append(job)
        for name in following[job]:
            waiting[name] -= 1
            if waiting[name] == 0:
                heapq.heappush(free, name)
    if len(order) < len(waiting):
        circle = _smallest_circle(set(waiting) - set(order), following)
        raise ValueError(f"jobs wait for each other in a circle: {' → '.join([*circle, circle[0]])}")
    return order


def _smallest_circle(stuck: set[str], following: Mapping[str, Iterable[str]]) -> list[str]:
    """A circle of fewest jobs among those of which each waits for another; the first by id."""
    circles = (circle for start in sorted(stuck) if (circle := _back_to(start, stuck, following)))
    return min(circles, key=len)


def _back_to(start: str, stuck: set[str], following: Mapping[str, Iterable[str]]) -> list[str]:
    """The shortest way from a job back to itself, empty if there is none; breadth first."""
    came: dict[str, str] = {}
    todo = deque([start])
    while todo:
        here = todo.popleft()
        for name in sorted(following[here]):
            if name == start:
                way = [here]
                while way[-1] != start:
                    way.append(came[way[-1]])
                return way[::-1]
            if name in stuck and name not in came:
                came[name] = here
                todo.append(name)
    return []


def _backward(
    order: list[str], durations: Mapping[str, float], after: Mapping[str, list[Precedence]], duration: float
) -> tuple[dict[str, float], dict[str, float]]:
    ls: dict[str, float] = {}
    lf: dict[str, float] = {}
    for job in reversed(order):
        limits = [
            ls[edge.after] - edge.lag + (durations[job] if edge.kind == "start-start" else 0.0) for edge in after[job]
        ]
        lf[job] = min([duration, *limits])
        ls[job] = lf[job] - durations[job]
    return {job: ls[job] for job in order}, {job: lf[job] for job in order}


def _chain(ef: Mapping[str, float], binding: Mapping[str, str | None], duration: float) -> tuple[str, ...]:
    here = min((job for job, moment in ef.items() if moment >= duration - _TOUCHING), default=None)
    chain: list[str] = []
    while here is not None:
        chain.append(here)
        here = binding[here]
    return tuple(reversed(chain))
