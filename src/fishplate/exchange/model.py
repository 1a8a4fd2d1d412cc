"""What import and export hand around: sheets as they were read, and the plan of an import, row by row."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from ..build import Assumption, Problem

CellValue = str | int | float | bool | date | datetime | None


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell as it was read.

    Parameters
    ----------
    value : raw value; text : what a person sees
    number_format : as the file gives it, e.g. "[$£-809]#,##0.00"
    note : comment attached to the cell
    merged_from : address of the cell whose value a merged cell shows, e.g. "B4"; empty if not merged
    formula : the formula text, if the value was computed by one
    """

    value: CellValue = None
    text: str = ""
    number_format: str = ""
    note: str = ""
    merged_from: str = ""
    bold: bool = False
    formula: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing is to be seen in it."""
        return not self.text.strip()

    @property
    def is_number(self) -> bool:
        """Whether the file itself says it is a number."""
        return isinstance(self.value, int | float) and not isinstance(self.value, bool)


EMPTY = Cell()


def column_letter(position: int) -> str:
    """Letters of a column counted from 0.

    Examples
    --------
    >>> column_letter(0), column_letter(27)
    ('A', 'AB')
    """
    letters = ""
    position += 1
    while position:
        position, rest = divmod(position - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet, or one table of a text file, cell by cell.

    Parameters
    ----------
    file : name of the file; name : name of the sheet, empty for a file without sheets
    first_row : number a person gives the first row of `rows`
    hidden_rows : positions in `rows` that the file hides
    notes : what was noticed while reading, as sentences
    """

    file: str
    name: str
    rows: tuple[tuple[Cell, ...], ...]
    first_row: int = 1
    hidden_rows: frozenset[int] = frozenset()
    hidden: bool = False
    notes: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def label(self) -> str:
        """File and sheet, as a place a person can find."""
        return f"{self.file}, sheet {self.name}" if self.name else self.file

    def place(self, row: int, column: int | None = None, header: str = "") -> str:
        """A row, or a cell of it, as a place a person can find; positions count from 0."""
        where = f"{self.label}, row {self.first_row + row}"
        if column is None:
            return where
        return f"{where}, column {column_letter(column)}" + (f" ({header})" if header else "")

    def cell(self, row: int, column: int) -> Cell:
        """The cell at a position, empty beyond the edge."""
        cells = self.rows[row]
        return cells[column] if column < len(cells) else EMPTY


@dataclass(frozen=True, slots=True)
class Table:
    """A table found on a sheet: where its header and rows are, and what stands around them.

    Parameters
    ----------
    headers : text of each column's header; columns : positions of the columns on the sheet
    header_rows : positions of the header's rows; empty if the list has none
    rows : positions of the rows below the header
    title : text found above the header
    """

    sheet: Sheet
    columns: tuple[int, ...]
    headers: tuple[str, ...]
    header_rows: tuple[int, ...]
    rows: tuple[int, ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class ColumnUse:
    """What a column was taken for, and why; `field` is empty if it is kept as a note, "ignore" if it is left out."""

    sheet: str
    column: int
    header: str
    field: str
    why: str

    @property
    def letter(self) -> str:
        """Letters of the column."""
        return column_letter(self.column)


class RowAction(StrEnum):
    """What an import does with a row."""

    ADD = "add"
    UPDATE = "update"
    UNCHANGED = "unchanged"
    SKIP = "skip"
    UNREADABLE = "can't read"


@dataclass(frozen=True, slots=True)
class Change:
    """One field of one noun, before and after. Of a new noun the first change is its id, and `before` is empty."""

    list_name: str
    id: str
    field: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Upsert:
    """A noun to put into a list: in place of the one with its id, or at the end."""

    list_name: str
    noun: Any


@dataclass(frozen=True, slots=True)
class RowPlan:
    """What an import will do with one row.

    Parameters
    ----------
    row : its number as a person counts
    why : why it is skipped, or what it is
    said : what was assumed or noticed while reading it
    """

    place: str
    sheet: str
    row: int
    action: RowAction
    name: str
    changes: tuple[Change, ...] = ()
    why: str = ""
    said: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    upserts: tuple[Upsert, ...] = ()


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """What the owner says about a list, beyond the list itself.

    Parameters
    ----------
    currency : of prices that name none; decimal : "." or ",", where a column leaves it open
    sheets : names of the sheets to read; empty for all
    day : the day of the import, for orders and receipts that give none
    mended : what is to be read in place of a cell, each as its place in words and the text
    """

    currency: str | None = None
    decimal: str | None = None
    sheets: tuple[str, ...] = ()
    day: date | None = None
    mended: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ImportPreview:
    """Everything an import would do; nothing is written by it."""

    rows: tuple[RowPlan, ...]
    columns: tuple[ColumnUse, ...] = ()
    notes: tuple[str, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    problems: tuple[Problem, ...] = field(default=())

    def count(self, action: RowAction) -> int:
        """How many rows an action is taken with."""
        return sum(row.action is action for row in self.rows)

    @property
    def changes_anything(self) -> bool:
        """Whether accepting it would change the build."""
        return any(row.upserts for row in self.rows)
