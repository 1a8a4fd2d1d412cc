"""Before which jobs it has to be known whether the parts of a place go together."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from ..build import Build
from ..build.interfaces import Interface
from ..build.jobs import Job
from ..build.parts import Phase


class Before(NamedTuple):
    """Jobs, the first of which ends the time to find out.

    Parameters
    ----------
    why : said behind the name of one; "" where the owner says so
    wait : they can't begin before it is known, so that nothing is lost but their time
    """

    jobs: tuple[str, ...]
    why: str = ""
    wait: bool = False


def jobs_before(build: Build, interface: Interface, planned: Callable[[str], bool]) -> Before:
    """Jobs before which the dimensions of an interface have to be known.

    Those its owner names. Where none is, or all are done: those that wait for it; else those that try it through; else
    those that fit one of its parts for good; else those of its systems from finishing on (common practice: nothing is
    painted over a doubt).

    Parameters
    ----------
    planned : whether a job is still to come
    """
    for before in _in_turn(build, interface):
        jobs = tuple(sorted(job for job in set(before.jobs) if planned(job)))
        if jobs:
            return before._replace(jobs=jobs)
    return Before(())


def _in_turn(build: Build, interface: Interface) -> Iterator[Before]:
    id_, parts, systems = interface.id, set(interface.parts), set(interface.systems)
    named = [job for job in (interface.settle_by, interface.closed_by) if job is not None]
    yield Before((*named, *_jobs(build, lambda job: id_ in job.closes)))
    yield Before(_jobs(build, lambda job: id_ in job.interfaces), wait=True)
    yield Before(_jobs(build, lambda job: id_ in job.settles))
    yield Before(_jobs(build, lambda job: not parts.isdisjoint(job.to_keep)), ", which fits one of its parts for good")
    late = _jobs(build, lambda job: job.system in systems and job.phase.order >= Phase.FINISH.order)
    yield Before(late, ", the first of its system after the mock-up")


def _jobs(build: Build, wanted: Callable[[Job], bool]) -> tuple[str, ...]:
    return tuple(job.id for job in build.jobs if wanted(job))
