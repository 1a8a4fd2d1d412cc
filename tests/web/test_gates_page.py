"""Gates on the page: which stand open, what they hold, the usual ones proposed, changed and taken out."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect
from serving import Site, assert_accessible, assert_nothing_is_cut, desk_of

from fishplate.build import Build, check_build, facts_of
from fishplate.build.jobs import Gate
from fishplate.starters import demo_as_of, load_demo, starters
from fishplate.web.desk import View
from fishplate.web.gates import KINDS, gates_page
from fishplate.work.gates import gate_of_kind

PATH = "/schedule/gates"


def send(client: TestClient, path: str, **fields: object):  # type: ignore[no-untyped-def]
    data = {"revision": str(desk_of(client).file.revision), "form": "gate", **fields}
    return client.post(path, data=data, follow_redirects=False)


def page_of(build: Build):  # type: ignore[no-untyped-def]
    return gates_page(View(build, facts_of(build, demo_as_of()), 1, demo_as_of(), None))


def test_gates_that_hold_something_come_first_and_say_what_they_wait_for() -> None:
    page = page_of(load_demo())
    assert [gate.open for gate in page.gates] == sorted(gate.open for gate in page.gates)
    tacked = next(gate for gate in page.gates if gate.id == "tacked-until-proved")
    assert not tacked.open
    assert tacked.said == "Shut. It holds one job."
    assert [place.name for place in tacked.unproved] == [load_demo().find("interfaces", "sump-steering").name]
    assert [job.path for job in tacked.holds] == ["/jobs/last-welds"]
    replan = next(gate for gate in page.gates if gate.id == "replan-after-strip")
    assert replan.open
    assert page.usual == ()


@pytest.mark.parametrize("item", starters(), ids=lambda item: item.name)
def test_a_gate_of_a_kind_is_proposed_from_the_jobs_and_closes_no_circle(item) -> None:  # type: ignore[no-untyped-def]
    facts = facts_of(item.build, demo_as_of())
    for kind in KINDS:
        gate = gate_of_kind(item.build, facts, kind)
        more = item.build.model_copy(update={"gates": (gate,)})
        assert not list(check_build(more, source="a gate more"))
        phases = {item.build.find("jobs", job).phase.value for job in gate.before}
        if kind == "dry-build":
            assert phases <= {"finish"}
            assert gate.before


def test_a_gate_is_written_changed_and_taken_out(client: TestClient) -> None:
    fields = {
        "name": "Before the lining",
        "kind": "dry-build",
        "after": ["sills", "floor"],
        "before": "insulation-lining",
    }
    assert send(client, f"{PATH}/new", **fields).headers["location"] == PATH
    gate = desk_of(client).view().build.gates[-1]
    wanted = Gate(
        id="before-the-lining", name="Before the lining", kind="dry-build", after=("sills", "floor"),
        before=("insulation-lining",),
    )  # fmt: skip
    assert gate == wanted
    send(client, f"{PATH}/{gate.id}", **{**fields, "after": "floor", "interface": "door-rail"})
    changed = desk_of(client).view().build.gates[-1]
    assert (changed.after, changed.interfaces) == (("floor",), ("door-rail",))
    send(client, f"{PATH}/{gate.id}/out")
    assert desk_of(client).view().build.gates == load_demo().gates


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"before": "floor"}, "It waits for nothing"),
        ({"after": "floor"}, "It holds nothing"),
        ({"after": "floor", "before": "sills"}, "circle"),
        ({"after": "floor", "before": "take-apart", "kind": "moat"}, "Not one of the choices"),
    ],
)
def test_a_gate_that_can_not_be_is_refused(client: TestClient, fields: dict[str, object], words: str) -> None:
    response = send(client, f"{PATH}/new", **{"name": "A gate", "kind": "dry-build", **fields})
    assert response.status_code == 422
    assert words in response.text
    assert desk_of(client).view().build.gates == load_demo().gates


def test_a_kind_that_is_missing_is_offered_as_it_mostly_stands(empty: TestClient) -> None:
    text = empty.get(PATH).text
    assert all(f"{PATH}/new?kind={kind}" in text for kind in KINDS)
    for kind in (*KINDS, "moat"):
        assert empty.get(f"{PATH}/new", params={"kind": kind}).status_code == 200


@pytest.mark.browser
@pytest.mark.long
def test_gates_fit_the_screen_and_are_accessible(site: Site, page: Page) -> None:
    for path in (PATH, f"{PATH}/tacked-until-proved"):
        page.goto(site.address + path)
        assert_nothing_is_cut(page)
        assert_accessible(page)
    page.get_by_label("It is called").fill("Mounts stay tacked")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("#said")).to_contain_text("Written: changed")
    expect(page.get_by_role("heading", name="Mounts stay tacked")).to_be_visible()
