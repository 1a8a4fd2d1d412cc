"""Where on a sheet the tables are: header rows, what stands above them, where one ends and the next begins."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from .amounts import find_currency
from .columns import header_scores, header_unit, is_headerlike
from .model import Sheet, Table
from .words import plain

_SURE = 80.0


def find_tables(sheet: Sheet) -> tuple[Table, ...]:
    """The tables of a sheet, in order; none if it holds no list."""
    heads = [row for row in range(len(sheet.rows)) if _is_header(sheet, row)]
    heads = [row for row in heads if _second_line(sheet, row - 1) != row or row - 1 not in heads]
    if not heads:
        return _bare_table(sheet)
    tables: list[Table] = []
    ends = [*heads[1:], len(sheet.rows)]
    for head, end in zip(heads, ends, strict=True):
        tables.extend(_tables_at(sheet, head, end, tables[-1].rows[-1] + 1 if tables and tables[-1].rows else 0))
    return tuple(tables)


def _filled(sheet: Sheet, row: int) -> list[int]:
    return [column for column, cell in enumerate(sheet.rows[row]) if not cell.is_empty or cell.formula]


def _is_header(sheet: Sheet, row: int) -> bool:
    """Whether a row names columns: at least two of its texts are known names of columns, and it holds no figure."""
    cells = [cell for cell in sheet.rows[row] if not cell.is_empty and not cell.merged_from]
    if not cells or not all(is_headerlike(cell) or cell.text.strip() == "#" for cell in cells):
        return False
    fields = [
        max(scores, key=scores.__getitem__)
        for cell in cells
        if (scores := header_scores(cell.text)) and max(scores.values()) >= _SURE
    ]
    exact = sum(max(header_scores(cell.text).values(), default=0) >= 99 for cell in cells)
    distinct = len(set(fields))
    if len(cells) == 1:
        return distinct == 1 and exact == 1 and fields[0] == "name" and _is_first(sheet, row) and _one_column(sheet)
    return distinct >= 2 and exact >= 1 and (distinct >= 3 or distinct / len(cells) >= 0.3)


def _is_first(sheet: Sheet, row: int) -> bool:
    return not any(_filled(sheet, above) for above in range(row))


def _one_column(sheet: Sheet) -> bool:
    return all(len(_filled(sheet, row)) <= 1 for row in range(len(sheet.rows)))


def _second_line(sheet: Sheet, head: int) -> int | None:
    """The row under a header row that is its second line, if it is one."""
    below = head + 1
    if head < 0 or below >= len(sheet.rows):
        return None
    columns = _filled(sheet, below)
    if not columns or not all(is_headerlike(sheet.cell(below, column)) for column in columns):
        return None
    vertical = [
        c for c in columns if sheet.cell(below, c).merged_from and sheet.cell(below, c).text == sheet.cell(head, c).text
    ]
    own = [c for c in columns if c not in vertical]
    if not own:
        return below if vertical else None
    if len(columns) == 1 and len(_filled(sheet, head)) > 2 and columns[0] == _filled(sheet, head)[0]:
        return None
    if all(_names_column(sheet.cell(below, column).text) for column in own):
        return below
    # two rows of headers at once are one header, unless the second repeats the first
    return below if _is_header(sheet, below) and not _same_texts(sheet, head, below) else None


def _same_texts(sheet: Sheet, one: int, other: int) -> bool:
    return [cell.text for cell in sheet.rows[one]] == [cell.text for cell in sheet.rows[other]]


def _names_column(text: str) -> bool:
    scores = header_scores(text)
    return bool(
        max(scores.values(), default=0) >= 99
        or (header_unit(text) and len(plain(text).split()) <= 2)
        or (((hint := find_currency(text)).code or hint.sign) and len(text.strip()) <= 5)
        or (text.strip().startswith("(") and text.strip().endswith(")"))
    )  # fmt: skip


def _first_line(sheet: Sheet, head: int) -> int | None:
    """The row above a header row that groups its columns, if there is one."""
    above = head - 1
    if above < 0:
        return None
    spans = [cell for cell in sheet.rows[above] if cell.merged_from]
    starts = [c for c in _filled(sheet, above) if not sheet.cell(above, c).merged_from]
    width = len(_filled(sheet, head))
    if len(starts) == 1 and (not spans or len(spans) + 1 >= 0.8 * width or starts[0] == 0):
        return None
    if not starts or not all(is_headerlike(sheet.cell(above, c)) for c in starts):
        return None
    return above if spans or all(header_scores(sheet.cell(above, c).text) for c in starts) else None


def _tables_at(sheet: Sheet, head: int, end: int, earliest: int) -> Iterable[Table]:
    first, second = _first_line(sheet, head), _second_line(sheet, head)
    head_rows = tuple(row for row in (first, head, second) if row is not None)
    body = tuple(row for row in range(head_rows[-1] + 1, end) if _filled(sheet, row))
    if end < len(sheet.rows):
        body = _without_next_title(sheet, body, end)
    columns = sorted({column for row in (*head_rows, *body) for column in _filled(sheet, row)})
    headers = {column: _header_text(sheet, head_rows, column) for column in columns}
    groups = _side_by_side(columns, headers)
    for group in groups:
        title = _title(sheet, head_rows[0], earliest, None if len(groups) == 1 else group)
        rows = tuple(row for row in body if any(column in group for column in _filled(sheet, row)))
        yield Table(sheet, tuple(group), tuple(headers[c] for c in group), head_rows, rows, title)


def _without_next_title(sheet: Sheet, body: Sequence[int], end: int) -> tuple[int, ...]:
    """The rows without those that are the title of the table that follows."""
    rows = list(body)
    while rows and rows[-1] == end - 1 and len({sheet.cell(rows[-1], c).text for c in _filled(sheet, rows[-1])}) == 1:
        rows.pop()
        end -= 1
    upper = _first_line(sheet, end)
    return tuple(row for row in rows if row != upper)


def _header_text(sheet: Sheet, head_rows: Sequence[int], column: int) -> str:
    texts: list[str] = []
    for row in head_rows:
        text = " ".join(sheet.cell(row, column).text.split())
        if text and text not in texts:
            texts.append(text)
    return " ".join(texts)


def _title(sheet: Sheet, head: int, earliest: int, group: Sequence[int] | None) -> str:
    """Text above a header, one line a row; of tables side by side, what stands above its own columns."""
    lines = []
    for row in range(earliest, head):
        columns = [c for c in _filled(sheet, row) if group is None or group[0] <= c <= group[-1]]
        texts = dict.fromkeys(sheet.cell(row, column).text.strip() for column in columns)
        if texts:
            lines.append(" ".join(texts))
    return "\n".join(lines)


def _side_by_side(columns: Sequence[int], headers: dict[int, str]) -> list[list[int]]:
    """Groups of columns that are tables of their own: set apart by an empty column, each with a column of names."""
    groups: list[list[int]] = [[columns[0]]] if columns else []
    for before, column in pairwise(columns):
        if column - before > 1:
            groups.append([])
        groups[-1].append(column)
    named = [
        sum("name" in header_scores(headers[c]) for c in group) > 0
        and sum(bool(header_scores(headers[c])) for c in group) > 1
        for group in groups
    ]
    if sum(named) < 2 or not all(named):
        return [list(columns)] if columns else []
    return groups


def _bare_table(sheet: Sheet) -> tuple[Table, ...]:
    """The whole sheet as a table without header, if it reads like a list and not like prose."""
    rows = [row for row in range(len(sheet.rows)) if _filled(sheet, row)]
    texts = [sheet.cell(row, column) for row in rows for column in _filled(sheet, row)]
    if not rows or sum(len(cell.text) for cell in texts) > 60 * len(texts):
        return ()
    with_figures = sum(any(not is_headerlike(sheet.cell(row, c)) for c in _filled(sheet, row)) for row in rows)
    columns = sorted({column for row in rows for column in _filled(sheet, row)})
    if len(columns) > 1 and with_figures < 0.4 * len(rows):
        return ()
    return (Table(sheet, tuple(columns), ("",) * len(columns), (), tuple(rows)),)
