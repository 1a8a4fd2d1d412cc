"""Mock-up, strip, finish, assembly: parts and bay go through twice, and a part is in one place at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from ..build import Build, Problem
from ..build.base import ThreePoint
from ..build.jobs import Job, Link
from ..build.parts import Hazard, Part, Phase
from .job_fault import JobFault
from .model import Precedence


def four_jobs(
    part: Part,
    *,
    mock_up: ThreePoint,
    finish: ThreePoint,
    assembly: ThreePoint,
    after: Iterable[Link] = (),
    workshop: str | None = None,
    cure_days: float = 0,
    hazards: tuple[Hazard, ...] = (),
) -> tuple[Job, Job, Job, Job]:
    """The jobs of a part that is tried bare, taken off, finished, and fitted for good.

    Parameters
    ----------
    mock_up, finish, assembly : hands-on hours of each; taking it off takes a quarter of the mock-up's [h]
    after : what the mock-up waits for
    workshop : the outside shop that finishes it; None: at home
    cure_days : of the finish [days]
    hazards : of trying and fitting it

    Examples
    --------
    >>> points = ThreePoint(low=1, likely=2, high=4)
    >>> jobs = four_jobs(Part(id="rack", name="Rack"), mock_up=points, finish=points, assembly=points)
    >>> [(job.id, [link.job for link in job.after]) for job in jobs[1:]]
    [('rack-off', ['rack-mock-up']), ('rack-finish', ['rack-off']), ('rack-fit', ['rack-finish'])]
    """
    quarter = ThreePoint(low=mock_up.low / 4, likely=mock_up.likely / 4, high=mock_up.high / 4)
    name, id_, system = part.name, part.id, part.system
    tried = Job(
        id=f"{id_}-mock-up", name=f"{name}: mock-up", phase=Phase.MOCK_UP, system=system, hours=mock_up,
        after=tuple(after), to_try=(id_,), bay=True, hazards=hazards,
    )  # fmt: skip
    off = Job(
        id=f"{id_}-off", name=f"{name}: off again", phase=Phase.FINISH, system=system, hours=quarter,
        after=(Link(job=tried.id),), bay=True, hazards=hazards,
    )  # fmt: skip
    finished = Job(
        id=f"{id_}-finish", name=f"{name}: finish", phase=Phase.FINISH, system=system, hours=finish,
        after=(Link(job=off.id),), works_on=(id_,), workshop=workshop, cure_days=cure_days,
    )  # fmt: skip
    fitted = Job(
        id=f"{id_}-fit", name=f"{name}: fit for good", phase=Phase.ASSEMBLY, system=system, hours=assembly,
        after=(Link(job=finished.id),), to_keep=(id_,), bay=True, hazards=hazards,
    )  # fmt: skip
    return tried, off, finished, fitted


def parted(jobs: Mapping[str, Job], links: Iterable[Precedence]) -> Iterator[tuple[str, str, str]]:
    """Pairs of jobs that one part keeps apart and no link does: (earlier, later, part).

    A job that has a part in hands or sends it away comes after those that try it and before those that keep it; of two
    such jobs the first by id comes first.
    """
    following: dict[str, set[str]] = defaultdict(set)
    for link in links:
        if link.kind == "finish-start":
            following[link.before].add(link.after)
    for job in sorted(jobs.values(), key=lambda job: job.id):
        for part in sorted(set(job.works_on)):
            for other in sorted(jobs.values(), key=lambda each: each.id):
                pair = _order(job, other, part)
                if pair is None or _leads(following, *pair) or _leads(following, *pair[::-1]):
                    continue
                following[pair[0]].add(pair[1])
                yield (*pair, part)


def _order(job: Job, other: Job, part: str) -> tuple[str, str] | None:
    if other.id == job.id:
        return None
    if part in other.to_keep:
        return job.id, other.id
    if part in other.works_on:
        return min(job.id, other.id), max(job.id, other.id)
    return (other.id, job.id) if part in other.to_try else None


def _leads(following: Mapping[str, set[str]], start: str, end: str) -> bool:
    seen, todo = {start}, [start]
    while todo:
        for name in following.get(todo.pop(), ()):
            if name == end:
                return True
            if name not in seen:
                seen.add(name)
                todo.append(name)
    return False


def pattern_faults(build: Build) -> tuple[JobFault, ...]:
    """Parts that are fitted for good before a job has worked on them, or only tried after it."""
    links = [Precedence(link.job, job.id) for job in build.jobs for link in job.after if link.kind == "finish-start"]
    following: dict[str, set[str]] = defaultdict(set)
    for link in links:
        following[link.before].add(link.after)
    found = []
    for worker in build.jobs:
        for part in worker.works_on:
            for other in build.jobs:
                if part in other.to_keep and other.id != worker.id and _leads(following, other.id, worker.id):
                    found.append(_fault(worker, other, part, "fitted for good before"))
                elif part in other.to_try and part not in other.to_keep and _leads(following, worker.id, other.id):
                    found.append(_fault(worker, other, part, "only tried after"))
    return tuple(found)


def _fault(worker: Job, other: Job, part: str, words: str) -> JobFault:
    what = f"{part} is {words} {worker.name} has worked on it ({other.name})"
    do = f"Let {other.id} and {worker.id} follow each other the other way round, or drop {part} from one of them."
    return JobFault(Problem(f"jobs ({worker.id})", "pattern", what, part, do), (worker.id, other.id))
