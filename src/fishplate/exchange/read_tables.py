"""Any list file as sheets of cells."""

from __future__ import annotations

from pathlib import Path

from .container import kind_of, read_bytes, refuse
from .model import Sheet


def read_tables(path: Path) -> tuple[Sheet, ...]:
    """The sheets of a list file, whatever its kind; the content decides, not the name.

    Parameters
    ----------
    path : an XLSX, ODS, CSV, TSV or Markdown file; a saved page or mail with tables in it

    Raises
    ------
    Refused
        if it is none of these, damaged, locked, too large or empty; with the remedy
    """
    return tables_of(read_bytes(path), path.name)


def tables_of(data: bytes, name: str) -> tuple[Sheet, ...]:
    """The same from the content of a file and its name."""
    match kind_of(data, name):
        case "xlsx":
            from .workbook import read_xlsx

            sheets = read_xlsx(data, name)
        case "ods":
            from .open_document import read_ods

            sheets = read_ods(data, name)
        case "text":
            from .text_tables import read_text

            sheets = read_text(data, name)
        case "page" | "message":
            sheets = _tables_of_saved(data, name)
    if not any(
        any(map(str.isalnum, cell.text)) or cell.formula for sheet in sheets for row in sheet.rows for cell in row
    ):
        refuse(name, "empty", "there is nothing in it", "", "Save the list again; check that it is the right file.")
    return sheets


def _tables_of_saved(data: bytes, name: str) -> tuple[Sheet, ...]:
    """The tables of a saved page or mail, those of a mail's plain text included."""
    from .aligned_text import aligned_tables
    from .html_tables import sheets_of_page
    from .saved_page import open_saved

    saved = open_saved(data, name)
    text = saved.text.replace("\r\n", "\n").replace("\r", "\n")
    sheets = (*sheets_of_page(saved.root, name), *(sheet for sheet, _ in aligned_tables(text, name)))
    if not sheets:
        do = "Copy its table into a spreadsheet and save as XLSX, ODS or CSV."
        refuse(name, "no-list", "there is no table in this web page or mail", "", do)
    return sheets
