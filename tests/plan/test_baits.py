"""What a plan must never do, where it would pay."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from typing import Any

import pytest
from plan_builds import AS_OF, build_of, job, offer, part, plan_of, situation_of, supplier

from fishplate.build import Build
from fishplate.landed import Consignment, Goods, landed_cost
from fishplate.plan import Plan
from fishplate.plan.loop import settle
from fishplate.plan.report import consignments_of
from fishplate.plan.study import study

COURIER = {
    "id": "courier", "name": "Courier", "kind": "courier", "from_country": "GB", "weeks": [1, 1, 1],
    "advance_percent": 2.5, "advance_minimum": "12 EUR", "entry_fee": "9 EUR",
}  # fmt: skip


def divided_build(prices: tuple[int, ...] = (110, 110), **lists: Any) -> Build:
    """Things of 110 GBP, about 129 EUR each: singly under the relief of 150 EUR, together over it; needed apart."""
    names = [f"thing{number}" for number in range(1, len(prices) + 1)]
    jobs = [job(f"job{n}", 120, *([f"job{n - 1}"] if n > 1 else []), to_keep=[name]) for n, name in enumerate(names, 1)]
    base: dict[str, Any] = {
        "routes": [COURIER],
        "suppliers": [
            supplier("shop", "GB", "GBP", origin_tax="taken-off", freight=[{"route": "courier", "fixed": "1 GBP"}])
        ],
        "parts": [part(name, heading="87083091", origin="GB", mass_kg=2) for name in names],
        "offers": [
            offer(f"{name}-offer", name, f"{price} GBP", tax_included=False)
            for name, price in zip(names, prices, strict=True)
        ],
        "jobs": jobs,
    }
    return build_of(**{**base, **lists})


def landed_alone(build: Build, count: int, *, divided: bool) -> float:
    """Landed cost of some of the things in one consignment."""
    situation = situation_of(build)
    goods = tuple(Goods(o.id, o.price, 1, 2.0, "87083091", "GB") for o in build.offers[:count])
    seller, route = build.suppliers[0], build.routes[0]
    parcel = Consignment(seller, route, goods, seller.freight[0].fixed, False, AS_OF, divided)
    return float(landed_cost(parcel, build.owner, situation.rules, situation.rates).total.amount)


def test_dividing_would_pay_if_each_part_kept_its_relief() -> None:
    """The bait is real: two consignments with relief are cheaper than one without."""
    build = divided_build((120, 120))
    apart, together = 2 * landed_alone(build, 1, divided=False), landed_alone(build, 2, divided=False)
    assert landed_alone(build, 1, divided=True) > landed_alone(build, 1, divided=False)
    assert 2 * landed_alone(build, 1, divided=True) > together
    assert apart != together


@pytest.mark.parametrize("prices", [(110, 110), (120, 120, 120), (60, 120)])
def test_no_consignment_of_a_divided_supplier_is_relieved_of_duty(prices: tuple[int, ...]) -> None:
    plan = plan_of(divided_build(prices))
    shipments = {line.shipment for line in plan.purchase.lines}
    if len(shipments) > 1:
        rules = [line.rule for item in plan.purchase.consignments for line in item.lines if line.kind == "duty"]
        assert rules
        assert "eu.relief150.old" not in rules


def test_a_plan_never_gains_by_dividing() -> None:
    """Where each half may come alone, the total is never under that of halves without relief."""
    build = divided_build((110, 110))
    plan = plan_of(build)
    honest = min(landed_alone(build, 2, divided=False), 2 * landed_alone(build, 1, divided=True))
    assert sum(line.landed for line in plan.purchase.lines) >= honest - 0.01


def test_halves_below_a_formal_entry_pay_its_fee_and_the_gap_says_what_the_bands_left_out() -> None:
    """Two things of some 1,950 USD, ordered apart because money held is dear: above 2,500 USD together."""
    owner = {"country": "US", "currency": "USD", "carrying_percent": 40}
    studied = study(situation_of(divided_build((1500, 1500), owner=owner)), lambda *_: None)
    chosen = settle(studied, studied.put_off, lambda *_: None)[0]
    plan, consignments = chosen.purchase, consignments_of(chosen)
    assert len(plan.shipments) == 2
    fees = [line.amount for item in consignments for line in item.lines if line.rule == "us.mpf.formal"]
    assert fees == [33.58, 33.58]
    # a band knows its own consignment alone: it counts the informal fee of 2.69; what is told counts the formal one
    assert plan.total - plan.model_total == pytest.approx(2 * (33.58 - 2.69), abs=1)
    assert plan.total == pytest.approx(sum(plan.shipment_costs.values()))
    assert plan.gap >= (plan.total - plan.model_total) / plan.total - 1e-9


def test_own_delivery_from_abroad_is_not_divided_either() -> None:
    """Without a route the goods cross the border all the same."""
    sellers = [supplier("shop", "GB", "GBP", origin_tax="taken-off")]
    plan = plan_of(divided_build((120, 120), routes=[], suppliers=sellers))
    shipments = {line.shipment for line in plan.purchase.lines}
    duties = [line for item in plan.purchase.consignments for line in item.lines if line.kind == "duty"]
    if len(shipments) > 1:
        assert all(line.rule != "eu.relief150.old" for line in duties)
    value = 240 / 0.85
    assert sum(line.landed for line in plan.purchase.lines) > value * 1.21


# hazard and hidden conditions


def hazard_build(
    *, early_cost: float = 0, minutes: float = 20, spread: float = 8, consequence: str = "hazard"
) -> Build:
    hazard = {
        "id": "hose-lock", "interface": "hose", "name": "Hose clears at full lock", "expression": "gap",
        "at_least": "10 mm", "consequence": consequence, "late_cost": 1, "early_cost": early_cost,
    }  # fmt: skip
    return build_of(
        suppliers=[supplier("shop")],
        parts=[part("hose-set")],
        offers=[offer("hose-offer", "hose-set", "60 EUR")],
        jobs=[job("brakes", 12, to_keep=["hose-set"])],
        systems=[{"id": "brakes", "name": "Brakes", "hazards": ["brakes"]}],
        interfaces=[{"id": "hose", "name": "Hose and wheel", "systems": ["brakes"], "parts": ["hose-set"]}],
        dimensions=[{"id": "gap", "name": "Gap at full lock", "minutes": minutes}],
        readings=[
            {"id": "r", "dimension": "gap", "value": 16, "spread": spread, "day": AS_OF, "provenance": "catalogue"}
        ],
        conditions=[hazard],
    )


def verify_notes(plan: Plan) -> list[str]:
    return [note for note in plan.notes if "verified on the vehicle" in note]


@pytest.mark.parametrize("consequence", ["hazard", "hidden"])
@pytest.mark.parametrize("spread", [1, 8])
def test_a_hazard_or_hidden_condition_stays_to_be_verified_though_measuring_costs_more_than_it_saves(
    consequence: str, spread: float
) -> None:
    """Rework would cost a euro, the measurement an hour: money says no, the plan says yes."""
    plan = plan_of(hazard_build(early_cost=500, minutes=600, spread=spread, consequence=consequence))
    assert len(verify_notes(plan)) == 1
    assert "Hose and wheel" in verify_notes(plan)[0]
    assert [line.interface for line in plan.fit] == ["hose"]


def test_a_hazard_condition_of_which_nothing_is_known_is_to_be_verified_too() -> None:
    build = hazard_build()
    plan = plan_of(build.model_copy(update={"readings": ()}))
    assert plan.fit[0].verdict == "not known"
    assert any("Hose and wheel" in note for note in verify_notes(plan))


def test_a_hazard_seen_right_on_the_vehicle_is_settled() -> None:
    seen = hazard_build(spread=1).model_dump()
    seen["settled"] = [{"interface": "hose", "day": AS_OF, "by": "looked, wheel on full lock"}]
    plan = plan_of(Build.model_validate(seen))
    assert verify_notes(plan) == []


def test_measuring_near_a_hazard_carries_its_caution() -> None:
    plan = plan_of(hazard_build())
    cautions = [caution for action in plan.actions if action.kind == "measure" for caution in action.cautions]
    assert any(caution.startswith("Brakes:") for caution in cautions)


# kits and pieces


def kit_build(kit_price: str, **fields: Any) -> Build:
    return build_of(
        suppliers=[supplier("shop")],
        parts=[part("disc", quantity=2), part("pads")],
        kits=[{"id": "kit", "name": "Kit", "contents": [{"part": "disc", "quantity": 2}, {"part": "pads"}]}],
        offers=[
            offer("disc-offer", "disc", "50 EUR"),
            offer("pads-offer", "pads", "40 EUR"),
            {**offer("kit-offer", "pads", kit_price), "part": None, "kit": "kit"},
        ],
        jobs=[job("brakes", 12, to_keep=["disc", "pads"])],
        **fields,
    )


def bought(plan: Plan) -> dict[str, int]:
    return {line.offer: line.units for line in plan.purchase.lines}


def test_a_kit_is_bought_where_it_is_cheaper_than_its_pieces_and_not_where_it_is_dearer() -> None:
    assert bought(plan_of(kit_build("130 EUR"))) == {"kit-offer": 1}
    assert bought(plan_of(kit_build("150 EUR"))) == {"disc-offer": 2, "pads-offer": 1}


def test_a_kit_of_which_half_is_owned_has_to_beat_the_other_half() -> None:
    owned = [{"id": "s", "part": "disc", "quantity": 2}]
    assert bought(plan_of(kit_build("130 EUR", stock=owned))) == {"pads-offer": 1}


def test_a_pack_of_ten_is_bought_once_for_eight() -> None:
    build = build_of(
        suppliers=[supplier("shop")],
        parts=[part("nut", quantity=8)],
        offers=[offer("nuts", "nut", "9 EUR", pack=10)],
        jobs=[job("wheels", 6, to_keep=["nut"])],
    )
    assert bought(plan_of(build)) == {"nuts": 1}


# routes and trips


def test_goods_too_heavy_for_a_route_go_in_several_parcels_without_relief() -> None:
    heavy = {**COURIER, "max_mass_kg": 30}
    build = divided_build((50, 50), routes=[heavy])
    build = build.model_copy(
        update={"parts": tuple(p.model_copy(update={"mass_kg": 20.0}) for p in build.parts), "jobs": build.jobs[:1]}
    )
    jobs = (build.jobs[0].model_copy(update={"to_keep": ("thing1", "thing2")}),)
    plan = plan_of(build.model_copy(update={"jobs": jobs}))
    (consignment,) = plan.purchase.consignments
    assert sum(line.kind == "freight" and line.amount > 0 for line in consignment.lines) >= 2
    assert consignment.total == pytest.approx(sum(line.landed for line in plan.purchase.lines))


def test_an_item_no_route_can_carry_is_not_ordered_and_that_is_said() -> None:
    light = {**COURIER, "max_mass_kg": 1}
    plan = plan_of(divided_build((50,), routes=[light]))
    assert plan.purchase.lines == ()
    assert plan.purchase.unmet == {"thing1": 1.0}
    assert any("heavier" in note for note in plan.notes)


def test_orders_of_one_supplier_are_not_strewn_over_the_weeks() -> None:
    """Six things needed within a month come in few orders, though nothing is known of freight."""
    names = [f"thing{number}" for number in range(6)]
    build = build_of(
        suppliers=[supplier("shop")],
        parts=[part(name) for name in names],
        offers=[offer(f"{name}-offer", name, "20 EUR") for name in names],
        jobs=[
            job(f"job{n}", 6, *([f"job{n - 1}"] if n else []), to_keep=[name]) for n, name in enumerate(names)
        ],
    )  # fmt: skip
    plan = plan_of(build)
    assert len({line.shipment for line in plan.purchase.lines}) <= 2
    days = [line.order_by for line in plan.purchase.lines]
    assert all(a <= b for a, b in pairwise(day for day in days if day is not None))
    assert all(day is not None and day >= date(2026, 3, 2) for day in days)
