"""`fishplate landed`: a build's offers and goods outside any build, in words and for programs."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.build import Refused
from fishplate.cli.landed_command import command
from fishplate.landed import read_goods

AS_OF = ["--as-of", "2026-11-24"]

BUILD: dict[str, Any] = {
    "name": "Van",
    "parts": [
        {"id": "hub", "name": "Hub", "quantity": 2, "heading": "870850", "mass_kg": 4},
        {"id": "seal", "name": "Seal", "quantity": 2},
        {"id": "horn", "name": "Horn"},
    ],
    "kits": [{"id": "hub-set", "name": "Hub set", "contents": [{"part": "hub", "quantity": 2}, {"part": "seal"}]}],
    "routes": [
        {"id": "post", "name": "Parcel", "kind": "courier", "from_country": "GB", "max_mass_kg": 6},
        {"id": "depot", "name": "Depot", "kind": "collection", "from_country": "GB"},
    ],
    "collections": [
        {
            "id": "trip", "route": "depot", "day": "2027-01-10", "hours": 10,
            "ferry": {"amount": "200", "currency": "EUR"},
        }
    ],
    "suppliers": [
        {"id": "north", "name": "North", "country": "GB", "currency": "GBP"},
        {"id": "near", "name": "Near", "country": "NL", "currency": "EUR"},
        {"id": "lost", "name": "Lost", "country": "ZZ", "currency": "USD"},
        {"id": "far", "name": "Far", "country": "AR", "currency": "ARS"},
    ],
    "offers": [
        {"id": "north-hub", "supplier": "north", "part": "hub", "price": {"amount": "60", "currency": "GBP"}},
        {"id": "near-hub", "supplier": "near", "part": "hub", "price": {"amount": "90", "currency": "EUR"}},
        {"id": "near-set", "supplier": "near", "kit": "hub-set", "price": {"amount": "170", "currency": "EUR"}},
        {"id": "lost-seal", "supplier": "lost", "part": "seal", "price": {"amount": "10", "currency": "USD"}},
        {"id": "far-seal", "supplier": "far", "part": "seal", "price": {"amount": "10", "currency": "ARS"}},
        {
            "id": "gone", "supplier": "near", "part": "seal", "available_until": "2026-01-01",
            "price": {"amount": "1", "currency": "EUR"},
        },
    ],
}  # fmt: skip


@pytest.fixture
def build_file(tmp_path: Path) -> Path:
    path = tmp_path / "van.json"
    path.write_text(json.dumps(BUILD), "utf-8")
    return path


def run(*arguments: str) -> str:
    result = CliRunner().invoke(command, [*arguments, *AS_OF], catch_exceptions=True)
    if result.exception is not None:
        raise result.exception
    return result.output


def answer(*arguments: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(run(*arguments, "--json"))
    return found


def test_json_has_the_documented_keys(build_file: Path) -> None:
    found = answer(str(build_file))
    assert set(found) == {
        "as_of", "currency", "rates", "suppliers", "offers", "trips", "unpriced", "assumptions", "care",
    }  # fmt: skip
    way = found["offers"][0]["ways"][0]
    assert set(way) == {"route", "refused"}
    priced = next(row for row in found["offers"] if row["offer"] == "near-hub")["ways"][0]
    assert set(priced) == {"route", "total", "lines", "rules", "flags", "assumptions", "doubts"}
    assert set(priced["lines"][0]) == {"label", "amount", "kind", "rule", "note"}
    documented = command.help or ""
    assert all(key in documented for key in (*found, *priced, *priced["lines"][0]))


def test_supplier_total_takes_what_is_missing_by_each_way_home(build_file: Path) -> None:
    found = {row["supplier"]: row for row in answer(str(build_file))["suppliers"]}
    assert [way["route"] for way in found["North"]["ways"]] == ["Parcel", "Depot"]
    parcel, depot = found["North"]["ways"]
    assert "heavier than the 6 kg" in parcel["refused"]  # two hubs of 4 kg
    assert depot["total"] == "146.08 EUR"  # 120 GBP at 0.8338, within the allowance, 1.5 % card
    # near: two hubs at 90, and a set for the seal that its single offers leave out
    assert found["Near"]["what"] == "2 offers"


def test_what_cannot_be_read_or_known_is_said(build_file: Path) -> None:
    found = answer(str(build_file))
    assert found["unpriced"] == ["horn"]
    assert any("Lost: its country is not known and guessed to be US" in text for text in found["assumptions"])
    far = next(row for row in found["offers"] if row["offer"] == "far-seal")
    assert "no exchange rate is known from ARS to EUR" in far["ways"][0]["refused"]
    assert "gone" not in {row["offer"] for row in found["offers"]}


def test_trip_is_shown_apart_from_what_it_fetches(build_file: Path) -> None:
    (trip,) = answer(str(build_file))["trips"]
    assert trip["total"] == "350.00 EUR"  # ferry 200, ten hours at the assumed 15
    assert "Trips, not counted above" in run(str(build_file))


def test_one_offer_is_itemised_with_the_rule_behind_each_line(build_file: Path) -> None:
    text = run(str(build_file), "--offer", "north-hub")
    for words in ("north-hub from North, by Parcel", "eu.flat3", "nl.vat", "at the door", "by Depot"):
        assert words in text
    assert "Declare goods honestly" in text
    assert "24 November 2026" in text


def test_unknown_offer_is_refused(build_file: Path) -> None:
    with pytest.raises(Refused, match="no such offer"):
        run(str(build_file), "--offer", "nothing")


def test_goods_outside_a_build_are_itemised() -> None:
    text = run(
        "--price", "120 GBP", "--from", "GB", "--to", "NL", "--mass", "3.2", "--heading", "8708.30", "--origin", "GB",
        "--freight", "18 GBP", "--route", "courier", "--tax-included", "--origin-tax", "taken-off",
        "--advance", "2.5 %, 15 EUR", "--entry-fee", "5 EUR",
    )  # fmt: skip
    for words in ("origin tax", "flat duty", "advancing duty and tax", "customs entry", "Ranges", "proof of origin"):
        assert words in text
    way = answer("--price", "120 GBP", "--from", "gb")["offers"][0]["ways"][0]
    assert any("carrier's fees" in text for text in answer("--price", "120 GBP", "--from", "gb")["assumptions"])
    assert way["route"] == "courier"


def test_goods_of_the_union_come_by_delivery_and_without_import() -> None:
    way = answer("--price", "100 EUR", "--from", "DE")["offers"][0]["ways"][0]
    assert (way["route"], way["total"]) == ("delivery", "100.00 EUR")


@pytest.mark.parametrize(
    "arguments",
    [
        ["--price", "120", "--from", "GB"],
        ["--price", "12,5 GBP", "--from", "GB"],
        ["--price", "-1 GBP", "--from", "GB"],
        ["--price", "1 XYZ", "--from", "GB"],
        ["--price", "nan GBP", "--from", "GB"],
        ["--price", "120 GBP", "--from", "Britain"],
        ["--price", "120 GBP"],
        ["--price", "120 GBP", "--from", "GB", "--heading", "87x"],
        ["--price", "120 GBP", "--from", "GB", "--advance", "200 %"],
        ["--price", "120 GBP", "--from", "GB", "--advance", "x %"],
        ["--price", "120 GBP", "--from", "GB", "--mass", "-1"],
        ["--price", "120 GBP", "--from", "GB", "--currency", "XYZ"],
        ["van.json", "--price", "120 GBP", "--to", "NL"],
        ["--goods", "hub; 12 GBP", "--from", "GB", "--mass", "3"],
        ["van.json", "--price", "120 GBP", "--offer", "hub"],
        ["--price", "120 GBP", "--goods", "hub; 12 GBP", "--from", "GB"],
        ["--price", "120 GBP", "--from", "GB", "--entry-fee", "5 EUR up to 100 EUR, 9 EUR up to 50 EUR, 12 EUR"],
        ["--price", "120 GBP", "--from", "GB", "--entry-fee", "5 EUR up to 100 EUR"],
        ["--price", "120 GBP", "--from", "GB", "--inland", "5 GBP"],
        [],
    ],
)
def test_misuse_is_said_and_not_traced(arguments: list[str]) -> None:
    result = CliRunner().invoke(command, [*arguments, *AS_OF])
    assert result.exit_code == 2, result.output
    assert "Error" in result.output


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--price", "120 GBP", "--from", "GB", "--to", "BR"], "no rules yet for BR"),
        (["--price", "120 ARS", "--from", "AR"], "no exchange rate is known from ARS"),
    ],
)
def test_what_cannot_be_reckoned_is_refused(arguments: list[str], words: str) -> None:
    with pytest.raises(Refused, match=words):
        run(*arguments)


def test_destination_takes_its_province_and_a_business_its_own_taxes() -> None:
    goods = ["--price", "1000 CAD", "--from", "KR", "--heading", "840991", "--origin-tax", "none"]
    ontario = answer(*goods, "--to", "CA-ON")["offers"][0]["ways"][0]
    shop = answer(*goods, "--to", "CA-ON", "--business")["offers"][0]["ways"][0]
    assert (ontario["total"], shop["total"]) == ("1130.00 CAD", "1050.00 CAD")
    with pytest.raises(Refused, match="owner, region: not one of"):
        run(*goods, "--to", "CA-XX")


def test_proof_of_origin_claims_the_preference() -> None:
    goods = ["--price", "400 EUR", "--from", "GB", "--heading", "870830", "--origin", "GB", "--origin-tax", "none"]
    plain, proven = (answer(*goods, *more)["offers"][0]["ways"][0] for more in ([], ["--proof"]))
    assert (plain["total"], proven["total"]) == ("505.78 EUR", "484.00 EUR")
    assert any(line["rule"] == "eu.preference.gb" for line in proven["lines"])


def test_currency_without_a_minor_unit_is_shown_without_one() -> None:
    text = run("--price", "40000 JPY", "--from", "KR", "--to", "JP", "--route", "post", "--origin-tax", "none")
    assert "40,000 " in text
    assert ".00" not in text.split("Rules")[0]


def test_absence_decides_the_allowance() -> None:
    goods = ["--price", "150 CAD", "--from", "US", "--to", "CA-AB", "--route", "collection", "--origin-tax", "none"]
    day, hours = (answer(*goods, "--absence", given)["offers"][0]["ways"][0]["total"] for given in ("30", "6"))
    assert day == "150.00 CAD"
    assert hours > day


def test_sums_have_their_thousands_set_apart() -> None:
    text = run("--price", "3900 GBP", "--from", "GB", "--freight", "80 GBP", "--heading", "8708.29")
    assert "3,900.00 GBP at " in text
    assert not re.search(r"(?<![\d.,-])\d{4,}\.\d\d\b", text)


HUBS = "2 x front hub; 62.50 GBP; 4.2 kg; 8708.50; made in GB; 300 x 300 x 200 mm"
HOSE = "brake hose; 18 GBP; 300 g; 4009.31"


def test_several_kinds_of_goods_travel_and_are_declared_together() -> None:
    """143 GBP are 171.51 EUR at 0.8338: 142.92 without 20 % VAT, so flat duty of 3 EUR for each of two headings."""
    found = answer("--goods", HUBS, "--goods", HOSE, "--from", "GB", "--freight", "24 GBP")["offers"][0]
    assert [way["route"] for way in found["ways"]] == ["courier", "post", "freight", "delivery", "collection"]
    lines = {line["label"]: line["amount"] for line in found["ways"][0]["lines"]}
    assert {"2 × front hub", "brake hose", "freight"} < set(lines)
    assert lines["flat duty"] == "6.00 EUR"
    assert not [line for line in found["ways"][-1]["lines"] if line["label"] == "freight"]  # nothing is sent


def test_every_way_home_stands_side_by_side_cheapest_first_and_what_is_alike_is_told_once() -> None:
    text = run("--goods", HUBS, "--goods", HOSE, "--from", "GB", "--fuel", "12", "--freight", "24 GBP")
    head, _, rest = text.partition("2 kinds of goods from the seller, by courier, post, freight")
    assert rest
    assert head.index("collection") < head.index("courier")
    assert "the trip itself left out" in head
    assert rest.count("eu.valuation (published)") == 1
    assert "the owner travels is not known: the allowance of 300 EUR is used (collection)" in rest


def test_entry_fee_by_steps_and_fuel_reach_the_bill() -> None:
    goods = ["--price", "100 EUR", "--from", "GB", "--origin-tax", "none", "--route", "courier", "--freight", "20 EUR"]
    way = answer(*goods, "--entry-fee", "0 EUR up to 22 EUR, 12.50 EUR up to 150 EUR, 25 EUR", "--fuel", "12")
    lines = {line["label"]: line["amount"] for line in way["offers"][0]["ways"][0]["lines"]}
    assert (lines["customs entry"], lines["fuel surcharge"]) == ("12.50 EUR", "2.40 EUR")


def test_goods_in_no_list_come_by_the_ways_home_of_the_build(build_file: Path) -> None:
    found = answer(str(build_file), "--goods", HUBS, "--from", "GB")["offers"][0]["ways"]
    assert [way["route"] for way in found] == ["Parcel", "Depot", "The post", "Freight on a pallet"]
    assert "heavier than the 6 kg" in found[0]["refused"]


def test_range_counts_what_is_doubtful_together() -> None:
    """Tax taken off and a preference together lower the total by more than either alone."""
    found = answer("--goods", "hub; 400 GBP; 8708.50; made in GB", "--from", "GB", "--route", "courier")
    way = found["offers"][0]["ways"][0]
    text = run("--goods", "hub; 400 GBP; 8708.50; made in GB", "--from", "GB", "--route", "courier", "--route", "post")
    lowest = re.search(r"between (\d+\.\d\d) and", text)
    assert lowest is not None
    assert Decimal(lowest[1]) < min(Decimal(doubt["low"].split()[0]) for doubt in way["doubts"])


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("front hub", "the price of one is missing"),
        ("front hub; 12", "can't be told what this is"),
        ("front hub; 1.234 GBP", "it could be 1234 or 1.234"),
        ("front hub; 3 XYZ", "XYZ is not a currency"),
        ("front hub; 3 EUR; made in Germany", "not a country"),
        ("front hub; 3 EUR; 0 x 3 x 4 mm", "above zero and below 100 m"),
        ("front hub; 3 EUR; -4 kg", "cannot be below zero"),
        ("0 x front hub; 3 EUR", "at least one of it"),
        ("; 3 EUR", "begins with the name"),
        ("front hub; 3 EUR; 4 EUR", "a second price"),
        ("front hub; 3 EUR\nhose; 3 USD", "priced in one currency"),
        (" ", "nothing in it"),
    ],
)
def test_a_line_that_cannot_be_read_is_refused_with_what_to_write(line: str, words: str) -> None:
    with pytest.raises(Refused, match=words):
        read_goods(line.split("\n"))


def test_a_line_of_goods_is_read_in_any_order_and_unit() -> None:
    (goods,) = read_goods(["3 × M8x20 bolt; made in de; 12,5 lb; GBP 1,200.50; 8708 50 10 00; 12x10x8 in; proof; set"])
    assert (goods.label, goods.quantity, str(goods.value)) == ("M8x20 bolt", 3, "3601.50 GBP")
    assert goods.mass_kg == pytest.approx(3 * 12.5 * 0.45359237)  # the international pound
    assert goods.box_mm == pytest.approx((304.8, 254.0, 203.2))
    assert (goods.heading, goods.origin, goods.proof, goods.kind) == ("8708501000", "DE", True, "set")
    assert read_goods(["jacket; 40 EUR; general"])[0].use == "general"


@pytest.mark.parametrize("named", [["--goods", "saw; 238 EUR"], ["--price", "238 EUR"]])
def test_general_goods_get_the_sellers_tax_back_and_parts_do_not(named: list[str]) -> None:
    """A receipt of 238 EUR, above the 50 EUR of German law, carried to Switzerland."""
    given = [*named, "--from", "DE", "--to", "CH", "--route", "collection", "--origin-tax", "refund"]
    assert "claimed back later" in CliRunner().invoke(command, [*given, "--general"]).output
    assert "claimed back later" not in CliRunner().invoke(command, given).output


def test_freight_beyond_the_border_pays_tax_and_no_duty() -> None:
    """600 with 110 of freight, of which 20 inland, to Great Britain at 4 %: duty 27.60, tax on 737.60 is 147.52."""
    given = ["--price", "600 GBP", "--from", "KR", "--to", "GB", "--route", "courier", "--heading", "87083099"]
    lines = answer(*given, "--freight", "110 GBP", "--inland", "20 GBP")["offers"][0]["ways"][0]["lines"]
    paid = {line["kind"]: line["amount"] for line in lines}
    assert (paid["duty"], paid["tax"]) == ("27.60 GBP", "147.52 GBP")
