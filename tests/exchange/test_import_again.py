"""A list imported again brings the build up to date and doubles nothing."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from fishplate.build import Build, Money, Refused, facts_of
from fishplate.build.commerce import Sighting
from fishplate.build.events import Order, OrderLine, Receipt
from fishplate.build.parts import Stock
from fishplate.exchange import ImportOptions, ImportPreview, RowAction, apply, preview, read_tables

DAY = date(2026, 4, 1)
HEAD = "Part,Part no,Qty,Price,Supplier,Seen,Status,Colour\n"
LIST = HEAD + (
    "Disc,FD-1,2,64.50 GBP,Saltmere Stores,2026-03-01,,plain\n"
    "Pad set,,1,47.00 GBP,Saltmere Stores,2026-03-01,have,\n"
    "Hose,,3,12.20 GBP,Corner Shed,2026-03-01,ordered,red\n"
)


def _import(
    tmp_path: Path, text: str, build: Build | None = None, name: str = "list.csv", day: date = DAY
) -> tuple[ImportPreview, Build]:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    build = build or Build()
    found = preview(read_tables(path), build, options=ImportOptions(day=day))
    return found, apply(found, build)


def _actions(found: ImportPreview) -> list[str]:
    return [str(row.action) for row in found.rows]


@pytest.fixture
def first(tmp_path: Path) -> Build:
    return _import(tmp_path, LIST)[1]


def test_a_changed_price_updates_the_offer_and_keeps_the_one_seen_before(first: Build, tmp_path: Path) -> None:
    found, build = _import(
        tmp_path, LIST.replace("64.50 GBP,Saltmere Stores,2026-03-01", "71.25 GBP,Saltmere Stores,2026-05-02"), first
    )
    assert _actions(found) == ["update", "unchanged", "unchanged"]
    assert [(c.field, c.before, c.after) for c in found.rows[0].changes if c.list_name == "offers"] == [
        ("price", "64.50 GBP", "71.25 GBP"),
        ("seen", "2026-03-01", "2026-05-02"),
    ]
    assert build.sightings == (
        Sighting(offer="disc-saltmere-stores", day=date(2026, 3, 1), price=Money.of("64.50", "GBP")),
    )


def test_a_moved_row_and_a_renamed_file_still_match(first: Build, tmp_path: Path) -> None:
    lines = LIST.splitlines(keepends=True)
    moved = "A title\n\n" + lines[0] + lines[3] + lines[1] + "\n" + lines[2]
    found, build = _import(tmp_path, moved, first, name="renamed.csv")
    assert _actions(found) == ["unchanged"] * 3
    assert build == first


def test_a_part_number_matches_under_another_name(first: Build, tmp_path: Path) -> None:
    found, build = _import(tmp_path, LIST.replace("Disc,FD-1", "Brake disc front,fd1"), first)
    assert _actions(found)[0] == "update"
    assert build.find("parts", "disc").name == "Brake disc front"
    assert len(build.parts) == 3


def test_a_new_row_adds_and_a_missing_row_stays(first: Build, tmp_path: Path) -> None:
    lines = LIST.splitlines(keepends=True)
    found, build = _import(tmp_path, lines[0] + lines[1] + "Caliper,,2,118 GBP,Saltmere Stores,,,\n", first)
    assert _actions(found) == ["unchanged", "add"]
    assert [part.id for part in build.parts] == ["disc", "pad-set", "hose", "caliper"]
    assert any(
        "2 parts taken from it before are no longer in it (Pad set, Hose); they stay" in note for note in found.notes
    )


def test_an_empty_cell_leaves_the_build_as_it_is(first: Build, tmp_path: Path) -> None:
    found, build = _import(tmp_path, HEAD + "Disc,FD-1,,,Saltmere Stores,,,\n", first)
    assert _actions(found) == ["unchanged"]
    assert build == first


def test_what_is_owned_is_never_made_less(first: Build, tmp_path: Path) -> None:
    owned = first.model_copy(update={"stock": (*first.stock, Stock(id="shelf", part="pad-set", quantity=3))})
    _, build = _import(tmp_path, LIST.replace("have", ""), owned)
    assert facts_of(build, DAY).owned == {"pad-set": 4}
    again, build = _import(tmp_path, LIST, build)
    assert facts_of(build, DAY).owned == {"pad-set": 4}
    assert "the list says 1 are there, the build holds 4; nothing is taken away" in again.rows[1].said


def test_more_owned_than_before_adds_the_difference(first: Build, tmp_path: Path) -> None:
    _, build = _import(tmp_path, LIST.replace("Pad set,,1", "Pad set,,3"), first)
    assert facts_of(build, DAY).owned == {"pad-set": 3}
    assert len(build.stock) == 1


def test_an_ordered_row_that_arrives_is_received_once(first: Build, tmp_path: Path) -> None:
    arrived = LIST.replace("ordered", "arrived")
    _, build = _import(tmp_path, arrived, first, day=date(2026, 4, 20))
    facts = facts_of(build, date(2026, 4, 20))
    assert (facts.owned["hose"], facts.incoming) == (3, ())
    assert [type(event) for event in build.events] == [Order, Receipt]
    found, same = _import(tmp_path, arrived, build, day=date(2026, 5, 20))
    assert same == build
    assert not found.changes_anything


def test_an_order_the_build_knows_is_not_ordered_again(first: Build, tmp_path: Path) -> None:
    line = OrderLine(offer="disc-saltmere-stores", quantity=2, price=Money.of("64.50", "GBP"))
    order = Order(id="mine", day=DAY, supplier="saltmere-stores", lines=(line,))
    build = first.model_copy(update={"events": (*first.events, order)})
    _, after = _import(tmp_path, LIST.replace("2026-03-01,,plain", "2026-03-01,ordered,plain"), build)
    assert after.events == build.events


def test_a_note_of_the_owner_survives_and_a_column_kept_as_note_is_brought_up_to_date(
    first: Build, tmp_path: Path
) -> None:
    part = first.find("parts", "disc")
    noted = first.model_copy(
        update={
            "parts": tuple(p.model_copy(update={"note": p.note + "\nmine"}) if p is part else p for p in first.parts)
        }
    )
    _, build = _import(tmp_path, LIST.replace("plain", "drilled"), noted)
    assert build.find("parts", "disc").note == "Colour: drilled\nmine"


def test_repeated_names_keep_their_own_parts_when_rows_change_places(tmp_path: Path) -> None:
    rows = ["Bolt,,4,0.40 GBP,A,,,\n", "Bolt,,10,0.40 GBP,A,,,\n"]
    _, build = _import(tmp_path, HEAD + "".join(rows))
    assert [(part.id, part.quantity) for part in build.parts] == [("bolt", 4), ("bolt-2", 10)]
    found, _ = _import(tmp_path, HEAD + "".join(reversed(rows)), build)
    assert _actions(found) == ["unchanged", "unchanged"]


def test_a_supplier_named_later_takes_over_the_offer_of_the_one_not_named(tmp_path: Path) -> None:
    _, build = _import(tmp_path, "Part,Price,Supplier\nDisc,64.50 GBP,\n")
    _, after = _import(tmp_path, "Part,Price,Supplier\nDisc,64.50 GBP,Saltmere Stores\n", build)
    assert [offer.supplier for offer in after.offers] == ["saltmere-stores"]


def test_suppliers_named_alike_are_kept_apart_and_it_is_said(tmp_path: Path) -> None:
    found, build = _import(
        tmp_path,
        "Part,Price,Supplier\nDisc,64 GBP,Saltmere Stores\nPad,47 GBP,saltmere stores\nHose,9 GBP,Saltmere Store\n",
    )
    assert [supplier.name for supplier in build.suppliers] == ["Saltmere Stores", "Saltmere Store"]
    assert "the supplier Saltmere Store is kept apart from Saltmere Stores, named much like it" in found.rows[2].said


def test_rows_that_cannot_be_read_refuse_the_whole_or_are_left_out_when_asked(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("Part,Price\nDisc,64 GBP\nPad,lots\nHose,several\n", encoding="utf-8")
    found = preview(read_tables(path), Build())
    with pytest.raises(Refused) as refused:
        apply(found, Build())
    assert [problem.where for problem in refused.value.problems] == [
        "list.csv, row 3, column B (Price)",
        "list.csv, row 4, column B (Price)",
    ]
    assert [part.name for part in apply(found, Build(), skip_unreadable=True).parts] == ["Disc"]
    assert found.count(RowAction.UNREADABLE) == 2


def test_a_column_decides_what_a_single_mark_means_and_the_owner_decides_where_it_does_not(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("Part;Price\nEngine;1.234 €\nClip;0,85 €\n", encoding="utf-8")
    assert str(apply(preview(read_tables(path), Build()), Build()).offers[0].price) == "1234.00 EUR"
    path.write_text("Part;Price\nEngine;1.234 €\nBox;2.500 €\n", encoding="utf-8")
    sheets = read_tables(path)
    assert [problem.code for problem in preview(sheets, Build()).problems] == ["ambiguous-number"] * 2
    told = preview(sheets, Build(), options=ImportOptions(decimal=","))
    assert [str(offer.price) for offer in apply(told, Build()).offers] == ["1234.00 EUR", "2500.00 EUR"]


def test_what_the_owner_says_of_a_column_wins(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("Part,Qty,Cost,Kind\nDisc,2,129 GBP,brakes\n", encoding="utf-8")
    found = preview(read_tables(path), Build(), {"Cost": "total_price", "Kind": "system"})
    build = apply(found, Build())
    assert (str(build.offers[0].price), build.parts[0].system) == ("64.50 GBP", "brakes")


def _workbook(tmp_path: Path, sheets: dict[str, list[list[object]]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in (["Part", "Qty"], *rows):
            sheet.append(row)
    book.save(tmp_path / "list.xlsx")
    return tmp_path / "list.xlsx"


def test_a_renamed_sheet_still_matches_and_another_sheet_does_not(tmp_path: Path) -> None:
    rows: list[list[object]] = [["Disc", 2], ["Bolt", 4], ["Hose", 3]]
    build = apply(preview(read_tables(_workbook(tmp_path, {"Sheet1": rows})), Build()), Build())
    renamed = preview(read_tables(_workbook(tmp_path, {"Needs of 2026": [*rows, ["Pad", 1]]})), build)
    assert _actions(renamed) == ["unchanged", "unchanged", "unchanged", "add"]
    other = preview(
        read_tables(_workbook(tmp_path, {"Sheet1": rows, "Trailer": [["Bolt", 12], ["Axle", 1], ["Lamp", 2]]})), build
    )
    assert _actions(other) == ["unchanged"] * 3 + ["add"] * 3
    assert [(part.id, part.quantity) for part in apply(other, build).parts if part.name == "Bolt"] == [
        ("bolt", 4),
        ("bolt-2", 12),
    ]


def test_a_supplier_without_a_price_is_kept_as_a_note(tmp_path: Path) -> None:
    _, build = _import(tmp_path, "Part,Price,Supplier\nDisc,POA,Saltmere Stores\n")
    assert (build.suppliers, build.offers, build.parts[0].note) == ((), (), "Supplier: Saltmere Stores")
