"""What to ask a supplier, and a system from one supplier beside pieces."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.build import Build, Refused, build_from_data, facts_of, format_document
from fishplate.cli import cli
from fishplate.plan.enquiries import EnquirySheet, enquiry_sheet, system_choices
from fishplate.starters import demo_as_of, load_demo

DAY = date(2026, 3, 2)


def eur(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def brakes(*, enquiries: list[dict[str, Any]] | None = None, **fields: Any) -> Build:
    def offer(id_: str, supplier: str, part: str, price: float) -> dict[str, Any]:
        return {"id": id_, "supplier": supplier, "part": part, "price": eur(price), **fields}

    return build_from_data({
        "owner": {"country": "NL"},
        "systems": [{"id": "brakes", "name": "Brakes"}],
        "parts": [{"id": "disc", "name": "Disc", "system": "brakes", "quantity": 2, "part_number": "D-7"},
                  {"id": "hub", "name": "Hub", "system": "brakes"}],
        "suppliers": [{"id": "a", "name": "Alpha", "country": "GB", "currency": "EUR"},
                      {"id": "b", "name": "Beta", "country": "NL", "currency": "EUR"}],
        "offers": [offer("disc-a", "a", "disc", 50), offer("hub-a", "a", "hub", 90), offer("disc-b", "b", "disc", 40)],
        "interfaces": [{"id": "seat", "name": "Disc on hub", "parts": ["disc", "hub"]}],
        "dimensions": [{"id": "bore", "name": "Bore", "part": "disc"}],
        "conditions": [{"id": "gap", "interface": "seat", "name": "Gap", "expression": "bore", "at_least": "60 mm"}],
        "enquiries": enquiries or [],
    })  # fmt: skip


def sheet(build: Build, supplier: str = "a") -> EnquirySheet:
    return enquiry_sheet(build, facts_of(build, DAY), supplier)


def test_a_sheet_names_what_is_wanted_as_a_system_and_what_only_the_seller_can_tell() -> None:
    found = sheet(brakes())
    assert [(name, [(item.name, item.units) for item in wanted]) for name, wanted in found.systems] == [
        ("Brakes", [("Disc", 2), ("Hub", 1)]),
    ]  # fmt: skip
    assert {item.about for item in found.questions} == {
        "lead", "returns", "tax", "warranty", "price", "mass", "origin", "origin-tax", "freight", "claim-days",
        "dimension", "fits",
    }  # fmt: skip
    assert "2 × Disc (no. D-7)" in found.text
    assert "all of it" in found.text


def test_what_is_known_is_not_asked_and_nobody_at_home_is_asked_for_origin() -> None:
    known = brakes(lead_weeks={"low": 1, "likely": 2, "high": 3}, returns={"days": 14}, tax_included=True,
                   warranty_months=24, price_until="2026-06-01")  # fmt: skip
    assert {item.about for item in sheet(known, "b").questions} <= {
        "mass",
        "freight",
        "claim-days",
        "dimension",
        "fits",
    }


def test_a_written_confirmation_is_not_asked_for_again() -> None:
    word = {"id": "q", "supplier": "a", "confirmations": [{"offer": "disc-a", "day": "2026-03-01"}]}
    asked = [item.offers for item in sheet(brakes(enquiries=[word])).questions if item.about == "fits"]
    assert asked == [("hub-a",)]


def test_what_is_asked_of_several_is_one_question_with_a_line_for_each() -> None:
    (fits,) = [item for item in sheet(brakes()).questions if item.about == "fits"]
    assert len(fits.offers) == len(fits.each) == 2
    assert "for each of these?\n     - Disc (" in sheet(brakes()).text


def test_every_seller_of_the_demo_has_a_sheet_in_plain_words() -> None:
    build = load_demo()
    facts = facts_of(build, demo_as_of())
    sheets = [enquiry_sheet(build, facts, seller.id) for seller in build.suppliers]
    assert any(found.questions for found in sheets)
    assert all(found.text.endswith("Thank you.\n") for found in sheets)


def test_a_system_from_one_supplier_is_weighed_against_pieces_with_its_orders_and_misfits() -> None:
    build = brakes()
    doors = {"disc-a": 50.0, "hub-a": 90.0, "disc-b": 40.0}
    facts = facts_of(build, DAY)
    pieces, alpha, beta = system_choices(
        build, facts, "brakes", at_door=doors, per_order={"a": 20.0, "b": 30.0}, misfit={"disc": 0.1}
    )
    assert (pieces.goods, pieces.orders, set(pieces.suppliers)) == (170, 50, {"a", "b"})
    assert (alpha.goods, alpha.orders, alpha.lacking) == (190, 20, ())
    assert beta.lacking == ("hub",)
    # ten chances in a hundred to lose four tenths of two discs
    assert alpha.misfit == pytest.approx(0.1 * 100 * 0.4)
    assert alpha.total < pieces.total
    sure = brakes(enquiries=[{"id": "q", "supplier": "a", "confirmations": [
        {"offer": "disc-a", "day": "2026-03-01", "takes_back": True}]}])  # fmt: skip
    _, alpha, _ = system_choices(sure, facts_of(sure, DAY), "brakes", at_door=doors, per_order={}, misfit={"disc": 0.1})
    assert alpha.misfit == 0


def test_the_command_prints_the_sheet_and_refuses_an_unknown_supplier(tmp_path: Path) -> None:
    path = tmp_path / "van.json"
    path.write_text(format_document(brakes()), encoding="utf-8")
    shown = CliRunner().invoke(cli, ["enquiry", str(path), "a", "--as-of", "2026-03-02"])
    assert shown.output.startswith("To Alpha\n")
    data = json.loads(CliRunner().invoke(cli, ["enquiry", str(path), "a", "--json"]).output)
    assert data["text"].startswith("To Alpha\n")
    with pytest.raises(Refused, match="no supplier has this id"):
        CliRunner().invoke(cli, ["enquiry", str(path), "zeta"], catch_exceptions=False)
