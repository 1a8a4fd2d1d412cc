"""Part deliveries, claims, money to come back, what lasts how long, invoices, workshops: from events alone."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from keeping import DAY, DISCS, HOSES, PUMP, arrived, eur, event, gbp, home, kept, on, ordered

from fishplate.build import Build, Money, facts_of
from fishplate.build.parts import Part
from fishplate.records import (
    best_check,
    claims_due,
    invoice_states,
    lead_times,
    ledger,
    money_back,
    open_claims,
    order_states,
    owned_already,
    return_rights,
    savings_book,
    shelf_lives,
    warranties,
    workshop_states,
)

NOW = DAY + timedelta(days=40)


def day(days: int) -> date:
    return DAY + timedelta(days=days)


# part deliveries and claims


def test_what_was_found_faulty_later_and_kept_for_less_is_still_there_once() -> None:
    came = arrived({"part": "disc", "quantity": 2})
    claim = event("claimed", "c", 12, order="o", receipt="r", part="disc", fault="damaged")
    kept_for_less = event("settled", "s", 15, claim="c", outcome="price-reduction", amount=gbp(10))
    facts = facts_of(kept(ordered(DISCS), came, claim, kept_for_less), NOW)
    assert (facts.owned["disc"], facts.incoming) == (2, ())


def test_a_line_on_back_order_is_told_from_one_with_a_day() -> None:
    late = event("delayed", "d", 5, order="o", offers=["discs"])
    (state,) = order_states(kept(ordered(HOSES, DISCS, promised=on(14)), late), NOW)
    hoses, discs = state.lines
    assert (hoses.expected, hoses.on_back_order) == (day(14), False)
    assert (discs.expected, discs.on_back_order) == (None, True)


def test_faults_are_to_be_reported_within_the_sellers_days_or_those_of_common_practice() -> None:
    came = arrived({"part": "disc", "quantity": 3, "faulty": 1, "fault": "wrong-side", "noted": 4}, days=10)
    found = claims_due(kept(ordered(DISCS), came), NOW)
    assert [(due.fault, due.quantity, due.until, due.assumed) for due in found] == [
        ("short", 1, day(17), True), ("wrong-side", 1, day(17), True),
    ]  # fmt: skip
    shop = [{"id": "shop", "name": "Shop", "country": "GB", "currency": "GBP", "claim_days": 2}]
    (first, _) = claims_due(kept(ordered(DISCS), came, suppliers=shop), NOW)
    assert (first.until, first.assumed) == (day(12), False)


def test_a_claim_is_due_no_more_and_open_until_it_ended() -> None:
    came = arrived({"part": "disc", "quantity": 2, "faulty": 1})
    claim = event("claimed", "c", 12, order="o", receipt="r", part="disc")
    build = kept(ordered(DISCS), came, claim)
    assert (claims_due(build, NOW), [item.claim.id for item in open_claims(build, NOW)]) == ((), ["c"])
    ended = event("settled", "s", 15, claim="c", outcome="refund", amount=gbp(50))
    build = kept(ordered(DISCS), came, claim, ended)
    assert open_claims(build, NOW) == ()
    (owed,) = money_back(build, NOW, home)
    assert (owed.kind, owed.amount) == ("claim", Money.of(50, "GBP"))
    refunded = event("refunded", "f", 20, order="o", claim="c", amount=gbp(50))
    assert money_back(kept(ordered(DISCS), came, claim, ended, refunded), NOW, home) == ()


def test_what_is_faulty_is_no_part_that_could_go_back_by_its_terms() -> None:
    build = kept(ordered(DISCS), arrived({"part": "disc", "quantity": 2, "faulty": 1}))
    assert [right.quantity for right in return_rights(build, day(20))] == [1]


# the strongest check


def check_of(ended_by: list[str], events: tuple[dict[str, Any], ...] = (), *, meets: bool = True) -> Any:
    offer = {"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(50),
             "returns": {"days": 30, "ended_by": ended_by}}  # fmt: skip
    build = kept(
        ordered(DISCS), arrived({"part": "disc", "quantity": 2}), *events, offers=[offer],
        interfaces=[{"id": "face", "name": "Disc on hub", "parts": ["disc"] if meets else []}],
        dimensions=[{"id": "bore", "name": "Bore", "part": "disc"}, {"id": "hub", "name": "Hub"}],
        conditions=[{"id": "seat", "interface": "face", "name": "Seat", "expression": "bore - hub",
                     "at_least": "0 mm"}],
    )  # fmt: skip
    (right,) = return_rights(build, day(15))
    return best_check(build, right, day(15))


@pytest.mark.parametrize(
    ("ended_by", "how"),
    [
        ([], "fitted"),
        (["electrical", "altered"], "fitted"),
        (["bolted"], "offered-up"),
        (["offered-up"], "measured"),
        (["offered-up", "bolted"], "measured"),
        (["opened"], "counted"),
    ],
)
def test_the_best_check_is_the_strongest_that_its_terms_leave(ended_by: list[str], how: str) -> None:
    assert check_of(ended_by).how == how


def test_what_meets_nothing_is_measured_and_says_which_dimension() -> None:
    found = check_of(["offered-up"])
    assert (found.dimensions, found.conditions, found.done) == (("bore",), ("seat",), False)
    assert "Bore" in found.text


def test_a_check_that_was_made_and_was_good_is_done_and_one_that_ends_the_right_ends_it() -> None:
    offered = event("checked", "k", 12, part="disc", how="offered-up")
    assert check_of(["bolted"], (offered,)).done
    again = event("checked", "l", 13, part="disc", how="offered-up", good=False)
    found = check_of(["bolted"], (offered, again))
    assert (found.done, found.wrong_on, "send it back" in found.text) == (False, day(13), True)
    bolted = event("checked", "k", 12, part="disc", how="bolted")
    build = kept(ordered(DISCS), arrived({"part": "disc", "quantity": 2}), bolted)
    assert return_rights(build, day(15)) == ()


# money to come back


def test_what_is_to_come_back_for_a_part_is_what_its_terms_leave_or_less_what_the_seller_said_to_keep() -> None:
    offer = {"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(50),
             "returns": {"days": 30, "restocking_percent": 15}}  # fmt: skip

    def owed(**fields: Any) -> Money | None:
        back = event("returned", "b", 15, order="o", part="disc", quantity=2, **fields)
        build = kept(ordered(DISCS), arrived({"part": "disc", "quantity": 2}), back, offers=[offer])
        (item,) = money_back(build, NOW, home)
        assert item.source == "their terms"
        return item.amount

    assert (owed(), owed(fee=gbp(20))) == (Money.of(85, "GBP"), Money.of(80, "GBP"))


def test_a_core_is_owed_until_the_charge_is_back_and_its_days_run_from_the_arrival() -> None:
    build = kept(ordered(PUMP))
    (owed,) = money_back(build, NOW, home)
    assert (owed.kind, owed.amount, owed.until, owed.asked) == ("core", Money.of(25, "GBP"), None, False)
    came = arrived({"part": "pump"}, days=10)
    (owed,) = money_back(kept(ordered(PUMP), came), NOW, home)
    assert (owed.until, owed.assumed) == (day(70), False)
    sent = event("core-sent", "x", 20, order="o", offer="pumps", cost=gbp(6))
    (owed,) = money_back(kept(ordered(PUMP), came, sent), NOW, home)
    assert owed.asked
    back = event("refunded", "y", 30, order="o", offer="pumps", what="core", amount=gbp(25))
    assert money_back(kept(ordered(PUMP), came, sent, back), NOW, home) == ()


PAID_TAX = (
    event("paid", "p1", 11, order="o", what="duty", amount=eur("10.00")),
    event("paid", "p2", 11, order="o", what="tax", amount=eur("33.00")),
)


def test_import_tax_is_asked_back_in_the_share_that_went_back_by_the_rule_of_the_country() -> None:
    back = event("returned", "b", 20, order="o", part="disc", quantity=1, refund=gbp(50))
    build = kept(ordered(DISCS, HOSES), arrived({"part": "disc", "quantity": 2}), *PAID_TAX, back)
    (owed,) = money_back(build, NOW, home)
    # 50 of 130 pounds: 43.00 × 50 / 130 = 16.54
    assert (owed.kind, owed.amount) == ("import-tax", Money.of("16.54", "EUR"))
    assert owed.until == day(11 + 90)  # Delegated Regulation (EU) 2015/2446, art. 148(3)
    assert "148(3)" in owed.source


@pytest.mark.parametrize(
    ("country", "until", "amount"),
    [
        # 60 days of the export document: Swiss VAT Act, art. 60(4)
        ("CH", day(20 + 60), "21.50"),
        # twelve months from import: New Zealand Customs, Duty and GST refunds
        ("NZ", day(11 + 365), "21.50"),
        # half a year from the import permit: Japan Customs, Customs Answer 1604
        ("JP", day(11 + 181), "21.50"),
        # asked for without a day that was found: CBSA D6-2-6; Norwegian Customs
        ("CA", None, "21.50"),
        ("NO", None, "21.50"),
        ("AU", None, "5.00"),  # half of the duty alone
    ],
)
def test_each_country_has_its_own_day_to_ask_by(country: str, until: date | None, amount: str) -> None:
    came = event("arrived", "a", 14, order="o", lines=[{"part": "disc", "quantity": 2}])
    back = event("returned", "b", 20, order="o", part="disc", quantity=1)
    build = kept(ordered(DISCS), came, *PAID_TAX, back, owner={"country": country, "currency": "EUR"})
    owed = next(item for item in money_back(build, NOW, home) if item.kind == "import-tax")
    assert owed.amount == Money.of(amount, "EUR")
    assert owed.until == until
    assert "They decide" in owed.text


def test_what_was_faulty_has_a_year_and_an_unknown_country_is_not_known() -> None:
    came = arrived({"part": "disc", "quantity": 2, "faulty": 1})
    claim = event("claimed", "c", 12, order="o", receipt="r", part="disc")
    back = event("returned", "b", 20, order="o", claim="c", part="disc", quantity=1)
    build = kept(ordered(DISCS), came, *PAID_TAX, claim, back)
    owed = next(item for item in money_back(build, NOW, home) if item.kind == "import-tax")
    assert owed.until == day(11 + 365)  # Regulation (EU) No 952/2013, art. 121(1)(b)
    abroad = kept(ordered(DISCS), came, *PAID_TAX, claim, back, owner={"country": "BR", "currency": "EUR"})
    owed = next(item for item in money_back(abroad, NOW, home) if item.kind == "import-tax")
    assert (owed.until, owed.source) == (None, "not known: ask customs")


def test_a_refund_of_tax_lowers_charges_and_one_of_goods_what_the_order_costs() -> None:
    back = event("returned", "b", 20, order="o", part="disc", quantity=1)
    events = (
        ordered(DISCS), event("paid", "p", 0, order="o", amount=gbp(100)), *PAID_TAX, back,
        event("refunded", "f1", 25, order="o", returned="b", amount=gbp(45)),
        event("refunded", "f2", 30, order="o", returned="b", amount=eur("21.50"), what="import-tax"),
    )  # fmt: skip
    books = ledger(kept(*events), NOW, home)
    (account,) = books.accounts
    assert (account.owed, account.charges) == (Money.of(0, "GBP"), Money.of("21.50", "EUR"))
    assert books.refunds_open == ()
    assert books.paid.rounded() == Money.of("87.50", "EUR")  # 55 pounds at 1.20, and 21.50
    assert money_back(kept(*events), NOW, home) == ()


def test_origin_tax_is_owed_where_the_seller_says_the_buyer_can_claim_it() -> None:
    shop = [{"id": "shop", "name": "Shop", "country": "GB", "currency": "GBP", "origin_tax": "refund"}]
    build = kept(ordered(DISCS), arrived({"part": "disc", "quantity": 2}), suppliers=shop)
    assert [item.kind for item in money_back(build, NOW, home)] == ["origin-tax"]


# lasting


def test_a_warranty_starts_with_what_its_terms_say() -> None:
    came = arrived({"part": "disc", "quantity": 2}, {"part": "pump"}, days=10)
    build = kept(ordered(DISCS, PUMP), came)
    pump, disc = warranties(build, NOW)
    assert (pump.part, pump.from_day, pump.until) == ("pump", date(2026, 3, 12), date(2027, 3, 12))
    assert (disc.part, disc.from_day, disc.until) == ("disc", None, None)
    fitted = event("fitted", "f", 30, part="disc", quantity=2)
    _, disc = warranties(kept(ordered(DISCS, PUMP), came, fitted), NOW)
    assert (disc.from_day, disc.until) == (date(2026, 4, 1), date(2028, 4, 1))


def test_shelf_life_goes_by_the_date_code_and_what_is_left() -> None:
    parts = [{"id": "hose", "name": "Hose"}, {"id": "disc", "name": "Disc"},
             {"id": "pump", "name": "Sealer", "shelf_weeks": 26}]  # fmt: skip
    came = arrived({"part": "pump", "quantity": 2, "made_on": on(-70)}, {"part": "hose", "use_by": on(50)})
    one, two = shelf_lives(kept(came | {"order": None}, parts=parts), NOW)
    assert (one.part, one.use_by) == ("hose", day(50))
    assert (two.use_by, two.quantity) == (day(26 * 7 - 70), 2)
    used = event("fitted", "f", 20, part="pump", quantity=2)
    assert [item.part for item in shelf_lives(kept(came | {"order": None}, used, parts=parts), NOW)] == ["hose"]


# invoices, workshops


def test_an_invoice_is_compared_with_the_order_line_by_line() -> None:
    lines = [
        {"label": "Discs", "offer": "discs", "amount": gbp(110)},
        {"label": "Hoses", "offer": "hoses", "amount": gbp(30)},
        {"label": "Packing", "what": "other", "amount": gbp(4)},
    ]  # fmt: skip
    bill = event("invoiced", "i", 5, order="o", number="77", lines=lines)
    paid = event("paid", "p", 6, order="o", invoice="i", amount=gbp(100))
    (state,) = invoice_states(kept(ordered(DISCS, HOSES, freight=gbp(12)), bill, paid), NOW)
    assert [(line.label, line.apart) for line in state.lines] == [
        ("Discs", True), ("Hoses", False), ("freight", True), ("Packing", True),
    ]  # fmt: skip
    assert "10.00 GBP more" in state.lines[0].text
    assert (state.total, state.owed) == (Money.of(144, "GBP"), Money.of(44, "GBP"))


def test_a_stage_is_to_pay_once_a_photo_shows_it() -> None:
    shop = {"id": "paint", "name": "Paint shop", "booked_on": on(0), "withdraw_on": on(60),
            "queue_weeks": {"low": 2, "likely": 4, "high": 9},
            "stages": [{"name": "Primed", "amount": eur(400)}, {"name": "Painted", "amount": eur(900)}]}  # fmt: skip
    (state,) = workshop_states(kept(workshops=[shop]), NOW)
    assert (state.turn, state.withdraw_by, [stage.to_pay for stage in state.stages]) == (day(28), day(60), [False] * 2)
    shown = event("stage-shown", "s", 30, workshop="paint", stage="Primed", photo="primed.jpg")
    early = event("paid", "p", 31, workshop="paint", stage="Painted", amount=eur(900), what="work")
    (state,) = workshop_states(kept(shown, early, workshops=[shop]), NOW)
    assert (state.began_on, state.withdraw_by) == (day(30), None)
    assert [(stage.to_pay, stage.paid_unseen) for stage in state.stages] == [(True, False), (False, True)]


def asked(*lines: tuple[str, str, float]) -> list[dict[str, Any]]:
    """Lines of an invoice as (label, kind, euros)."""
    return [{"label": label, "what": what, "amount": eur(euros)} for label, what, euros in lines]


@pytest.mark.parametrize(
    ("lines", "payments", "paid"),
    [
        (asked(("Frame primed", "work", 400)), [400], (400, 0)),
        (asked(("primed", "work", 400), ("VAT", "tax", 84)), [400, 84], (484, 0)),  # tax follows the work
        (asked(("Primed", "work", 400), ("Painted", "work", 900)), [1300], (400, 900)),
        (asked(("Primed", "work", 400), ("Painted", "work", 900)), [130], (40, 90)),
        (asked(("Primed", "work", 450), ("Taken off", "work", -50)), [400], (400, 0)),
        (asked(("As agreed", "work", 900)), [900], (0, 900)),  # only one stage costs as much
        (asked(("As agreed", "work", 500)), [500], (0, 0)),  # nothing tells
        (asked(("Unprimed panels", "work", 500)), [500], (0, 0)),
    ],
)
def test_what_is_paid_on_a_workshops_invoice_settles_the_stage_it_asks_for(
    lines: list[dict[str, Any]], payments: list[float], paid: tuple[float, float]
) -> None:
    shop = {"id": "paint", "name": "Paint shop",
            "stages": [{"name": "Primed", "amount": eur(400)}, {"name": "Painted", "amount": eur(900)}]}  # fmt: skip
    bill = event("invoiced", "i", 5, workshop="paint", sent_by="workshop", lines=lines)
    given = [event("paid", f"p{at}", 6, invoice="i", amount=eur(euros)) for at, euros in enumerate(payments)]
    (state,) = workshop_states(kept(bill, *given, workshops=[shop]), NOW)
    assert tuple(stage.paid for stage in state.stages) == tuple(Money.of(euros, "EUR") for euros in paid)


# what is owned already


def test_what_is_owned_is_found_by_itself_number_and_name_but_not_by_another_size() -> None:
    parts = [
        {"id": "hose", "name": "Brake hose, front", "quantity": 2, "part_number": "BH-1042/F"},
        {"id": "line", "name": "Flexible line", "part_number": "bh 1042 f"},
        {"id": "old", "name": "Front brake hose"}, {"id": "m8", "name": "Bolt M8x40"},
        {"id": "m10", "name": "Bolt M10x40"},
        {"id": "disc", "name": "Brake disc"}, {"id": "pump", "name": "Fuel pump"},
    ]  # fmt: skip
    stock = [{"id": f"s-{id_}", "part": id_, "quantity": 4, "place": "shelf"} for id_ in ("line", "old", "m10", "disc")]
    build = kept(ordered(HOSES), parts=parts, stock=stock)
    facts = facts_of(build, NOW)
    found = owned_already(build, facts, build.find("parts", "hose"))
    assert [(item.part, item.how, item.free) for item in found] == [
        ("hose", "itself", 0), ("line", "same number", 3), ("old", "similar name", 3),
    ]  # fmt: skip
    assert (found[0].incoming, found[2].places) == (2, ("shelf",))
    assert owned_already(build, facts, build.find("parts", "m8")) == ()
    assert owned_already(build, facts, Part(id="new", name="brake DISC"))[0].part == "disc"


# lead times


def test_a_suppliers_factor_is_its_deliveries_weighed_with_the_usual_one() -> None:
    # quoted 2 weeks; came after 34 days, of which 5.6 on the way: 28.4 days, 2.0286 times as long
    build = kept(ordered(HOSES), arrived({"part": "hose", "quantity": 2}, days=34))
    found = lead_times(build, NOW)["shop"]
    own = (34 / 7 - 0.8) / 2
    assert found.deliveries[0].factor == pytest.approx(own)
    assert found.factor == pytest.approx((4 * 1.3 + own) / 5)
    assert "1.3" in found.assumption().text


def test_what_is_overdue_counts_with_its_age_and_what_is_not_due_does_not() -> None:
    build = kept(ordered(HOSES))
    assert lead_times(build, day(20)) == {}
    late = lead_times(build, day(70))["shop"]
    assert (late.deliveries[0].came, late.factor > 1.3) == (None, True)


# the savings book


def book(*events: dict[str, Any], as_of: date = NOW, **lists: Any) -> Any:
    build = kept(*events, **lists)
    return savings_book(build, facts_of(build, as_of), home)


def test_a_saving_is_against_the_list_price_of_the_week_at_the_rate_of_the_day() -> None:
    (line,) = book(ordered({"offer": "discs", "quantity": 2, "price": gbp(45)}), as_of=DAY).lines
    assert (line.saving, line.frozen, line.carrying) == (Money.of(12, "EUR"), False, Money.of(0, "EUR"))
    frozen = ordered({"offer": "discs", "quantity": 2, "price": gbp(45), "listed": gbp(48)})
    seen_after = [{"offer": "discs", "day": on(-1), "price": gbp(60)}]
    (line,) = book(frozen, as_of=DAY, sightings=seen_after).lines
    assert (line.saving, line.frozen) == (Money.of("7.20", "EUR"), True)


def test_a_saving_is_at_the_door_where_the_order_was_reckoned_so_and_takes_the_real_charges_once_they_are_paid() -> (
    None
):
    line = {"offer": "discs", "quantity": 2, "price": gbp(45), "listed": gbp(50), "at_door": eur(140),
            "listed_at_door": eur(165)}  # fmt: skip
    bill = [{"label": "Import tax", "kind": "tax", "amount": eur(24), "rule": "r"}]
    bought = ordered(line, likely_bill=bill)
    (reckoned,) = book(bought, as_of=DAY).lines
    assert (reckoned.paid, reckoned.saving, reckoned.at_door) == (Money.of(140, "EUR"), Money.of(25, "EUR"), True)
    charged = event("paid", "p", 5, order="o", what="tax", amount=eur(30))
    (billed,) = book(bought, charged, as_of=day(5)).lines
    assert (billed.paid, billed.saving) == (Money.of(146, "EUR"), Money.of(19, "EUR"))


def test_an_avoidance_is_tentative_until_the_higher_price_is_seen_and_is_not_added_to_the_saving() -> None:
    bought = ordered({"offer": "discs", "price": gbp(45)})
    rise = [{"id": "up", "day": on(20), "percent": 20, "offer": "discs"}]
    made = book(bought, as_of=day(10), price_changes=rise)
    (line,) = made.lines
    # 50 × 1.20 = 60 pounds, 15 more than paid: 18 euro, of which 6 are the saving
    assert (line.avoidance, line.seen) == (Money.of(18, "EUR"), False)
    assert line.tentative == made.tentative == Money.of(12, "EUR")
    seen = [{"offer": "discs", "day": on(25), "price": gbp(58)}]
    made = book(bought, as_of=day(30), price_changes=rise, sightings=seen)
    (line,) = made.lines
    assert (line.avoidance, line.seen, made.tentative) == (Money.of("15.60", "EUR"), True, Money.of(0, "EUR"))
    assert line.kept == Money.of("15.60", "EUR") - line.carrying


def test_what_a_sale_or_the_other_side_of_the_day_saw_is_no_higher_price() -> None:
    bought = ordered({"offer": "discs", "price": gbp(45)})
    before = [{"offer": "discs", "day": on(-1), "price": gbp(70)}, {"offer": "discs", "day": on(50), "price": gbp(70)}]
    (line,) = book(bought, sightings=before).lines
    assert line.avoidance is None


def test_carrying_runs_until_the_part_is_fitted() -> None:
    bought, came = ordered(DISCS), arrived({"part": "disc", "quantity": 2})
    (open_,) = book(bought, came, as_of=day(365)).lines
    # 120 euro at 4 % a year
    assert open_.carrying == Money.of("4.80", "EUR")
    (fitted,) = book(bought, came, event("fitted", "f", 73, part="disc", quantity=2), as_of=day(365)).lines
    assert fitted.carrying == Money.of("0.96", "EUR")


def test_what_does_not_go_and_can_not_go_back_any_more_is_booked_against_it() -> None:
    bad = event("checked", "k", 12, part="disc", how="measured", good=False)
    events = (ordered(DISCS), arrived({"part": "disc", "quantity": 2}), bad)
    (still,) = book(*events, as_of=day(30)).lines
    (lapsed,) = book(*events, as_of=day(60)).lines
    assert (still.lapsed, lapsed.lapsed) == (Money.of(0, "EUR"), Money.of(48, "EUR"))


def test_what_went_back_saved_nothing_and_what_it_cost_all_the_same_is_booked() -> None:
    offer = {"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(50),
             "returns": {"days": 30, "restocking_percent": 20}}  # fmt: skip
    bought = ordered({"offer": "discs", "quantity": 2, "price": gbp(40), "listed": gbp(50)})
    came = arrived({"part": "disc", "quantity": 2})
    back = event("returned", "b", 15, order="o", part="disc", cost=gbp(5))
    (line,) = book(bought, came, back, as_of=day(20), offers=[offer]).lines
    # one of two stays: 10 pounds less than listed. Of the 40 for the other a fifth is kept, and the way costs 5
    assert (line.saving, line.returned) == (Money.of(12, "EUR"), Money.of("15.60", "EUR"))
    assert line.kept == line.saving - line.carrying - line.returned
    refunded = event("refunded", "f", 18, order="o", returned="b", amount=gbp(40))
    (line,) = book(bought, came, back, refunded, as_of=day(20), offers=[offer]).lines
    assert line.returned == Money.of(6, "EUR")
    both = event("returned", "b", 15, order="o", part="disc", quantity=2, refund=gbp(80))
    (line,) = book(bought, came, both, as_of=day(20), offers=[offer]).lines
    assert (line.paid.amount, line.returned, line.kept) == (0, Money.of(0, "EUR"), -line.carrying)


def test_every_name_of_the_records_answers_on_an_empty_build() -> None:
    build = Build()
    assert claims_due(build, NOW) == warranties(build, NOW) == shelf_lives(build, NOW) == ()
    assert savings_book(build, facts_of(build, NOW), home).kept == Money.of(0, "EUR")
