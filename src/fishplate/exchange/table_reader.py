"""What reading a table's rows shares: the use, decimal mark and date order of each column, and how faults are said."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import TypeVar

from ..build import Build, Money, Problem
from ..build.base import ThreePoint
from ..build.numbers import Unreadable, ascii_digits, decimal_mark
from ..build.parts import Phase
from .amounts import find_currency, format_currency_hint
from .columns import PRICE_FIELDS
from .displayed import plain_number
from .model import Cell, ColumnUse, ImportOptions, Table
from .names import clean_text
from .times import day_order
from .workbook import uncomputed

_Read = TypeVar("_Read")
NUMBERED = re.compile(r"^\d{1,3}[.)]\s+(?=\D)")


@dataclass(slots=True)
class Line:
    """What one row says. Fields left None are not said by the list.

    Parameters
    ----------
    have : how many of it are owned already; notes : label and text of what no field holds
    said : what was assumed or noticed; problems : what can't be read
    """

    table: Table
    row: int
    name: str = ""
    part_number: str = ""
    quantity: Decimal | None = None
    unit: str | None = None
    price: Money | None = None
    tax_included: bool | None = None
    supplier: str = ""
    supplier_country: str | None = None
    lead_weeks: ThreePoint | None = None
    phase: Phase | None = None
    system: str = ""
    url: str = ""
    mass_kg: Decimal | None = None
    origin: str | None = None
    heading: str | None = None
    seen: date | None = None
    have: Decimal | None = None
    ordered: bool = False
    ordered_on: date | None = None
    order_on: date | None = None
    return_days: int | None = None
    notes: list[tuple[str, str]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    @property
    def place(self) -> str:
        """Where it stands."""
        return self.table.sheet.place(self.row)


@dataclass(frozen=True)
class TableReader:
    """Reads the cells of one table, knowing what each column is for.

    Parameters
    ----------
    table, uses : the table and what its columns are for; options : what the owner says about the list
    build : the build it goes into, for its suppliers' currencies and its owner's
    supplier, seen : what holds for rows that name no supplier or day of their own
    """

    table: Table
    uses: Sequence[ColumnUse]
    options: ImportOptions
    build: Build
    supplier: str = ""
    seen: date | None = None

    @cached_property
    def columns(self) -> dict[str, ColumnUse]:
        """The column of each field, of those that take one."""
        return {use.field: use for use in reversed(self.uses) if use.field}

    @cached_property
    def marks(self) -> dict[str, str | None]:
        """The decimal mark of each column of figures, where it shows one or the owner says."""
        fields = (*PRICE_FIELDS, "quantity", "mass", "lead_time", "have")
        here = [name for name in fields if name in self.columns]
        return {name: decimal_mark(map(_figure, self._texts(name))) or self.options.decimal for name in here}

    @cached_property
    def orders(self) -> dict[str, str | None]:
        """The order of day and month in each column of dates, where it shows one."""
        fields = ("seen", "ordered", "ordered_on", "order_on")
        return {name: day_order(self._texts(name)) for name in fields if name in self.columns}

    @cached_property
    def column_currency(self) -> dict[str, str | None]:
        """The one currency a price column names where it names any."""
        found: dict[str, str | None] = {}
        for name in (each for each in PRICE_FIELDS if each in self.columns):
            cells = [self.table.sheet.cell(row, self.columns[name].column) for row in self.table.rows]
            codes = {find_currency(cell.text).code or format_currency_hint(cell.number_format).code for cell in cells}
            named = codes - {None}
            found[name] = named.pop() if len(named) == 1 else None
        return found

    @cached_property
    def mended(self) -> dict[str, str]:
        """What is read in place of a cell, by the cell's place."""
        return dict(self.options.mended)

    @cached_property
    def numbers_names(self) -> bool:
        """Whether most names begin with their number in the list, as in "3. Hose"."""
        names = [text for row in self.table.rows[:200] if (text := self.text(row, "name"))]
        return len(names) > 2 and sum(bool(NUMBERED.match(name)) for name in names) > 0.7 * len(names)

    @cached_property
    def owner_currency_rows(self) -> list[int]:
        """Rows whose price was taken in the owner's currency because nothing names another; filled while reading."""
        return []

    def _texts(self, name: str) -> list[str]:
        column = self.columns[name].column
        cells = (self.table.sheet.cell(row, column) for row in self.table.rows)
        return [cell.text for cell in cells if not cell.is_empty and not cell.is_number]

    def cell(self, row: int, name: str) -> Cell | None:
        """The filled cell of a field in a row; None if the list has no such column or nothing stands in it."""
        use = self.columns.get(name)
        if use is None:
            return None
        cell = self.table.sheet.cell(row, use.column)
        mended = self.mended.get(self.table.sheet.place(row, use.column, use.header)) if self.mended else None
        if mended is not None:
            cell = Cell(mended, mended)
        return None if cell.is_empty and not cell.formula else cell

    def own_cell(self, row: int, name: str) -> Cell | None:
        """The same, unless the cell only shows what it is merged with."""
        cell = self.cell(row, name)
        return None if cell is None or cell.merged_from else cell

    def text(self, row: int, name: str) -> str:
        """Cleaned text of a field in a row."""
        cell = self.cell(row, name)
        return clean_text(cell.text)[0] if cell is not None else ""

    def where(self, line: Line, name: str) -> str:
        """Place of a field's cell."""
        use = self.columns[name]
        return self.table.sheet.place(line.row, use.column, use.header)

    def label(self, name: str) -> str:
        """What a field's column is called."""
        return self.columns[name].header or name.replace("_", " ")

    def fault(self, line: Line, name: str, code: str, what: str, got: str, do: str) -> None:
        """Note that a needed field can't be read."""
        shown = got if len(got) <= 60 else got[:57] + "..."
        line.problems.append(Problem(self.where(line, name), code, what, shown, do))

    def keep_as_note(self, line: Line, name: str, said: str = "") -> None:
        """Keep a field's text as a note of the part, and say why."""
        line.notes.append((self.label(name), self.text(line.row, name)))
        if said:
            line.said.append(said)

    def needed(self, line: Line, name: str, cell: Cell, parse: Callable[[], _Read]) -> _Read | None:
        """Read a needed field; what can't be read is a problem of the row."""
        if cell.formula and cell.value is None:
            line.problems.append(uncomputed(self.where(line, name), self.label(name)))
            return None
        if isinstance(cell.value, str) and re.match(r"^(?:#[A-Z/0!?]+|Err:\d+)$", cell.value):
            do = "Correct the formula, or write the value."
            self.fault(line, name, "error-value", "the cell holds a spreadsheet error", cell.value, do)
            return None
        try:
            return parse()
        except Unreadable as fault:
            self.fault(line, name, fault.code, fault.what, clean_text(cell.text)[0], fault.do)
            return None

    def optional(self, line: Line, name: str, parse: Callable[[Cell], _Read]) -> _Read | None:
        """Read a field that is not needed; what can't be read is kept as a note, and said."""
        cell = self.cell(line.row, name)
        if cell is None:
            return None
        try:
            return parse(cell)
        except Unreadable as fault:
            said = f'{self.label(name)}: "{self.text(line.row, name)[:60]}" is kept as a note: {fault.what}'
            self.keep_as_note(line, name, said)
            return None


def _figure(text: str) -> str:
    """The first figure of a text, for telling decimal marks."""
    match = re.search(r"\d[\d.,'’\s]*\d|\d", ascii_digits(text))
    return match[0] if match else ""


def figure_text(cell: Cell) -> str:
    """Text of a cell, or its exact number where the file holds one: a format never hides digits here."""
    if isinstance(cell.value, int | float) and cell.is_number:
        return plain_number(round(cell.value, 6))
    return cell.text
