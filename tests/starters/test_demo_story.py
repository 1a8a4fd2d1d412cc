"""What the engines find in the demo build is what it was written to show."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from fishplate.build import Build, Facts, Money, Rates, date_at, facts_of, week_of
from fishplate.build.events import Receipt
from fishplate.decide import order_decisions
from fishplate.fit import FitReport, Verdict, assess
from fishplate.landed import Consignment, Goods, collection_cost, freight_for, landed_cost, load_rules
from fishplate.prices import outlooks
from fishplate.starters import demo_as_of, load_demo
from fishplate.work import Gates, Simulator, WorkReport

# A round rate, near the autumn's.
RATES = Rates(base="EUR", per_base={"GBP": Decimal("0.85")}, day=demo_as_of(), source="round figure")


@pytest.fixture(scope="module")
def demo() -> Build:
    return load_demo()


@pytest.fixture(scope="module")
def facts(demo: Build) -> Facts:
    return facts_of(demo, demo_as_of())


@pytest.fixture(scope="module")
def fit(demo: Build, facts: Facts) -> FitReport:
    return assess(demo, facts, samples=4_000)


@pytest.fixture(scope="module")
def work(demo: Build, facts: Facts) -> WorkReport:
    return Simulator(demo, facts, runs=300).run(Gates())


def _verdict(fit: FitReport, interface: str) -> Verdict:
    return next(result.verdict for result in fit.interfaces if result.interface == interface)


def test_some_interfaces_fit_some_are_in_doubt_and_some_are_not_known(fit: FitReport) -> None:
    verdicts = [result.verdict for result in fit.interfaces]
    assert verdicts.count(Verdict.FITS) >= 8
    assert verdicts.count(Verdict.IN_DOUBT) >= 5
    assert verdicts.count(Verdict.NOT_KNOWN) >= 4


def test_the_steering_under_the_sump_is_in_doubt_and_must_be_seen_on_the_vehicle(fit: FitReport) -> None:
    result = next(result for result in fit.interfaces if result.interface == "sump-steering")
    assert result.verdict is Verdict.IN_DOUBT
    assert result.verify_on_vehicle
    assert not result.settled


def test_the_front_springs_wait_for_a_load_taken_with_the_old_engine_in(fit: FitReport) -> None:
    assert _verdict(fit, "front-spring-load") is Verdict.NOT_KNOWN
    result = next(result for result in fit.conditions if result.condition == "front-ride-made")
    assert result.stale == ("front_corner_load",)


def test_a_bed_across_the_body_would_not_fit(demo: Build) -> None:
    decisions = tuple(
        item.model_copy(update={"leading": "layout-across"}) if item.id == "interior-layout" else item
        for item in demo.decisions
    )
    other = demo.model_copy(update={"decisions": decisions})
    report = assess(other, facts_of(other, demo_as_of()), samples=4_000)
    assert _verdict(report, "bed-body") is Verdict.DOES_NOT_FIT


def test_something_worth_its_minutes_can_be_measured_tonight(demo: Build, fit: FitReport) -> None:
    tonight = [item for item in fit.measures if item.blocked_by_part is None and item.blocked_by_job is None]
    worth_a_minute = float(demo.owner.hour_worth or 15) / 60
    worth_it = {item.dimension for item in tonight if item.value > item.minutes * worth_a_minute}
    assert worth_it >= {"bump_travel_rear", "made_barrel_radius", "front_corner_load"}


def test_tyre_wheel_and_arch_form_a_loop_settled_in_that_order(demo: Build, facts: Facts, work: WorkReport) -> None:
    starts = {job: float(sorted(moments)[len(moments) // 10]) for job, moments in work.starts.items()}
    report = order_decisions(demo, facts, start_weeks=starts, order_by_weeks={})
    assert report.blocks == (("tyre-size", "wheels", "arch-work"),)
    by_week = {result.decision: result.by_week for result in report.decisions}
    for decision in ("tyre-size", "wheels"):
        moment = by_week[decision]
        assert moment is not None
        assert moment < 2


def test_the_wheels_stand_on_the_longest_chain(demo: Build, work: WorkReport) -> None:
    chain = set(work.critical)
    assert "on-its-wheels" in chain
    lead = demo.find("offers", "tidegate-wheel-made").lead_weeks
    assert lead == max(
        (offer.lead_weeks for offer in demo.offers if offer.lead_weeks and offer.part), key=lambda lead: lead.likely
    )


def test_evenings_can_be_filled_with_what_is_there(work: WorkReport) -> None:
    assert {job.job for job in work.ready} >= {"rear-axle-mockup", "roof-frame", "lower-corners", "wiring-plan"}


def test_it_drives_within_the_years_such_a_build_takes(work: WorkReport) -> None:
    assert date(2028, 3, 1) < _day(work.quantile(0.1)) < _day(work.quantile(0.9)) < date(2030, 1, 1)


def _day(weeks: float) -> date:
    return date_at(demo_as_of(), weeks)


def test_the_november_sale_is_worth_a_week_s_wait_for_the_heater_but_not_for_the_tyres(
    demo: Build, facts: Facts
) -> None:
    seen = outlooks(demo, facts, weeks=110)
    sale = int(week_of(demo_as_of(), date(2026, 11, 23)))
    heater, tyre = seen["moorwinkel-heater-air"], seen["polderband-tyre-215"]
    assert heater.expected[sale] < 0.9 * heater.now
    # Tyres are fitted about two years on: what the sale takes off is spent on keeping the money tied up.
    assert demo.owner.carrying_percent is not None
    kept = float(demo.owner.carrying_percent) / 100 * 2
    assert tyre.now - tyre.expected[sale] < kept * tyre.now


def test_fetching_the_british_goods_together_beats_the_trip_s_cost(demo: Build) -> None:
    ferry = demo.find("collections", "ferry-march")
    trip = sum(float(line.amount.amount) for line in collection_cost(ferry, demo.owner, RATES))
    heavy = [("tidegate-wheel-made", 5)]
    trim = [("saltmere-seals", 1), ("saltmere-belts", 1)]
    apart = float(demo.find("offers", "wilgenkade-roof").price.amount)
    apart += _door(demo, heavy, "courier-gb") + _door(demo, trim, "courier-gb")
    together = _door(demo, [("ostlerbridge-roof", 1)], "depot-gb")
    together += _door(demo, heavy, "depot-gb") + _door(demo, trim, "depot-gb")
    assert apart - together > trip + 50
    # none of them alone would pay for the ferry
    assert _door(demo, heavy, "courier-gb") - _door(demo, heavy, "depot-gb") < trip


def _door(demo: Build, lines: list[tuple[str, int]], route_id: str) -> float:
    """Cost at the door of some offers of one supplier by one route, home currency."""
    offers = [(demo.find("offers", offer), count) for offer, count in lines]
    supplier = demo.find("suppliers", offers[0][0].supplier)
    route = demo.find("routes", route_id)
    goods = tuple(_goods(demo, offer.id, count) for offer, count in offers)
    value = sum((item.value for item in goods), Money.of(0, supplier.currency))
    freight = freight_for(supplier, route, value, sum(item.mass_kg or 0 for item in goods))
    consignment = Consignment(supplier, route, goods, freight, offers[0][0].tax_included, demo_as_of())
    return float(landed_cost(consignment, demo.owner, load_rules(demo.owner.country), RATES).total.amount)


def _goods(demo: Build, offer_id: str, count: int) -> Goods:
    offer = demo.find("offers", offer_id)
    part = demo.find("parts", offer.part)
    return Goods(offer.id, offer.price * count, count, part.mass_kg * count, part.heading, part.origin)


def test_a_received_part_can_go_back_only_within_weeks(demo: Build) -> None:
    receipt = next(event for event in demo.events if isinstance(event, Receipt) and event.id == "r-radiator")
    terms = demo.find("offers", "nadrzecze-radiator").returns
    assert terms is not None
    assert 0 < terms.days - (demo_as_of() - receipt.day).days <= 21
