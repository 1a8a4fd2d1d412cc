"""This week: doing and putting off, on the spot."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build import build_from_data, facts_of
from fishplate.build.events import Check, Order, Work
from fishplate.build.interfaces import Settled
from fishplate.plan import Action, ActionKind, Plan
from fishplate.plan.model import CostOfWaiting
from fishplate.records import return_rights
from fishplate.starters import demo_as_of, load_demo
from fishplate.store import BuildFile
from fishplate.web.carrying_out import act_of
from fishplate.web.desk import View
from fishplate.web.week import is_done

TODAY = demo_as_of().isoformat()


def first(plan: Plan, kind: ActionKind, *, prefix: str = "") -> Action:
    """The first action of a kind."""
    return next(action for action in plan.actions if action.kind is kind and action.key.startswith(prefix))


def path_of(action: Action) -> str:
    return f"/week/{action.kind}/{quote(action.key, safe='')}"


def send(client: TestClient, path: str, **fields: object):  # type: ignore[no-untyped-def]
    """A form as a page of ours sends it."""
    data = {"revision": str(desk_of(client).file.revision), "form": "test", **fields}
    return client.post(path, data=data, follow_redirects=False)


def test_the_list_leads_with_the_plans_first_action_its_reason_and_what_waiting_costs(
    client: TestClient, demo_plan: Plan
) -> None:
    page = client.get("/").text
    action = demo_plan.actions[0]
    assert action.what in page
    assert "Putting it off" in page or "Waiting costs" in page


@pytest.mark.parametrize("kind", list(ActionKind))
def test_every_action_has_a_page_of_its_own_and_a_piece(client: TestClient, demo_plan: Plan, kind: ActionKind) -> None:
    for action in (action for action in demo_plan.actions if action.kind is kind):
        whole = client.get(path_of(action))
        assert whole.status_code == 200
        assert "What waiting costs" in whole.text
        piece = client.get(path_of(action) + "?piece", headers={"HX-Request": "true"}).text
        assert "<html" not in piece
        assert "Put it off" in piece


def test_deciding_takes_an_option_with_its_day_and_reason(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.DECIDE)
    option = desk_of(client).view().build.find("decisions", action.key).options[-1].id
    response = send(client, path_of(action), option=option, why="it is quieter")
    assert response.status_code == 303
    decision = desk_of(client).view().build.find("decisions", action.key)
    assert (decision.chosen, decision.chosen_on, decision.why) == (option, demo_as_of(), "it is quieter")


def test_an_option_that_is_none_is_refused_beside_its_field_and_nothing_is_written(
    client: TestClient, demo_plan: Plan
) -> None:
    action = first(demo_plan, ActionKind.DECIDE)
    response = send(client, path_of(action), form=f"decide-decide-{action.key}", option="no-such", why="kept text")
    assert response.status_code == 422
    assert "Not one of the choices" in response.text
    assert "kept text" in response.text
    assert desk_of(client).file.revision == 1


def test_a_reading_is_written_down_with_its_photo(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.MEASURE)
    photo = b"\xff\xd8\xff\xe0" + b"0" * 100
    fields = {"revision": "1", "form": "x", "value": "201,5", "spread": "1", "means": "limits", "instrument": "caliper"}
    response = client.post(path_of(action), data=fields, files={"photo": ("a.jpg", photo)}, follow_redirects=False)
    assert response.status_code == 303
    reading = desk_of(client).view().build.readings[-1]
    assert (reading.dimension, reading.value, reading.instrument) == (action.key, 201.5, "caliper")
    assert client.get(f"/photos/{reading.photo}").content == photo


def test_what_is_no_photo_is_refused(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.MEASURE)
    fields = {"revision": "1", "form": "x", "value": "201"}
    response = client.post(path_of(action), data=fields, files={"photo": ("a.html", b"<script>")})
    assert response.status_code == 422
    assert desk_of(client).file.attachments() == ()


def test_an_order_is_written_down_at_the_prices_paid(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.BUY)
    lines = [line for line in demo_plan.purchase.lines if line.shipment == action.key]
    fields = {f"quantity-{line.offer}": "1" for line in lines} | {f"price-{line.offer}": "12.34" for line in lines}
    assert send(client, path_of(action), promised="2027-01-15", **fields).status_code == 303
    order = desk_of(client).view().build.events[-1]
    assert isinstance(order, Order)
    assert {line.offer for line in order.lines} == {line.offer for line in lines}
    assert {str(line.price.amount) for line in order.lines} == {"12.34"}


def test_a_trip_is_fixed(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.COLLECT)
    assert send(client, path_of(action), form="trip-x").status_code == 303
    assert desk_of(client).view().build.find("collections", action.key).decided


def test_hours_are_written_down_and_a_done_job_leaves_the_list(client: TestClient, demo_plan: Plan) -> None:
    jobs = desk_of(client).view().build.index["jobs"]
    action = next(action for action in demo_plan.actions if action.kind is ActionKind.DO and action.key in jobs)
    assert send(client, path_of(action), hours="2.5", done="yes").status_code == 303
    event = desk_of(client).view().build.events[-1]
    assert isinstance(event, Work)
    assert (event.job, event.hours, event.done) == (action.key, 2.5, True)
    assert "1 done since this plan" in client.get("/").text


def test_hours_left_that_were_said_before_are_shown_beside_the_field_and_not_said_again(client: TestClient) -> None:
    page = client.get("/week/do/roof-frame").text
    assert "you said 15 before" in page
    left = re.search(r'name="left" value="([^"]*)"', page)
    assert left is not None
    assert send(client, "/week/do/roof-frame", hours="2", left=left[1]).status_code == 303
    event = desk_of(client).view().build.events[-1]
    assert isinstance(event, Work)
    assert (event.hours, event.hours_left) == (2, None)


@pytest.mark.parametrize("kind", list(ActionKind))
def test_what_is_put_off_leaves_the_list_until_its_day_and_can_be_taken_up(
    client: TestClient, demo_plan: Plan, kind: ActionKind
) -> None:
    action = first(demo_plan, kind)
    before = desk_of(client).view().build.put_off
    until = (demo_as_of() + timedelta(days=30)).isoformat()
    assert send(client, path_of(action) + "/later", until=until, why="waiting for a friend").status_code == 303
    page = client.get("/").text
    assert "waiting for a friend" in page
    assert send(client, path_of(action) + "/now").status_code == 303
    assert desk_of(client).view().build.put_off == before


def test_putting_off_to_today_is_refused(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.DO)
    response = send(client, path_of(action) + "/later", until=TODAY, why="")
    assert response.status_code == 422


def test_an_action_the_plan_does_not_hold_is_not_here(client: TestClient) -> None:
    assert client.get("/week/decide/no-such").status_code == 404
    assert send(client, "/week/buy/no%7Csuch").status_code == 404


def test_what_was_written_is_said_once_and_can_be_taken_back(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.COLLECT)
    send(client, path_of(action), form="trip-x")
    assert "Written: trip fixed" in client.get("/").text
    assert "Written:" not in client.get("/").text
    assert send(client, "/history/undo").status_code == 303
    assert not desk_of(client).view().build.find("collections", action.key).decided


def test_an_edit_of_something_else_meanwhile_goes_through(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.COLLECT)
    desk = desk_of(client)
    other = BuildFile.open(desk.path)
    build = other.build()
    other.write(build.model_copy(update={"name": "Renamed"}), revision=1, author="phone", message="renamed")
    assert send(client, path_of(action), form="trip-x", revision="1").status_code == 303
    assert desk.view().build.name == "Renamed"
    assert desk.view().build.find("collections", action.key).decided


def test_an_edit_of_the_same_thing_meanwhile_shows_both_values_and_what_was_typed(
    client: TestClient, demo_plan: Plan
) -> None:
    action = first(demo_plan, ActionKind.DECIDE)
    options = [option.id for option in desk_of(client).view().build.find("decisions", action.key).options]
    assert send(client, path_of(action), option=options[0], revision="1").status_code == 303
    response = send(client, path_of(action), option=options[1], why="typed words", revision="1")
    assert response.status_code == 409
    assert "In the file now" in response.text
    assert "typed words" in response.text
    assert desk_of(client).view().build.find("decisions", action.key).chosen == options[0]
    again = send(client, path_of(action), option=options[1], why="typed words", revision="2")
    assert again.status_code == 303


# --- dry runs ---


def test_a_dry_run_leads_to_its_place_and_is_done_once_it_was_seen() -> None:
    day = date(2026, 3, 2)
    build = build_from_data({
        "interfaces": [{"id": "column", "name": "Column"}],
        "conditions": [{"id": "turns", "interface": "column", "name": "Turns lock to lock", "kind": "dry-run"}],
    })  # fmt: skip
    cost = CostOfWaiting(0.0, "EUR", 1.0, 1.0)
    action = Action(ActionKind.MEASURE, "see-turns", "Try it", day, day, cost, ())
    view = View(build, facts_of(build, day), 1, day, None)
    assert act_of(view, None, action).place == "column"  # type: ignore[arg-type]
    assert not is_done(view, action, frozenset())
    for condition in ("turns", None):
        seen = build.model_copy(
            update={"settled": (Settled(interface="column", condition=condition, day=day, by="me"),)}
        )
        assert is_done(View(seen, facts_of(seen, day), 1, day, None), action, frozenset())


def test_a_part_is_checked_as_far_as_its_terms_allow(client: TestClient, demo_plan: Plan) -> None:
    action = first(demo_plan, ActionKind.DO, prefix="try:")
    part = action.key.removeprefix("try:")
    right = next(right for right in return_rights(load_demo(), demo_as_of()) if right.part == part)
    assert send(client, path_of(action), good="no", day=TODAY).status_code == 303
    event = desk_of(client).view().build.events[-1]
    assert isinstance(event, Check)
    assert (event.part, event.good) == (part, False)
    assert event.how not in right.terms.ended_by
    back = replace(action, key=f"back:{part}", what="Send it back")
    assert act_of(desk_of(client).view(), demo_plan, back).kind == "back"
