"""What stands against the work as it is entered, every fault of it: told with the plan, which goes on without."""

from __future__ import annotations

from collections.abc import Iterator

from ..work import WorkReport, gate_states, impossible
from .sentences import list_words
from .study import Studied


def work_faults(studied: Studied, run: WorkReport | None) -> Iterator[str]:
    """A sentence and what to do for each fault of jobs, links, calendar, places and gates.

    Parameters
    ----------
    run : the work as the plan has it; None if no job is to be done
    """
    build, facts = studied.situation.build, studied.situation.facts
    for problem in impossible(build, facts):
        yield f"{problem.what[:1].upper()}{problem.what[1:]}. {problem.do}"
    for state in gate_states(build, facts):
        if state.after_it:
            yield state.text
    if run is None:
        return
    yield from (f"{problem.what}. {problem.do}" for problem in run.never if problem.code == "never-starts")
    behind = [problem.what.split(" never starts: ")[0] for problem in run.never if problem.code == "never-reached"]
    if behind:
        yield f"Behind what never starts, so never started either: {list_words(behind, most=len(behind))}."
