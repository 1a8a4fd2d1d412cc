"""One part as a person types it, in a line of text: "2 brake hose front 38.50 EUR 3 wk from Saltmere"."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache

from ..build import Build, Money, Problem
from ..build.base import ThreePoint
from ..build.numbers import NUMBER_PATTERN, Unreadable, ascii_digits
from .amounts import (
    AMBIGUOUS_SIGNS,
    CurrencyHint,
    PriceReading,
    country_of_currency,
    currency_words,
    parse_price,
    parse_quantity,
    unit_word,
)
from .names import clean_text
from .times import parse_lead_weeks
from .words import keys_by_word, plain, plain_words, words

_CUT = "\x00"
_SUPPLIER = re.compile(r"(?:^|(?<=[\s\x00]))(?:from|bij|bei|chez|@)\s+", re.IGNORECASE)
_SIZES = frozenset(
    ("mm", "cm", "in", "inch", "ft", "v", "volt", "a", "amp", "w", "watt", "nm", "hp", "kw", "bar", "psi", "°", "deg")
)
# small words that joined a count or a price to the name, and join nothing once these are taken out
_BESIDE = re.compile(r"^(?:of|de|van|von)\s+(?=\S)|\s+(?:at|for|à|voor|zu|für|pour)$", re.IGNORECASE)
_TOGETHER = r"total|together|in all|for all|for both|altogether|samen|totaal|zusammen|gesamt|ensemble|en total"


@dataclass(frozen=True, slots=True)
class OneLine:
    """What a line of text says about a part. Fields left None or empty are not said by it.

    Parameters
    ----------
    price : of one
    said : what was assumed or noticed, as sentences; problems : what can't be read, by field
    """

    name: str
    quantity: Decimal | None = None
    unit: str = "each"
    price: Money | None = None
    tax_included: bool | None = None
    lead_weeks: ThreePoint | None = None
    supplier: str = ""
    said: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(slots=True)
class _Rest:
    """What of a line is not understood yet; what was taken out leaves a cut."""

    text: str
    said: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def take(self, match: re.Match[str]) -> None:
        self.text = f"{self.text[: match.start()]} {_CUT} {self.text[match.end() :]}"

    def fault(self, name: str, error: Unreadable, got: str) -> None:
        self.problems.append(Problem(name, error.code, error.what, got[:60], error.do))


def read_one_line(text: str, build: Build) -> OneLine:
    """A part, its price, lead time and supplier from one line of text, in any order but the name's.

    Parameters
    ----------
    text : the line; build : for the currency of its owner and of its suppliers

    Examples
    --------
    >>> found = read_one_line("2 brake hose front 38.50 EUR 3 wk from Saltmere", Build())
    >>> found.name, found.quantity, str(found.price), found.lead_weeks.likely, found.supplier
    ('brake hose front', Decimal('2'), '38.50 EUR', 3.0, 'Saltmere')
    >>> read_one_line("3 litre of gear oil at 11.90 EUR", Build()).name
    'gear oil'
    """
    rest = _Rest(f" {clean_text(ascii_digits(text))[0].replace(_CUT, ' ')} ")
    lead = _take_lead(rest)
    reading, together = _take_price(rest)
    supplier = _take_supplier(rest)
    quantity, unit = _take_quantity(rest)
    name = _BESIDE.sub("", " ".join(rest.text.replace(_CUT, " ").split())).strip(" ,;:-")
    if not name:
        rest.problems.append(Problem("name", "no-name", "no name is left", "", "Say what it is, as in brake hose."))
    price = _price(rest, reading, supplier, build)
    if price is not None and together and quantity not in (None, Decimal(1)):
        price = Money(amount=round(price.amount / (quantity or 1), 4), currency=price.currency)
        rest.said.append(f"the price is taken as that of all; one is {price.rounded()}")
    tax = reading.tax_included if reading else None
    return OneLine(name[:400], quantity, unit, price, tax, lead, supplier, tuple(rest.said), tuple(rest.problems))


# the pieces, each taken out of the line as it is understood


def _take_lead(rest: _Rest) -> ThreePoint | None:
    found = list(_lead_pattern().finditer(rest.text))
    if not found:
        return None
    match = found[-1]
    rest.take(match)
    try:
        lead, said = parse_lead_weeks(match[1])
    except Unreadable as error:
        rest.fault("lead", error, match[1])
        return None
    rest.said.extend([said] if said else [])
    return lead


def _take_price(rest: _Rest) -> tuple[PriceReading | None, bool]:
    """The price, and whether it is for all of them."""
    for pattern in (_price_pattern(), _BARE_PRICE):
        found = list(pattern.finditer(rest.text))
        if not found:
            continue
        shown = found[-1]["price"].strip()
        rest.take(found[-1])
        try:
            reading = parse_price(shown)
        except Unreadable as error:
            rest.problems.append(_price_problem(error, shown))
            return None, False
        rest.said.extend([reading.why_none] if reading.why_none else reading.said)
        return reading, bool(found[-1]["together"])
    return None, False


def _price_problem(error: Unreadable, shown: str) -> Problem:
    if error.code != "ambiguous-number":
        return Problem("price", error.code, error.what, shown[:60], error.do)
    what = error.what.partition(", and nothing")[0]
    return Problem("price", error.code, what, shown[:60], "Write it with two digits after the mark.")


def _take_supplier(rest: _Rest) -> str:
    """What stands behind the last "from" or "@", up to the next piece that was understood."""
    found = list(_SUPPLIER.finditer(rest.text))
    if not found:
        return ""
    match = found[-1]
    name, cut, after = rest.text[match.end() :].partition(_CUT)
    shown = " ".join(name.split()).strip(" ,;:")
    before = rest.text[: match.start()]
    if not shown:
        rest.text = f"{before} {cut}{after}"
        return ""
    if not re.search(r"[^\W\d]", before) and not re.search(r"[^\W\d]", after):  # nothing would be left of the name
        return ""
    rest.text = f"{before} {_CUT}{after}"
    if shown.casefold() in words("cells", "no_supplier") or plain(shown) in plain_words("cells", "no_supplier"):
        rest.said.append(f'"{shown}" names no supplier')
        return ""
    return shown[:400]


def _take_quantity(rest: _Rest) -> tuple[Decimal | None, str]:
    """A count before the name, with or without its unit, or one with a cross behind it."""
    for match, shown in _counts(rest.text):
        try:
            reading = parse_quantity(shown)
        except Unreadable as error:
            rest.fault("quantity", error, shown)
            return None, "each"
        if reading.quantity:
            rest.take(match)
            return reading.quantity, reading.unit
    rest.said.append("it names no quantity; 1 is taken")
    return None, "each"


def _counts(text: str) -> Iterator[tuple[re.Match[str], str]]:
    front = re.match(rf"^[\s\x00]*((?:{NUMBER_PATTERN}|[½¼¾]))\s*[x×](?=\s)", text)
    if front:
        yield front, front[1]
    front = re.match(rf"^[\s\x00]*({NUMBER_PATTERN}|[½¼¾])(\s*)([^\s\d\x00,]+)(?=[\s,])", text)
    if front:
        if front[3].casefold() in _SIZES:
            front = None
        elif _is_unit(front[3]) and front[3].casefold() not in {"x"}:
            yield front, f"{front[1]} {front[3]}"
    alone = re.match(r"^[\s\x00]*(-?\d{1,4}|[½¼¾])(?=\s)", text)
    if alone and front:
        yield alone, alone[1]
    back = re.search(r"\s(?:[x×]\s?(\d{1,4})|(\d{1,4})\s?(?:[x×]|off|pcs|stuks|stk))(?=\s*(?:\x00|$))", text)
    if back:
        yield back, back[1] or back[2]


def _is_unit(word: str) -> bool:
    folded = word.casefold()
    return (
        plain(folded) in keys_by_word("units") or folded in words("cells", "each_unit") or unit_word(folded) == "each"
    )


# a price without a currency must look like one: two digits after the mark, no unit of size behind it
_BARE_PRICE = re.compile(
    r"(?<=\s)(?:@\s*)?(?P<price>\d{1,6}[.,](?:\d{2}|-+))(?P<together>)(?=\s+(?!(?:mm|cm|m|in|kg|g|l|v|a|w|nm|bar)\b)|\s*$)",
    re.IGNORECASE,
)


@lru_cache(maxsize=1)
def _price_pattern() -> re.Pattern[str]:
    """An amount with a currency before or behind it, and what may follow: each, tax, together."""
    currency = rf"(?:{'|'.join(map(re.escape, currency_words()))})"
    number = rf"{NUMBER_PATTERN}(?:[.,]?-+)?(?:\s?-\s?\d[\d.,]*)?"
    tax = "|".join(map(re.escape, sorted(words("tax", "included") | words("tax", "excluded"), key=len, reverse=True)))
    each = "|".join(
        map(re.escape, sorted(words("cells", "each_unit") - {"x", "u", "no", "no.", "off"}, key=len, reverse=True))
    )
    after = rf"(?:\s*(?:/|per\s)?\s*(?:{each})(?=\s))?(?:\s+(?:{tax})\.?(?=\s))?"
    return re.compile(
        rf"(?<=[\s])(?:@\s*|à\s+)?(?P<price>(?:{currency}\s?{number}|{number}\s?{currency})(?=\s){after})"
        rf"(?P<together>\s+(?:{_TOGETHER})(?=\s))?",
        re.IGNORECASE,
    )


@lru_cache(maxsize=1)
def _lead_pattern() -> re.Pattern[str]:
    """A time with its unit, or words for "from stock"."""
    units = sorted(set(keys_by_word("lead_units")) - {"h", "j", "o", "m", "mo"}, key=len, reverse=True)
    stock = sorted((words("cells", "in_stock") - {"now", "stock", "available"}), key=len, reverse=True)
    word = "|".join(map(re.escape, units))
    span = rf"{NUMBER_PATTERN}(?:\s*(?:-|–|to|tot|bis)\s*{NUMBER_PATTERN})?"
    time = rf"(?:ca\.?\s*|~\s*|about\s+)?{span}\s*\+?\s*(?:{word})\.?"
    return re.compile(rf"(?<=[\s,])(?:in\s+)?({time}|{'|'.join(map(re.escape, stock))})(?=[\s,])", re.IGNORECASE)


# the currency


def _price(rest: _Rest, reading: PriceReading | None, supplier: str, build: Build) -> Money | None:
    if reading is None or reading.likely is None:
        return None
    code = _currency(rest, reading.currency, supplier, build)
    return None if code is None else Money.of(f"{reading.likely:f}", code)


def _currency(rest: _Rest, hint: CurrencyHint, supplier: str, build: Build) -> str | None:
    """The currency a price names, or the supplier's, or the owner's; None and a problem if a shared sign stays open."""
    if hint.code:
        return hint.code
    known = next((each for each in build.suppliers if each.name.casefold() == supplier.casefold()), None)
    own = build.owner.currency
    named = [(known.currency, "the supplier's currency")] if known else []
    if not hint.sign:
        code, why = (*named, (own, "your own currency"))[0]
        rest.said.append(f"the price names no currency; {code} is taken, {why}")
        return code
    could_be = AMBIGUOUS_SIGNS[hint.sign]
    there = [(code, "after the supplier's country") for code in could_be if known and _used_in(code, known.country)]
    for code, why in (*named, *there, (own, "your own currency")):
        if code in could_be:
            rest.said.append(f'"{hint.sign}" is taken as {code}, {why}')
            return code
    what = f'"{hint.sign}" could be {" or ".join(could_be)}'
    rest.problems.append(Problem("price", "ambiguous-currency", what, hint.sign, f"Write the code, as {could_be[0]}."))
    return None


def _used_in(currency: str, country: str) -> bool:
    return country_of_currency(currency) == country
