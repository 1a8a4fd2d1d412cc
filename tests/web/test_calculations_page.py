"""Calculations on the page: chosen, worked out with units as typed, put to the build as a condition."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from serving import desk_of, served

from fishplate.build import Build, build_from_data, facts_of, format_document, parse_document
from fishplate.starters import demo_as_of, load_demo
from fishplate.trade import Template, calculations, templates
from fishplate.trade.answers import example_of
from fishplate.web.choosing import SUBJECTS, choosing
from fishplate.web.desk import View
from fishplate.web.form import Form
from fishplate.web.putting import putting_page, with_condition

BUMP = "/calculations/arches.bump_room"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The demo build without a plan: none is needed here."""
    with served(tmp_path / "demo.fishplate", load_demo()) as found:
        found.get("/")
        yield found


def build_of(client: TestClient) -> Build:
    return desk_of(client).view().build


def shown(response: Response) -> str:
    """The words of a page, as they are read."""
    return " ".join(re.sub(r"<[^>]+>", " ", response.text).split())


def view(client: TestClient) -> View:
    return desk_of(client).view()


# choosing


def test_every_calculation_stands_under_a_subject(client: TestClient) -> None:
    found = choosing(view(client))
    assert sum(shelf.count for shelf in found.subjects) == found.total == len(calculations())
    assert {id_.split(".")[0] for id_ in calculations()} == SUBJECTS.keys()
    assert not found.calculations


def test_words_and_subject_narrow_what_is_offered(client: TestClient) -> None:
    found = choosing(view(client), words="Tyre BUMP")
    assert "/calculations/arches.bump_room" in [line.path for line in found.calculations]
    assert len(found.calculations) < 10
    assert any(line.name == "Room above the tyre at bump" for line in found.conditions)
    springs = choosing(view(client), subject="springs")
    assert all(line.path.startswith("/calculations/springs.") for line in springs.calculations)
    assert not choosing(view(client), words="no such words at all").calculations


def test_every_condition_that_is_ready_is_offered(client: TestClient) -> None:
    own = choosing(view(client), ready=True, place="tyre-arch-rear")
    assert 0 < len(own.conditions) == sum("tyre-arch" in each.interfaces for each in templates())
    found = choosing(view(client), ready=True, place="tyre-arch-rear", every=True)
    assert len(found.conditions) == len(templates())
    assert all("for=tyre-arch-rear" in line.path for line in found.conditions)


def test_a_place_of_a_kind_is_offered_what_usually_holds_there() -> None:
    build = build_from_data({"interfaces": [{"id": "hub", "name": "Hub", "kind": "wheel-hub"}]})
    held = View(build, facts_of(build, demo_as_of()), 1, demo_as_of(), None)
    assert [line.name for line in choosing(held, ready=True, place="hub").conditions] == ["Bore over the spigot"]
    assert len(choosing(held, ready=True, place="hub", every=True).conditions) == len(templates())
    page = putting_page(held, next(item for item in templates() if item.id == "bore-over-spigot"), None)
    assert page.interfaces[1] == ("hub", "Hub")
    assert page.new_name == "Wheel on its hub"


# one calculation


def test_every_calculation_has_a_page_that_works_out_its_example(client: TestClient) -> None:
    for id_, found in calculations().items():
        response = client.get(f"/calculations/{id_}", params=dict(example_of(found)))
        assert response.status_code == 200, id_
        assert 'aria-label="Result"' in response.text, id_
        assert "Source:" in response.text


def test_inch_fractions_are_read_and_the_answer_is_told_in_inches_too(client: TestClient) -> None:
    given = {"arch_to_hub_mm": "32½″", "tyre_diameter_mm": "729", "bump_travel_mm": "90,0"}
    # 825.5 - 364.5 - 90 = 371 mm, and 371 / 25.4 = 14.606 in
    assert "371 mm, or 14.606 in" in client.get(BUMP, params=given).text
    assert "or 14.606 in" not in client.get(BUMP, params={**given, "arch_to_hub_mm": "825.5"}).text


def test_each_fault_is_told_at_its_field_and_what_was_typed_stays(client: TestClient) -> None:
    response = client.get(BUMP, params={"arch_to_hub_mm": "3 kg", "tyre_diameter_mm": "wide", "ask": "yes"})
    assert response.status_code == 422
    for name in ("arch_to_hub_mm", "tyre_diameter_mm", "bump_travel_mm"):
        assert f'id="calculation-{name}-fault"' in response.text
    assert "That is kg where mm is wanted" in response.text
    assert 'value="3 kg"' in response.text


def test_lists_of_different_lengths_are_refused_as_a_whole(client: TestClient) -> None:
    given = {"body_point": "1,2", "carrier_point": "1", "hub_centre": "1", "bump_mm": "0", "ask": "yes"}
    response = client.get("/calculations/linkages.wheel_through_travel", params=given)
    assert response.status_code == 422
    assert "values where (5, 3) are wanted" in response.text


def test_a_caution_stands_by_what_can_hurt(client: TestClient) -> None:
    assert "Brakes stop the vehicle" in client.get("/calculations/brakes.pad_radius").text


def test_figures_the_build_knows_are_offered(client: TestClient) -> None:
    desk = desk_of(client)
    desk.verdicts.of(desk.view(), patience_seconds=20)
    assert '<option value="470 mm">Rear arch lip to hub centre, at ride height</option>' in client.get(BUMP).text


@pytest.mark.parametrize("path", ["/calculations/none", "/calculations/conditions/none"])
def test_what_is_not_there_is_told_as_a_page(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404
    assert client.post(path).status_code in (404, 405)


# put as a condition


def put(client: TestClient, template: str, **fields: str) -> Response:
    form = {"form": "putting", "consequence": "rework", "whence": "estimate", "at_least": "10 mm", **fields}
    return client.post(f"/calculations/conditions/{template}", data=form, follow_redirects=False)


@pytest.fixture
def bare(tmp_path: Path) -> TestClient:
    build = build_from_data({"dimensions": [{"id": "tyre_diameter", "name": "Tyre: outer diameter"}]})
    client = served(tmp_path / "b.fishplate", build)
    client.get("/")
    return client


@pytest.mark.parametrize("template", templates(), ids=lambda item: item.id)
def test_every_condition_is_put_to_a_build_with_nothing_in_it(template: Template) -> None:
    view = View(Build(), facts_of(Build(), demo_as_of()), 1, demo_as_of(), None)
    page = putting_page(view, template, None)
    fields = {"place": page.new_name, "consequence": page.consequence, "whence": "estimate"}
    fields |= {"at_least": page.at_least, "at_most": page.at_most}
    fields |= {f"value-{each.id}": f"2 {each.unit}" for each in page.places}
    form = Form({name: (text,) for name, text in fields.items()})
    build = with_condition(Build(), template, form, demo_as_of())
    assert not form.problems
    (condition,) = parse_document(format_document(build)).conditions
    assert condition.names == {item.id for item in build.dimensions} == {item.dimension for item in build.readings}


def test_one_batch_holds_the_place_its_dimensions_and_what_is_known(bare: TestClient) -> None:
    response = put(
        bare, "tyre-room-at-bump", interface="", place="Front tyre in its arch",
        **{"of-tyre_diameter": "tyre_diameter", "value-arch_to_hub": "32 1/2 in", "value-bump_travel": "90"},
    )  # fmt: skip
    assert response.headers["location"] == "/interfaces/front-tyre-in-its-arch"
    build = build_of(bare)
    assert desk_of(bare).view().revision == 2
    (condition,) = build.conditions
    assert condition.expression == "arch_to_hub - tyre_diameter / 2 - bump_travel"
    assert {item.dimension: item.value for item in build.readings} == {"arch_to_hub": 825.5, "bump_travel": 90}
    assert {item.provenance for item in build.readings} == {"estimate"}
    assert (build.interfaces[0].kind, build.interfaces[0].hazards) == ("tyre-arch", ("suspension",))


def test_a_dimension_that_is_taken_gets_another_name(bare: TestClient) -> None:
    put(bare, "tyre-room-at-bump", place="Rear tyre")
    assert "rear_tyre_tyre_diameter" in build_of(bare).conditions[0].names


def test_faults_are_told_at_their_fields_and_nothing_is_half_written(bare: TestClient) -> None:
    response = put(
        bare, "tyre-room-at-bump", place="", at_least="10 deg", **{"value-bump_travel": "3 kg"}, late_cost="much"
    )  # fmt: skip
    assert response.status_code == 422
    for name in ("place", "value-bump_travel", "late_cost"):
        assert f'id="putting-{name}-fault"' in response.text
    response = put(bare, "tyre-room-at-bump", place="Rear tyre", at_least="10 deg")
    assert response.status_code == 422
    assert 'id="putting-at_least-fault"' in response.text
    assert desk_of(bare).view().revision == 1


def test_the_build_s_own_dimension_of_like_name_is_proposed(client: TestClient) -> None:
    page = client.get("/calculations/conditions/tyre-room-at-bump?for=tyre-arch-rear").text
    assert re.search(r'<option value="bump_travel_rear" selected>', page)
    assert re.search(r'<option value="tyre-arch-rear" selected>', page)


def test_figures_given_to_a_calculation_go_along(client: TestClient) -> None:
    given = {"arch_to_hub_mm": "470", "tyre_diameter_mm": "28.7 in", "bump_travel_mm": "90"}
    page = client.get(BUMP, params=given).text
    link = re.search(r'href="(/calculations/conditions/tyre-room-at-bump\?[^"]+)"', page)
    assert link is not None
    form = client.get(link[1].replace("&amp;", "&")).text
    assert 'name="value-arch_to_hub" value="470 mm"' in form
    assert 'name="value-tyre_diameter" value="28.7 in"' in form


def test_the_day_of_what_was_known_is_said(client: TestClient) -> None:
    page = client.get("/calculations/conditions/tyre-room-at-bump")
    assert f"read on {demo_as_of().day} {demo_as_of():%B %Y}" in shown(page)
