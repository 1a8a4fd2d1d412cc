"""Parts: the list and what it leaves out, one part, arrivals, phases, offers, a part added by one line."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build, Money, facts_of
from fishplate.build.commerce import Offer, ReturnTerms, Supplier
from fishplate.build.events import Fitting, Order, OrderLine, PartCount, Receipt
from fishplate.build.parts import Part, Phase, Stock, System
from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.adding import Typed, added, understood
from fishplate.web.desk import View
from fishplate.web.holdings import Has, holdings
from fishplate.web.part import part_page
from fishplate.web.parts import Query, parts_page
from fishplate.web.phasing import phasing_page, undated

DAY = date(2026, 3, 2)
HOSE = Part(id="hose", name="Brake hose, front", quantity=2, system="brakes")
BUILD = Build(
    systems=(System(id="brakes", name="Brakes"), System(id="body", name="Body")),
    parts=(
        HOSE,
        Part(id="panel", name="Door panel", system="body", part_number="DP 12"),
        Part(id="seal", name="Door seal", quantity=4, unit="m"),
    ),
    suppliers=(Supplier(id="noord", name="Noord", country="NL", currency="EUR"),),
    offers=(
        Offer(
            id="hose-noord", supplier="noord", part="hose", price=Money.of("38.50", "EUR"), seen=date(2026, 1, 5),
            returns=ReturnTerms(days=14, ended_by=("bolted",), restocking_percent=10),
        ),
    ),
)  # fmt: skip
ORDER = Order(
    id="o1", day=DAY - timedelta(days=9), supplier="noord", promised=DAY + timedelta(days=4),
    lines=(OrderLine(offer="hose-noord", quantity=2, price=Money.of("38.50", "EUR")),),
)  # fmt: skip


def view(build: Build, plan: Plan | None = None, day: date = DAY) -> View:
    return View(build, facts_of(build, day), 1, day, plan)


def with_events(*events: object) -> Build:
    return BUILD.model_copy(update={"events": events})


def received(count: float, *, order: str | None = "o1", place: str = "shelf 2", id_: str = "r1") -> Receipt:
    return Receipt(id=id_, day=DAY, order=order, place=place, lines=(PartCount(part="hose", quantity=count),))


def said(build: Build, part: str = "hose") -> str:
    return holdings(view(build))[part].words(DAY)


def send(client: TestClient, path: str, **fields: object):  # type: ignore[no-untyped-def]
    """A form as a page of ours sends it."""
    data = {"revision": str(desk_of(client).file.revision), "form": "test", **fields}
    return client.post(path, data=data, follow_redirects=False)


# the list


def test_how_far_a_part_is_is_said_in_words_from_missing_to_fitted() -> None:
    fitting = Fitting(id="f1", day=DAY, part="hose", quantity=2)
    assert said(BUILD) == "Missing"
    assert said(with_events(ORDER)) == "On order, promised for 6 March"
    assert said(with_events(ORDER, received(1))) == "On order, promised for 6 March; 1 here, shelf 2"
    assert said(with_events(received(1, order=None))) == "1 of 2 missing; 1 here, shelf 2"
    assert said(with_events(ORDER, received(2))) == "In hand, shelf 2"
    assert said(with_events(ORDER, received(2), fitting)) == "Fitted"


def test_what_is_not_yet_so_on_the_day_does_not_count() -> None:
    later = received(2).model_copy(update={"day": DAY + timedelta(days=1)})
    assert said(with_events(ORDER, later)) == "On order, promised for 6 March"


def test_stock_counts_with_the_place_it_lies_in() -> None:
    build = BUILD.model_copy(update={"stock": (Stock(id="s", part="hose", quantity=2, place="loft"),)})
    assert said(build) == "In hand, loft"


def test_the_list_stands_by_system_in_their_order_and_what_names_none_comes_last() -> None:
    page = parts_page(view(BUILD), Query())
    assert [group.name for group in page.groups] == ["Brakes", "Body", "No system named"]
    assert page.groups[2].rows[0].name == "4 m Door seal"
    assert page.said == "3 parts."


@pytest.mark.parametrize(
    ("text", "found"),
    [("door", 2), ("DOOR  seal", 1), ("brakes", 1), ("dp 12", 1), ("hose rear", 0), ("", 3)],
)
def test_text_finds_parts_by_name_number_and_system(text: str, found: int) -> None:
    assert parts_page(view(BUILD), Query(text=text)).found == found


def test_the_words_that_narrow_the_list_count_what_they_leave() -> None:
    page = parts_page(view(with_events(ORDER)), Query(has=Has.MISSING))
    assert {show.word: show.count for show in page.shows} == {"everything": 3, "missing": 2, "on order": 1}
    assert page.found == 2


def test_parts_of_a_choice_that_is_not_planned_with_are_told_apart(demo_plan: Plan) -> None:
    demo = view(load_demo(), demo_plan, demo_as_of())
    elsewhere = [id_ for id_, held in holdings(demo).items() if held.has is Has.ELSEWHERE]
    assert elsewhere
    assert not set(elsewhere) & demo.facts.wanted_parts


def test_a_missing_part_says_when_the_plan_orders_it_and_its_cost_at_the_door(demo_plan: Plan) -> None:
    demo = view(load_demo(), demo_plan, demo_as_of())
    rows = {row.id: row for group in parts_page(demo, Query()).groups for row in group.rows}
    line = next(line for line in demo_plan.purchase.lines if load_demo().find("offers", line.offer).part)
    part = load_demo().find("offers", line.offer).part
    assert f"{line.landed:,.0f} EUR at the door" in rows[part].plan


# one part


def test_a_part_shows_its_jobs_decisions_and_the_conditions_it_takes_part_in() -> None:
    page = part_page(view(load_demo(), None, demo_as_of()), "tyre-215")
    assert page.decisions
    assert page.interfaces
    assert any(link.said for link in page.interfaces)  # names of conditions over its dimensions
    assert any(link.path.startswith("/jobs/") for link in page.jobs)


def test_a_part_that_can_go_back_says_until_when_and_what_ends_it() -> None:
    page = part_page(view(with_events(ORDER, received(2))), "hose")
    assert page.goes_back == ("2 can go back to Noord until 16 March, unless bolted on before, less 10 %.",)


def test_what_is_expected_next_fills_the_arrival_form() -> None:
    page = part_page(view(with_events(ORDER, received(1))), "hose")
    assert (page.waiting, page.order, page.place) == ("1", "o1", "shelf 2")
    assert "shelf 2" in page.places  # on a page of its own as well as in the list


def test_every_part_of_the_demo_has_a_page_and_a_piece(client: TestClient) -> None:
    for part in load_demo().parts:
        assert client.get(f"/parts/{part.id}").status_code == 200
        piece = client.get(f"/parts/{part.id}?piece", headers={"HX-Request": "true"}).text
        assert "<html" not in piece
        assert "It came" in piece
    assert client.get("/parts/no-such").status_code == 404


def test_an_arrival_is_received_on_its_open_order_with_count_place_and_day(client: TestClient) -> None:
    day = (demo_as_of() - timedelta(days=1)).isoformat()
    order = next(item for item in desk_of(client).view().facts.incoming if item.part == "rear-spring").order
    response = send(client, "/parts/rear-spring/arrived", count="2", day=day, order=order, place="under the bench")
    assert response.status_code == 303
    assert response.headers["location"] == "/parts/rear-spring"
    receipt = desk_of(client).view().build.events[-1]
    assert isinstance(receipt, Receipt)
    assert (receipt.order, receipt.place, receipt.day.isoformat()) == (order, "under the bench", day)
    assert receipt.lines == (PartCount(part="rear-spring", quantity=2),)
    assert not [item for item in desk_of(client).view().facts.incoming if item.part == "rear-spring"]


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"count": "none"}, "Not a number"),
        ({"count": "0"}, "Not above nothing"),
        ({"count": "1", "day": "2027-03-01"}, "After today"),
        ({"count": "1", "order": "no-such"}, "Not one of the choices"),
    ],
)
def test_an_arrival_that_cannot_be_is_refused_beside_its_field(
    client: TestClient, fields: dict[str, str], words: str
) -> None:
    response = send(client, "/parts/rear-spring/arrived", form="arrived-rear-spring", **fields)
    assert response.status_code == 422
    assert words in response.text
    assert desk_of(client).file.revision == 1


def test_nothing_arrives_before_it_was_ordered(client: TestClient) -> None:
    coming = next(item for item in desk_of(client).view().facts.incoming if item.part == "rear-spring")
    day = (coming.ordered_on - timedelta(days=1)).isoformat()
    fields = {"count": "2", "day": day, "order": coming.order, "form": "arrived-rear-spring"}
    response = send(client, "/parts/rear-spring/arrived", **fields)
    assert "Before it was ordered" in response.text


def test_what_lies_somewhere_else_now_is_written_on_what_came(client: TestClient) -> None:
    receipt = next(
        event for event in load_demo().events
        if isinstance(event, Receipt) and any(line.part == "front-disc" for line in event.lines)
    )  # fmt: skip
    send(client, "/parts/front-disc/place", **{f"events-{receipt.id}": "in the loft"})
    assert desk_of(client).view().build.find("events", receipt.id).place == "in the loft"


def test_a_fitted_part_is_fitted_in_its_job(client: TestClient) -> None:
    job = next(job.id for job in load_demo().jobs if "front-disc" in job.to_keep)
    send(client, "/parts/front-disc/fitted", count="2", job=job)
    assert holdings(desk_of(client).view())["front-disc"].has is Has.FITTED


def test_a_part_is_changed_where_it_stands(client: TestClient) -> None:
    fields = {"name": "Front disc", "quantity": "3", "unit": "each", "system": "wheels", "note": "with pins"}
    assert send(client, "/parts/front-disc", **fields, order_on="2027-02-01").status_code == 303
    part = desk_of(client).view().build.find("parts", "front-disc")
    assert (part.name, part.quantity, part.system, part.note) == ("Front disc", 3, "wheels", "with pins")
    assert part.order_on == date(2027, 2, 1)
    assert 'value="2027-02-01"' in client.get("/parts/front-disc").text
    assert send(client, "/parts/front-disc", **fields, order_on="soon").status_code == 422
    assert part.heading == load_demo().find("parts", "front-disc").heading


def test_a_new_price_keeps_the_former_one_as_it_was_seen(client: TestClient) -> None:
    offer = next(offer for offer in load_demo().offers if offer.part == "front-disc" and offer.seen)
    fields = {"price": "61,20", "lead-likely": "2", "days": "30", "ends": ["bolted", "opened"], "restocking": "15"}
    assert send(client, f"/parts/front-disc/offers/{offer.id}", **fields).status_code == 303
    build = desk_of(client).view().build
    found = build.find("offers", offer.id)
    assert (str(found.price), found.seen) == ("61.20 EUR", demo_as_of())
    assert (found.lead_weeks.low, found.lead_weeks.high) == (2, 2)
    terms = found.returns
    assert (terms.days, terms.ended_by, terms.restocking_percent) == (30, ("bolted", "opened"), 15)
    sighting = build.sightings[-1]
    assert (sighting.offer, sighting.day, sighting.price) == (offer.id, offer.seen, offer.price)


def test_a_part_that_nothing_rests_on_is_taken_off_the_list_and_one_that_jobs_need_is_not(tmp_path: Path) -> None:
    with served(tmp_path / "a.fishplate", BUILD) as client:
        client.get("/")
        assert send(client, "/parts/hose/off").status_code == 303
        build = desk_of(client).view().build
        assert not [part for part in build.parts if part.id == "hose"]
        assert not build.offers
    with served(tmp_path / "b.fishplate", load_demo()) as client:
        client.get("/")
        assert send(client, "/parts/front-disc/off", form="off-front-disc").status_code == 422
        assert desk_of(client).view().build.find("parts", "front-disc")


def test_a_form_unfolded_in_the_list_goes_back_to_the_list_as_it_was_searched(client: TestClient) -> None:
    data = {"revision": "1", "form": "phase-front-disc", "phase": "assembly"}
    here = {"HX-Request": "true", "HX-Current-URL": "http://127.0.0.1:8137/parts?q=disc&has=in+hand"}
    response = client.post("/parts/front-disc/phase", data=data, headers=here, follow_redirects=False)
    assert response.headers["location"] == "/parts?q=disc&has=in+hand&open=front-disc"
    assert "Who offers it" in client.get(response.headers["location"]).text


# phases


def test_parts_that_a_phase_or_a_job_dates_are_not_asked_for() -> None:
    dated = HOSE.model_copy(update={"phase": Phase.ASSEMBLY})
    build = BUILD.model_copy(update={"parts": (dated, *BUILD.parts[1:])})
    assert [part.id for part in undated(view(build))] == ["panel", "seal"]
    assert not undated(view(load_demo(), None, demo_as_of()))  # its jobs name them all


@pytest.fixture
def small(tmp_path: Path) -> Iterator[TestClient]:
    """Three parts without a phase."""
    with served(tmp_path / "small.fishplate", BUILD, day=DAY) as found:
        found.get("/")
        yield found


def test_a_tap_dates_a_part_and_brings_the_next(small: TestClient) -> None:
    assert "Brake hose, front" in small.get("/parts/phases").text
    response = send(small, "/parts/phases", part="hose", phase="assembly", skip="")
    assert desk_of(small).view().build.find("parts", "hose").phase is Phase.ASSEMBLY
    assert "Door panel" in small.get(response.headers["location"]).text


def test_a_part_left_for_later_is_not_asked_for_until_the_rest_is_done() -> None:
    assert phasing_page(view(BUILD), ("hose",)).part == "panel"
    page = phasing_page(view(BUILD), ("hose", "panel", "seal"))
    assert (page.part, page.left) == (None, 3)


# adding


def test_a_line_is_shown_as_understood_before_anything_is_kept(small: TestClient) -> None:
    line = "2 brake pipe rear 38.50 EUR 3 wk from Saltmere"
    page = small.get("/parts/add", params={"line": line, "piece": ""}, headers={"HX-Request": "true"}).text
    assert "2 × brake pipe rear, 38.50 EUR each, from Saltmere, 3 weeks to dispatch." in page
    assert "Saltmere is new" in page
    assert desk_of(small).file.revision == 1


def test_what_was_understood_is_kept_as_part_offer_and_supplier(small: TestClient) -> None:
    fields = {
        "line": "x", "name": "brake pipe rear", "quantity": "2", "unit": "each", "price": "38.50", "currency": "EUR",
        "lead": "3", "supplier": "Saltmere", "system": "brakes", "phase": "assembly",
    }  # fmt: skip
    response = send(small, "/parts/add", form="add-line", **fields)
    assert response.headers["location"] == "/parts?added=brake-pipe-rear"
    build = desk_of(small).view().build
    part, offer = build.find("parts", "brake-pipe-rear"), build.offers[-1]
    assert (part.quantity, part.system, part.phase) == (2, "brakes", Phase.ASSEMBLY)
    assert (str(offer.price), offer.lead_weeks.likely, offer.seen) == ("38.50 EUR", 3, DAY)
    assert build.find("suppliers", offer.supplier).name == "Saltmere"
    assert "Added:" in small.get(response.headers["location"]).text


def test_a_fault_in_what_is_kept_stands_beside_its_field_with_what_was_typed(small: TestClient) -> None:
    fields = {"line": "hub", "name": "hub", "quantity": "two", "currency": "EUR", "price": "", "lead": "soonish"}
    response = send(small, "/parts/add", form="add-line", **fields)
    assert response.status_code == 422
    assert "Not a number (“two”)" in response.text
    assert "Not a time (“soonish”)" in response.text
    assert desk_of(small).file.revision == 1


@pytest.mark.parametrize("name", ["brake hose front", "Front brake hoses", "hose, brake, front"])
def test_something_much_like_it_that_is_owned_is_said(name: str) -> None:
    found = understood(view(with_events(ORDER, received(2))), name)
    assert [(it.id, it.owned) for it in found.alike] == [("hose", True)]
    assert found.system == "brakes"


def test_something_unlike_is_not_said() -> None:
    assert not understood(view(BUILD), "wiper motor").alike


def test_another_price_for_a_listed_part_is_an_offer_and_not_another_need() -> None:
    typed = Typed("brake hose", about="hose", price=Money.of("30", "GBP"), supplier="Saltmere")
    build = added(BUILD, typed, DAY)
    assert len(build.parts) == len(BUILD.parts)
    assert (build.offers[-1].part, str(build.offers[-1].price)) == ("hose", "30.00 GBP")
    assert build.find("suppliers", "saltmere").country == "GB"


def test_another_price_from_the_same_supplier_takes_the_place_of_the_old_one() -> None:
    build = added(BUILD, Typed("hose", about="hose", price=Money.of("35", "EUR"), supplier="noord"), DAY)
    assert len(build.offers) == 1
    assert str(build.offers[0].price) == "35.00 EUR"
    assert build.offers[0].returns == BUILD.offers[0].returns
    assert str(build.sightings[-1].price) == "38.50 EUR"


def test_a_price_without_a_supplier_is_kept_under_none_and_a_supplier_without_price_as_a_note() -> None:
    build = added(BUILD, Typed("hub", price=Money.of("12", "EUR")), DAY)
    assert build.find("suppliers", build.offers[-1].supplier).name == "Supplier not named (EUR)"
    build = added(BUILD, Typed("hub", supplier="Saltmere"), DAY)
    assert build.parts[-1].note == "Supplier: Saltmere"
    assert len(build.suppliers) == len(BUILD.suppliers)


def test_an_empty_build_offers_the_line_and_the_list(empty: TestClient) -> None:
    page = empty.get("/parts").text
    assert "Add a part" in page
    assert "bring a list" in page
