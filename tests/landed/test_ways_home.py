"""Ways home: what each adds beside freight, what it counts as, and what it does not take."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from fishplate.build import Money, Rates
from fishplate.build.commerce import Route, Supplier
from fishplate.build.owner import Owner
from fishplate.landed import Consignment, Goods, LandedCost, charge_bands, chargeable_mass_kg, landed_cost, load_rules
from fishplate.landed import route_problem as problem_of
from fishplate.landed.bands import BandUnits
from fishplate.landed.freight import volumetric_mass

DAY = date(2026, 11, 24)
RULES = load_rules("NL")
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


def cost_by(route: Route | None, supplier: Supplier = SELLER, value: float = 1000) -> LandedCost:
    goods = (Goods("axle", Money.of(value, "EUR"), heading="870830", mass_kg=80.0),)
    freight = Money.of(100 if route is not None else 0, "EUR")
    return landed_cost(Consignment(supplier, route, goods, freight, False, DAY), OWNER, RULES, RATES)


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


def test_forwarder_counts_as_transport_to_the_border() -> None:
    cost = amounts(cost_by(way("forwarder", handling=money(10))))
    assert cost["forwarder's handling"] == 10
    assert cost["duty, heading 870830"] == Decimal("49.95")  # 1110 x 4.5 %


def test_own_delivery_of_the_seller_has_no_carriers_fees_and_says_so() -> None:
    cost = cost_by(way("delivery", entry_fee=money(50), advance_percent=2))
    assert not cost.sum_of("fee").amount
    assert any(item.code == "carrier-unknown" for item in cost.assumptions)


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
        None,
    ],
)
def test_bands_know_every_way_home(route: Route | None) -> None:
    for value in (80, 140, 400, 3000):
        exact = float(cost_by(route, value=value).exact)
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
