"""Ahead: a year of sales, rises and ends of offers, and what is written down of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page
from serving import Site, assert_accessible, assert_nothing_is_cut, desk_of

from fishplate.build import facts_of
from fishplate.plan import Plan
from fishplate.prices import ReadyToBuy
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.ahead import ahead_of, ahead_page
from fishplate.web.desk import View

TODAY = demo_as_of()


@pytest.fixture(scope="session")
def view(demo_plan: Plan) -> View:
    """The demo build with its plan, as the pages see it."""
    build = load_demo()
    return View(build, facts_of(build, TODAY), 1, TODAY, demo_plan)


def send(client: TestClient, path: str, **fields: object):  # type: ignore[no-untyped-def]
    data = {"revision": str(desk_of(client).file.revision), "form": "test", **fields}
    return client.post(path, data=data, follow_redirects=False)


def test_what_was_decided_since_the_plan_is_said_to_be(view: View, demo_plan: Plan) -> None:
    decision = view.build.find("decisions", "wheels")
    taken = decision.model_copy(update={"chosen": decision.options[0].id, "chosen_on": TODAY})
    kept = tuple(taken if item.id == "wheels" else item for item in view.build.decisions)
    build = view.build.model_copy(update={"decisions": kept})
    now = replace(view, build=build, facts=facts_of(build, view.as_of), revision=2)
    todo = {wait.path: wait for item in ahead_of(now, demo_plan) for wait in item.todo}
    assert todo["/decisions/wheels"].words == "Decided"
    assert {wait.words for path, wait in todo.items() if path != "/decisions/wheels"} <= {"Decide", "Measure"}


def test_sales_and_rises_say_what_must_be_ready(view: View, demo_plan: Plan) -> None:
    found = ahead_of(view, demo_plan)
    first = found[0]
    # the owner's 85 % and 15 % off, and the one year in which it was seen
    assert first.what == "A sale at Moorwinkel Elektrik from 23 to 29 November 2026, 89 % likely, about 15 % off"
    assert "1 of 1 years seen" in first.ground
    assert first.note.startswith("Three years running")
    assert "Prices at Kettlewharf Springs rise by 7 % on 1 January 2027" in {item.what for item in found}
    assert all(item.offers and "lost otherwise" in item.lost for item in found)


def test_the_year_is_told_month_by_month(view: View) -> None:
    page = ahead_page(view)
    assert page.months[0].name == "November 2026"
    assert page.until == "31 October 2027"
    names = [month.name for month in page.months]
    assert len(names) == len(set(names))
    assert all(month.items for month in page.months)
    assert all(bool(month.fund) == (len(month.items) > 1) for month in page.months)


def test_a_sale_that_is_over_is_not_ahead(view: View) -> None:
    page = ahead_page(replace(view, as_of=date(2026, 11, 30)))
    assert all(month.name != "November 2026" for month in page.months)


def test_the_end_of_an_offer_and_a_sale_nobody_expects_are_told(view: View, demo_plan: Plan) -> None:
    end = ReadyToBuy(
        "end lindhafen 2027-02-01", "end", "lindhafen", date(2027, 2, 1), None, ("lindhafen-strut",), (), (), 70, 0, ""
    )
    seen = ReadyToBuy(
        "seen lindhafen 2027-01-05", "sale", "lindhafen", date(2027, 1, 5), date(2027, 1, 12), ("lindhafen-strut",),
        (), (), 70, 6, "", chance=0.44, depth=0.12, ground="nobody expects it",
    )  # fmt: skip
    first, second = ahead_of(view, replace(demo_plan, ready_to_buy=(end, seen)))
    assert first.what == "A sale at Lindhafen Fahrwerk from 5 to 12 January 2027, 44 % likely, about 12 % off"
    assert first.ground == "Nobody expects it."
    assert second.what == "1 February 2027 is the last day for an offer of Lindhafen Fahrwerk"
    assert second.lost == "nobody else is known to sell it"
    # 70 euros in the three months from November to February
    assert second.aside == "23 EUR a month until then"
    assert ahead_of(view, demo_plan)[0].aside == ""


def test_a_sale_and_a_rise_are_written_down(client: TestClient) -> None:
    fields = {"supplier": "Veerhoek Remmen", "first": "2027-02-01", "last": "2027-02-07", "depth": "10", "chance": "60"}
    assert send(client, "/ahead/sales", **fields, yearly="on").status_code == 303
    window = desk_of(client).view().build.sale_windows[-1]
    assert (window.supplier, window.chance, window.depth_percent.likely) == ("veerhoek", 0.6, 10.0)
    assert window.yearly
    rise = {"supplier": "veerhoek remmen", "day": "2027-03-01", "percent": "5"}
    assert send(client, "/ahead/rises", **rise).status_code == 303
    assert desk_of(client).view().build.price_changes[-1].percent == 5
    refused = send(client, "/ahead/sales", **{**fields, "supplier": "Nobody", "form": "sale"})
    assert refused.status_code == 422
    assert "Not a supplier of this build" in refused.text


def test_before_the_first_plan_nothing_is_ahead_yet(empty: TestClient) -> None:
    assert "known after the first plan" in empty.get("/ahead").text


@pytest.mark.browser
def test_ahead_and_an_offer_read_well_on_every_screen(shown: Site, page: Page) -> None:
    for path in ("/ahead", "/buying/offers/tidegate-wheel-made"):
        page.goto(f"{shown.address}{path}")
        assert_accessible(page)
        assert_nothing_is_cut(page)
    assert page.get_by_role("heading", name="What that rests on").is_visible()
