"""The first evenings: the step that comes next, put away and called back; what is said where nothing is yet."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from serving import served

from fishplate.build import Build, build_from_data, facts_of
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.desk import View
from fishplate.web.explaining import lacks
from fishplate.web.first_steps import FirstSteps, first_steps

LIST: dict[str, Any] = {
    "parts": [{"id": "hub", "name": "Hub", "quantity": 2}, {"id": "disc", "name": "Disc", "quantity": 2}],
    "suppliers": [{"id": "s", "name": "Netherby Axle Works", "country": "GB", "currency": "GBP"}],
    "offers": [
        {"id": f"{part}-s", "supplier": "s", "part": part, "price": {"amount": "60", "currency": "GBP"}}
        for part in ("hub", "disc")
    ],
}


def steps_of(build: Build) -> FirstSteps:
    return first_steps(View(build, facts_of(build, demo_as_of()), 1, demo_as_of(), None))


def after(**changes: Any) -> FirstSteps:
    return steps_of(build_from_data({**LIST, **changes}))


def next_path(steps: FirstSteps) -> str:
    assert steps.next is not None
    return steps.next.path


def test_the_first_step_of_an_empty_build_is_to_bring_the_list() -> None:
    assert next_path(steps_of(Build(name="Van"))) == "/import"


def test_each_step_that_is_done_leads_to_the_one_after_it() -> None:
    owner = {"hours_per_week": 6}
    phased = [{**part, "phase": "assembly"} for part in LIST["parts"]]
    told = [
        {**offer, "lead_weeks": {"low": 1, "likely": 2, "high": 3}, "returns": {"days": 14}} for offer in LIST["offers"]
    ]
    assert next_path(after(offers=[], suppliers=[])) == "/buying#unsold"
    assert next_path(after()) == "/owner#form-owner"
    assert next_path(after(owner=owner)) == "/parts/phases"
    owner["week_delay_cost"] = 50
    assert next_path(after(owner=owner, parts=phased)) == "/buying/offers/disc-s/terms"
    assert next_path(after(owner=owner, parts=phased, offers=told)) == "/interfaces/usual"


def test_the_dearest_of_two_currencies_comes_first() -> None:
    euros = {"id": "e", "name": "Veldkamp Remmen", "country": "NL", "currency": "EUR"}
    offers = [
        {"id": f"{number}", "supplier": "e", "part": "hub", "price": {"amount": "65", "currency": "EUR"}}
        for number in range(25)
    ]
    parts = [{**part, "phase": "assembly"} for part in LIST["parts"]]
    owner = {"hours_per_week": 6, "week_delay_cost": 50}
    found = after(owner=owner, parts=parts, suppliers=[*LIST["suppliers"], euros], offers=[*offers, *LIST["offers"]])
    assert next_path(found) == "/buying/offers/disc-s/terms"


def test_once_all_is_told_there_is_no_next_step() -> None:
    assert steps_of(load_demo()).next is None


def test_the_week_offers_the_next_step_until_it_is_put_away(tmp_path: Path) -> None:
    with served(tmp_path / "van.fishplate", build_from_data(LIST)) as client:
        assert "First evenings: 2 of 9 steps done" in client.get("/").text
        assert "First evenings: " not in client.post("/first-steps/away").text
        assert "Say how many hours a week you have" in client.get("/first-steps").text
        assert "First evenings: 2 of 9 steps done" in client.post("/first-steps/back").text


def test_a_starter_is_offered_wherever_it_would_do_a_step_too(tmp_path: Path) -> None:
    assert {step.path for step in after().steps if step.starter} == {"/import", "/interfaces/usual", "/decisions/new"}
    told = {"owner": {"hours_per_week": 6, "week_delay_cost": 50}, "offers": LIST["offers"]}
    told["parts"] = [{**part, "phase": "assembly"} for part in LIST["parts"]]
    returns = {"lead_weeks": {"low": 1, "likely": 2, "high": 3}, "returns": {"days": 14}}
    told["offers"] = [{**offer, **returns} for offer in LIST["offers"]]
    for name, build in (("hours.fishplate", LIST), ("places.fishplate", {**LIST, **told})):
        with served(tmp_path / name, build_from_data(build)) as client:
            assert ('Or <a class="onward" href="/start">' in client.get("/").text) == (build is not LIST)
            assert '<a href="/start">Take a starter</a>' in client.get("/first-steps").text


def test_the_demo_has_no_first_evenings_on_its_week(client: TestClient) -> None:
    assert "First evenings: " not in client.get("/").text
    assert "All steps are done" in client.get("/first-steps").text


def leads_somewhere(client: TestClient, path: str, page: str) -> bool:
    """Whether a link leads to a page, and its fragment to something on it."""
    path, _, fragment = path.partition("#")
    response = client.get(path or page)
    return response.status_code == 200 and (not fragment or f'id="{fragment}"' in response.text)


@pytest.mark.parametrize("build", [Build(name="Van"), build_from_data(LIST)], ids=["empty", "a list"])
def test_every_step_leads_to_where_it_is_done(tmp_path: Path, build: Build) -> None:
    wanted = {step.path for step in steps_of(build).steps if not step.done}
    with served(tmp_path / "van.fishplate", build) as client:
        missing = {path for path in wanted if not leads_somewhere(client, path, "/")}
    # what nobody sells is listed once there is a plan
    assert missing <= {"/buying#unsold"}


PAGES_WHERE_NOTHING_IS = (
    "/parts", "/jobs", "/tonight", "/schedule", "/decisions", "/decisions/bearing", "/decisions/whole", "/interfaces",
    "/interfaces/dimensions", "/interfaces/stand-ins", "/interfaces/states", "/measuring", "/buying", "/buying/prices",
    "/collections", "/door/ways", "/door/bills", "/shelf", "/shelf/workshops", "/money", "/money/invoices",
    "/money/saved", "/evidence",
)  # fmt: skip


@pytest.mark.parametrize("page", PAGES_WHERE_NOTHING_IS)
def test_an_empty_place_says_what_belongs_there_and_leads_to_the_one_thing_to_do(empty: TestClient, page: str) -> None:
    text = empty.get(page).text
    links = re.findall(r'<div class="empty">.*?<a class="onward" href="([^"]*)"', text)
    assert links
    assert all(leads_somewhere(empty, path, page) for path in links), links


def test_no_two_empty_places_tell_the_same() -> None:
    assert len({lack.example for lack in lacks().values()}) == len(lacks())
