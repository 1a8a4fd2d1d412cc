"""What a person sees of a value under a spreadsheet's number format: enough of it to show and to keep."""

from __future__ import annotations

import re
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal

from .model import CellValue


def displayed(value: CellValue, number_format: str = "") -> str:
    """The text a cell shows.

    Examples
    --------
    >>> displayed(12.5, "0.00"), displayed(1234.5, "[$£-809]#,##0.00"), displayed(42, "00000"), displayed(12.0)
    ('12.50', '£1234.50', '00042', '12')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        return value.date().isoformat() if not (value.hour or value.minute or value.second) else value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return _number(value, number_format)
    return str(value)


def decimals_shown(number_format: str) -> int | None:
    """Digits after the decimal mark that a format shows; None for the general format.

    Examples
    --------
    >>> decimals_shown('#,##0.00 "kr"'), decimals_shown("0"), decimals_shown("General")
    (2, 0, None)
    """
    section = _bare(number_format)
    if not re.search(r"[0#?]", section) or "E" in section:
        return None
    match = re.search(r"\.([0#?]+)", section)
    return len(match[1]) if match else 0


def _bare(number_format: str) -> str:
    """The first section of a format without colours, locale tags, quoted and escaped text."""
    section = number_format.split(";")[0]
    return re.sub(r'\[[^\]]*\]|"[^"]*"|\\.|_.|\*.', "", section)


def plain_number(value: int | float) -> str:
    """A number by its shortest text, without an exponent.

    Examples
    --------
    >>> plain_number(1e16), plain_number(0.1), plain_number(3.0)
    ('10000000000000000', '0.1', '3')
    """
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e18:
        return str(int(value))
    text = repr(value)
    return f"{Decimal(text):f}" if "e" in text else text


def _number(value: int | float, number_format: str) -> str:
    decimals = decimals_shown(number_format)
    bare = _bare(number_format)
    if isinstance(value, float) and (value != value or value in (float("inf"), float("-inf"))):
        return str(value)
    if "%" in bare:
        value = round(value * 100, 10)
    if decimals is None or (decimals == 0 and not float(value).is_integer() and bare.strip() in {"", "@"}):
        return plain_number(value)
    rounded = Decimal(plain_number(value)).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    zeros = re.match(r"^0{2,}$", bare.strip())
    text = f"{rounded:f}".rjust(len(zeros[0]), "0") if zeros else f"{rounded:f}"
    return _with_sign(text, number_format) + ("%" if "%" in bare else "")


def _with_sign(text: str, number_format: str) -> str:
    section = number_format.split(";")[0]
    sign = re.search(r"\[\$([^\]-]+)", section) or re.search(r'"([^"]*)"', section) or re.search(r"([€£$¥])", section)
    if sign is None:
        return text
    shown = sign[1].strip()
    first_digit = re.search(r"[0#?]", section)
    return f"{shown}{text}" if first_digit and sign.start() < first_digit.start() else f"{text} {shown}"
