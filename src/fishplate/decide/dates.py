"""By when a decision must be taken, and when it is taken if begun today."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..build import Build, Facts, date_at, offer_contents
from ..build.decisions import Decision
from ..build.jobs import Release
from .sequence import Ordering


@dataclass(frozen=True, slots=True, order=True)
class Need:
    """A moment by which a decision has to be taken, and what sets it [weeks since as_of]."""

    week: float
    because: str


def latest_moments(
    build: Build,
    facts: Facts,
    ordering: Ordering,
    start_weeks: Mapping[str, float],
    order_by_weeks: Mapping[str, float],
) -> Mapping[str, Need]:
    """For each open decision, the latest moment to sit down to it; infinite if nothing waits for it.

    It is its thinking time before the earliest of: jobs that need it, parts its options call for and orders it holds,
    the job it is frozen by, and the latest moment of each decision that comes after it.
    """
    latest: dict[str, Need] = {}
    for id_ in reversed(ordering.in_order(dict.fromkeys(ordering.nodes, 0.0))):
        decision = build.find("decisions", id_)
        needs = list(own_needs(build, facts, decision, start_weeks, order_by_weeks))
        for later in ordering.after(id_):
            verb = "fixes" if ordering.links[id_, later] else "limits"
            needs.append(Need(latest[later].week, f"it {verb} “{build.find('decisions', later).name}”"))
        first = min(needs, default=Need(math.inf, ""))
        latest[id_] = Need(first.week - decision.think_weeks, first.because if first.week < math.inf else "")
    return latest


def own_needs(
    build: Build,
    facts: Facts,
    decision: Decision,
    start_weeks: Mapping[str, float],
    order_by_weeks: Mapping[str, float],
) -> Iterator[Need]:
    """The moments by which a decision must be taken for its own jobs and orders, other decisions aside."""
    for job in gated_jobs(build, facts, decision):
        if job in start_weeks:
            yield Need(
                start_weeks[job],
                f"the job “{build.find('jobs', job).name}” can begin {day_text(facts, start_weeks[job])}",
            )
    for part in ordered_parts(build, facts, decision):
        if part in order_by_weeks:
            name = build.find("parts", part).name
            yield Need(order_by_weeks[part], f"“{name}” has to be ordered by {day_text(facts, order_by_weeks[part])}")


def day_text(facts: Facts, week: float) -> str:
    """The day of a moment as people write it, e.g. 12 March 2026."""
    day = date_at(facts.as_of, week) if week < math.inf else None
    return f"{day.day} {day:%B %Y}" if day else "no date"


def gated_jobs(build: Build, facts: Facts, decision: Decision) -> list[str]:
    """Wanted jobs not yet done that must not begin before the decision is taken, sorted."""
    called = {job for option in decision.options for job in option.jobs}
    return sorted(
        job.id
        for job in build.jobs
        if job.id in facts.wanted_jobs
        and not facts.is_done(job.id)
        and (decision.id in job.decisions or job.id in called or job.id == decision.freeze_by)
    )


def ordered_parts(build: Build, facts: Facts, decision: Decision) -> list[str]:
    """Parts still to be ordered whose order waits for the decision: called for by an option, or held by a release."""
    parts = {part for option in decision.options for part in option.parts}
    for release in build.releases:
        if decision.id in release.decisions:
            parts.update(held_parts(build, release))
    return sorted(part for part in parts if facts.missing(build, part) > 0)


def held_parts(build: Build, release: Release) -> list[str]:
    """Parts whose order a release holds."""
    if release.part is not None:
        return [release.part]
    return sorted(offer_contents(build, build.find("offers", release.offer or "")))


def modelled_moments(build: Build, ordering: Ordering, decided: Mapping[str, bool]) -> dict[str, float]:
    """When each decision is taken if the first are begun today: thinking time after all that fix it [weeks].

    Decisions are thought about side by side; only one that fixes another has to be taken before it.
    """
    moments = {id_: 0.0 for id_, done in decided.items() if done}
    for id_ in ordering.in_order(dict.fromkeys(ordering.nodes, 0.0)):
        begun = max((moments[e] for e in ordering.before(id_) if ordering.links[e, id_]), default=0.0)
        moments[id_] = begun + build.find("decisions", id_).think_weeks
    return moments
