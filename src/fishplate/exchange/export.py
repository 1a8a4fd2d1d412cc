"""A build written to a spreadsheet, a table of text, or a build document; whole or not at all."""

from __future__ import annotations

import csv
import io
import os
import secrets
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..build import Build, Problem, Refused, format_document
from ..build.commerce import Offer
from ..build.parts import Part
from .draft import value_text
from .own_sheets import OWN_SHEETS, SHOWN_SHEETS, cell_values, nouns_of, shown_header

if TYPE_CHECKING:
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet


def export_xlsx(build: Build, path: Path) -> None:
    """Write a build as a workbook: a sheet for each list, of which parts, offers and stock can be imported again.

    Raises
    ------
    Refused
        if the file can't be written; an existing one is then left as it was
    """
    buffer = io.BytesIO()
    _write_workbook(build, buffer)
    _write_whole(path, buffer.getvalue())


def export_document(build: Build, path: Path) -> None:
    """Write a build as its JSON document; raises Refused if the file can't be written."""
    _write_whole(path, format_document(build).encode("utf-8"))


def export_csv(build: Build, path: Path) -> None:
    """Write a build's parts with their offers as one table; raises Refused if the file can't be written."""
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(_CSV_HEADERS)
    for row in _csv_rows(build):
        writer.writerow([guarded(text) for text in row])
    _write_whole(path, ("\ufeff" + buffer.getvalue()).encode("utf-8"))


def guarded(text: str) -> str:
    """Text that a spreadsheet program would take for a formula, with a mark before it that makes it text.

    Examples
    --------
    >>> guarded("=1+1"), guarded("Disc"), guarded("-12")
    ("'=1+1", 'Disc', "'-12")
    """
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


_CSV_HEADERS = (
    "Part",
    "Part number",
    "System",
    "Phase",
    "Quantity",
    "Unit",
    "Supplier",
    "Price each",
    "Currency",
    "Lead time (weeks)",
    "Return days",
    "Seen",
    "Link",
    "Mass (kg)",
    "Origin",
    "HS code",
    "Notes",
)


def _csv_rows(build: Build) -> Iterator[list[str]]:
    """A row for each part and offer of it; a part without an offer has one row."""
    for part in build.parts:
        offers: list[Offer | None] = [offer for offer in build.offers if offer.part == part.id]
        for offer in offers or [None]:
            yield _csv_row(build, part, offer)


def _csv_row(build: Build, part: Part, offer: Offer | None) -> list[str]:
    system = build.find("systems", part.system).name if part.system else ""
    head = [part.name, part.part_number, system, part.phase or "", value_text(part.quantity), part.unit]
    tail = [value_text(part.mass_kg), part.origin or "", part.heading or "", part.note.replace("\n", "; ")]
    if offer is None:
        return [*head, *[""] * 7, *tail]
    lead, price = offer.lead_weeks, offer.price.amount / Decimal(str(offer.pack))
    shown_lead = "" if lead is None else f"{lead.low:g}-{lead.high:g}" if lead.low != lead.high else f"{lead.low:g}"
    terms = [build.find("suppliers", offer.supplier).name, f"{price:f}", offer.price.currency, shown_lead]
    returns = "" if offer.returns is None else str(offer.returns.days)
    return [*head, *terms, returns, value_text(offer.seen), offer.source if "://" in offer.source else "", *tail]


def _write_workbook(build: Build, buffer: io.BytesIO) -> None:
    import xlsxwriter

    # no text is ever taken for a formula, an address or a number
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(buffer, options) as book:
        head = book.add_format({"bold": True, "bottom": 1})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for own in OWN_SHEETS:
            rows = (cell_values(own, noun) for noun in nouns_of(build, own))
            _write_sheet(book, own.title, [field.header for field in own.fields], rows, head, day)
        for title, list_name, fields in SHOWN_SHEETS:
            nouns = getattr(build, list_name)
            if nouns:
                shown = ([_shown(getattr(noun, field)) for field in fields] for noun in nouns)
                _write_sheet(book, title, [shown_header(field, list_name) for field in fields], shown, head, day)


def _shown(value: Any) -> Any:
    return value if isinstance(value, int | float | date) and not isinstance(value, bool) else value_text(value) or None


def _write_sheet(
    book: Workbook, title: str, headers: list[str], rows: Iterator[list[Any]], head: Any, day: Any
) -> None:
    sheet = book.add_worksheet(title)
    for column, header in enumerate(headers):
        sheet.write_string(0, column, header, head)
    widths = [len(header) for header in headers]
    for number, values in enumerate(rows, 1):
        for column, value in enumerate(values):
            _write_cell(sheet, number, column, value, day)
            widths[column] = max(widths[column], min(len(str(value or "")), 48))
    for column, width in enumerate(widths):
        sheet.set_column(column, column, width + 2)
    sheet.freeze_panes(1, 2)


def _write_cell(sheet: Worksheet, row: int, column: int, value: Any, day: Any) -> None:
    match value:
        case None | "":
            return
        case bool():
            sheet.write_string(row, column, "yes" if value else "no")
        case date():
            sheet.write_datetime(row, column, value, day) if value.year >= 1900 else sheet.write_string(
                row, column, value.isoformat()
            )
        case int() | float() | Decimal():
            _write_number(sheet, row, column, value)
        case _:
            sheet.write_string(row, column, str(value)[:32_767])


def _write_number(sheet: Worksheet, row: int, column: int, value: int | float | Decimal) -> None:
    """A workbook holds sixteen digits; a number with more is written as text, so that none are lost."""
    held = float(f"{value:.16G}")
    if Decimal(repr(held)) == Decimal(str(value)) and abs(held) < 1e15:
        sheet.write_number(row, column, held)
    else:
        sheet.write_string(row, column, f"{value:f}" if isinstance(value, Decimal) else repr(value))


def _write_whole(path: Path, content: bytes) -> None:
    """Write a file beside its place, then give it its name, so that no half is ever there."""
    if path.is_dir():
        raise Refused([Problem(str(path), "directory", "this is a folder", "", "Name the file to write in it.")])
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with part.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        what = f"it can't be written: {error.strerror or error}"
        raise Refused(
            [Problem(str(path), "unwritable", what, "", "Check the folder, and your leave to write there.")]
        ) from None
    finally:
        part.unlink(missing_ok=True)


Exporter = Callable[[Build, Path], None]
EXPORTERS: dict[str, Exporter] = {".xlsx": export_xlsx, ".json": export_document, ".csv": export_csv}
