"""Number fields: which unit stands beside one, what it is filled with, and how what comes back is read.

A page names beside each field the unit a bare number is in, and the unit its noun holds. Where the two differ, it also
sends along what the field was filled with and what that stands for, so that an untouched field gives the same value
back to its last digit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Protocol

from ..build.formats import Formats, current, sign_of
from ..build.money import known_currencies
from ..build.numbers import is_ambiguous
from ..build.quantities import in_unit, read_quantity, split_quantity
from ..build.units import parse_unit
from ..exchange.amounts import read_amount

UNIT: Final = ".unit"
WAS: Final = ".was"
# Units a field may have beside it that measure something; anything else beside it is a word.
_MEASURES: Final = frozenset((
    "mm", "cm", "m", "km", "in", "ft", "mi", "thou", "kg", "g", "lb", "oz", "N", "kN", "lbf", "N*m", "N*mm", "lbf*ft",
    "lbf*in", "bar", "kPa", "MPa", "psi", "N/mm", "lbf/in", "km/h", "mph", "°C", "degC", "degF", "deg", "rad", "V", "A",
    "W", "s", "min", "minutes", "h", "days", "weeks",
))  # fmt: skip
_QUANTITY: Final = re.compile(r"-?\d+(?:\.\d+)?[^\d.,]*")
_CANONICAL: Final = re.compile(r"-?\d+(?:\.\d+)?")  # a number, as nouns and page models hold it
# Digits shown where a field holds another unit than its noun; what it stands for is sent along.
_SHOWN_DIGITS: Final = 6


class Fields(Protocol):
    """Text by the name of its field."""

    def text(self, name: str, default: str = "") -> str:
        """The text of a field."""


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside a number field.

    Parameters
    ----------
    shown : unit of a bare number; held : unit its noun holds; both empty for a plain number
    currency : of an amount; empty for anything else
    was, stands_for : what the field was filled with, and the value in the held unit, where that is not plain
    """

    shown: str = ""
    held: str = ""
    currency: str = ""
    was: str = ""
    stands_for: float = 0.0

    def read(self, text: str, mark: str) -> tuple[float, str]:
        """A value in the held unit, and how it was read; raises UnitProblem, or Unreadable for an amount."""
        if self.was and text == self.was:
            return self.stands_for, ""
        if self.currency:
            amount, said = read_amount(text, self.currency, mark)
            return float(amount), said
        if not self.held:
            value, said = read_quantity(text.removesuffix(self.shown).rstrip() if self.shown else text, "", mark)
            return value, said
        if self.shown == self.held:
            return read_quantity(text, self.held, mark)
        written = split_quantity(text, mark)
        return in_unit(written.number, written.unit or self.shown, self.held), written.said


def beside_field(fields: Fields, name: str) -> Beside:
    """What stood beside a field, as its page sent it along; nothing for one that was sent without."""
    shown, _, held = fields.text(name + UNIT)[:40].partition(" ")
    was, stands_for = _sent_along(fields.text(name + WAS)[:80])
    if len(shown) == 3 and shown.isupper() and shown in known_currencies():
        return Beside(shown, currency=shown, was=was, stands_for=stands_for)
    if shown not in _MEASURES or held not in {"", *_MEASURES}:
        return Beside(shown, was=was, stands_for=stands_for)
    kind = "temperature" if shown == "degF" else parse_unit(shown).kind
    if kind != parse_unit(held or shown).kind:
        return Beside()
    return Beside(shown, held or shown, was=was, stands_for=stands_for)


def _sent_along(text: str) -> tuple[str, float]:
    """What a field was filled with and what it stands for; nothing if it was not sent as a page of ours does."""
    was, _, stands_for = text.partition(" ")
    try:
        return was, float(stands_for)
    except ValueError:
        return "", 0.0


@dataclass(frozen=True, slots=True)
class NumberField:
    """A number field as the page shows it.

    Parameters
    ----------
    text : what it is filled with; unit : what is printed beside it; sent : name and value of what goes along
    """

    text: str
    unit: str
    sent: tuple[tuple[str, str], ...]


def number_field(name: str, value: object, unit: str) -> NumberField:
    """A field for a number, in the owner's units and locale.

    Parameters
    ----------
    value : a number in `unit`, or its canonical text, with its own unit or currency where that is another;
        unit : what its noun holds it in

    Examples
    --------
    >>> number_field("mass", 12.5, "kg").text, number_field("mass", "", "kg").sent
    ('12.5', (('mass.unit', 'kg'),))
    >>> from fishplate.build.formats import using
    >>> with using(Formats(locale="de_DE")):
    ...     number_field("price", "12.50", "EUR").text, number_field("price", "12.50 GBP", "EUR").text
    ('12,50', '12,50 GBP')
    """
    formats = current()
    text, held = _filled(value, formats)
    shown = formats.unit(unit) if unit in _MEASURES else unit
    if shown == unit:
        beside = ((name + UNIT, unit),) if unit and " " not in unit else ()
        if held is not None and is_ambiguous(text):
            beside = (*beside, (name + WAS, f"{text} {held!r}"))
        return NumberField(text, sign_of(unit), beside)
    beside = ((name + UNIT, f"{shown} {unit}"),)
    if held is None:
        return NumberField(text, sign_of(shown), beside)
    filled = formats.number(formats.turned(held, unit), _SHOWN_DIGITS)
    return NumberField(filled, sign_of(shown), (*beside, (name + WAS, f"{filled} {held!r}")))


def limit_field(text: str) -> str:
    """A limit as its field is filled with it: the owner's decimal mark in a quantity, arithmetic as it is held.

    Examples
    --------
    >>> from fishplate.build.formats import using
    >>> with using(Formats(locale="de_DE")):
    ...     limit_field("0.60 mm"), limit_field("max(gap, 1.5 mm)")
    ('0,60 mm', 'max(gap, 1.5 mm)')
    """
    return text.replace(".", current().mark) if _QUANTITY.fullmatch(text) else text


def _filled(value: object, formats: Formats) -> tuple[str, float | None]:
    """The text of a field, and the number it stands for; None if it is none."""
    if isinstance(value, int | float | Decimal):
        return formats.typed(value), float(value)
    text = str(value)
    number, _, unit = text.partition(" ")
    if not _CANONICAL.fullmatch(number):
        return text, None
    shown = f"{number.replace('.', formats.mark)} {unit}".rstrip()
    return shown, None if unit else float(number)
