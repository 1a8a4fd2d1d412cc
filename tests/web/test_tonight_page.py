"""Tonight: an evening by its address, hours written from it, and the sheet."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build.events import Work
from fishplate.web.tonight import asked_of


def test_an_evening_is_kept_in_its_address() -> None:
    given = {
        "minutes": ["75"], "helper": ["yes"], "wet": ["yes"], "warmth": ["-3,5"], "loud": ["30"],
        "without": ["welder", "hoist"],
    }  # fmt: skip
    asked = asked_of(given)
    assert asked.query == ("asked=yes&minutes=75&helper=yes&wet=yes&warmth=-3.5&loud=30&without=hoist&without=welder")
    assert asked_of({}).query == "asked=yes&minutes=90"


@pytest.mark.parametrize("text", ["", "x", "nan", "inf", "-5", "1e9", "9" * 400])
def test_what_is_no_number_does_no_harm(text: str) -> None:
    evening = asked_of({"minutes": [text], "warmth": [text], "loud": [text]}).evening
    assert 5 <= evening.minutes <= 1440
    assert evening.warmth_c is None or -60 <= evening.warmth_c <= 60
    assert evening.loud_minutes is None or 0 <= evening.loud_minutes <= 1440


def test_hours_are_written_from_the_evening_and_lead_back_to_it(client: TestClient) -> None:
    path = "/tonight?asked=yes&minutes=90"
    assert "90 min" in client.get(path).text
    data = {"revision": "1", "form": "evening-lower-corners", "minutes": "90"}
    sent = client.post("/tonight/lower-corners/hours?asked=yes&minutes=90", data=data, follow_redirects=False)
    assert (sent.status_code, sent.headers["location"]) == (303, path)
    event = desk_of(client).view().build.events[-1]
    assert isinstance(event, Work)
    assert (event.job, event.hours) == ("lower-corners", 1.5)


def test_hours_that_are_none_are_refused_on_the_evening(client: TestClient) -> None:
    data = {"revision": "1", "form": "evening-lower-corners", "hours": "x"}
    refused = client.post("/tonight/lower-corners/hours?asked=yes&minutes=600", data=data)
    assert refused.status_code == 422
    assert "<h1>Tonight</h1>" in refused.text
    assert client.post("/tonight/nothing/hours", data=data).status_code == 404


def test_the_sheet_is_of_the_same_evening(client: TestClient) -> None:
    sheet = client.get("/tonight/sheet?asked=yes&minutes=600").text
    assert 'href="/tonight?asked=yes&amp;minutes=600"' in sheet
    assert "Hours worked" in sheet
    assert "Front lower corners and valance" in sheet


def test_an_empty_build_has_an_evening_too(empty: TestClient) -> None:
    assert "There is no job to choose from yet." in empty.get("/tonight").text


def test_noise_weather_and_setting_up_of_a_job_are_said_on_its_page(client: TestClient) -> None:
    fields = {
        "revision": "1", "form": "test", "name": "Corners", "phase": "structure", "hours-likely": "20", "loud": "no",
        "dry": "yes", "least_c": "12", "setting_up": "15",
    }  # fmt: skip
    assert client.post("/jobs/lower-corners/change", data=fields, follow_redirects=False).status_code == 303
    job = desk_of(client).view().build.find("jobs", "lower-corners")
    assert (job.loud, job.dry, job.least_c, job.setting_up_minutes) == (False, True, 12, 15)
    page = client.get("/jobs/lower-corners").text
    for said in ("It is quiet.", "It needs a dry evening and 12 °C or more.", "take 15 min each time"):
        assert said in page
    wet = client.get("/tonight?asked=yes&minutes=600&wet=yes&warmth=8").text
    assert "which takes a dry evening and 12 °C or more" in wet
