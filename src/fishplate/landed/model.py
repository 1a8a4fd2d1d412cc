"""Inputs and results of a landed cost: frozen, and without any rule in them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from ..build.commerce import Route, Supplier
from ..build.money import Money
from ..build.problem import Assumption

LineKind = Literal["goods", "freight", "origin-tax", "duty", "tax", "fee", "exchange", "rounding"]


@dataclass(frozen=True, slots=True)
class Goods:
    """One line of a consignment.

    Parameters
    ----------
    value : price of all its units as offered
    quantity : units; each is one item to a traveller's allowance, unless kind is "set"
    mass_kg : mass of all its units [kg]
    heading, origin : tariff heading and country of making, where known
    kind : "goods", or "set" for things sold as one, which count as one item however many pieces they have
    length_mm : longest side of the longest piece packed [mm]
    box_mm : length, width, height of the piece with the most length and girth, packed [mm]
    volume_cm3 : of all units packed [cm³]; None: that of a box for each unit
    proof : a proof of origin comes with the goods, so preference is claimed
    use : parts that equip a private vehicle, or general goods: refunds of the seller's tax differ
    """

    label: str
    value: Money
    quantity: float = 1
    mass_kg: float | None = None
    heading: str | None = None
    origin: str | None = None
    kind: str = "goods"
    length_mm: float | None = None
    box_mm: tuple[float, float, float] | None = None
    volume_cm3: float | None = None
    proof: bool = False
    use: Literal["vehicle", "general"] = "vehicle"


@dataclass(frozen=True, slots=True)
class Consignment:
    """What travels and is declared together.

    Parameters
    ----------
    route : way home; None for the seller's own delivery, whose fees at a border are then not known
    freight : what the seller or carrier asks, without fuel surcharge
    tax_included : whether prices carry the seller's own sales tax; for a supplier that collects the import
        tax, whether they carry that tax; None: not known
    divided : the plan has other consignments from this supplier, so no low-value relief
    beside : goods of those others; with them a fee of the authority finds its step, and the seller's limit is compared
    freight_inland : the part of freight that lies beyond the border, where shown apart
    gift : given between private persons and not paid for; a purchase never is
    returning : sent out of the country before, and coming back as it was: not paid for again
    """

    supplier: Supplier
    route: Route | None
    goods: tuple[Goods, ...]
    freight: Money
    tax_included: bool | None
    day: date
    divided: bool = False
    freight_inland: Money | None = None
    gift: bool = False
    returning: bool = False
    beside: tuple[Goods, ...] = ()

    @property
    def paid_for(self) -> bool:
        """Whether its goods are paid for with it; else their worth is only declared."""
        return not (self.gift or self.returning)


@dataclass(frozen=True, slots=True)
class TravelAllowance:
    """What is left of the owner's own travel allowance on one trip; nobody else's counts.

    Parameters
    ----------
    travel : by air or sea, by land, or by private boat or plane; None: not known, the lower amount is used
    absence_hours : time abroad, where an allowance depends on it [h]
    left : what earlier goods of the trip have left of it, in home currency; None: all of it
    days_since_last : days since the owner last used one, where it holds once in so many; None: long ago
    persons : of the owner's household on the trip; they count only where a rule of the country says so
    """

    travel: Literal["air-sea", "land", "private-craft"] | None = None
    absence_hours: float = 24
    left: Money | None = None
    days_since_last: int | None = None
    persons: int = 1


@dataclass(frozen=True, slots=True)
class CostLine:
    """One amount in home currency, with the rule it rests on.

    Parameters
    ----------
    rule : id of a rule in the data, or of a practice
    note : where the amount comes from, in words
    of : the amount a rate was applied to, in the currency of the rules; None where there is no rate
    due : when it is paid: with the purchase, or on arrival to authority and carrier
    """

    label: str
    amount: Money
    kind: LineKind
    rule: str
    note: str = ""
    of: Money | None = None
    due: Literal["purchase", "arrival"] = "purchase"


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing not known for sure, and the total if it falls out well or badly."""

    code: str
    about: str
    low: Money
    high: Money
    text: str


@dataclass(frozen=True, slots=True)
class RuleNote:
    """Where a rule comes from, for a person who wants to check it."""

    id: str
    status: str
    as_of: date | None
    source: str
    url: str
    note: str


@dataclass(frozen=True, slots=True)
class LandedCost:
    """What a consignment costs at the door. Lines add up to the total exactly.

    Parameters
    ----------
    flags : rules that are undated, old or expired on the day, and other warnings
    exact : the total before rounding to the minor unit, in home currency
    free_value : goods a travel allowance covered, in home currency
    rules : where every rule comes from that bore on the result
    range : lowest and highest total if everything doubtful falls out well, or badly; None where nothing is doubtful
    """

    lines: tuple[CostLine, ...]
    total: Money
    flags: tuple[str, ...]
    assumptions: tuple[Assumption, ...]
    doubts: tuple[Doubt, ...]
    exact: Decimal
    free_value: Money
    rules: tuple[RuleNote, ...] = ()
    range: tuple[Money, Money] | None = None

    @property
    def ends(self) -> tuple[Money, Money]:
        """The lowest and the highest total it may come to."""
        return self.range or (self.total, self.total)

    def sum_of(self, *kinds: LineKind) -> Money:
        """What the lines of some kinds add up to, in home currency."""
        return total_of((line for line in self.lines if line.kind in kinds), self.total.currency)


def total_of(lines: Iterable[CostLine], currency: str) -> Money:
    """What lines add up to."""
    return Money(amount=sum((line.amount.amount for line in lines), Decimal(0)), currency=currency)
