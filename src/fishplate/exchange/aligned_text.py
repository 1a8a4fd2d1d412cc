"""Tables set in plain text by blanks, as mails and printed lists have them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from .columns import header_scores
from .model import EMPTY, Cell, Sheet

_RULE = re.compile(r"^[\s=_─━|+-]*$")


def aligned_tables(text: str, name: str) -> Iterator[tuple[Sheet, range]]:
    """Tables in a text whose columns are parted by tabs or by two blanks or more, with a row of headers.

    Parameters
    ----------
    text : with line feeds alone; name : of the file

    Yields
    ------
    a sheet, and the numbers of its lines in the text, counted from 0

    Examples
    --------
    >>> text = "Your order\\n\\nQty  Part         Price\\n2    Brake hose   38.50\\n10   Bolt          0.45\\n"
    >>> [(lines, [cell.text for cell in sheet.rows[1]]) for sheet, lines in aligned_tables(text, "mail")]
    [(range(2, 5), ['2', 'Brake hose', '38.50'])]
    """
    lines = text.expandtabs(1).split("\n") if "\t" not in text else text.split("\n")
    at = 0
    while at < len(lines):
        if not _is_head(lines[at]):
            at += 1
            continue
        end = at + 1
        while end < len(lines) and (lines[end].strip() or _goes_on(lines, end)) and not _is_head(lines[end]):
            end += 1
        rows = _cells(lines[at:end])
        if len(rows) > 1:
            yield Sheet(name, "", tuple(rows), at + 1), range(at, end)
        at = end


def _goes_on(lines: Sequence[str], blank: int) -> bool:
    """Whether a table goes on after a blank line: the next has columns too."""
    after = lines[blank + 1] if blank + 1 < len(lines) else ""
    return len(_split(after)) > 2


def _split(line: str) -> list[str]:
    return [piece for piece in re.split(r"\s*\t\s*|\s{2,}", line.strip()) if piece]


def _is_head(line: str) -> bool:
    """Whether a line names columns: two or more, known by their words, and holds no figure."""
    pieces = _split(line) if len(line) < 400 else []
    if len(pieces) < 2 or any(any(map(str.isdigit, piece)) for piece in pieces):
        return False
    known = [max(scores.values()) for piece in pieces if (scores := header_scores(piece))]
    return len(known) >= 2 and sum(score >= 99 for score in known) >= 2


def _cells(lines: Sequence[str]) -> list[tuple[Cell, ...]]:
    if any("\t" in line for line in lines):
        return [tuple(_cell(piece) for piece in line.split("\t")) for line in lines if not _RULE.match(line)]
    edges = _edges([line for line in lines if not _RULE.match(line)])
    return [() if _RULE.match(line) else tuple(_cell(line[start:end]) for start, end in edges) for line in lines]


def _edges(lines: Sequence[str]) -> list[tuple[int, int]]:
    """Where columns begin and end: between gaps of two or more places that are blank in every line."""
    width = max(map(len, lines), default=0)
    filled = [False] * width
    for line in lines:
        for place, letter in enumerate(line):
            filled[place] = filled[place] or letter != " "
    gaps = [match.span() for match in re.finditer("0{2,}", "".join("1" if each else "0" for each in filled))]
    starts = [0, *(end for _, end in gaps)]
    ends = [*(start for start, _ in gaps), width]
    return [(start, end) for start, end in zip(starts, ends, strict=True) if end > start]


def _cell(text: str) -> Cell:
    bare = text.strip()
    return Cell(bare, bare) if bare else EMPTY
