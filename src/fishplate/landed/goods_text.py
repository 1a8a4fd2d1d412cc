"""Goods as a person writes them down, one kind of thing a line, its pieces in any order after its name."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any, Final

from ..build.errors import Refused
from ..build.money import MAX_AMOUNT, Money, known_currencies
from ..build.numbers import NUMBER_PATTERN, Unreadable, parse_number
from ..build.problem import Problem
from ..build.quantities import read_quantity
from ..build.units import UnitProblem
from .model import Goods

MOST_KINDS: Final = 200
LONGEST_NAME: Final = 80
LONGEST_SIDE_MM: Final = 100_000
FORM: Final = "2 x front hub; 62.50 GBP; 4.2 kg; 8708.50; made in DE; 300 x 300 x 200 mm"
_COUNTED: Final = re.compile(r"(?P<count>\d{1,6})\s*[x×]\s*(?P<name>\D.*)", re.IGNORECASE)
_AMOUNT: Final = re.compile(rf"(?P<amount>{NUMBER_PATTERN})\s*(?P<code>[A-Za-z]{{3}})(?:\s+each)?")
_CODE_FIRST: Final = re.compile(rf"(?P<code>[A-Za-z]{{3}})\s*(?P<amount>{NUMBER_PATTERN})(?:\s+each)?")
_BOX: Final = re.compile(
    rf"(?P<a>{NUMBER_PATTERN})\s*[x×]\s*(?P<b>{NUMBER_PATTERN})\s*[x×]\s*(?P<c>{NUMBER_PATTERN})\s*(?P<unit>[a-z\"]*)",
    re.IGNORECASE,
)
_HEADING: Final = re.compile(r"(?:heading\s+)?(?P<digits>\d{4}(?:[. ]?\d{2}){0,3})", re.IGNORECASE)
_ORIGIN: Final = re.compile(r"made in\s+(?P<code>\S+)", re.IGNORECASE)
_MASS: Final = re.compile(rf"{NUMBER_PATTERN}\s*(?:kg|g|lb|lbs|oz|t)", re.IGNORECASE)
_PROOF: Final = frozenset(["proof", "proof of origin", "with proof", "with proof of origin"])


@dataclass(slots=True)
class _Line:
    """One line being read."""

    where: str
    mark: str | None
    goods: Goods
    problems: list[Problem] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)

    def refuse(self, code: str, what: str, got: str, do: str) -> None:
        self.problems.append(Problem(self.where, code, what, got, do))


def read_goods(lines: Sequence[str], mark: str | None = None) -> tuple[Goods, ...]:
    """The goods of one consignment, from a line for each kind of thing.

    Parameters
    ----------
    lines : each a name, with how many before it, and after it, parted by semicolons: the price of one, its mass, its
        tariff heading, where it was made, the sides of its box packed, "proof" if a proof of origin comes with it,
        "set" if all of them are sold as one thing, "general" if it is no part of a vehicle
    mark : decimal mark the writer is used to, where it is known

    Raises
    ------
    Refused
        with every problem of every line

    Examples
    --------
    >>> (hubs,) = read_goods(["2 x front hub; 62.50 GBP; 4 kg; 8708.50; made in DE"])
    >>> hubs.label, hubs.quantity, str(hubs.value), hubs.mass_kg, hubs.heading, hubs.origin
    ('front hub', 2, '125.00 GBP', 8.0, '870850', 'DE')
    """
    texts = [text.strip() for text in lines if text.strip()]
    if not texts or len(texts) > MOST_KINDS:
        what = "there is nothing in it" if not texts else f"there are more than {MOST_KINDS} kinds"
        raise Refused([Problem("goods", "goods", what, "", f"Write a line for each kind, as {FORM}.")])
    read = [_read(text, place if len(texts) > 1 else 0, mark) for place, text in enumerate(texts, 1)]
    problems = [problem for line in read for problem in line.problems]
    codes = sorted({line.goods.value.currency for line in read if "price" in line.seen})
    if len(codes) > 1:
        what = "the goods of one consignment are priced in one currency"
        problems.append(Problem("goods", "currency", what, ", ".join(codes), "Convert the others."))
    if problems:
        raise Refused(problems)
    return tuple(line.goods for line in read)


def _read(text: str, place: int, mark: str | None) -> _Line:
    name, *pieces = (piece.strip() for piece in text.split(";"))
    counted = _COUNTED.fullmatch(name)
    label, count = (counted["name"].strip(), int(counted["count"])) if counted else (name, 1)
    where = f"goods, line {place}" if place else "goods"
    line = _Line(where, mark, Goods(label[:LONGEST_NAME], Money.of(0, "EUR"), count))
    if not label:
        line.refuse("name", "a line begins with the name of the thing", text, f"Write it as {FORM}.")
    if count < 1:
        line.refuse("quantity", "there is at least one of it", name, "Write how many before the name, as 2 x.")
    for piece in pieces:
        if piece:
            _take(line, piece)
    if "price" not in line.seen and not line.problems:
        line.refuse("price", "the price of one is missing", text, "Write it with its currency, as 62.50 GBP.")
    return line


def _take(line: _Line, piece: str) -> None:
    """Take one piece of a line: what it is shows in how it is written."""
    for kind, value in _meanings(line, piece):
        if kind in line.seen:
            line.refuse("twice", f"there is a second {kind}", piece, "Leave one of them out.")
        line.seen.add(kind)
        changed: dict[str, Any] = {_FIELDS[kind]: value}
        line.goods = replace(line.goods, **changed)
        return
    if not line.problems or line.problems[-1].got != piece:
        line.refuse("not-read", "it can't be told what this is", piece, f"Write it as {FORM}.")


_FIELDS: Final = {
    "price": "value", "box": "box_mm", "heading": "heading", "country": "origin", "mass": "mass_kg", "proof": "proof",
    "set": "kind", "use": "use",
}  # fmt: skip


def _meanings(line: _Line, piece: str) -> Iterator[tuple[str, object]]:
    words, count = piece.casefold(), line.goods.quantity
    if words in _PROOF:
        yield "proof", True
    elif words == "set":
        yield "set", "set"
    elif words in ("general", "general goods"):
        yield "use", "general"
    elif found := _HEADING.fullmatch(piece):
        yield "heading", re.sub(r"\D", "", found["digits"])
    elif found := _ORIGIN.fullmatch(piece):
        code = found["code"].upper()
        if re.fullmatch(r"[A-Z]{2}", code):
            yield "country", code
        else:
            line.refuse("country", "not a country", piece, "Write its two letters, as made in DE.")
    elif found := _BOX.fullmatch(piece):
        sides = [_length(line, piece, found[side], found["unit"] or "mm") for side in "abc"]
        if all(sides):
            yield "box", tuple(sides)
    elif found := _MASS.fullmatch(piece):
        mass = _quantity(line, piece, piece, "kg")
        if mass is not None:
            yield "mass", mass * count
    elif found := _AMOUNT.fullmatch(piece) or _CODE_FIRST.fullmatch(piece):
        price = _price(line, piece, found["amount"], found["code"].upper())
        if price is not None:
            yield "price", price


def _quantity(line: _Line, piece: str, text: str, unit: str) -> float | None:
    try:
        value = read_quantity(text, unit, line.mark).value
    except (Unreadable, UnitProblem) as fault:
        line.refuse("number", str(getattr(fault, "what", fault)), piece, "Write it as 4.2 kg or 300 mm.")
        return None
    if value < 0:
        line.refuse("number", "it cannot be below zero", piece, "Write what it is.")
        return None
    return value


def _length(line: _Line, piece: str, number: str, unit: str) -> float | None:
    side = _quantity(line, piece, f"{number} {unit}", "mm")
    if side is not None and not 0 < side <= LONGEST_SIDE_MM:
        what = "a side of a box is above zero and below 100 m"
        line.refuse("number", what, piece, "Write all three sides, or leave it out.")
        return None
    return side


def _price(line: _Line, piece: str, text: str, code: str) -> Money | None:
    if code not in known_currencies():
        line.refuse("currency", f"{code} is not a currency", piece, "Write it as EUR or GBP.")
        return None
    try:
        amount = parse_number(text, line.mark)
    except Unreadable as fault:
        line.refuse("price", fault.what, piece, "Write it as 62.50 GBP.")
        return None
    whole = amount * Decimal(str(line.goods.quantity))
    if not 0 <= whole <= MAX_AMOUNT:
        what = "a price cannot be below zero" if whole < 0 else "an amount is beyond a million million"
        line.refuse("price", what, piece, "Write what is asked for one.")
        return None
    return Money(amount=whole, currency=code)
