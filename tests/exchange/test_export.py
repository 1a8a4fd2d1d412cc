# ruff: noqa: E501 - tables of cases, one a line
"""What is exported can be imported again, field by field, and is never taken for a formula."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from fishplate.build import Build, Money, Refused, build_from_data, parse_document
from fishplate.build.base import ThreePoint
from fishplate.build.commerce import FreightTerms, Offer, ReturnTerms, Route, Supplier
from fishplate.build.jobs import Job
from fishplate.build.parts import Kit, KitContent, Part, Phase, Stock, System
from fishplate.exchange import apply, export_csv, export_document, export_xlsx, preview, read_tables
from fishplate.exchange.own_sheets import SHOWN_SHEETS
from fishplate.starters import load_demo

BUILD = Build(
    name="Van",
    systems=(System(id="brakes", name="Brakes", hazards=("brakes",)), System(id="rest", name="Rest", note="small things")),
    parts=(
        Part(
            id="disc", name="Disc, Ø280", part_number="00123", system="brakes", quantity=2, category="brakes",
            phase=Phase.MOCK_UP, origin="DE", heading="870830", mass_kg=6.35, box_mm=(300, 310.5, 60), shelf_weeks=104,
            note="Colour: plain\nkeep dry", source="list.xlsx, row 3",
        ),
        Part(id="sum", name="=SUM(A1:A9)", quantity=0.1 + 0.2, unit="m"),
        Part(id="plus", name="+12 V lead", note="-5 to @home"),
        Part(id="arabic", name="قرص الفرامل"),
    ),
    kits=(Kit(id="front", name="Front kit", contents=(KitContent(part="disc", quantity=2), KitContent(part="plus"))),),
    stock=(Stock(id="shelf", part="disc", quantity=1, place="shelf 3", condition="good", since=date(2025, 12, 24), note="x"),),
    suppliers=(
        Supplier(
            id="stores", name="Saltmere Stores", country="GB", currency="GBP", origin_tax="charged",
            collects_import_tax=True, craft=True, note="ask for Tuesday",
            freight=(FreightTerms(route="post", fixed=Money.of(9, "GBP")),),
        ),
    ),
    routes=(Route(id="post", name="Post", kind="courier", from_country="GB"),),
    offers=(
        Offer(
            id="disc-stores", supplier="stores", part="disc", price=Money.of("64.50", "GBP"), pack=2, tax_included=True,
            lead_weeks=ThreePoint(low=1, likely=2.5, high=6),
            returns=ReturnTerms(days=30, ended_by=("opened", "bolted"), restocking_percent=15, freight_back=Money.of("7.25", "GBP")),
            core_charge=Money.of(40, "GBP"), deposit_percent=30, seen=date(2026, 3, 1), available_from=date(2026, 4, 1),
            available_until=date(2026, 12, 31), made_to_order=True, note="asked by telephone", source="https://saltmere.example/d",
        ),
        Offer(id="kit-stores", supplier="stores", kit="front", price=Money.of("12345678901.123456789", "GBP"), tax_included=False),
        Offer(id="free", supplier="stores", part="plus", price=Money.of("0", "EUR"), returns=ReturnTerms(days=0)),
    ),
    jobs=(Job(id="fit", name="Fit", phase=Phase.ASSEMBLY, hours=ThreePoint(low=1, likely=2, high=4), to_keep=("disc",)),),
)  # fmt: skip


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    path = tmp_path / "van.xlsx"
    export_xlsx(BUILD, path)
    return path


def test_a_workbook_into_an_empty_build_gives_the_same_parts_and_offers(workbook: Path) -> None:
    found = preview(read_tables(workbook), Build())
    assert found.problems == ()
    build = apply(found, Build())
    for name in ("systems", "parts", "kits", "stock", "offers"):
        assert getattr(build, name) == getattr(BUILD, name)
    # the sheet of suppliers does not hold freight terms
    assert build.suppliers == (BUILD.suppliers[0].model_copy(update={"freight": ()}),)


def test_a_workbook_into_the_same_build_leaves_every_row_unchanged(workbook: Path) -> None:
    found = preview(read_tables(workbook), BUILD)
    assert {str(row.action) for row in found.rows} == {"unchanged"}
    assert apply(found, BUILD) is BUILD
    assert any("sheet Jobs: written for reading" in note for note in found.notes)


def test_a_price_changed_in_the_workbook_updates_that_field_alone(workbook: Path) -> None:
    book = openpyxl.load_workbook(workbook)
    sheet = book["Offers"]
    column = next(cell.column for cell in sheet[1] if cell.value == "Price")
    sheet.cell(2, column).value = 70
    book.save(workbook)
    found = preview(read_tables(workbook), BUILD)
    (changed,) = [row for row in found.rows if row.changes]
    assert [(c.field, c.before, c.after) for c in changed.changes] == [("price", "64.50 GBP", "70.00 GBP")]
    assert apply(found, BUILD).find("suppliers", "stores").freight == BUILD.suppliers[0].freight


def test_a_row_added_to_the_workbook_gets_an_id_from_its_name(workbook: Path) -> None:
    book = openpyxl.load_workbook(workbook)
    book["Parts"].append([None, "Brake pipe", None, "brakes", 3])
    book.save(workbook)
    build = apply(preview(read_tables(workbook), BUILD), BUILD)
    assert build.find("parts", "brake-pipe").quantity == 3


def test_text_that_looks_like_a_formula_is_written_as_text(workbook: Path, tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(workbook)["Parts"]
    assert (sheet["B3"].value, sheet["B3"].data_type) == ("=SUM(A1:A9)", "s")
    export_csv(BUILD, tmp_path / "van.csv")
    with (tmp_path / "van.csv").open(encoding="utf-8-sig", newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert "'=SUM(A1:A9)" in cells
    assert not any(cell[:1] in ("=", "+", "-", "@") for cell in cells)


def test_a_table_of_text_is_read_back_with_names_prices_and_terms(tmp_path: Path) -> None:
    plain = BUILD.model_copy(update={"offers": BUILD.offers[:1], "kits": ()})
    export_csv(plain, tmp_path / "van.csv")
    build = apply(preview(read_tables(tmp_path / "van.csv"), Build()), Build())
    assert [(part.name, part.part_number, part.phase) for part in build.parts] == [
        (p.name, p.part_number, p.phase) for p in BUILD.parts
    ]
    (offer,) = build.offers
    # a pack of two for 64.50 is 32.25 each
    assert (str(offer.price), offer.seen, offer.source) == ("32.25 GBP", date(2026, 3, 1), "https://saltmere.example/d")


def test_a_document_is_the_build(tmp_path: Path) -> None:
    export_document(BUILD, tmp_path / "van.json")
    assert parse_document((tmp_path / "van.json").read_bytes()) == BUILD


def test_a_file_that_cannot_be_written_leaves_no_half_behind(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="no-such-folder"):
        export_xlsx(BUILD, tmp_path / "no-such-folder" / "van.xlsx")
    (tmp_path / "folder.xlsx").mkdir()
    with pytest.raises(Refused, match="this is a folder"):
        export_xlsx(BUILD, tmp_path / "folder.xlsx")
    assert [path.name for path in tmp_path.iterdir()] == ["folder.xlsx"]


@pytest.mark.parametrize("sheet", SHOWN_SHEETS, ids=lambda sheet: sheet[0])
def test_what_is_written_for_reading_is_there_to_be_written(sheet: tuple[str, str, tuple[str, ...]]) -> None:
    _, list_name, fields = sheet
    nouns = getattr(load_demo(), list_name)
    assert nouns
    for noun in nouns:
        assert all(hasattr(noun, field) for field in fields)


def test_what_must_fit_is_written_for_reading(tmp_path: Path) -> None:
    place = {"id": "edge", "name": "Tyre and arch", "kind": "tyre-arch", "stand_in": "ply", "check": "Turn it once."}
    build = build_from_data({
        "interfaces": [place],
        "dimensions": [{"id": "gap", "name": "Gap", "tools": ["rule", "tape"], "how": "Straight up."},
                       {"id": "stud", "name": "Stud", "designates": "thread"}],
        "conditions": [{"id": "c", "interface": "edge", "name": "Nuts", "kind": "match", "mates": ["stud", "M12x1.5"]}],
        "stand_ins": [{"id": "ply", "name": "Ply disc", "dimensions": ["gap"]}],
        "readings": [{"id": "r", "dimension": "stud", "designation": "M12x1.5", "day": "2026-01-10"}],
    })  # fmt: skip
    path = tmp_path / "fit.xlsx"
    export_xlsx(build, path)
    book = openpyxl.load_workbook(path)
    rows = {title: [[cell.value for cell in row] for row in book[title].rows] for title in book.sheetnames}
    assert ["edge", "Tyre and arch", "tyre-arch", None, None, None, None, "ply", None, "Turn it once."] in rows[
        "Interfaces"
    ]
    assert "rule; tape" in rows["Dimensions"][1]
    assert "stud; M12x1.5" in rows["Conditions"][1]
    assert rows["Readings"][1][3] == "M12x1.5"
    assert rows["Stand-ins"][1][:3] == ["ply", "Ply disc", "gap"]
