"""Several lines changed at once: what would change, what can't and why, and one change in the history."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served, worked_out

from fishplate.build import Build, facts_of
from fishplate.build.parts import Phase
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.desk import View
from fishplate.web.several_edits import several
from fishplate.web.several_lists import LISTINGS

DAY = demo_as_of()


@pytest.fixture(scope="module")
def view() -> View:
    build = load_demo()
    return View(build, facts_of(build, DAY), 1, DAY, None)


@pytest.fixture
def bare(tmp_path: Any) -> Iterator[TestClient]:
    """The demo without a plan."""
    with served(tmp_path / "demo.fishplate", load_demo()) as client:
        client.get("/")
        yield client


def changed(view: View, name: str, ids: list[str], **given: Any) -> tuple[Build, Any]:
    found = several(view, LISTINGS[name], ids, given)
    return LISTINGS[name].write(view, view.build, found.changes), found


def test_parts_move_to_another_system_said_by_where_they_were(view: View) -> None:
    ids = [part.id for part in view.build.parts if part.system in ("wheels", "brakes")]
    wheels = sum(part.system == "wheels" for part in view.build.parts)
    build, found = changed(view, "parts", ids, system="brakes")
    assert all(build.find("parts", id_).system == "brakes" for id_ in ids)
    assert found.does[0].text == f"{wheels} parts move from Wheels and tyres to Brakes."
    assert len(found.does[0].names) == wheels
    assert found.same == len(ids) - wheels


def test_a_part_that_is_fitted_or_on_its_way_stays_called_for(view: View) -> None:
    coming = view.facts.incoming[0].part
    free = next(part.id for part in view.build.parts if not view.facts.owned.get(part.id) and part.id not in
                {item.part for item in view.facts.incoming})  # fmt: skip
    build, found = changed(view, "parts", [coming, free], dropped=True)
    assert not build.find("parts", coming).dropped
    assert build.find("parts", free).dropped
    assert "because it is on its way" in found.cannot[0].text
    assert found.cannot[0].names == (view.build.find("parts", coming).name,)


def test_jobs_that_are_done_keep_their_phase_and_may_change_their_system(view: View) -> None:
    done = next(job for job in view.build.jobs if view.facts.is_done(job.id) and job.phase is not Phase.FINISH)
    todo = next(job for job in view.build.jobs if not view.facts.is_done(job.id) and job.phase is not Phase.FINISH)
    build, found = changed(view, "jobs", [done.id, todo.id], phase="finish", system=None, months=(3, 4, 5))
    assert build.find("jobs", done.id).phase is done.phase
    assert build.find("jobs", done.id).system is None
    assert build.find("jobs", todo.id).phase is Phase.FINISH
    assert build.find("jobs", todo.id).months == (3, 4, 5)
    assert any("because it is done" in said.text for said in found.cannot)


def test_an_offer_that_was_ordered_keeps_its_supplier_and_one_in_other_money_too(view: View) -> None:
    ordered = {line.offer for event in view.build.events if event.kind == "ordered" for line in event.lines}
    seller = next(each for each in view.build.suppliers if each.currency == "EUR")
    offers = [offer for offer in view.build.offers if offer.supplier != seller.id]
    mine = next(offer for offer in offers if offer.id not in ordered and offer.price.currency == "EUR")
    was = next(offer for offer in offers if offer.id in ordered)
    other = next(offer for offer in offers if offer.id not in ordered and offer.price.currency != "EUR")
    build, found = changed(view, "offers", [mine.id, was.id, other.id], supplier=seller.id)
    assert build.find("offers", mine.id).supplier == seller.id
    assert build.find("offers", was.id).supplier == was.supplier
    assert build.find("offers", other.id).supplier == other.supplier
    assert len(found.cannot) == 2


def test_a_price_seen_again_keeps_the_day_it_was_seen_before(view: View) -> None:
    offer = next(offer for offer in view.build.offers if offer.seen and offer.seen < DAY)
    build, _ = changed(view, "offers", [offer.id], seen=DAY)
    assert build.find("offers", offer.id).seen == DAY
    assert any((s.offer, s.day, s.price) == (offer.id, offer.seen, offer.price) for s in build.sightings)
    _, found = changed(view, "offers", [offer.id], seen=DAY + timedelta(days=1))
    assert not found.changes
    assert "still to come" in found.cannot[0].text


def test_what_lies_there_is_moved_in_one_go(view: View) -> None:
    ids = list(LISTINGS["shelf"].ids(view))[:5]
    build, found = changed(view, "shelf", ids, place="loft")
    facts = facts_of(build, DAY)
    for id_ in found.changes:
        assert {place for place, count in facts.lies[id_].places.items() if count > 0} == {"loft"}
        assert facts.owned[id_] == pytest.approx(view.facts.owned[id_])
    assert set(found.changes) == set(ids)


def test_a_decision_that_was_taken_keeps_its_importance(view: View) -> None:
    ids = [decision.id for decision in view.build.decisions]
    build, _ = changed(view, "decisions", ids, importance=7.0)
    for decision in view.build.decisions:
        taken = view.facts.choices[decision.id].decided
        assert build.find("decisions", decision.id).importance == (decision.importance if taken else 7.0)


@pytest.mark.parametrize("name", LISTINGS)
def test_every_line_of_every_list_can_be_ticked_and_every_field_read(bare: TestClient, name: str) -> None:
    listing, view = LISTINGS[name], desk_of(bare).view()
    text = bare.get(f"/several/{name}").text
    assert text.count('type="checkbox" name="line"') == len(listing.ids(view))
    for id_ in listing.ids(view):
        for field in listing.fields:
            assert field.words(view, listing.now(view, id_, field.name)), (id_, field.name)
    for field in listing.fields:
        for value, _ in field.options(view):
            field.words(view, field.read(value))


def sent(client: TestClient, name: str, ids: list[str], step: str, **fields: str) -> Any:
    data = {"revision": str(desk_of(client).file.revision), "form": f"several-{name}", "line": ids, "step": step}
    return client.post(f"/several/{name}", data={**data, **fields}, follow_redirects=False)


def test_it_is_shown_before_it_is_written_and_taken_back_in_one_go(bare: TestClient) -> None:
    desk, before = desk_of(bare), desk_of(bare).view().build
    ids = [part.id for part in before.parts[:17]]
    shown = sent(bare, "parts", ids, "show", phase="finish")
    assert shown.status_code == 200
    assert "nothing is written yet" in shown.text
    assert desk.view().build == before
    fields = dict(re.findall(r'<input type="hidden" name="(phase|system)" value="([^"]*)">', shown.text))
    assert re.findall(r'name="line" value="([^"]+)"', shown.text) == ids
    count = len(desk.file.history())
    assert sent(bare, "parts", ids, "write", **fields).status_code == 303
    assert len(desk.file.history()) == count + 1
    assert all(desk.view().build.find("parts", id_).phase is Phase.FINISH for id_ in ids)
    bare.post("/history/undo", data={"revision": str(desk.file.revision)})
    assert desk.view().build == before


@pytest.mark.parametrize(
    ("ids", "fields", "words"),
    [
        ([], {"phase": "finish"}, "No line is ticked"),
        (["front-disc"], {}, "Nothing is to change"),
        (["front-disc"], {"phase": "someday"}, "Not one of the choices"),
        (["front-disc"], {"origin": "Poland"}, "two letters"),
        (["nobody-has-this"], {"phase": "finish"}, "No line is ticked"),
    ],
)
def test_what_can_not_be_is_refused_whole(
    bare: TestClient, ids: list[str], fields: dict[str, str], words: str
) -> None:  # fmt: skip
    before = desk_of(bare).view().build
    for step in ("show", "write"):
        response = sent(bare, "parts", ids, step, **fields)
        assert response.status_code == 422
        assert words in response.text
    assert desk_of(bare).view().build == before


def test_lines_that_are_ticked_stay_while_others_are_looked_for(bare: TestClient) -> None:
    text = sent(bare, "parts", ["front-disc"], "find", q="tyre").text
    ticked = re.findall(r'name="line" value="([^"]+)" checked', text)
    assert ticked == ["front-disc"]
    assert 1 < text.count('name="line"') < 15


def test_another_hand_on_the_same_line_is_shown_and_nothing_is_lost(bare: TestClient) -> None:
    desk = desk_of(bare)
    seen = str(desk.file.revision)
    bare.post("/parts/front-disc/phase", data={"revision": seen, "phase": "strip"})
    data = {"revision": seen, "form": "several-parts", "line": ["front-disc", "front-strut"], "step": "write"}
    response = bare.post("/several/parts", data={**data, "phase": "finish"}, follow_redirects=False)
    assert response.status_code == 409
    assert "strip" in response.text
    assert "finish" in response.text
    assert desk.view().build.find("parts", "front-disc").phase is Phase.STRIP
    assert response.text.count('<input type="hidden" name="line"') == 2


def test_the_lists_lead_there(bare: TestClient) -> None:
    for room, name in (("/parts", "parts"), ("/jobs", "jobs"), ("/interfaces", "interfaces"), ("/shelf", "shelf"),
                       ("/decisions", "decisions"), ("/buying/prices", "offers")):  # fmt: skip
        assert f'"/several/{name}"' in worked_out(bare, room).text, room
