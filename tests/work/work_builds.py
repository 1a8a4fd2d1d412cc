"""Short ways to write builds for the tests of this room."""

from __future__ import annotations

from datetime import date
from typing import Any

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.jobs import Allowance, Job, Link
from fishplate.build.owner import Owner
from fishplate.build.parts import Part, Phase
from fishplate.work import Gates, Simulator, Spreads, WorkReport

AS_OF = date(2026, 3, 2)  # a Monday
CERTAIN = Spreads(pace_log_sd=0, craft_median=1, craft_log_sd=0)
SEVEN_A_WEEK = Owner(hours_per_week=7)


def job(id_: str, hours: float, *after: str | Link, **fields: Any) -> Job:
    """A job of certain hours."""
    links = tuple(link if isinstance(link, Link) else Link(job=link) for link in after)
    points = ThreePoint(low=hours, likely=hours, high=hours)
    return Job(
        **{"id": id_, "name": id_.capitalize(), "phase": Phase.ASSEMBLY, "hours": points, "after": links, **fields}
    )


def build_of(*jobs: Job, owner: Owner = SEVEN_A_WEEK, **fields: Any) -> Build:
    """A build with the parts its jobs name, and nothing to discover."""
    named = {part for j in jobs for part in (*j.to_try, *j.to_keep, *(p for s in j.stop_points for p in s.without))}
    parts = tuple(Part(id=id_, name=id_.capitalize()) for id_ in sorted(named))
    nothing = Allowance(id="nothing-found", kind="discovery", hours_percent=0)
    return Build(**{"owner": owner, "parts": parts, "jobs": jobs, "allowances": (nothing,), **fields})


def run(build: Build, gates: Gates | None = None, *, as_of: date = AS_OF, weeks: int = 200) -> WorkReport:
    """One certain run."""
    return Simulator(build, facts_of(build, as_of), runs=1, spreads=CERTAIN, horizon_weeks=weeks).run(gates)


def days(weeks: Any) -> float:
    """Days of the first run."""
    return round(7 * float(weeks[0]), 3)
