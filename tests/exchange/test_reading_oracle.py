"""Cells as an independent reader (calamine) reads them."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
import strangers_lists as lists
from python_calamine import CalamineWorkbook

from fishplate.exchange import Sheet, read_tables

WRITERS = {name: getattr(lists, name) for name in dir(lists) if name.endswith(("_xlsx", "_ods"))}


def _comparable(value: Any) -> Any:
    """Whole numbers as such, days as days, nothing as the empty text."""
    match value:
        case None:
            return ""
        case float() if value.is_integer():
            return int(value)
        case datetime():
            return value.date()
        case date() | str() | int() | float():
            return value
        case _:
            return str(value)


def _own(sheet: Sheet) -> dict[tuple[int, int], Any]:
    return {
        (row, column): _comparable(cell.value)
        for row, cells in enumerate(sheet.rows)
        for column, cell in enumerate(cells)
        if not cell.merged_from and cell.value not in (None, "")
    }


@pytest.mark.parametrize("name", WRITERS)
def test_both_readers_find_the_same_values_in_the_same_cells(name: str, tmp_path: Path) -> None:
    path = WRITERS[name](tmp_path / ("list.ods" if name.endswith("ods") else "list.xlsx"))
    book = CalamineWorkbook.from_path(str(path))
    for sheet in read_tables(path):
        rows = book.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False)
        theirs = {
            (r, c): _comparable(v) for r, row in enumerate(rows) for c, v in enumerate(row) if v not in (None, "")
        }
        assert _own(sheet) == theirs
