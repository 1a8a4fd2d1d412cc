"""Collections: trips, what goes along, what each parcel adds, the owner's allowance, the list for the border."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from door_builds import TRIP, with_orders
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build, facts_of
from fishplate.build.events import Order, PartCount, Receipt
from fishplate.plan import Plan
from fishplate.web.collections import TripPage, trip_page, trips_listed
from fishplate.web.ordering import orders_shown


@pytest.fixture
def trips(tmp_path: Path, demo_plan: Plan) -> Iterator[TestClient]:
    """The demo build with an order on a trip and one that comes by courier."""
    with served(tmp_path / "demo.fishplate", with_orders(), demo_plan) as found:
        found.get("/")
        yield found


def page_of(client: TestClient, trip: str = TRIP) -> TripPage:
    """The page of a trip once its figures are worked out."""
    view = desk_of(client).view()
    standing = desk_of(client).trips.of(view, patience_seconds=30)
    assert standing.value is not None
    assert standing.current
    return trip_page(view, view.build.find("collections", trip), standing.value[trip], working=False)


def order(client: TestClient, id_: str) -> Order:
    found = desk_of(client).view().build.find("events", id_)
    assert isinstance(found, Order)
    return found


def test_a_trip_says_what_it_costs_what_is_on_it_and_what_each_parcel_adds(trips: TestClient) -> None:
    page = page_of(trips)
    assert page.cost_total == "426.70 EUR"
    assert [(label, amount) for label, _, amount in page.cost] == [
        ("Driving", "43.70 EUR"), ("Ferry", "218.00 EUR"), ("Own hours", "165.00 EUR"),
    ]  # fmt: skip
    assert [item.what for item in page.along] == ["Raised roof moulding from Ostlerbridge Mouldings"]
    (parcel,) = page.parcels
    assert "Paid abroad 545.00 GBP" in parcel.paid
    assert "EUR once home" in parcel.paid
    assert parcel.against == "No other way home is known for it."
    could = {item.supplier: item for item in page.could}
    assert "more than what it adds to the trip" in could["Kettlewharf Springs"].against
    assert any("fetched" in text and "sent" in text for text in page.against)
    assert "of 420 kg used" in page.room[0]
    assert any("430.00 EUR" in text for text in page.allowance)
    assert any("nobody else's counts" in text for text in page.allowance)


def test_an_order_is_put_on_a_trip_and_taken_off_and_its_likely_bill_follows(trips: TestClient) -> None:
    by_courier = order(trips, "o-wheel").likely_bill
    trips.post(f"/collections/{TRIP}/along", data={"order": "o-wheel", "form": "along"})
    moved = order(trips, "o-wheel")
    assert (moved.collection, moved.route) == (TRIP, "depot-gb")
    assert moved.likely_bill is not None
    assert moved.likely_bill != by_courier
    assert len(page_of(trips).parcels) == 2
    trips.post(f"/collections/{TRIP}/along/o-wheel/off", data={"route": "courier-gb"})
    back = order(trips, "o-wheel")
    assert (back.collection, back.route, back.likely_bill) == (None, "courier-gb", by_courier)
    assert trips.post(f"/collections/{TRIP}/along", data={"order": "gone"}).status_code == 404
    assert trips.post(f"/collections/{TRIP}/along/o-wheel/off", data={"route": "gone"}).status_code == 404


def test_what_a_parcel_adds_on_a_shared_allowance_is_more_than_its_own_cost(trips: TestClient) -> None:
    trips.post(f"/collections/{TRIP}/along", data={"order": "o-wheel"})
    added = {item.supplier: item for item in page_of(trips).could}["Kettlewharf Springs"]
    assert "takes allowance from what else is on the trip" in added.against


def test_a_trip_is_added_changed_and_taken_out(trips: TestClient) -> None:
    new = {
        "route": "depot-gb", "day": "2027-04-17", "place": "Quay 4", "distance": "200", "per_km": "0,25",
        "ferry": "160 GBP", "tolls": "12", "currency": "EUR", "hours": "10", "absence": "30", "capacity": "300",
        "room": "2.4", "longest": "2600", "travel": "land", "persons": "3",
        "storage": "5", "decided": "yes", "note": "Take straps.",
    }  # fmt: skip
    answer = trips.post("/collections", data=new, follow_redirects=False)
    path = answer.headers["location"]
    trip = desk_of(trips).view().build.find("collections", path.rpartition("/")[2])
    assert (str(trip.ferry), str(trip.tolls), trip.capacity_kg, trip.decided) == ("160.00 GBP", "12.00 EUR", 300, True)
    assert (trip.capacity_m3, trip.longest_mm, trip.travel, trip.persons) == (2.4, 2600, "land", 3)
    assert "It is made whatever comes of it" in trips.get(path).text
    trips.post(path, data={**new, "capacity": "", "decided": ""})
    trip = desk_of(trips).view().build.find("collections", trip.id)
    assert (trip.capacity_kg, trip.decided) == (None, False)
    trips.post(f"{path}/out", data={})
    assert trip.id not in desk_of(trips).view().build.index["collections"]


def test_a_trip_with_orders_on_it_stays_and_a_trip_without_day_or_depot_is_refused(trips: TestClient) -> None:
    assert trips.post(f"/collections/{TRIP}/out", data={}).status_code == 422
    assert TRIP in desk_of(trips).view().build.index["collections"]
    answer = trips.post("/collections", data={"route": "courier-gb", "day": "soon", "ferry": "-3", "form": "trip-new"})
    assert answer.status_code == 422
    for words in ("Not one of the choices", "Not a day", "Below zero"):
        assert words in answer.text


def test_a_trip_of_long_ago_and_a_time_beyond_all_bounds_are_refused(trips: TestClient) -> None:
    answer = trips.post("/collections", data={"route": "depot-gb", "day": "0001-01-01", "form": "trip-new"})
    assert (answer.status_code, "Long ago" in answer.text) == (422, True)
    way = {"name": "Barge", "kind": "freight", "country": "BE", "weeks-likely": "100000000000", "form": "way-new"}
    answer = trips.post("/door/ways", data=way)
    assert (answer.status_code, "More than 1,000,000,000" in answer.text) == (422, True)


def test_a_depot_that_is_closed_and_a_load_too_heavy_are_said(trips: TestClient) -> None:
    view = desk_of(trips).view()
    depot = view.build.find("routes", "depot-gb").model_copy(update={"open_weekdays": (1, 2)})
    trip = view.build.find("collections", TRIP).model_copy(update={"capacity_kg": 5})
    changed = view.build.model_copy(
        update={
            "routes": tuple(depot if route.id == depot.id else route for route in view.build.routes),
            "collections": tuple(trip if each.id == TRIP else each for each in view.build.collections),
        }
    )
    desk_of(trips).write(lambda _: changed, revision=view.revision, message="closed")
    page = page_of(trips)
    assert any("closed on a Friday" in text for text in page.problems)
    assert any("carries 5 kg" in text for text in page.problems)
    assert "too much" in page.room[0]
    assert "closed on a Friday" in trips.get("/collections").text


def test_the_list_for_the_border_has_everything_at_what_was_paid_in_both_moneys(trips: TestClient) -> None:
    trips.post(f"/collections/{TRIP}/along", data={"order": "o-wheel"})
    text = " ".join(trips.get(f"/collections/{TRIP}/declaration").text.split())
    for words in (
        "1 × Raised roof moulding", "1 × Steel wheel 16 x 6.5, made to our offset", "Paid 545.00 GBP (",
        "Paid 82.00 GBP (", "627.00 GBP", "Carried by", "Declare everything on this list",
        "invoice with prices and proof of payment",
    ):  # fmt: skip
        assert words in text, words


def test_rooms_of_an_empty_build_teach_what_they_are_for(empty: TestClient) -> None:
    assert "shares its cost among all it fetches" in empty.get("/collections").text
    assert "add a way home" in empty.get("/collections").text
    assert empty.get("/door").status_code == empty.get("/door/ways").status_code == 200
    assert desk_of(empty).view().build == Build(name="Van")


def test_a_trip_that_is_over_is_kept_apart(trips: TestClient) -> None:
    view = desk_of(trips).view()
    past = view.build.find("collections", "ferry-march").model_copy(update={"day": date(2026, 3, 2)})
    changed = tuple(past if trip.id == past.id else trip for trip in view.build.collections)
    desk_of(trips).write(
        lambda build: build.model_copy(update={"collections": changed}), revision=view.revision, message="past"
    )
    text = trips.get("/collections").text
    assert "Trips that are over" in text
    assert page_of(trips, "ferry-march").could == ()


def test_a_trip_whose_day_has_come_leads_to_counting_in_and_then_says_what_it_brought(trips: TestClient) -> None:
    now = desk_of(trips).view()
    after = date(2026, 12, 12)
    later = replace(now, facts=facts_of(now.build, after), as_of=after)
    trip = now.build.find("collections", TRIP)
    page = trip_page(later, trip, None, working=False)
    assert page.lead == "It is over: count in what it brings, order by order."
    assert [item.id for item in page.along] == ["o-roof"]
    (listed,) = (item for item in trips_listed(later) if item.id == TRIP)
    assert (listed.brings, listed.past) == ("It is over; what it brought of 1 order is to be counted in.", False)
    (waiting,) = (item for item in orders_shown(later).on_order if item.id == "o-roof")
    assert (waiting.overdue, waiting.came) == ("The trip of 11 December 2026 is to be counted in.", "2026-12-11")
    # one came damaged, and another is owed: that does not wait for a trip that is over
    came = Receipt(id="r", day=after, order="o-roof", lines=(PartCount(part="roof-panel", faulty=1, fault="damaged"),))
    built = now.build.model_copy(update={"events": (*now.build.events, came)})
    counted = replace(later, build=built, facts=facts_of(built, after))
    page = trip_page(counted, trip, None, working=False)
    assert (page.lead, page.along) == ("It brought Raised roof moulding.", ())
    assert [item.past for item in trips_listed(counted) if item.id == TRIP] == [True]
