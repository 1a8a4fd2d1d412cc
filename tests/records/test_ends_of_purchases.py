"""What became of it in the end: cancelled, claimed, sent back, counted, asked twice. Worked out by hand."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from keeping import DAY, DISCS, HOSES, PUMP, arrived, eur, event, gbp, home, kept, on, ordered

from fishplate.build import Money, facts_of
from fishplate.records import (
    SavingsLine,
    best_check,
    invoice_states,
    ledger,
    money_back,
    return_rights,
    savings_book,
    threads_apart,
    warranties,
)
from fishplate.work.ready import gate_check

NOW = DAY + timedelta(days=40)
BELOW_LIST = {"offer": "discs", "quantity": 2, "price": gbp(45), "listed": gbp(50)}
CANCELLED = event("cancelled", "x", 5, order="o")
CLAIM = event("claimed", "c", 12, order="o", receipt="r", part="disc", quantity=1)


def day(days: int) -> date:
    return DAY + timedelta(days=days)


def money(amount: str | float) -> Money:
    return Money.of(amount, "EUR")


def line_of(*events: dict[str, Any], as_of: date = NOW, **lists: Any) -> SavingsLine:
    build = kept(*events, **lists)
    (line,) = savings_book(build, facts_of(build, as_of), home).lines
    return line


def settled(outcome: str, amount: dict[str, str] | None = None) -> dict[str, Any]:
    return event("settled", "s", 15, claim="c", outcome=outcome, amount=amount)


# the savings book


def test_what_was_cancelled_saved_nothing_and_what_came_of_it_did() -> None:
    line = line_of(ordered(BELOW_LIST), CANCELLED)
    assert (line.saving, line.paid) == (money(0), money(0))
    half = line_of(ordered(BELOW_LIST), arrived({"part": "disc", "quantity": 1}, days=3), CANCELLED)
    assert (half.saving, half.paid) == (money(6), money(54))


@pytest.mark.parametrize(
    ("end", "saving", "returned"),
    [
        # one of two is gone; the other was 5 pounds below the list
        (settled("refund", gbp(45)), 6, 0),
        (settled("refund", gbp(40)), 6, 6),  # five pounds of the price never come back
        (settled("refused"), 6, 54),  # nothing comes, and 45 pounds are gone
        (settled("price-reduction", gbp(10)), 24, 0),  # it is kept: ten pounds less than paid, for both
        (settled("replacement"), 12, 0),
    ],
)
def test_a_claim_that_ended_counts_as_it_ended(end: dict[str, Any], saving: float, returned: float) -> None:
    came = arrived({"part": "disc", "quantity": 2, "faulty": 1})
    line = line_of(ordered(BELOW_LIST), came, CLAIM, end)
    assert (line.saving, line.returned) == (money(saving), money(returned))


def test_money_is_tied_up_unit_by_unit() -> None:
    came, fitted = arrived({"part": "disc", "quantity": 2}), event("fitted", "f", 20, part="disc", quantity=1)
    # 60 euro each at 4 % a year: twenty days of one, 365 of the other
    line = line_of(ordered(DISCS), came, fitted, as_of=day(365))
    assert line.carrying == Money.of("2.53", "EUR")


def test_a_rise_that_did_not_come_is_no_avoidance_any_more() -> None:
    rise = [{"id": "up", "day": on(20), "percent": 20, "offer": "discs"}]
    bought = ordered({"offer": "discs", "price": gbp(50), "listed": gbp(50), "announced": gbp(60)})
    assert line_of(bought, price_changes=rise).avoidance == money(12)
    as_before = [{"offer": "discs", "day": on(25), "price": gbp(50)}]
    assert line_of(bought, price_changes=rise, sightings=as_before).avoidance is None


def test_a_price_written_into_the_offer_since_is_a_price_seen() -> None:
    dearer = {"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(58), "seen": on(30)}
    line = line_of(ordered({"offer": "discs", "price": gbp(50), "listed": gbp(50)}), offers=[dearer])
    assert (line.avoidance, line.seen) == (Money.of("9.60", "EUR"), True)


# what is owed, and by whom


def test_nothing_is_owed_of_a_cancelled_order_its_old_part_included() -> None:
    build = kept(ordered(PUMP), CANCELLED)
    assert ledger(build, NOW, home).owed == money(0)
    assert money_back(build, NOW, home) == ()


@pytest.mark.parametrize(("outcome", "owed"), [("price-reduction", 80), ("refund", 80), ("replacement", 100)])
def test_what_a_claim_took_off_is_not_owed(outcome: str, owed: float) -> None:
    came = arrived({"part": "disc", "quantity": 2, "faulty": 1})
    (account,) = ledger(kept(ordered(DISCS), came, CLAIM, settled(outcome, gbp(20))), NOW, home).accounts
    assert account.owed == Money.of(owed, "GBP")


def test_what_was_paid_of_a_cancelled_order_is_to_come_back_until_it_came_or_will_not() -> None:
    deposit = event("paid", "p", 0, order="o", what="deposit", amount=gbp(30))
    (owed,) = money_back(kept(ordered(DISCS), deposit, CANCELLED), NOW, home)
    assert (owed.kind, owed.amount, owed.what) == ("cancelled", Money.of(30, "GBP"), "shop")
    for amount, left in ((30, 0), (0, -30)):
        back = event("refunded", "f", 20, order="o", amount=gbp(amount))
        build = kept(ordered(DISCS), deposit, CANCELLED, back)
        assert money_back(build, NOW, home) == ()
        assert ledger(build, NOW, home).accounts[0].owed == Money.of(left, "GBP")
    known = CANCELLED | {"refund": gbp(30)}
    assert money_back(kept(ordered(DISCS), deposit, known), NOW, home) == ()


@pytest.mark.parametrize(
    ("came_back", "half_came", "lost"),
    [
        (None, False, 0),  # it is still asked for
        (0, False, 36),
        (10, False, 24),
        (30, False, 0),
        (0, True, 0),  # one came: 45 pounds are due for it, more than was paid
    ],
)
def test_a_deposit_that_was_kept_is_taken_off_the_savings(
    came_back: float | None, half_came: bool, lost: float
) -> None:
    events = [ordered(BELOW_LIST), event("paid", "p", 0, order="o", what="deposit", amount=gbp(30))]
    events += [arrived({"part": "disc", "quantity": 1}, days=3)] if half_came else []
    events += [CANCELLED]
    if came_back is not None:
        events.append(event("refunded", "f", 20, order="o", amount=gbp(came_back)))
    line = line_of(*events)
    saved = money(6) if half_came else money(0)
    assert (line.forfeited, line.kept) == (money(lost), saved - line.carrying - money(lost))


def test_what_is_lost_of_an_order_is_shared_by_what_did_not_come_of_its_lines() -> None:
    deposit = event("paid", "p", 0, order="o", what="deposit", amount=gbp(65), home_amount=eur(81))
    nothing = event("refunded", "f", 20, order="o", amount=gbp(0))
    build = kept(ordered(DISCS, HOSES), deposit, CANCELLED, nothing)  # 100 and 30 pounds
    lines = savings_book(build, facts_of(build, NOW), home).lines
    assert {line.offer: line.forfeited for line in lines} == {
        "discs": Money.of("62.31", "EUR"),
        "hoses": Money.of("18.69", "EUR"),
    }


# what can go back


def test_what_went_back_is_taken_off_the_order_it_names() -> None:
    events = (
        ordered(DISCS), arrived({"part": "disc", "quantity": 2}, days=18), ordered(DISCS, id_="o2", days=12),
        event("arrived", "r2", 20, order="o2", lines=[{"part": "disc", "quantity": 2}]),
        event("returned", "b", 25, order="o2", part="disc", quantity=2),
    )  # fmt: skip
    assert [(right.order, right.quantity) for right in return_rights(kept(*events), day(26))] == [("o", 2)]


def test_what_was_owned_before_is_fitted_first_and_what_a_count_does_not_find_can_not_go_back() -> None:
    came = arrived({"part": "disc", "quantity": 2})
    stock = [{"id": "old", "part": "disc", "quantity": 1}]
    fitted = event("fitted", "f", 15, part="disc", quantity=1)
    (right,) = return_rights(kept(ordered(DISCS), came, fitted, stock=stock), day(20))
    assert right.quantity == 2
    counted = event("counted", "k", 16, part="disc", quantity=1)
    (right,) = return_rights(kept(ordered(DISCS), came, fitted, counted, stock=stock), day(20))
    assert right.quantity == 1


def test_a_check_of_some_ends_the_right_of_those_alone() -> None:
    bolted = event("checked", "k", 12, part="disc", quantity=1, how="bolted")
    (right,) = return_rights(kept(ordered(DISCS), arrived({"part": "disc", "quantity": 2}), bolted), day(15))
    assert right.quantity == 1


@pytest.mark.parametrize(
    ("thread", "apart"),
    [("M12x1.5", False), ("m12 x 1.50", False), ("M12x1.25", True), ("1/2-20 UNF", True), ("", False)],
)
def test_a_thread_as_it_came_is_held_against_what_is_known_of_the_part(thread: str, apart: bool) -> None:
    lists: dict[str, Any] = {
        "dimensions": [{"id": "stud", "name": "Stud", "part": "disc", "designates": "thread"}],
        "readings": [
            {"id": "drawn", "dimension": "stud", "designation": "M12x1.5", "provenance": "drawing", "day": on(0)},
        ],
    }
    came = arrived({"part": "disc", "quantity": 2, "thread": thread})
    assert bool(threads_apart(kept(ordered(DISCS), came, **lists), NOW)) is apart
    right = event("checked", "k", 12, part="disc", how="measured")
    assert threads_apart(kept(ordered(DISCS), came, right, **lists), NOW) == ()


# some of it is not right


def test_of_several_that_were_checked_some_are_not_right_and_the_others_are() -> None:
    came = arrived({"part": "disc", "quantity": 2})
    bad = event("checked", "k", 12, part="disc", quantity=2, how="measured", good=False, faulty=1)
    build = kept(ordered(DISCS), came, bad)
    facts = facts_of(build, day(15))
    assert (facts.wrong, facts.wrong_counts) == ({"disc": day(12)}, {"disc": 1})
    (right,) = return_rights(build, day(15))
    assert "1 of 2, as checked, is not right: send it back" in best_check(build, right, day(15)).text
    back = event("returned", "b", 16, order="o", part="disc", quantity=1)
    assert facts_of(kept(ordered(DISCS), came, bad, back), day(17)).wrong == {}
    # a third of which one is no use leaves two that are wanted
    third = event("arrived", "r3", 13, lines=[{"part": "disc", "quantity": 1}])
    enough = facts_of(kept(ordered(DISCS), came, bad, third), day(17))
    for each, opens in ((facts, False), (enough, True)):
        passes = gate_check(build, each, gates=_no_gates())
        assert passes(("parts", "disc")) is opens


def _no_gates() -> Any:
    from fishplate.work import Gates

    return Gates()


def test_half_of_a_line_that_is_no_use_lapses_by_half() -> None:
    came = arrived({"part": "disc", "quantity": 2})
    bad = event("checked", "k", 12, part="disc", how="measured", good=False, faulty=1)
    # 60 euro for one, of which four tenths are lost
    assert line_of(ordered(DISCS), came, bad, as_of=day(60)).lapsed == money(24)


# warranties and invoices


def test_what_went_back_has_no_warranty_and_each_fitting_starts_its_own() -> None:
    came = arrived({"part": "disc", "quantity": 2}, {"part": "pump"})
    events = (ordered(DISCS, PUMP), came, event("returned", "b", 15, order="o", part="pump"))
    assert [item.part for item in warranties(kept(*events), NOW)] == ["disc"]
    fitted = [event("fitted", f"f{days}", days, part="disc") for days in (20, 30)]
    starts = [item.from_day for item in warranties(kept(*events, *fitted), NOW)]
    assert starts == [day(20), day(30)]


def test_what_an_earlier_invoice_asked_is_not_expected_once_more() -> None:
    discs = {"label": "Discs", "offer": "discs", "amount": gbp(100)}
    first = event("invoiced", "i1", 5, order="o", lines=[discs | {"amount": gbp(50)}])
    rest = event("invoiced", "i2", 9, order="o", lines=[discs | {"amount": gbp(50)},
                 {"label": "Hoses", "offer": "hoses", "amount": gbp(30)}])  # fmt: skip
    again = event("invoiced", "i3", 12, order="o", lines=[discs])
    third, second, one = invoice_states(kept(ordered(DISCS, HOSES), first, rest, again), NOW)
    assert not any(line.apart for line in second.lines)
    assert "Brake hose, front: 30.00 GBP ordered, not on this invoice" in " ".join(line.text for line in one.lines)
    assert "an earlier invoice has asked all of it" in third.lines[0].text
    assert len(third.lines) == 1


def test_what_an_invoice_asks_beyond_the_order_and_was_paid_is_what_it_cost() -> None:
    def account(*events: dict[str, Any]) -> Money:
        (found,) = ledger(kept(ordered(BELOW_LIST), *events), NOW, home).accounts
        return found.owed

    asked = {"label": "Discs", "offer": "discs", "amount": gbp(96)}
    packing = {"label": "Packing", "what": "other", "amount": gbp(4)}
    bill = event("invoiced", "i", 5, order="o", lines=[asked, packing])
    paid = event("paid", "p", 6, order="o", invoice="i", amount=gbp(100))
    assert account(bill) == Money.of(90, "GBP")  # as ordered, until it is accepted by paying it
    assert account(bill, paid) == Money.of(0, "GBP")
    assert account(bill, paid | {"amount": gbp(110)}) == Money.of(-10, "GBP")  # paid beyond what was asked
    # six pounds of the ten that were saved go to the dearer goods
    assert line_of(ordered(BELOW_LIST), bill, paid).saving == Money.of("4.80", "EUR")
    assert line_of(ordered(BELOW_LIST), bill).saving == money(12)


@pytest.mark.parametrize(
    ("country", "fetched", "kinds"),
    [
        ("GB", False, ["origin-tax"]),
        ("GB", True, ["origin-tax"]),
        ("DE", False, ["origin-tax"]),
        ("DE", True, []),  # Directive 2006/112/EC, art. 146(1)(b): parts of a private vehicle, carried out by its owner
    ],
)
def test_origin_tax_comes_back_by_what_the_invoice_shows_and_not_for_what_is_fetched_in_the_union(
    country: str, fetched: bool, kinds: list[str]
) -> None:
    shop = [{"id": "shop", "name": "Shop", "country": country, "currency": "GBP", "origin_tax": "refund"}]
    routes = [{"id": "depot", "name": "Depot", "kind": "collection", "from_country": country}]
    bought = ordered(DISCS, **({"route": "depot"} if fetched else {}))
    bill = event("invoiced", "i", 5, order="o", lines=[{"label": "VAT", "what": "tax", "amount": gbp(16)}])
    build = kept(bought, bill, arrived({"part": "disc", "quantity": 2}), suppliers=shop, routes=routes)
    found = money_back(build, NOW, home)
    assert [item.kind for item in found] == kinds
    assert all(item.amount == Money.of(16, "GBP") for item in found)


def test_the_home_price_of_a_claim_is_what_the_bank_booked() -> None:
    came = arrived({"part": "disc", "quantity": 2, "faulty": 1})
    back = event("refunded", "f", 20, order="o", claim="c", amount=gbp(45), home_amount=eur(50))
    line = line_of(ordered(BELOW_LIST), came, CLAIM, settled("refund"), back)
    assert line.returned == money(4)
