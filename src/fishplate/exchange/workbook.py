"""XLSX workbooks: values, number formats, notes, merged and hidden cells."""

from __future__ import annotations

import math
import re
import warnings
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import TYPE_CHECKING, Any

from ..build import Problem, Refused
from .container import MAX_CELL, MAX_COLUMNS, MAX_ROWS, refuse
from .displayed import displayed
from .model import EMPTY, Cell, CellValue, Sheet, column_letter

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

Place = tuple[int, int]


def read_xlsx(data: bytes, name: str) -> tuple[Sheet, ...]:
    """The worksheets of an XLSX workbook; raises Refused."""
    book = _load(data, name, values=False)
    _check_all_there(data, book, name)
    has_formula = any(cell.data_type == "f" for sheet in book.worksheets for cell in _cells(sheet).values())
    values = _load(data, name, values=True) if has_formula else book
    sheets = [
        _sheet(sheet, _cells(values.worksheets[position]), name) for position, sheet in enumerate(book.worksheets)
    ]
    if not sheets:
        refuse(name, "empty", "the workbook has no sheet with cells", "", "Check that it is the right file.")
    return tuple(sheets)


def _load(data: bytes, name: str, *, values: bool) -> Workbook:
    import openpyxl

    if not openpyxl.DEFUSEDXML:  # pragma: no cover - the dependency is declared
        raise RuntimeError("defusedxml is missing, without which workbooks are not opened")
    try:
        with warnings.catch_warnings():
            # it warns of drawings and rules it does not keep; none of them holds a part
            warnings.simplefilter("ignore")
            return openpyxl.load_workbook(BytesIO(data), data_only=values, keep_links=False)
    except Refused:
        raise
    except Exception:  # openpyxl raises many kinds for a workbook that is not whole
        refuse(
            name,
            "damaged",
            "the workbook is damaged or not made to the standard",
            "",
            "Open it in a spreadsheet program and save it again.",
        )


def _check_all_there(data: bytes, book: Workbook, name: str) -> None:
    """Refuse a workbook that lacks a sheet it names, which the reader would pass over in silence."""
    with zipfile.ZipFile(BytesIO(data)) as archive:
        if "xl/workbook.xml" in archive.namelist():
            named = len(re.findall(rb"<(?:\w+:)?sheet\s", archive.read("xl/workbook.xml")))
            if named > len(book.sheetnames):
                refuse(
                    name,
                    "damaged",
                    "it names sheets that are not in it",
                    f"{named} named, {len(book.sheetnames)} there",
                    "Open it in a spreadsheet program and save it again.",
                )


def _cells(sheet: Worksheet) -> Mapping[Place, Any]:
    """The cells that are there; walking the sheet's rectangle would make millions of empty ones."""
    found: Mapping[Place, Any] = sheet._cells
    return found


def _sheet(sheet: Worksheet, values: Mapping[Place, Any], name: str) -> Sheet:
    grid: dict[Place, Cell] = {}
    for place, cell in _cells(sheet).items():
        read = _cell(cell, values.get(place))
        if read is not EMPTY:
            grid[place] = read
    _check_extent(grid, f"{name}, sheet {sheet.title}")
    _spread_merged(grid, sheet)
    hidden = frozenset(row - 1 for row, dimension in sheet.row_dimensions.items() if dimension.hidden)
    rows = rows_of(grid)
    hidden &= {row for row, cells in enumerate(rows) if cells}
    return Sheet(
        name,
        sheet.title,
        rows,
        hidden_rows=hidden,
        hidden=sheet.sheet_state != "visible",
        notes=tuple(_notes(grid, hidden)),
    )


def _cell(cell: Any, computed: Any) -> Cell:
    formula = ""
    value, kind = cell.value, cell.data_type
    if kind == "f":
        formula = str(getattr(value, "text", None) or value)
        value = computed.value if computed is not None else None
        if value is None and computed is not None and computed.data_type == "str":
            value = ""
    note = _note(cell)
    if value is None and not note and not formula:
        return EMPTY
    plain_value = _plain_value(value)
    text = displayed(plain_value, cell.number_format)
    return Cell(plain_value, text, cell.number_format, note, bold=bool(cell.font and cell.font.b), formula=formula)


def _plain_value(value: Any) -> CellValue:
    match value:
        case str():
            # the standard writes characters XML can't hold as _x0007_ (ISO/IEC 29500-1, ST_Xstring)
            return re.sub(r"_x([0-9A-Fa-f]{4})_", lambda match: chr(int(match[1], 16)), value)
        case int() | float() if abs(value) >= 1e300 or not math.isfinite(value):
            return str(value)
        case None | bool() | int() | float() | datetime() | date():
            return value
        case time() | timedelta():
            return str(value)
        case _:
            return str(value)


def _note(cell: Any) -> str:
    parts = []
    if cell.comment is not None:
        text = str(cell.comment.text or "")
        threaded = re.match(r"^\[Threaded comment\].*?Comment:\s*(.*)$", text, re.DOTALL)
        parts.append(" ".join((threaded[1] if threaded else text).split()))
    if cell.hyperlink is not None and cell.hyperlink.target and cell.hyperlink.target != cell.value:
        parts.append(str(cell.hyperlink.target))
    return " ".join(parts)


def _check_extent(grid: Mapping[Place, Cell], where: str) -> None:
    last = max((row for row, _ in grid), default=0)
    if last > MAX_ROWS:
        refuse(
            f"{where}, row {last}",
            "too-many-rows",
            f"it goes on beyond {MAX_ROWS} rows",
            "",
            "Split the list, or delete what lies below it.",
        )
    widest = max((column for _, column in grid), default=0)
    if widest > MAX_COLUMNS:
        refuse(
            f"{where}, column {column_letter(widest - 1)}",
            "too-many-columns",
            f"it goes on beyond {MAX_COLUMNS} columns",
            "",
            "Delete what is not part of the list.",
        )
    for (row, column), cell in grid.items():
        if len(cell.text) > MAX_CELL:
            refuse(
                f"{where}, row {row}, column {column_letter(column - 1)}",
                "cell-too-long",
                f"a cell holds more than {MAX_CELL} characters",
                cell.text[:40] + "...",
                "Shorten it.",
            )


def _spread_merged(grid: dict[Place, Cell], sheet: Worksheet) -> None:
    """Let every cell of a merged range show the value of its first."""
    last_row = max((row for row, _ in grid), default=0)
    last_column = max((column for _, column in grid), default=0)
    for merged in sheet.merged_cells.ranges:
        anchor = grid.get((merged.min_row, merged.min_col))
        if anchor is None:
            continue
        address = f"{column_letter(merged.min_col - 1)}{merged.min_row}"
        shown = merged_copy(anchor, address)
        for row in range(merged.min_row, min(merged.max_row, last_row) + 1):
            for column in range(merged.min_col, min(merged.max_col, last_column) + 1):
                if (row, column) != (merged.min_row, merged.min_col):
                    grid[row, column] = shown


def merged_copy(anchor: Cell, address: str) -> Cell:
    """The cell as the other cells of its merged range show it."""
    return Cell(anchor.value, anchor.text, anchor.number_format, "", address, anchor.bold, anchor.formula)


def rows_of(grid: Mapping[Place, Cell]) -> tuple[tuple[Cell, ...], ...]:
    """Rows of cells, each as long as its last cell, from cells by row and column counted from 1."""
    widths: Counter[int] = Counter()
    for row, column in grid:
        widths[row] = max(widths[row], column)
    last = max(widths, default=0)
    return tuple(
        tuple(grid.get((row, column), EMPTY) for column in range(1, widths[row] + 1)) for row in range(1, last + 1)
    )


def _notes(grid: Mapping[Place, Cell], hidden: frozenset[int]) -> Iterator[str]:
    computed = sum(bool(cell.formula) and cell.value is not None and not cell.merged_from for cell in grid.values())
    if computed:
        yield f"{computed} cells are computed by formulas; the values last saved are used"
    if hidden:
        numbers = ", ".join(str(row + 1) for row in sorted(hidden)[:10])
        yield f"{len(hidden)} hidden rows are read like the others ({numbers}{', ...' if len(hidden) > 10 else ''})"


def uncomputed(place: str, header: str) -> Problem:
    """The problem of a formula whose value was never saved."""
    return Problem(
        place, "no-cached-value", f"the {header or 'cell'} is a formula whose value was not saved", "",
        "Open the file in a spreadsheet program and save it, or write the value.",
    )  # fmt: skip
