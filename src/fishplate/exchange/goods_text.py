"""Goods in the text of a mail: an order confirmation, a quote, a shipping notice. What is no line of goods is left."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache
from typing import Final

from ..build import Build
from ..build.numbers import NUMBER_PATTERN, Unreadable
from .aligned_text import aligned_tables
from .amounts import AMBIGUOUS_SIGNS, currency_words, find_currency, parse_price, parse_quantity
from .captured import Found
from .goods_lines import goods_rows
from .model import ImportOptions, Sheet
from .names import clean_text
from .one_line import read_one_line
from .table_reader import Line
from .words import column_words, plain, plain_words

MOST_LINES: Final = 2_000
_LONGEST: Final = 300
_LABELLED: Final = ("part_number", "quantity", "unit_price", "price", "total_price")


@dataclass(frozen=True, slots=True)
class GoodsText:
    """Goods found in a text.

    Parameters
    ----------
    not_read : lines nothing was taken from
    """

    found: tuple[Found, ...]
    not_read: tuple[str, ...]
    notes: tuple[str, ...] = ()


def goods_in_text(text: str, build: Build, name: str) -> GoodsText:
    """The goods a text names, in tables set with blanks or tabs and in lines by themselves.

    Parameters
    ----------
    text : of a mail or a page; build : for how its suppliers and owner write; name : of what was brought
    """
    lines = [_bare(line) for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]
    notes = [f"it is longer than {MOST_LINES} lines; the rest was not read"] if len(lines) > MOST_LINES else []
    reading = _Reading(build, _one_currency(lines[:MOST_LINES]))
    found = aligned_tables("\n".join(lines[:MOST_LINES]), name)
    tables = {place.start: (sheet, place) for sheet, place in found}
    at = 0
    while at < min(len(lines), MOST_LINES):
        if at in tables and reading.take_table(*tables[at]):
            at = tables[at][1].stop
        else:
            reading.take_line(lines[at], at + 1)
            at += 1
    return GoodsText(tuple(reading.found), tuple(reading.not_read), tuple(notes))


def _bare(line: str) -> str:
    """A line without marks of quoting before it; characters that can't be seen go, blanks and tabs stay."""
    bare = re.sub(r"^(?:\s?>)+ ?", "", line)[:4000].replace("\u00a0", " ")
    return re.sub(r"[^\S\t]", " ", re.sub(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", "", bare))


def _one_currency(lines: Sequence[str]) -> str:
    """The one currency that is named in a text, by code or sign; empty if none, several or a shared sign is."""
    hints = [find_currency(line) for line in lines if any(map(str.isdigit, line)) or "pric" in line.casefold()]
    codes = {hint.code for hint in hints if hint.code}
    return codes.pop() if len(codes) == 1 and not any(hint.sign for hint in hints) else ""


@dataclass(slots=True)
class _Reading:
    """A text as it is read, from its top to its end."""

    build: Build
    currency: str
    found: list[Found] = field(default_factory=list)
    not_read: list[str] = field(default_factory=list)
    open_name: str = ""
    open_place: str = ""

    def take_table(self, sheet: Sheet, lines: range) -> bool:
        """Take the goods of a table; False if it is none."""
        rows = list(goods_rows(sheet, self.build, ImportOptions()))
        if not any(row.line for row in rows):
            return False
        for row in rows:
            if row.line is not None:
                self.found.append(_of_line(row.line, self.currency, own=row.own_currency))
            elif row.row.name:
                self.not_read.append(f"{row.row.name} ({row.why})")
        self.open_name = ""
        return True

    def take_line(self, line: str, number: int) -> None:
        """Take one line: goods, something more about the goods before it, or nothing."""
        text, place = clean_text(line.replace("\t", "  "))[0], f"line {number}"
        if not text:
            return
        if self._more(text, place):
            return
        goods = None if len(text) > _LONGEST or _is_charge(text) else self._goods(line, place)
        if goods is not None:
            self.found.append(goods)
            self._close()
        else:
            self.not_read.append(text[:_LONGEST])
            self.open_name, self.open_place = (text, place) if _may_be_name(text) else ("", "")

    def _close(self) -> None:
        self.open_name = ""

    # goods on one line

    def _goods(self, line: str, place: str) -> Found | None:
        text = _without_bullet(" ".join(line.replace("\t", " ").split()))
        has_amount = bool(_amounts(text))
        counted = _COUNTED.search(text)
        if not re.search(r"[^\W\d_]{2}", text) or _NEVER.search(text) or not (has_amount or counted):
            return None
        text, number = _take_number(text)
        text, said = _without_line_total(text)
        if not has_amount and len(text) > 120:
            return None
        one = read_one_line(text, self.build)
        if not one.name or not re.search(r"[^\W\d_]{2}", one.name) or len(one.name.split()) > 16:
            return None
        said += [each for each in one.said if "names no currency" not in each and "names no quantity" not in each]
        said += [f"{problem.what}: {problem.got}" for problem in one.problems if problem.where != "price"]
        price = one.price.amount if one.price is not None else None
        hint = find_currency(text)
        could_be = AMBIGUOUS_SIGNS.get(hint.sign, ())
        found = Found(
            name=one.name, part_number=number, price=price, quantity=one.quantity, unit=one.unit,
            tax_included=one.tax_included, lead_weeks=one.lead_weeks, seller=one.supplier, place=place,
        )  # fmt: skip
        if price is None and has_amount:
            found = replace(found, price=_ambiguous_sign_price(text, could_be))
        return _with_currency(found, hint.code or "", could_be, self.currency, said)

    # labelled lines, as in "Qty: 2"

    def _more(self, text: str, place: str) -> bool:
        """Take a line that only says more of the goods named before it; False if it does not."""
        labelled = _label(text)
        if labelled is None:
            return False
        name, value = labelled
        if self.open_name:
            goods = Found(name=_without_bullet(self.open_name)[:400], place=self.open_place)
            changed = _with_label(goods, name, value, self.currency)
            if changed is None:
                return False
            self.not_read.remove(self.open_name[:_LONGEST])
            self.found.append(changed)
            self._close()
            return True
        if not self.found or self.found[-1].place == place:
            return False
        changed = _with_label(self.found[-1], name, value, self.currency)
        if changed is None:
            return False
        self.found[-1] = changed
        return True


_COUNTED: Final = re.compile(
    r"^\d{1,4}\s?[x×]\s|\s[x×]\s?\d{1,4}$|\(\s?[x×]\s?\d{1,4}\s?\)$|^\d{1,4}\s(?:pcs?|off|stuks?|st|ea)\b",
    re.IGNORECASE,
)
_NEVER: Final = re.compile(r"https?://|www\.|@[\w-]+\.\w|\b\d{1,2}:\d{2}\b")
_NUMBER: Final = re.compile(
    r"[(\[]?\b(?:part|item|art(?:icle|ikel)?|sku|mpn|p/n|ref|order code|stock)\b\.?\s?"
    r"(?:no|nr|num(?:ber)?|code)?\.?\s*[:#]?\s*((?=[\w./-]*\d)[A-Z0-9][\w./-]{2,30})[)\]]?",
    re.IGNORECASE,
)
_BRACKETED: Final = re.compile(r"[(\[]((?=[A-Z0-9./-]*\d)(?=[A-Z0-9./-]*[A-Z-])[A-Z0-9][A-Z0-9./-]{3,30})[)\]]")


def _without_bullet(text: str) -> str:
    return re.sub(r"^(?:[•·▪‣*–—-]|\d{1,3}[.)])\s+", "", text)


def _may_be_name(text: str) -> bool:
    """Whether a line could name goods that the next lines tell of."""
    named = re.search(r"[^\W\d_]{2}", text) and not _NEVER.search(text)
    return len(text) <= 120 and bool(named) and text[-1] not in ".,:;!?"


def _is_charge(text: str) -> bool:
    """Whether a line begins as a total, tax, freight or discount does."""
    head = re.split(r"[\d€£$:]", text, maxsplit=1)[0]
    words = plain(head)
    kinds = ("total", "tax", "freight", "discount")
    listed = frozenset().union(*(plain_words("rows", kind) for kind in kinds))
    return words in listed or any(words.startswith(f"{each} ") for each in listed if len(each) > 3)


def _take_number(text: str) -> tuple[str, str]:
    """A line without its part number, and the number."""
    for pattern in (_NUMBER, _BRACKETED):
        if found := pattern.search(text):
            return " ".join(f"{text[: found.start()]} {text[found.end() :]}".split()), found[1]
    return text, ""


@lru_cache(maxsize=1)
def _amount_pattern() -> re.Pattern[str]:
    currency = rf"(?:{'|'.join(map(re.escape, currency_words()))})"
    return re.compile(
        rf"(?<![\w.,/-])(?:{currency}\s?{NUMBER_PATTERN}|{NUMBER_PATTERN}\s?{currency}(?!\w)|\d{{1,6}}[.,]\d{{2}}(?![\w.,%/-]|\s?(?:mm|cm|m|in|kg|g|l|bar)\b))",
        re.IGNORECASE,
    )


def _amounts(text: str) -> list[re.Match[str]]:
    return list(_amount_pattern().finditer(text))


def _amount(text: str) -> Decimal | None:
    try:
        return parse_price(text).likely
    except Unreadable:
        return None


def _without_line_total(text: str) -> tuple[str, list[str]]:
    """A line without what all of it costs, where it also gives the price of one and both agree."""
    amounts = _amounts(text)
    if len(amounts) < 2:
        return text, []
    one, last = _amount(amounts[-2][0]), _amount(amounts[-1][0])
    if one is None or last is None or not one:
        return text, []
    count = last / one
    if count == count.to_integral_value() and re.search(rf"(?<![\d.,]){int(count)}(?![\d.,])", text):
        return f"{text[: amounts[-1].start()]} {text[amounts[-1].end() :]}", []
    return text, [f"the line gives several amounts; {last:f} is taken"]


def _ambiguous_sign_price(text: str, could_be: tuple[str, ...]) -> Decimal | None:
    """The price of a line whose sign stands for several currencies, which only the owner can tell."""
    amounts = _amounts(text)
    return _amount(amounts[-1][0]) if could_be and amounts else None


def _with_currency(found: Found, code: str, could_be: tuple[str, ...], elsewhere: str, said: Sequence[str]) -> Found:
    if found.price is not None and not code and elsewhere and (not could_be or elsewhere in could_be):
        said = [*said, f"the price names no currency; {elsewhere} is taken, as elsewhere in the text"]
        code = elsewhere
    all_said = tuple(dict.fromkeys((*found.said, *said)))
    return replace(found, currency=code, could_be=() if code else could_be, said=all_said)


def _of_line(line: Line, elsewhere: str, *, own: bool) -> Found:
    """A table's line as a product; a currency that was only guessed is left open."""
    said = [each for each in line.said if "gives no quantity" not in each]
    said += [f"{problem.what}: {problem.got}" for problem in line.problems]
    found = Found(
        name=line.name or line.part_number,
        part_number=line.part_number,
        price=line.price.amount if line.price else None,
        tax_included=line.tax_included,
        seller=line.supplier,
        quantity=line.quantity,
        unit=line.unit or "each",
        lead_weeks=line.lead_weeks,
        return_days=line.return_days,
        mass_kg=line.mass_kg,
        url=line.url,
        notes=tuple((label, text[:300]) for label, text in line.notes),
        place=f"line {line.table.sheet.first_row + line.row}",
    )
    code = line.price.currency if line.price and not own else ""
    return _with_currency(found, code, (), elsewhere, said)


def _label(text: str) -> tuple[str, str] | None:
    """Field and value of a labelled line, as in "Qty: 2"."""
    label, colon, value = _without_bullet(text).partition(":")
    if not colon or not value.strip() or len(label) > 40:
        return None
    name = _labels().get(plain(label))
    return (name, value.strip()) if name else None


@lru_cache(maxsize=1)
def _labels() -> dict[str, str]:
    found: dict[str, str] = {}
    for name in _LABELLED:
        for phrase in column_words()[name]:
            found.setdefault(phrase, name)
    return found


def _with_label(found: Found, name: str, value: str, elsewhere: str) -> Found | None:
    """A product with what a labelled line says; None if it says that already, or can't be read."""
    try:
        if name == "part_number" and not found.part_number and len(value) <= 60:
            return replace(found, part_number=value)
        if name == "quantity" and found.quantity is None:
            reading = parse_quantity(value)
            return replace(found, quantity=reading.quantity, unit=reading.unit or "each")
        if name in ("unit_price", "price") and found.price is None:
            price = parse_price(value)
            hint = price.currency
            could_be = AMBIGUOUS_SIGNS.get(hint.sign, ())
            with_price = replace(found, price=price.likely, tax_included=price.tax_included)
            return _with_currency(with_price, hint.code or "", could_be, elsewhere, price.said)
        if name == "total_price" and found.price is not None:
            return found
    except Unreadable:
        return None
    return None
