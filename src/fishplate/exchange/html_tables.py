"""Tables of a page as sheets, and the text of a page line by line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from .container import MAX_COLUMNS, MAX_ROWS, refuse
from .model import EMPTY, Cell, Sheet
from .names import clean_text

_MOST_TABLES: Final = 200
_MOST_CELL: Final = 4_000
_BREAKS: Final = frozenset((
    "address", "article", "blockquote", "br", "dd", "div", "dl", "dt", "footer", "form", "h1", "h2", "h3", "h4", "h5",
    "h6", "header", "hr", "li", "main", "ol", "p", "pre", "section", "table", "tbody", "tfoot", "thead", "tr", "ul",
))  # fmt: skip
_UNSEEN: Final = frozenset(("head", "script", "style", "template", "noscript", "svg", "title"))


def sheets_of_page(root: Any, name: str) -> tuple[Sheet, ...]:
    """The tables of a page that hold no further table, each as a sheet.

    Parameters
    ----------
    root : the page's root element, None for an empty page; name : of the file
    """
    found: list[Sheet] = []
    for table in root.iter("table") if root is not None else ():
        if next(table.iterdescendants("table"), None) is None and len(found) < _MOST_TABLES:
            rows = tuple(_rows(table, name))
            if len(rows) > 1:
                found.append(Sheet(name, _caption(table) or f"table {len(found) + 1}", rows))
    return tuple(found)


def _caption(table: Any) -> str:
    caption = next(table.iterchildren("caption"), None)
    return _text(caption)[:100] if caption is not None else ""


def _rows(table: Any, name: str) -> Iterator[tuple[Cell, ...]]:
    """Rows of a table; a cell that spans several rows or columns stands in the first, as merged in the others."""
    held: dict[int, tuple[int, Cell]] = {}
    for number, row in enumerate(table.iter("tr"), 1):
        if number > MAX_ROWS:
            refuse(name, "too-many-rows", f"a table has more than {MAX_ROWS} rows", "", "Split the list.")
        cells: list[Cell] = []
        for element in row.iterchildren("td", "th"):
            _fill_from_above(cells, held)
            wide, high = _span(element, "colspan"), _span(element, "rowspan")
            cell = _cell(element)
            start = len(cells)
            for offset in range(min(wide, MAX_COLUMNS - start)):
                shown = cell if not offset else _copy(cell, number)
                cells.append(shown)
                if high > 1:
                    held[start + offset] = (high - 1, _copy(cell, number))
        _fill_from_above(cells, held)
        yield tuple(cells)


def _fill_from_above(cells: list[Cell], held: dict[int, tuple[int, Cell]]) -> None:
    while (above := held.pop(len(cells), None)) is not None:
        left, cell = above
        if left > 1:
            held[len(cells)] = (left - 1, cell)
        cells.append(cell)
        if left > 1 and len(cells) >= MAX_COLUMNS:
            return


def _copy(cell: Cell, row: int) -> Cell:
    return Cell(cell.value, cell.text, merged_from=f"row {row}") if cell.text else EMPTY


def _span(element: Any, name: str) -> int:
    text = (element.get(name) or "").strip()
    return max(1, min(int(text), 100)) if text.isdecimal() and len(text) < 6 else 1


def _cell(element: Any) -> Cell:
    text = _text(element)
    link = next((each.get("href") for each in element.iter("a") if each.get("href")), "")
    note = link.strip() if link.strip().lower().startswith(("https://", "http://")) else ""
    return Cell(text, text, note=note[:2000], bold=element.tag == "th") if text else EMPTY


def _text(element: Any) -> str:
    """Text of an element on one line; what is parted by a break or block is parted by a space."""
    pieces: list[str] = []
    size = 0
    for event, text in _pieces(element):
        pieces.append(" " if event == "break" else text)
        size += len(text)
        if size > _MOST_CELL:
            break
    return clean_text("".join(pieces))[0][:_MOST_CELL]


def text_of_page(root: Any) -> str:
    """The text of a page as lines; cells of a row stand on one line, a tab between them.

    Parameters
    ----------
    root : the page's root element, None for an empty page
    """
    lines: list[str] = [""]
    for event, text in _pieces(root) if root is not None else ():
        if event == "break":
            lines.append("")
        elif event == "cell":
            lines[-1] += "\t"
        else:
            lines[-1] += text.replace("\t", " ").replace("\n", " ").replace("\r", " ")
    shown = ("\t".join(clean_text(cell)[0] for cell in line.strip("\t ").split("\t")) for line in lines)
    return "\n".join(shown)


def _pieces(root: Any) -> Iterator[tuple[str, str]]:
    """Texts in their order, and the breaks and cells between them; blocks in a cell of a plain table break none."""
    waiting: list[tuple[Any, bool, bool]] = [(root, False, False)]
    while waiting:
        element, is_end, in_cell = waiting.pop()
        tag = element.tag
        seen = isinstance(tag, str) and tag not in _UNSEEN
        is_cell = tag in ("td", "th") and next(element.iterdescendants("table"), None) is None
        if tag in _BREAKS:
            yield ("text", " ") if in_cell else ("break", "")
        if seen and not is_end:
            yield "text", element.text or ""
            waiting.append((element, True, in_cell))
            waiting.extend((child, False, in_cell or is_cell) for child in reversed(element))
            continue
        if is_cell and not in_cell:
            yield "cell", ""
        if element is not root:
            yield "text", element.tail or ""
