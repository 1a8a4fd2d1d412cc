"""An evening's jobs: which are chosen, what they open, what to lay out and read, and what else fits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from fishplate.build import Build, facts_of
from fishplate.build.approval import Evidence, Requirement
from fishplate.build.base import ThreePoint
from fishplate.build.decisions import Decision, Option
from fishplate.build.events import Work
from fishplate.build.interfaces import Condition, Dimension, Interface, Reading
from fishplate.build.jobs import Job, Link, StopPoint
from fishplate.build.owner import Owner
from fishplate.build.parts import Part, Stock
from fishplate.plan import Action, ActionKind, Plan
from fishplate.plan.model import CostOfWaiting, Finish, PurchaseSummary
from fishplate.plan.tonight import Tonight, evidence_due, tonight
from fishplate.work.tonight import Evening

DAY = date(2026, 3, 2)
OWNER = Owner(hours_per_week=7)


def job(id_: str, hours: float = 1, **fields: object) -> Job:
    points = ThreePoint(low=hours, likely=hours, high=hours)
    return Job.model_validate({"id": id_, "name": id_.capitalize(), "phase": "structure", "hours": points, **fields})


def evening_of(build: Build, plan: Plan | None = None, *, minutes: float = 90, **given: object) -> Tonight:
    evening = replace(Evening(minutes), **given)  # type: ignore[arg-type]
    return tonight(build, facts_of(build, DAY), evening, {}, plan)


def taken(found: Tonight) -> dict[str, str]:
    return {item.job: item.ends for item in found.jobs}


def action(kind: ActionKind, key: str, *, per_week: float = 0, minutes: float | None = None, **more: object) -> Action:
    cost = CostOfWaiting(per_week, "EUR", 1, 0.5)
    return Action(kind, key, f"{kind}: {key}", DAY, DAY, cost, ("Because.",), minutes=minutes, **more)  # type: ignore[arg-type]


def plan_of(*actions: Action) -> Plan:
    nothing = PurchaseSummary(0, 0, (), (), 0)
    return Plan(
        DAY, 1, 1, "Van", "EUR", actions, Finish(None, None, None, None), (), (), nothing, (), (), (), (), 0, 1, 3
    )


def test_two_short_jobs_that_open_others_come_before_a_long_one_taken_further() -> None:
    build = Build(
        owner=OWNER,
        jobs=(
            job("drill", 0.5), job("tap", 0.75), job("sand", 20),
            job("bolt", 3, after=(Link(job="drill"), Link(job="tap"))),
        ),
    )  # fmt: skip
    found = evening_of(build, minutes=75)
    assert taken(found) == {"drill": "end", "tap": "end"}
    assert [item.opens for item in found.jobs] == [(), ("Bolt",)]
    assert found.said == (
        "Do “Tap”: about 45 min, then it is done. Then: do “Drill”: about 30 min, then it is done, "
        "and “Bolt” can begin."
    )


def test_what_waiting_costs_by_the_plan_decides_between_jobs_that_are_alike() -> None:
    build = Build(owner=OWNER, jobs=(job("left"), job("right")))
    for pressing in ("left", "right"):
        plan = plan_of(action(ActionKind.DO, pressing, per_week=500))
        assert taken(evening_of(build, plan, minutes=60)) == {pressing: "end"}


def test_a_job_rests_at_its_stop_point_or_is_left_midway_and_setting_up_again_is_counted() -> None:
    stops = (StopPoint(share=0.25, without=(), name="tacked"),)
    build = Build(owner=OWNER, jobs=(job("frame", 4, stop_points=stops, setting_up_minutes=30),))
    assert evening_of(build, minutes=60).said == "Take “Frame” to where it can rest: tacked, about 60 min."
    begun = build.model_copy(update={"events": (Work(id="w", day=DAY, job="frame", hours=2),)})
    (taken_on,) = evening_of(begun, minutes=90).jobs
    assert (taken_on.ends, taken_on.minutes, taken_on.hours) == ("midway", 90, 1)
    assert taken_on.said == "Go on with “Frame” for 90 min, which leaves about 1 h."
    assert evening_of(begun, minutes=45).jobs == ()  # half an hour of it goes to laying out


def test_only_what_the_evening_gives_is_taken_and_the_rest_says_what_it_wants() -> None:
    build = Build(
        owner=OWNER,
        jobs=(
            job("lift", second_person=True), job("weld", tools=("welder",), hazards=("welding",)),
            job("prime", hazards=("paint",)), job("glue", least_c=15), job("sort"),
        ),
    )  # fmt: skip
    poor = evening_of(build, minutes=600, without=frozenset({"welder"}), wet=True, warmth_c=8.0, loud_minutes=0.0)
    assert taken(poor) == {"sort": "end"}
    assert {name: wants for name, _, wants in poor.left_out} == {
        "lift": ("a second person",),
        "weld": ("the welder", "an hour when it may be loud"),
        "prime": ("a dry evening", "10 °C or more"),
        "glue": ("15 °C or more",),
    }
    assert len(evening_of(build, minutes=600, helper=True).jobs) == 5
    assert {item.code for item in poor.assumptions} == {"loud-default", "paint-weather-default"}


def test_loud_jobs_come_first_and_within_the_time_it_may_be_loud() -> None:
    build = Build(owner=OWNER, jobs=(job("a-quiet"), job("b-loud", loud=True), job("c-loud", loud=True)))
    found = evening_of(build, minutes=180, loud_minutes=60.0)
    assert [item.loud for item in found.jobs] == [True, False]
    assert "What is loud comes first." in found.said


def test_a_coat_that_must_go_on_in_time_comes_before_what_is_otherwise_alike() -> None:
    events = (Work(id="w", day=DAY, job="primer", hours=1, done=True),)
    recoat = Link(job="primer", within_days=1, redo_hours=3)
    jobs = (job("primer"), job("a"), job("b", after=(recoat,)), job("c"))
    found = evening_of(Build(owner=OWNER, jobs=jobs, events=events), minutes=60)
    assert taken(found) == {"b": "end"}
    assert found.said.endswith("It must begin by 3 March, or it takes 3 h more.")
    relaxed = (job("primer"), job("a"), job("b", after=(Link(job="primer", within_days=30, redo_hours=3),)), job("c"))
    assert "must begin" not in evening_of(Build(owner=OWNER, jobs=relaxed, events=events), minutes=600).said


def test_near_the_end_what_gets_finished_counts_more() -> None:
    jobs = (job("done", 95), job("big", 4), job("small", 1, after=()))
    worked = (Work(id="w", day=DAY, job="done", hours=95, done=True),)
    build = Build(owner=OWNER, jobs=jobs, events=worked)
    found = evening_of(build, minutes=60)
    assert taken(found) == {"small": "end"}
    assert "near-end" in {item.code for item in found.assumptions}


def test_parts_are_laid_out_with_where_they_lie_apart_from_what_is_used_up() -> None:
    build = Build(
        owner=OWNER,
        parts=(
            Part(id="hose", name="Hose", quantity=2), Part(id="paint", name="Primer", unit="litre"),
            Part(id="clip", name="Clip"),
        ),
        stock=(
            Stock(id="s1", part="hose", quantity=1, place="loft"), Stock(id="s2", part="hose", place="on the bench"),
            Stock(id="s3", part="paint", place="cellar"),
        ),
        jobs=(
            job("pipes", to_keep=("hose", "paint"), to_try=("clip",), note="Bend.\nFlare.",
                stop_points=(StopPoint(share=0.8, without=("clip",), name="run bent"),)),
        ),
    )  # fmt: skip
    (found,) = evening_of(build).jobs
    assert [(item.name, item.where) for item in found.laid.parts] == [("Hose", "1 in loft, 1 on the bench")]
    assert [(item.name, item.where) for item in found.laid.used_up] == [("Primer", "cellar")]
    assert found.laid.steps == ("Bend.", "Flare.")
    assert found.laid.stops == ("Can rest at: run bent, before it takes “Clip”.",)
    assert found.ends == "stop"


def test_what_can_be_read_there_is_told_and_what_is_known_stands_with_its_spread() -> None:
    build = Build(
        owner=OWNER,
        parts=(Part(id="hub", name="Hub"),),
        stock=(Stock(id="s", part="hub"),),
        interfaces=(Interface(id="i", name="Hub and disc"),),
        dimensions=(
            Dimension(id="bore", name="Bore"), Dimension(id="spigot", name="Spigot", part="hub"),
            Dimension(id="nut_torque", name="Hub nut", unit="N*m", part="hub"),
            Dimension(id="gone", name="Of a part to come", part="hub", job="later"),
        ),
        conditions=(Condition(id="c", interface="i", name="Room", expression="bore - spigot", at_least="0.1 mm"),),
        readings=(
            Reading(id="r1", dimension="spigot", value=60, spread=0.5, day=DAY),
            Reading(id="r2", dimension="nut_torque", value=180, spread=0, day=DAY),
        ),
        jobs=(job("hubs", to_keep=("hub",), settles=("i",)), job("later")),
    )  # fmt: skip
    hubs = next(item for item in evening_of(build, minutes=60).jobs if item.job == "hubs")
    assert [item.dimension for item in hubs.readings] == ["bore"]
    assert [tuple(item) for item in hubs.figures] == [
        ("Room", "at least 0.1 mm"),
        ("Spigot", "60 mm ± 0.5"),
        ("Hub nut", "180 N*m"),
    ]


def test_evidence_that_a_job_hides_is_told_before_what_can_be_seen_at_it() -> None:
    wants = ("photo",)
    build = Build(
        owner=OWNER,
        jobs=(job("coat"), job("weld")),
        requirements=(
            Requirement(id="tacks", name="Tacks", jobs=("coat",)),
            Requirement(id="welds", name="Welds", jobs=("weld",), visible_until="coat", wants=wants),
            Requirement(id="own", name="Inside", jobs=("coat",), visible_until="coat"),
        ),
    )
    facts = facts_of(build, DAY)
    assert [item.text for item in evidence_due(build, facts, build.find("jobs", "coat"))] == [
        "Before you begin: this hides “Welds”, and a photo is still missing.",
        "Before it is closed: this hides “Inside”, and evidence is still missing.",
        "While it can be seen: take evidence for “Tacks”.",
    ]
    photo = Evidence(id="e", requirement="welds", day=DAY, what="Both sides", kind="photo")
    there = build.model_copy(update={"evidence": (photo,)})
    assert len(evidence_due(there, facts_of(there, DAY), build.find("jobs", "coat"))) == 2


def test_where_no_job_fits_something_to_measure_or_decide_is_named_within_the_minutes() -> None:
    decision = Decision(id="pump", name="Pump", options=(Option(id="a", name="A"),))
    build = Build(owner=OWNER, jobs=(job("sort", 8),), decisions=(decision,))
    plan = plan_of(
        action(ActionKind.MEASURE, "long", minutes=45),
        action(ActionKind.MEASURE, "to-come", minutes=10, blocked=True),
        action(ActionKind.BUY, "order", minutes=5),
        action(ActionKind.MEASURE, "short", minutes=15),
        action(ActionKind.DECIDE, "pump"),
    )
    found = evening_of(build, plan, minutes=25)
    assert found.said == "No job fits this evening; do this instead: measure: short."
    assert [item.key for item in found.besides] == ["short"]
    later = evening_of(Build(owner=OWNER, decisions=(decision,)), plan, minutes=100)
    assert later.said.startswith("Every job waits for something; do this instead: measure: long")
    assert [item.key for item in later.besides] == ["long", "short", "pump"]
    taken_already = decision.model_copy(update={"chosen": "a", "chosen_on": DAY})
    rest = evening_of(Build(owner=OWNER, decisions=(taken_already,)), plan, minutes=100)
    assert "pump" not in [item.key for item in rest.besides]


@pytest.mark.parametrize("minutes", [0, 4, 1440])
def test_an_evening_of_any_length_is_answered(minutes: float) -> None:
    found = evening_of(Build(owner=OWNER, jobs=(job("sort", 8),)), minutes=minutes)
    assert found.minutes_left <= minutes
    assert len(found.jobs) == (minutes > 30)
