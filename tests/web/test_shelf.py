"""The shelf: goods in with their faults, claims, checks, cores, stock-takes and moves, as a person types them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build, build_from_data, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.jobs import Job
from fishplate.build.parts import Phase
from fishplate.records import return_rights
from fishplate.web.holdings import holdings
from fishplate.web.shelf import shelf_page
from fishplate.web.waits import due_of, waits_of

TODAY = date(2026, 3, 20)


def on(days: int) -> str:
    return (TODAY + timedelta(days=days)).isoformat()


def gbp(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "GBP"}


def start() -> Build:
    order = {
        "kind": "ordered",
        "id": "o",
        "day": on(-15),
        "supplier": "shop",
        "lines": [
            {"offer": "discs", "quantity": 2, "price": gbp(50)},
            {"offer": "pumps", "price": gbp(80), "core": gbp(25)},
        ],
    }
    return build_from_data({
        "parts": [{"id": "disc", "name": "Brake disc", "quantity": 2}, {"id": "pump", "name": "Fuel pump"}],
        "suppliers": [{"id": "shop", "name": "Northgate", "country": "GB", "currency": "GBP"}],
        "offers": [{"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(50), "returns": {"days": 30}},
                   {"id": "pumps", "supplier": "shop", "part": "pump", "price": gbp(80)}],
        "stock": [{"id": "s", "part": "disc", "quantity": 1, "place": "Shelf 2"}],
        "events": [order],
    })  # fmt: skip


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[TestClient]:
    with served(tmp_path / "van.fishplate", start(), day=TODAY) as found:
        found.get("/")
        yield found


def post(shop: TestClient, path: str, **fields: str) -> Any:
    return shop.post(path, data=fields, follow_redirects=False)


def build_of(shop: TestClient) -> Build:
    return desk_of(shop).view().build


def come(shop: TestClient) -> None:
    answer = post(shop, "/buying/orders/o/arrived", **{
        "came-disc": "2", "faulty-disc": "1", "fault-disc": "wrong-side", "side-disc": "left", "came-pump": "1",
        "noted-pump": "2", "place": "Shelf 1", "day": on(0)})  # fmt: skip
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].startswith("/shelf"), "what came faulty is to be reported there"


def test_goods_in_are_counted_with_what_is_wrong_and_show_what_to_report(shop: TestClient) -> None:
    come(shop)
    facts = facts_of(build_of(shop), TODAY)
    assert (facts.owned["disc"], facts.owned["pump"]) == (2, 1)
    text = shop.get("/shelf").text
    assert "Brake disc is for the wrong side" in text
    assert "Fuel pump is on the delivery note and did not come" in text
    assert "27 March 2026" in text
    said = shop.get("/buying").text
    assert "Brake disc came faulty: another is owed" in said
    assert "back-order" not in said


def test_a_fault_without_a_number_is_refused_at_its_field(shop: TestClient) -> None:
    answer = post(
        shop, "/buying/orders/o/arrived", form="arrived-o", **{"came-disc": "2", "fault-disc": "damaged", "day": on(0)}
    )
    assert answer.status_code == 422
    assert "not said how many" in answer.text.lower()


def test_a_fault_is_reported_settled_and_its_money_comes(shop: TestClient) -> None:
    come(shop)
    receipt = next(event.id for event in build_of(shop).events if event.kind == "arrived")
    told = post(shop, "/shelf/claims", receipt=receipt, part="disc", fault="wrong-side", quantity="1", day=on(0))
    assert told.status_code == 303, told.text
    (claim,) = (event for event in build_of(shop).events if event.kind == "claimed")
    assert post(shop, f"/shelf/claims/{claim.id}", outcome="refund", amount="50", day=on(0)).status_code == 303
    page = shelf_page(desk_of(shop).view())
    (owing,) = (item for item in page.owing if item.key.startswith("claim"))
    assert post(shop, owing.came, amount="50").status_code == 303
    page = shelf_page(desk_of(shop).view())
    assert not [item for item in page.owing if item.key.startswith("claim")]
    assert [item.part for item in facts_of(build_of(shop), TODAY).incoming] == []


def test_what_is_faulty_goes_back_under_its_claim_and_its_import_tax_is_asked_for(shop: TestClient) -> None:
    come(shop)
    receipt = next(event.id for event in build_of(shop).events if event.kind == "arrived")
    post(shop, "/shelf/claims", receipt=receipt, part="disc", fault="wrong-side", quantity="1", day=on(0))
    (claim,) = (event for event in build_of(shop).events if event.kind == "claimed")
    assert "It went back to them" in shop.get("/shelf").text
    assert post(shop, f"/shelf/claims/{claim.id}/back", quantity="2", day=on(0)).status_code == 422
    assert post(shop, f"/shelf/claims/{claim.id}/back", quantity="1", cost="12", day=on(0)).status_code == 303
    assert post(shop, f"/shelf/claims/{claim.id}/back", quantity="1", day=on(0)).status_code == 404
    (back,) = (event for event in build_of(shop).events if event.kind == "returned")
    assert (back.claim, back.quantity, str(back.cost)) == (claim.id, 1, "12.00 GBP")
    assert facts_of(build_of(shop), TODAY).owned["disc"] == 2
    assert "It went back to them" not in shop.get("/shelf").text
    # once it was settled it is told no more; what comes is booked as the bank booked it, on its day
    assert post(shop, f"/shelf/claims/{claim.id}", outcome="refund", amount="50", day=on(0)).status_code == 303
    (owing,) = (item for item in shelf_page(desk_of(shop).view()).owing if item.key.startswith("claim"))
    assert owing.foreign
    assert post(shop, owing.came, amount="50", home="57.10", day=on(0)).status_code == 303
    (refund,) = (event for event in build_of(shop).events if event.kind == "refunded")
    assert (str(refund.home_amount), refund.day) == ("57.10 EUR", TODAY)
    history = shop.get("/buying/orders/o").text
    for words in ("for the wrong side", "sent back Brake disc, which cost 12.00 GBP", "booked as 57.10 EUR"):
        assert words in history


def test_nothing_is_written_down_for_a_day_that_has_not_come(shop: TestClient) -> None:
    come(shop)
    receipt = next(event.id for event in build_of(shop).events if event.kind == "arrived")
    claim = {"receipt": receipt, "part": "disc", "fault": "wrong-side", "quantity": "1"}
    assert post(shop, "/shelf/claims", **claim, day=on(1)).status_code == 422
    assert post(shop, "/shelf/claims", **claim, day=on(0)).status_code == 303
    (made,) = (event.id for event in build_of(shop).events if event.kind == "claimed")
    assert post(shop, f"/shelf/claims/{made}", outcome="refused", day=on(1)).status_code == 422
    assert post(shop, f"/shelf/claims/{made}/back", quantity="1", day=on(1)).status_code == 422
    for what in ("sent", "answered"):
        assert post(shop, f"/buying/enquiries/shop/{what}", day=on(1)).status_code == 422


def test_some_of_what_was_checked_may_be_right(shop: TestClient) -> None:
    come(shop)
    assert {item.part: item.several for item in shelf_page(desk_of(shop).view()).check}["disc"] is False
    refused = post(shop, "/shelf/checks/disc", how="measured", good="yes", count="2", faulty="1", form="check-disc")
    assert refused.status_code == 422
    assert "some are not right" in refused.text.lower()
    assert post(shop, "/shelf/checks/disc", how="measured", good="no", count="2", faulty="1").status_code == 303
    (wrong,) = shelf_page(desk_of(shop).view()).wrong
    assert wrong.what == "1 of 2 × Brake disc, as checked on 20 March 2026, is not right"


def test_the_check_that_keeps_the_right_is_named_and_written_down(shop: TestClient) -> None:
    come(shop)
    assert "Measure it on the bench" in shop.get("/shelf").text
    assert post(shop, "/shelf/checks/disc", how="measured", good="yes").status_code == 303
    assert [event.how for event in build_of(shop).events if event.kind == "checked"] == ["measured"]


def test_a_part_checked_and_not_right_is_to_go_back_and_is_not_asked_to_be_checked_again(shop: TestClient) -> None:
    come(shop)
    assert "disc" in {item.part for item in shelf_page(desk_of(shop).view()).check}
    assert post(shop, "/shelf/checks/disc", how="measured", good="no").status_code == 303
    page = shelf_page(desk_of(shop).view())
    assert "disc" not in {item.part for item in page.check}
    (wrong,) = page.wrong
    # one was here before, and nobody has checked that
    assert wrong.what == "1 of 2 × Brake disc, as checked on 20 March 2026, is not right"
    assert wrong.until == "It can go back to Northgate until 19 April 2026."
    right = next(right for right in return_rights(build_of(shop), TODAY) if right.part == "disc")
    sent = post(shop, f"/buying/returns/{right.order}/disc/{right.came}", quantity="1", day=on(0))
    assert sent.status_code == 303
    assert shelf_page(desk_of(shop).view()).wrong == ()
    (owing,) = (item for item in shelf_page(desk_of(shop).view()).owing if item.key.startswith("refund"))
    assert (owing.what, owing.amount) == ("Refund for Brake disc, 50.00 GBP", "50.00")
    assert "50.00 GBP should come by their terms" in shop.get("/buying").text
    assert "Refund for Brake disc, 50.00 GBP" in shop.get("/money").text
    assert post(shop, owing.came, amount="50").status_code == 303
    assert "no refund is written down" not in shop.get("/buying").text


def test_an_old_part_is_sent_and_its_charge_comes_back(shop: TestClient) -> None:
    come(shop)
    page = shelf_page(desk_of(shop).view())
    (core,) = (item for item in page.owing if item.key.startswith("core"))
    assert "common practice" in core.text
    assert post(shop, core.sent).status_code == 303
    assert post(shop, core.came, amount="25").status_code == 303
    page = shelf_page(desk_of(shop).view())
    assert not [item for item in page.owing if item.key.startswith("core")]


def test_a_stock_take_on_the_phone_corrects_what_is_owned_and_writes_only_what_changed(shop: TestClient) -> None:
    assert "Shelf 2" in shop.get("/shelf").text
    same = post(shop, "/shelf/count", place="Shelf 2", **{"count-disc": "1"})
    assert same.status_code == 303
    assert not [event for event in build_of(shop).events if event.kind == "counted"]
    more = post(shop, "/shelf/count", place="Shelf 2", other="fuel PUMP", **{"count-disc": "0", "other-count": "1"})
    assert more.status_code == 303, more.text
    facts = facts_of(build_of(shop), TODAY)
    assert (facts.owned["disc"], facts.owned["pump"]) == (0, 1)


def test_something_moved_lies_there_and_an_unknown_name_is_refused(shop: TestClient) -> None:
    assert post(shop, "/shelf/moved", part="Brake disc", place="Van").status_code == 303
    assert facts_of(build_of(shop), TODAY).lies["disc"].places == {"Van": 1}
    assert post(shop, "/shelf/moved", part="Flux pump", place="Van").status_code == 422


def test_what_is_owned_already_is_found_before_it_is_bought_again(shop: TestClient) -> None:
    assert (
        "Brake disc</a>: 1 here, 2 on order, Shelf 2; 1 more than the build needs"
        in shop.get("/shelf?part=disc brake").text
    )
    assert "Nothing of that name" in shop.get("/shelf?part=gearbox").text


def test_a_supplier_is_asked_and_its_answer_becomes_terms_and_a_word_that_it_fits(shop: TestClient) -> None:
    data = start().model_dump(mode="json", exclude_defaults=True)
    data["events"][0]["kind"] = "ordered"
    data["parts"].append({"id": "hub", "name": "Hub"})
    data["offers"].append({"id": "hubs", "supplier": "shop", "part": "hub", "price": gbp(90)})
    data["interfaces"] = [{"id": "seat", "name": "Hub on axle", "parts": ["hub"]}]
    desk_of(shop).write(lambda _: build_from_data(data), revision=1, message="a hub")
    assert "1 × Hub" in shop.get("/buying/enquiries/shop/text").text
    assert post(shop, "/buying/enquiries/shop/sent", day=on(0)).status_code == 303
    answer = {"price-hubs": "85", "until-hubs": on(30), "lead-hubs-likely": "3", "returns-hubs": "30",
              "fits-hubs": "yes-back", "claim-days": "3", "day": on(0)}  # fmt: skip
    told = post(shop, "/buying/enquiries/shop/answered", **answer)
    assert told.status_code == 303, told.text
    build = build_of(shop)
    hubs, (enquiry,) = build.find("offers", "hubs"), build.enquiries
    assert (str(hubs.price), hubs.price_until, hubs.returns.days) == ("85.00 GBP", TODAY + timedelta(days=30), 30)
    assert (enquiry.sent, enquiry.answered) == (TODAY, TODAY)
    assert [(item.offer, item.takes_back) for item in enquiry.confirmations] == [("hubs", True)]
    assert build.find("suppliers", "shop").claim_days == 3
    assert "Sent on 20 March 2026; answered on 20 March 2026." in shop.get("/buying/enquiries/shop").text


def test_every_question_that_was_asked_has_a_place_for_its_answer(shop: TestClient) -> None:
    data = start().model_dump(mode="json", exclude_defaults=True)
    data["events"][0]["kind"] = "ordered"
    data["parts"].append({"id": "hub", "name": "Hub"})
    data["offers"].append({"id": "hubs", "supplier": "shop", "part": "hub", "price": gbp(90), "seen": on(-20),
                           "core_charge": gbp(15)})  # fmt: skip
    data["interfaces"] = [{"id": "seat", "name": "Hub on axle", "parts": ["hub"]}]
    desk_of(shop).write(lambda _: build_from_data(data), revision=1, message="a hub")
    answer = {
        "returns-hubs": "30", "ends-hubs": "bolted", "restocking-hubs": "10", "warranty-hubs": "24",
        "warranty-from-hubs": "fitting", "core-days-hubs": "45", "mass-hubs": "6.5", "long-hubs": "300",
        "wide-hubs": "250", "high-hubs": "200", "origin-hubs": "de", "heading-hubs": "8708 50", "tax": "taken-off",
        "price-hubs": "80", "until-hubs": on(20), "day": on(0),
    }  # fmt: skip
    page = shop.get("/buying/enquiries/shop").text
    assert [name for name in answer if f'name="{name}"' not in page] == []
    lacking = answer | {"high-hubs": ""}
    assert post(shop, "/buying/enquiries/shop/answered", **lacking).status_code == 422
    assert post(shop, "/buying/enquiries/shop/answered", **answer).status_code == 303
    build = build_of(shop)
    hubs, hub = build.find("offers", "hubs"), build.find("parts", "hub")
    assert (hubs.returns.days, hubs.returns.ended_by, hubs.returns.restocking_percent) == (30, ("bolted",), 10)
    assert (hubs.warranty_months, hubs.warranty_from, hubs.core_days) == (24, "fitting", 45)
    assert (hub.mass_kg, hub.box_mm, hub.origin, hub.heading) == (6.5, (300, 250, 200), "DE", "870850")
    assert build.find("suppliers", "shop").origin_tax == "taken-off"
    # the regular price stays beside the quote: what is saved is told against it
    assert [(str(item.price), item.day) for item in build.sightings if item.offer == "hubs"] == [
        ("90.00 GBP", TODAY - timedelta(days=20))
    ]


def test_the_savings_book_shows_what_was_kept(shop: TestClient) -> None:
    come(shop)
    text = shop.get("/money/saved").text
    assert "money tied up" in text
    assert "Brake disc" in text


def test_another_day_is_written_down_for_one_line_and_none_means_back_order(shop: TestClient) -> None:
    assert post(shop, "/buying/orders/o/delayed", line="pumps", expected="", day=on(0)).status_code == 303
    assert post(shop, "/buying/orders/o/delayed", line="discs", expected=on(40), day=on(0)).status_code == 303
    coming = {item.part: item.promised for item in facts_of(build_of(shop), TODAY).incoming}
    assert coming == {"pump": None, "disc": TODAY + timedelta(days=40)}
    assert "Fuel pump on back-order, without a day" in shop.get("/buying/orders/o").text
    assert post(shop, "/buying/orders/o/delayed", line="nothing", day=on(0)).status_code == 422


def test_a_job_waits_for_what_is_not_right_only_where_too_few_are(shop: TestClient) -> None:
    come(shop)
    assert post(shop, "/shelf/checks/disc", how="measured", good="no", count="1").status_code == 303
    view = desk_of(shop).view()
    job = Job(id="fit", name="Fit", phase=Phase.ASSEMBLY, hours=ThreePoint(low=1, likely=1, high=1), to_keep=("disc",))
    for needed, waits in ((2, ["1 of 2 found not right today"]), (1, [])):
        parts = tuple(each.model_copy(update={"quantity": needed}) for each in view.build.parts)
        build = view.build.model_copy(update={"parts": parts, "jobs": (job,)})
        seen = replace(view, build=build, facts=facts_of(build, TODAY))
        assert [wait.said for wait in waits_of(seen, job, holdings(seen), {}, due_of(seen))] == waits
