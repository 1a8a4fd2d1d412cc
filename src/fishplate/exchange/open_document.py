"""OpenDocument spreadsheets (ODF 1.3 part 3), read as a stream so that repeated empty rows cost nothing."""

from __future__ import annotations

import math
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from io import BytesIO
from typing import Any

from .container import MAX_CELL, MAX_COLUMNS, MAX_ROWS, refuse
from .displayed import displayed
from .model import EMPTY, Cell, CellValue, Sheet, column_letter
from .workbook import _notes, merged_copy, rows_of

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_FO = "{urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0}"
_LINK = "{http://www.w3.org/1999/xlink}href"


@dataclass(slots=True)
class _Reading:
    """The sheet being read."""

    name: str
    hidden: bool
    row: int = 0
    grid: dict[tuple[int, int], Cell] = field(default_factory=dict)
    merges: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden_rows: set[int] = field(default_factory=set)


def read_ods(data: bytes, name: str) -> tuple[Sheet, ...]:
    """The sheets of an OpenDocument spreadsheet; raises Refused."""
    from xml.etree.ElementTree import ParseError

    try:
        with zipfile.ZipFile(BytesIO(data)) as archive, archive.open("content.xml") as stream:
            return tuple(_sheets(stream, name))
    except (ParseError, ValueError, KeyError, OverflowError):
        refuse(
            name,
            "damaged",
            "the spreadsheet is damaged or not made to the standard",
            "",
            "Open it in a spreadsheet program and save it again.",
        )


def _sheets(stream: Any, name: str) -> Iterator[Sheet]:
    from defusedxml.ElementTree import iterparse

    bold: set[str] = set()
    unseen: set[str] = set()
    sheet: _Reading | None = None
    for event, element in iterparse(stream, events=("start", "end")):
        if event == "start":
            if element.tag == f"{_TABLE}table" and sheet is None:
                sheet = _Reading(element.get(f"{_TABLE}name", ""), element.get(f"{_TABLE}style-name") in unseen)
            continue
        if element.tag == f"{_STYLE}style":
            _note_style(element, bold, unseen)
        elif element.tag == f"{_TABLE}table-row" and sheet is not None:
            _read_row(element, sheet, name, bold)
            element.clear()
        elif element.tag == f"{_TABLE}table" and sheet is not None:
            yield _finished(sheet, name)
            sheet = None


def _note_style(element: Any, bold: set[str], unseen: set[str]) -> None:
    style = element.get(f"{_STYLE}name", "")
    for properties in element:
        if properties.get(f"{_FO}font-weight") == "bold":
            bold.add(style)
        if properties.get(f"{_TABLE}display") == "false":
            unseen.add(style)


def _read_row(element: Any, sheet: _Reading, name: str, bold: set[str]) -> None:
    repeats = int(element.get(f"{_TABLE}number-rows-repeated", "1"))
    cells: dict[int, Cell] = {}
    column = 0
    for child in element:
        if child.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        count = int(child.get(f"{_TABLE}number-columns-repeated", "1"))
        cell = _cell(child, bold)
        if cell is not EMPTY:
            where = f"{name}, sheet {sheet.name}, row {sheet.row + 1}"
            _check_cell(cell, column + count, where)
            cells.update(dict.fromkeys(range(column + 1, column + count + 1), cell))
            _note_merge(child, sheet, column)
        column += count
    if cells:
        if sheet.row + repeats > MAX_ROWS:
            refuse(
                f"{name}, sheet {sheet.name}",
                "too-many-rows",
                f"it goes on beyond {MAX_ROWS} rows",
                "",
                "Split the list.",
            )
        for row in range(sheet.row + 1, sheet.row + repeats + 1):
            sheet.grid.update({(row, at): cell for at, cell in cells.items()})
        if element.get(f"{_TABLE}visibility") in ("collapse", "filter"):
            sheet.hidden_rows.update(range(sheet.row, sheet.row + repeats))
    sheet.row += repeats


def _check_cell(cell: Cell, last_column: int, where: str) -> None:
    if last_column > MAX_COLUMNS:
        refuse(
            where,
            "too-many-columns",
            f"it goes on beyond {MAX_COLUMNS} columns",
            "",
            "Delete what is not part of the list.",
        )
    if len(cell.text) > MAX_CELL:
        refuse(
            where,
            "cell-too-long",
            f"a cell holds more than {MAX_CELL} characters",
            cell.text[:40] + "...",
            "Shorten it.",
        )


def _note_merge(element: Any, sheet: _Reading, column: int) -> None:
    wide = int(element.get(f"{_TABLE}number-columns-spanned", "1"))
    high = int(element.get(f"{_TABLE}number-rows-spanned", "1"))
    if wide > 1 or high > 1:
        sheet.merges.append((sheet.row + 1, column + 1, high, wide))


def _cell(element: Any, bold: set[str]) -> Cell:
    kind = element.get(f"{_OFFICE}value-type")
    shown = "\n".join(_paragraph(p) for p in element.findall(f"{_TEXT}p"))
    annotation = element.find(f"{_OFFICE}annotation")
    note = " ".join(_paragraph(p) for p in annotation.findall(f"{_TEXT}p")) if annotation is not None else ""
    links = [link.get(_LINK) for link in element.iter(f"{_TEXT}a") if link.get(_LINK)]
    formula = element.get(f"{_TABLE}formula", "")
    if kind is None and not shown and not note and not formula:
        return EMPTY
    value = _value(element, kind, shown)
    number_format = (
        f"[${element.get(f'{_OFFICE}currency')}]0.00"
        if kind == "currency" and element.get(f"{_OFFICE}currency")
        else ""
    )
    text = shown or (displayed(value, number_format) if value is not None else "")
    if formula and kind is None and not shown:
        value, text = None, ""
    note = " ".join(filter(None, [note, *[link for link in links if link != shown]]))
    return Cell(value, text, number_format, note, bold=element.get(f"{_TABLE}style-name") in bold, formula=formula)


def _paragraph(element: Any) -> str:
    """Text of a paragraph, with the spaces that ODF writes as elements."""
    parts = [element.text or ""]
    for child in element:
        if child.tag == f"{_TEXT}s":
            parts.append(" " * min(int(child.get(f"{_TEXT}c", "1")), 1000))
        elif child.tag in (f"{_TEXT}line-break", f"{_TEXT}tab"):
            parts.append(" ")
        else:
            parts.append(_paragraph(child))
        parts.append(child.tail or "")
    return "".join(parts)


def _value(element: Any, kind: str | None, shown: str) -> CellValue:
    match kind:
        case "float" | "currency" | "percentage":
            number = float(element.get(f"{_OFFICE}value", "nan"))
            if not math.isfinite(number):
                return shown or str(number)
            return int(number) if number.is_integer() and abs(number) < 1e15 else number
        case "date":
            written = element.get(f"{_OFFICE}date-value", "")
            return datetime.fromisoformat(written[:26]) if "T" in written else date.fromisoformat(written)
        case "boolean":
            return bool(element.get(f"{_OFFICE}boolean-value") == "true")
        case "string":
            return str(element.get(f"{_OFFICE}string-value") or shown)
        case _:
            return shown or None


def _finished(sheet: _Reading, name: str) -> Sheet:
    last_row = max((row for row, _ in sheet.grid), default=0)
    last_column = max((column for _, column in sheet.grid), default=0)
    for row, column, high, wide in sheet.merges:
        shown = merged_copy(sheet.grid[row, column], f"{column_letter(column - 1)}{row}")
        for r in range(row, min(row + high - 1, last_row) + 1):
            for c in range(column, min(column + wide - 1, last_column) + 1):
                if (r, c) != (row, column):
                    sheet.grid[r, c] = shown
    hidden = frozenset(sheet.hidden_rows)
    notes = tuple(_notes(sheet.grid, hidden))
    return Sheet(name, sheet.name, rows_of(sheet.grid), hidden_rows=hidden, hidden=sheet.hidden, notes=notes)
