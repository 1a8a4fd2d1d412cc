"""How a job hangs together with others, told on its page; the four jobs of a part that is fitted twice."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served
from walking import words_of

from fishplate.build import Build, build_from_data, facts_of
from fishplate.work.faults import impossible

DAY = date(2026, 11, 16)
HOURS = {"low": 1, "likely": 2, "high": 4}


@pytest.fixture
def build() -> Build:
    return build_from_data({
        "parts": [{"id": "arm", "name": "Lower arm", "system": "front"}, {"id": "hub", "name": "Hub"}],
        "systems": [{"id": "front", "name": "Front suspension", "hazards": ["suspension"]}],
        "workshops": [{"id": "coater", "name": "The coating shop"}],
        "interfaces": [{"id": "travel", "name": "Strut travel"}],
        "jobs": [
            {"id": "prime", "name": "Prime", "phase": "finish", "hours": HOURS, "cure_days": 1},
            {"id": "coat", "name": "Coat", "phase": "finish", "hours": HOURS, "after": [
                {"job": "prime", "lag_days": 1, "within_days": 14, "redo_hours": 3}]},
            {"id": "mask", "name": "Mask", "phase": "finish", "hours": HOURS, "after": [
                {"job": "prime", "kind": "start-start"}]},
            {"id": "sweep", "name": "Sweep it", "phase": "mock-up", "hours": HOURS, "lift": True, "settles": ["travel"],
             "rework": {"low": 1, "likely": 3, "high": 8}},
        ],
    })  # fmt: skip


@pytest.fixture
def client(build: Build, tmp_path: Path) -> TestClient:
    found = served(tmp_path / "van.fishplate", build, day=DAY)
    found.get("/")
    return found


def test_waits_windows_and_what_it_shows_stand_on_the_page_of_a_job(client: TestClient) -> None:
    coat = words_of(client.get("/jobs/coat").text)
    assert "It can begin one day after “Prime” is done." in coat
    assert "It has to begin within 14 days after “Prime” is done; later, it takes 3 h more." in coat
    mask = words_of(client.get("/jobs/mask").text)
    assert "It can begin once “Prime” has begun." in mask
    assert "to be begun first" in mask
    sweep = words_of(client.get("/jobs/sweep").text)
    assert "It takes the lift." in sweep
    assert "whether “Strut travel” is right; if not, it takes 1 to 8 h more, about 3." in sweep


def test_a_part_that_goes_on_twice_gets_its_four_jobs(client: TestClient) -> None:
    form = {"revision": "1", "form": "twice", "part": "arm", "workshop": "coater", "after": "prime"}
    for name in ("mock-up", "finish", "assembly"):
        form |= {f"{name}-low": "2", f"{name}-likely": "4", f"{name}-high": "8"}
    assert client.post("/jobs/of-a-part", data=form, follow_redirects=False).headers["location"] == "/jobs"
    build = desk_of(client).view().build
    tried, off, finished, fitted = build.jobs[-4:]
    assert [link.job for job in (tried, off, finished, fitted) for link in job.after] == [
        "prime", tried.id, off.id, finished.id,
    ]  # fmt: skip
    assert (tried.to_try, finished.works_on, fitted.to_keep) == (("arm",), ("arm",), ("arm",))
    assert (tried.bay, fitted.bay, finished.workshop) == (True, True, "coater")
    assert tried.hazards == ("suspension",)
    assert impossible(build, facts_of(build, DAY)) == ()
    page = words_of(client.get(f"/jobs/{finished.id}").text)
    assert "It works on “Lower arm”, or sends it away" in page
    assert 'value="arm"' not in client.get("/jobs/of-a-part").text
    again = client.post("/jobs/of-a-part", data={**form, "revision": "2"})
    assert "has such a job already" in again.text.lower()


def test_what_is_left_out_is_refused_beside_its_field(client: TestClient) -> None:
    page = client.post("/jobs/of-a-part", data={"revision": "1", "form": "twice", "part": "none"})
    assert page.status_code == 422
    assert "No part of this build" in page.text
    assert page.text.count("No hours are given") == 3
    assert desk_of(client).file.revision == 1
