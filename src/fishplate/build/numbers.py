"""Numbers as people write them: decimal commas and points, thousands set apart, digits of other scripts.

Whether "1.234" is a thousand or a bit over one can't be seen from the number. The column decides where it can
(`decimal_mark`); where it can't, the number is refused as ambiguous rather than guessed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from decimal import Decimal

from .errors import FishplateError


class Unreadable(FishplateError, ValueError):
    """A text that does not hold what stands in its place: a cell, a field.

    Parameters
    ----------
    code : short stable name of the fault; what : the fault; do : the remedy
    """

    def __init__(self, code: str, what: str, do: str) -> None:
        self.code, self.what, self.do = code, what, do
        super().__init__(code, what, do)

    def __str__(self) -> str:
        return f"{self.what}. {self.do}"


_SPACES = "\u0020\u00a0\u2009\u202f\u2007\u2008\u200a\u205f\u3000"
_APOSTROPHES = "'’‘`´ʼ＇"
_PLAIN = str.maketrans({"٫": ".", "٬": "'", "−": "-", "–": "-", "‐": "-", "‑": "-", "，": ",", "．": ".", "·": "."})
_VULGAR = {"¼": "0.25", "½": "0.5", "¾": "0.75"}
# 1 234,5   1'234.5   1.234.567,8   1,23,456.7   1234.5   .5
_NUMBER = re.compile(r"^[+-]?(?:\d[\d.,' ]*|[.,]\d+)$")
NUMBER_PATTERN = rf"[+-]?(?:\d(?:[\d.,'’{_SPACES}]*\d)?|[.,]\d+)"


def ascii_digits(text: str) -> str:
    """Text with digits of every script and width, minus signs and marks as plain ASCII.

    Examples
    --------
    >>> ascii_digits("１２,５ ٣")
    '12,5 3'
    """
    if text.isascii():
        return text
    mapped = text.translate(_PLAIN)
    return "".join(
        str(unicodedata.digit(c)) if c.isdigit() and unicodedata.digit(c, None) is not None else c for c in mapped
    )


def _tidy(text: str) -> str:
    bare = ascii_digits(text).strip()
    for mark in _APOSTROPHES:
        bare = bare.replace(mark, "'")
    for space in _SPACES:
        bare = bare.replace(space, " ")
    return bare


def mark_shown(text: str) -> str | None:
    """The decimal mark a number shows beyond doubt: "." or ","; None if it shows none.

    Examples
    --------
    >>> mark_shown("1.234,50"), mark_shown("12,5"), mark_shown("1.234.567"), mark_shown("1.234"), mark_shown("0.125")
    (',', ',', ',', None, '.')
    """
    body = _tidy(text).lstrip("+-").strip()
    if not _NUMBER.match(body):
        return None
    points, commas = body.count("."), body.count(",")
    if points and commas:
        return "." if body.rfind(".") > body.rfind(",") else ","
    if points + commas == 0:
        return None
    mark, other = (".", ",") if points else (",", ".")
    if points + commas > 1:
        return other
    before, after = body.split(mark)
    set_apart = "'" in before or " " in before
    if len(after) != 3 or set_apart or before in {"", "0", "00"} or len(before) > 3:
        return mark
    return None


def decimal_mark(texts: Iterable[str]) -> str | None:
    """The decimal mark of a column: the one its numbers show, None if they show none or both.

    Examples
    --------
    >>> decimal_mark(["1.234", "12,50"])
    ','
    >>> decimal_mark(["1.234", "12"]) is None, decimal_mark(["1,5", "1.5"]) is None
    (True, True)
    """
    shown = {mark for mark in map(mark_shown, texts) if mark}
    return shown.pop() if len(shown) == 1 else None


def is_ambiguous(text: str) -> bool:
    """Whether a number could be read two ways: one mark, three digits after it."""
    body = _tidy(text).lstrip("+-").strip()
    return bool(re.match(r"^[1-9]\d{0,2}[.,]\d{3}$", body)) and mark_shown(text) is None


def parse_number(text: str, mark: str | None = None) -> Decimal:
    """A number as a person writes it.

    Parameters
    ----------
    text : digits with or without decimal and thousands marks
    mark : decimal mark of the column or of the writer's habit, "." or ",", where it is known; it decides only where
        the number itself does not tell

    Raises
    ------
    Unreadable
        with code "number" if it is not a number, "ambiguous-number" if it could be read two ways

    Examples
    --------
    >>> parse_number("1 234,50"), parse_number("1'234.50"), parse_number("1.234", ",")
    (Decimal('1234.50'), Decimal('1234.50'), Decimal('1234'))
    """
    body = _tidy(text)
    if body in _VULGAR:
        return Decimal(_VULGAR[body])
    body = re.sub(r"[.,]\s*-+$", "", body)
    if len(body) > 40 or not _NUMBER.match(body):
        raise Unreadable("number", "not a number", "Use digits, as in 12.40.")
    if is_ambiguous(body) and mark is None:
        thousand, small = re.sub(r"[.,]", "", body), body.replace(",", ".")
        raise Unreadable(
            "ambiguous-number",
            f"it could be {thousand} or {small}, and nothing else in the column tells which",
            "Write it with two digits after the mark, or say --decimal point or --decimal comma.",
        )
    return _with_mark(body, mark_shown(body) or mark or ".")


def _with_mark(body: str, mark: str) -> Decimal:
    """The number, once its decimal mark is known; everything else must set groups of digits apart."""
    whole, _, fraction = body.partition(mark)
    sign = -1 if whole.startswith("-") else 1
    groups = re.split(r"[.,' ]", whole.lstrip("+-").strip())
    well_grouped = len(groups) == 1 or (
        1 <= len(groups[0]) <= 3 and len(groups[-1]) == 3 and all(2 <= len(group) <= 3 for group in groups[1:])
    )
    if (
        not well_grouped
        or not all(group.isdigit() or group == "" for group in groups)
        or not (fraction or "0").isdigit()
    ):
        raise Unreadable("number", "not a number", "Use digits, as in 1234.50.")
    return sign * Decimal(f"{''.join(groups) or '0'}.{fraction or '0'}" if fraction else "".join(groups) or "0")
