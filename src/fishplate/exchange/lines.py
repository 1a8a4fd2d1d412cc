"""One row of a list as what it says: a line. Each cell is read by its column's evidence; no guess is silent."""

from __future__ import annotations

import re
from decimal import Decimal

from ..build.base import ThreePoint
from ..build.numbers import Unreadable, ascii_digits
from ..build.parts import Phase
from .amounts import parse_country, parse_mass_kg, parse_quantity, unit_word
from .columns import header_unit
from .line_price import read_price
from .line_progress import read_progress, status_of
from .model import Cell, ColumnUse
from .names import clean_text
from .table_reader import NUMBERED, Line, TableReader, figure_text
from .times import parse_lead_weeks
from .words import keys_by_word, plain, plain_words, words
from .workbook import uncomputed

_REMARK = "quantity remark: "


def read_line(reader: TableReader, row: int, system: str = "") -> Line:
    """What a row says; faults are gathered in the line.

    Parameters
    ----------
    reader : reads the table; row : position of the row; system : its system, where no column says
    """
    line = Line(reader.table, row, system=system)
    _identity(reader, line)
    _quantity(reader, line)
    _supplier(reader, line)
    read_price(reader, line)
    _terms(reader, line)
    read_progress(reader, line)
    _rest(reader, line)
    return line


def _identity(reader: TableReader, line: Line) -> None:
    cell = reader.cell(line.row, "name")
    shown = cell.text if cell is not None else ""
    line.name = re.sub(r"^(?:[•·▪‣*–-]|\[[ x]?\])\s+", "", clean_text(shown)[0])
    line.name = NUMBERED.sub("", line.name) if reader.numbers_names else line.name
    # a line break is layout; only what can't be seen is worth a word
    if clean_text(" ".join(shown.split()))[1]:
        line.said.append("characters that can't be seen were taken out of the name")
    line.part_number = _part_number(reader, line)
    if not line.name and line.part_number:
        line.name = line.part_number
        line.said.append("the row has no name; its part number stands in")
    if cell is not None and cell.formula and cell.value is None:
        line.problems.append(uncomputed(reader.where(line, "name"), "name"))
    if len(line.name) > 400:
        do = "Shorten it; put the rest in a column of notes."
        reader.fault(line, "name", "too-long", "a name longer than 400 characters", line.name, do)
    line.system = reader.text(line.row, "system")[:400] or line.system
    line.phase = _phase(reader, line)


def _part_number(reader: TableReader, line: Line) -> str:
    cell = reader.own_cell(line.row, "part_number")
    text = clean_text(cell.text)[0] if cell is not None else ""
    return "" if plain(text) in {"", "na", "n a", "tbd", "tbc", "none"} else text[:400]


def _phase(reader: TableReader, line: Line) -> Phase | None:
    text = reader.text(line.row, "phase")
    found = keys_by_word("phases").get(plain(text))
    number = re.match(r"^(?:phase |fase |stage )?([1-8])$", plain(text))
    if found:
        return Phase(found)
    if number:
        return list(Phase)[int(number[1]) - 1]
    if text:
        reader.keep_as_note(line, "phase", f'the phase "{text}" is none of the eight; it is kept as a note')
    return None


def _quantity(reader: TableReader, line: Line) -> None:
    cell = reader.cell(line.row, "quantity")
    unit = reader.text(line.row, "unit")
    line.unit = unit_word(unit)[:400] if unit else None
    if "quantity" not in reader.columns:
        _quantity_in_name(line)
    elif cell is not None and cell.merged_from:
        line.said.append("the quantity is merged with another row's; 1 is taken for a new part")
    else:
        if cell is not None:
            _take_quantity(reader, line, cell)
        if line.quantity is None and not line.problems:
            line.said.append("the row gives no quantity; 1 is taken for a new part")


def _take_quantity(reader: TableReader, line: Line, cell: Cell) -> None:
    reading = reader.needed(line, "quantity", cell, lambda: parse_quantity(figure_text(cell), reader.marks["quantity"]))
    if reading is None:
        return
    line.quantity = reading.quantity
    line.said.extend(said for said in reading.said if not said.startswith(_REMARK))
    line.notes.extend(("Quantity", said.removeprefix(_REMARK)) for said in reading.said if said.startswith(_REMARK))
    if line.unit in (None, "each") and reading.unit not in ("", "each"):
        line.unit = reading.unit[:400]


def _quantity_in_name(line: Line) -> None:
    match = re.match(r"^(\d{1,3})\s*(?:[x×]|off|st\.?|stuks)\s+(?=\D)(.+)$", line.name, re.IGNORECASE)
    if match and int(match[1]):
        line.quantity, line.name = Decimal(match[1]), match[2]
        line.said.append(f"the quantity {match[1]} stands before the name")


def _supplier(reader: TableReader, line: Line) -> None:
    """The supplier; a status, "donor" or "?" in its place is none, an address names it by its host."""
    shown = reader.text(line.row, "supplier")
    kind = status_of(shown)
    link = re.match(r"^(?:https?://)?(?:www\.)?([\w.-]+\.[a-z]{2,})(?:/\S*)?$", shown, re.IGNORECASE)
    if kind in ("have", "ordered"):
        line.have = (line.quantity or Decimal(1)) if kind == "have" else None
        line.ordered = kind == "ordered"
    elif shown.casefold() in words("cells", "no_supplier") or plain(shown) in plain_words("cells", "no_supplier"):
        line.notes.append((reader.label("supplier"), shown))
    elif link:
        line.supplier, line.url = link[1], shown if "/" in shown or shown.startswith("www.") else ""
    else:
        line.supplier = shown[:400] or reader.supplier


def _terms(reader: TableReader, line: Line) -> None:
    line.supplier_country = reader.optional(
        line, "supplier_country", lambda cell: parse_country(clean_text(cell.text)[0])
    )
    line.origin = reader.optional(line, "origin", lambda cell: parse_country(clean_text(cell.text)[0]))
    line.lead_weeks = reader.optional(line, "lead_time", lambda cell: _lead(reader, line, cell))
    if reader.own_cell(line.row, "mass") is not None:
        line.mass_kg = reader.optional(line, "mass", lambda cell: _mass(reader, cell))
    line.heading = reader.optional(line, "heading", _tariff_heading)
    _returns(reader, line)


def _lead(reader: TableReader, line: Line, cell: Cell) -> ThreePoint | None:
    unit = header_unit(reader.columns["lead_time"].header, ("weeks", "days", "months"))
    estimate, said = parse_lead_weeks(figure_text(cell), reader.marks["lead_time"], unit=unit)
    line.said.extend([said] if said else [])
    return estimate


def _mass(reader: TableReader, cell: Cell) -> Decimal:
    shown = "kg" if cell.is_number and cell.text.endswith(" kg") else None
    unit = header_unit(reader.columns["mass"].header, ("kg", "g", "lb")) or shown
    return parse_mass_kg(figure_text(cell), reader.marks["mass"], unit=unit)


def _tariff_heading(cell: Cell) -> str:
    text = re.sub(r"[\s.]", "", figure_text(cell))
    if not re.fullmatch(r"[0-9]{4}([0-9]{2}){0,3}", text):
        raise Unreadable("heading", "not a tariff heading of 4 to 10 digits", "Write its digits.")
    return text


def _returns(reader: TableReader, line: Line) -> None:
    text = reader.text(line.row, "return_days").casefold()
    match = re.match(r"^(\d{1,3})\s*(\D*)$", ascii_digits(text))
    unit = keys_by_word("lead_units").get(plain(match[2]), "days" if not match[2] else "") if match else ""
    days = {"days": 1, "weeks": 7, "months": 30}.get(unit)
    if text in words("cells", "not_returnable"):
        line.return_days = 0
    elif match and days and int(match[1]) * days <= 3650:
        line.return_days = int(match[1]) * days
    elif text:
        reader.keep_as_note(line, "return_days")


def _rest(reader: TableReader, line: Line) -> None:
    """What no field holds is kept as notes, under the name of its column."""
    for use in reader.uses:
        cell = reader.table.sheet.cell(line.row, use.column)
        text = clean_text(cell.text)[0]
        if use.field in ("", "note") and text and not (cell.is_number and use.header == "" and not use.field):
            line.notes.extend(_labelled(use, text))
        elif use.field == "url" and text:
            line.url = line.url or text
            if line.url != text:
                line.notes.append((use.header or "Link", text))
        if cell.note and not cell.merged_from:
            _cell_note(line, use, cell.note)
        mended = reader.mended.get(reader.table.sheet.place(line.row, use.column, use.header))
        if mended is not None:
            how = f'"{mended}" is read in place of "{text[:60]}"' if mended else f'"{text[:60]}" is left out'
            line.said.append(f"{use.header or use.letter}: {how}")
    if line.row in reader.table.sheet.hidden_rows:
        line.said.append("the row is hidden in the file")


def _labelled(use: ColumnUse, text: str) -> list[tuple[str, str]]:
    """A text as notes: under its column's header, or under the labels a column of notes has itself."""
    found: list[tuple[str, str]] = []
    for piece in text.split("; ") if use.field == "note" else ():
        label, colon, rest = piece.partition(": ")
        if colon and len(label) <= 40:
            found.append((label, rest))
        elif found:
            found[-1] = (found[-1][0], f"{found[-1][1]}; {piece}")
        else:
            break
    return found or [(use.header or f"Column {use.letter}", text)]


def _cell_note(line: Line, use: ColumnUse, note: str) -> None:
    text = clean_text(note)[0]
    if re.fullmatch(r"https?://\S+", text) and not line.url:
        line.url = text
    elif text != line.url:
        line.notes.append((f"{use.header or use.letter} (cell note)", text))
