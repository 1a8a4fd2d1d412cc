"""Nine destinations by data alone: what each charges, and what it says about itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from fishplate.build import Money, Rates, Refused
from fishplate.build.commerce import Route, RuleOverride, Supplier
from fishplate.build.owner import Owner
from fishplate.landed import (
    Consignment,
    Goods,
    LandedCost,
    TravelAllowance,
    destinations,
    landed_cost,
    landed_trip,
    load_rules,
    rates_as_printed,
)
from fishplate.landed.kinds import OriginTax, Scope, Tax
from fishplate.landed.travel import allowance_rule

DAY = date(2026, 11, 24)
UNION = load_rules("NL").single_market
PROVINCES = {
    "AB": "5", "BC": "12", "MB": "12", "NB": "15", "NL": "15", "NS": "14", "NT": "5", "NU": "5", "ON": "13", "PE": "15",
    "QC": "14.975", "SK": "11", "YT": "5",
}  # fmt: skip


def sent_to(
    country: str,
    *values: float,
    by: str = "courier",
    start: str = "KR",
    heading: str | None = "870830",
    origin: str | None = None,
    region: str = "",
    private: bool = True,
    day: date = DAY,
    freight: float = 0,
    allowance: TravelAllowance | None = None,
    route: dict[str, Any] | None = None,
    supplier: dict[str, Any] | None = None,
    goods: dict[str, Any] | None = None,
    **more: Any,
) -> LandedCost:
    """Goods without any tax of the seller, in the currency of the destination."""
    rules = load_rules(country)
    currency = rules.currency
    owner = Owner(country=country, region=region, currency=currency, card_markup_percent=0, private_person=private)
    seller = Supplier.model_validate(
        {"id": "seller", "name": "Seller", "country": start, "currency": currency, "origin_tax": "none"}
        | (supplier or {})
    )
    way = Route.model_validate({"id": "way", "name": "Way", "kind": by, "from_country": start} | (route or {}))
    items = tuple(
        Goods(f"part {place}", Money.of(value, currency), heading=heading, origin=origin, **(goods or {}))
        for place, value in enumerate(values)
    )
    what = Consignment(seller, way, items, Money.of(freight, currency), False, day, **more)
    per_base = {} if currency == "EUR" else {"EUR": Decimal("0.1")}
    rates = Rates(base=currency, per_base=per_base, day=day, source="test")
    return landed_cost(what, owner, rules, rates, allowance=allowance)


def due(cost: LandedCost, *kinds: str) -> Decimal:
    return cost.sum_of(*kinds).amount  # type: ignore[arg-type]


def labels(cost: LandedCost) -> dict[str, Decimal]:
    return {line.label: line.amount.amount for line in cost.lines}


def test_nine_destinations_are_known_and_every_member_of_the_union() -> None:
    assert len(UNION) == 27
    assert set(destinations()) == {"CA", "US", "GB", "CH", "NO", "AU", "NZ", "JP", *UNION}


@pytest.mark.parametrize("country", destinations())
def test_every_rule_of_a_destination_names_source_and_status(country: str) -> None:
    rules = load_rules(country)
    assert all(rule.source and rule.status for rule in rules.rules)
    assert rules.on(DAY).taxes
    assert sent_to(country, 400).total.currency == rules.currency


def test_origin_taxes_of_the_union_are_those_of_its_import() -> None:
    """The same rates stand in two files: as import tax, and as the tax in a seller's price."""
    imported = {rule.member: rule.percent for rule in load_rules("NL").rules if isinstance(rule, Tax) and rule.member}
    sold = {rule.country: rule.percent for rule in load_rules("CH").rules if isinstance(rule, OriginTax)}
    assert {member: sold[member] for member in imported} == imported


# Canada


@pytest.mark.parametrize(("province", "percent"), PROVINCES.items())
def test_a_private_owner_pays_the_tax_of_the_province(province: str, percent: str) -> None:
    cost = sent_to("CA", 1000, region=province, heading="840991")
    assert due(cost, "tax") == Decimal(percent) * 10
    assert not any(item.code == "region-unknown" for item in cost.assumptions)


def test_harmonised_tax_takes_the_place_of_the_federal_one() -> None:
    assert set(labels(sent_to("CA", 1000, region="Ontario"))) >= {"HST"}
    assert "GST" not in labels(sent_to("CA", 1000, region="CA-ON"))
    assert {"GST", "QST"} <= set(labels(sent_to("CA", 1000, region="QC")))


def test_a_shop_pays_only_the_federal_tax_at_the_border() -> None:
    cost = sent_to("CA", 1000, region="ON", heading="840991", private=False)
    assert due(cost, "tax") == 50
    assert any("ca.commercial" in flag for flag in cost.flags)


def test_owner_without_a_province_gets_the_dearest_and_the_range() -> None:
    cost = sent_to("CA", 1000, heading="840991")
    assert due(cost, "tax") == 150
    (doubt,) = [doubt for doubt in cost.doubts if doubt.code == "region"]
    assert (doubt.low, doubt.high) == (Money.of(1050, "CAD"), Money.of(1150, "CAD"))
    assert any(item.code == "region-unknown" for item in cost.assumptions)


def test_unknown_province_is_refused_with_those_there_are() -> None:
    with pytest.raises(Refused, match=r"owner, region: not one of AB Alberta.*\('Texas'\)"):
        sent_to("CA", 1000, region="Texas")


def test_nova_scotia_taxes_by_the_day() -> None:
    assert due(sent_to("CA", 1000, region="NS", heading="840991", day=date(2025, 3, 31)), "tax") == 150
    assert due(sent_to("CA", 1000, region="NS", heading="840991", day=date(2025, 4, 1)), "tax") == 140


@pytest.mark.parametrize(
    ("by", "start", "value", "duty", "tax"),
    [
        ("post", "US", 20, 0, 0),
        ("post", "US", 30, "1.80", "1.59"),  # the amounts of 40 and 150 are not for mail
        ("courier", "US", 40, 0, 0),
        ("courier", "US", 140, 0, "7.00"),
        ("courier", "US", 151, "9.06", "8.00"),
        ("courier", "KR", 40, "2.40", "2.12"),
        ("freight", "US", 40, "2.40", "2.12"),
    ],
)
def test_canadian_limits_go_by_stream_and_place_of_shipment(
    by: str, start: str, value: float, duty: str, tax: str
) -> None:
    cost = sent_to("CA", value, by=by, start=start, region="AB")
    assert (due(cost, "duty"), due(cost, "tax")) == (Decimal(duty), Decimal(tax))


def test_buying_in_the_united_states_is_not_origin_there() -> None:
    made_elsewhere = sent_to("CA", 400, start="US", region="AB", origin="CN", goods={"proof": True})
    made_there = sent_to("CA", 400, start="US", region="AB", origin="US", goods={"proof": True})
    unproven = sent_to("CA", 400, start="US", region="AB", origin="US")
    assert [due(cost, "duty") for cost in (made_elsewhere, made_there, unproven)] == [24, 0, 24]


def test_proof_that_claims_nothing_is_said() -> None:
    for origin, words in ((None, "where they were made is not given"), ("BR", "no agreement of CA with BR is known")):
        cost = sent_to("CA", 400, region="ON", origin=origin, goods={"proof": True})
        assert any(words in flag for flag in cost.flags)
    claimed = sent_to("CA", 400, region="ON", origin="US", goods={"proof": True})
    assert not any("claims nothing" in flag for flag in claimed.flags)


def test_fasteners_are_surtaxed_for_a_shop_and_spared_for_a_person() -> None:
    person = sent_to("CA", 400, region="AB", heading="731815")
    shop = sent_to("CA", 400, region="AB", heading="731815", private=False)
    assert due(person, "duty") == 0
    assert labels(shop)["surtax on fasteners of steel, heading 731815"] == 100
    assert due(shop, "tax") == 25  # the surtax is in the base


def test_canadian_traveller_loses_all_under_two_days_and_the_excess_after() -> None:
    def carried(hours: float, value: float) -> Decimal:
        travel = TravelAllowance("land", hours)
        return due(sent_to("CA", value, by="collection", start="US", region="AB", allowance=travel), "duty", "tax")

    assert carried(24, 200) == 0
    assert carried(24, 201) == Decimal("22.71")  # 6 % and 5 % on all of it
    assert carried(48, 1000) == Decimal("24.70")  # 7 % on 200, 5 % of 214
    assert carried(48, 1300) == Decimal("59.65")  # 7 % on 300, 6 % on 200, 5 % of 533
    assert carried(20, 100) == Decimal("11.30")  # the same day: nothing is free


def test_old_and_undated_fee_tables_are_hints_and_never_charged() -> None:
    cost = sent_to("CA", 400, region="AB")
    assert due(cost, "fee") == 0
    hints = [str(item) for item in cost.assumptions if item.code == "fee-hint"]
    assert len(hints) == 2
    assert any("2.7 % of charges, at least 6 CAD: here 6.00 CAD (undated" in hint for hint in hints)
    assert any("as of 30 December 2013, over two years ago" in hint for hint in hints)
    entered = sent_to("CA", 400, region="AB", route={"entry_fee": {"amount": "12", "currency": "CAD"}})
    assert due(entered, "fee") == 12
    assert not [item for item in entered.assumptions if item.code == "fee-hint"]


def test_hint_says_what_the_old_table_would_ask_here() -> None:
    """The tables of 2013 and 2012: 29.00 CAD for goods up to 200; 2.7 % of 24.00 advanced, at least 6.00."""
    cost = sent_to("CA", 180, region="ON")
    hints = [item.text for item in cost.assumptions if item.code == "fee-hint"]
    assert [words for words in ("here 29.00 CAD", "here 6.00 CAD") if any(words in text for text in hints)] == [
        "here 29.00 CAD", "here 6.00 CAD",
    ]  # fmt: skip


@pytest.mark.parametrize(("country", "by"), [("NL", "courier"), ("NL", "post"), ("AU", "courier")])
def test_carrier_of_which_nothing_is_known_is_said_to_be_left_out(country: str, by: str) -> None:
    codes = [item.code for item in sent_to(country, 1800, by=by).assumptions]
    assert "carrier-unknown" in codes
    assert "carrier-unknown" not in [
        item.code for item in sent_to(country, 1800, by=by, route={"entry_fee": Money.of(0, "EUR")}).assumptions
    ]


def test_fresh_fee_table_of_a_post_is_used_until_two_years_are_over() -> None:
    fresh, late = date(2026, 8, 1), date(2029, 8, 1)
    assert labels(sent_to("SE", 4000, by="post", day=fresh))["handling by the post"] == 100
    assert "handling by the post" not in labels(sent_to("SE", 4000, by="post", day=late))


# United States


def test_surtax_is_matched_to_the_digits_the_law_has() -> None:
    """8708.99.81 is not on the list of parts, 8708.99.53 is; 8708.99 may be, so it is counted and a range shown."""
    assert due(sent_to("US", 1000, heading="87089953", origin="BR"), "duty") == 275
    assert due(sent_to("US", 1000, heading="8708998180", origin="BR"), "duty") == 25
    unsure = sent_to("US", 1000, heading="870899", origin="BR")
    assert due(unsure, "duty") == 275
    (doubt,) = [doubt for doubt in unsure.doubts if doubt.code == "heading"]
    assert (doubt.low, doubt.high) == (unsure.total - Money.of(250, "USD"), unsure.total)
    assert "us.s232.autoparts" in doubt.text


def test_surtaxes_of_china_stack_and_those_of_a_deal_do_not() -> None:
    chinese = labels(sent_to("US", 1000, heading="87083050", origin="CN"))
    assert chinese["section 232, vehicle parts, heading 87083050"] == 250
    assert chinese["section 301, China, heading 87083050"] == 250
    japanese = labels(sent_to("US", 1000, heading="87083050", origin="JP"))
    assert japanese["section 232, vehicle parts, heading 87083050"] == 125  # up to 15 % with the tariff's 2.5


def test_ceiling_adds_nothing_where_the_tariff_is_higher() -> None:
    given = [RuleOverride(rule="duty.87083050", value=18, source="test", day=DAY)]
    rules, _ = load_rules("US").with_overrides(given)
    parts = rules.on(DAY).burden("87083050", "JP")
    assert [part.share * 100 for part in parts] == [18, 0]


def test_surcharge_spares_goods_that_pay_the_other_and_ends_on_its_day() -> None:
    during = date(2026, 3, 10)
    assert (
        labels(sent_to("US", 1000, heading="84099150", origin="BR", day=during))[
            "section 122 surcharge, heading 84099150"
        ]
        == 100
    )
    on_list = labels(sent_to("US", 1000, heading="87083050", origin="BR", day=during))
    assert not any("122" in label for label in on_list)
    after = labels(sent_to("US", 1000, heading="84099150", origin="BR", day=date(2026, 7, 24)))
    assert not any("122" in label for label in after)


def test_proposed_surtax_is_only_the_upper_end_of_a_range() -> None:
    cost = sent_to("US", 1000, heading="84099150", origin="BR")
    (doubt,) = [doubt for doubt in cost.doubts if doubt.code == "heading"]
    assert (cost.total, doubt.low) == (doubt.low, cost.total)
    assert doubt.high == cost.total + Money.of(125, "USD")
    assert "us.s301.forced_labour" in doubt.text
    assert "us.s301.forced_labour" in {rule.id for rule in cost.rules}


@pytest.mark.parametrize(
    ("heading", "origin", "more"),
    [("870892", "BR", 250), ("870892", "GB", 150), ("73181520", "BR", 500), ("73181520", "GB", 250)],
)
def test_metals_of_which_the_annex_is_not_held_are_the_upper_end(heading: str, origin: str, more: int) -> None:
    """Proclamation of 2 April 2026: 50 or 25 % on fasteners, 25 % on parts named by the second annex; half for GB, 15 %
    of parts; the exhaust 8708.92 is not on the list of vehicle parts, fasteners are no parts of one."""
    cost = sent_to("US", 1000, heading=heading, origin=origin)
    (doubt,) = [doubt for doubt in cost.doubts if doubt.code == "heading"]
    assert doubt.high == cost.total + Money.of(more, "USD")


def test_rule_that_only_the_range_rests_on_is_flagged_too() -> None:
    cost = sent_to("US", 1000, heading="87083050", origin="GB")
    assert any(flag.startswith("us.s232.deal.gb: undated") for flag in cost.flags)


def test_goods_that_come_back_are_free_where_a_rule_says_so() -> None:
    """Returned goods relief of four customs laws (from memory): no duty, no tax, and not paid for again."""
    for country in ("CA", "GB", "DE", "US"):
        cost = sent_to(country, 3000, region="ON" if country == "CA" else "", returning=True, freight=40, origin="BR")
        assert due(cost, "goods", "duty", "tax") == 0
        assert due(cost, "freight") == 40
        assert any("keep its papers" in flag for flag in cost.flags)
    unknown = sent_to("NO", 3000, returning=True)
    assert due(unknown, "tax") == 750
    assert any("no rule of NO for goods that come back is known" in flag for flag in unknown.flags)


def test_gift_is_not_paid_for_but_declared_at_its_worth() -> None:
    cost = sent_to("CA", 200, by="post", region="AB", heading="840991", gift=True)
    assert due(cost, "goods", "exchange") == 0
    assert due(cost, "tax") == 7  # 5 % of what exceeds 60


def test_business_is_given_no_relief_for_a_gift() -> None:
    cost = sent_to("GB", 39, by="post", gift=True, private=False)
    assert due(cost, "tax") == Decimal("7.80")
    assert any("only between private persons" in flag for flag in cost.flags)


def test_customs_converts_at_the_rate_it_prints_where_the_owner_entered_it() -> None:
    """Australia prints foreign units for one dollar of its own, Canada its dollars for one foreign unit."""
    for country, printed, rate in (("AU", 0.8, 1.25), ("CA", 1.25, 1.25)):
        given = [RuleOverride(rule=f"{country.lower()}.exchange/USD", value=printed, source="its table", day=DAY)]
        owner = Owner(country=country, currency=load_rules(country).currency, region="ON", card_markup_percent=0)
        seller = Supplier(id="seller", name="Seller", country="KR", currency="USD", origin_tax="none")
        way = Route(id="way", name="Way", kind="courier", from_country="KR")
        goods = (Goods("part", Money.of(1000, "USD"), heading="870830"),)
        what = Consignment(seller, way, goods, Money.of(0, "USD"), False, DAY)
        rates = Rates(base=owner.currency, per_base={"USD": Decimal("0.5")}, day=DAY, source="card")
        cost = landed_cost(what, owner, load_rules(country), rates, given)
        assert due(cost, "goods") == 2000  # paid at the owner's rate
        (duty,) = [line for line in cost.lines if line.kind == "duty"]
        assert duty.of == Money.of(1000 * rate, owner.currency)
        assert any(f"customs converts USD at {printed}" in str(item) for item in cost.assumptions)


def test_allowance_named_for_a_way_of_travel_comes_before_the_one_for_any() -> None:
    rules = load_rules("GB").on(DAY, Scope("traveller"))
    found = [allowance_rule(TravelAllowance(travel), rules).id for travel in ("private-craft", "land", None)]
    assert found == ["gb.traveller.private", "gb.traveller", "gb.traveller.private"]


def test_unknown_origin_leaves_a_range_over_every_origin_that_matters() -> None:
    cost = sent_to("US", 1000, heading="87083050")
    assert due(cost, "duty") == 275
    (doubt,) = [doubt for doubt in cost.doubts if doubt.code == "heading"]
    assert doubt.high == cost.total + Money.of(250, "USD")  # made in China
    assert doubt.low == cost.total - Money.of(175, "USD")  # 10 % all in


def test_american_duty_is_of_whole_dollars() -> None:
    cost = sent_to("US", 99.49, heading="87083050", origin="BR")
    assert due(cost, "duty") == Decimal("27.23")  # 99 x 2.5 % = 2.475, half up; and 24.75


def test_low_value_was_free_until_its_last_day() -> None:
    assert due(sent_to("US", 800, day=date(2025, 8, 28)), "duty", "fee") == 0
    now = sent_to("US", 800)
    assert due(now, "duty") > 0
    assert any("us.deminimis.suspended" in flag for flag in now.flags)


def test_fee_whose_year_is_over_stands_in_and_says_so() -> None:
    cost = sent_to("US", 1000)
    assert labels(cost)["merchandise processing fee"] == Decimal("2.69")
    assert "us.mpf.informal: out of validity since 2026-09-30; used for want of another" in cost.flags
    assert due(sent_to("US", 1000, day=date(2026, 6, 1)), "fee") == Decimal("2.69")


def test_formal_entry_has_its_own_fee_and_a_notice() -> None:
    cost = sent_to("US", 3000)
    assert labels(cost)["merchandise processing fee"] == Decimal("33.58")
    assert any("us.informal.limit" in flag for flag in cost.flags)
    freed = sent_to("US", 3000, origin="CA", goods={"proof": True})
    assert due(freed, "duty", "fee") == 0


def test_american_exemption_needs_two_days_and_thirty_since_the_last() -> None:
    def carried(**travel: Any) -> Decimal:
        allowance = TravelAllowance("land", **travel)
        cost = sent_to("US", 600, by="collection", start="CA", heading="87083050", origin="CA", allowance=allowance)
        return due(cost, "duty")

    assert carried(absence_hours=48) == 0
    # 200 at most, and above it all; the flat rate too holds once in thirty days, so the tariff of 2.5 % on 600
    assert carried(absence_hours=48, days_since_last=29) == 15
    assert carried(absence_hours=48, days_since_last=30) == 0
    assert carried(absence_hours=30) == 18


def test_mail_paid_one_rate_alone_from_february_to_july_2026() -> None:
    """Executive order of 20 February 2026: mail pays the rate of section 122 and no other duty."""
    for day, duty in ((date(2026, 2, 23), 275), (date(2026, 2, 24), 100), (date(2026, 7, 23), 100)):
        cost = sent_to("US", 1000, by="post", heading="87083050", origin="BR", day=day)
        assert due(cost, "duty") == duty
    proven = sent_to("US", 1000, by="post", heading="87083050", origin="CA", day=day, goods={"proof": True})
    assert due(proven, "duty") == 0


# Great Britain, Switzerland, Norway, Australia, New Zealand, Japan


def test_british_low_value_is_free_of_duty_and_taxed_at_the_sale() -> None:
    collecting = sent_to("GB", 135, freight=10, supplier={"collects_import_tax": True})
    assert due(collecting, "duty") == 0
    assert labels(collecting)["import VAT"] == 29
    above = sent_to("GB", 136, freight=10, supplier={"collects_import_tax": True})
    assert due(above, "duty") == Decimal("5.84")
    assert any("falls due on entry" in flag for flag in above.flags)


def test_british_traveller_by_own_boat_has_less() -> None:
    by_ferry = TravelAllowance("air-sea")
    assert due(sent_to("GB", 300, by="collection", allowance=by_ferry), "duty", "tax") == 0
    assert due(sent_to("GB", 300, by="collection", allowance=TravelAllowance("private-craft")), "tax") > 0


def test_swiss_fee_of_the_post_joins_the_base_of_the_tax() -> None:
    """On a day when the table was fresh: goods 200, fee 16 + 3 % = 22, tax 8.1 % of 222 = 17.98, to five centimes."""
    cost = sent_to("CH", 200, by="post", day=date(2024, 6, 1))
    assert labels(cost)["clearance by the post"] == 22
    assert due(cost, "tax") == 18
    near = sent_to("CH", 200, by="post", start="DE", day=date(2024, 6, 1))
    assert labels(near)["clearance by the post"] == 19


def test_entry_fee_as_entered_joins_the_swiss_base_too() -> None:
    cost = sent_to("CH", 200, route={"entry_fee": {"amount": "20", "currency": "CHF"}})
    assert due(cost, "tax") == Decimal("17.80")  # 8.1 % of 220 = 17.82


def test_swiss_tax_below_five_francs_is_waived_with_the_fee_by_post_only() -> None:
    assert due(sent_to("CH", 60, by="post", day=date(2024, 6, 1)), "tax", "fee") == 0
    assert due(sent_to("CH", 60, day=date(2024, 6, 1)), "tax") == Decimal("4.85")


def test_norwegian_allowance_asks_for_more_than_a_day_abroad() -> None:
    """Norwegian Customs, value limit: 6,000 after more than 24 hours, else 3,000."""
    for hours, tax in ((24, 1250), (24.5, 0)):
        cost = sent_to("NO", 5000, by="collection", allowance=TravelAllowance("land", hours))
        assert due(cost, "tax") == tax


def test_german_flat_rate_is_lower_with_the_proof_of_a_preferential_origin() -> None:
    """German customs as the press has it: 17.5 % of all, 15 % of goods of preferential origin."""
    for proof, charge in ((False, "87.50"), (True, "75.00")):
        cost = sent_to(
            "DE", 500, by="collection", origin="GB", allowance=TravelAllowance("land"), goods={"proof": proof}
        )
        assert due(cost, "duty", "tax") == Decimal(charge)


def test_norwegian_seller_collects_by_item_and_not_by_consignment() -> None:
    three = sent_to("NO", 2500, 2500, 2500, supplier={"collects_import_tax": True})
    assert labels(three)["import VAT"] == 1875
    assert not any(line.due == "arrival" and line.amount.amount for line in three.lines)
    one = sent_to("NO", 3000, supplier={"collects_import_tax": True})
    assert any(line.due == "arrival" and line.amount.amount for line in one.lines)


def test_australian_limit_frees_duty_tax_and_fees_and_the_seller_charges() -> None:
    assert due(sent_to("AU", 1000, freight=100), "duty", "tax", "fee") == 0
    collecting = sent_to("AU", 1000, freight=100, supplier={"collects_import_tax": True})
    assert due(collecting, "tax") == 110
    above = labels(sent_to("AU", 1001, freight=100))
    assert (above["import processing charge"], above["biosecurity charge"]) == (50, 45)
    assert labels(sent_to("AU", 10_000))["import processing charge"] == 152
    assert labels(sent_to("AU", 2000, by="freight"))["biosecurity charge"] == 66


@pytest.mark.parametrize(("country", "limit"), [("AU", 900), ("NZ", 700)])
def test_traveller_down_under_pays_on_everything_above_the_allowance(country: str, limit: int) -> None:
    air = TravelAllowance("air-sea")
    within = sent_to(country, limit, by="collection", allowance=air)
    assert due(within, "duty", "tax") == 0
    assert any(f"{country.lower()}.traveller" in flag for flag in within.flags)  # no day is known of either page
    above = sent_to(country, limit + 1, by="collection", allowance=air)
    assert due(above, "duty", "tax") == due(sent_to(country, limit + 1, by="collection"), "duty", "tax") > 0


def test_a_family_may_pool_its_allowance_in_australia_only() -> None:
    two = TravelAllowance("air-sea", persons=2)
    assert due(sent_to("AU", 1500, by="collection", allowance=two), "duty", "tax") == 0
    assert due(sent_to("NZ", 1100, by="collection", allowance=two), "duty", "tax") > 0


@pytest.mark.parametrize("country", ["AU", "NZ", "CH"])
def test_dividing_an_order_spares_neither_fees_nor_small_tax(country: str) -> None:
    worth, by = (900, "courier") if country != "CH" else (50, "post")
    alone, divided = sent_to(country, worth, by=by), sent_to(country, worth, by=by, divided=True)
    assert due(alone, "duty", "tax", "fee") == 0
    whole = sent_to(country, 1001 if country != "CH" else 100, by=by)
    assert labels(divided).keys() >= {name for name, amount in labels(whole).items() if amount and "duty" not in name}
    assert due(divided, "fee") == due(whole, "fee")


def test_new_zealand_says_which_fees_are_not_known() -> None:
    cost = sent_to("NZ", 1200)
    assert due(cost, "fee") == Decimal("106.80")
    assert any("nz.fee.2026" in flag for flag in cost.flags)
    assert any("nz.fee.entry: out of validity since 2026-03-31" in flag for flag in cost.flags)


def test_japanese_business_pays_on_the_full_worth_with_freight() -> None:
    person = sent_to("JP", 40_000, freight=5_000)
    business = sent_to("JP", 40_000, freight=5_000, private=False)
    assert due(person, "tax") == 2300
    assert due(business, "tax") == 4400  # base 45,000: 3,510 -> 3,500; 987 -> 900


# what holds for all


def test_gift_relief_is_for_gifts_and_a_purchase_is_none() -> None:
    assert due(sent_to("NL", 45, by="post", gift=True), "duty", "tax") == 0
    assert due(sent_to("NL", 45, by="post"), "duty", "tax") > 0


def test_allowance_of_others_counts_only_where_a_rule_says_so() -> None:
    """Borrowed allowances: the owner's household adds nothing in the Union, and pools in the United States."""
    several = TravelAllowance("land", 48, persons=3)
    union = sent_to("NL", 300, 300, by="collection", allowance=several)
    assert union.free_value == Money.of(300, "EUR")
    assert any("add nothing" in flag for flag in union.flags)
    states = sent_to("US", 2000, by="collection", heading="87083050", origin="BR", allowance=several)
    assert states.free_value == Money.of(2000, "USD")


def test_one_trip_is_one_declaration_where_a_limit_is_of_everything() -> None:
    """150 and 150 from two sellers are 300, above the 200 that a day's absence frees in Canada."""
    owner = Owner(country="CA", currency="CAD", region="AB", card_markup_percent=0)
    way = Route(id="way", name="Way", kind="collection", from_country="US")
    rates = Rates(base="CAD", per_base={}, day=DAY, source="test")
    parcels = [
        Consignment(
            Supplier(id=name, name=name, country="US", currency="CAD", origin_tax="none"), way,
            (Goods("part", Money.of(150, "CAD"), heading="870830"),), Money.of(0, "CAD"), False, DAY,
        )
        for name in ("one", "two")
    ]  # fmt: skip
    rules, travel = load_rules("CA"), TravelAllowance("land", 24)
    costs = landed_trip(parcels, owner, rules, rates, allowance=travel)
    assert all(due(cost, "duty") == 9 for cost in costs)
    alone = landed_trip(parcels[:1], owner, rules, rates, allowance=travel)
    assert due(alone[0], "duty", "tax") == 0


def test_customs_converts_at_its_own_rate_where_it_is_given() -> None:
    rules = load_rules("CA")
    owner = Owner(country="CA", currency="CAD", region="AB", card_markup_percent=0)
    seller = Supplier(id="seller", name="Seller", country="KR", currency="USD", origin_tax="none")
    way = Route(id="way", name="Way", kind="courier", from_country="KR")
    what = Consignment(
        seller, way, (Goods("part", Money.of(100, "USD"), heading="840991"),), Money.of(0, "USD"), False, DAY
    )
    paid = Rates(base="CAD", per_base={"USD": Decimal("0.8")}, day=DAY, source="card")
    shipped = rates_as_printed(rules, {"USD": Decimal("1.15")}, DAY, "the authority")
    cost = landed_cost(what, owner, rules, paid, customs_rates=shipped)
    assert due(cost, "goods") == 125
    assert due(cost, "tax") == Decimal("5.75")
    assert not [item for item in cost.assumptions if item.code == "customs-rate"]
    guessed = landed_cost(what, owner, rules, paid)
    assert any("the day of shipment" in str(item) for item in guessed.assumptions if item.code == "customs-rate")


def test_rate_table_without_a_direction_or_with_a_zero_is_refused() -> None:
    with pytest.raises(Refused, match="which way round"):
        rates_as_printed(load_rules("JP"), {"USD": Decimal(150)}, DAY, "x")
    with pytest.raises(Refused, match="customs rates of AU, USD: a rate is above zero"):
        rates_as_printed(load_rules("AU"), {"USD": Decimal(0)}, DAY, "x")


@pytest.mark.parametrize(
    ("override", "value", "line", "amount"),
    [
        ("us.mpf.formal/minimum", 40, "merchandise processing fee", "40.00"),
        ("us.mpf.formal", 25, "merchandise processing fee", "25.00"),
        ("us.s232.autoparts", 10, "section 232, vehicle parts, heading 87083050", "300.00"),
    ],
)
def test_any_value_of_a_rule_can_be_set_by_the_owner_in_sight(
    override: str, value: float, line: str, amount: str
) -> None:
    owner = Owner(country="US", currency="USD", card_markup_percent=0)
    way = Route(id="way", name="Way", kind="courier", from_country="BR")
    seller = Supplier(id="seller", name="Seller", country="BR", currency="USD", origin_tax="none")
    goods = (Goods("part", Money.of(3000, "USD"), heading="87083050", origin="BR"),)
    what = Consignment(seller, way, goods, Money.of(0, "USD"), False, DAY)
    given = [RuleOverride(rule=override, value=value, source="broker's letter", day=DAY)]
    rates = Rates(base="USD", per_base={}, day=DAY, source="test")
    cost = landed_cost(what, owner, load_rules("US"), rates, given)
    (found,) = [one for one in cost.lines if one.label == line]
    assert found.amount.amount == Decimal(amount)
    assert "broker's letter" in found.note


def test_rules_of_one_day_differ_by_how_goods_come_in() -> None:
    rules = load_rules("CA")
    post, courier = rules.on(DAY, Scope("post")), rules.on(DAY, Scope("courier", sent_from="US"))
    assert {rule.id for rule in post.reliefs} == {"ca.lvt.post"}
    assert {rule.id for rule in courier.reliefs} == {"ca.lvt.courier.cusma", "ca.lvt.courier.cusma.duty"}


def test_divided_order_gets_no_relief_in_any_destination() -> None:
    for country, value in (("CA", 40), ("GB", 135), ("AU", 1000), ("NZ", 1000), ("JP", 16_000)):
        whole = sent_to(country, value, start="US", region="AB" if country == "CA" else "")
        divided = sent_to(country, value, start="US", region="AB" if country == "CA" else "", divided=True)
        assert divided.exact > whole.exact, country
        assert any("general.divided" in flag for flag in divided.flags), country


def beside(country: str, *values: float) -> dict[str, Any]:
    """What a consignment is told of the others that the plan divided from it."""
    currency = load_rules(country).currency
    return {"divided": True, "beside": tuple(Goods("other", Money.of(value, currency)) for value in values)}


@pytest.mark.parametrize(
    ("country", "value", "others", "fee"),
    [
        ("US", 2000, (500,), "2.69"),  # 2,500 in all is still informal: CSMS 65741993, 19 CFR 143.21
        ("US", 2000, (500.01,), "33.58"),  # the least of a formal entry: 90 FR 34665
        ("US", 12_000, (2000,), "41.57"),  # 0.3464 % of its own worth, and no more
        ("AU", 6000, (3999.99,), "95.00"),  # import processing 50 below 10,000, biosecurity 45: ABF's charges
        ("AU", 6000, (2000, 2000), "197.00"),  # exactly 10,000 pays 152
        ("AU", 900, (9200,), "197.00"),  # also for a part that alone would be of low value
        ("NZ", 600, (600,), "106.80"),
    ],
)
def test_a_divided_order_finds_the_authoritys_fee_at_its_whole_worth(
    country: str, value: float, others: tuple[float, ...], fee: str
) -> None:
    """Each consignment pays its own fee, of the step that all of them together would have reached."""
    cost = sent_to(country, value, day=date(2026, 3, 10), route={"advance_percent": 1}, **beside(country, *others))
    assert sum(line.amount.amount for line in cost.lines if line.rule.split(".")[0] == country.lower()
               and line.kind == "fee") == Decimal(fee)  # fmt: skip
    stepped = [line.note for line in cost.lines if line.rule in ("us.mpf.formal", "us.mpf.informal", "au.ipc")]
    assert all("all that the plan divided" in note for note in stepped)
    formal = any("us.informal.limit" in flag for flag in cost.flags)
    assert formal == (country == "US" and value + sum(others) > 2500)


def test_a_carriers_table_goes_by_the_parcel() -> None:
    """What a carrier asks for each parcel is its price, and no relief: the order as a whole does not matter."""
    steps = {"entry_steps": [
        {"up_to": {"amount": 500, "currency": "EUR"}, "fee": {"amount": 9, "currency": "EUR"}},
        {"fee": {"amount": 40, "currency": "EUR"}},
    ]}  # fmt: skip
    assert labels(sent_to("NL", 400, route=steps, **beside("NL", 400)))["customs entry"] == 9
    table = {"start": "US", "region": "ON", "day": date(2014, 6, 2)}
    assert labels(sent_to("CA", 300, **table, **beside("CA", 300)))["entry by the courier"] == 47


@pytest.mark.parametrize(
    ("country", "value", "others", "at_sale"),
    [
        ("NL", 70, (80,), True),  # 150 EUR, freight not counted: Revenue, the Union's one-stop shop
        ("NL", 70, (80.01,), False),
        ("GB", 100, (35,), True),  # 135 GBP
        ("GB", 100, (35.01,), False),
        ("AU", 600, (400.01,), False),
        ("NZ", 600, (400.01,), False),
        ("NO", 2000, (2000, 2999), True),  # 3,000 NOK for each thing, whatever comes with it
        ("NO", 2000, (3000,), False),
    ],
)
def test_a_sellers_limit_counts_a_divided_order_as_the_whole(
    country: str, value: float, others: tuple[float, ...], at_sale: bool
) -> None:
    collecting = {"supplier": {"collects_import_tax": True}}
    cost = sent_to(country, value, **collecting, **beside(country, *others))
    taxes = [line for line in cost.lines if line.kind == "tax"]
    assert taxes
    assert all(line.due == ("purchase" if at_sale else "arrival") for line in taxes)
    assert any("all that the plan orders from it" in flag for flag in cost.flags) != at_sale


@pytest.mark.parametrize(
    ("goods", "words"),
    [
        ({"mass_kg": -1.0}, "consignment, part 0, mass: a mass cannot be below zero"),
        ({"quantity": 0}, "consignment, part 0, quantity: there is at least some"),
    ],
)
def test_goods_that_cannot_be_are_refused_with_place_and_remedy(goods: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused, match=words):
        sent_to("NL", 100, goods=goods)


@pytest.mark.parametrize("heading", ["87", "87.08", "8708999", "car parts", "0000", "7701", "9903", "98130000"])
def test_wrong_heading_is_refused_with_place_and_remedy(heading: str) -> None:
    with pytest.raises(
        Refused, match=r"consignment, part 0, heading: not a tariff heading.*Enter 4, 6, 8 or 10 digits"
    ):
        sent_to("NL", 100, heading=heading)


@pytest.mark.parametrize("rate", ["10.978", "7.4612", "0.00074891", "1491.76", "3.33333"])
@pytest.mark.parametrize(("worth", "pieces", "free"), [("150", 1, True), ("50", 3, True), ("150.01", 1, False)])
def test_limit_in_another_currency_is_exact_at_the_limit(rate: str, worth: str, pieces: int, free: bool) -> None:
    """Goods of 150 EUR and a limit of 150 EUR, both through one exchange rate, where the currency is another."""
    seller = Supplier(id="seller", name="Seller", country="KR", currency="EUR", origin_tax="none")
    way = Route(id="way", name="Way", kind="courier", from_country="KR")
    goods = tuple(Goods(f"part {place}", Money.of(worth, "EUR"), heading="84821090") for place in range(pieces))
    what = Consignment(seller, way, goods, Money.of(0, "EUR"), False, date(2026, 6, 30))
    owner = Owner(country="SE", currency="SEK", card_markup_percent=0)
    rates = Rates(base="SEK", per_base={"EUR": 1 / Decimal(rate)}, day=DAY, source="test")
    assert (due(landed_cost(what, owner, load_rules("SE"), rates), "duty") == 0) is free


@pytest.mark.parametrize("rate", ["10.978", "7.4612", "3.33333"])
def test_allowance_in_another_currency_is_exact_at_the_limit(rate: str) -> None:
    """Of 100.01, 199.99 and 20 EUR the first two fill the allowance of 300 EUR to the cent, whatever the rate."""
    seller = Supplier(id="seller", name="Seller", country="KR", currency="EUR", origin_tax="none")
    way = Route(id="way", name="Way", kind="collection", from_country="KR")
    goods = tuple(Goods(f"part {value}", Money.of(value, "EUR")) for value in ("100.01", "199.99", 20))
    what = Consignment(seller, way, goods, Money.of(0, "EUR"), False, DAY)
    owner = Owner(country="SE", currency="SEK", card_markup_percent=0)
    rates = Rates(base="SEK", per_base={"EUR": 1 / Decimal(rate)}, day=DAY, source="test")
    cost = landed_cost(what, owner, load_rules("SE"), rates, allowance=TravelAllowance("land"))
    (duty,) = [line for line in cost.lines if line.kind == "duty"]
    assert duty.of is not None
    assert abs(duty.of.amount - 20 * Decimal(rate)) < Decimal("1e-6")


@pytest.mark.parametrize("inland", [Money.of(-1, "EUR"), Money.of(31, "EUR"), Money.of(5, "USD")])
def test_freight_beyond_the_border_is_a_part_of_the_freight(inland: Money) -> None:
    with pytest.raises(Refused, match=r"freight inland: the part beyond the border is between nothing and the whole"):
        sent_to("NL", 100, freight=30, freight_inland=inland)


def test_set_counts_as_one_item_to_a_traveller_everywhere() -> None:
    """Four tyres sold as a set of 600 do not become four of 150."""
    travel = TravelAllowance("air-sea", 48)
    for country in ("NL", "NO", "JP"):
        scale = {"NL": 1, "NO": 14, "JP": 450}[country]
        pieces = sent_to(country, 600 * scale, by="collection", goods={"quantity": 4}, allowance=travel)
        one = sent_to(country, 600 * scale, by="collection", goods={"quantity": 4, "kind": "set"}, allowance=travel)
        assert one.free_value.amount == 0, country
        assert pieces.free_value.amount > 0, country


def test_private_owner_gets_no_refund_on_vehicle_parts_but_may_on_general_goods() -> None:
    shop = Supplier(id="shop", name="Shop", country="DE", currency="EUR", origin_tax="refund")
    way = Route(id="way", name="Way", kind="collection", from_country="DE")
    rates = Rates(base="CHF", per_base={"EUR": Decimal("1.0638")}, day=DAY, source="test")
    owner = Owner(country="CH", currency="CHF", card_markup_percent=0)

    def bought(value: float, use: str) -> LandedCost:
        goods = (Goods("thing", Money.of(value, "EUR"), use=use),)  # type: ignore[arg-type]
        what = Consignment(shop, way, goods, Money.of(0, "EUR"), True, DAY)
        return landed_cost(what, owner, load_rules("CH"), rates, allowance=TravelAllowance("land"))

    assert due(bought(119, "vehicle"), "origin-tax") == 0
    assert any("only if the seller exports" in flag for flag in bought(119, "vehicle").flags)
    assert due(bought(119, "general"), "origin-tax") < 0
    assert due(bought(50, "general"), "origin-tax") == 0  # a receipt of 50 EUR or less


def test_mixed_uses_on_one_receipt_are_treated_each_by_its_own() -> None:
    shop = Supplier(id="shop", name="Shop", country="DE", currency="CHF", origin_tax="refund")
    way = Route(id="way", name="Way", kind="collection", from_country="DE")
    rates = Rates(base="CHF", per_base={}, day=DAY, source="test")
    owner = Owner(country="CH", currency="CHF", card_markup_percent=0)
    goods = (Goods("part", Money.of(119, "CHF")), Goods("lamp", Money.of(119, "CHF"), use="general"))
    what = Consignment(shop, way, goods, Money.of(0, "CHF"), True, DAY)
    cost = landed_cost(what, owner, load_rules("CH"), rates, allowance=TravelAllowance("land"))
    assert due(cost, "origin-tax") == -19
    swapped = landed_cost(replace(what, goods=goods[::-1]), owner, load_rules("CH"), rates)
    assert due(swapped, "origin-tax") == -19
