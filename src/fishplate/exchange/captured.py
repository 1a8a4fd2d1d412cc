"""What was found in a page, mail or text: products with what is said of them, and what was not read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ..build.base import ThreePoint


@dataclass(frozen=True, slots=True)
class Found:
    """A product, as a page or a line of a mail tells of it. Empty or None is what it does not say.

    Parameters
    ----------
    part_number : the maker's; shop_number : the seller's; trade_number : the number under its bar code (GTIN)
    price : of one; currency : its code; could_be : the currencies a sign stands for, where it names no code
    tax_included : whether the price carries sales tax; price_until : last day it holds
    seller : its name, or the page's host; quantity : how many, in a mail
    lead_weeks : from order to dispatch [weeks]; mass_kg : of one [kg]
    notes : label and text of what no field holds
    beside : the page only shows it beside what it is about
    said : what was taken or noticed, as sentences without their stop
    place : where it stands in what was brought
    """

    name: str
    part_number: str = ""
    shop_number: str = ""
    trade_number: str = ""
    price: Decimal | None = None
    currency: str = ""
    could_be: tuple[str, ...] = ()
    tax_included: bool | None = None
    price_until: date | None = None
    available_from: date | None = None
    seller: str = ""
    quantity: Decimal | None = None
    unit: str = "each"
    lead_weeks: ThreePoint | None = None
    return_days: int | None = None
    mass_kg: Decimal | None = None
    url: str = ""
    notes: tuple[tuple[str, str], ...] = ()
    beside: bool = False
    said: tuple[str, ...] = ()
    place: str = ""

    @property
    def numbers(self) -> tuple[str, ...]:
        """Every number it goes by."""
        return tuple(filter(None, (self.part_number, self.shop_number, self.trade_number)))


@dataclass(frozen=True, slots=True)
class Captured:
    """A page, mail or text as it was understood.

    Parameters
    ----------
    name : of the file; kind : "page", "mail" or "text"; title : what it calls itself
    day : when it was saved or sent, None if it does not say
    not_read : lines that nothing was taken from
    """

    name: str
    kind: str
    title: str
    found: tuple[Found, ...]
    url: str = ""
    day: date | None = None
    notes: tuple[str, ...] = ()
    not_read: tuple[str, ...] = ()
