"""What each row of a table is: a part, a section's heading, a total, a charge, a remark."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise

from ..build import Problem
from ..build.numbers import Unreadable
from .columns import PRICE_FIELDS
from .line_price import price_reading
from .lines import read_line
from .names import clean_text
from .table_reader import Line, TableReader
from .words import keys_by_word, plain, plain_words


class RowKind(StrEnum):
    """What a row is."""

    PART = "part"
    SECTION = "section"
    SKIPPED = "skipped"


@dataclass(frozen=True, slots=True)
class ReadRow:
    """A row, what it is, why it is passed over if it is, and what it says if it is a part.

    Parameters
    ----------
    charge : "total", "tax", "freight" or "discount" where it is one; amount : of it, as far as it can be read
    """

    row: int
    kind: RowKind
    name: str
    why: str = ""
    line: Line | None = None
    charge: str = ""
    amount: Decimal | None = None


@dataclass(slots=True)
class _Sum:
    """How many amounts there were, and what they make together."""

    count: int = 0
    amount: Decimal = Decimal(0)

    def add(self, amount: Decimal) -> None:
        self.count += 1
        self.amount += amount

    def is_total(self, amount: Decimal) -> bool:
        """Whether an amount is the sum of two or more, each rounded to the cent."""
        return self.count >= 2 and abs(amount - self.amount) <= Decimal("0.005") * (self.count + 1)


@dataclass(slots=True)
class _Run:
    """Sums of the rows since the last section or total, and since the first."""

    section: _Sum = field(default_factory=_Sum)
    all: _Sum = field(default_factory=_Sum)

    def close(self) -> None:
        """A section ends."""
        self.section = _Sum()


_WHY = {
    "total": "a total, not a part",
    "tax": "a tax or duty, not a part; what goods cost at the door is worked out from rules",
    "freight": "a freight charge, not a part; freight belongs to the supplier's terms",
    "discount": "a discount, not a part",
}


def read_rows(readers: Sequence[TableReader], system: str = "") -> Iterator[ReadRow]:
    """The rows of a table in order; blank ones are passed over.

    Parameters
    ----------
    readers : read the table; more than one where it has a column of prices for each of several shops
    system : name of the system its rows belong to until a section says otherwise
    """
    reader, *others = readers
    rows, run, filled_system = reader.table.rows, _Run(), ""
    sections_are_likely = _mostly_with_figures(reader)
    fills_down = _system_fills_down(reader)
    below = _first_below(reader, sections_are_likely)
    for position, row in enumerate(rows):
        if row >= below:
            yield ReadRow(row, RowKind.SKIPPED, _name(reader, row), "it stands below the list, without a figure")
        elif why := _charge_or_total(reader, row, run):
            run.close()
            charge = next((kind for kind, words in _WHY.items() if words == why), "total")
            yield ReadRow(row, RowKind.SKIPPED, _name(reader, row), why, charge=charge, amount=_amount(reader, row))
        elif (section := _section(reader, rows, position, sections_are_likely)) is not None:
            run.close()
            system = section or system
            why = f"a heading: the rows below it are of the system {system}" if section else "a remark, not a part"
            yield ReadRow(row, RowKind.SECTION if section else RowKind.SKIPPED, _name(reader, row) or section, why)
        else:
            filled_system = reader.text(row, "system") or filled_system if fills_down else system
            line = read_line(reader, row, filled_system or system)
            _add(run, reader, line)
            read = _part_or_not(reader, line)
            yield read
            if read.kind is RowKind.PART:
                yield from _elsewhere(others, line)


def _elsewhere(others: Sequence[TableReader], first: Line) -> Iterator[ReadRow]:
    """A row's further prices, each at another shop; all else the row says is said once."""
    for reader in others:
        line = read_line(reader, first.row, first.system)
        line.ordered, line.have, line.notes = False, None, []
        if line.price is not None or line.problems:
            line.said = [said for said in line.said if said not in first.said]
            yield ReadRow(line.row, RowKind.PART, line.name, line=line)


def _name(reader: TableReader, row: int) -> str:
    found = reader.text(row, "name")
    if found:
        return found
    texts = [
        clean_text(cell.text)[0]
        for column in reader.table.columns
        if not (cell := reader.table.sheet.cell(row, column)).is_empty
    ]
    return texts[0] if texts else ""


def _part_or_not(reader: TableReader, line: Line) -> ReadRow:
    if not line.name and not line.problems:
        if not reader.text(line.row, "supplier"):
            return ReadRow(line.row, RowKind.SKIPPED, _name(reader, line.row), "it names no part")
        where = f"{line.place} (name)"
        line.problems.append(
            Problem(where, "no-name", "the row names no part", "", "Write its name, or delete the row.")
        )
    if line.quantity == 0 and not line.problems and not line.have:
        return ReadRow(line.row, RowKind.SKIPPED, line.name, "its quantity is 0")
    return ReadRow(line.row, RowKind.PART, line.name, line=line)


def _charge_or_total(reader: TableReader, row: int, run: _Run) -> str:
    """Why a row is a total or a charge and not a part; empty if it is a part."""
    cells = [reader.table.sheet.cell(row, column) for column in reader.table.columns]
    texts = [
        plain(re.sub(r"\d+([.,]\d+)?\s*%", "", cell.text))
        for cell in cells
        if not cell.is_empty and not cell.is_number and any(c.isalpha() for c in cell.text)
    ]
    label = texts[0] if texts else ""
    bare = _is_bare(reader, row)
    for kind in ("total", "tax", "freight", "discount"):
        listed = plain_words("rows", kind)
        if label in listed or (bare and kind == "total" and _starts_with(label, listed)):
            return _WHY[kind] if bare or kind != "freight" or label == "shipping" else ""
        if bare and kind != "total" and len(label.split()) <= 4 and _starts_with(label, listed):
            return _WHY[kind]
    amount = _amount(reader, row)
    if bare and amount is not None and _sums_up(amount, run) and len(texts) <= 1:
        return "a total: it is the sum of the rows above it"
    return ""


def _starts_with(label: str, listed: frozenset[str]) -> bool:
    return any(label.startswith(f"{word} ") or label.endswith(f" {word}") for word in listed if len(word) > 2)


def _sums_up(amount: Decimal, run: _Run) -> bool:
    return run.section.is_total(amount) or run.all.is_total(amount)


def _amount(reader: TableReader, row: int) -> Decimal | None:
    """The amount of a row without quantity: its total, or else its price."""
    for name in ("total_price", "unit_price", "price", "estimate"):
        cell = reader.cell(row, name)
        if cell is not None and not (cell.formula and cell.value is None):
            try:
                return price_reading(reader, cell, name).likely
            except Unreadable:
                return None
    return None


def _add(run: _Run, reader: TableReader, line: Line) -> None:
    total = _amount(reader, line.row) if "total_price" in reader.columns else None
    if total is None and line.price is not None:
        total = line.price.amount * (line.quantity or 1)
        if "total_price" not in reader.columns and "quantity" not in reader.columns:
            total = line.price.amount
    if total is not None:
        run.section.add(total)
        run.all.add(total)


def _filled(reader: TableReader, row: int) -> list[int]:
    return [c for c in reader.table.columns if not (cell := reader.table.sheet.cell(row, c)).is_empty or cell.formula]


def _is_lone(reader: TableReader, row: int) -> bool:
    """Whether one thing alone stands in a row, however many cells are merged to show it."""
    filled = _filled(reader, row)
    own = [c for c in filled if not reader.table.sheet.cell(row, c).merged_from]
    return len(own) == 1 and len({reader.table.sheet.cell(row, c).text for c in filled}) == 1 and own[0] == filled[0]


def _mostly_with_figures(reader: TableReader) -> bool:
    """Whether nearly every row that is not alone has a quantity or a price."""
    needed = [name for name in ("quantity", *PRICE_FIELDS) if name in reader.columns]
    wide = [row for row in reader.table.rows if not _is_lone(reader, row)]
    with_figures = sum(any(reader.cell(row, name) is not None for name in needed) for row in wide)
    return bool(wide) and len(reader.table.columns) > 1 and with_figures >= 0.8 * len(wide)


def _first_below(reader: TableReader, likely: bool) -> int:
    """Position of the first row that stands below the list, after a gap and without a figure in it or after it."""
    rows, last = reader.table.rows, -1
    needed = [name for name in ("quantity", *PRICE_FIELDS) if name in reader.columns]
    for position, row in enumerate(rows):
        if any(_holds_figure(reader, row, name) for name in needed):
            last = position
    for before, row in pairwise(rows[max(last, 0) :]):
        if likely and last >= 0 and row - before > 1:
            return row
    return len(reader.table.sheet.rows)


def _holds_figure(reader: TableReader, row: int, name: str) -> bool:
    cell = reader.cell(row, name)
    return cell is not None and (
        bool(cell.formula) or any(map(str.isdigit, cell.text)) or not any(map(str.isalpha, cell.text))
    )


def _section(reader: TableReader, rows: Sequence[int], position: int, likely: bool) -> str | None:
    """The system a heading row names; empty for a remark; None if the row is a part."""
    row = rows[position]
    if not _is_lone(reader, row):
        return _section_name(_name(reader, row)) if _sums_what_follows(reader, rows, position) else None
    column = _filled(reader, row)[0]
    cell = reader.table.sheet.cell(row, column)
    text = clean_text(cell.text)[0]
    if cell.is_number or not any(c.isalpha() for c in text):
        return None
    followed = any(not _is_lone(reader, later) for later in rows[position + 1 :])
    if len(reader.table.columns) == 1:
        return _section_name(text) if text.endswith(":") else None
    if len(text) > 60 or (not followed and (likely or len(text) > 40)):
        return "" if likely or len(text) > 60 else None
    strong = _looks_like_heading(reader, row, column, text)
    next_is_part = position + 1 < len(rows) and not _is_lone(reader, rows[position + 1])
    return _section_name(text) if followed and (strong or (likely and next_is_part)) else None


def _sums_what_follows(reader: TableReader, rows: Sequence[int], position: int) -> bool:
    """Whether a row without quantity gives the sum of two or more rows below it: a heading with its total."""
    amount = _amount(reader, rows[position])
    if (
        amount is None
        or not {"quantity", "total_price"} <= reader.columns.keys()
        or not _is_bare(reader, rows[position])
    ):
        return False
    following = _Sum()
    for row in rows[position + 1 :]:
        part = _amount(reader, row)
        if _is_bare(reader, row) or part is None:
            break
        following.add(part)
        if following.is_total(amount):
            return True
    return False


def _is_bare(reader: TableReader, row: int) -> bool:
    return not any(reader.text(row, name) for name in ("quantity", "supplier", "part_number"))


def _looks_like_heading(reader: TableReader, row: int, column: int, text: str) -> bool:
    name_column = reader.columns["name"].column if "name" in reader.columns else column
    cell = reader.table.sheet.cell(row, column)
    merged = sum(c.merged_from != "" for c in reader.table.sheet.rows[row]) > 0
    known = plain(text).rstrip("s") in _system_words() or plain(text) in _system_words()
    return bool(
        merged
        or known
        or column != name_column
        or text.endswith(":")
        or (cell.bold and not _names_are(reader, lambda c: c.bold))
        or (text.isupper() and len(text) > 2 and not _names_are(reader, lambda c: c.text.isupper()))
    )


def _names_are(reader: TableReader, holds: object) -> bool:
    """Whether most names of the table's parts have a property, so that it marks nothing out."""
    cells = [
        cell for row in reader.table.rows[:200] if not _is_lone(reader, row) and (cell := reader.cell(row, "name"))
    ]
    return bool(cells) and sum(bool(holds(cell)) for cell in cells) > 0.3 * len(cells)  # type: ignore[operator]


def _system_words() -> frozenset[str]:
    return frozenset(keys_by_word("hazards")) | plain_words("sections", "words")


def _section_name(text: str) -> str:
    """A heading as the name of a system: without numbering, rules and capitals throughout."""
    bare = re.sub(r"^[\W_]*(?:\d+(?:\.\d+)*[.)]?\s+)?|[\W_]+$", "", text) or text
    return bare.capitalize() if bare.isupper() and len(bare) > 4 else bare


def _system_fills_down(reader: TableReader) -> bool:
    """Whether the column of systems names each once, at the first of its rows."""
    if "system" not in reader.columns:
        return False
    texts = [reader.text(row, "system") for row in reader.table.rows if not _is_lone(reader, row)]
    named = list(filter(None, texts))
    return bool(texts) and bool(texts[0]) and len(named) <= 0.5 * len(texts) and len(set(named)) == len(named)
