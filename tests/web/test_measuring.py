"""Measuring: what to do within an evening, the sheet for it, readings written down together."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.fit import MeasurePlan
from fishplate.starters import load_demo
from fishplate.web.evenings import Budget
from fishplate.web.kept import KeptEach
from fishplate.web.measuring import MeasuringPage, foundation_page, measuring_page


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The demo build without a plan: none is needed here."""
    with served(tmp_path / "demo.fishplate", load_demo()) as found:
        found.get("/")
        yield found


def worked_out(client: TestClient, budget: Budget) -> MeasurePlan:
    desk = desk_of(client)
    found = desk.evenings.of(desk.view(), budget, patience_seconds=30).value
    assert found is not None
    return found


def page_of(client: TestClient, budget: Budget) -> MeasuringPage:
    desk = desk_of(client)
    worked_out(client, budget)
    fit = desk.verdicts.of(desk.view(), patience_seconds=20).value
    return measuring_page(desk.view(), budget, desk.evenings.of(desk.view(), budget), fit)


def test_only_what_fits_the_evening_is_proposed_each_as_a_sentence(client: TestClient) -> None:
    budget = Budget(30.0, 0.0)
    page, plan = page_of(client, budget), worked_out(client, budget)
    assert page.things
    assert [thing.text for thing in page.things] == [item.text for item in plan.chosen]
    assert plan.minutes <= 30
    assert not page.working
    assert {slot.id for slot in page.slots} <= {name for item in plan.chosen for name in item.way.dimensions}
    assert len(page_of(client, Budget(240.0, None)).things) > len(page.things)


def test_the_page_is_there_at_once_and_works_it_out_beside(client: TestClient) -> None:
    first = client.get("/measuring?minutes=45&money=10").text
    assert 'value="45"' in first
    worked_out(client, Budget(45.0, 10.0))
    text = client.get("/measuring?minutes=45&money=10").text
    assert "being worked out" not in text
    assert "A sheet to print" in text


def test_a_budget_that_is_no_number_is_told_at_its_field(client: TestClient) -> None:
    response = client.get("/measuring?minutes=soon&money=-4")
    assert response.status_code == 422
    assert "budget-minutes-fault" in response.text
    assert "budget-money-fault" in response.text


def test_the_sheet_has_a_line_for_each_reading(client: TestClient) -> None:
    page = page_of(client, Budget(90.0, None))
    text = client.get("/measuring/sheet?minutes=90&money=").text
    assert text.count("<tr><td>") == len(page.slots)
    for slot in page.slots:
        assert slot.name in text


def test_the_foundation_sheet_has_what_is_not_measured_first(client: TestClient) -> None:
    desk = desk_of(client)
    fit = desk.verdicts.of(desk.view(), patience_seconds=20).value
    page = foundation_page(desk.view(), fit)
    assert page.text == "6 of 9 are still to be measured on this vehicle."
    assert [slot.id for slot in page.slots][-1] in ("wheelbase", "axle_flange_width_rear")
    assert "Foundation sheet" in client.get("/measuring/sheet?foundation").text


def post(client: TestClient, **fields: str | list[str]) -> int:
    form = {"form": "readings", "minutes": "90", "money": "", **fields}
    return client.post("/measuring", data=form, follow_redirects=False).status_code


def test_what_was_read_is_written_down_in_one_batch_and_ticked_off(client: TestClient) -> None:
    desk = desk_of(client)
    before = desk.view()
    fields = {"dimension": ["made_barrel_radius", "bump_travel_rear", "arch_to_hub_rear"],
              "value-made_barrel_radius": "7 1/4 in ± 1/16", "value-bump_travel_rear": "84",
              "spread-bump_travel_rear": "1",
              "with-bump_travel_rear": "rule", "means-bump_travel_rear": "stand-in"}  # fmt: skip
    assert post(client, **fields) == 303
    view = desk.view()
    assert view.revision == before.revision + 1
    new = {item.dimension: item for item in view.build.readings if item not in before.build.readings}
    assert new.keys() == {"made_barrel_radius", "bump_travel_rear"}
    assert (new["made_barrel_radius"].value, new["made_barrel_radius"].spread) == (184.15, 1.5875)
    assert (new["bump_travel_rear"].provenance, new["bump_travel_rear"].instrument) == ("stand-in", "rule")
    text = client.get("/measuring").text
    assert "Measured today" in text
    assert "184.15 mm" in text


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"value-bump_travel_rear": "3 kg"}, "value-bump_travel_rear"),
        ({"value-bump_travel_rear": "84", "spread-bump_travel_rear": "-1"}, "spread-bump_travel_rear"),
        ({"value-bump_travel_rear": "84", "day": "2999-01-01"}, "day"),
        ({}, "value-bump_travel_rear"),
    ],
)
def test_a_fault_is_told_at_its_field_and_nothing_is_written(
    client: TestClient, fields: dict[str, str], field: str
) -> None:
    budget = Budget(240.0, None)
    assert "bump_travel_rear" in {slot.id for slot in page_of(client, budget).slots}
    form = {"form": "readings", "minutes": "240", "money": "", "dimension": "bump_travel_rear", **fields}
    response = client.post("/measuring", data=form)
    assert response.status_code == 422
    assert f'id="readings-{field}-fault"' in response.text
    assert desk_of(client).view().revision == 1


def test_one_photo_is_kept_with_every_reading_of_the_sheet(client: TestClient) -> None:
    form: dict[str, str | list[str]] = {
        "form": "readings",
        "foundation": "yes",
        "dimension": ["wheelbase", "hub_spigot"],
    }
    form |= {"value-wheelbase": "2461", "value-hub_spigot": "?"}
    photo = {"photo": ("sheet.jpg", b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(64), "image/jpeg")}
    assert client.post("/measuring", data=form, files=photo).status_code == 422
    assert desk_of(client).file.attachments() == ()
    good = {**form, "value-hub_spigot": "58.6"}
    assert client.post("/measuring", data=good, files=photo, follow_redirects=False).status_code == 303
    new = [item for item in desk_of(client).view().build.readings if item.photo]
    assert {item.dimension for item in new} == {"wheelbase", "hub_spigot"}
    assert [item.name for item in desk_of(client).file.attachments()] == list({item.photo for item in new})


def test_only_the_last_few_questions_are_kept(client: TestClient) -> None:
    asked: list[int] = []
    kept = KeptEach[int, int](lambda _, number: asked.append(number) or number, most=2)
    view = desk_of(client).view()
    for number in (1, 2, 1, 3, 1, 2):
        assert kept.of(view, number, patience_seconds=5).value == number
    assert asked == [1, 2, 3, 2]
