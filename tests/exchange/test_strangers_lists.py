"""Lists of many shapes are read right the first time: what each becomes in an empty build."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import strangers_lists as lists

from fishplate.build import Build, facts_of
from fishplate.exchange import ImportOptions, ImportPreview, RowAction, apply, preview, read_tables

DAY = date(2026, 4, 1)


def _read(path: Path, build: Build | None = None, **options: Any) -> tuple[ImportPreview, Build]:
    found = preview(read_tables(path), build or Build(), options=ImportOptions(day=DAY, **options))
    return found, apply(found, build or Build())


def _text(tmp_path: Path, content: bytes, name: str = "list.csv", **options: Any) -> tuple[ImportPreview, Build]:
    path = tmp_path / name
    path.write_bytes(content)
    return _read(path, **options)


def _parts(build: Build) -> list[tuple[str, float, str, str | None]]:
    return [(part.name, part.quantity, part.unit, part.system) for part in build.parts]


def _prices(build: Build) -> list[tuple[str, str, str]]:
    return [
        (build.find("parts", o.part).name, str(o.price), build.find("suppliers", o.supplier).name) for o in build.offers
    ]


def _skipped(found: ImportPreview) -> dict[str, str]:
    return {row.name: row.why for row in found.rows if row.action is RowAction.SKIP}


def test_a_workshop_list_with_titles_sections_and_subtotals(tmp_path: Path) -> None:
    found, build = _read(lists.workshop_xlsx(tmp_path / "list.xlsx"))
    assert _parts(build) == [
        ("Front disc, vented 280", 2, "each", "brakes"),
        ("Pad set, front", 1, "each", "brakes"),
        ('Master cylinder 3/4"', 1, "each", "brakes"),
        ("Rack, quick", 1, "each", "steering"),
        ("Steering arm", 2, "each", "steering"),
    ]
    # the currency stands in the number format alone
    assert _prices(build)[:3] == [
        ("Front disc, vented 280", "64.50 GBP", "Saltmere Stores"),
        ("Pad set, front", "47.00 GBP", "Saltmere Stores"),
        ('Master cylinder 3/4"', "1079.00 EUR", "Lindhafen Technik"),
    ]
    assert (
        build.find("parts", "front-disc-vented-280").note
        == "Item (cell note): check the bolt circle first\nColour: plain"
    )
    assert build.find("parts", "front-disc-vented-280").part_number == "FD-280"
    assert build.find("systems", "brakes").hazards == ("brakes",)
    assert {"Subtotal", "Grand total", "BRAKES", "STEERING"} < set(_skipped(found))
    assert any("1 hidden rows are read like the others (13)" in note for note in found.notes)
    assert any("the row is hidden in the file" in row.said for row in found.rows)
    assert any("4 cells are computed by formulas" in note for note in found.notes)


def test_a_header_of_two_lines_and_a_system_merged_down_its_rows(tmp_path: Path) -> None:
    found, build = _read(lists.two_line_header_xlsx(tmp_path / "list.xlsx"))
    assert _parts(build) == [
        ("Querlenker", 2, "each", "fahrwerk"),
        ("Stoßdämpfer", 4, "each", "fahrwerk"),
        ("Buchsensatz", 1, "each", "fahrwerk"),
        ("Bremsscheibe", 2, "each", "bremsen"),
    ]
    # 10 days are 10/7 weeks
    assert build.offers[0].lead_weeks is not None
    assert build.offers[0].lead_weeks.likely == pytest.approx(10 / 7, abs=1e-6)
    assert [use.field for use in found.columns] == [
        "system", "name", "quantity", "unit_price", "total_price", "lead_time", "supplier",
    ]  # fmt: skip


def test_a_sheet_for_each_system_and_one_that_is_no_list(tmp_path: Path) -> None:
    found, build = _read(lists.sheet_a_system_xlsx(tmp_path / "list.xlsx"))
    assert [part.system for part in build.parts] == ["cooling"] * 3 + ["winch-and-bumper"] * 2
    assert {str(offer.price) for offer in build.offers} == {
        "285.00 GBP",
        "18.50 GBP",
        "0.85 GBP",
        "140.00 GBP",
        "1.20 GBP",
    }
    assert any("sheet Read me: no list was found" in note for note in found.notes)


def test_only_the_sheets_asked_for_are_read(tmp_path: Path) -> None:
    _, build = _read(lists.sheet_a_system_xlsx(tmp_path / "list.xlsx"), sheets=("cooling",))
    assert [part.name for part in build.parts] == ["Radiator recore", "Hose, top", "Clip 25 mm"]


def test_two_tables_beside_each_other(tmp_path: Path) -> None:
    _, build = _read(lists.side_by_side_xlsx(tmp_path / "list.xlsx"))
    assert _parts(build) == [
        ("Disc", 2, "each", "brakes"),
        ("Pad set", 1, "each", "brakes"),
        ("Hose", 3, "each", "brakes"),
        ("Head lamp", 2, "each", "lighting"),
        ("Tail lamp", 2, "each", "lighting"),
    ]


def test_what_is_ticked_off_is_owned_and_what_is_ordered_is_on_its_way(tmp_path: Path) -> None:
    found, build = _read(lists.ticked_xlsx(tmp_path / "list.xlsx"), currency="GBP")
    facts = facts_of(build, DAY)
    assert facts.owned == {"wiring-loom": 1, "relay": 4}
    assert [(item.part, item.quantity, item.ordered_on) for item in facts.incoming] == [("battery-tray", 1, DAY)]
    assert facts.missing(build, "relay") == 2
    # the price paid where there is one, the estimate where there is none
    assert [str(offer.price) for offer in build.offers] == ["285.00 GBP", "5.00 GBP", "38.50 GBP", "8.00 GBP"]
    assert _skipped(found) == {"Fuse box": "its quantity is 0"}


def test_a_dutch_open_document_list(tmp_path: Path) -> None:
    found, build = _read(lists.onderdelen_ods(tmp_path / "lijst.ods"))
    assert _prices(build) == [
        ("Waterpomp", "112.40 EUR", "Veerhoek Motoren"),
        ("Thermostaat", "23.90 EUR", "Veerhoek Motoren"),
        ("Slangklem", "1.15 EUR", "Klem en Co"),
    ]
    assert build.find("parts", "waterpomp").note == "Onderdeel (cell note): let op: linkse draad\nKleur: zwart"
    assert found.rows[2].row == 504
    assert _skipped(found) == {"Totaal": "a total, not a part"}


def test_a_german_list_in_a_western_code_page_with_decimal_commas(tmp_path: Path) -> None:
    found, build = _text(tmp_path, lists.TEILE_CSV)
    assert _prices(build) == [
        ("Bremsscheibe Ø280", "64.50 EUR", "Feder & Werk"),
        ("Stoßdämpfer", "1120.00 EUR", "Lindhafen Technik"),
        ("Dichtung", "0.85 EUR", "Feder & Werk"),
    ]
    # 10 working days are two weeks
    assert build.offers[1].lead_weeks is not None
    assert build.offers[1].lead_weeks.likely == 2
    assert build.find("parts", "federsatz").unit == "set"
    assert list(_skipped(found)) == ["Summe", "zzgl. MwSt 19 %", "Versandkosten"]
    assert any("read as cp1252" in note for note in found.notes)


def test_a_french_tab_separated_list_in_utf_16_whose_dates_show_their_order(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.PIECES_TSV, "pieces.tsv")
    assert _prices(build) == [
        ("Étrier avant", "118.00 EUR", "Atelier du Pré"),
        ("Durite tressée", "1062.50 EUR", "Atelier du Pré"),
    ]
    # 25/04/2026 can only be day first, so 03/04/2026 is the third of April
    assert [offer.seen for offer in build.offers] == [date(2026, 4, 3), date(2026, 4, 25)]
    assert [offer.tax_included for offer in build.offers] == [False, False]


def test_a_spanish_list_with_states(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.PIEZAS_CSV)
    facts = facts_of(build, DAY)
    assert facts.owned == {"manguito": 2}
    assert [item.part for item in facts.incoming] == ["radiador"]
    assert build.find("parts", "manguito").note == "Notas: rojo, largo"


def test_an_american_list_once_its_dollars_are_named(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.US_CSV, currency="USD")
    assert _prices(build)[1] == ("Gasket set", "1034.50 USD", "Prairie Lantern")
    # 3/14/2026 can only be month first, so 4/2/2026 is the second of April
    assert [offer.seen for offer in build.offers] == [date(2026, 3, 14), date(2026, 4, 2), date(2026, 4, 3)]
    # one pound is 0.45359237 kg, exactly
    assert build.find("parts", "throttle-body").mass_kg == pytest.approx(6.5 * 0.45359237)
    assert facts_of(build, DAY).owned == {"hose": 3}


def test_markdown_tables_named_by_their_headings(tmp_path: Path) -> None:
    found, build = _text(tmp_path, lists.MARKDOWN, "van.md")
    assert _parts(build) == [
        ("Disc front", 2, "each", "brakes"),
        ("Pad set", 1, "each", "brakes"),
        ("Heater 2 kW", 1, "each", "heating"),
        ("Duct 60 mm", 2, "m", "heating"),
    ]
    heater = build.find("parts", "heater-2-kw")
    assert (heater.note, heater.source) == ("Price range: 120-150 GBP", "van.md, sheet Heating, row 17")
    assert str(build.offers[2].price) == "135.00 GBP"
    assert build.offers[0].source == "https://saltmere.example/disc"
    assert any("its middle, 135, is taken" in said for row in found.rows for said in row.said)


def test_swiss_thousands_are_set_apart_by_apostrophes(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.SWISS_CSV)
    assert [str(offer.price) for offer in build.offers] == ["4250.00 CHF", "1180.50 CHF", "0.95 CHF"]
    assert {supplier.country for supplier in build.suppliers} == {"CH"}


def test_full_width_digits_and_right_to_left_names(tmp_path: Path) -> None:
    found, build = _text(tmp_path, lists.WIDE_JAPANESE_CSV)
    assert [part.name for part in build.parts] == ["בלם קדמי", "ブレーキパッド", "Hose evil red"]
    assert [str(offer.price) for offer in build.offers] == ["12500 JPY", "8000 JPY", "950 JPY"]
    assert build.parts[0].quantity == 2
    assert sum("can't be seen" in said for row in found.rows for said in row.said) == 2


def test_a_list_of_names_and_prices_alone(tmp_path: Path) -> None:
    found, build = _text(tmp_path, lists.NAMES_AND_PRICES_CSV)
    assert [str(offer.price) for offer in build.offers] == ["389.00 EUR", "24.50 EUR", "12.20 EUR", "8.00 EUR"]
    assert {assumption.code for assumption in found.assumptions} == {
        "currency-owner",
        "quantity-one",
        "no-header",
        "supplier-country",
    }


def test_a_list_of_names_alone(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.NAMES_ONLY_TXT, "list.txt")
    assert [part.name for part in build.parts] == ["Steering rack", "Wheel bearing, front", "Brake hose", "Earth strap"]


def test_the_price_of_one_from_the_total_of_a_line(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.TOTALS_ONLY_CSV)
    assert [str(offer.price) for offer in build.offers] == ["29.00 EUR", "22.50 EUR", "31.90 EUR"]


def test_one_part_at_two_suppliers_and_one_name_in_two_systems(tmp_path: Path) -> None:
    found, build = _text(tmp_path, lists.ALTERNATIVES_CSV)
    assert [(part.id, part.quantity) for part in build.parts] == [("disc-front", 2), ("bolt-m8", 4), ("bolt-m8-2", 8)]
    assert [offer.part for offer in build.offers] == ["disc-front", "disc-front", "bolt-m8", "bolt-m8-2"]
    assert found.rows[1].why == "another offer for Disc front, not another need for it"


def test_units_stay_what_they_are_and_inch_fractions_stay_in_names(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.FORUM_TEXT)
    assert _parts(build) == [
        ("4x4 badge", 1, "each", None),
        ('Bolts, 3/8" UNC', 20, "each", None),
        ("Seat belts", 1, "pair", None),
        ("Wheel nuts", 1, "set of 4", None),
    ]


def test_quantities_in_workshop_words(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.BULLETS_CSV)
    assert [(part.quantity, part.unit) for part in build.parts] == [(2, "each"), (4, "each"), (1, "each"), (1, "pair")]


def test_the_list_for_a_first_evening(tmp_path: Path) -> None:
    from importlib.resources import files

    content = (files("fishplate.starters") / "lists" / "first-evening.csv").read_bytes()
    found, build = _text(tmp_path, content)
    assert found.problems == ()
    assert found.count(RowAction.ADD) == len(build.parts) > 20
    assert [system.name for system in build.systems][:3] == ["Brakes", "Front end", "Wheels"]
    assert facts_of(build, DAY).owned == {"wheel-bearings-front": 2}


def test_a_column_of_prices_for_each_shop_gives_an_offer_for_each(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.PRICES_BY_SHOP_CSV)
    assert [part.quantity for part in build.parts] == [2, 1, 3]
    assert _prices(build) == [
        ("Disc", "64.50 GBP", "Saltmere"),
        ("Disc", "71.00 EUR", "Lindhafen"),
        ("Pad", "47.00 GBP", "Saltmere"),
        ("Hose", "9.00 EUR", "Lindhafen"),
    ]


def test_whole_amounts_with_a_dash_for_the_cents(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.DASHES_CSV)
    assert [str(offer.price) for offer in build.offers] == ["64.00 EUR", "1250.00 EUR", "12.50 EUR"]


def test_prices_as_small_ads_write_them(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.SMALL_ADS_CSV)
    assert [str(offer.price.amount) for offer in build.offers] == ["45", "45", "30", "1200", "15", "4.50"]
    assert [part.note for part in build.parts] == ["Price: £12 p&p", "Price: was 60", "", "Price: ono", "", ""]


def test_the_numbers_of_a_numbered_list_are_no_part_of_the_names(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.NUMBERED_CSV)
    assert [part.name for part in build.parts] == ["Disc", "Pad", "Hose"]


def test_a_header_repeated_on_each_page_is_no_part(tmp_path: Path) -> None:
    _, build = _text(tmp_path, lists.PAGES_CSV)
    assert _parts(build) == [("Disc", 2, "each", None), ("Pad", 1, "each", None)]


def test_a_quotation_names_its_supplier_and_day_above_the_table(tmp_path: Path) -> None:
    found, build = _read(lists.quotation_xlsx(tmp_path / "list.xlsx"))
    assert _prices(build) == [
        ("Front disc", "64.50 GBP", "Saltmere Stores"),
        ("Pad set", "47.00 GBP", "Saltmere Stores"),
    ]
    assert {offer.seen for offer in build.offers} == {date(2026, 3, 14)}
    assert list(_skipped(found)) == ["Goods", "VAT 20%", "Total"]


def test_a_heading_may_carry_the_sum_of_the_rows_below_it(tmp_path: Path) -> None:
    found, build = _read(lists.headings_with_sums_xlsx(tmp_path / "list.xlsx"))
    assert [(part.name, part.system) for part in build.parts] == [
        ("Disc", "brakes"),
        ("Pad", "brakes"),
        ("Seat", "cab"),
        ("Belt", "cab"),
    ]
    assert _skipped(found)["All"] == "a total: it is the sum of the rows above it"


def test_remarks_below_the_list_are_no_parts_and_a_column_without_header_may_hold_the_names(tmp_path: Path) -> None:
    found, build = _read(lists.remarks_below_xlsx(tmp_path / "list.xlsx"))
    assert [(part.name, part.note) for part in build.parts] == [
        ("Disc", "Column C: 280 mm"),
        ("Pad", "Column C: ceramic"),
        ("Hose", ""),
    ]
    assert set(_skipped(found).values()) == {"it stands below the list, without a figure"}


def test_ticked_boxes_and_the_day_of_the_order(tmp_path: Path) -> None:
    _, build = _read(lists.dated_orders_xlsx(tmp_path / "list.xlsx"))
    facts = facts_of(build, DAY)
    assert facts.owned == {"pad": 1}
    assert [(item.part, item.quantity, item.ordered_on) for item in facts.incoming] == [("disc", 2, date(2026, 2, 1))]


def _again(path: Path) -> tuple[ImportPreview, Build]:
    _, build = _read(path, currency="USD")
    return preview(read_tables(path), build, options=ImportOptions(day=date(2026, 6, 1), currency="USD")), build


WORKBOOKS: dict[str, Callable[[Path], Path]] = {
    name: getattr(lists, name) for name in dir(lists) if name.endswith(("_xlsx", "_ods"))
}
TEXTS = {name: value for name, value in vars(lists).items() if isinstance(value, bytes)}


@pytest.mark.parametrize("name", WORKBOOKS)
def test_the_same_workbook_again_changes_nothing(name: str, tmp_path: Path) -> None:
    found, _ = _again(WORKBOOKS[name](tmp_path / "list"))
    assert not found.changes_anything


@pytest.mark.parametrize("name", TEXTS)
def test_the_same_text_again_changes_nothing(name: str, tmp_path: Path) -> None:
    path = tmp_path / "list"
    path.write_bytes(TEXTS[name])
    found, _ = _again(path)
    assert not found.changes_anything
    assert not found.problems
