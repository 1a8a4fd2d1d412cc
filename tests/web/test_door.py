"""At the door: what goods cost by every way home, with the rule behind each line, and rates of one's own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from html import unescape
from pathlib import Path

import pytest
from door_builds import with_orders
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build
from fishplate.build.commerce import RuleOverride
from fishplate.build.events import Order
from fishplate.build.owner import Owner
from fishplate.landed import ways_for
from fishplate.plan import Plan
from fishplate.web.asked_goods import asked_goods
from fishplate.web.door import door_page
from fishplate.web.form import Form

ASKED = {"what": ["seat rail"], "price": ["120"], "currency": ["GBP"], "from": ["GB"], "mass": ["4"]}


@pytest.fixture
def door(tmp_path: Path, demo_plan: Plan) -> Iterator[TestClient]:
    """The demo build with orders from abroad."""
    with served(tmp_path / "demo.fishplate", with_orders(), demo_plan) as found:
        found.get("/")
        yield found


def test_goods_as_typed_stand_side_by_side_by_every_way_home_cheapest_first(door: TestClient) -> None:
    page = door_page(desk_of(door).view(), Form(ASKED))
    names = [way.name for way in page.ways]
    assert len(names) >= 4
    assert {"Freight on a pallet", "The post"} < set(names)
    totals = [Decimal(way.total.rpartition(" ")[0]) for way in page.ways if way.total]
    assert totals == sorted(totals)
    fetched = next(way for way in page.ways if "ferry" in way.name)
    sent = [Decimal(way.total.rpartition(" ")[0]) for way in page.ways if way.total and way is not fetched]
    less = sent[0] - Decimal(fetched.total.rpartition(" ")[0])
    assert page.lead.startswith(f"{sent[0]} EUR at the door: ")
    assert f"it costs {less} EUR less, the trip itself left out" in page.lead
    assert "is not counted here" in fetched.trip
    assert fetched.trip_path == "/collections/ferry-december"


def test_lines_of_a_way_add_up_and_each_has_its_rule_with_source_status_and_day(door: TestClient) -> None:
    page = door_page(desk_of(door).view(), Form(ASKED))
    for way in page.ways:
        assert sum(Decimal(item.amount.replace(",", "")) for item in way.items) == Decimal(way.total.rpartition(" ")[0])
    courier = next(way for way in page.ways if "Courier" in way.name)
    tax = next(item for item in courier.items if item.label == "Import tax")
    assert tax.ground.id == "nl.vat"
    assert tax.ground.source
    assert re.match(r"Published.*, (as of \d|no date known)", tax.ground.said)
    assert tax.due == "asked on arrival"
    origin = next(item for item in courier.items if item.ground.id == "gb.origin")
    assert "over a year" in origin.ground.flag


def test_shares_add_up_to_the_totals(door: TestClient) -> None:
    page = door_page(desk_of(door).view(), Form(ASKED))
    assert page.chart is not None
    totals = [float(way.total.rpartition(" ")[0]) for way in page.ways if way.total]
    assert page.chart.sums == pytest.approx(totals, abs=0.011)


def test_one_way_home_can_be_asked_alone_and_a_build_without_routes_has_the_usual_kinds(door: TestClient) -> None:
    view = desk_of(door).view()
    assert [way.name for way in door_page(view, Form({**ASKED, "route": ["any-post"]})).ways] == ["The post"]
    asked = asked_goods(view, Form({**ASKED, "from": ["US"], "seller": [""]}))
    assert asked is not None
    ways = ways_for(view.build, asked, view.as_of, frozenset({"NL"}))
    kinds = [route.kind for route in ways if route is not None]
    assert {"courier", "post", "freight"} <= set(kinds)


def test_an_offer_and_a_basket_are_asked_by_their_address_and_what_is_not_there_is_not_found(door: TestClient) -> None:
    offer = door.get("/door", params={"offer": "tidegate-wheel-made"})
    assert "Steel wheel 16 x 6.5, made to our offset from Tidegate Wheelworks, one" in offer.text
    basket = door.get("/door", params={"supplier": "kettlewharf"})
    assert "What Kettlewharf Springs offers of the parts still missing, in one consignment" in basket.text
    assert "/door?offer=kettlewharf-" in basket.text
    assert door.get("/door", params={"offer": "gone"}).status_code == 404
    assert door.get("/door", params={"supplier": "gone"}).status_code == 404


def test_what_can_not_be_read_is_said_beside_its_field(door: TestClient) -> None:
    answer = door.get("/door", params={"price": "x", "from": "zz1", "heading": "87a", "length": "3", "currency": "QQQ"})
    assert answer.status_code == 422
    for words in (
        "Not a number",
        "Not a country code",
        "Not a tariff heading",
        "Only some sides",
        "Not a currency code",
    ):
        assert words in answer.text


def test_a_gift_goods_that_come_back_and_the_freight_beyond_the_border_are_reckoned_so(door: TestClient) -> None:
    view = desk_of(door).view()
    goods = {**ASKED, "price": ["600"], "from": ["KR"], "currency": ["EUR"], "route": ["any-post"], "freight": ["50"]}

    def sums(**more: list[str]) -> dict[str, Decimal]:
        (way,) = door_page(view, Form({**goods, **more})).ways
        return {item.label.partition(",")[0]: Decimal(item.amount.replace(",", "")) for item in way.items}

    plain, inland = sums(), sums(inland=["20"])
    assert plain["Duty"] - inland["Duty"] == Decimal("0.90")  # 4.5 % of 20
    back = sums(returning=["yes"])
    assert (back["Duty"], back["Import tax"]) == (0, 0)
    gift = sums(gift=["yes"])
    assert gift["Import tax"] == plain["Import tax"]
    assert sum(gift.values()) == sum(plain.values()) - 600
    assert "Not a part of the freight" in door.get("/door", params={"price": "9", "from": "KR", "inland": "3"}).text


def test_for_a_business_or_with_a_proof_it_is_reckoned_so(door: TestClient) -> None:
    view = desk_of(door).view()
    goods = {**ASKED, "price": ["600"], "origin": ["GB"], "category": ["870850"], "route": ["courier-gb"]}
    plain, proven = (door_page(view, Form({**goods, **more})).ways[0] for more in ({}, {"proof": ["yes"]}))
    duty = [
        sum(Decimal(item.amount) for item in way.items if item.label.lower().startswith("duty"))
        for way in (plain, proven)
    ]
    assert duty[0] > duty[1] == 0
    business = door_page(view, Form({**goods, "business": ["yes"]})).ways[0]
    assert any("can usually reclaim" in text for text in business.flags)
    assert not any("can usually reclaim" in text for text in plain.flags)


def test_a_country_without_rules_is_said_with_the_remedy(tmp_path: Path) -> None:
    nowhere = Build(name="Far", owner=Owner(country="AQ", currency="EUR"))
    with served(tmp_path / "far.fishplate", nowhere) as client:
        page = client.get("/door", params={"price": "1", "from": "GB"})
        assert page.status_code == 200
        assert "/door/rates" in page.text
        assert "AQ" in page.text
        assert client.get("/door/rates").status_code == 200
        sent = {"value": "5", "source": "customs", "day": "2026-11-01", "form": "own-rule"}
        for rule in ("aq.duty", "aq.tax"):
            client.post("/door/rates/rules", data={**sent, "rule": rule})
        assert "at the door" in client.get("/door", params={"price": "1", "from": "GB", "currency": "GBP"}).text


# rates of one's own


def test_a_figure_in_place_of_a_rule_is_named_where_it_is_used_and_what_it_changes(door: TestClient) -> None:
    before = door_page(desk_of(door).view(), Form({**ASKED, "price": ["600"], "route": ["courier-gb"]})).ways[0]
    sent = {"rule": "eu.rate.default", "value": "2,7", "source": "letter of the customs office", "form": "own-rule"}
    answer = door.post("/door/rates/rules", data={**sent, "day": "2026-11-02"}, follow_redirects=False)
    assert answer.status_code == 303
    view = desk_of(door).view()
    assert view.build.rule_overrides[0].value == 2.7
    after = door_page(view, Form({**ASKED, "price": ["600"], "route": ["courier-gb"]})).ways[0]
    assert after.without_own == before.total != after.total
    duty = next(item for item in after.items if item.ground.id == "eu.rate.default")
    assert duty.ground.own
    assert duty.ground.said == "Set by you, on 2 November 2026"
    desk_of(door).own_changes.of(view, patience_seconds=20)
    page = door.get("/door/rates").text
    assert "2.7 % in place of 4.5 %" in page
    assert "letter of the customs office, 2 November 2026" in page
    assert "They change nothing of what is still to be bought" in page  # every offer from abroad has its heading
    door.post("/door/rates/rules/0/out", data={})
    assert desk_of(door).view().build.rule_overrides == ()


def test_a_later_figure_for_the_same_rule_takes_the_place_of_the_earlier(door: TestClient) -> None:
    for value in ("3", "4"):
        sent = {"rule": "eu.rate.default", "value": value, "source": "letter", "day": "2026-11-02"}
        door.post("/door/rates/rules", data=sent)
    assert [own.value for own in desk_of(door).view().build.rule_overrides] == [4]


def test_a_rule_that_is_not_there_a_figure_that_can_not_be_and_a_rate_to_come_are_refused(door: TestClient) -> None:
    for sent, words in (
        ({"rule": "eu.nothing", "value": "3", "source": "x"}, "There is no such rule"),
        ({"rule": "eu.rate.default", "value": "-3", "source": "x"}, "Less than 0"),
        ({"rule": "eu.rate.default", "value": "3"}, "Nothing was filled in"),
        ({"rule": "eu.rate.default", "value": "5000000", "source": "x"}, "ust be at most 1000"),
        ({"rule": "duty.87083050", "value": "5000000", "source": "x"}, "ust be at most 1000"),
    ):
        answer = door.post("/door/rates/rules", data={**sent, "form": "own-rule"})
        assert answer.status_code == 422
        assert words in answer.text
    rate = {"currency": "GBP", "rate": "1.17", "source": "my bank", "form": "own-rate"}
    assert "After today" in door.post("/door/rates/exchange", data={**rate, "day": "2031-01-01"}).text
    assert "That is the home currency" in door.post("/door/rates/exchange", data={**rate, "currency": "EUR"}).text
    assert desk_of(door).view().build.rates == ()


def test_an_exchange_rate_of_ones_own_goes_before_the_reference_rate(door: TestClient) -> None:
    door.post("/door/rates/exchange", data={"currency": "gbp", "rate": "2", "source": "my bank", "day": "2026-11-10"})
    page = door_page(desk_of(door).view(), Form({**ASKED, "route": ["any-post"]}))
    goods = next(item for item in page.ways[0].items if item.label == "Seat rail")
    assert goods.amount == "240.00"
    assert any("my bank" in text for text in page.said)
    desk_of(door).own_changes.of(desk_of(door).view(), patience_seconds=20)
    shown = door.get("/door/rates").text
    assert "1 GBP = 2 EUR" in shown
    assert re.search(r"Tidegate Wheelworks</td><td class=.n.>([\d.,]+)</td><td class=.n.>(?!\1)[\d.,]+</td>", shown)
    door.post("/door/rates/exchange/0/out", data={})
    assert desk_of(door).view().build.rates == ()


def test_the_rate_customs_prints_is_offered_entered_and_used_for_duty_alone(door: TestClient) -> None:
    assert 'value="eu.exchange/GBP"' in door.get("/door/rates").text
    asked = Form({**ASKED, "price": ["600"], "route": ["any-post"]})
    before = door_page(desk_of(door).view(), asked).ways[0]
    sent = {"rule": "eu.exchange/GBP", "value": "0.5", "source": "its monthly table", "day": "2026-11-02"}
    door.post("/door/rates/rules", data=sent)
    after = door_page(desk_of(door).view(), asked).ways[0]
    goods, duty = (
        [next(item.amount for item in way.items if item.label.startswith(label)) for way in (before, after)]
        for label in ("Seat rail", "Duty")
    )
    assert goods[0] == goods[1]
    assert Decimal(duty[0].replace(",", "")) < Decimal(duty[1].replace(",", ""))
    assert "0.5 as the rate of customs for GBP, foreign per home" in door.get("/door/rates").text


def test_an_override_that_is_there_already_and_fits_no_rule_is_said_not_dropped(tmp_path: Path) -> None:
    own = RuleOverride(rule="us.mpf.formal", value=3, source="x", day=with_orders().events[0].day)
    with served(tmp_path / "o.fishplate", with_orders().model_copy(update={"rule_overrides": (own,)})) as client:
        assert "names no rule for NL" in client.get("/door/rates").text


# ways home


def test_a_way_home_is_added_changed_and_stays_while_something_rests_on_it(door: TestClient) -> None:
    new = {
        "name": "Barge", "kind": "freight", "country": "be", "currency": "EUR", "weeks-likely": "2",
        "pallet": "14", "entry_fee": "9 GBP", "open": ["1", "5"], "fees_as_of": "2026-10-01", "max_mass_kg": "900",
    }  # fmt: skip
    door.post("/door/ways", data=new)
    route = desk_of(door).view().build.find("routes", "barge")
    assert (route.kind, route.from_country, route.open_weekdays) == ("freight", "BE", (1, 5))
    assert str(route.entry_fee) == "9.00 GBP"
    assert str(route.pallet) == "14.00 EUR"
    shown = door.get("/door/ways/barge").text
    assert 'value="9.00 GBP"' in shown or 'value="9.00"' in shown
    door.post("/door/ways/barge", data={**new, "pallet": "", "name": "Slow barge"})
    assert desk_of(door).view().build.find("routes", "barge").pallet is None
    assert door.post("/door/ways/courier-gb/out", data={"form": "x"}).status_code == 422
    door.post("/door/ways/barge/out", data={})
    assert "barge" not in desk_of(door).view().build.index["routes"]


def test_a_way_home_comes_back_from_its_form_as_it_was(door: TestClient) -> None:
    """What a form shows and sends unchanged changes nothing."""
    from test_every_form import _Reader

    before = desk_of(door).view().build
    for route in before.routes:
        reader = _Reader()
        text = door.get(f"/door/ways/{route.id}").text
        reader.feed(text)
        form = next(form for form in reader.forms if form.action == f"/door/ways/{route.id}")
        data = {name: _value(text, route.id, name) for name in form.typed if name != "open"}
        data |= {"kind": route.kind, "open": [str(day) for day in route.open_weekdays], "note": route.note}
        door.post(f"/door/ways/{route.id}", data=data)
    assert desk_of(door).view().build.routes == before.routes


def _value(text: str, route: str, name: str) -> str:
    found = re.search(rf'id="way-{route}-{name}" name="{name}" value="([^"]*)"', text)
    return found.group(1).replace("&#39;", "'").replace("&#34;", '"').replace("&amp;", "&") if found else ""


# bills


def test_a_bill_that_came_is_held_line_by_line_against_what_was_kept_with_the_order(door: TestClient) -> None:
    (order,) = (event for event in desk_of(door).view().build.events if event.id == "o-wheel")
    assert isinstance(order, Order)
    kept = {each.label: each.amount.amount for each in order.likely_bill or ()}
    assert kept["customs entry"] == Decimal("9.50")
    page = door.get("/door/bills/o-wheel").text
    assert "No bill is written down yet" in page
    paid = {"order": "o-wheel", "amount": "64", "currency": "EUR", "what": "fees", "note": "customs entry"}
    door.post("/money/payments", data={**paid, "day": "2026-11-14", "form": "pay"})
    page = door.get("/door/bills/o-wheel").text
    assert "One line of this bill stands out" in page
    assert "54.50 EUR more" in page
    assert "kept when it was ordered" in page
    listed = door.get("/door/bills").text
    assert listed.index("Tidegate") < listed.index("Saltmere")
    assert "none was kept when it was ordered" in door.get("/door/bills/o-master").text
    assert door.get("/door/bills/p-master").status_code == 404


def test_an_order_written_down_on_the_page_keeps_its_likely_bill(door: TestClient, demo_plan: Plan) -> None:
    abroad = next(line for line in demo_plan.purchase.lines if line.supplier == "saltmere")
    form = {f"quantity-{abroad.offer}": "1", f"price-{abroad.offer}": "310", "freight": "26", "day": "2026-11-15"}
    sent = {**form, "line": abroad.offer, "route": abroad.route, "collection": abroad.collection or "", "paid": ""}
    answer = door.post(f"/buying/consignments/{abroad.shipment}", data=sent, follow_redirects=False)
    assert answer.status_code == 303
    order = desk_of(door).view().build.events[-1]
    assert isinstance(order, Order)
    assert order.likely_bill
    page = unescape(door.get(f"/door/bills/{order.id}").text).casefold()
    asked = [each.label for each in order.likely_bill if each.kind != "freight"]  # compared only where it is billed
    assert asked
    assert [label for label in asked if label.casefold() not in page] == []


def test_several_kinds_of_goods_are_written_a_line_each_and_told_together(door: TestClient) -> None:
    lines = "2 x front hub; 62,50 GBP; 4.2 kg; 8708.50\nbrake hose; 1800 GBP; 300 g"
    page = door_page(desk_of(door).view(), Form({"more": [lines], "from": ["GB"]}))
    assert page.what == "2 × front hub and brake hose, 1,925.00 GBP from GB"
    assert {item.label for item in page.ways[0].items} > {"2 × front hub", "Brake hose"}
    with_field = door_page(desk_of(door).view(), Form({**ASKED, "more": [lines]}))
    assert with_field.what == "Seat rail, 2 × front hub and brake hose, 2,045.00 GBP from GB"


def test_lines_that_can_not_be_read_are_said_one_by_one(door: TestClient) -> None:
    form = Form({"more": ["hub\nhose; 3 XYZ"], "from": ["GB"]})
    door_page(desk_of(door).view(), form)
    assert [(each.where, each.what) for each in form.problems] == [
        ("more", "line 1: the price of one is missing"), ("more", "line 2: XYZ is not a currency"),
    ]  # fmt: skip


def test_a_carriers_steps_of_worth_are_typed_kept_and_refused_whole(door: TestClient) -> None:
    way = {"name": "Northern parcels", "kind": "courier", "country": "GB", "currency": "EUR"}
    steps = {"step-end-1": "22", "step-fee-1": "0", "step-end-2": "150", "step-fee-2": "12.50", "step-fee-3": "25"}
    door.post("/door/ways", data={**way, **steps})
    (route,) = [each for each in desk_of(door).view().build.routes if each.name == "Northern parcels"]
    assert [(step.up_to and str(step.up_to), str(step.fee)) for step in route.entry_steps] == [
        ("22.00 EUR", "0.00 EUR"), ("150.00 EUR", "12.50 EUR"), (None, "25.00 EUR"),
    ]  # fmt: skip
    page = door.get(f"/door/ways/{route.id}").text
    assert 'value="12.50"' in page
    refused = door.post("/door/ways", data={**way, "form": "way-new", "step-end-1": "22", "step-fee-1": "5"})
    assert refused.status_code == 422
    assert "only the last, has no end" in refused.text
