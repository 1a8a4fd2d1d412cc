"""How far the work is."""

from __future__ import annotations

from datetime import date

from fastapi.testclient import TestClient

from fishplate.build import build_from_data, facts_of
from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.web import standing as room
from fishplate.web.beside import Answered
from fishplate.web.desk import View
from fishplate.web.worker import Progress
from fishplate.work.worth import Worth


def view_of(data: dict[str, object], day: date) -> View:
    build = build_from_data(data)
    return View(build, facts_of(build, day), 1, day, None)


def hours(low: float, likely: float, high: float) -> dict[str, float]:
    return {"low": low, "likely": likely, "high": high}


def test_hours_are_earned_at_their_estimate_and_spent_as_worked() -> None:
    jobs = [
        {"id": "strip", "name": "Strip", "phase": "strip", "hours": hours(8, 10, 14)},
        {"id": "weld", "name": "Weld", "phase": "structure", "hours": hours(20, 30, 50)},
    ]
    worked = {"id": "w", "kind": "worked", "day": "2026-11-02", "job": "strip", "hours": 14, "done": True}
    page = room.standing_page(view_of({"jobs": jobs, "events": [worked]}, date(2026, 11, 16)), None)
    (row,) = page.systems
    assert (row.name, row.whole, row.earned, row.spent, row.used) == ("No system named", 40, 10, 14, 4)
    assert page.far.state == "not asked for"


def test_a_season_that_never_comes_is_named_with_what_to_do() -> None:
    owner = {"hours_per_week": 6, "seasons": [{"months": [12, 1, 2], "hours": 0}]}
    jobs = [{"id": "dip", "name": "Dip in salt", "phase": "finish", "hours": hours(2, 3, 4), "months": [1]}]
    page = room.standing_page(view_of({"owner": owner, "jobs": jobs}, date(2026, 11, 16)), None)
    ((what, do),) = page.faults
    assert what
    assert do


def test_what_one_more_brings_is_told_once_it_is_known() -> None:
    view = View(load_demo(), facts_of(load_demo(), demo_as_of()), 1, demo_as_of(), None)
    found = (Worth("hour", 3.2, 0.1, 240.0, "An hour more a week: 3.2 weeks sooner."),)
    page = room.standing_page(view, Answered(room._adapter().dump_json(found), Progress()))
    assert (page.far.state, page.worth) == ("known", ("An hour more a week: 3.2 weeks sooner.",))


def test_the_page_is_there_and_linked(client: TestClient) -> None:
    assert 'href="/schedule/how-far"' in client.get("/schedule").text
    page = client.get("/schedule/how-far")
    assert page.status_code == 200
    assert "Where the build stops and looks" in page.text


def test_months_that_stand_still_and_what_sets_the_finish_are_named(client: TestClient, demo_plan: Plan) -> None:
    page = client.get("/schedule/how-far").text.replace("&#39;", "'")
    worst = max(demo_plan.stall, key=lambda line: line.hours)
    assert "Months in which it stands still" in page
    assert worst.causes[0] in page
    first = demo_plan.deciding[0]
    assert first.text in page
    job = next(line.id for line in demo_plan.deciding if line.kind == "jobs")
    assert f'href="/jobs/{job}"' in page
    assert "It is on the chain of work that sets the finish" in client.get(f"/jobs/{job}").text


def test_working_it_out_can_be_stopped(client: TestClient) -> None:
    client.post("/schedule/how-far", data={"revision": "1"})
    page = client.post("/schedule/how-far/stop", data={"revision": "1"})
    assert "Work it out" in page.text
