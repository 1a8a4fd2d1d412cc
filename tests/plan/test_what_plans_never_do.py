"""On builds drawn at random: no plan buys what is owned, breaks a release, or counts on a return that lapsed."""

from __future__ import annotations

import math
import random
from collections import defaultdict
from datetime import date, timedelta
from typing import Any

import pytest
from plan_builds import AS_OF, build_of, job, offer, part, plan_of, supplier

from fishplate.build import Build, facts_of, offer_contents
from fishplate.plan import Plan
from fishplate.records import return_rights

PARTS = ("hub", "disc", "pump", "rack", "tank", "fan")


def day(draw: random.Random, first: int, last: int) -> str:
    return (AS_OF + timedelta(days=draw.randint(first, last))).isoformat()


def drawn(seed: int) -> Build:
    """Six parts of two sellers, kits, stock, orders in every state, holds, little money: whatever comes."""
    draw = random.Random(seed)
    parts = [part(name, quantity=draw.randint(1, 4), mass_kg=draw.choice([None, 2, 9])) for name in PARTS]
    offers = [
        offer(
            f"{name}-{seller}", name, f"{draw.randint(5, 300)} {'EUR' if seller == 'near' else 'GBP'}", seller,
            pack=draw.choice([1, 1, 2]), returns={"days": draw.choice([0, 14, 60]), "ended_by": ["bolted"]},
            deposit_percent=draw.choice([0, 0, 30]), made_to_order=draw.random() < 0.2,
        )
        for name in PARTS for seller in ("near", "far") if draw.random() < 0.8
    ]  # fmt: skip
    held = [item for item in offers if draw.random() < 0.4]
    events: list[dict[str, Any]] = []
    for number, item in enumerate(draw.sample(offers, min(3, len(offers)))):
        events += list(history(draw, number, item))
    return build_of(
        owner={"cash_now": draw.randint(0, 500), "cash_per_month": draw.choice([50, 400, 50_000])},
        parts=parts,
        suppliers=[supplier("near"), supplier("far", "GB", "GBP", freight=[{"route": "post", "fixed": "12 GBP"}])],
        routes=[{"id": "post", "name": "Post", "kind": "courier", "from_country": "GB", "weeks": [1, 2, 3]}],
        kits=[{"id": "set", "name": "Set", "contents": [{"part": "hub"}, {"part": "disc", "quantity": 2}]}],
        offers=[*offers, offer("set-near", "", "180 EUR", "near", part=None, kit="set")],
        stock=[{"id": "s", "part": draw.choice(PARTS), "quantity": draw.randint(1, 3)}],
        dimensions=[{"id": "bore", "name": "Bore", "part": None}],
        decisions=[{"id": "axle", "name": "Axle", "chosen": draw.choice([None, "one"]),
                    "options": [{"id": "one", "name": "One"}, {"id": "two", "name": "Two"}]}],
        releases=[{"id": f"r{at}", "offer": item["id"], "decisions": draw.choice([[], ["axle"]]),
                   "dimensions": draw.choice([[], ["bore"]])} for at, item in enumerate(held)],
        readings=[] if draw.random() < 0.5 else [{"id": "bored", "dimension": "bore", "value": 20, "day": AS_OF}],
        jobs=[job("measure", 2), job("fit", 6, "measure", to_keep=list(PARTS), decisions=["axle"])],
        events=events,
    )  # fmt: skip


def history(draw: random.Random, number: int, item: dict[str, Any]) -> Any:
    """An order that was placed, and what became of it."""
    id_, name, placed = f"o{number}", item["part"], day(draw, -90, -40)
    price = {"offer": item["id"], "quantity": draw.randint(1, 2), "price": item["price"]}
    yield {"kind": "ordered", "id": id_, "day": placed, "supplier": item["supplier"], "lines": [price]}
    fate = draw.choice(["waits", "came", "part", "cancelled", "back", "faulty"])
    if fate == "cancelled":
        yield {"kind": "cancelled", "id": f"x{number}", "day": day(draw, -30, -20), "order": id_}
    elif fate != "waits":
        count = 1 if fate == "part" else price["quantity"] * item["pack"]
        line = {"part": name, "quantity": count, "faulty": 1 if fate == "faulty" else 0}
        yield {"kind": "arrived", "id": f"a{number}", "day": day(draw, -35, -5), "order": id_, "lines": [line]}
        if fate == "back":
            yield {"kind": "returned", "id": f"b{number}", "day": day(draw, -4, 0), "order": id_, "part": name}
        elif draw.random() < 0.5:
            yield {"kind": "checked", "id": f"k{number}", "day": day(draw, -4, 0), "part": name, "how": "bolted"}


@pytest.mark.parametrize("seed", range(14))
def test_no_plan_buys_what_is_owned_breaks_a_release_or_counts_on_a_lapsed_return(seed: int) -> None:
    build = drawn(seed)
    plan = plan_of(build, runs=60, waiting_runs=60, solver_seconds=1.0)
    nothing_owned_is_bought(build, plan)
    no_release_is_broken(build, plan)
    nothing_goes_back_too_late(build, plan)
    sums_are_those_of_the_consignments(plan)


def nothing_owned_is_bought(build: Build, plan: Plan) -> None:
    facts, brought = facts_of(build, AS_OF), defaultdict[str, float](float)
    for line in plan.purchase.lines:
        contents = offer_contents(build, build.find("offers", line.offer))
        assert any(facts.missing(build, name) - brought[name] > 0 for name in contents), line.offer
        for name, count in contents.items():
            brought[name] += count * line.units
    for item in build.parts:
        # a line less would leave something missing: what is over is of packs and kits alone
        over = brought[item.id] - facts.missing(build, item.id)
        largest = max((offer_contents(build, build.find("offers", line.offer)).get(item.id, 0.0)
                       for line in plan.purchase.lines), default=0.0)  # fmt: skip
        assert over < largest * 2 + 1e-9, item.id


def no_release_is_broken(build: Build, plan: Plan) -> None:
    """What is ordered today has all that its release names; what waits for ever is not ordered at all."""
    known = {reading.dimension for reading in build.readings}
    taken = {decision.id for decision in build.decisions if decision.chosen is not None}
    for release in build.releases:
        open_ = set(release.dimensions) - known | set(release.decisions) - taken
        for line in plan.purchase.lines:
            if line.offer == release.offer and open_:
                assert line.order_week > 0, (release.id, open_)


def nothing_goes_back_too_late(build: Build, plan: Plan) -> None:
    can_go = {right.part for right in return_rights(build, AS_OF)}
    for action in plan.actions:
        if action.key.startswith(("back:", "try:")):
            assert action.key.partition(":")[2] in can_go
    for deadline in plan.deadlines:
        assert deadline.day >= AS_OF
        assert deadline.kind != "return" or deadline.key in can_go


def sums_are_those_of_the_consignments(plan: Plan) -> None:
    by_shipment = defaultdict[str, float](float)
    for line in plan.purchase.lines:
        by_shipment[line.shipment] += line.landed
    totals = {item.shipment: item.total for item in plan.purchase.consignments}
    assert by_shipment.keys() == totals.keys()
    for shipment, total in totals.items():
        assert math.isclose(by_shipment[shipment], total, abs_tol=0.02)
        lines = next(item.lines for item in plan.purchase.consignments if item.shipment == shipment)
        assert math.isclose(sum(float(line.amount) for line in lines), total, abs_tol=0.02)
    whole = sum(totals.values()) + sum(trip.trip_cost for trip in plan.purchase.collections)
    assert math.isclose(whole, plan.purchase.total, abs_tol=0.02)


# trips


def fetched(trip: str, freight: str, *, capacity: float = 50, parts: tuple[str, ...] = ("rack",)) -> Plan:
    """The plan of parts of 30 kg that can be fetched on a trip, or sent."""
    routes = [
        {"id": "depot", "name": "Depot", "kind": "collection", "from_country": "DE", "open_weekdays": [2, 3, 4, 5]},
        {"id": "post", "name": "Post", "kind": "courier", "from_country": "DE", "weeks": [1, 1, 2]},
    ]
    ways = [{"route": "depot", "fixed": "5 EUR"}, *([{"route": "post", "fixed": freight}] if freight else [])]
    return plan_of(build_of(
        parts=[part(name, mass_kg=30) for name in parts], suppliers=[supplier("shop", "DE", freight=ways)],
        routes=routes, offers=[offer(f"{name}-a", name, "250 EUR") for name in parts],
        collections=[{"id": "t1", "route": "depot", "day": trip, "distance_km": 100, "per_km": "0.10 EUR",
                      "capacity_kg": capacity}],
        jobs=[job("fit", 4, to_keep=list(parts))],
    ))  # fmt: skip


def test_nothing_waits_for_a_trip_on_a_day_its_depot_is_closed_and_that_is_said() -> None:
    tuesday, monday = fetched("2026-04-14", "900 EUR"), fetched("2026-04-13", "900 EUR")
    assert [line.collection for line in tuesday.purchase.lines] == ["t1"]
    assert [line.collection for line in monday.purchase.lines] == [None]
    text = "nothing is planned for the trip of 13 April: Depot is closed on Mondays"
    assert text in {assumption.text for assumption in monday.assumptions}
    assert date(2026, 4, 13).isoweekday() == 1


def test_a_trip_that_can_not_carry_all_of_it_is_named_by_its_day_and_room_comes_before_going_without() -> None:
    plan = fetched("2026-04-14", "", parts=("rack", "tank"))
    assert plan.purchase.clash is not None
    assert "the trip of 14 April carries 50 kg" in plan.purchase.clash.text
    assert plan.purchase.clash.ways_out[0].startswith("room for 10 kg more on the trip of 14 April")


@pytest.mark.parametrize(("second", "free"), [("2026-05-04", 1), ("2026-05-20", 2)])
def test_no_two_trips_of_a_plan_use_an_allowance_that_holds_once_in_thirty_days(second: str, free: int) -> None:
    """HTS 9804.00.65: 800 USD once in 30 days. Each trip carries one rack of 700 USD, so that both are made."""
    trips = [
        {"id": id_, "route": "depot", "day": day, "distance_km": 100, "per_km": "0.10 USD", "capacity_kg": 50,
         "absence_hours": 72, "travel": "land"} for id_, day in (("t1", "2026-04-14"), ("t2", second))
    ]  # fmt: skip
    shops = {"east": "rack", "west": "tank"}
    plan = plan_of(build_of(
        owner={"country": "US", "currency": "USD", "cash_per_month": 5000, "cash_now": 5000, "week_delay_cost": 50},
        parts=[part(id_, mass_kg=30, heading="870829") for id_ in shops.values()],
        suppliers=[supplier(shop, "CA", freight=[{"route": "depot", "fixed": "5 USD"}]) for shop in shops],
        offers=[offer(f"{id_}-a", id_, "700 USD", shop) for shop, id_ in shops.items()], collections=trips,
        routes=[{"id": "depot", "name": "Depot", "kind": "collection", "from_country": "CA"}],
        jobs=[job("fit", 4, to_keep=list(shops.values()))],
    ))  # fmt: skip
    assert [line.collection for line in plan.purchase.lines] == ["t1", "t2"]
    duties = [line.amount for item in plan.purchase.consignments for line in item.lines if line.kind == "duty"]
    assert sum(float(duty) == 0 for duty in duties) == free


# money


def test_what_is_still_owed_on_orders_is_in_the_months_and_is_not_spent_again() -> None:
    def of(*events: dict[str, Any]) -> Plan:
        return plan_of(build_of(
            owner={"cash_now": 300, "cash_per_month": 100}, parts=[part("rack"), part("tank")],
            suppliers=[supplier("shop")], jobs=[job("fit", 4, to_keep=["rack", "tank"])], events=list(events),
            offers=[offer("rack-a", "rack", "300 EUR"), offer("tank-a", "tank", "250 EUR")],
        ))  # fmt: skip

    ordered = {"id": "o", "kind": "ordered", "day": "2026-02-16", "supplier": "shop",
               "lines": [{"offer": "rack-a", "price": "300 EUR"}]}  # fmt: skip
    came = {"id": "r", "kind": "arrived", "day": "2026-02-25", "order": "o", "lines": [{"part": "rack"}]}
    paid = {"id": "p", "kind": "paid", "day": "2026-02-25", "order": "o", "amount": "300 EUR"}
    owing, free = of(ordered, came), of(ordered, came, paid)
    assert (free.purchase.lines[0].order_week, free.cash[0].p50) == (0, pytest.approx(250, abs=1))
    # all that is there this month goes to what has come: the next 250 are there with the first of May
    assert owing.purchase.lines[0].order_week == 9
    assert owing.cash[0].p50 == pytest.approx(300, abs=1)
    assert any("is kept for them" in assumption.text for assumption in owing.assumptions)
