"""An order from a supplier's confirmation: matched, shown, and written only when accepted."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.build import Build, Refused, build_from_data
from fishplate.cli import cli
from fishplate.exchange import read_tables
from fishplate.exchange.confirmation import Confirmation, read_confirmation
from fishplate.store import BuildFile

DAY = date(2026, 3, 2)
LIST = """Part no.;Description;Qty;Unit price EUR
BH 1042/F;Hose, braided;2;31.50
;brake disc;1;50.00
;Front pads, brake;4;20
"""


def eur(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def shop() -> Build:
    return build_from_data({
        "parts": [{"id": "hose", "name": "Brake hose", "part_number": "bh-1042f"}, {"id": "disc", "name": "Brake disc"},
                  {"id": "pads", "name": "Brake pads, front"}],
        "suppliers": [{"id": "shop", "name": "Shop", "country": "NL", "currency": "EUR"}],
        "offers": [{"id": "hoses", "supplier": "shop", "part": "hose", "price": eur(30), "seen": "2026-02-01"},
                   {"id": "discs", "supplier": "shop", "part": "disc", "price": eur(50)},
                   {"id": "padset", "supplier": "shop", "part": "pads", "price": eur(20)}],
        "price_changes": [{"id": "up", "day": "2026-05-01", "percent": 10, "supplier": "shop"}],
    })  # fmt: skip


def read(tmp_path: Path, text: str = LIST, **fields: Any) -> Confirmation:
    path = tmp_path / "confirmation.csv"
    path.write_text(text, encoding="utf-8")
    return read_confirmation(read_tables(path), shop(), "shop", DAY, **fields)


def test_rows_are_matched_by_number_then_name_then_likeness(tmp_path: Path) -> None:
    found = read(tmp_path, promised=date(2026, 3, 20))
    assert [(row.offer, row.how, row.quantity) for row in found.rows] == [
        ("hoses", "number", 2), ("discs", "name", 1), ("padset", "similar name", 4),
    ]  # fmt: skip
    assert found.rows[0].why == "31.50 EUR here, 30.00 EUR offered"
    assert found.order is not None
    assert (found.order.promised, len(found.order.lines)) == (date(2026, 3, 20), 3)


def test_the_prices_of_the_week_are_frozen_with_the_order(tmp_path: Path) -> None:
    order = read(tmp_path).order
    assert order is not None
    assert [(str(line.listed), str(line.announced)) for line in order.lines[:1]] == [("30.00 EUR", "33.00 EUR")]
    assert order.lines[1].listed is None  # no day says when its price was seen


def test_a_price_without_currency_is_in_the_currency_of_the_suppliers_offers_and_that_is_said(tmp_path: Path) -> None:
    path = tmp_path / "confirmation.csv"
    path.write_text("Description;Qty;Unit price\nBrake disc;1;50.00\nBrake pads, front;4;20\n", encoding="utf-8")
    data = shop().model_dump(mode="json")
    for offer in data["offers"]:
        offer["price"]["currency"] = "GBP"
    found = read_confirmation(read_tables(path), build_from_data(data), "shop", DAY)
    assert [(str(row.price), row.why) for row in found.rows] == [("50.00 GBP", ""), ("20.00 GBP", "")]
    assert found.notes == ("the price names no currency; GBP is taken, the supplier's currency",)


def test_a_currency_the_list_names_in_its_title_goes_before_the_offers(tmp_path: Path) -> None:
    found = read(tmp_path, "All prices in GBP\n\nDescription;Qty;Unit price\nBrake disc;1;50.00\n")
    assert [row.why for row in found.rows] == ["50.00 GBP here, 50.00 EUR offered"]


def test_a_row_that_nothing_offered_matches_refuses_the_whole_and_says_where(tmp_path: Path) -> None:
    found = read(tmp_path, LIST + ";Gearbox;1;900\n")
    assert found.order is None
    (problem,) = found.problems
    assert (problem.code, problem.got) == ("no-such-offer", "Gearbox")
    assert "row 5" in problem.where


def test_what_is_no_part_is_shown_and_not_left_out_in_silence(tmp_path: Path) -> None:
    found = read(tmp_path, LIST + ";Discount 5 %;;-9.65\n;VAT;;38\n;Total;;193\n")
    assert [(row.name, row.why) for row in found.rows if row.offer is None] == [
        ("Discount 5 %", "a discount, not a part"),
        ("VAT", "a tax or duty, not a part; what goods cost at the door is worked out from rules"),
        ("Total", "a total, not a part"),
    ]  # fmt: skip
    assert found.order is not None
    assert not found.notes  # 63 + 50 + 80 is what the list says


def test_a_pack_is_said_to_be_one(tmp_path: Path) -> None:
    data = shop().model_dump(mode="json")
    data["offers"][1]["pack"] = 2
    path = tmp_path / "confirmation.csv"
    path.write_text(LIST, encoding="utf-8")
    found = read_confirmation(read_tables(path), build_from_data(data), "shop", DAY)
    assert found.rows[1].why == "taken as 1 pack of 2"


def test_an_unknown_supplier_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "confirmation.csv"
    path.write_text(LIST, encoding="utf-8")
    with pytest.raises(Refused, match="no supplier has this id"):
        read_confirmation(read_tables(path), shop(), "nobody", DAY)


def test_the_command_shows_it_and_writes_only_with_yes(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text(LIST, encoding="utf-8")
    path = tmp_path / "van.fishplate"
    BuildFile.create(path, shop(), author="test", message="started")
    call = ["order", str(path), str(tmp_path / "c.csv"), "--supplier", "shop", "--day", "2026-03-02"]
    shown = CliRunner().invoke(cli, call)
    assert "Nothing is written yet" in shown.output
    assert not BuildFile.open(path).snapshot().build.events
    written = CliRunner().invoke(cli, [*call, "--yes", "--json"])
    assert json.loads(written.output)["written"] is True
    (order,) = BuildFile.open(path).snapshot().build.events
    assert [line.offer for line in order.lines] == ["hoses", "discs", "padset"]  # type: ignore[union-attr]


def test_the_command_tells_prices_as_the_owner_reads_them_and_names_as_they_were_written(tmp_path: Path) -> None:
    text = LIST + ";Brake disc 12.5 mm spacer;1;1234.50\n;Freight;;12.50\n"
    (tmp_path / "c.csv").write_text(text, encoding="utf-8")
    data = shop().model_dump(mode="json")
    data["owner"] |= {"locale": "de_DE", "units": "imperial"}
    data["parts"].append({"id": "spacer", "name": "Brake disc 12.5 mm spacer"})
    data["offers"].append({"id": "spacers", "supplier": "shop", "part": "spacer", "price": eur(1200)})
    path = tmp_path / "van.fishplate"
    BuildFile.create(path, build_from_data(data), author="test", message="started")
    call = [str(path), str(tmp_path / "c.csv")]
    shown = CliRunner().invoke(cli, ["order", *call, "--supplier", "shop"])
    assert "1234,50 EUR" in shown.output
    assert "12.5 mm spacer" in shown.output
    assert "freight" in shown.output
    listed = CliRunner().invoke(cli, ["import", *call, "--dry-run"]).output
    assert "1234,50 EUR" in listed
    assert "12.5 mm spacer" in listed
