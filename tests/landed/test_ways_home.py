"""Ways home: what each adds beside freight, what it counts as, and what it does not take."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from random import Random
from typing import Any

import pytest
from pydantic import ValidationError

from fishplate.build import Money, Rates, build_from_data
from fishplate.build.commerce import FreightTerms, Route, Supplier
from fishplate.build.owner import Owner
from fishplate.landed import (
    Consignment,
    Goods,
    LandedCost,
    RuleSet,
    charge_bands,
    chargeable_mass_kg,
    landed_cost,
    likely_bill,
    load_rules,
    offered_goods,
)
from fishplate.landed import route_problem as problem_of
from fishplate.landed.bands import BandUnits
from fishplate.landed.freight import volumetric_mass

DAY = date(2026, 11, 24)
RULES = load_rules("NL")
# The bands are linear, so they are held against a reckoning that rounds no step.
UNROUNDED = replace(RULES, rules=tuple(rule for rule in RULES.rules if rule.kind != "rounding"), _days={}, _with={})
RATES = Rates(base="EUR", per_base={"GBP": Decimal("0.8")}, day=DAY, source="test")
OWNER = Owner(card_markup_percent=2)
SELLER = Supplier.model_validate(
    {
        "id": "seller", "name": "Seller", "country": "GB", "currency": "EUR", "origin_tax": "none",
        "freight": [{"route": "way", "fixed": {"amount": "100", "currency": "EUR"}}],
    }
)  # fmt: skip


def way(kind: str, **more: Any) -> Route:
    return Route.model_validate(
        {"id": "way", "name": "Way", "kind": kind, "from_country": "GB", "fees_as_of": DAY} | more
    )


def money(amount: float, currency: str = "EUR") -> dict[str, str]:
    return {"amount": str(amount), "currency": currency}


def cost_by(
    route: Route | None, supplier: Supplier = SELLER, value: float | str = 1000, rules: RuleSet = RULES
) -> LandedCost:
    goods = (Goods("axle", Money.of(value, "EUR"), heading="870830", mass_kg=80.0),)
    freight = Money.of(100 if route is not None else 0, "EUR")
    return landed_cost(Consignment(supplier, route, goods, freight, False, DAY), OWNER, rules, RATES)


def amounts(cost: LandedCost) -> dict[str, Decimal]:
    return {line.label: line.amount.amount for line in cost.lines}


def test_freight_on_a_pallet_names_pallet_lift_and_private_address() -> None:
    route = way("freight", pallet=money(20), tail_lift=money(30), residential=money(40), entry_fee=money(50))
    cost = amounts(cost_by(route))
    assert (cost["pallet and packing"], cost["tail lift"], cost["delivery to a private address"]) == (20, 30, 40)
    # duty on 1000 + 100 + 20 to the border; tax also on the 70 beyond it
    assert cost["duty, heading 870830"] == Decimal("50.40")
    assert cost["import tax"] == Decimal("260.48")  # 21 % of 1190 + 50.40


def test_freight_paid_on_arrival_is_said_and_charged_its_fee() -> None:
    collect = SELLER.model_copy(update={"freight": (SELLER.freight[0].model_copy(update={"collect": True}),)})
    cost = cost_by(way("freight", collect_fee=money(15)), collect)
    assert amounts(cost)["freight on arrival"] == 15
    (freight,) = [line for line in cost.lines if line.label == "freight"]
    assert "paid to the carrier on arrival" in freight.note
    assert "freight" in {line.label for line in likely_bill(cost)}
    assert "freight" not in {line.label for line in likely_bill(cost_by(way("freight")))}


def test_forwarder_counts_as_transport_to_the_border() -> None:
    cost = amounts(cost_by(way("forwarder", handling=money(10))))
    assert cost["forwarder's handling"] == 10
    assert cost["duty, heading 870830"] == Decimal("49.95")  # 1110 x 4.5 %


def test_own_delivery_of_the_seller_has_no_carriers_fees_and_says_so() -> None:
    cost = cost_by(way("delivery"))
    assert not cost.sum_of("fee").amount
    (said,) = [item for item in cost.assumptions if item.code == "carrier-unknown"]
    assert "what Way asks for the customs entry" in said.text


def test_fees_entered_for_the_sellers_own_delivery_count() -> None:
    cost = cost_by(way("delivery", entry_fee=money(50)))
    assert amounts(cost)["customs entry"] == 50
    assert not any(item.code == "carrier-unknown" for item in cost.assumptions)


def test_fee_for_freight_on_arrival_is_asked_only_where_freight_is_paid_on_arrival() -> None:
    assert "freight on arrival" not in amounts(cost_by(way("freight", collect_fee=money(15))))
    inside = SELLER.model_copy(
        update={"country": "DE", "freight": (SELLER.freight[0].model_copy(update={"collect": True}),)}
    )
    cost = cost_by(way("freight", collect_fee=money(15), from_country="DE"), inside)
    assert amounts(cost)["freight on arrival"] == 15


def test_nothing_entered_for_a_way_home_is_dropped() -> None:
    """A courier asks more for a private address, too; tail lift and address lie beyond the border: tax, no duty."""
    cost = amounts(
        cost_by(way("courier", handling=money(6), pallet=money(4), tail_lift=money(30), residential=money(10)))
    )
    assert (cost["handling"], cost["pallet and packing"], cost["delivery to a private address"]) == (6, 4, 10)
    assert cost["duty, heading 870830"] == Decimal("49.95")  # 1110 x 4.5 %
    assert cost["import tax"] == Decimal("251.99")  # 21 % of 1150 + 49.95


STEPS = [
    {"up_to": money(160, "GBP"), "fee": money(0)},
    {"up_to": money(800, "GBP"), "fee": money(12)},
    {"fee": money(25, "GBP")},
]


@pytest.mark.parametrize(("value", "fee"), [(200, None), ("200.01", 12), (1000, 12), ("1000.01", "31.25")])
def test_entry_fee_goes_by_steps_of_the_goods_worth(value: float | str, fee: float | str | None) -> None:
    """160 and 800 GBP are 200 and 1000 EUR; the last step is 25 GBP."""
    cost = amounts(cost_by(way("courier", entry_steps=STEPS), value=value))
    assert cost.get("customs entry") == (None if fee is None else Decimal(fee))


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"entry_steps": STEPS[:2]}, "only the last, has no end"),
        ({"entry_steps": [STEPS[1], STEPS[0], STEPS[2]]}, "ends above the one before"),
        ({"entry_steps": STEPS, "entry_fee": money(5)}, "not both"),
        ({"entry_steps": [{"up_to": money(100), "fee": money(0)}, *STEPS]}, "in one currency"),
    ],
)
def test_table_of_steps_that_cannot_be_is_refused(more: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        way("courier", **more)


def test_carriers_table_keeps_the_rules_hints_out() -> None:
    cost = cost_by(way("courier", entry_steps=[{"fee": money(0)}]))
    assert not [item for item in cost.assumptions if item.code == "fee-hint"]


def test_charge_in_another_currency_carries_the_cards_markup() -> None:
    cost = amounts(cost_by(way("freight", tail_lift=money(40, "GBP"))))
    assert cost["tail lift"] == 50
    assert cost["card's exchange markup"] == 1


@pytest.mark.parametrize(
    "route",
    [
        way("freight", pallet=money(20), tail_lift=money(30, "GBP"), residential=money(40), entry_fee=money(50)),
        way("forwarder", handling=money(10), advance_percent=2, advance_minimum=money(12)),
        way("post", entry_fee=money(8)),
        way("delivery"),
        way("delivery", entry_fee=money(12), advance_percent=2),
        way("courier", entry_steps=STEPS, advance_percent=2, residential=money(8)),
        None,
    ],
)
def test_bands_know_every_way_home(route: Route | None) -> None:
    for value in (80, 140, 400, 999, 1001, 3000):
        exact = float(cost_by(route, value=value, rules=UNROUNDED).exact)
        bands = charge_bands(SELLER, route, OWNER, RULES, RATES, DAY, headings=["870830"])
        fitting = [band for band in bands if band.low_value <= value <= band.high_value]
        units = [BandUnits(Money.of(value, "EUR"), 1, 80.0, "870830", None, False)]
        assert fitting[0].total(units) == pytest.approx(exact, abs=0.001)


def test_mass_charged_is_the_greater_of_true_and_by_volume_in_whole_steps() -> None:
    bulky = Goods("wing", Money.of(1, "EUR"), 2, 6.0, box_mm=(1000, 600, 200))
    heavy = Goods("hub", Money.of(1, "EUR"), 1, 9.2, box_mm=(100, 100, 100))
    by_air = way("courier", volumetric_cm3_per_kg=5000, mass_step_kg=0.5)
    # two boxes of 120 litres are 48 kg by volume; 48 + 9.2 = 57.2, up to 57.5
    assert chargeable_mass_kg([bulky, heavy], by_air) == 57.5
    assert chargeable_mass_kg([bulky, heavy], way("courier")) == 15.2
    assert chargeable_mass_kg([Goods("x", Money.of(1, "EUR"))], by_air) is None
    with pytest.raises(ValueError, match="divisor is above zero"):
        volumetric_mass(1, 0)


def test_bulky_goods_on_a_route_without_a_divisor_say_what_they_may_count_as() -> None:
    goods = (Goods("wing", Money.of(400, "EUR"), 1, 6.0, "870829", box_mm=(1000, 600, 200)),)
    said = {}
    for name, route in (("none", way("courier")), ("given", way("courier", volumetric_cm3_per_kg=6000))):
        what = Consignment(SELLER, route, goods, Money.of(20, "EUR"), False, DAY)
        cost = landed_cost(what, OWNER, RULES, RATES)
        said[name] = [str(item) for item in cost.assumptions if item.code == "volume-unknown"]
    text = "Way has no divisor for volume: 6 kg is counted, by the usual 5000 cm³/kg it would be 24 kg"
    assert said == {"none": [text], "given": []}


def test_route_is_ruled_out_by_length_and_girth() -> None:
    small = way("post", max_length_mm=1200, max_girth_mm=3000)
    long = Goods("shaft", Money.of(1, "EUR"), box_mm=(1500, 100, 100))
    fat = Goods("wing", Money.of(1, "EUR"), box_mm=(1100, 600, 500))
    fits = Goods("lamp", Money.of(1, "EUR"), box_mm=(400, 300, 300))
    assert "longer than the 1200 mm" in str(problem_of(SELLER, small, [long], RULES.single_market))
    assert "girth of a piece are more than the 3000 mm" in str(problem_of(SELLER, small, [fat], RULES.single_market))
    assert problem_of(SELLER, small, [fits], RULES.single_market) is None


def test_girth_is_that_of_the_fattest_piece_and_length_that_of_the_longest() -> None:
    """A kit of a long thin piece, 1300 mm of length and girth, and a fat one, 900 + 2 x 1200 = 3300 mm."""
    parts = [
        {"id": "bar", "name": "Bar", "box_mm": [1100, 50, 50], "mass_kg": 3},
        {"id": "tub", "name": "Tub", "box_mm": [900, 600, 600], "mass_kg": 9},
    ]
    contents = [{"part": "bar", "quantity": 1}, {"part": "tub", "quantity": 1}]
    build = build_from_data({
        "parts": parts, "kits": [{"id": "kit", "name": "Kit", "contents": contents}],
        "suppliers": [{"id": "seller", "name": "Seller", "country": "GB", "currency": "EUR"}],
        "offers": [{"id": "offer", "supplier": "seller", "kit": "kit", "price": money(100)}],
    })  # fmt: skip
    goods = offered_goods(build, build.offers[0], 1, Money.of(100, "EUR"))
    assert (goods.length_mm, goods.box_mm) == (1100, (900, 600, 600))
    found = problem_of(SELLER, way("post", max_girth_mm=3000), [goods], RULES.single_market)
    assert "girth of a piece" in str(found)


def test_limits_that_cannot_be_checked_are_said() -> None:
    """Goods of no known size on a way that has limits of size and charges by volume."""
    cost = cost_by(way("courier", max_length_mm=1200, max_mass_kg=100, volumetric_cm3_per_kg=5000))
    said = {item.code for item in cost.assumptions} & {"size-limit", "volume-missing", "mass-limit"}
    assert said == {"size-limit", "volume-missing"}
    assert not [item for item in cost_by(way("courier")).assumptions if item.code in said]


def test_offer_with_a_proof_of_origin_pays_the_preference_exactly_and_by_the_bands() -> None:
    """Goods of the United Kingdom are free of duty in the Union with a proof (TCA, article 21), 4.5 % without."""
    build = build_from_data({
        "parts": [{"id": "pad", "name": "Pads", "heading": "870830", "origin": "GB", "mass_kg": 80}],
        "suppliers": [SELLER.model_dump()], "routes": [way("courier").model_dump()],
        "offers": [{"id": "offer", "supplier": "seller", "part": "pad", "price": money(400), "proof_of_origin": True}],
    })  # fmt: skip
    goods = offered_goods(build, build.offers[0], 1, Money.of(400, "EUR"))
    route = way("courier")
    cost = landed_cost(Consignment(SELLER, route, (goods,), Money.of(100, "EUR"), False, DAY), OWNER, RULES, RATES)
    assert not cost.sum_of("duty").amount
    bands = charge_bands(SELLER, route, OWNER, RULES, RATES, DAY, headings=["870830"])
    unit = BandUnits(Money.of(400, "EUR"), 1, 80.0, "870830", "GB", False, proof=True)
    (band,) = [each for each in bands if each.low_value <= 400 <= each.high_value and not each.relief][:1]
    without = band.total([replace(unit, proof=False)]) - band.total([unit])
    assert without == pytest.approx(400 * 0.045 * 1.21)  # what the duty on the goods and the tax on it would be


@pytest.mark.parametrize("destination", ["NL", "GB", "CH", "CA", "NZ"])
def test_bands_agree_with_the_itemised_cost_whatever_is_entered_for_a_way(destination: str) -> None:
    """Charges at random on ways of every kind; where steps are rounded, to one unit of the currency."""
    draw, rules = Random(7), load_rules(destination)
    home = rules.currency
    owner = Owner(country=destination, currency=home, card_markup_percent=2)
    rates = Rates(base=home, per_base={code: Decimal("0.8") for code in {"EUR", "GBP"} - {home}}, day=DAY, source="t")
    for _ in range(16):
        more: dict[str, Any] = {"fuel_percent": draw.choice([0, 12])}
        for name in ("handling", "pallet", "tail_lift", "residential", "collect_fee", "advance_minimum"):
            if draw.random() < 0.4:
                more[name] = money(draw.choice([4, 11]), draw.choice(["EUR", home]))
        more |= draw.choice([{"entry_steps": STEPS}, {"entry_fee": money(9)}, {}])
        kind = draw.choice(["courier", "post", "freight", "forwarder", "delivery"])
        route = way(kind, from_country="KR", advance_percent=draw.choice([0, 2.5]), **more)
        terms = {"route": "way", "fixed": money(30), "free_from": money(600), "collect": draw.random() < 0.5}
        seller = SELLER.model_copy(update={"country": "KR", "freight": (FreightTerms.model_validate(terms),)})
        bands = charge_bands(seller, route, owner, rules, rates, DAY, headings=["870830"], origins=["KR"])
        for value in (10, 199, 599, 650, 2500):
            price = Money.of(value, "EUR")
            goods = (Goods("axle", price, heading="870830", origin="KR", mass_kg=5.0),)
            freight = Money.of(0 if value >= 600 else 30, "EUR")
            what = Consignment(seller, route, goods, freight, False, DAY)
            exact = float(landed_cost(what, owner, rules, rates, with_doubts=False).exact)
            (band, *_) = [each for each in bands if each.low_value <= each.value(price, False) <= each.high_value]
            units = [BandUnits(price, 1, 5.0, "870830", "KR", False)]
            assert band.total(units) == pytest.approx(exact, abs=1), (route, value)
