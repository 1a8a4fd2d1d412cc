"""Buying: the page models by themselves, and what is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build, Money, facts_of
from fishplate.build.commerce import Sighting
from fishplate.build.events import Cancellation, Order, Payment, Receipt, Refund, Return
from fishplate.build.parts import Part
from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.ahead import held_of
from fishplate.web.buying import buying_page, gap_words
from fishplate.web.consignments import consignment_page, order_form, still_to_order
from fishplate.web.desk import View
from fishplate.web.ordering import orders_shown
from fishplate.web.outlooks import offer_page, prices_page

TODAY = demo_as_of()
SPRINGS = "kettlewharf-spring-made"
WHEEL = "tidegate-wheel-made"


@pytest.fixture(scope="session")
def view(demo_plan: Plan) -> View:
    """The demo build with its plan, as the pages see it."""
    build = load_demo()
    return View(build, facts_of(build, TODAY), 1, TODAY, demo_plan)


def with_build(view: View, build: Build, *, revision: int = 2) -> View:
    return replace(view, build=build, facts=facts_of(build, view.as_of), revision=revision)


def send(client: TestClient, path: str, **fields: object):  # type: ignore[no-untyped-def]
    """A form as a page of ours sends it."""
    data = {"revision": str(desk_of(client).file.revision), "form": "test", **fields}
    return client.post(path, data=data, follow_redirects=False)


def events(client: TestClient, kind: type[Any]) -> list[Any]:
    return [event for event in desk_of(client).view().build.events if isinstance(event, kind)]


def shipment_with(plan: Plan, offer: str) -> str:
    return next(line.shipment for line in plan.purchase.lines if line.offer == offer)


# to order


def test_consignments_hold_every_line_and_their_sums(view: View, demo_plan: Plan) -> None:
    page = buying_page(view)
    shown = [*page.first, *page.later]
    assert sum(len(item.lines) for item in shown) == len(demo_plan.purchase.lines)
    assert f"{demo_plan.purchase.total:,.2f} EUR" in page.total
    springs = next(item for item in shown if item.shipment == shipment_with(demo_plan, SPRINGS))
    landed = sum(line.landed for line in demo_plan.purchase.lines if line.shipment == springs.shipment)
    assert springs.total == f"{landed:,.2f} EUR"


def test_the_gap_is_said_in_words_and_money(demo_plan: Plan) -> None:
    purchase = replace(demo_plan.purchase, gap=0.005, expected_cost=13_000.0)
    assert gap_words(replace(demo_plan, purchase=purchase)) == (
        "For these dates no way of buying costs less by more than 0.50 %, about 65 EUR."
    )
    exactly = replace(demo_plan, purchase=replace(purchase, gap=0.0))
    assert gap_words(exactly) == "For these dates no way of buying costs less."


def test_what_came_since_the_plan_is_not_ordered_again(view: View, demo_plan: Plan) -> None:
    line = next(line for line in demo_plan.purchase.lines if line.offer == "moorwinkel-loom")
    part = view.build.find("offers", line.offer).part
    came = Receipt(id="x", day=TODAY, lines=({"part": part, "quantity": line.units},))  # type: ignore[arg-type]
    now = with_build(view, view.build.model_copy(update={"events": (*view.build.events, came)}))
    page = buying_page(now)
    assert line.part in page.done
    assert all(shown.path != "/buying/offers/moorwinkel-loom" for item in page.first for shown in item.lines)


def test_the_landed_cost_is_itemised_with_a_rule_behind_each_line_and_adds_up(view: View, demo_plan: Plan) -> None:
    page = consignment_page(view, demo_plan, shipment_with(demo_plan, SPRINGS))
    assert page is not None
    assert page.landed is not None
    total = sum(float(line.amount.removesuffix(" EUR").replace(",", "")) for line in page.landed.lines)
    assert f"{total:,.2f} EUR" == page.landed.total == page.consignment.total
    assert all(line.rule for line in page.landed.lines)
    assert "Import tax" in {line.label for line in page.landed.lines}
    assert any("Front spring" in line.label for line in page.landed.lines)
    rules = {rule.id for rule in page.landed.rules}
    assert {line.rule for line in page.landed.lines if not line.rule.startswith("general.")} <= rules


def test_the_order_form_is_filled_from_the_offers_own_terms(view: View, demo_plan: Plan) -> None:
    depot, trip = view.build.find("routes", "depot-gb"), view.build.find("collections", "ferry-march")
    line = replace(
        demo_plan.purchase.lines[0], offer="ostlerbridge-roof", supplier="ostlerbridge", units=1, route=depot.name,
        collection=trip.id,
    )  # fmt: skip
    form = order_form(view, [line], [])
    offer = view.build.find("offers", "ostlerbridge-roof")
    assert form.currency == "GBP"
    assert form.freight == "64.00"  # fixed, by the supplier's terms for the depot
    deposit = float(offer.price.amount) * offer.deposit_percent / 100
    assert form.deposit == f"{deposit:.2f}"
    assert form.promised == trip.day.isoformat()


def test_the_price_in_the_form_is_the_one_last_seen(view: View, demo_plan: Plan) -> None:
    seen = Sighting(offer="moorwinkel-loom", day=TODAY, price=Money.of("251.50", "EUR"), sale=True)
    now = with_build(view, view.build.model_copy(update={"sightings": (*view.build.sightings, seen)}))
    lines = next(group for group in still_to_order(now, demo_plan) if any("loom" in line.offer for line in group))
    row = next(row for row in order_form(now, lines, []).rows if row.offer == "moorwinkel-loom")
    assert row.price == "251.50"


def test_an_order_of_several_lines_is_written_with_its_deposit(client: TestClient, demo_plan: Plan) -> None:
    shipment = shipment_with(demo_plan, SPRINGS)
    lines = [line for line in demo_plan.purchase.lines if line.shipment == shipment]
    fields = {f"quantity-{line.offer}": str(line.units) for line in lines}
    fields |= {f"price-{line.offer}": "91,50" for line in lines}
    response = send(
        client, f"/buying/consignments/{quote(shipment, safe='')}", freight="44.43", deposit="94", paid="deposit",
        day=TODAY.isoformat(), promised="2027-01-20", note="by telephone", **fields,
    )  # fmt: skip
    assert response.status_code == 303
    order = events(client, Order)[-1]
    assert {line.offer for line in order.lines} == {line.offer for line in lines}
    assert {line.price for line in order.lines} == {Money.of("91.50", "GBP")}
    assert (order.promised, order.freight) == (date(2027, 1, 20), Money.of("44.43", "GBP"))
    assert desk_of(client).view().build.find("routes", order.route).name == lines[0].route
    payment = events(client, Payment)[-1]
    assert (payment.order, payment.what, payment.amount) == (order.id, "deposit", Money.of(94, "GBP"))


def test_all_of_it_paid_is_goods_and_freight(client: TestClient, demo_plan: Plan) -> None:
    shipment = shipment_with(demo_plan, "veerhoek-u-bolts")
    fields = {"quantity-veerhoek-u-bolts": "2", "price-veerhoek-u-bolts": "64.10"}
    send(client, f"/buying/consignments/{quote(shipment, safe='')}", freight="7.95", paid="all", **fields)
    assert events(client, Payment)[-1].amount == Money.of("136.15", "EUR")  # 2 × 64.10 + 7.95


def test_more_of_the_same_supplier_may_go_along(client: TestClient, demo_plan: Plan) -> None:
    shipment = shipment_with(demo_plan, "veerhoek-u-bolts")
    path = f"/buying/consignments/{quote(shipment, safe='')}"
    assert client.get(path).text.count('name="quantity-veerhoek-') > 1  # of this consignment, and of later ones
    fields = {"quantity-veerhoek-u-bolts": "1", "price-veerhoek-u-bolts": "64", "quantity-veerhoek-pads": "1",
              "price-veerhoek-pads": "45"}  # fmt: skip
    assert send(client, path, **fields).status_code == 303
    assert {line.offer for line in events(client, Order)[-1].lines} == {"veerhoek-u-bolts", "veerhoek-pads"}


def test_a_form_of_an_earlier_plan_is_taken_and_keeps_what_was_typed(client: TestClient) -> None:
    fields = {"line": "veerhoek-u-bolts", "route": "Parcel within the country", "quantity-veerhoek-u-bolts": "1",
              "form": "order-veerhoek-parcel-nl--99-0"}  # fmt: skip
    path = "/buying/consignments/veerhoek%7Cparcel-nl%7C%7C99%7C0"
    refused = send(client, path, **fields, **{"price-veerhoek-u-bolts": "dear"})
    assert refused.status_code == 422
    assert "dear" in refused.text
    assert send(client, path, **fields, **{"price-veerhoek-u-bolts": "62.90"}).status_code == 303
    order = events(client, Order)[-1]
    assert (order.route, order.lines[0].price) == ("parcel-nl", Money.of("62.9", "EUR"))
    gone = client.get(path)
    assert gone.status_code == 404
    assert "The plan has changed" in gone.text


@pytest.mark.parametrize(
    ("fields", "fault"),
    [
        ({"quantity-veerhoek-u-bolts": "0"}, "Nothing is ordered"),
        ({"quantity-veerhoek-u-bolts": "1", "price-veerhoek-u-bolts": "dear"}, "Not a number"),
        ({"quantity-veerhoek-u-bolts": "1", "price-veerhoek-u-bolts": "9", "day": "2031-01-01"}, "After today"),
        ({"quantity-veerhoek-u-bolts": "1", "price-veerhoek-u-bolts": "9", "paid": "deposit"}, "was paid"),
    ],
)
def test_a_refused_order_says_why_and_writes_nothing(
    client: TestClient, demo_plan: Plan, fields: dict[str, str], fault: str
) -> None:
    before = len(events(client, Order))
    path = f"/buying/consignments/{quote(shipment_with(demo_plan, 'veerhoek-u-bolts'), safe='')}"
    anchor = "".join(c if c.isalnum() else "-" for c in shipment_with(demo_plan, "veerhoek-u-bolts"))
    response = send(client, path, **{**fields, "form": f"order-{anchor}"})
    assert response.status_code == 422
    assert fault in response.text
    assert len(events(client, Order)) == before


# prices


def test_the_trigger_of_an_offer_is_said_with_until_when_and_what_it_saves(view: View) -> None:
    page = offer_page(view, view.build.find("offers", "moorwinkel-alternator"))
    assert page.advised.advice == "buy at the trigger"
    assert page.advised.trigger.endswith("EUR or less")
    assert page.advised.until.startswith("until ")
    assert page.advised.saving > 0
    # the owner's 85 % worth three years, and one year in which the sale was seen: 3.55 / 4
    assert page.advised.chance == "89 %"
    assert page.advised.regret.endswith("%")
    assert any("89 %" in text and "1 of 1 years seen" in text for text, _ in page.grounds)
    assert next(label for label, _ in page.against) == "Having it early, if bought now"


def test_a_price_seen_today_changes_the_advice_at_once(view: View) -> None:
    before = offer_page(view, view.build.find("offers", "moorwinkel-alternator")).advised
    level = float(before.trigger.split()[0])
    seen = Sighting(offer="moorwinkel-alternator", day=TODAY, price=Money.of(f"{level - 5:.2f}", "EUR"), sale=True)
    now = with_build(view, view.build.model_copy(update={"sightings": (*view.build.sightings, seen)}))
    after = offer_page(now, now.build.find("offers", "moorwinkel-alternator")).advised
    assert after.advice == "buy now"
    assert f"{level - 5:.2f}" in after.now


def test_what_cannot_go_back_is_not_said_to_go_back_later(view: View) -> None:
    page = offer_page(view, view.build.find("offers", WHEEL))
    assert "can go back later" not in page.advised.sentence
    assert "It can't go back" in page.advised.sentence
    assert page.advised.now.startswith("98.") or "GBP" in page.advised.now
    assert "EUR (" in page.advised.now  # home currency first, the original beside it


def test_the_chart_and_its_table_say_the_same_weeks(view: View) -> None:
    chart = offer_page(view, view.build.find("offers", WHEEL)).chart
    assert chart.rows[0][0] == "16 November 2026"
    assert len(chart.rows) == len(chart.marks[0].values) >= 26


def test_an_offer_of_something_owned_has_no_advice_but_its_outlook(view: View) -> None:
    page = offer_page(view, view.build.find("offers", "nadrzecze-radiator"))
    assert page.advised.sentence == ""
    assert "Nothing that it brings is missing" in page.why_not
    assert page.outlook


def test_prices_are_led_by_what_is_most_to_be_saved_and_hold_what_the_plan_buys(view: View, demo_plan: Plan) -> None:
    page = prices_page(view, everything=False)
    assert {offer.offer for offer in page.offers} == {line.offer for line in demo_plan.purchase.lines}
    savings = [offer.saving for offer in page.offers]
    assert savings == sorted(savings, reverse=True)
    whole = prices_page(view, everything=True)
    assert len(whole.offers) == len(page.offers) + page.others
    assert whole.others == 0


def test_a_sighting_is_written_and_put_right_on_the_same_day(client: TestClient) -> None:
    path = f"/buying/offers/{WHEEL}/seen"
    count = len(desk_of(client).view().build.sightings)
    assert send(client, path, price="79,50").status_code == 303
    assert send(client, path, price="80").status_code == 303
    sightings = desk_of(client).view().build.sightings
    assert len(sightings) == count + 1
    assert sightings[-1] == Sighting(offer=WHEEL, day=TODAY, price=Money.of(80, "GBP"))


@pytest.mark.parametrize(
    ("fields", "fault"),
    [({"price": ""}, "Nothing was filled in"), ({"price": "-3"}, "below zero"),
     ({"price": "80", "day": "2031-01-01"}, "After today")],
)  # fmt: skip
def test_a_refused_sighting_says_why(client: TestClient, fields: dict[str, str], fault: str) -> None:
    response = send(client, f"/buying/offers/{WHEEL}/seen", **{**fields, "form": f"seen-{WHEEL}"})
    assert response.status_code == 422
    assert fault.casefold() in response.text.casefold()


# held, unsold


def test_a_held_order_links_to_all_it_waits_for(view: View, demo_plan: Plan) -> None:
    held = {item.what: item for item in held_of(view, demo_plan)}
    wheel = held["Steel wheel 16 x 6.5, made to our offset"]
    assert {wait.path for wait in wheel.waits} >= {"/decisions/wheels", "/interfaces/dimensions/made_barrel_radius"}
    assert not any(wait.done for wait in wheel.waits)


def test_a_part_nobody_sells_gets_an_offer(client: TestClient) -> None:
    desk = desk_of(client)
    added = Part(id="odd-bracket", name="Odd bracket")
    desk.write(
        lambda build: build.model_copy(update={"parts": (*build.parts, added)}), revision=desk.file.revision, message=""
    )
    assert "Odd bracket" in client.get("/buying").text
    response = send(
        client, "/buying/parts/odd-bracket/offer", supplier="Ferris Forge", price="12.50", currency="gbp", country="GB"
    )
    assert response.status_code == 303
    offer = desk.view().build.offers[-1]
    assert (offer.part, offer.price) == ("odd-bracket", Money.of("12.5", "GBP"))
    assert "Nobody is known to sell" not in client.get("/buying").text


# on order, and back


def test_orders_say_what_is_still_to_come_what_came_and_what_is_paid(view: View) -> None:
    rear, arches = orders_shown(view).on_order
    assert rear.what == "2 × Rear leaf spring, two leaves from Lindhafen Fahrwerk"
    assert rear.arrived == "Already here: 2 × Rear damper (shelf 1)."
    assert "promised for 27 November 2026" in rear.where
    assert rear.money == "332.00 EUR, all paid."
    assert arches.overdue == ""


def test_an_order_past_its_day_says_so(view: View) -> None:
    late = replace(view, as_of=date(2026, 11, 30))
    assert orders_shown(late).on_order[0].overdue == "That day was 3 days ago: ask them where it is."


def test_parts_arrive_one_by_one(client: TestClient) -> None:
    path = "/buying/orders/o-rear/arrived"
    assert send(client, path, **{"came-rear-spring": "1", "place": "shelf 2"}).status_code == 303
    receipt = events(client, Receipt)[-1]
    assert (receipt.order, receipt.place, receipt.lines[0].quantity) == ("o-rear", "shelf 2", 1)
    assert "came-rear-spring" in client.get("/buying/orders/o-rear").text
    assert send(client, path, **{"came-rear-spring": "1"}).status_code == 303
    assert "nothing of it is still to come" in client.get("/buying/orders/o-rear").text
    assert send(client, path, **{"came-rear-spring": "1"}).status_code == 404
    assert len({event.id for event in events(client, Receipt)}) == len(events(client, Receipt))


@pytest.mark.parametrize(
    ("fields", "fault"),
    [({"came-rear-spring": ""}, "nothing has come"), ({"came-rear-spring": "2", "day": "2026-10-01"}, "before it was"),
     ({"came-rear-spring": "2", "day": "2031-01-01"}, "after today")],
)  # fmt: skip
def test_a_refused_arrival_says_why(client: TestClient, fields: dict[str, str], fault: str) -> None:
    response = send(client, "/buying/orders/o-rear/arrived", **{**fields, "form": "arrived-o-rear"})
    assert response.status_code == 422
    assert fault.casefold() in response.text.casefold()


def test_the_rest_of_an_order_is_cancelled(client: TestClient) -> None:
    assert send(client, "/buying/orders/o-arches/cancelled", refund="172").status_code == 303
    assert events(client, Cancellation)[-1].refund == Money.of(172, "EUR")
    assert all(item.order != "o-arches" for item in desk_of(client).view().facts.incoming)


def test_what_can_go_back_says_until_when_and_on_what_terms(view: View) -> None:
    radiator, damper = orders_shown(view).can_go_back
    assert radiator.what == (
        "Radiator, aluminium, cross-flow can go back to Tłocznia Nadrzecze until 3 December 2026: 17 days left"
    )
    assert radiator.terms.endswith("(their terms).")
    assert damper.most == "2"
    assert radiator.currency == "PLN"


def test_a_part_is_sent_back_with_its_refund(client: TestClient) -> None:
    path = "/buying/returns/o-rear/rear-damper/2026-11-11"
    assert send(client, path, quantity="1", refund="54", cost="9").status_code == 303
    back = events(client, Return)[-1]
    assert (back.part, back.quantity, back.refund, back.cost) == (
        "rear-damper", 1, Money.of(54, "EUR"), Money.of(9, "EUR"),
    )  # fmt: skip
    too_many = send(client, path, quantity="2", refund="", form="back-o-rear-rear-damper-2026-11-11")
    assert too_many.status_code == 422
    assert "More than 1" in too_many.text


def test_a_refund_that_comes_later_is_written_to_its_return(client: TestClient) -> None:
    send(client, "/buying/returns/o-rear/rear-damper/2026-11-11", quantity="2", refund="", cost="")
    back = events(client, Return)[-1]
    assert "no refund is written down" in client.get("/buying").text
    assert send(client, f"/buying/refunds/{back.id}", refund="108").status_code == 303
    came = events(client, Refund)[-1]
    assert (came.returned, came.amount) == (back.id, Money.of(108, "EUR"))
    assert "no refund is written down" not in client.get("/buying").text


@pytest.mark.parametrize(
    "path",
    ["/buying/consignments/nothing", "/buying/orders/none", "/buying/offers/none"],
)
def test_what_is_not_there_is_not_found(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_an_order_of_which_all_has_come_tells_what_happened_with_it(client: TestClient) -> None:
    page = client.get("/buying/orders/o-seals")
    assert page.status_code == 200
    assert "nothing of it is still to come" in page.text
    assert "What happened with it" in page.text
    assert "It has come</h2>" not in page.text
    assert send(client, "/buying/orders/o-seals/cancelled").status_code == 404


def test_without_a_plan_the_page_shows_what_is_on_order(tmp_path_factory: Any) -> None:
    path = tmp_path_factory.mktemp("bare") / "demo.fishplate"
    with served(path, load_demo()) as client:
        page = client.get("/buying")
        assert page.status_code == 200
        assert "Rear leaf spring" in page.text
        assert client.get("/buying/prices").status_code == 200
        assert client.get(f"/buying/offers/{WHEEL}").status_code == 200


def test_an_empty_build_has_its_pages(empty: TestClient) -> None:
    for path in ("/buying", "/buying/prices", "/money"):
        assert empty.get(path).status_code == 200


def test_pages_of_an_old_plan_stand_when_its_offers_are_gone(view: View, demo_plan: Plan) -> None:
    gone: Callable[[Any], bool] = lambda offer: offer.supplier not in ("kettlewharf", "moorwinkel")  # noqa: E731
    offers = tuple(offer for offer in view.build.offers if gone(offer))
    now = with_build(view, view.build.model_copy(update={"offers": offers}))
    page = buying_page(now)
    assert all("Kettlewharf" not in item.what for item in (*page.first, *page.later))
    assert consignment_page(now, demo_plan, shipment_with(demo_plan, SPRINGS)) is None


def test_the_last_days_are_a_calendar_file(client: TestClient, empty: TestClient) -> None:
    answer = client.get("/buying/days.ics")
    assert answer.headers["content-type"].startswith("text/calendar")
    assert answer.text.count("BEGIN:VEVENT") > 5
    assert "days.ics" in client.get("/buying").text
    assert empty.get("/buying/days.ics").status_code == 404
    assert "days.ics" not in empty.get("/buying").text
