"""Days the owner means to order a part: from a list, and back from an exported sheet."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from fishplate.build import Build, facts_of
from fishplate.build.parts import Part
from fishplate.exchange import ImportOptions, apply, export_xlsx, preview, read_tables

DAY = date(2026, 3, 2)


def read(path: Path, text: str) -> tuple[Build, list[str]]:
    path.write_text(text, encoding="utf-8")
    found = preview(read_tables(path), Build(), options=ImportOptions(day=DAY))
    return apply(found, Build()), [said for row in found.rows for said in row.said]


@pytest.mark.parametrize("header", ["Order by", "Planned order date", "Bestellen am", "À commander le", "Order on"])
def test_a_column_of_days_to_order_on_is_no_order(tmp_path: Path, header: str) -> None:
    build, _ = read(
        tmp_path / "list.csv", f"Part,Price,Supplier,{header}\nGearbox,900 EUR,North,2026-05-04\nHub,45 EUR,North,\n"
    )
    assert {part.name: part.order_on for part in build.parts} == {"Gearbox": date(2026, 5, 4), "Hub": None}
    assert not facts_of(build, DAY).incoming


def test_a_day_of_ordering_still_ahead_is_meant_and_one_gone_by_is_an_order(tmp_path: Path) -> None:
    text = "Part,Price,Supplier,Order date\nGearbox,900 EUR,North,2026-05-04\nHub,45 EUR,North,2026-02-02\n"
    build, said = read(tmp_path / "list.csv", text)
    assert {part.name: part.order_on for part in build.parts} == {"Gearbox": date(2026, 5, 4), "Hub": None}
    assert [(item.part, item.ordered_on) for item in facts_of(build, DAY).incoming] == [("hub", date(2026, 2, 2))]
    assert any("still ahead" in word for word in said)


def test_a_day_to_order_on_comes_back_from_an_exported_sheet(tmp_path: Path) -> None:
    held = Build(parts=(Part(id="gearbox", name="Gearbox", order_on=date(2026, 5, 4)),))
    export_xlsx(held, tmp_path / "build.xlsx")
    assert apply(preview(read_tables(tmp_path / "build.xlsx"), Build()), Build()).parts == held.parts
