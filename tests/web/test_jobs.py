"""Jobs: what each waits for, hours in two taps, everything that can be said of one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from html.parser import HTMLParser

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, worked_out

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.decisions import Decision, Option
from fishplate.build.events import Work
from fishplate.build.interfaces import Interface
from fishplate.build.jobs import Gate, Job, Link, StopPoint
from fishplate.build.parts import Part, Phase, Stock
from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.desk import View
from fishplate.web.holdings import holdings
from fishplate.web.job import job_page
from fishplate.web.jobs import Query, jobs_page
from fishplate.web.ready import Ready, closed_interfaces, ready_now
from fishplate.web.verdicts import fitted, fitted_by_plan
from fishplate.web.waits import due_of, waits_of

DAY = date(2026, 3, 2)


def job(id_: str, hours: float = 10, **fields: object) -> Job:
    points = ThreePoint(low=hours, likely=hours, high=hours)
    return Job.model_validate({"id": id_, "name": id_.capitalize(), "phase": "assembly", "hours": points, **fields})


def view(build: Build, plan: Plan | None = None, day: date = DAY) -> View:
    return View(build, facts_of(build, day), 1, day, plan)


def waits(shown: View, id_: str, closed: Mapping[str, str] | None = None) -> list[str]:
    return [
        str(wait)
        for wait in waits_of(shown, shown.build.find("jobs", id_), holdings(shown), closed or {}, due_of(shown))
    ]


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


def test_parts_a_stop_point_waits_for_are_named_and_never_by_their_ids() -> None:
    stop = StopPoint(share=0.2, without=("brake-hose-2",))
    part = Part(id="brake-hose-2", name="Hose, rear")
    shown = view(Build(parts=(part,), jobs=(job("pipes", 5, to_keep=(part.id,), stop_points=(stop,)),)))
    ready = {item.job.job: item for item in ready_now(shown, {})}
    said = job_page(shown, "pipes", {}, ready).state.said
    assert said == "It can begin now, to its stop point: then it needs Hose, rear."


def test_the_unfolded_job_is_kept_in_the_address() -> None:
    assert Query("sills").path == "/jobs?open=sills"
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


def as_on_the_form(client: TestClient, id_: str) -> dict[str, object]:
    """The fields of a job's form as the page fills them."""
    fields: dict[str, list[str]] = {}
    reader = Fields(fields)
    reader.feed(client.get(f"/jobs/{id_}/change").text)
    return dict(fields)


class Fields(HTMLParser):
    """What a browser would send of the form of a job."""

    def __init__(self, fields: dict[str, list[str]]) -> None:
        super().__init__()
        self.fields, self.select, self.area, self.inside = fields, "", "", False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.inside = found.get("id", "").startswith("form-job-")
        if not self.inside:
            return
        if tag == "input" and (found.get("type") != "checkbox" or "checked" in found):
            self.fields.setdefault(found["name"], []).append(found.get("value", ""))
        elif tag == "select":
            self.select = found["name"]
        elif tag == "option" and "selected" in found:
            self.fields.setdefault(self.select, []).append(found["value"])
        elif tag == "textarea":
            self.area = found["name"]

    def handle_data(self, data: str) -> None:
        if self.area:
            self.fields.setdefault(self.area, []).append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self.area = ""


def test_the_form_of_every_job_of_the_demo_sent_as_it_is_changes_nothing(client: TestClient) -> None:
    for each in load_demo().jobs:
        fields = {**as_on_the_form(client, each.id), "revision": str(desk_of(client).file.revision)}
        assert client.post(f"/jobs/{each.id}/change", data=fields, follow_redirects=False).status_code == 303, each.id
    assert desk_of(client).view().build.jobs == load_demo().jobs


def test_everything_that_can_be_said_of_a_job_is_written(client: TestClient) -> None:
    fields = {
        "name": "Corners", "phase": "structure", "system": "body", "hours-low": "10", "hours-likely": "20",
        "hours-high": "30", "tools": "welder, grinder", "link-0": "floor", "link-0-kind": "start-start",
        "link-0-lag": "2", "link-0-within": "9", "link-0-redo": "3", "cure_days": "4", "part-0": "front-disc",
        "part-0-use": "to_try", "part-1": "radiator", "part-1-use": "works_on", "stop-0-name": "tacked",
        "stop-0-percent": "40", "stop-0-without": "front-disc", "decision": ["tyre-size", "lamps"],
        "interface": "tyre-arch-front", "settles": "door-rail", "rework-likely": "5", "closes": "door-rail",
        "changes": "old-rear-axle", "month": ["5", "6"], "bay": "yes", "lift": "yes", "helper": "yes", "loud": "no",
        "dry": "yes", "least_c": "12", "setting_up": "15", "workshop": "scheldewerf", "cost": "80",
        "hazard": ["welding", "lifting"], "note": "In two goes",
    }  # fmt: skip
    fields["workshop"] = load_demo().workshops[0].id
    assert send(client, "/jobs/lower-corners/change", **fields).status_code == 303
    after: Job = desk_of(client).view().build.find("jobs", "lower-corners")
    assert after.after == (Link(job="floor", kind="start-start", lag_days=2, within_days=9, redo_hours=3),)
    assert (after.to_try, after.works_on, after.to_keep) == (("front-disc",), ("radiator",), ())
    assert after.stop_points == (StopPoint(name="tacked", share=0.4, without=("front-disc",)),)
    assert (after.decisions, after.interfaces) == (("tyre-size", "lamps"), ("tyre-arch-front",))
    assert (after.settles, after.closes, after.changes) == (("door-rail",), ("door-rail",), ("old-rear-axle",))
    assert after.rework == ThreePoint(low=5, likely=5, high=5)
    assert (after.months, after.cure_days, after.workshop, after.cost) == ((5, 6), 4, fields["workshop"], 80)
    assert (after.bay, after.lift, after.second_person, after.loud, after.dry) == (True, True, True, False, True)
    assert (after.least_c, after.setting_up_minutes, after.tools) == (12, 15, ("welder", "grinder"))
    assert (after.hazards, after.note) == (("welding", "lifting"), "In two goes")


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"link-0": "sills", "link-0-lag": "9", "link-0-within": "2"}, "Shorter than the wait before it"),
        ({"link-0": "sills", "link-1": "sills"}, "It stands there twice"),
        ({"stop-0-percent": "40"}, "Half of a stop point"),
        ({"rework-likely": "4"}, "It verifies no place"),
        ({"link-0": "lower-corners"}, "wait for each other in a circle"),
        ({"month": ["13"]}, "12"),
    ],
)
def test_what_a_job_can_not_be_is_refused_and_nothing_is_written(
    client: TestClient, fields: dict[str, object], words: str
) -> None:
    said = {"name": "Floor", "phase": "structure", "hours-likely": "20", "form": "job-floor", **fields}
    response = send(client, "/jobs/floor/change", **said)
    assert response.status_code == 422
    assert words in response.text
    assert desk_of(client).file.revision == 1


def test_what_comes_of_a_changed_job_is_shown_first_where_that_is_asked_for(client: TestClient) -> None:
    fields = {**as_on_the_form(client, "last-welds"), "hours-high": "40", "look": "yes"}
    page = worked_out(client, client.post("/jobs/last-welds/change", data=fields).url.path)
    assert "Nothing is written yet." in page.text
    assert "hours 5, 9 or 40, not 5, 9 or 17" in page.text
    assert desk_of(client).file.revision == 1
    looked = page.url.path.rpartition("/")[2]
    done = client.post("/jobs/last-welds/change", data={**fields, "looked": looked}, follow_redirects=False)
    assert done.headers["location"] == "/jobs/last-welds"
    assert desk_of(client).view().build.find("jobs", "last-welds").hours.high == 40


def test_a_fault_found_on_the_way_there_is_told_once(client: TestClient) -> None:
    fields = {**as_on_the_form(client, "last-welds"), "cure_days": "many", "look": "yes"}
    page = client.post("/jobs/last-welds/change", data=fields)
    assert page.status_code == 422
    assert page.text.count("Not a number (“many”)") == 1


# many jobs


def test_of_many_jobs_one_phase_is_shown_and_the_others_say_what_is_in_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fishplate.web.jobs.FOLDED_FROM", 4)
    build = Build(
        jobs=(
            job("strip", phase="strip"), job("weld", phase="structure"),
            job("fit", phase="assembly", after=(Link(job="weld"),)), job("wire", phase="assembly"),
        ),
        events=(Work(id="w", job="strip", day=DAY, hours=10, done=True),),
    )  # fmt: skip
    shown = view(build)

    def phases(query: Query) -> dict[str, tuple[str, list[str]]]:
        groups = jobs_page(shown, query, {}).groups
        return {group.phase: (group.folded, [row.id for row in (*group.open, *group.done)]) for group in groups}

    first = phases(Query())
    assert first["structure"] == ("", ["weld"]), "the first phase with work left"
    assert first["assembly"] == ("Its 2 jobs, 1 of which can go on now", [])
    assert first["strip"] == ("Its 1 job", [])
    assert phases(Query(phase="assembly"))["assembly"] == ("", ["fit", "wire"])
    assert phases(Query(open="strip"))["strip"] == ("", ["strip"]), "an unfolded job is on the page"
    assert phases(Query(phase="none"))["structure"] == ("", ["weld"])


def test_a_folded_phase_leads_to_its_jobs(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fishplate.web.jobs.FOLDED_FROM", 1)
    lines = client.get("/jobs").text.splitlines()
    links = [line.partition('href="')[2].partition('"')[0] for line in lines if "/jobs?phase=" in line]
    assert len(links) == len({item.phase for item in load_demo().jobs}) - 1
    page = client.get(links[-1])
    assert page.status_code == 200
    phase = links[-1].partition("=")[2]
    assert all(f'id="job-{item.id}"' in page.text for item in load_demo().jobs if item.phase == phase)
