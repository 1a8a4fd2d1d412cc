"""Trips: what one more parcel adds, when the trip pays, what the depot makes of it, and the list for the border."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import combinations
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.build import Build, Money, Rates, Refused, build_from_data, facts_of
from fishplate.build.commerce import Collection, Route, Supplier
from fishplate.build.owner import Owner
from fishplate.cli.landed_command import command
from fishplate.landed import (
    Consignment,
    Goods,
    TravelAllowance,
    added_parcel,
    arrival_days,
    break_even,
    collection_problems,
    compare_bill,
    declaration_list,
    expected_cost,
    landed_cost,
    landed_trip,
    load_rules,
    recorded_bill,
    storage_line,
    trip_against,
    trip_allowance,
)

DAY = date(2026, 11, 24)
TRIP_DAY = date(2027, 1, 9)  # a Saturday
RULES = load_rules("NL")
RATES = Rates(base="EUR", per_base={"GBP": Decimal("0.8")}, day=DAY, source="test")
OWNER = Owner(card_markup_percent=0, hour_worth=Decimal(10))
DEPOT = Route(
    id="depot", name="Depot", kind="collection", from_country="GB", open_weekdays=(1, 2, 3, 4, 5),
    storage_free_days=14, storage_per_day=Money.of("1.60", "GBP"), fees_as_of=DAY,
)  # fmt: skip
PARCEL = Route(id="parcel", name="Parcel", kind="courier", from_country="GB", fees_as_of=DAY)
TRIP = Collection(
    id="trip", route="depot", day=TRIP_DAY, ferry=Money.of(60, "EUR"), hours=4, capacity_kg=100, storage_weeks=6
)
FERRY = TravelAllowance("air-sea")


def goods_from(name: str, value: float, route: Route = DEPOT, day: date = TRIP_DAY) -> Consignment:
    seller = Supplier(id=name, name=name, country="GB", currency="EUR", origin_tax="none")
    return Consignment(
        seller, route, (Goods("part", Money.of(value, "EUR"), heading="870830"),), Money.of(0, "EUR"), False, day
    )


def test_parcel_adds_what_it_costs_and_what_it_takes_of_the_allowance() -> None:
    """Alone 300 is free of 430. Beside 200 only one of them is: the smaller is taxed, 200 x 2.5 %, then 21 %."""
    alone = added_parcel([], goods_from("b", 300), OWNER, RULES, RATES, allowance=FERRY)
    assert alone.adds == Money.of(300, "EUR")
    beside = added_parcel([goods_from("a", 200)], goods_from("b", 300), OWNER, RULES, RATES, allowance=FERRY)
    assert beside.cost.total == Money.of(300, "EUR")
    assert beside.adds == Money.of("348.05", "EUR")


def test_trip_pays_where_it_saves_at_least_what_it_costs() -> None:
    """The trip costs 100; goods of 400 sent cost 400 x 1.045 x 1.21 = 505.78, fetched 400."""
    fetched = landed_trip([goods_from("a", 400)], OWNER, RULES, RATES, allowance=FERRY)
    sent = [landed_cost(goods_from("a", 400, PARCEL), OWNER, RULES, RATES)]
    found = break_even(TRIP, fetched, sent, OWNER, RATES)
    assert (found.trip, found.saves, found.pays) == (Money.of(100, "EUR"), Money.of("105.78", "EUR"), True)
    small = landed_trip([goods_from("a", 300)], OWNER, RULES, RATES, allowance=FERRY)
    sent = [landed_cost(goods_from("a", 300, PARCEL), OWNER, RULES, RATES)]
    short = break_even(TRIP, small, sent, OWNER, RATES)
    assert not short.pays
    assert "20.66 EUR short" in short.text
    assert short.share == pytest.approx(0.7934, abs=1e-3)
    same = break_even(TRIP, sent, sent, OWNER, RATES)
    assert "have them sent" in same.text


def test_depot_that_is_closed_and_load_that_is_too_heavy_are_said() -> None:
    load = [Goods("axle", Money.of(1, "EUR"), 1, 120.0, box_mm=(2500, 600, 400))]
    closed, heavy = collection_problems(TRIP, DEPOT, load)
    assert "closed on a Saturday" in str(closed)
    assert "it carries 100 kg" in str(heavy)
    assert collection_problems(TRIP.model_copy(update={"day": date(2027, 1, 8), "capacity_kg": 120}), DEPOT, load) == ()
    small = TRIP.model_copy(
        update={"day": date(2027, 1, 8), "capacity_kg": 200, "capacity_m3": 0.5, "longest_mm": 2000}
    )
    bulky, long = collection_problems(small, DEPOT, load)
    assert "it has room for 0.5 m³ ('0.6 m³')" in str(bulky)
    assert "the longest piece it carries is 2000 mm ('2500 mm')" in str(long)


def test_storage_is_charged_after_the_free_days_in_home_currency() -> None:
    line = storage_line(TRIP, DEPOT, date(2026, 12, 16), OWNER, RATES)
    assert line is not None
    assert line.amount == Money.of(20, "EUR")  # 24 days, 10 beyond the free ones, 1.60 GBP each
    assert storage_line(TRIP, DEPOT, date(2026, 12, 27), OWNER, RATES) is None
    assert storage_line(TRIP, PARCEL, date(2026, 1, 1), OWNER, RATES) is None
    no_free_days = storage_line(
        TRIP, DEPOT.model_copy(update={"storage_free_days": None}), date(2027, 1, 8), OWNER, RATES
    )
    assert no_free_days is not None
    assert (no_free_days.amount, no_free_days.note) == (Money.of(2, "EUR"), "1 day, at 1.60 GBP a day")
    assert arrival_days(TRIP) == (date(2026, 11, 28), TRIP_DAY)
    for_ever = TRIP.model_copy(update={"storage_weeks": 1e9})
    assert arrival_days(for_ever) == (date.min, TRIP_DAY)


BUILD: dict[str, Any] = {
    "name": "Van",
    "owner": {"card_markup_percent": 0},
    "parts": [
        {"id": "hub", "name": "Front hub", "quantity": 4, "heading": "870850", "origin": "GB", "mass_kg": 8},
        {"id": "seal", "name": "Oil seal", "quantity": 2},
    ],
    "routes": [
        {"id": "depot", "name": "Depot", "kind": "collection", "from_country": "GB", "open_weekdays": [1, 2, 3]},
        {"id": "parcel", "name": "Parcel", "kind": "courier", "from_country": "GB", "fees_as_of": "2026-11-01"},
    ],
    "collections": [
        {
            "id": "trip", "route": "depot", "day": "2027-01-09", "capacity_kg": 20, "hours": 2,
            "ferry": {"amount": "80", "currency": "EUR"},
        }
    ],
    "suppliers": [
        {
            "id": "north", "name": "North", "country": "GB", "currency": "GBP", "origin_tax": "none",
            "freight": [
                {"route": "depot", "fixed": {"amount": "5", "currency": "GBP"}},
                {"route": "parcel", "fixed": {"amount": "30", "currency": "GBP"}},
            ],
        }
    ],
    "offers": [
        {"id": "north-hub", "supplier": "north", "part": "hub", "price": {"amount": "80", "currency": "GBP"}},
        {"id": "north-seal", "supplier": "north", "part": "seal", "price": {"amount": "4", "currency": "GBP"}},
    ],
    "events": [
        {
            "id": "first", "kind": "ordered", "day": "2026-10-01", "supplier": "north", "route": "depot",
            "collection": "trip",
            "lines": [{"offer": "north-hub", "quantity": 2, "price": {"amount": "80", "currency": "GBP"}}],
        },
        {
            "id": "second", "kind": "ordered", "day": "2026-10-02", "supplier": "north", "route": "depot",
            "lines": [{"offer": "north-seal", "quantity": 2, "price": {"amount": "4", "currency": "GBP"}}],
        },
        {
            "id": "gone", "kind": "ordered", "day": "2026-10-03", "supplier": "north", "collection": "trip",
            "lines": [{"offer": "north-seal", "quantity": 9, "price": {"amount": "4", "currency": "GBP"}}],
        },
        {"id": "no", "kind": "cancelled", "day": "2026-10-04", "order": "gone"},
        {
            "id": "home", "kind": "ordered", "day": "2026-10-05", "supplier": "north", "route": "parcel",
            "lines": [{"offer": "north-hub", "quantity": 2, "price": {"amount": "80", "currency": "GBP"}}],
            "freight": {"amount": "30", "currency": "GBP"},
        },
        {"id": "p1", "kind": "paid", "day": "2026-10-20", "order": "home", "what": "duty", "note": "duty",
         "amount": {"amount": "8.55", "currency": "EUR"}},
        {"id": "p2", "kind": "paid", "day": "2026-10-20", "order": "home", "what": "tax", "note": "VAT",
         "amount": {"amount": "80.00", "currency": "EUR"}},
    ],
}  # fmt: skip


@pytest.fixture
def build() -> Build:
    return build_from_data(BUILD, source="van.json")


def test_list_holds_what_is_still_to_be_fetched_and_nothing_else(build: Build) -> None:
    found = declaration_list(build, facts_of(build, DAY), build.find("collections", "trip"), RULES, RATES)
    assert [(line.what, line.quantity, str(line.paid)) for line in found.lines] == [
        ("Front hub", 2, "160.00 GBP"),
        ("Oil seal", 2, "8.00 GBP"),
    ]
    assert (found.start, found.destination) == ("GB", "NL")
    assert found.worth == Money.of(210, "EUR")
    assert found.free == Money.of(210, "EUR")  # within 430, by ferry
    assert (found.duty, found.tax) == (Money.of(0, "EUR"), Money.of(0, "EUR"))


def test_list_says_what_is_not_known_what_to_bring_and_what_stands_in_the_way(build: Build) -> None:
    found = declaration_list(build, facts_of(build, DAY), build.find("collections", "trip"), RULES, RATES)
    assert "tariff heading not known" in found.lines[1].note
    assert found.papers == ("North: invoice with prices and proof of payment",)
    assert ["closed on a Saturday" in str(problem) for problem in found.problems] == [True]
    assert "Declare everything" in found.care


def test_promised_days_tell_what_is_not_there_and_what_waits_too_long(build: Build) -> None:
    """The depot keeps goods eight weeks, fourteen days of them free at 2 EUR a day after."""
    depot = {"storage_free_days": 14, "storage_per_day": {"amount": "2", "currency": "EUR"}}
    routes = [route | depot if route["id"] == "depot" else route for route in BUILD["routes"]]
    promised = {"first": "2027-01-20", "second": "2026-11-01"}
    events = [
        event | {"promised": promised[event["id"]]} if event["id"] in promised else event for event in BUILD["events"]
    ]
    changed = build_from_data({**BUILD, "routes": routes, "events": events}, source="van.json")
    found = declaration_list(changed, facts_of(changed, DAY), changed.find("collections", "trip"), RULES, RATES)
    said = [str(problem) for problem in found.problems]
    assert any("order first, promised: it is promised for 2027-01-20, after the trip" in text for text in said)
    assert any("order second, promised: the depot keeps goods for 8 weeks" in text for text in said)
    (storage,) = found.storage
    assert storage.amount == Money.of(110, "EUR")  # 69 days to the trip, 55 beyond the free ones


def test_goods_that_have_arrived_are_no_longer_on_the_list(build: Build) -> None:
    receipt = {"id": "r", "kind": "arrived", "day": "2026-11-01", "order": "first",
               "lines": [{"part": "hub", "quantity": 1}]}  # fmt: skip
    later = build_from_data({**BUILD, "events": [*BUILD["events"], receipt]}, source="van.json")
    found = declaration_list(later, facts_of(later, DAY), later.find("collections", "trip"), RULES, RATES)
    assert [(line.what, line.quantity) for line in found.lines] == [("Front hub", 1), ("Oil seal", 2)]


def test_bill_of_an_order_is_compared_with_what_was_recorded(build: Build) -> None:
    """Two hubs at 100 EUR and 37.50 of freight: duty 237.50 x 3.5 % = 8.31, tax 21 % of 245.81 = 51.62."""
    cost = expected_cost(build, facts_of(build, DAY), "home", RULES, RATES)
    assert cost.sum_of("tax").amount == Decimal("51.62")
    report = compare_bill(cost, recorded_bill(build, "home", RATES))
    odd = {line.kind for line in report.lines if line.odd}
    assert odd == {"tax"}  # 24 cents of duty may be exchange
    with pytest.raises(Refused, match="there is no such order"):
        expected_cost(build, facts_of(build, DAY), "gone", RULES, RATES)


# the command


@pytest.fixture
def build_file(tmp_path: Path) -> Path:
    path = tmp_path / "van.json"
    path.write_text(json.dumps(BUILD), "utf-8")
    return path


def run(*arguments: str) -> str:
    result = CliRunner().invoke(command, [*arguments, "--as-of", "2026-11-24"])
    if result.exception is not None:
        raise result.exception
    return result.output


def test_declaration_is_printed_as_a_list_with_its_care(build_file: Path) -> None:
    text = run(str(build_file), "--declaration", "trip")
    for words in ("Goods carried from GB to NL on 9 January 2027", "2 × Front hub", "870850", "Papers to have at hand"):
        assert words in text
    assert "officer decides" in text


def test_declaration_json_has_the_documented_keys(build_file: Path) -> None:
    found = json.loads(run(str(build_file), "--declaration", "trip", "--json"))
    assert set(found) == {
        "collection", "day", "from", "to", "lines", "worth", "free", "duty", "tax", "papers", "storage", "flags",
        "problems", "care",
    }  # fmt: skip
    assert set(found["lines"][0]) == {
        "supplier", "what", "quantity", "paid", "worth", "heading", "origin", "proof", "mass_kg", "free", "note",
    }  # fmt: skip
    documented = command.help or ""
    assert all(key in documented for key in (*found, *found["lines"][0]))


def test_bill_is_shown_line_by_line_with_what_stands_out(build_file: Path) -> None:
    text = " ".join(run(str(build_file), "--bill", "home").split())
    assert "Order home: what its arrival cost" in text
    assert "the tax was charged" in text
    found = json.loads(run(str(build_file), "--bill", "home", "--json"))
    assert set(found) == {"order", "reckoned", "expected", "billed", "odd", "lines", "care"}
    assert found["odd"] is True


def test_trips_are_set_against_having_the_missing_parts_sent(build_file: Path) -> None:
    wanted = {**BUILD, "events": []}
    build_file.write_text(json.dumps(wanted), "utf-8")
    (trip,) = json.loads(run(str(build_file), "--json"))["trips"]
    assert set(trip["against"]) == {"fetched", "sent", "saves", "pays", "text"}
    assert "What is missing, fetched or sent" in run(str(build_file))


@pytest.mark.parametrize(
    ("arguments", "words"), [(["--declaration", "lost"], "no such collection"), (["--bill", "lost"], "no such order")]
)
def test_trip_or_order_that_is_not_there_is_refused(build_file: Path, arguments: list[str], words: str) -> None:
    with pytest.raises(Refused, match=words):
        run(str(build_file), *arguments)


def test_declaration_without_a_build_is_misuse() -> None:
    result = CliRunner().invoke(command, ["--price", "1 EUR", "--from", "GB", "--declaration", "trip"])
    assert result.exit_code == 2


def american(*trips: dict[str, Any]) -> Build:
    """An owner in the United States who fetches goods of Great Britain, where a depot keeps them."""
    route = {"id": "depot", "name": "Depot", "kind": "collection", "from_country": "GB"}
    return build_from_data({
        "owner": {"country": "US", "currency": "USD", "card_markup_percent": 0}, "routes": [route],
        "collections": [{"route": "depot", "absence_hours": 72, **trip} for trip in trips],
    })  # fmt: skip


@pytest.mark.parametrize(
    ("decided", "first", "free"),
    [(True, "2027-01-10", 0), (True, "2026-12-31", 600), (False, "2027-01-10", 600)],
    ids=["twenty days before", "thirty days before", "one that need not be made"],
)
def test_allowance_that_holds_once_in_thirty_days_is_used_by_the_trip_before(
    decided: bool, first: str, free: int
) -> None:
    """HTS 9804.00.65: 800 USD once in 30 days; else 200, above which all is dutiable."""
    build = american({"id": "a", "day": first, "decided": decided}, {"id": "b", "day": "2027-01-30"})
    allowance = trip_allowance(build, build.collections[1])
    goods = goods_from("seller", 600, build.routes[0], date(2027, 1, 30))
    rates = Rates(base="USD", per_base={"EUR": Decimal(1)}, day=DAY, source="test")
    (cost,) = landed_trip([goods], build.owner, load_rules("US"), rates, allowance=allowance)
    assert cost.free_value.amount == free
    said = "us.traveller.800: 800.00 USD is free once in 30 days, and the trip 20 days before is taken to have used it"
    assert (said in cost.flags) == (free == 0)


def test_household_along_and_way_of_travel_reach_the_allowance() -> None:
    """Only where a rule says so do others count: an owner of the Union has 430 EUR by air or sea however many come."""
    build = american({"id": "a", "day": "2027-01-30", "persons": 3, "travel": "air-sea"})
    allowance = trip_allowance(build, build.collections[0])
    assert allowance == TravelAllowance("air-sea", 72, persons=3)
    (alone,) = landed_trip([goods_from("a", 500)], OWNER, RULES, RATES, allowance=TravelAllowance("air-sea"))
    (three,) = landed_trip([goods_from("a", 500)], OWNER, RULES, RATES, allowance=allowance)
    assert three.total == alone.total
    assert any("3 persons of the household add nothing" in flag for flag in three.flags)


@pytest.mark.parametrize("seed", range(60))
def test_break_even_leaves_on_the_trip_what_is_best_fetched(seed: int) -> None:
    """Against every choice of parcels, their allowance shared: the trip pays where some choice saves its cost."""
    draw = Random(seed)
    build = build_from_data({
        "owner": {"card_markup_percent": 0, "hour_worth": 10},
        "routes": [{"id": "depot", "name": "Depot", "kind": "collection", "from_country": "GB"}],
        "collections": [{"id": "trip", "route": "depot", "day": "2027-01-08", "hours": draw.choice([0, 2, 6]),
                         "capacity_kg": 100, "ferry": {"amount": "40", "currency": "EUR"}}],
    })  # fmt: skip
    (trip,), (depot,) = build.collections, build.routes
    parcels = [
        replace(one, goods=(replace(one.goods[0], mass_kg=float(draw.randint(5, 60))),))
        for one in (goods_from(f"s{at}", draw.randint(50, 900), depot, trip.day) for at in range(draw.randint(1, 4)))
    ]
    sent = [landed_cost(replace(one, route=PARCEL), OWNER, RULES, RATES, with_doubts=False) for one in parcels]
    sent = [replace(cost, exact=cost.exact * draw.choice([1, Decimal("0.8")])) for cost in sent]

    def saving(places: tuple[int, ...]) -> Decimal:
        if sum(parcels[at].goods[0].mass_kg or 0 for at in places) > 100:
            return Decimal("-Infinity")
        costs = landed_trip([parcels[at] for at in places], OWNER, RULES, RATES, allowance=FERRY, with_doubts=False)
        return sum((sent[at].exact for at in places), Decimal(0)) - sum((cost.exact for cost in costs), Decimal(0))

    every = [places for many in range(len(parcels) + 1) for places in combinations(range(len(parcels)), many)]
    best = max(map(saving, every))
    found = trip_against(build, trip, parcels, [replace(c, total=Money.of(c.exact, "EUR").rounded()) for c in sent],
                         RULES, RATES)  # fmt: skip
    assert found is not None
    assert found.pays == (best >= found.trip.amount and best > 0)
    if found.pays:
        assert float(found.saves.amount) == pytest.approx(float(best), abs=0.03)
        named = {parcels[at].supplier.name for at in range(len(parcels))} - set(found.left)
        assert len(named) >= 1


def test_fixed_trip_counts_what_goods_save_and_not_its_own_cost() -> None:
    fetched = landed_trip([goods_from("a", 400)], OWNER, RULES, RATES, allowance=FERRY)
    sent = [landed_cost(goods_from("a", 400, PARCEL), OWNER, RULES, RATES)]
    dear = TRIP.model_copy(update={"hours": 400, "decided": True})
    found = break_even(dear, fetched, sent, OWNER, RATES)
    assert found.pays
    assert "made anyway, so its 4,060.00 EUR count on neither side, and the goods cost 105.78 EUR less" in found.text


def test_papers_of_export_are_asked_for_only_where_they_take_the_tax_off(build: Build) -> None:
    """A private owner who carries parts out of Great Britain pays its tax, and customs counts it."""
    held = build.model_dump(mode="json")
    held["suppliers"][0]["origin_tax"] = "taken-off"
    for offer in held["offers"]:
        offer["tax_included"] = False
    stays = build_from_data(held)
    found = declaration_list(stays, facts_of(stays, DAY), stays.collections[0], RULES, RATES)
    assert not [text for text in found.papers if "papers of export" in text]
    assert all("sales tax, 20 % put on the price" in line.note for line in found.lines)
