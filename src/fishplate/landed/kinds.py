"""The kinds of rule there are: what each says, and which values it must have.

Every rule may be narrowed: to streams, to private buyers or businesses, to the country goods are sent from, to regions
and members of the destination, to gifts. What is left out does not narrow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from ..build.base import Country, Note, Noun, Text
from ..build.money import Currency
from ..build.words import day_words

Percentage = Annotated[Decimal, Field(ge=0, le=1000)]
Sum = Annotated[Decimal, Field(ge=0, le=10**9)]
Prefix = Annotated[str, Field(pattern=r"^[0-9]{2,10}$")]
Destination = Annotated[str, Field(pattern=r"^([A-Z]{2}|\*)$")]
Stream = Literal["post", "courier", "freight", "traveller"]
Exempt = Literal["duty", "tax", "fees"]
OLD_AFTER_DAYS = 366
HINT_AFTER_DAYS = 731


@dataclass(frozen=True, slots=True)
class Scope:
    """How goods come in, as far as rules ask.

    Parameters
    ----------
    stream : post, courier, freight with a commercial entry, or carried by a traveller
    private : whether the owner is a private person
    sent_from : country the goods travel from, "" where not known
    region : province or state of the destination, "" where not given
    gift : whether the goods are a gift between private persons, and not bought
    """

    stream: Stream = "courier"
    private: bool = True
    sent_from: str = ""
    region: str = ""
    gift: bool = False


class RuleBase(Noun):
    """What every rule carries.

    Parameters
    ----------
    valid_from, valid_to : first and last day; as_of : the day it was last checked
    stands_in : used after its last day until a successor is entered, and flagged
    instead_of : rules that do not hold where this one does
    """

    id: Text
    valid_from: date | None = None
    valid_to: date | None = None
    as_of: date | None = None
    source: Text
    url: str = ""
    status: Literal["published", "published-secondary", "from memory", "common practice", "owner"]
    note: Note = ""
    streams: tuple[Stream, ...] = ()
    buyer: Literal["any", "private", "business"] = "any"
    sent_from: tuple[Country, ...] = ()
    not_sent_from: tuple[Country, ...] = ()
    regions: tuple[Text, ...] = ()
    members: tuple[Country, ...] = ()
    gift: bool | None = None
    stands_in: bool = False
    instead_of: tuple[Text, ...] = ()

    @model_validator(mode="after")
    def _days_ordered(self) -> RuleBase:
        if self.valid_from and self.valid_to and self.valid_to < self.valid_from:
            raise ValueError("valid_to is before valid_from")
        return self

    def holds_on(self, day: date) -> bool:
        """Whether the day lies within the rule's validity."""
        return (self.valid_from is None or self.valid_from <= day) and (self.valid_to is None or day <= self.valid_to)

    def is_for(self, scope: Scope, country: str) -> bool:
        """Whether the rule bears on goods that come in like this."""
        return (
            (not self.streams or scope.stream in self.streams)
            and (self.buyer == "any" or scope.private == (self.buyer == "private"))
            and (not self.sent_from or scope.sent_from in self.sent_from)
            and scope.sent_from not in self.not_sent_from
            and (not self.regions or scope.region in self.regions)
            and (not self.members or country in self.members)
            and (self.gift is None or self.gift == scope.gift)
        )

    def meets(self, other: RuleBase) -> bool:
        """Whether two rules can bear on the same goods on the same day."""
        return (
            _days_meet(self, other)
            and _meet(self.streams, other.streams)
            and (self.buyer == other.buyer or "any" in (self.buyer, other.buyer))
            and _meet(self.sent_from, other.sent_from)
            and not (self.sent_from and set(self.sent_from) <= set(other.not_sent_from))
            and not (other.sent_from and set(other.sent_from) <= set(self.not_sent_from))
            and _meet(self.regions, other.regions)
            and _meet(self.members, other.members)
            and (self.gift == other.gift or self.gift is None or other.gift is None)
        )

    @property
    def status_words(self) -> str:
        """Its status as a sentence has it."""
        words = {"published-secondary": "published at second hand", "owner": "set by the owner"}
        return words.get(self.status, self.status)

    def doubt_on(self, day: date) -> str | None:
        """Why the rule should be checked before it is relied on; None if there is no reason."""
        if not self.holds_on(day):
            span = f"since {self.valid_to}" if self.valid_to and self.valid_to < day else f"until {self.valid_from}"
            return f"{self.id}: out of validity {span}; used for want of another"
        if self.status == "common practice":
            return None
        if self.as_of is None:
            return f"{self.id}: undated ({self.status_words})"
        if (day - self.as_of).days > OLD_AFTER_DAYS:
            return f"{self.id}: last checked {day_words(self.as_of)}, over a year before ({self.status_words})"
        return None


def _meet(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    return not one or not other or not set(one).isdisjoint(other)


def _days_meet(one: RuleBase, other: RuleBase) -> bool:
    first = max(one.valid_from or date.min, other.valid_from or date.min)
    return first <= min(one.valid_to or date.max, other.valid_to or date.max)


class Valuation(RuleBase):
    """What the customs value holds: CIF with freight to the border, FOB without; `factor` of the price paid."""

    kind: Literal["valuation"]
    freight_in_duty_base: bool
    factor: Percentage = Decimal(1)


class DutyRate(RuleBase):
    """Duty of a tariff heading [% of customs value]."""

    kind: Literal["duty-rate"]
    heading: Prefix
    percent: Percentage


class DutyDefault(RuleBase):
    """Duty used where the heading is not known, and the usual range [%]."""

    kind: Literal["duty-default"]
    percent: Percentage
    low: Percentage
    high: Percentage

    @model_validator(mode="after")
    def _ordered(self) -> DutyDefault:
        if not self.low <= self.percent <= self.high:
            raise ValueError("low, percent and high must rise in that order")
        return self


class FlatDuty(RuleBase):
    """A fixed duty for each tariff heading of a consignment of low value, in place of the tariff."""

    kind: Literal["flat-duty"]
    amount: Sum
    limit: Sum
    currency: Currency
    heading_digits: int = Field(ge=2, le=10)


class Surtax(RuleBase):
    """Duty on top of the tariff, for some headings and origins [% of customs value].

    Parameters
    ----------
    operator : "add" puts the percentage on top; "ceiling" fills the tariff up to it and adds nothing where the tariff
        is higher; "alone" takes the place of the tariff and of every other surtax
    headings, not_headings : matched digit by digit, to as many digits as each has; none: every heading
    origins, not_origins : countries of making
    only_one_of : name of a group of which only the first that applies is charged, in the order of the file
    unless : surtaxes before it in the file that spare goods from this one
    free_with_proof : origins whose goods are spared with a proof of origin
    doubtful : announced or proposed: counted only in the upper end of a range
    no_heading : where the goods have no heading: "counted" if its list names the usual parts of a vehicle, else only in
        the "range", or "left out" if it is for no parts at all
    """

    kind: Literal["surtax"]
    label: Text = "surtax"
    percent: Percentage
    operator: Literal["add", "ceiling", "alone"] = "add"
    headings: tuple[Prefix, ...] = ()
    not_headings: tuple[Prefix, ...] = ()
    origins: tuple[Country, ...] = ()
    not_origins: tuple[Country, ...] = ()
    only_one_of: str = ""
    unless: tuple[Text, ...] = ()
    free_with_proof: tuple[Country, ...] = ()
    doubtful: bool = False
    no_heading: Literal["counted", "range", "left out"] = "range"


class Relief(RuleBase):
    """Freedom from charges up to a limit.

    Parameters
    ----------
    tested_on : goods without tax, with freight, or the customs value
    exceeded : "whole" taxes everything above the limit, "excess" only what exceeds it, "item" the items that do not fit
    """

    kind: Literal["relief"]
    limit: Sum
    currency: Currency
    tested_on: Literal["goods", "goods and freight", "customs value"] = "goods"
    exempts: tuple[Exempt, ...] = Field(min_length=1)
    exceeded: Literal["whole", "excess", "item"] = "whole"
    inclusive: bool = True


class ReturningGoods(RuleBase):
    """Freedom from charges of goods that were sent out of the country and come back as they were.

    Parameters
    ----------
    years : how long they may have been away; None: not known
    """

    kind: Literal["returning-goods"]
    exempts: tuple[Exempt, ...] = Field(min_length=1)
    years: int | None = Field(default=None, ge=1, le=100)


class TaxBase(RuleBase):
    """What import tax is charged on: goods, freight, duty, fees. Duty holds surtaxes too."""

    kind: Literal["tax-base"]
    on: tuple[Literal["goods", "freight", "duty", "fees"], ...]


class Tax(RuleBase):
    """An import tax [%].

    Parameters
    ----------
    member : the country of a single market whose tax it is; None: the whole jurisdiction's
    ratio : numerator and denominator of a share, where a percentage would not be exact
    on : base of its own: parts as in `TaxBase`, or ids of taxes before it in the file
    """

    kind: Literal["tax"]
    label: Text = "import tax"
    percent: Percentage = Decimal(0)
    ratio: tuple[Annotated[int, Field(ge=0)], Annotated[int, Field(gt=0)]] | None = None
    member: Country | None = None
    on: tuple[Text, ...] | None = None

    @property
    def share(self) -> Decimal:
        """The rate as a fraction."""
        return self.percent / 100 if self.ratio is None else Decimal(self.ratio[0]) / self.ratio[1]


class SellerCollects(RuleBase):
    """Up to which value, of a consignment or an item, a registered seller may collect the import tax at the sale."""

    kind: Literal["seller-collects"]
    limit: Sum
    currency: Currency
    per: Literal["consignment", "item"] = "consignment"
    inclusive: bool = True


class Waiver(RuleBase):
    """Charges that together stay below an amount are not collected: a threshold in tax, not in value."""

    kind: Literal["waiver"]
    below: Sum
    currency: Currency
    of: tuple[Literal["duty", "tax"], ...] = ("duty", "tax")


class Allowance(RuleBase):
    """What a traveller may bring free of duty and tax, per person.

    Parameters
    ----------
    absence_hours : least time abroad [h]; longer : it must be longer than that, and not just as long
    every_days : only once in so many days
    counts : what the limit is compared with: the price paid, or the price without the seller's tax
    pooling : "none" nobody else's counts; "household" that of everyone in it; "joint" the declaration of several
        persons as the rule of the country has it
    dutiable_only : goods free in the tariff use nothing of it
    """

    kind: Literal["allowance"]
    amount: Sum
    currency: Currency
    travel: Literal["air-sea", "land", "private-craft", "any"] = "any"
    exceeded: Literal["whole", "excess", "item"]
    absence_hours: Sum = Decimal(0)
    longer: bool = False
    every_days: int = Field(default=0, ge=0, le=366)
    counts: Literal["paid", "net"] = "paid"
    pooling: Literal["none", "household", "joint"] = "none"
    dutiable_only: bool = False

    def fits(self, absence_hours: Decimal, days_since_last: int | None) -> bool:
        """Whether it holds after an absence [h], so many days after the last time; None: long ago."""
        absent = absence_hours > self.absence_hours if self.longer else absence_hours >= self.absence_hours
        return absent and (days_since_last is None or days_since_last >= self.every_days)


class TravellerFlat(RuleBase):
    """One rate [%] for goods a traveller carries beyond the allowance.

    Parameters
    ----------
    exceeded : "whole" the rate holds only where all dutiable goods stay within the limit; "band" it holds for the first
        part up to the limit, dearest duties first, and goods free in the tariff stay free
    covers : duty alone, or duty and tax in one
    every_days : only once in so many days
    percent_with_proof : rate for goods of a preferential origin with their proof [%]; None: the same
    """

    kind: Literal["traveller-flat"]
    percent: Percentage
    percent_with_proof: Percentage | None = None
    limit: Sum
    currency: Currency
    exceeded: Literal["whole", "band"] = "whole"
    covers: tuple[Literal["duty", "tax"], ...] = ("duty",)
    absence_hours: Sum = Decimal(0)
    every_days: int = Field(default=0, ge=0, le=366)
    pooling: Literal["none", "household"] = "none"
    free_origins: tuple[Country, ...] = ()


class Tier(Noun):
    """A step of a fee table: `to` is its highest value, `below` the first value beyond it; neither: no end."""

    to: Sum | None = None
    below: Sum | None = None
    fee: Sum

    @property
    def end(self) -> Decimal | None:
        """Where the step ends; None: nowhere."""
        return self.below if self.to is None else self.to

    def holds(self, value: Decimal) -> bool:
        """Whether a value falls in the step or under it."""
        return (self.to is None or value <= self.to) and (self.below is None or value < self.below)


def _rising(tiers: tuple[Tier, ...]) -> None:
    """Refuses steps that do not rise: the first that holds a value is the one charged."""
    ends = [tier.end for tier in tiers]
    if None in ends[:-1]:
        raise ValueError("a step without an end stands before the last")
    known = [end for end in ends if end is not None]
    if any(later <= end for end, later in pairwise(known)):
        raise ValueError("its steps do not rise")


class Fee(RuleBase):
    """A fee of authority, post or carrier: flat, by percent, by steps of the goods' value.

    Parameters
    ----------
    by : a table of post or carrier over two years old is only a hint to the owner, never used
    of : what the percentage is of; charges are duty and tax
    above, up_to : the worth of goods it is for
    beyond_each, beyond_fee : a further fee for every started amount beyond the last step
    free_with_proof : origins whose goods are spared with a proof of origin
    """

    kind: Literal["fee"]
    label: Text
    currency: Currency
    by: Literal["authority", "post", "carrier"] = "authority"
    flat: Sum = Decimal(0)
    percent: Percentage = Decimal(0)
    of: Literal["charges", "goods", "goods and freight"] = "charges"
    minimum: Sum = Decimal(0)
    maximum: Sum | None = None
    tiers: tuple[Tier, ...] = ()
    beyond_each: Sum | None = None
    beyond_fee: Sum = Decimal(0)
    above: Sum | None = None
    up_to: Sum | None = None
    when: Literal["always", "charges due"] = "always"
    tax_percent: Percentage = Decimal(0)
    free_with_proof: tuple[Country, ...] = ()

    @model_validator(mode="after")
    def _ordered(self) -> Fee:
        if self.maximum is not None and self.maximum < self.minimum:
            raise ValueError("its maximum is below its minimum")
        if self.above is not None and self.up_to is not None and self.up_to <= self.above:
            raise ValueError("up_to is not above the amount it begins above")
        _rising(self.tiers)
        if self.beyond_each == 0:
            raise ValueError("beyond_each is an amount above zero")
        if self.beyond_each and not (self.tiers and self.tiers[-1].end is not None):
            raise ValueError("beyond_each needs steps of which the last has an end")
        return self

    def is_hint_on(self, day: date) -> bool:
        """Whether it is too old, or of too unknown a day, to be more than a hint."""
        return self.by != "authority" and (self.as_of is None or abs((day - self.as_of).days) > HINT_AFTER_DAYS)


class FeeTax(RuleBase):
    """Tax on the carrier's own fees [%]; without a percentage, the import tax rate."""

    kind: Literal["fee-tax"]
    percent: Percentage | None = None


class Rounding(RuleBase):
    """To which unit, and how, an amount is rounded at one step.

    Parameters
    ----------
    of : ids of the taxes it is for, at a step of tax; none: all
    """

    kind: Literal["rounding"]
    step: Literal["duty-base", "duty", "tax-base", "tax"]
    unit: Annotated[Decimal, Field(gt=0)]
    mode: Literal["half-up", "down", "up"]
    of: tuple[Text, ...] = ()


class Preference(RuleBase):
    """Duty of goods that originate in a partner country and come with the proof [%]."""

    kind: Literal["preference"]
    origins: tuple[Country, ...] = Field(min_length=1)
    percent: Percentage
    headings: tuple[Prefix, ...] = ()


class OriginTax(RuleBase):
    """The sales tax of the seller's country.

    Parameters
    ----------
    carried_out : "stays" if a private buyer who carries parts for a vehicle out gets nothing back, "refund" if so
    general_goods : the same for other goods, from a price above `refund_above`
    stays_by, refund_by : ids of the practices behind what becomes of it, which a result then names
    """

    kind: Literal["origin-tax"]
    country: Country
    percent: Percentage | None = None
    prices_include: bool
    carried_out: Literal["stays", "refund"]
    general_goods: Literal["stays", "refund"] = "stays"
    refund_above: Sum = Decimal(0)
    currency: Currency | None = None
    stays_by: str = ""
    refund_by: str = ""


class Exchange(RuleBase):
    """Which rate customs converts at, and which way round the authority prints it.

    Parameters
    ----------
    printed : rates of the day as the authority prints them, by currency
    """

    kind: Literal["exchange"]
    rate_on: Literal["shipment", "entry"]
    fixed_for: Literal["day", "week", "month"] = "day"
    quoted: Literal["home per foreign", "foreign per home"]
    printed: Mapping[Currency, Annotated[Decimal, Field(gt=0, le=10**9)]] = {}

    def rate(self, currency: str) -> Decimal | None:
        """What one unit of a currency is in that of the rules by the printed rates; None if it is not among them."""
        found = self.printed.get(currency)
        return found if found is None or self.quoted == "home per foreign" else 1 / found


class Notice(RuleBase):
    """Something not reckoned that the person must know about goods that come in like this.

    Parameters
    ----------
    above, up_to : the worth of goods it is about, in the currency of the rules
    """

    kind: Literal["notice"]
    headings: tuple[Prefix, ...] = ()
    origins: tuple[Country, ...] = ()
    above: Sum | None = None
    up_to: Sum | None = None


class Practice(RuleBase):
    """A practice that lines refer to, with a value where it has one."""

    kind: Literal["practice"]
    value: Decimal | None = None


Rule = Annotated[
    Valuation
    | DutyRate
    | DutyDefault
    | FlatDuty
    | Surtax
    | Relief
    | ReturningGoods
    | TaxBase
    | Tax
    | SellerCollects
    | Waiver
    | Allowance
    | TravellerFlat
    | Fee
    | FeeTax
    | Rounding
    | Preference
    | OriginTax
    | Exchange
    | Notice
    | Practice,
    Field(discriminator="kind"),
]


class RuleFile(Noun):
    """One jurisdiction's rules.

    Parameters
    ----------
    applies_to : countries it is for, or "*"
    regions : code of each province or state the rules know, and its name
    """

    applies_to: tuple[Destination, ...]
    currency: Currency | None = None
    currencies: Mapping[str, Currency] = {}
    single_market: tuple[Country, ...] = ()
    regions: Mapping[str, str] = {}
    rule: tuple[Rule, ...]

    @model_validator(mode="after")
    def _for_somebody(self) -> RuleFile:
        if not self.applies_to:
            raise ValueError('applies_to names no country; "*" is for all')
        return self
