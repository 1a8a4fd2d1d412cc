"""Changes tried on a copy: what comes loose, two plans side by side, kept or thrown away."""

from __future__ import annotations

import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect
from serving import Site, assert_accessible, assert_nothing_is_cut, desk_of, served, worked_out

from fishplate.build import build_from_data
from fishplate.impact import KINDS, Tweak
from fishplate.plan import Plan
from fishplate.plan.compare import compare
from fishplate.starters import load_demo
from fishplate.web.course import say
from fishplate.web.desk import View
from fishplate.web.kept import KeptEach
from fishplate.web.side_by_side import side_by_side
from fishplate.web.trials import TrialErrand
from fishplate.web.what_if import HEADS, SCRATCH, Loosened, adding_for, loosened, words_of


def post(client: TestClient, path: str, **fields: str) -> Any:
    response = client.post(path, data=fields, headers={"origin": "http://127.0.0.1:8137"}, follow_redirects=True)
    return worked_out(client, response.url.path) if "is being worked out" in response.text else response


def gearbox() -> tuple[str, str, str]:
    """A decision of the demo with a rival to what the plan goes by: its id, the rival's, and the rival's name."""
    build = load_demo()
    decision = build.find("decisions", "heating")
    rival = next(option for option in decision.options if option.id != decision.leading)
    return decision.id, rival.id, rival.name


def test_every_kind_of_change_asks_for_its_thing_and_value() -> None:
    build = load_demo()
    for kind, words in (way for _, ways in adding_for(build, "").kinds for way in ways):
        adding = adding_for(build, kind)
        assert adding.words == words
        assert bool(adding.things) == (KINDS[kind].list_name != "owner"), kind
        assert bool(adding.value) == (KINDS[kind].value is not None and kind != "choose"), kind
    orders = adding_for(build, "cancel").things
    assert len(orders) == sum(event.kind == "ordered" for event in build.events)


def test_a_change_is_tried_on_a_copy_and_thrown_away(client: TestClient) -> None:
    decision, option, name = gearbox()
    revision = desk_of(client).view().revision
    page = post(client, "/what-if/changes", kind="choose", thing=f"{decision} {option}")
    assert name in page.text
    assert "Two plans side by side" in page.text
    assert desk_of(client).view().revision == revision
    page = post(client, "/what-if/away")
    assert "Tried on a copy" not in page.text
    assert json.loads(desk_of(client).file.memo_get(SCRATCH) or b"") == []


def test_several_changes_are_kept_in_one_batch_with_their_reason(client: TestClient) -> None:
    decision, option, name = gearbox()
    post(client, "/what-if/changes", kind="choose", thing=f"{decision} {option}")
    page = post(client, "/what-if/changes", kind="hours", value="12")
    assert "one pair of hands" in page.text
    desk = desk_of(client)
    before = desk.view().revision
    page = post(client, "/what-if/keep", why="The warm water is worth it.")
    view = desk.view()
    assert view.revision == before + 1
    taken = view.build.find("decisions", decision)
    assert (taken.chosen, taken.why) == (option, "The warm water is worth it.")
    assert view.build.owner.hours_per_week == 12
    (batch,) = desk.file.history(since=before)
    assert batch.why == "The warm water is worth it."
    assert name in batch.title
    assert batch.came_of_it
    assert "Tried on a copy" not in page.text


def test_the_same_thing_changed_again_replaces_the_first_try(client: TestClient) -> None:
    post(client, "/what-if/changes", kind="hours", value="12")
    post(client, "/what-if/changes", kind="hours", value="3")
    assert json.loads(desk_of(client).file.memo_get(SCRATCH) or b"") == [["hours", "", "3"]]


def test_what_can_not_be_is_refused_on_the_page_and_nothing_is_tried(client: TestClient) -> None:
    page = post(client, "/what-if/changes", form="change", kind="job-hours", thing=load_demo().jobs[0].id, value="many")
    assert page.status_code == 422
    assert "Not a number (“many”)" in page.text
    first, second = load_demo().jobs[0], next(job for job in load_demo().jobs if job.after)
    loop = post(client, "/what-if/changes", kind="job-after", thing=second.after[0].job, value=second.id)
    assert loop.status_code == 422
    assert first is not None
    assert desk_of(client).file.memo_get(SCRATCH) is None


def test_a_part_is_left_out_after_what_comes_of_it_was_shown(client: TestClient) -> None:
    build = load_demo()
    part = next(noun.id for noun in build.parts if any(stock.part == noun.id for stock in build.stock))
    page = worked_out(client, f"/what-if/drop-part/{part}")
    assert "Do it, or leave it" in page.text
    assert not desk_of(client).view().build.find("parts", part).dropped
    post(client, f"/what-if/drop-part/{part}", why="Too heavy.")
    view = desk_of(client).view()
    assert view.build.find("parts", part).dropped
    assert part not in view.facts.wanted_parts
    assert client.get("/what-if/drop-part/nothing").status_code == 404
    assert client.get("/what-if/price/nothing").status_code == 404


def test_what_comes_of_it_is_worked_out_beside_the_request(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    gate, desk = threading.Event(), desk_of(client)

    def slow(view: View, tweaks: tuple[Tweak, ...]) -> Loosened:
        gate.wait(30)
        return loosened(view, tweaks)

    monkeypatch.setattr(desk, "loosened", KeptEach(slow))
    page = client.post("/what-if/changes", data={"kind": "hours", "value": "12"}, follow_redirects=True).text
    assert "What comes of it is being worked out" in page
    assert "Two plans side by side" not in page
    gate.set()
    assert "one pair of hands" in worked_out(client, "/what-if").text


def test_what_comes_of_it_says_how_far_it_is_and_can_be_stopped(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, gate, desk = threading.Event(), threading.Event(), desk_of(client)

    def slow(view: View, tweaks: tuple[Tweak, ...]) -> Loosened:
        say("Following what rests on it", 0.3)
        begun.set()
        gate.wait(30)
        return loosened(view, tweaks)

    monkeypatch.setattr(desk, "loosened", KeptEach(slow))
    client.post("/what-if/changes", data={"kind": "hours", "value": "12"})
    assert begun.wait(30)
    page = client.get("/what-if").text
    assert "Following what rests on it:" in page
    assert 'action="/what-if/stop"' in page
    stopped = client.post("/what-if/stop", data={"revision": "1"}).text
    gate.set()
    assert "It was stopped; nothing is changed." in stopped
    assert "Two plans side by side" not in stopped
    client.get("/what-if?again=yes")
    assert "one pair of hands" in worked_out(client, "/what-if").text


def test_planning_a_change_can_be_stopped(client: TestClient) -> None:
    stopped: list[str] = []
    desk_of(client).trials.stop = lambda: stopped.append("trial")  # type: ignore[method-assign]
    post(client, "/what-if/changes", kind="hours", value="12")
    assert client.post("/what-if/plans/stop", follow_redirects=False).headers["location"] == "/what-if"
    decision, option, _ = gearbox()
    path = f"/decisions/{decision}/options/{option}"
    assert client.post(f"{path}/plans/stop", follow_redirects=False).headers["location"] == path
    assert stopped == ["trial", "trial"]


@pytest.mark.parametrize("kind", [kind for kind, how in KINDS.items() if how.list_name != "owner"])
def test_what_comes_of_every_kind_of_change_is_told(client: TestClient, kind: str) -> None:
    build, how = load_demo(), KINDS[kind]
    view = desk_of(client).view()
    values = {"price": "99", "limit": "at least 30 mm", "more-work": "Seal it 5", "more-parts": "A seal",
              "job-after": "brief-and-datum", "job-hours": "70", "reading": "70", "quantity": "9", "set-aside": "45",
              "replace": "Another", "delay": "2026-12-20", "collection": "2026-12-20"}  # fmt: skip
    told = 0
    for noun in getattr(build, how.list_name):
        value = noun.options[-1].id if kind == "choose" else values.get(kind, "")
        found = loosened(view, (Tweak(kind, noun.id, value),))
        told += found.told is not None and bool(found.told.changes or found.told.loose)
        if told > 2:
            break
    assert told


def test_a_copy_of_what_is_gone_is_empty(client: TestClient) -> None:
    desk_of(client).file.memo_put(SCRATCH, b'[["drop-part", "gone", ""], ["nonsense"]]')
    assert client.get("/what-if").status_code == 200
    desk_of(client).file.memo_put(SCRATCH, b'[["drop-part", "gone", ""]]')
    assert "Tried on a copy" not in client.get("/what-if").text


def test_changes_are_named_as_a_person_would() -> None:
    build = load_demo()
    decision, option, name = gearbox()
    assert words_of(build, Tweak("choose", decision, option)) == f"{build.find('decisions', decision).name}: {name}"
    assert words_of(build, Tweak("hours", "", "9")) == "Other hours a week: 9"


def test_two_plans_tell_stalls_and_what_fell_from_the_list(demo_plan: Plan) -> None:
    idle = replace(demo_plan, stall=(), actions=demo_plan.actions[1:])
    difference = compare(demo_plan, idle)
    assert difference.stalled[1] == 0
    assert demo_plan.actions[0].what in difference.gone_actions
    rows = {row.label: row for row in side_by_side(load_demo(), demo_plan, idle).rows}
    assert rows["Hours without useful work"].after == "0 h"


def test_what_nobody_sells_any_more_is_told_as_missing_from_the_sums_not_as_a_saving(demo_plan: Plan) -> None:
    build = load_demo()
    short = replace(demo_plan, purchase=replace(demo_plan.purchase, unmet={"wheel-made": 5.0}, total=0.0))
    both = side_by_side(build, demo_plan, short)
    assert both.lacking.startswith(f"Nobody would sell {build.find('parts', 'wheel-made').name} any more.")
    assert "in none of these sums" in both.lacking
    assert not side_by_side(build, short, short).lacking


def test_a_trial_stays_near_the_plan_as_it_is(tmp_path: Path, demo_plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    from fishplate.build import format_document
    from fishplate.store.plans import dump_plan

    seen: list[Any] = []
    monkeypatch.setattr("fishplate.plan.plan", lambda _found, **said: seen.append(said["earlier"]) or demo_plan)
    path = tmp_path / "would-be.json"
    path.write_text(format_document(load_demo()), encoding="utf-8")
    TrialErrand(path, demo_plan.as_of, standing=dump_plan(demo_plan)).answer(None, lambda _stage, _share: None)
    TrialErrand(path, demo_plan.as_of).answer(None, lambda _stage, _share: None)
    assert [earlier is None for earlier in seen] == [False, True]
    assert seen[0].last.purchase.total == demo_plan.purchase.total


@pytest.mark.browser
@pytest.mark.long
def test_what_if_another_is_chosen_compared_and_kept(site: Site, page: Page) -> None:
    decision, option, name = gearbox()
    page.goto(f"{site.address}/decisions/{decision}/options/{option}")
    page.get_by_role("button", name="Try it under What if").click()
    expect(page.get_by_role("heading", name="What if", level=1)).to_be_visible()
    expect(page.get_by_text(name).first).to_be_visible()
    assert_nothing_is_cut(page)
    expect(page.get_by_role("region", name="Two plans")).to_be_visible(timeout=400_000)
    assert_accessible(page)
    page.get_by_label("Why, for later").fill("Warm water too.")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("Try a change before it is so")).to_be_visible()
    taken = site.desk.view().build.find("decisions", decision)
    assert (taken.chosen, taken.why) == (option, "Warm water too.")


@pytest.fixture
def arch(tmp_path: Path) -> TestClient:
    """A gap at an arch that is known to fit."""
    build = build_from_data({
        "interfaces": [{"id": "arch", "name": "Tyre in arch"}],
        "dimensions": [{"id": "gap", "name": "Gap at full bump"}],
        "readings": [
            {"id": "r1", "dimension": "gap", "value": 40, "spread": 2, "instrument": "tape", "day": "2026-03-01"}
        ],
        "conditions": [
            {"id": "c1", "interface": "arch", "name": "Clearance", "expression": "gap", "at_least": "15 mm"}
        ],
    })  # fmt: skip
    found = served(tmp_path / "arch.fishplate", build)
    found.get("/")
    return found


def test_a_reading_that_turns_a_verdict_over_is_asked_about_first(arch: TestClient) -> None:
    path = "/interfaces/dimensions/gap"
    told = post(arch, path, value="3", spread="1", day="2026-03-02", form="reading")
    assert "This turns 1 verdict over. Nothing is written yet." in told.text
    assert "Tyre in arch: fits, then" in told.text
    assert len(desk_of(arch).view().build.readings) == 1
    name = told.url.path.rpartition("/")[2]
    said = {"looked": name, "looked-why": "Measured twice."}
    post(arch, path, value="3", spread="1", day="2026-03-02", form="reading", **said)
    assert len(desk_of(arch).view().build.readings) == 2
    batch = desk_of(arch).file.history()[-1]
    assert (batch.title, batch.why) == ("measured: Gap at full bump", "Measured twice.")
    assert batch.came_of_it[0].startswith("Tyre in arch: fits, then")


def test_a_reading_that_turns_nothing_over_is_written_at_once(arch: TestClient) -> None:
    post(arch, "/interfaces/dimensions/gap", value="41", spread="2", day="2026-03-02", form="reading")
    assert len(desk_of(arch).view().build.readings) == 2


def test_every_way_a_build_can_be_otherwise_stands_under_a_head() -> None:
    assert {item.list_name for item in KINDS.values()} == {name for lists in HEADS.values() for name in lists}
