"""What can't be as it is entered, every fault of work and decisions: told with the plan, which goes on without."""

from __future__ import annotations

from collections.abc import Iterator

from ..work import WorkReport, gate_states, impossible
from .sentences import list_words
from .study import Studied


def faults_of(studied: Studied, run: WorkReport | None) -> Iterator[str]:
    """A sentence and what to do for each fault of jobs, links, calendar and places, and of decisions taken.

    Parameters
    ----------
    run : the work as the plan has it; None if no job is to be done
    """
    build, facts = studied.situation.build, studied.situation.facts
    found = (*impossible(build, facts), *studied.decided.problems)
    yield from (f"{problem.what[:1].upper()}{problem.what[1:]}. {problem.do}" for problem in found)
    if run is None:
        return
    told = " ".join(problem.what for problem in found)
    behind = []
    for problem in run.never:
        name = problem.what.split(" never starts: ")[0]
        if problem.code == "never-reached":
            behind.append(name)
        elif name not in told:
            yield f"{problem.what}. {problem.do}"
    if behind:
        yield f"Behind what never starts, so never started either: {list_words(behind, most=len(behind))}."


def gates_left_out(studied: Studied) -> Iterator[str]:
    """A sentence on each gate that some work should wait for, or come before, and does neither."""
    for state in gate_states(studied.situation.build, studied.situation.facts):
        if state.after_it:
            yield state.text
