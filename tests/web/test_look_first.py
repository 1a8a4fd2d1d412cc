"""What a form loosens is shown before it is written, by the same button on every form that can loosen something."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect
from serving import (
    AUTHOR,
    IdleRunner,
    Site,
    assert_accessible,
    assert_nothing_is_cut,
    desk_of,
    served,
    serving,
    worked_out,
)
from walking import Form, Screen

from fishplate.build import facts_of
from fishplate.starters import demo_as_of, load_demo
from fishplate.store import BuildFile
from fishplate.web import looks
from fishplate.web.desk import View
from fishplate.web.looks import Look, Looked, Looks, looked_at, loses_verdict
from fishplate.web.sendings import HEADER

BUTTON = "See first what comes of it"


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    """The demo build, without a plan: none is needed here."""
    found = served(tmp_path / "demo.fishplate", load_demo())
    found.get("/")
    return found


def forms(client: TestClient, path: str) -> list[Form]:
    """The forms of a page with the button."""
    return [form for form in Screen(client.get(path).text).forms if BUTTON in form.buttons]


def sent(client: TestClient, form: Form, **typed: str) -> Any:
    """The form as it stands, with something else typed, sent by the button; the page that comes then."""
    data = {each.name: each.value for each in form.fields if each.sent and each.name}
    name, value = form.buttons[BUTTON]
    response = client.post(form.action, data={**data, name: value, **typed})
    return worked_out(client, response.url.path) if response.url.path.startswith("/before/") else response


def done(client: TestClient, text: str, why: str) -> Any:
    """Tap “Do it” on the page."""
    (form,) = [form for form in Screen(text).forms if "Do it" in form.buttons]
    data: dict[str, list[str]] = {}
    for each in form.fields:
        data.setdefault(each.name, []).append(why if each.name == "looked-why" else each.value)
    return client.post(form.action, data=data)


def test_what_was_looked_at_before_the_program_was_started_again_is_looked_at_once_more(client: TestClient) -> None:
    form = forms(client, "/owner")[0]
    shown = sent(client, form, hours="3")
    desk = desk_of(client)
    desk.looks = Looks()  # as after a start
    again = done(client, shown.text, "less time from now on")
    assert desk.file.revision == 1
    assert again.url.path.startswith("/before/")
    again = worked_out(client, again.url.path)
    assert "What you looked at is not held any more" in again.text
    assert ">less time from now on</textarea>" in again.text
    assert desk.file.revision == 1
    done(client, again.text, "less time from now on")
    message = desk.file.history()[-1].message
    assert desk.file.revision == 2
    assert message.split("\n")[1] == "less time from now on"
    assert len(message.split("\n")) > 2  # and what comes of it


def test_a_form_that_was_written_before_the_program_was_started_again_is_not_shown_again(client: TestClient) -> None:
    form = forms(client, "/owner")[0]
    shown, desk = sent(client, form, hours="3"), desk_of(client)
    client.headers[HEADER] = "one sending"
    done(client, shown.text, "")
    desk.looks = Looks()
    assert not done(client, shown.text, "").url.path.startswith("/before/")
    assert desk.file.revision == 2


PLACES = {
    "parts": "/parts/{parts}", "offers": "/buying/offers/{offers}/terms", "suppliers": "/buying/suppliers/{suppliers}",
    "sales": "/ahead", "trips": "/collections/{collections}", "ways home": "/door/ways/{routes}",
    "own rates": "/door/rates", "dimensions": "/interfaces/dimensions/{dimensions}",
    "dimension": "/interfaces/dimensions/{dimensions}/change", "interfaces": "/interfaces/{interfaces}/change",
    "stand-ins": "/interfaces/stand-ins", "decisions": "/decisions/{decisions}/change",
    "ways": "/decisions/{decisions}/ways/{options}/change", "bearing": "/decisions/bearing",
    "jobs": "/jobs/{jobs}/change", "a job": "/jobs", "gates": "/schedule/gates/{gates}", "situation": "/owner",
    "workshops": "/shelf/workshops", "orders": "/buying/orders/{events}", "set aside": "/money/aside",
}  # fmt: skip


def test_every_kind_of_form_can_be_looked_at_first(client: TestClient) -> None:
    build = load_demo()
    ids = {name: getattr(build, name)[0].id for name in
           ("parts", "offers", "suppliers", "collections", "routes", "dimensions", "interfaces", "decisions", "jobs",
            "gates")}  # fmt: skip
    ids["options"] = build.decisions[0].options[0].id
    ids["events"] = [event.id for event in build.events if event.kind == "ordered"][-1]
    for kind, place in PLACES.items():
        found = forms(client, place.format(**ids))
        assert found, kind
        page = sent(client, found[0])
        told = page.status_code == 422 or "Nothing is written yet." in page.text  # an empty form is refused as ever
        assert told, f"{kind}: {page.status_code}"
    assert desk_of(client).file.revision == 1


def test_what_came_of_it_is_kept_with_the_reason(client: TestClient) -> None:
    (form, *_) = [it for it in forms(client, "/money/aside") if it.action.count("/") == 3]
    page = sent(client, form, hours_percent="55")
    assert "Nothing is written yet." in page.text
    assert desk_of(client).file.revision == 1
    done(client, page.text, "The sills are rotten.\nBoth of them.")
    (batch,) = desk_of(client).file.history(since=1)
    assert batch.title.startswith("set aside: ")
    assert batch.why == "The sills are rotten. Both of them."
    assert batch.came_of_it
    text = client.get("/history").text
    assert "Why: The sills are rotten. Both of them." in text
    assert batch.came_of_it[0] in text.replace("&#39;", "'")
    client.post("/history/undo", data={"revision": "2"})
    assert desk_of(client).file.history(since=2)[0].message == batch.title


def test_a_changed_price_says_what_it_is_before_it_is_written(client: TestClient) -> None:
    build = load_demo()
    bought = {line.offer for event in build.events if event.kind == "ordered" for line in event.lines}
    offer = next(it for it in build.offers if it.part and it.id not in bought)
    form = next(it for it in forms(client, f"/parts/{offer.part}") if it.action.endswith(f"/offers/{offer.id}"))
    page = sent(client, form, price="9999")
    assert "more at the cheapest seller" in page.text
    assert desk_of(client).view().build.find("offers", offer.id).price == offer.price
    done(client, page.text, "")
    assert desk_of(client).view().build.find("offers", offer.id).price != offer.price


def test_a_form_that_is_refused_is_refused_before_anything_is_shown(client: TestClient) -> None:
    form = forms(client, "/owner")[0]
    page = sent(client, form, hours="many")
    assert page.status_code == 422
    assert "Nothing is written yet" not in page.text


def test_it_is_worked_out_beside_the_request(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    gate = threading.Event()

    def slow(look: Look) -> Looked:
        gate.wait(30)
        return looked_at(look)

    monkeypatch.setattr(looks, "looked_at", slow)
    form = next(it for it in forms(client, "/money/aside") if it.action.count("/") == 3)
    name, value = form.buttons[BUTTON]
    data = {each.name: each.value for each in form.fields if each.sent}
    response = client.post(form.action, data={**data, "hours_percent": "40", name: value})
    assert "What comes of it is being worked out." in response.text
    assert "Do it" not in response.text  # what is typed there would be lost when the page is asked for again
    gate.set()
    assert "Do it" in worked_out(client, response.url.path).text


def test_the_last_looks_are_held_and_an_older_one_is_not_here(client: TestClient) -> None:
    view = desk_of(client).view()
    held, look = Looks(), Look(view, view.build, "/owner", (), "/owner")
    first = held.begin(look)
    for _ in range(looks.HELD):
        held.begin(look)
    assert held.of(first, patience_seconds=0) is None
    assert client.get("/before/anything").status_code == 404


def test_several_at_once_are_looked_at_first(client: TestClient) -> None:
    parts = load_demo().parts[:2]
    fields = {"revision": "1", "form": "several", "line": [part.id for part in parts], "phase": "finish"}
    shown = client.post("/several/parts", data={**fields, "step": "show"})
    (form,) = [form for form in Screen(shown.text).forms if BUTTON in form.buttons]
    page = sent(client, form, line=parts[0].id)
    assert "Nothing is written yet." in page.text
    done(client, page.text, "Later.")
    assert desk_of(client).file.history(since=1)[0].why == "Later."


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """The demo build, served; nothing is planned."""
    path = tmp_path_factory.mktemp("look") / "demo.fishplate"
    BuildFile.create(path, load_demo(), author=AUTHOR, message="started")
    with serving(path, runner=IdleRunner()) as found:
        yield found


@pytest.mark.browser
def test_a_person_looks_first_then_does_it_with_a_reason(shown: Site, page: Page) -> None:
    width = page.viewport_size["width"] if page.viewport_size else 0
    page.goto(f"{shown.address}/money/aside")
    row = page.locator("details.act").nth(1)
    row.locator("summary").first.click()
    form = row.locator("form").first
    form.get_by_label("Hours, on top of the jobs").fill(str(50 + width // 300))
    before = shown.desk.file.revision
    form.get_by_role("button", name=BUTTON).click()
    expect(page.get_by_text("Nothing is written yet.")).to_be_visible()
    assert_nothing_is_cut(page)
    assert_accessible(page)
    assert shown.desk.file.revision == before
    page.get_by_label("Why, for later").fill("Rust behind the tank.")
    page.get_by_role("button", name="Do it").click()
    expect(page.get_by_role("heading", name="Set aside", level=1)).to_be_visible()
    (batch,) = shown.desk.file.history(since=before)
    assert (batch.why, bool(batch.came_of_it)) == ("Rust behind the tank.", True)


def test_a_reading_is_seen_at_once_to_lose_a_verdict_just_where_a_longer_look_finds_one_lost() -> None:
    build, as_of = load_demo(), demo_as_of()
    view = View(build, facts_of(build, as_of), 1, as_of, None)
    said = set()
    for reading in build.readings[::25]:
        for apart in (0.1, 60.0):
            other = reading.model_copy(update={"id": "again", "value": reading.value + apart})
            look = Look(view, build.model_copy(update={"readings": (*build.readings, other)}), "", (), "")
            said.add(loses_verdict(look))
            assert loses_verdict(look) is bool(looked_at(look).flips), (reading.id, apart)
    assert said == {True, False}


def test_more_than_a_reading_takes_the_longer_look() -> None:
    build, as_of = load_demo(), demo_as_of()
    view = View(build, facts_of(build, as_of), 1, as_of, None)
    wider = build.conditions[0].model_copy(update={"at_most": "1000 mm"})
    after = build.model_copy(update={"conditions": (wider, *build.conditions[1:])})
    assert loses_verdict(Look(view, after, "", (), "")) is None
