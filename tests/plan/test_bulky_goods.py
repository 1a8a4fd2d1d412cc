"""What a box weighs to a carrier, and where it does not fit: the plan buys by the mass that is charged."""

from __future__ import annotations

from typing import Any

import pytest
from plan_builds import build_of, job, offer, part, plan_of, supplier

from fishplate.plan import Plan
from fishplate.plan.demand import Way
from fishplate.plan.door import Doors
from fishplate.wiring import situation

PARCEL = {
    "id": "parcel", "name": "Parcel", "kind": "courier", "from_country": "DE", "weeks": [0.4, 0.5, 0.6],
    "volumetric_cm3_per_kg": 5000,
}  # fmt: skip
PALLET = {"id": "pallet", "name": "Pallet", "kind": "freight", "from_country": "DE", "weeks": [0.4, 0.5, 0.6]}
BY_BOTH = [
    {"route": "parcel", "fixed": "5 EUR", "per_kg": "2 EUR"},
    {"route": "pallet", "fixed": "60 EUR"},
]


def planned(box: list[float], parcel: dict[str, Any] | None = None, count: float = 1) -> Plan:
    """Ten kilograms in a box, by parcel at 2 EUR a kilogram or on a pallet for 60 EUR."""
    return plan_of(
        build_of(
            routes=[PARCEL | (parcel or {}), PALLET],
            suppliers=[supplier("shop", "DE", freight=BY_BOTH)],
            parts=[part("hood", mass_kg=10, box_mm=box, quantity=count)],
            offers=[offer("hood-offer", "hood", "300 EUR")],
            jobs=[job("fit", 6, to_keep=["hood"])],
        )
    )


def freight(plan: Plan) -> float:
    (consignment,) = plan.purchase.consignments
    return sum(line.amount for line in consignment.lines if line.kind == "freight")


def test_a_small_box_goes_by_parcel_at_its_true_mass() -> None:
    assert freight(planned([400, 300, 200])) == 25


def test_a_bulky_box_goes_on_the_pallet_because_its_volume_is_charged() -> None:
    assert freight(planned([1000, 600, 500])) == 60  # 60 kg by volume would be 125 EUR


def test_volume_is_charged_where_no_other_way_is_cheaper() -> None:
    assert freight(planned([600, 500, 400])) == pytest.approx(5 + 2 * 24)


def test_mass_is_taken_up_to_the_carriers_step() -> None:
    assert freight(planned([600, 500, 390], {"mass_step_kg": 0.5})) == pytest.approx(5 + 2 * 23.5)  # 23.4 kg


@pytest.mark.parametrize("limit", [{"max_length_mm": 900}, {"max_girth_mm": 1800}])
def test_a_box_too_large_for_a_route_goes_by_another(limit: dict[str, float]) -> None:
    assert freight(planned([1000, 300, 200], limit)) == 60


def test_what_the_programme_was_told_is_what_the_consignment_costs() -> None:
    for count in (1, 2):
        plan = planned([600, 500, 400], count=count)
        assert plan.purchase.gap < 0.005, plan.purchase


@pytest.mark.parametrize(("longest", "refused"), [(900.0, True), (1000.0, False), (None, False)])
def test_a_piece_longer_than_a_trip_carries_does_not_come_by_it(longest: float | None, refused: bool) -> None:
    depot = {"id": "depot", "name": "Depot", "kind": "collection", "from_country": "DE"}
    trip = {"id": "trip", "route": "depot", "day": "2027-03-05", "longest_mm": longest}
    build = build_of(
        routes=[depot], collections=[trip], suppliers=[supplier("shop", "DE")],
        parts=[part("hood", mass_kg=10, box_mm=[1000, 300, 200])], offers=[offer("hood-offer", "hood", "300 EUR")],
    )  # fmt: skip
    way = Way(build.routes[0], build.collections[0])
    said = Doors(situation(build, build.collections[0].day)).offer_problem(build.suppliers[0], way, build.offers[0])
    assert ("longer than the 900 mm that trip carries" in said) == refused
