"""Five evenings once parts are on their way: the trip, goods in, work by the hour, something goes back, the money.

Evenings six to ten of a build; the five before, up to the first order, are lived in `test_evenings_before_the_parts`.
One build lives through all of them, so they are one test a screen.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TypeVar

import pytest
from evenings import Evenings, evenings
from PIL import Image
from playwright.sync_api import Browser, expect
from serving import PHONE_FIRST, assert_accessible, assert_nothing_is_cut

from fishplate.build import Build, Money, build_from_data
from fishplate.build.events import Check, Claim, Event, Order, Payment, Receipt, Refund, Return, Work
from fishplate.build.interfaces import Reading
from fishplate.records import ledger
from fishplate.starters.reading import plain, with_links
from fishplate.web.amounts import to_home
from fishplate.web.collections import trips_listed

pytestmark = pytest.mark.browser
START = Path(__file__).with_name("with_the_parts.toml")
ORDER = "first-order"
SELLER = "Tansybridge Stores"
Happened = TypeVar("Happened", bound=Event)


def started() -> Build:
    """The build after five evenings."""
    data = {key: plain(value, key) for key, value in tomllib.loads(START.read_text(encoding="utf-8")).items()}
    return build_from_data({**data, "jobs": with_links(data["jobs"])})


def gbp(amount: float) -> Money:
    return Money.of(amount, "GBP")


@pytest.fixture(params=PHONE_FIRST)
def sitting(browser: Browser, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Evenings]:
    """A person at the build, on the phone, then on the desk."""
    with evenings(browser, tmp_path, request.param, started(), day=date(2026, 11, 26)) as found:
        yield found


def last(sitting: Evenings, kind: type[Happened]) -> Happened:
    """The last thing of a kind that was written down."""
    return [event for event in sitting.build.events if isinstance(event, kind)][-1]


def kept(sitting: Evenings) -> set[str]:
    """Names of the photos in the build file."""
    return {each.name for each in sitting.site.desk.file.attachments()}


def test_evenings_from_the_trip_to_the_money(sitting: Evenings, tmp_path: Path) -> None:
    photo = tmp_path / "weld.jpg"
    Image.new("RGB", (320, 240), "grey").save(photo, "JPEG")
    a_trip_is_planned_and_its_list_printed(sitting)
    the_trip_is_made_and_paid(sitting)
    goods_are_counted_in_and_one_is_damaged(sitting, photo)
    another_does_not_fit_on_the_bench(sitting)
    an_evening_of_work_with_its_evidence(sitting, photo)
    what_does_not_fit_goes_back(sitting)
    the_refund_comes(sitting)
    the_money_is_looked_through(sitting)
    another_way_is_tried_and_kept(sitting)


# the sixth evening


def a_trip_is_planned_and_its_list_printed(sitting: Evenings) -> None:
    sitting.opens("/collections")
    sitting.unfolds("Add a trip")
    sitting.sends("Add it", {
        "At the depot on": "2026-11-28", "Where it is": "Gullness", "There and back": "180", "Ferry": "164",
        "Own hours it takes": "10", "The vehicle carries": "300", "It is made whatever comes of it": True,
    })  # fmt: skip
    sitting.is_told("Written: trip of 28 November 2026.")
    (trip,) = sitting.build.collections
    assert (trip.day, trip.decided, trip.ferry) == (date(2026, 11, 28), True, Money.of(164, "EUR"))
    # what waits at its depot goes along by itself
    sitting.reads(f"2 × Headlamp, Radiator and 2 × Door seal from {SELLER}", "11.1 of 300 kg used")
    sitting.reads("Your own allowance on this trip is 430.00 EUR", "Declare everything you bring")
    sitting.follows("The declaration list, to print")
    sitting.reads("1 × Radiator", "Paid 185.00 GBP", "307.00 GBP", "invoice with prices")
    sitting.page.emulate_media(media="print")
    sitting.reads("Declare everything on this list")
    expect(sitting.page.locator("nav")).to_be_hidden()
    sitting.page.emulate_media(media="screen")


def the_trip_is_made_and_paid(sitting: Evenings) -> None:
    sitting.day = date(2026, 11, 28)
    sitting.opens("/collections")
    sitting.follows("Saturday 28 November 2026")
    sitting.reads("Today is the day: count in what it brings")
    sitting.opens("/money")
    owed = sitting.unfolds("It is paid")
    sitting.sends("It is paid", within=owed)
    sitting.is_told(f"Written: paid to {SELLER}.")
    rest = last(sitting, Payment)
    assert (rest.order, rest.amount) == (ORDER, gbp(239))
    sitting.reads("Every order is paid.")
    sitting.unfolds("Write down a payment")
    sitting.sends("Write it down", {"Amount": "164", "For": "something else", "Note": "Ferry"})
    sitting.is_told("Written: paid: something else.")
    assert last(sitting, Payment).note == "Ferry"


# the seventh


def goods_are_counted_in_and_one_is_damaged(sitting: Evenings, photo: Path) -> None:
    sitting.day = date(2026, 11, 29)
    sitting.opens("/collections")
    sitting.follows("Saturday 28 November 2026")
    sitting.reads("It is over: count in what it brings, order by order.")
    assert_nothing_is_cut(sitting.page)
    sitting.follows("Count it in")
    sitting.reads("The trip of 28 November 2026 is to be counted in.")
    wrong = sitting.unfolds("Something is wrong with it, or worth writing down: Headlamp")
    sitting.sends("It is here", {"Some of it": "came damaged", "Where it lies": "shelf 3"})
    sitting.reads("Not said how many")  # and what was typed is still there
    expect(sitting.form("It is here").get_by_label("Where it lies")).to_have_value("shelf 3")
    wrong.locator("[name=faulty-headlamp]").fill("1")
    wrong.get_by_label("Photo").set_input_files(photo)
    sitting.sends("It is here")
    sitting.is_told(f"Written: arrived from {SELLER}.")
    assert last(sitting, Receipt).day == date(2026, 11, 28), "the day of the trip, which the days to report run from"
    came = {line.part: line for line in last(sitting, Receipt).lines}
    assert (came["headlamp"].quantity, came["headlamp"].faulty, came["headlamp"].fault) == (2, 1, "damaged")
    assert came["headlamp"].photo in kept(sitting)
    # on the Shelf, where it leads: by when it is to be reported
    sitting.reads("1 thing came faulty or short and must be reported.", "Headlamp came damaged.")
    sitting.reads(f"Tell {SELLER} by 3 December 2026 (their terms).")
    sitting.unfolds("I told them")
    sitting.sends("It is reported", {"What they said": "Another one comes with the next order."})
    sitting.reads(f"Headlamp came damaged: reported to {SELLER} on 29 November 2026")
    assert last(sitting, Claim).quantity == 1
    sitting.opens("/buying")
    sitting.reads(
        "Headlamp came faulty: another is owed", "Already here: Headlamp, Radiator and 2 × Door seal (shelf 3)"
    )
    sitting.opens("/collections")
    assert [trip.past for trip in trips_listed(sitting.site.desk.view())] == [True]
    sitting.unfolds("Trips that are over")
    sitting.follows("Saturday 28 November 2026")
    sitting.reads("It brought 2 × Headlamp, Radiator and 2 × Door seal.")


def another_does_not_fit_on_the_bench(sitting: Evenings) -> None:
    sitting.opens("/shelf")
    sitting.reads("Measure it on the bench against the drawing: Width of the radiator over its lugs.")
    sitting.follows("Width of the radiator over its lugs")
    sitting.sends("Write it down", {"Value": "531", "Give or take": "0.5", "Taken with": "caliper"})
    sitting.reads("This turns 1 verdict over. Nothing is written yet.", "Radiator")
    sitting.sends("Do it")
    sitting.is_told("Written:")
    reading = sitting.build.readings[-1]
    assert isinstance(reading, Reading)
    assert (reading.dimension, reading.value) == ("radiator_width", 531)
    sitting.opens("/shelf")
    check = sitting.unfolds("It is checked: Radiator")
    expect(check.get_by_label("How")).to_have_value("measured")
    sitting.sends("Write it down", {"And it is": "not right", "Note": "9 mm too wide."}, within=check)
    sitting.is_told("Written: checked: Radiator.")
    found = last(sitting, Check)
    assert (found.part, found.how, found.good) == ("radiator", "measured", False)
    sitting.reads("1 thing is not right: send it back.", "Radiator was checked on 29 November 2026 and is not right.")
    sitting.reads(f"It can go back to {SELLER} until 28 December 2026.")
    expect(sitting.page.locator("section[aria-labelledby=check]")).not_to_contain_text("Radiator")
    assert_nothing_is_cut(sitting.page)
    assert_accessible(sitting.page)
    sitting.opens("/jobs/hang-radiator")
    sitting.reads("Waits for", "found not right", "does not fit")
    sitting.opens("/parts/radiator")
    sitting.reads("In hand, shelf 3, found not right today.")


# the eighth


def an_evening_of_work_with_its_evidence(sitting: Evenings, photo: Path) -> None:
    sitting.day = date(2026, 12, 1)
    sitting.opens("/tonight")
    sitting.reads("Close the left sill, which takes a second person")
    assert "Hang the radiator" not in sitting.words, "the radiator is not right"
    sitting.page.get_by_label("Minutes", exact=True).fill("100")
    sitting.page.get_by_label("someone to help").check()
    sitting.reads("Do “Close the left sill”: about 90 min", "Sill cover panel: back wall", "Welding: battery off")
    sitting.follows("A sheet to print and write on")
    sitting.reads("Before you begin: this hides “Welds of the left sill”", "Hours worked", "Who was there")
    sitting.page.go_back()
    sitting.reads("Do “Close the left sill”")  # the evening is still the same
    evidence = sitting.unfolds("Add evidence")
    sitting.sends("Keep it", {"Photo": photo, "What it shows": "Both seams, with a rule"}, within=evidence)
    sitting.is_told("Written: evidence for Welds of the left sill.")
    (piece,) = sitting.build.evidence
    assert (piece.requirement, piece.job, piece.kind) == ("sill-welds", "cover-sill", "photo")
    assert piece.attachment in kept(sitting)
    hours = sitting.unfolds("Write down hours")
    hours.get_by_label("with that it is done").check()
    hours.get_by_role("button", name="1½ h").click()
    sitting.is_told("Written: hours on: Close the left sill.")
    worked = last(sitting, Work)
    assert (worked.job, worked.hours, worked.done) == ("cover-sill", 1.5, True)
    assert "Before you begin" not in sitting.words
    sitting.opens("/evidence")
    sitting.reads("1 of 1 has its evidence.")


# the ninth


def what_does_not_fit_goes_back(sitting: Evenings) -> None:
    sitting.day = date(2026, 12, 7)
    sitting.opens("/")
    sitting.waits_for_the_plan()
    sitting.opens("/")
    week = sitting.page.locator(".leads > li", has=sitting.page.locator(".what", has_text="Radiator")).filter(
        has_text="It was checked and is not right"
    )
    week.locator("summary").first.click()
    sitting.follows("Send it back", within=week)
    back = sitting.page.locator("section[aria-labelledby=returns] > ul > li", has_text="Radiator")
    expect(back).to_contain_text("they keep 15 %")
    sitting.unfolds("Send it back", within=back)
    expect(back).to_contain_text("157.25 GBP by their terms")  # 185.00 less 15 %
    sitting.sends("It goes back", within=back)
    sitting.is_told("Written: sent back: Radiator.")
    sent = last(sitting, Return)
    assert (sent.part, sent.refund, sent.cost) == ("radiator", None, gbp(14))
    sitting.reads("Radiator went back on 7 December 2026; no refund is written down, 157.25 GBP should come")
    for path in ("/shelf", "/money"):
        sitting.opens(path)
        sitting.reads("Refund for Radiator, 157.25 GBP")
        assert_nothing_is_cut(sitting.page)
    planned = sitting.waits_for_the_plan()
    assert "kraan-radiator" in {line.offer for line in planned.purchase.lines}, "another is to be bought"


def the_refund_comes(sitting: Evenings) -> None:
    sitting.day = date(2026, 12, 16)
    paid = ledger(sitting.build, sitting.day, to_home(sitting.build)).paid
    sitting.opens("/shelf#back")
    came = sitting.unfolds("It has come: Refund for Radiator")
    expect(came.get_by_label("Came back")).to_have_value("157.25")
    sitting.sends("It has come", within=came)
    sitting.reads("Nobody owes anything.")
    refund = last(sitting, Refund)
    assert (refund.returned, refund.amount) == (last(sitting, Return).id, gbp(157.25))
    sitting.opens("/money")
    assert "To come back" not in sitting.words
    books = ledger(sitting.build, sitting.day, to_home(sitting.build))
    back = books.lines[0]
    assert (back.what, back.amount, back.home) == ("refund", -gbp(157.25), books.paid - paid)
    account = next(each for each in books.accounts if each.order.id == ORDER)
    assert account.owed == gbp(0)  # neither side owes anything on what is here
    sitting.unfolds("payments and refunds")
    sitting.reads("Refund, Tansybridge Stores", "157.25 GBP", "Sending back, Tansybridge Stores", "14.00 GBP", "Ferry")


# the tenth


def the_money_is_looked_through(sitting: Evenings) -> None:
    sitting.opens("/money")
    sitting.waits_for_the_plan()
    sitting.opens("/money")
    sitting.reads("of which", "is paid.", "Every order is paid.")
    sitting.follows("Savings book")
    sitting.reads("Headlamp", "9.59 EUR against the regular price, written down with the order")  # 2 × 4 GBP less
    sitting.reads("50.07 EUR lost on what went back or never came")  # 27.75 GBP kept, 14.00 GBP to send it
    sitting.opens("/ahead")
    sitting.reads("A sale at Kraanwerf Delen from 27 December 2026 to 10 January 2027", "ready for")


def another_way_is_tried_and_kept(sitting: Evenings) -> None:
    before = sitting.build
    sitting.opens("/what-if")
    sitting.follows("Choose an option")
    sitting.sends("Try it", {"Which": "Floor: Cork"})
    sitting.reads("Tried on a copy; the build is as it was until you keep it.", "Cork floor")
    sitting.reads("Still to be bought, at the door", "EUR more")
    assert sitting.build == before
    sitting.sends("Keep it", {"Why, for later": "It is warm underfoot."})
    sitting.is_told("Floor: Cork")
    floor = sitting.build.find("decisions", "floor")
    assert (floor.chosen, floor.why) == ("cork", "It is warm underfoot.")
    sitting.opens("/history")
    sitting.reads("Floor: Cork", "It is warm underfoot.", "Sent back: Radiator", "Evidence for Welds of the left sill")
    assert isinstance(sitting.build.find("events", ORDER), Order)
