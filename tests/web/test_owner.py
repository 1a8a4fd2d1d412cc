"""Your situation."""

from __future__ import annotations

import re

from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build import Build
from fishplate.build.owner import Owner, SeasonHours
from fishplate.starters import load_demo
from fishplate.web.form import Form
from fishplate.web.owner import situated
from fishplate.web.seasons import in_season


def typed(**fields: str) -> Form:
    return Form({name: [value] for name, value in {"country": "NL", "currency": "EUR", **fields}.items()})


def test_what_is_typed_is_taken_and_what_is_empty_is_assumed_again() -> None:
    before = Build(owner=Owner(hour_worth=20, hours_per_week=4))
    owner = situated(before, typed(hours="6,5", week_delay="80")).owner
    assert owner.hours_per_week == 6.5
    assert str(owner.week_delay_cost) == "80.0"
    assert owner.hour_worth is None


def test_seasons_the_page_has_no_field_for_are_kept() -> None:
    seasons = (SeasonHours(months=(6, 7, 8), hours=10),)
    assert situated(Build(owner=Owner(seasons=seasons)), typed()).owner.seasons == seasons


def test_writing_the_page_back_unchanged_changes_nothing(client: TestClient) -> None:
    page = client.get("/owner").text
    start = page.index('id="form-owner"')
    form = page[start : page.index("</form>", start)]
    fields = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form))
    before = desk_of(client).view().build.owner
    client.post("/owner", data=fields)
    assert desk_of(client).view().build.owner == before


def test_faults_stand_beside_their_fields(client: TestClient) -> None:
    data = {"revision": "1", "form": "owner", "country": "Nederland", "currency": "EURO", "hours": "200"}
    response = client.post("/owner", data=data)
    assert response.status_code == 422
    assert "Not a currency code" in response.text
    assert "More than 168" in response.text


def test_days_off_are_added_and_taken_out(client: TestClient) -> None:
    before = desk_of(client).view().build.owner.days_off
    data = {"revision": "1", "form": "away", "first": "2030-07-01", "last": "2030-07-14", "why": "sea"}
    client.post("/owner/away", data=data)
    after = desk_of(client).view().build.owner.days_off
    assert len(after) == len(before) + 1
    client.post(f"/owner/away/{len(after) - 1}", data={"revision": "2"})
    assert desk_of(client).view().build.owner.days_off == before


def test_days_off_that_end_before_they_begin_are_refused(client: TestClient) -> None:
    data = {"revision": "1", "form": "away", "first": "2030-07-14", "last": "2030-07-01"}
    assert client.post("/owner/away", data=data).status_code == 422


def test_days_places_and_help_are_written_down_and_taken_out(client: TestClient) -> None:
    days = {"revision": "1", "form": "owner-work", "weekday": ["2", "6", "9"], "bays": "2", "lifts": "1"}
    client.post("/owner/work", data=days)
    owner = desk_of(client).view().build.owner
    assert (owner.weekdays, owner.works_on_holidays, owner.bays, owner.lifts) == ((2, 6), False, 2, 1)
    helper = {"revision": "2", "form": "helper", "name": "A neighbour", "weekday": ["6"], "sure": "75"}
    page = client.post("/owner/helpers", data=helper).text
    assert "A neighbour comes on Saturday, with a chance of 75 %." in page
    client.post("/owner/helpers/1", data={"revision": "3"})
    assert desk_of(client).view().build.owner.helpers == load_demo().owner.helpers


def test_help_on_fixed_days_and_by_the_hour_is_refused(client: TestClient) -> None:
    both = {"revision": "1", "form": "helper", "weekday": ["6"], "with_me": "3"}
    response = client.post("/owner/helpers", data=both)
    assert response.status_code == 422
    assert "not both" in response.text


def test_places_are_counted_in_whole_numbers(client: TestClient) -> None:
    response = client.post("/owner/work", data={"revision": "1", "form": "owner-work", "bays": "1.5", "lifts": "1"})
    assert response.status_code == 422
    assert "Not a whole number" in response.text


def test_credit_fewer_sellers_and_room_are_taken() -> None:
    owner = situated(Build(), typed(credit="500", credit_percent="9", fewer="12,50", shelf="2,5")).owner
    assert owner.shelf_m3 == 2.5
    assert (str(owner.credit), owner.credit_percent, str(owner.supplier_worth)) == ("500.0", 9, "12.5")


def test_months_have_other_hours_and_the_usual_ones_again(client: TestClient) -> None:
    def send(path: str, **fields: str) -> list[tuple[tuple[int, ...], float]]:
        data = {"revision": str(desk_of(client).file.revision), "form": "season", **fields}
        client.post(path, data=data)
        return [(season.months, season.hours) for season in desk_of(client).view().build.owner.seasons]

    assert len(send("/owner/seasons")) == 2  # the demo's, by summer and winter; nothing was said
    found = send("/owner/seasons", **{"from": "12", "to": "1", "season_hours": "0"})
    assert found == [((4, 5, 6, 7, 8, 9, 10), 9.0), ((11, 2, 3), 6.0), ((12, 1), 0.0)]
    text = client.get("/owner").text
    assert "December to January: 0 h a week" in text
    assert "November, February to March: 6 h a week" in text
    assert send("/owner/seasons/2") == found[:2]


def test_hours_by_season_stay_within_a_week() -> None:
    form = Form({"from": ["6"], "to": ["8"], "season_hours": ["200"]})
    build = Build(owner=Owner(hours_per_week=4))
    assert in_season(build, form) is build
    assert [problem.where for problem in form.problems] == ["season_hours"]
