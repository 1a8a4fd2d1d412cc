"""Evidence among a plan's deadlines: soonest before what hides it begins, or before its own job is done."""

from __future__ import annotations

from datetime import date

from fishplate.build import Build, date_at
from fishplate.build.approval import Evidence, Requirement
from fishplate.build.base import ThreePoint
from fishplate.build.jobs import Job, Link
from fishplate.build.owner import Owner
from fishplate.plan import Plan, plan
from fishplate.wiring import situation

DAY = date(2026, 3, 2)


def job(id_: str, *after: str) -> Job:
    hours = ThreePoint(low=14, likely=14, high=14)
    return Job(id=id_, name=id_.capitalize(), phase="structure", hours=hours, after=tuple(Link(job=a) for a in after))


def deadlines(plan_: Plan) -> dict[str, tuple[date, str]]:
    return {item.key: (item.day, item.text) for item in plan_.deadlines if item.kind == "evidence"}


def test_each_requirement_without_its_evidence_has_a_last_day() -> None:
    build = Build(
        owner=Owner(hours_per_week=7),
        jobs=(job("weld"), job("coat", "weld")),
        requirements=(
            Requirement(id="before", name="Welds", visible_until="coat", jobs=("weld",)),
            Requirement(id="own", name="Inside", visible_until="weld", jobs=("weld",)),
            Requirement(id="kinds", name="Tacks", visible_until="coat", wants=("photo", "certificate")),
            Requirement(id="there", name="Plate", visible_until="coat"),
            Requirement(id="never", name="Report", jobs=("coat",)),
        ),
        evidence=(
            Evidence(id="e1", requirement="kinds", day=DAY, what="Photo", kind="photo"),
            Evidence(id="e2", requirement="there", day=DAY, what="Photo"),
        ),
    )
    found = deadlines(plan(situation(build, DAY), revision=1))
    assert set(found) == {"before", "own", "kinds"}
    day, text = found["own"]  # hidden by the job it is made at: once that is done, about when the next begins
    assert day > date_at(DAY, 0.5)
    assert abs((day - found["before"][0]).days) <= 1
    assert "before “Weld” hides it, which may be done" in text
    assert "before “Coat” hides it, which may begin" in found["before"][1]
