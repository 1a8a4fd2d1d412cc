"""What a line says has been done: seen, ordered, there."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal

from ..build.numbers import Unreadable, ascii_digits
from .names import clean_text
from .table_reader import Line, TableReader
from .times import as_day, parse_day
from .words import plain, plain_words, words


def status_of(text: str) -> str | None:
    """What a word of status says: "have", "ordered", "wanted", or None if it is not known.

    Examples
    --------
    >>> status_of("Ordered 3/4"), status_of("not ordered"), status_of("Geliefert"), status_of("blue") is None
    ('ordered', 'wanted', 'have', True)
    """
    bare = plain(text)
    if not bare:
        return None
    kinds = {kind: plain_words("cells", kind) for kind in ("wanted", "ordered", "have")}
    for kind, listed in kinds.items():
        if bare in listed:
            return kind
    if any(bare.startswith(f"{word} ") for word in plain_words("cells", "not_words")):
        return "wanted"
    starts = [(len(word), kind) for kind, listed in kinds.items() for word in listed if bare.startswith(f"{word} ")]
    return max(starts)[1] if starts and max(starts)[0] > 2 else None


def read_progress(reader: TableReader, line: Line) -> None:
    """Read what a line says has been done."""
    line.seen = _day_of(reader, line, "seen") or reader.seen
    line.ordered_on = _day_of(reader, line, "ordered_on")
    line.order_on = _day_of(reader, line, "order_on")
    line.ordered = line.ordered or line.ordered_on is not None
    _have(reader, line)
    _ordered(reader, line)
    status = reader.text(line.row, "status")
    kind = status_of(status)
    if kind == "have":
        line.have = line.have if line.have is not None else _all(line)
    elif kind == "ordered":
        line.ordered = True
        line.ordered_on = line.ordered_on or _day_within(reader, line, status)
    elif kind is None and status:
        reader.keep_as_note(line, "status")


def _all(line: Line) -> Decimal:
    return line.quantity or Decimal(1)


def _day_within(reader: TableReader, line: Line, status: str) -> date | None:
    found = re.search(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}", status)
    try:
        return parse_day(found[0]) if found else None
    except Unreadable:
        reader.keep_as_note(line, "status")
        return None


def _have(reader: TableReader, line: Line) -> None:
    cell = reader.own_cell(line.row, "have")
    if cell is None:
        return
    text = clean_text(cell.text)[0].casefold()
    count = re.match(r"^(\d+)(?:\s*(?:/|of|van|von|de|x|off|st\.?|pcs)\s*\d*)?$", ascii_digits(text))
    if isinstance(cell.value, bool):
        line.have = _all(line) if cell.value else line.have
    elif count and len(count[1]) <= 9:
        line.have = Decimal(count[1]) if int(count[1]) else line.have
    elif text in words("cells", "yes") or as_day(cell.value) or status_of(text) == "have" or _is_day(text):
        line.have = _all(line)
    elif status_of(text) == "ordered":
        line.ordered = True
    elif text not in words("cells", "no"):
        reader.keep_as_note(line, "have")


def _ordered(reader: TableReader, line: Line) -> None:
    cell = reader.own_cell(line.row, "ordered")
    if cell is None:
        return
    text = clean_text(cell.text)[0].casefold()
    if isinstance(cell.value, bool):
        line.ordered = line.ordered or cell.value
    elif as_day(cell.value) or _is_day(text):
        line.ordered = True
        line.ordered_on = line.ordered_on or _day_of(reader, line, "ordered")
    elif text in words("cells", "yes") or status_of(text) == "ordered":
        line.ordered = True
    elif status_of(text) == "have":
        line.have = _all(line)
    elif text not in words("cells", "no"):
        reader.keep_as_note(line, "ordered")


def _day_of(reader: TableReader, line: Line, name: str) -> date | None:
    return reader.optional(line, name, lambda cell: as_day(cell.value) or parse_day(cell.text, reader.orders[name]))


def _is_day(text: str) -> bool:
    try:
        parse_day(text, "dmy")
    except Unreadable:
        return False
    return True
