"""Lists in text files: comma, semicolon and tab separated, and Markdown tables."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Sequence

from ..build import Problem
from .container import MAX_CELL, MAX_COLUMNS, MAX_ROWS, refuse
from .model import EMPTY, Cell, Sheet
from .words import column_words, plain

_DELIMITERS = (",", ";", "\t", "|")
_NONE = "\x1f"
_DELIMITER_NAMES = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}


def read_text(data: bytes, name: str) -> tuple[Sheet, ...]:
    """The tables of a text file, each as a sheet; raises Refused for what is not text."""
    text, notes = decode(data, name)
    if re.match(r"\s*[\[{]\s*[\"\[{]", text):
        refuse(name, "not-a-list", "this is JSON, not a list", "", "Export it as XLSX or CSV first.")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    markdown = tuple(_markdown_sheets(text, name, notes))
    return markdown or (_delimited_sheet(text, name, notes),)


def decode(data: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    """The text of a file and what is to be said about its encoding."""
    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return _checked(_strict(data, encoding, name), name), ()
    pairs = data[: len(data) & ~1]
    if pairs and pairs[1::2].count(0) > 0.4 * len(pairs[1::2]):
        return _checked(_strict(data, "utf-16-le", name), name), ("read as UTF-16, which it does not say",)
    if pairs and pairs[0::2].count(0) > 0.4 * len(pairs[0::2]):
        return _checked(_strict(data, "utf-16-be", name), name), ("read as UTF-16, which it does not say",)
    try:
        return _checked(data.decode("utf-8"), name), ()
    except UnicodeDecodeError:
        pass
    _refuse_binary(data, name)
    encoding = _guess_encoding(data)
    return _checked(_strict(data, encoding, name), name), (f"the text is not UTF-8; it was read as {encoding}",)


def _strict(data: bytes, encoding: str, name: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        refuse(f"{name}, byte {error.start}", "encoding", f"not {encoding.upper()} text", "", "Save it as UTF-8.")


def _refuse_binary(data: bytes, name: str) -> None:
    head = data[:65536]
    controls = sum(byte < 32 and byte not in (9, 10, 12, 13, 27) for byte in head)
    if controls > len(head) // 100:
        refuse(
            name,
            "not-a-list",
            "this is not text and not a spreadsheet Fishplate reads",
            "",
            "Save the list as XLSX, ODS or CSV.",
        )


# Letters and signs a western list uses: if all of them are these, it is the western code page.
_WESTERN = frozenset(
    "€£¥¢§©®°±²³µ·¹º»«¼½¾¿¡×÷´`¨¸–—‘’‚“”„…•™‰‹›ß" + "".join(map(chr, range(0xC0, 0x100))) + "ŠšŽžŒœŸƒ\xa0\xad"
)


def _guess_encoding(data: bytes) -> str:
    try:
        if {c for c in data.decode("cp1252") if c > "\x7f"} <= _WESTERN:
            return "cp1252"
    except UnicodeDecodeError:
        pass
    from charset_normalizer import from_bytes

    best = from_bytes(data).best()
    return best.encoding if best is not None else "latin-1"


def _checked(text: str, name: str) -> str:
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        refuse(f"{name}, line {line}", "nul", "the text holds NUL characters", "", "Save it again as CSV, in UTF-8.")
    sample = text[:65536]
    controls = sum(c < " " and c not in "\t\n\r\f\x1b" for c in sample)
    if controls > max(3, len(sample) // 50):
        refuse(
            name,
            "not-a-list",
            "this is not text and not a spreadsheet Fishplate reads",
            "",
            "Save the list as XLSX, ODS or CSV.",
        )
    if not text.strip():
        refuse(name, "empty", "the file is empty", "", "Save the list again; check that it is the right file.")
    return text


def _delimited_sheet(text: str, name: str, notes: tuple[str, ...]) -> Sheet:
    declared = re.match(r"sep=(.)\n", text, re.IGNORECASE)
    first_row = 1
    if declared:
        text, first_row = text[declared.end() :], 2
    delimiter = declared[1] if declared else sniff_delimiter(text)
    rows, problems = _records(text, delimiter, name)
    apart = (
        "it has one column"
        if delimiter == _NONE
        else f"columns are set apart by {_DELIMITER_NAMES.get(delimiter, delimiter)}"
    )
    said = (*notes, apart)
    cells = tuple(tuple(_cell(field) for field in row) for row in rows)
    return Sheet(name, "", cells, first_row, notes=said, problems=problems)


def _cell(field: str) -> Cell:
    """A field as a cell; an apostrophe that only keeps it from being a formula is taken off."""
    bare = re.sub(r"^'(?=[=+@-])", "", field)
    return Cell(bare, bare) if bare else EMPTY


def _records(text: str, delimiter: str, name: str) -> tuple[list[list[str]], tuple[Problem, ...]]:
    """Records of the text; a quotation mark that is never closed is refused, as it swallows rows."""
    csv.field_size_limit(max(MAX_CELL * 64, len(text) + 1))
    try:
        rows = list(csv.reader(_lines(text), delimiter=delimiter, strict=True))
    except csv.Error as error:
        rows = _loose_records(text, delimiter, name, at_end="unexpected end" in str(error))
    _check_extent(rows, name)
    return rows, ()


def _lines(text: str) -> list[str]:
    """Lines with their ends; unlike `splitlines` it breaks at nothing but line feeds."""
    return list(io.StringIO(text))


def _loose_records(text: str, delimiter: str, name: str, *, at_end: bool) -> list[list[str]]:
    lines = _lines(text)
    if at_end:
        start = _unclosed_line(lines, delimiter)
        refuse(
            f"{name}, line {start}",
            "unclosed-quote",
            "a quotation mark is opened and never closed",
            lines[start - 1].strip()[:60],
            'Close it, or double it where it means inches ("").',
        )
    return list(csv.reader(lines, delimiter=delimiter))


def _unclosed_line(lines: Sequence[str], delimiter: str) -> int:
    """Line on which the last record begins."""
    reader = csv.reader(lines, delimiter=delimiter)
    before = 0
    for _ in reader:
        if reader.line_num < len(lines):
            before = reader.line_num
    return before + 1


def _check_extent(rows: Sequence[Sequence[str]], name: str) -> None:
    if len(rows) > MAX_ROWS:
        refuse(name, "too-many-rows", f"it has more than {MAX_ROWS} rows", str(len(rows)), "Split the list.")
    for number, row in enumerate(rows, 1):
        if len(row) > MAX_COLUMNS and any(row[MAX_COLUMNS:]):
            refuse(
                f"{name}, row {number}",
                "too-many-columns",
                f"it has more than {MAX_COLUMNS} columns",
                str(len(row)),
                "Remove what is not part of the list.",
            )
        for field in row:
            if len(field) > MAX_CELL:
                refuse(
                    f"{name}, row {number}",
                    "cell-too-long",
                    f"a cell holds more than {MAX_CELL} characters",
                    field[:40] + "...",
                    "Shorten it.",
                )


def sniff_delimiter(text: str) -> str:
    """The character that sets columns apart: the one under which rows agree best on their number of columns.

    Examples
    --------
    >>> sniff_delimiter("Name;Price\\nDisc;12,50\\nPad;8,00\\n")
    ';'
    >>> sniff_delimiter("Name\\tPrice\\nDisc, front\\t12,50\\n")
    '\\t'
    """
    lines = _lines(text)[:200]
    best = max(_DELIMITERS, key=lambda delimiter: _agreement(lines, delimiter))
    heads, share, _ = _agreement(lines, best)
    return best if heads or share >= 0.4 else _NONE


def _agreement(lines: Sequence[str], delimiter: str) -> tuple[int, float, int]:
    rows = [row for row in csv.reader(lines, delimiter=delimiter) if any(map(str.strip, row))]
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        return 0, 0.0, 0
    width, count = max(widths.items(), key=lambda item: (item[1], item[0]))
    heads = max((sum(plain(field) in _known_heads() for field in row) for row in rows[:30] if len(row) > 1), default=0)
    return heads if heads > 1 else 0, count / len(rows), width


def _known_heads() -> frozenset[str]:
    return frozenset(phrase for phrases in column_words().values() for phrase in phrases)


_RULE = re.compile(r"^\s*\|?\s*:?-{1,}:?\s*(?:\|\s*:?-{1,}:?\s*)*\|?\s*$")


def _markdown_sheets(text: str, name: str, notes: tuple[str, ...]) -> Iterator[Sheet]:
    """Each table of a Markdown text, named by the heading above it."""
    lines = text.split("\n")
    heading, count, at = "", 0, 0
    names: Counter[str] = Counter()
    while at < len(lines):
        if match := re.match(r"^#{1,6}\s+(.*?)\s*#*$", lines[at]):
            heading = match[1]
        if at + 1 < len(lines) and "|" in lines[at] and "|" in lines[at + 1] and _RULE.match(lines[at + 1]):
            end = at + 2
            while end < len(lines) and "|" in lines[end] and lines[end].strip():
                end += 1
            count += 1
            label = heading or f"table {count}"
            names[label] += 1
            title = label if names[label] == 1 else f"{label} ({names[label]})"
            rows = [_markdown_cells(line) for line in lines[at:end]]
            rows[1] = []
            _check_extent(rows, name)
            cells = tuple(tuple(_markdown_cell(field) for field in row) for row in rows)
            yield Sheet(name, title, cells, at + 1, notes=notes)
            at = end
        else:
            at += 1


def _markdown_cells(line: str) -> list[str]:
    body = line.strip()
    body = body.removeprefix("|")
    if body.endswith("|") and not body.endswith("\\|"):
        body = body[:-1]
    return [field.replace("\\|", "|").strip() for field in re.split(r"(?<!\\)\|", body)]


def _markdown_cell(field: str) -> Cell:
    """Emphasis is taken off; a link keeps its words, and its address as the cell's note."""
    bold = bool(re.fullmatch(r"\*\*.+\*\*|__.+__", field))
    bare = re.sub(r"(\*\*|__|`)(.+?)\1", r"\2", field).replace("<br>", " ")
    link = re.search(r"\[([^\]]*)\]\(([^)\s]+)\)", bare)
    note = link[2] if link else ""
    bare = re.sub(r"\[([^\]]*)\]\(([^)\s]+)\)", r"\1", bare).strip()
    return Cell(bare, bare, note=note, bold=bold) if bare else EMPTY
