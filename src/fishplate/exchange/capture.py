"""A saved page, a mail or pasted text as what it tells of; which of these something is, or a list."""

from __future__ import annotations

from dataclasses import replace

from ..build import Build
from .captured import Captured, Found
from .container import kind_of, refuse
from .find_tables import find_tables
from .goods_text import goods_in_text
from .html_tables import sheets_of_page, text_of_page
from .model import EMPTY, Cell, Sheet
from .names import clean_text
from .page_data import read_page
from .page_products import products
from .read_tables import tables_of
from .saved_page import Saved, open_saved
from .text_tables import decode, read_text

_LIST_ENDINGS = (".csv", ".tsv", ".tab", ".md", ".markdown")


def capture(data: bytes, name: str, build: Build) -> Captured | None:
    """What a file or pasted text tells of; None if it is a list, which `read_tables` reads.

    Parameters
    ----------
    data, name : content of the file and its name
    build : for how its suppliers and owner write; it stays as it is

    Raises
    ------
    Refused
        if it is none of these, damaged or too large, or tells of no goods; with the remedy
    """
    match kind_of(data, name):
        case "page":
            return _of_page(open_saved(data, name), name)
        case "message":
            saved = open_saved(data, name)
            return _of_mail(saved, name, build) if saved.is_mail else _of_page(saved, name)
        case "text":
            return _of_text(data, name, build)
        case _:
            return None


def _of_page(saved: Saved, name: str) -> Captured | None:
    """Products a page tells of by its markup; else it may hold a list; else its title alone."""
    if saved.root is None:
        refuse(name, "empty", "there is nothing in the page", "", "Save it again, whole.")
    data = read_page(saved.root, saved.url, saved.notes)
    found, notes = products(data, saved.url)
    bare = not any(each.price is not None or each.place != "head" for each in found)
    if bare and any(map(find_tables, sheets_of_page(saved.root, name))):
        return None
    if not found:
        do = "Copy its table into a spreadsheet and save as XLSX, ODS or CSV, or type the part in a line."
        refuse(name, "no-product", "no product and no list was found in this web page", "", do)
    if bare:
        notes = (*notes, "the page tells programs nothing but its title; the rest is for you to fill in")
    return Captured(name, "page", clean_text(data.title)[0], found, saved.url, saved.day, notes)


def _of_mail(saved: Saved, name: str, build: Build) -> Captured:
    """Products a mail's markup tells of, else its lines."""
    notes = saved.notes
    if saved.root is not None:
        data = read_page(saved.root, "", saved.notes)
        marked, notes = products(data, "")
        marked = tuple(_from(each, saved.sender) for each in marked if each.place != "head")
        if marked:
            return Captured(name, "mail", saved.subject, marked, "", saved.day, notes)
    text = saved.text if saved.text.strip() else text_of_page(saved.root)
    goods = goods_in_text(text, build, name)
    found = tuple(_from(each, saved.sender) for each in goods.found)
    return _with_goods(
        Captured(name, "mail", saved.subject, found, "", saved.day, (*notes, *goods.notes), goods.not_read)
    )


def _from(found: Found, sender: str) -> Found:
    if found.seller or not sender:
        return found
    return replace(found, seller=sender, said=(*found.said, f"the seller is taken to be {sender}, who sent it"))


def _of_text(data: bytes, name: str, build: Build) -> Captured | None:
    if name.casefold().endswith(_LIST_ENDINGS):
        return None
    text, notes = decode(data, name)
    goods = goods_in_text(text, build, name)
    if _is_list(
        read_text(data, name),
        len([line for line in text.split("\n") if line.strip()]),
        len([each for each in goods.found if each.price is not None]),
    ):
        return None
    known = _named_supplier(text, build)
    said = f"the seller is taken to be {known}, whom it names"
    found = tuple(
        replace(each, seller=known, said=(*each.said, said)) if known and not each.seller else each
        for each in goods.found
    )
    return _with_goods(Captured(name, "text", "", found, "", None, (*notes, *goods.notes), goods.not_read))


def _is_list(sheets: tuple[Sheet, ...], lines: int, priced: int) -> bool:
    """Whether most of a text is a list with columns, or nothing in it is a line of goods and it may be one of names."""
    found = [table for sheet in sheets for table in find_tables(sheet)]
    if found and not priced:
        return True
    tables = [table for table in found if len(table.columns) > 1 or table.header_rows]
    rows = sum(len(table.rows) for table in tables if table.header_rows)
    bare = sum(len(table.rows) for table in tables if not table.header_rows)
    return 2 * rows >= lines or (bare > 2 * priced and 5 * bare >= 4 * lines)


def _named_supplier(text: str, build: Build) -> str:
    """The one supplier of the build that a text names; empty if it names none or several."""
    folded = text.casefold()
    named = [each.name for each in build.suppliers if len(each.name) > 3 and each.name.casefold() in folded]
    return named[0] if len(named) == 1 else ""


def _with_goods(captured: Captured) -> Captured:
    if not captured.found:
        do = "A line names a part and its price, as in: 2 brake hose front 38.50 EUR. Or bring its table."
        refuse(
            captured.name,
            "no-goods",
            f"no list of parts and no line of goods was found in this {captured.kind}",
            "",
            do,
        )
    return captured


def order_tables(data: bytes, name: str, build: Build) -> tuple[Sheet, ...]:
    """An order confirmation as sheets, whether it came as a list, a page, a mail or its text; raises Refused."""
    captured = capture(data, name, build)
    return tables_of(data, name) if captured is None else (_sheet(captured),)


def _sheet(captured: Captured) -> Sheet:
    """What was found as a sheet: a row each, with name, number, quantity and price."""
    rows = [("Part", "Part number", "Quantity", "Unit price")]
    for each in captured.found:
        price = "" if each.price is None else f"{each.price:f} {each.currency}".strip()
        quantity = "" if each.quantity is None else f"{each.quantity:f}"
        rows.append((each.name, each.part_number, quantity, price))
    cells = tuple(tuple(Cell(text, text) if text else EMPTY for text in row) for row in rows)
    return Sheet(captured.name, "", cells)
