"""Jobs: what suits an evening, what each job waits for, hours in two taps."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.decisions import Decision, Option
from fishplate.build.events import Work
from fishplate.build.interfaces import Interface
from fishplate.build.jobs import Gate, Job, Link, StopPoint
from fishplate.build.parts import Part, Phase, Stock, System
from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.desk import View
from fishplate.web.holdings import holdings
from fishplate.web.job import job_page
from fishplate.web.jobs import Query, jobs_page, query_of
from fishplate.web.ready import Evening, Ready, Tonight, closed_interfaces, ready_now, tonight
from fishplate.web.verdicts import fitted, fitted_by_plan
from fishplate.web.waits import waits_of

DAY = date(2026, 3, 2)


def job(id_: str, hours: float = 10, **fields: object) -> Job:
    points = ThreePoint(low=hours, likely=hours, high=hours)
    return Job.model_validate({"id": id_, "name": id_.capitalize(), "phase": "assembly", "hours": points, **fields})


def view(build: Build, plan: Plan | None = None, day: date = DAY) -> View:
    return View(build, facts_of(build, day), 1, day, plan)


def waits(shown: View, id_: str, closed: Mapping[str, str] | None = None) -> list[str]:
    return [str(wait) for wait in waits_of(shown, shown.build.find("jobs", id_), holdings(shown), closed or {})]


def evening(build: Build, *, minutes: float = 90, tools: frozenset[str] | None = None, helper: bool = False) -> Tonight:
    shown = view(build)
    return tonight(shown, ready_now(shown, {}), Evening(minutes, tools, helper))


def send(client: TestClient, path: str, **fields: object):  # type: ignore[no-untyped-def]
    """A form as a page of ours sends it."""
    data = {"revision": str(desk_of(client).file.revision), "form": "test", **fields}
    return client.post(path, data=data, follow_redirects=False)


# what a job waits for


def test_what_a_job_waits_for_is_said_by_name_with_its_state() -> None:
    build = Build(
        parts=(Part(id="hose", name="Hose", quantity=2),),
        stock=(Stock(id="s", part="hose", place="loft"),),
        decisions=(Decision(id="d", name="Which pump", options=(Option(id="o", name="One"),)),),
        interfaces=(Interface(id="i", name="Hose to arch"),),
        jobs=(
            job("first"),
            job("second", after=(Link(job="first"),), to_keep=("hose",), decisions=("d",), interfaces=("i",)),
        ),
        events=(Work(id="w", day=DAY, job="first", hours=4),),
    )  # fmt: skip
    assert waits(view(build), "second", {"i": "in doubt"}) == [
        "“First” (begun, 4 of about 10 h)",
        "“Hose” (1 of 2 missing; 1 here, loft)",
        "“Which pump” (not decided)",
        "“Hose to arch” (in doubt)",
    ]
    assert waits(view(build), "first") == []


def test_a_job_waits_while_the_one_before_cures() -> None:
    build = Build(
        jobs=(job("paint", cure_days=4), job("fit", after=(Link(job="paint", lag_days=1),))),
        events=(Work(id="w", day=DAY, job="paint", hours=10, done=True),),
    )
    assert waits(view(build), "fit") == ["“Paint” (cures until 7 March)"]
    assert waits(view(build, day=DAY + timedelta(days=5)), "fit") == []


def test_a_job_waits_for_its_season_and_for_the_jobs_behind_a_gate() -> None:
    gate = Gate(id="g", name="Dry build", kind="dry-build", after=("first",), before=("second",))
    build = Build(jobs=(job("first"), job("second"), job("third", months=(4, 5, 6))), gates=(gate,))
    assert waits(view(build), "second") == ["“Dry build” (a gate that waits for First)"]
    assert waits(view(build), "third") == ["“The season” (only in April to June)"]


def test_a_job_of_another_choice_passes_on_what_it_waits_for() -> None:
    options = (Option(id="a", name="A"), Option(id="b", name="B", jobs=("detour",)))
    build = Build(
        decisions=(Decision(id="d", name="Way", options=options, chosen="a"),),
        jobs=(job("first"), job("detour", after=(Link(job="first"),)), job("last", after=(Link(job="detour"),))),
    )
    assert waits(view(build), "last") == ["“First” (not begun)"]


@pytest.mark.parametrize("with_verdicts", [False, True])
def test_a_job_is_ready_just_when_it_waits_for_nothing(demo_plan: Plan, with_verdicts: bool) -> None:
    shown = view(load_demo(), demo_plan, demo_as_of())
    closed = closed_interfaces(fitted(shown)) if with_verdicts else {}
    ready = {item.job.job for item in ready_now(shown, closed)}
    for each in shown.build.jobs:
        if each.id in shown.facts.wanted_jobs and not shown.facts.is_done(each.id):
            assert (each.id in ready) == (not waits(shown, each.id, closed)), each.id


def test_verdicts_of_the_plan_stand_in_until_those_of_the_build_are_worked_out(demo_plan: Plan) -> None:
    closed = closed_interfaces(fitted_by_plan(load_demo(), demo_plan))
    assert closed
    assert set(closed.values()) <= {"in doubt", "not known", "does not fit"}
    assert closed_interfaces(None) == {}


# tonight


def test_jobs_that_come_to_an_end_in_the_minutes_stand_apart_from_those_it_takes_further() -> None:
    found = evening(Build(jobs=(job("short", 1.5), job("long", 8))), minutes=90)
    assert [it.id for it in found.whole] == ["short"]
    assert found.whole[0].said.startswith("About 1.5 h to its end.")
    assert [it.id for it in found.further] == ["long"]
    assert "90 min take it further" in found.further[0].said


def test_a_job_counts_up_to_the_stop_point_that_a_missing_part_sets() -> None:
    stop = StopPoint(share=0.2, without=("hose",), name="pipes bent")
    build = Build(
        parts=(Part(id="hose", name="Hose"),), jobs=(job("pipes", 5, to_keep=("hose",), stop_points=(stop,)),)
    )
    found = evening(build, minutes=60)
    assert [it.said for it in found.whole] == ["About 1 h to its stop point: pipes bent. Nothing is more pressing."]


def test_parts_a_stop_point_waits_for_are_named_and_never_by_their_ids() -> None:
    stop = StopPoint(share=0.2, without=("brake-hose-2",))
    part = Part(id="brake-hose-2", name="Hose, rear")
    build = Build(parts=(part,), jobs=(job("pipes", 5, to_keep=(part.id,), stop_points=(stop,)),))
    assert "then it needs Hose, rear" in evening(build, minutes=60).whole[0].said


def test_a_helper_and_tools_at_hand_let_jobs_in_and_what_is_left_out_says_why() -> None:
    build = Build(jobs=(job("lift", second_person=True), job("weld", tools=("welder",)), job("sort")))
    alone = evening(build, tools=frozenset())
    assert [it.id for it in alone.further] == ["sort"]
    assert dict(alone.left_out) == {"Lift": "a second person", "Weld": "the welder"}
    assert alone.tools == (("welder", False),)
    assert {it.id for it in evening(build, helper=True).further} == {"lift", "weld", "sort"}


def test_a_job_says_what_it_opens_and_what_can_hurt_with_who_decides_once() -> None:
    build = Build(
        systems=(System(id="brakes", name="Brakes", hazards=("brakes",)),),
        jobs=(job("pipes", system="brakes"), job("bleed", after=(Link(job="pipes"),)), job("other", system="brakes")),
    )
    found = evening(build)
    pipes = next(it for it in found.further if it.id == "pipes")
    assert pipes.opens == "It opens “Bleed”."
    assert [caution.partition(":")[0] for caution in pipes.cautions] == ["Brakes"]
    assert "no approval" in found.who_decides


@pytest.mark.parametrize("minutes", ["", "x", "nan", "inf", "-5", "1e9", "9" * 400])
def test_minutes_that_are_no_evening_do_no_harm(minutes: str) -> None:
    found = query_of({"asked": ["yes"], "minutes": [minutes]}).evening.minutes
    assert 5 <= found <= 1440


def test_an_evening_is_kept_in_the_address() -> None:
    query = Query(Evening(45, frozenset({"welder", "hoist"}), helper=True), open="sills")
    assert query.path == "/jobs?asked=yes&minutes=45&helper=yes&tool=hoist&tool=welder&open=sills"
    assert Query().path == "/jobs"


# all jobs


def test_jobs_stand_by_phase_in_order_with_how_many_are_done(demo_plan: Plan) -> None:
    page = jobs_page(view(load_demo(), demo_plan, demo_as_of()), Query(), {})
    names = [group.phase for group in page.groups]
    assert names == [phase.value for phase in Phase if phase.value in names]
    rows = [row for group in page.groups for row in (*group.open, *group.done, *group.elsewhere)]
    assert len(rows) == len(load_demo().jobs)
    assert all(row.said for row in rows)
    assert "2 of 7 done" in {group.said for group in page.groups}


def test_a_done_job_says_when_and_a_begun_one_how_far() -> None:
    events = (
        Work(id="w1", day=DAY, job="a", hours=3, done=True),
        Work(id="w2", day=DAY, job="b", hours=2),
        Work(id="w3", day=DAY, job="c", hours=2, hours_left=1),
    )
    shown = view(Build(jobs=(job("a"), job("b"), job("c"), job("d")), events=events), day=DAY + timedelta(days=1))
    ready: dict[str, Ready] = {item.job.job: item for item in ready_now(shown, {})}
    said = {id_: job_page(shown, id_, {}, ready).state.said for id_ in "abcd"}
    assert said == {
        "a": "Done on 2 March, 3 h.",
        "b": "Begun, 2 of about 10 h. It can go on now.",
        "c": "Begun, 2 h worked, 1 h left. It can go on now.",
        "d": "It can begin now.",
    }


def test_every_job_of_the_demo_has_a_page_and_a_piece(client: TestClient) -> None:
    for each in load_demo().jobs:
        assert client.get(f"/jobs/{each.id}").status_code == 200
        piece = client.get(f"/jobs/{each.id}?piece", headers={"HX-Request": "true"}).text
        assert "<html" not in piece
    assert client.get("/jobs/no-such").status_code == 404


# hours


@pytest.mark.parametrize(("tapped", "hours"), [("30", 0.5), ("60", 1.0), ("90", 1.5), ("120", 2.0)])
def test_a_tap_writes_down_so_many_minutes(client: TestClient, tapped: str, hours: float) -> None:
    assert send(client, "/jobs/lower-corners/hours", minutes=tapped).status_code == 303
    event = desk_of(client).view().build.events[-1]
    assert isinstance(event, Work)
    assert (event.job, event.hours, event.done, event.day) == ("lower-corners", hours, False, demo_as_of())


def test_done_is_one_tap_and_needs_no_hours(client: TestClient) -> None:
    send(client, "/jobs/lower-corners/hours", minutes="done")
    assert desk_of(client).view().facts.is_done("lower-corners")
    assert desk_of(client).view().build.events[-1].hours == 0


def test_the_last_hours_and_done_go_together(client: TestClient) -> None:
    send(client, "/jobs/lower-corners/hours", minutes="60", done="yes", left="3")
    event = desk_of(client).view().build.events[-1]
    assert (event.hours, event.done, event.hours_left) == (1, True, None)


def test_other_hours_are_typed_with_what_is_left(client: TestClient) -> None:
    send(client, "/jobs/lower-corners/hours", hours="2,25", left="6", note="one side", day="2026-11-10")
    event = desk_of(client).view().build.events[-1]
    assert (event.hours, event.hours_left, event.note, event.day) == (2.25, 6, "one side", date(2026, 11, 10))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "Nothing was filled in"),
        ({"hours": "two"}, "Not a number (“two”)"),
        ({"hours": "30"}, "More than 24"),
        ({"minutes": "60", "day": "2027-01-01"}, "After today"),
    ],
)
def test_hours_that_cannot_be_are_refused_beside_their_field(
    client: TestClient, fields: dict[str, str], words: str
) -> None:
    response = send(client, "/jobs/lower-corners/hours", form="hours-lower-corners", **fields)
    assert response.status_code == 422
    assert words in response.text
    assert desk_of(client).file.revision == 1


def test_hours_from_tonights_list_go_back_to_it(client: TestClient) -> None:
    response = send(client, "/jobs/lower-corners/hours", form="tonight-lower-corners", minutes="30")
    assert response.headers["location"] == "/jobs"
    refused = send(client, "/jobs/lower-corners/hours", form="tonight-lower-corners", hours="x")
    assert "Not a number (“x”)" in refused.text
    assert "Tonight" in refused.text


# jobs themselves


def test_the_first_job_of_a_build_is_added_on_the_page(empty: TestClient) -> None:
    assert "No job is listed yet" in empty.get("/jobs").text
    fields = {"name": "Sills out", "phase": "strip", "hours-likely": "6", "hours-high": "9"}
    assert send(empty, "/jobs", form="new-job", **fields).status_code == 303
    added = desk_of(empty).view().build.jobs[0]
    assert (added.id, added.phase, added.hours.low, added.hours.high) == ("sills-out", Phase.STRIP, 6, 9)
    assert "It can begin now." in empty.get("/jobs").text


def test_a_job_without_hours_is_refused(empty: TestClient) -> None:
    response = send(empty, "/jobs", form="new-job", name="Sills", phase="strip")
    assert response.status_code == 422
    assert "Say how many hours it takes" in response.text


def test_a_job_is_changed_and_keeps_what_the_form_does_not_show(client: TestClient) -> None:
    before = load_demo().find("jobs", "lower-corners")
    fields = {
        "name": "Corners", "phase": "structure", "system": "body", "hours-low": "10", "hours-likely": "20",
        "hours-high": "30", "tools": "welder, grinder", "after": ["floor"], "also_part": "front-disc",
        "part_use": "to_try",
    }  # fmt: skip
    assert send(client, "/jobs/lower-corners", **fields).status_code == 303
    after = desk_of(client).view().build.find("jobs", "lower-corners")
    assert (after.name, after.tools, after.to_try) == ("Corners", ("welder", "grinder"), ("front-disc",))
    assert (after.hazards, after.to_keep, after.after) == (before.hazards, before.to_keep, before.after)


def test_jobs_that_would_wait_for_each_other_are_refused(client: TestClient) -> None:
    fields = {
        "name": "Floor", "phase": "structure", "hours-likely": "20", "after": ["sills"], "also_after": "lower-corners",
        "form": "job-floor",
    }  # fmt: skip
    response = send(client, "/jobs/floor", **fields)
    assert response.status_code == 422
    assert "wait for each other in a circle" in response.text
