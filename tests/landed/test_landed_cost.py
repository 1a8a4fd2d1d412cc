"""What a consignment costs at the door: which lines, and which tricks do not work."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from fishplate.build import Money, Rates, Refused, UnknownRateError
from fishplate.build.commerce import Collection, FreightTerms, Route, RuleOverride, Supplier
from fishplate.build.owner import Owner
from fishplate.landed import (
    Consignment,
    Goods,
    LandedCost,
    TravelAllowance,
    collection_cost,
    freight_for,
    landed_cost,
    landed_trip,
    load_rules,
    route_problem,
)
from fishplate.landed.allowance import free_worth

DAY = date(2026, 11, 24)
BEFORE = date(2026, 3, 10)
RULES = load_rules("NL")
RATES = Rates(base="EUR", per_base={"GBP": Decimal("0.8"), "USD": Decimal("1.25")}, day=DAY, source="test")
OWNER = Owner(card_markup_percent=0)
COURIER = Route(
    id="courier", name="Courier", kind="courier", from_country="GB", advance_percent=2.5,
    advance_minimum=Money.of(15, "EUR"), entry_fee=Money.of(5, "EUR"), fees_as_of=DAY,
)  # fmt: skip
PLAIN = Route(id="plain", name="Plain", kind="courier", from_country="GB", fees_as_of=DAY)
DEPOT = Route(id="depot", name="Depot", kind="collection", from_country="GB", fees_as_of=DAY)
FERRY = TravelAllowance("air-sea")


def seller(country: str = "GB", currency: str = "EUR", **more: object) -> Supplier:
    return Supplier.model_validate(
        {"id": "seller", "name": "Seller", "country": country, "currency": currency, "origin_tax": "none", **more}
    )


def sent(
    *values: float, supplier: Supplier | None = None, route: Route | None = PLAIN, heading: str | None = "870830",
    tax_included: bool | None = False, day: date = DAY, freight: float = 0, divided: bool = False, kind: str = "goods",
    quantity: float = 1, origin: str | None = None,
) -> Consignment:  # fmt: skip
    supplier = supplier or seller()
    goods = tuple(
        Goods(f"part {place}", Money.of(value, supplier.currency), quantity, 1.0, heading, origin, kind)
        for place, value in enumerate(values)
    )
    return Consignment(supplier, route, goods, Money.of(freight, supplier.currency), tax_included, day, divided)


def cost_of(consignment: Consignment, owner: Owner = OWNER, **more: object) -> LandedCost:
    return landed_cost(consignment, owner, RULES, RATES, **more)  # type: ignore[arg-type]


def amounts(cost: LandedCost) -> dict[str, Decimal]:
    return {line.label: line.amount.amount for line in cost.lines}


# lines and their rules


def test_import_by_courier_is_itemised_with_the_rule_behind_each_line() -> None:
    cost = cost_of(sent(400, route=COURIER, freight=20))
    # value to the border 420; duty 4.5 % = 18.90; tax 21 % of 438.90 = 92.169; advancing: 2.5 % of 111.069 is under 15
    assert amounts(cost) == {
        "part 0": Decimal("400.00"),
        "freight": Decimal("20.00"),
        "duty, heading 870830": Decimal("18.90"),
        "import tax": Decimal("92.17"),
        "advancing duty and tax": Decimal("15.00"),
        "customs entry": Decimal("5.00"),
        "tax on the carrier's fees": Decimal("4.20"),
        "origin tax": Decimal("0.00"),
    }
    assert cost.total == Money.of("555.27", "EUR")
    rules = {line.rule for line in cost.lines}
    assert {"nl.vat", "eu.rate.8708_30_99", "general.advance", "general.entry", "eu.fee.tax"} <= rules


def test_lines_add_up_exactly_even_where_each_is_rounded() -> None:
    """Three lines of a third of a euro: 0.33 each, and a line of 0.01 makes the exact euro."""
    supplier = seller("NL", "USD")
    consignment = sent(*[1.25 / 3] * 3, supplier=supplier, route=None, tax_included=True)
    cost = cost_of(replace(consignment, goods=tuple(
        replace(item, value=Money(amount=Decimal("1.25") / 3, currency="USD")) for item in consignment.goods
    )))  # fmt: skip
    assert amounts(cost)["rounding"] == Decimal("0.01")
    assert cost.total == Money.of(1, "EUR")


def test_fuel_surcharge_counts_toward_the_customs_value() -> None:
    route = PLAIN.model_copy(update={"fuel_percent": 10})
    cost = cost_of(sent(400, route=route, freight=20))
    # 422 x 4.5 % = 18.99
    assert amounts(cost)["duty, heading 870830"] == Decimal("18.99")


def test_inland_freight_is_taxed_but_pays_no_duty() -> None:
    consignment = replace(sent(400, freight=20), freight_inland=Money.of(8, "EUR"))
    cost = cost_of(consignment)
    assert amounts(cost)["duty, heading 870830"] == Decimal("18.54")  # 412 x 4.5 %
    assert amounts(cost)["import tax"] == Decimal("92.09")  # (420 + 18.54) x 21 %


def test_card_markup_is_a_line_of_its_own_and_assumed_where_not_given() -> None:
    dear = cost_of(sent(400, supplier=seller(currency="GBP")), Owner())
    assert amounts(dear)["card's exchange markup"] == Decimal("7.50")  # 1.5 % of 500
    assert any(item.code == "card-markup" for item in dear.assumptions)
    own = cost_of(sent(400, supplier=seller(currency="GBP")), Owner(card_markup_percent=0.5))
    assert amounts(own)["card's exchange markup"] == Decimal("2.50")
    assert not any(item.code == "card-markup" for item in own.assumptions)
    assert "card's exchange markup" not in amounts(cost_of(sent(400), Owner()))


def test_charges_are_shown_in_the_home_currency_of_the_owner() -> None:
    cost = cost_of(sent(400), Owner(currency="GBP", card_markup_percent=0))
    # 400 EUR = 320 GBP; 4.5 %, then 21 % on top: 320 x 1.045 x 1.21
    assert cost.total == Money.of("404.62", "GBP")


# inside the single market


def test_nothing_is_imported_from_a_country_of_the_union() -> None:
    cost = cost_of(sent(100, supplier=seller("DE", origin_tax=None), route=None, freight=7, tax_included=True))
    assert cost.total == Money.of(107, "EUR")
    assert not cost.sum_of("duty", "fee").amount


def test_union_price_without_tax_gets_the_destinations_when_sent_and_the_sellers_when_fetched() -> None:
    sent_home = cost_of(sent(100, supplier=seller("DE", origin_tax=None), route=None, freight=7))
    assert sent_home.total == Money.of("129.47", "EUR")  # 107 x 1.21
    depot = DEPOT.model_copy(update={"from_country": "DE"})
    fetched = cost_of(sent(100, supplier=seller("DE", origin_tax=None), route=depot))
    assert fetched.total == Money.of(119, "EUR")


def test_union_price_is_taken_to_include_tax_where_nothing_is_said() -> None:
    cost = cost_of(sent(100, supplier=seller("DE", origin_tax=None), route=None, tax_included=None))
    assert cost.total == Money.of(100, "EUR")
    assert any(item.code == "price-includes-tax" for item in cost.assumptions)


# low value


def test_old_relief_freed_low_value_of_duty_but_not_of_tax() -> None:
    cost = cost_of(sent(150, day=BEFORE, freight=40))
    assert cost.sum_of("duty").amount == 0
    assert cost.sum_of("tax").amount == Decimal("39.90")  # 190 x 21 %
    assert cost_of(sent(150.01, day=BEFORE, freight=40)).sum_of("duty").amount == Decimal("8.55")  # 190.01 x 4.5 %


def test_flat_duty_replaces_the_tariff_on_low_value_since_july_2026() -> None:
    assert amounts(cost_of(sent(60, 40)))["flat duty"] == 3
    two = replace(sent(60, 40), goods=(*sent(60).goods, *sent(40, heading="848210").goods))
    assert amounts(cost_of(two))["flat duty"] == 6
    assert "flat duty" not in amounts(cost_of(sent(150.01)))


def test_flat_duty_counts_goods_of_unknown_heading_each() -> None:
    cost = cost_of(sent(20, 20, 20, heading=None))
    assert amounts(cost)["flat duty"] == 9
    (doubt,) = [doubt for doubt in cost.doubts if doubt.code == "heading"]
    assert doubt.low == cost.total - Money.of("7.26", "EUR")  # 6 x 1.21 less if all are one tariff item


def test_flat_duty_is_for_private_buyers_only() -> None:
    business = Owner(card_markup_percent=0, private_person=False)
    assert amounts(cost_of(sent(100), business))["duty, heading 870830"] == Decimal("4.50")


def test_divided_order_gets_no_relief() -> None:
    """Two orders of 140 made out of one of 280 must not come free of duty."""
    alone = cost_of(sent(140, day=BEFORE))
    divided = cost_of(sent(140, day=BEFORE, divided=True))
    assert alone.sum_of("duty").amount == 0
    assert divided.sum_of("duty").amount == Decimal("6.30")
    assert any("general.divided" in flag for flag in divided.flags)


def test_dividing_never_costs_less_than_the_whole_order() -> None:
    whole = cost_of(sent(70, 70, 70, heading="848210"))
    pieces = [cost_of(sent(70, heading="848210", divided=True)) for _ in range(3)]
    assert sum(piece.total.amount for piece in pieces) >= whole.total.amount


def test_divided_low_value_order_pays_the_dearer_of_flat_duty_and_tariff() -> None:
    assert cost_of(sent(20, divided=True)).sum_of("duty").amount == 3
    assert cost_of(sent(140, divided=True)).sum_of("duty").amount == Decimal("6.30")


def test_worth_near_a_limit_is_flagged_where_exchange_can_cross_it() -> None:
    near = cost_of(sent(118, supplier=seller(currency="GBP")))  # 147.50 EUR
    assert any("general.threshold" in flag for flag in near.flags)
    assert not any("general.threshold" in flag for flag in cost_of(sent(147.50)).flags)


# the seller's tax


def test_tax_that_the_exporting_seller_takes_off_lowers_the_customs_value_too() -> None:
    cost = cost_of(sent(480, supplier=seller(origin_tax="taken-off"), tax_included=True))
    assert amounts(cost)["origin tax"] == -80
    assert cost.sum_of("duty").amount == 18  # 400 x 4.5 %


def test_tax_that_stays_is_paid_on_again_but_limits_are_compared_without_it() -> None:
    cost = cost_of(sent(168, supplier=seller(origin_tax="charged"), tax_included=True))
    # worth without tax is 140, so the flat duty applies
    assert amounts(cost)["flat duty"] == 3
    assert cost.total == Money.of("206.91", "EUR")  # (168 + 3) x 1.21


def test_unknown_treatment_of_the_sellers_tax_is_assumed_to_stay_and_its_saving_shown() -> None:
    cost = cost_of(sent(480, supplier=seller(origin_tax=None), tax_included=True))
    assert any(item.code == "origin-tax-default" for item in cost.assumptions)
    (doubt,) = [doubt for doubt in cost.doubts if doubt.code == "origin-tax"]
    assert doubt.low == cost_of(sent(480, supplier=seller(origin_tax="taken-off"), tax_included=True)).total


@pytest.mark.parametrize("stated", ["refund", "taken-off"])
def test_private_owner_who_carries_parts_out_gets_no_tax_back(stated: str) -> None:
    """Goods that equip a private vehicle: the tax stays unless the seller exports."""
    cost = cost_of(sent(480, supplier=seller(origin_tax=stated), tax_included=True, route=DEPOT))
    assert amounts(cost)["origin tax"] == 0
    assert any("only if the seller exports" in flag for flag in cost.flags)
    business = Owner(card_markup_percent=0, private_person=False)
    trade = cost_of(sent(480, supplier=seller(origin_tax=stated), tax_included=True, route=DEPOT), business)
    assert amounts(trade)["origin tax"] == -80


def test_net_price_fetched_abroad_gets_the_sellers_tax_put_on() -> None:
    cost = cost_of(sent(100, supplier=seller(origin_tax="taken-off"), route=DEPOT), allowance=FERRY)
    assert cost.total == Money.of(120, "EUR")


def test_seller_of_a_country_without_a_rule_is_taken_as_it_stands() -> None:
    route = PLAIN.model_copy(update={"from_country": "KR"})
    cost = cost_of(sent(400, supplier=seller("KR", origin_tax=None), route=route))
    assert any(item.code == "origin-tax-unknown" for item in cost.assumptions)


def test_supplier_who_collects_the_tax_leaves_only_duty_to_the_carrier() -> None:
    supplier = seller(collects_import_tax=True)
    cost = cost_of(sent(100, supplier=supplier, route=COURIER, freight=10))
    assert amounts(cost)["import tax"] == Decimal("23.10")  # 21 % of 110, at the sale
    assert amounts(cost)["advancing duty and tax"] == 15
    assert cost_of(sent(100, supplier=supplier, route=COURIER, freight=10, tax_included=True)).total == Money.of(
        "137.20", "EUR"
    )  # 100 + 10 + 3 flat duty + (15 + 5) x 1.21, the tax being in the price


def test_supplier_collects_no_tax_above_the_limit() -> None:
    cost = cost_of(sent(200, supplier=seller(collects_import_tax=True)))
    assert cost.sum_of("tax").amount == Decimal("43.89")  # 200 x 1.045 x 21 %
    assert any("falls due on entry" in flag for flag in cost.flags)


# preference


def test_preference_is_not_taken_for_granted_but_its_saving_is_shown() -> None:
    cost = cost_of(sent(400, origin="GB"))
    assert cost.sum_of("duty").amount == 18
    (doubt,) = [doubt for doubt in cost.doubts if doubt.code == "preference"]
    assert doubt.low == Money.of(484, "EUR")  # 400 x 1.21
    assert not cost_of(sent(400, origin="US")).doubts


def test_owners_own_rate_stands_in_the_line_with_its_source() -> None:
    given = RuleOverride(rule="duty.870830", value=0, source="proof of origin at hand", day=DAY)
    cost = landed_cost(sent(400), OWNER, RULES, RATES, [given])
    (line,) = [line for line in cost.lines if line.kind == "duty"]
    assert line.amount.amount == 0
    assert "proof of origin at hand" in line.note


def test_unknown_heading_is_a_range_with_the_rate_used() -> None:
    cost = cost_of(sent(400, heading=None))
    (doubt,) = cost.doubts
    assert (doubt.low, doubt.high) == (Money.of("497.07", "EUR"), Money.of("505.78", "EUR"))  # 2.7 and 4.5 %
    assert any(item.code == "duty-rate" for item in cost.assumptions)


# fetched


def test_goods_within_the_owners_allowance_are_free() -> None:
    cost = cost_of(sent(200, 100, route=DEPOT), allowance=TravelAllowance("land"))
    assert cost.total == Money.of(300, "EUR")


def test_part_that_does_not_fit_the_allowance_is_taxed_whole() -> None:
    cost = cost_of(sent(290, 200, route=DEPOT), allowance=FERRY)
    # 290 is free; of the rest nothing: 200 x 2.5 % duty, x 21 % tax
    assert cost.total == Money.of("538.05", "EUR")


def test_set_counts_as_one_item_however_many_pieces_it_has() -> None:
    pieces = cost_of(sent(600, route=DEPOT, quantity=4), allowance=FERRY)
    one_set = cost_of(sent(600, route=DEPOT, quantity=4, kind="set"), allowance=FERRY)
    assert pieces.sum_of("duty").amount == Decimal("7.50")  # two of 150 fit 430, two are taxed: 300 x 2.5 %
    assert one_set.sum_of("duty").amount == Decimal("15.00")  # all 600


def test_items_of_broken_cents_never_fill_more_than_the_allowance() -> None:
    """Three items of 100.003 are 300.009; a filling that rounds them down would free all three."""
    free = free_worth([Decimal("100.003"), Decimal(50)], [3, 1], Decimal(300), "item")
    assert sum(free) == Decimal("250.006")


def test_allowance_is_not_counted_twice_on_one_trip() -> None:
    """A second consignment, whoever's name it is in, has only what the owner's own allowance has left."""
    first, second = landed_trip([sent(400, route=DEPOT), sent(400, route=DEPOT)], OWNER, RULES, RATES, allowance=FERRY)
    assert first.total == Money.of(400, "EUR")
    assert second.sum_of("duty", "tax").amount == Decimal("96.10")  # 400 x 2.5 %, then 21 % of 410


def test_allowance_is_not_counted_unless_the_trip_is_known() -> None:
    cost = cost_of(sent(200, route=DEPOT))
    assert cost.sum_of("duty").amount == 5
    assert any("one for a whole trip" in flag for flag in cost.flags)


def test_divided_order_and_business_get_no_allowance() -> None:
    assert cost_of(sent(200, route=DEPOT, divided=True), allowance=FERRY).sum_of("duty").amount == 5
    business = Owner(card_markup_percent=0, private_person=False)
    # the flat rate is for goods that are not commercial, so a business pays the tariff: 200 x 4.5 %
    assert cost_of(sent(200, route=DEPOT), business, allowance=FERRY).sum_of("duty").amount == 9


def test_way_of_travel_unknown_uses_the_lower_allowance() -> None:
    cost = cost_of(sent(400, route=DEPOT), allowance=TravelAllowance())
    assert cost.sum_of("duty").amount == 10
    assert any(item.code == "travel-unknown" for item in cost.assumptions)


def test_dear_goods_fetched_pay_the_tariff() -> None:
    cost = cost_of(sent(800, heading="848210", route=DEPOT), allowance=FERRY)
    assert cost.sum_of("duty").amount == 64


def test_trip_costs_driving_ferry_and_own_hours() -> None:
    trip = Collection(
        id="trip", route="depot", day=DAY, distance_km=400, per_km=Money.of("0.25", "EUR"), ferry=Money.of(160, "GBP"),
        tolls=Money.of(10, "EUR"), hours=10,
    )  # fmt: skip
    lines = {line.label: line for line in collection_cost(trip, Owner(hour_worth=Decimal(20)), RATES)}
    assert {name: line.amount.amount for name, line in lines.items()} == {
        "driving": 100, "ferry": 200, "tolls": 10, "own hours": 200,
    }  # fmt: skip
    assumed = {line.label: line for line in collection_cost(trip.model_copy(update={"per_km": None}), Owner(), RATES)}
    assert assumed["own hours"].amount == Money.of(150, "EUR")
    assert "assumed" in assumed["own hours"].note
    abroad = collection_cost(trip.model_copy(update={"per_km": None}), Owner(currency="GBP"), RATES)
    # ten hours of about 15 EUR
    assert {line.label: line.amount for line in abroad}["own hours"] == Money.of(130, "GBP")
    assert "assumed (Dutch payroll tax rules 2024, from memory)" in assumed["driving"].note


# freight and routes


def test_freight_is_fixed_and_by_mass_until_it_is_free() -> None:
    terms = FreightTerms(
        route="courier", fixed=Money.of(10, "GBP"), per_kg=Money.of(2, "GBP"), free_from=Money.of(200, "GBP")
    )
    supplier = seller(currency="GBP", freight=(terms,))
    assert freight_for(supplier, COURIER, Money.of(100, "GBP"), 4.5) == Money.of(19, "GBP")
    assert freight_for(supplier, COURIER, Money.of(200, "GBP"), 4.5) == Money.of(0, "GBP")
    assert freight_for(supplier, COURIER, Money.of(100, "GBP"), None) == Money.of(10, "GBP")
    assert freight_for(supplier, None, Money.of(100, "GBP"), 4.5) == Money.of(0, "GBP")
    with pytest.raises(ValueError, match="free freight is stated in GBP"):
        freight_for(supplier, COURIER, Money.of(100, "EUR"), 4.5)


def test_missing_freight_and_mass_are_said() -> None:
    codes = {item.code for item in cost_of(sent(400)).assumptions}
    assert "freight-unknown" in codes
    terms = FreightTerms(route="plain", fixed=Money.of(10, "EUR"), per_kg=Money.of(2, "EUR"))
    consignment = sent(400, supplier=seller(freight=(terms,)), freight=10)
    light = replace(consignment, goods=(replace(consignment.goods[0], mass_kg=None),))
    assert "mass-unknown" in {item.code for item in cost_of(light).assumptions}


def test_route_is_ruled_out_by_mass_and_length_with_the_reason() -> None:
    small = PLAIN.model_copy(update={"max_mass_kg": 20.0, "max_length_mm": 1200.0})
    heavy = Goods("a", Money.of(1, "EUR"), 1, 25.0)
    long = Goods("b", Money.of(1, "EUR"), 1, 2.0, length_mm=1500)
    market = RULES.single_market
    assert "heavier than the 20 kg" in str(route_problem(seller(), small, [heavy], market))
    assert "longer than the 1200 mm" in str(route_problem(seller(), small, [long], market))
    assert route_problem(seller(), small, [Goods("c", Money.of(1, "EUR"), 1, 2.0)], market) is None
    with pytest.raises(Refused, match="heavier"):
        landed_cost(replace(sent(1, route=small), goods=(heavy,)), OWNER, RULES, RATES)


def test_goods_that_would_cross_two_borders_are_refused() -> None:
    with pytest.raises(Refused, match="first be brought to GB"):
        cost_of(sent(400, supplier=seller("US")))


def test_missing_rate_is_an_unknown_rate() -> None:
    with pytest.raises(UnknownRateError):
        cost_of(sent(400, supplier=seller(currency="SEK")))


def test_own_delivery_across_a_border_says_its_fees_are_not_known() -> None:
    cost = cost_of(sent(400, route=None))
    assert any(item.code == "carrier-unknown" for item in cost.assumptions)


def test_undated_and_old_fees_of_a_route_are_flagged() -> None:
    undated = COURIER.model_copy(update={"fees_as_of": None})
    old = COURIER.model_copy(update={"fees_as_of": date(2025, 1, 1)})
    assert "route courier: its fees are undated" in cost_of(sent(400, route=undated)).flags
    assert any("last checked 1 January 2025" in flag for flag in cost_of(sent(400, route=old)).flags)


def test_every_rule_that_is_undated_or_old_is_flagged_where_it_touches() -> None:
    flags = cost_of(sent(400, route=COURIER)).flags
    assert "eu.valuation: undated (published)" in flags
    assert any(flag.startswith("eu.rate.8708_30_99: undated (from memory)") for flag in flags)
    assert not any(flag.startswith("eu.traveller") for flag in flags)


def test_every_rule_that_bears_on_the_result_comes_with_its_source() -> None:
    cost = cost_of(sent(400, route=COURIER))
    notes = {note.id: note for note in cost.rules}
    assert {"nl.vat", "eu.rate.8708_30_99", "eu.valuation", "eu.fee.tax"} <= set(notes)
    assert notes["nl.vat"].as_of == date(2025, 12, 31)
    assert all(note.source and note.status for note in cost.rules)


def test_business_is_told_that_its_tax_is_left_in() -> None:
    business = Owner(card_markup_percent=0, private_person=False)
    assert any("can usually reclaim" in flag for flag in cost_of(sent(400), business).flags)
    assert not any("can usually reclaim" in flag for flag in cost_of(sent(400)).flags)


def test_amounts_beyond_reckoning_are_refused() -> None:
    with pytest.raises(Refused, match="beyond a million million"):
        cost_of(sent(9e11, supplier=seller(currency="GBP")))


def test_consignment_of_gifts_worth_nothing_still_pays_for_its_freight() -> None:
    cost = cost_of(sent(0, 0, freight=30))
    assert cost.total == Money.of("39.93", "EUR")  # (30 + 3) x 1.21


def test_leaving_doubts_out_changes_nothing_else() -> None:
    consignment = sent(400, heading=None, origin="GB", supplier=seller(origin_tax=None), tax_included=True)
    full, quick = cost_of(consignment), cost_of(consignment, with_doubts=False)
    assert len(full.doubts) == 3
    assert replace(full, doubts=(), range=None) == quick
    assert full.ends[0].amount < min(doubt.low.amount for doubt in full.doubts)
