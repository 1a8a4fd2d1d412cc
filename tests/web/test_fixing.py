"""What is fixed of a part."""

from __future__ import annotations

from datetime import date

from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build import offer_contents
from fishplate.starters import load_demo


def sold_twice() -> tuple[str, list[str]]:
    """A part that several sell, and their offers."""
    build = load_demo()
    for part in build.parts:
        offers = [offer.id for offer in build.offers if part.id in offer_contents(build, offer)]
        if len(offers) > 1:
            return part.id, offers
    raise AssertionError


def test_a_seller_is_fixed_with_its_reason_and_left_to_the_plan_again(client: TestClient) -> None:
    part, offers = sold_twice()
    form = {"revision": "1", "form": "fix", "way": f"not {offers[0]}", "last": "2027-03-01", "why": "Came broken once"}
    page = client.post(f"/buying/fixed/{part}", data=form).text
    assert "Do not buy it from" in page
    assert "until 1 March 2027: Came broken once." in page
    (choice,) = desk_of(client).view().build.fixed_choices
    assert (choice.offer, choice.wanted, choice.last, choice.why) == (
        offers[0], False, date(2027, 3, 1), "Came broken once",
    )  # fmt: skip
    client.post(f"/buying/fixed/{part}/{choice.id}/out", data={"revision": "2"})
    assert desk_of(client).view().build.fixed_choices == ()


def test_days_from_whomever_name_at_least_one_day(client: TestClient) -> None:
    part, _ = sold_twice()
    form = {"revision": "1", "form": "fix", "way": "days"}
    refused = client.post(f"/buying/fixed/{part}", data=form)
    assert refused.status_code == 422
    assert "No day was filled in" in refused.text
    client.post(f"/buying/fixed/{part}", data={**form, "first": "2027-01-04"})
    (choice,) = desk_of(client).view().build.fixed_choices
    assert (choice.part, choice.offer, choice.first) == (part, None, date(2027, 1, 4))


def test_days_the_wrong_way_round_are_refused_and_nothing_is_written(client: TestClient) -> None:
    part, offers = sold_twice()
    days = {"first": "2027-03-01", "last": "2027-02-01"}
    refused = client.post(
        f"/buying/fixed/{part}", data={"revision": "1", "form": "fix", "way": f"want {offers[0]}", **days}
    )
    assert refused.status_code == 422
    assert "the last day is before the first" in refused.text.casefold()
    assert desk_of(client).view().build.fixed_choices == ()


def test_no_part_no_page(client: TestClient) -> None:
    assert client.get("/buying/fixed/nothing-such").status_code == 404
