"""Jobs that can't be as they are entered, whatever is in hand, and what stands in the way of each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ..build import Build, Facts, Problem
from ..decide.rules import contradictions
from ..work.faults import job_faults


def cannot_be(build: Build, facts: Facts, *, evening: bool = False) -> Mapping[str, str]:
    """By job, a sentence on the first fault that holds it and what to do: those that a plan tells, by the same engines.

    Parameters
    ----------
    evening : for an evening that is given, with its hours and whoever helps: faults of the calendar hold nothing then
    """
    found: dict[str, str] = {}
    for fault in job_faults(build, facts):
        if not (evening and fault.by_calendar):
            for job in fault.jobs:
                found.setdefault(job, _told(fault.problem))
    for job, problem in _of_broken_rules(build, facts):
        found.setdefault(job, _told(problem))
    return found


def _of_broken_rules(build: Build, facts: Facts) -> Iterator[tuple[str, Problem]]:
    """Jobs called for by options that were decided against a rule."""
    for problem in contradictions(build, facts):
        if isinstance(problem, Problem):
            for decision in build.decisions:
                for option in decision.options:
                    if problem.where == f"option {option.id}":
                        yield from ((job, problem) for job in option.jobs)


def _told(problem: Problem) -> str:
    return f"It can't be done as it is entered: {problem.what}. {problem.do}"
