"""By when a decision must be taken, and when it is taken if begun today."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeAlias

from ..build import Build, Facts, date_at
from ..build.decisions import Decision, Option
from ..build.words import day_words
from .hanging import Hanging
from .sequence import Ordering

if TYPE_CHECKING:
    from .weights import FloatArray

# chances of being too late for which a day is told besides the one that was asked for
RISKS: Final = (0.02, 0.1, 0.25, 0.5)
# A moment, or the same in every joint draw [weeks since as_of].
Moments: TypeAlias = "Mapping[str, FloatArray] | Mapping[str, float]"


@dataclass(frozen=True, slots=True, order=True)
class Need:
    """A moment by which a decision has to be taken, and what sets it [weeks since as_of].

    Parameters
    ----------
    by_risk : the moment that comes too late with each of some chances, as (chance, moment)
    """

    week: float
    because: str
    by_risk: tuple[tuple[float, float], ...] = ()


def latest_moments(
    build: Build,
    facts: Facts,
    ordering: Ordering,
    hanging: Hanging,
    start_weeks: Moments,
    order_by_weeks: Moments,
    risk: float,
) -> Mapping[str, Need]:
    """For each open decision, the latest moment to sit down to it; infinite if nothing waits for it.

    It is its thinking time before the earliest of: jobs that need it, parts its options call for and orders it holds,
    the job it is frozen by, and the latest moment of each decision that comes after it. Where moments are given for
    joint draws it is taken draw by draw, and the moment is the one that comes too late with the chance `risk`.
    """
    latest: dict[str, FloatArray] = {}
    found: dict[str, Need] = {}
    for id_ in reversed(ordering.in_order(dict.fromkeys(ordering.nodes, 0.0))):
        decision = build.find("decisions", id_)
        needs = list(own_needs(build, facts, hanging, decision, start_weeks, order_by_weeks, risk))
        for later in ordering.after(id_):
            verb = "fixes" if ordering.links[id_, later] else "limits"
            needs.append((latest[later], f"it {verb} “{build.find('decisions', later).name}”"))
        latest[id_], because = earliest(needs, risk)
        latest[id_] = latest[id_] - decision.think_weeks
        by_risk = tuple((each, at_risk(latest[id_], each)) for each in RISKS)
        found[id_] = Need(at_risk(latest[id_], risk), because, by_risk)
    return found


def earliest(needs: Sequence[tuple[FloatArray, str]], risk: float) -> tuple[FloatArray, str]:
    """The first of some moments in every draw, and what is most often first where it comes early."""
    import numpy as np

    if not needs:
        return np.array([math.inf]), ""
    in_order = sorted(needs, key=lambda need: need[1])
    moments = np.stack(np.broadcast_arrays(*(moment for moment, _ in in_order)))
    first = moments.min(axis=0)
    limit = at_risk(first, risk)
    if not limit < math.inf:
        return first, ""
    early = first <= limit
    often = (moments[:, early] == first[early]).sum(axis=1)
    return first, in_order[int(often.argmax())][1]


def at_risk(moments: FloatArray, risk: float) -> float:
    """The moment that a draw comes before with the chance `risk`."""
    import numpy as np

    return float(np.quantile(moments, risk, method="inverted_cdf"))


def own_needs(
    build: Build,
    facts: Facts,
    hanging: Hanging,
    decision: Decision,
    start_weeks: Moments,
    order_by_weeks: Moments,
    risk: float,
) -> Iterator[tuple[FloatArray, str]]:
    """The moments by which a decision must be taken for its own jobs and orders, other decisions aside."""
    for job in hanging.jobs(decision):
        if job in start_weeks:
            yield _begins(build, facts, job, start_weeks, risk)
    for part in hanging.parts(decision):
        if part in order_by_weeks:
            yield _ordered(build, facts, part, order_by_weeks, risk)


def _begins(build: Build, facts: Facts, job: str, starts: Moments, risk: float) -> tuple[FloatArray, str]:
    moments = _drawn(starts[job])
    when = day_text(facts, at_risk(moments, risk))
    return moments, f"the job “{build.find('jobs', job).name}” can begin {when}"


def _ordered(build: Build, facts: Facts, part: str, order_by: Moments, risk: float) -> tuple[FloatArray, str]:
    moments = _drawn(order_by[part])
    when = day_text(facts, at_risk(moments, risk))
    return moments, f"“{build.find('parts', part).name}” has to be ordered by {when}"


def _drawn(moments: FloatArray | float) -> FloatArray:
    import numpy as np

    return np.atleast_1d(np.asarray(moments, float))


def open_until(
    build: Build,
    facts: Facts,
    option: Option,
    start_weeks: Moments,
    order_by_weeks: Moments,
    risk: float,
) -> Need:
    """Until when an option stays open at no cost: its parts can still be ordered and its jobs begun in time.

    Infinite if it brings nothing that has a date. Jobs that are done and parts that are here set none.
    """
    needs = [
        _begins(build, facts, job, start_weeks, risk)
        for job in option.jobs
        if job in start_weeks and not facts.is_done(job)
    ]
    needs += [
        _ordered(build, facts, part, order_by_weeks, risk)
        for part in option.parts
        if part in order_by_weeks and facts.missing(build, part) > 0
    ]
    moments, because = earliest(needs, risk)
    return Need(at_risk(moments, risk), because)


def day_text(facts: Facts, week: float) -> str:
    """The day of a moment as people write it, e.g. 12 March 2026."""
    day = date_at(facts.as_of, week) if week < math.inf else None
    return day_words(day) if day else "no date"


def modelled_moments(build: Build, ordering: Ordering, decided: Mapping[str, bool]) -> dict[str, float]:
    """When each decision is taken if the first are begun today: thinking time after all that fix it [weeks].

    Decisions are thought about side by side; only one that fixes another has to be taken before it.
    """
    moments = {id_: 0.0 for id_, done in decided.items() if done}
    for id_ in ordering.in_order(dict.fromkeys(ordering.nodes, 0.0)):
        begun = max((moments[e] for e in ordering.before(id_) if ordering.links[e, id_]), default=0.0)
        moments[id_] = begun + build.find("decisions", id_).think_weeks
    return moments
