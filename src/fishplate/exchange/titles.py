"""What stands around a table: a title that names its supplier, day or system, and columns that are shops."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from ..build.numbers import Unreadable
from .amounts import find_currency
from .columns import header_scores
from .model import ColumnUse, Sheet, Table
from .table_reader import TableReader
from .times import parse_day
from .words import column_words, keys_by_word, plain, plain_words


def supplier_of_title(table: Table) -> str:
    """The supplier a line above a table names, as in "Supplier: Saltmere Stores"; empty if none does."""
    return _after_label(table, "supplier")


def day_of_title(table: Table) -> date | None:
    """The day a line above a table gives for its prices, as in "Date: 2026-03-14"; None if none does."""
    text = _after_label(table, "seen")
    try:
        return parse_day(text) if text else None
    except Unreadable:
        return None


def _after_label(table: Table, field: str) -> str:
    labels = set(column_words()[field])
    for line in table.title.split("\n"):
        label, colon, rest = line.partition(":")
        if colon and plain(label) in labels and rest.strip():
            return " ".join(rest.split())[:400]
    return ""


def system_of_title(table: Table, *, several: bool) -> str:
    """The system the last line above a table names: a known name, or one short line above one of several tables."""
    line = table.title.split("\n")[-1].strip()
    bare = line.rstrip(":")
    known = plain(bare) in keys_by_word("hazards") or plain(bare) in plain_words("sections", "words")
    page = re.match(r"^(?:page|pagina|seite|blatt|p\.?)\s*\d+", bare, re.IGNORECASE)
    if bare and len(bare) <= 40 and not page and ":" not in bare and (known or several):
        return bare.capitalize() if bare.isupper() and len(bare) > 4 else bare
    return ""


def system_of_sheet(sheet: Sheet, *, several: bool) -> str:
    """The system a sheet's name names, where a workbook has a sheet a system."""
    name = plain(sheet.name)
    numbered = name != name.rstrip("0123456789 ")
    return "" if not several or not name or numbered or name in plain_words("sheets", "generic") else sheet.name.strip()


def shop_of_header(header: str) -> str:
    """The shop a price column's header names, as in "Price Saltmere"; empty if it names none.

    Examples
    --------
    >>> shop_of_header("Saltmere price (£)"), shop_of_header("Price each"), shop_of_header("Colour")
    ('Saltmere', '', '')
    """
    tokens = re.findall(r"[^\W_][\w&.'-]*", header)
    words = [plain(token) for token in tokens]
    price, kinds = plain_words("shops", "price"), plain_words("shops", "kinds")
    if sum(word in price for word in words) != 1:
        return ""
    named = zip(tokens, words, strict=True)
    shop = [token for token, word in named if word not in price | kinds and not find_currency(token.upper()).code]
    return " ".join(token for token in shop if not token.isdigit())


def by_shop(reader: TableReader) -> tuple[TableReader, ...]:
    """Readers of a table that has a column of prices for each of several shops, one reader a shop.

    A table without such columns has the one reader it came with.
    """
    shops = {use.column: shop for use in reader.uses if (shop := _shop_of(use))}
    if len(shops) < 2 or "supplier" in reader.columns or "price" not in {use.field for use in reader.uses}:
        return (reader,)
    return tuple(replace(reader, uses=_only(reader.uses, column, shops), supplier=shops[column]) for column in shops)


def _shop_of(use: ColumnUse) -> str:
    is_price = use.field == "price" or (not use.field and header_scores(use.header).keys() & {"price", "unit_price"})
    return shop_of_header(use.header) if is_price else ""


def _only(uses: Sequence[ColumnUse], column: int, shops: dict[int, str]) -> tuple[ColumnUse, ...]:
    """Column uses with one shop's prices; the other shops' are read by readers of their own."""
    return tuple(
        use
        if use.column not in shops
        else replace(use, field="price", why=f"the price at {shops[column]}")
        if use.column == column
        else replace(use, field="price elsewhere")
        for use in uses
    )
