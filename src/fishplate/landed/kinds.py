"""The kinds of rule there are: what each says, and which values it must have."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field, model_validator

from ..build.base import Country, Note, Noun, Text
from ..build.money import Currency

Percentage = Annotated[Decimal, Field(ge=0, le=1000)]
Sum = Annotated[Decimal, Field(ge=0, le=10**9)]
Charged = Literal["goods", "freight", "duty"]
OLD_AFTER_DAYS = 366


class RuleBase(Noun):
    """What every rule carries. Fields named by `primary` are what an override replaces."""

    id: Text
    valid_from: date | None = None
    valid_to: date | None = None
    as_of: date | None = None
    source: Text
    url: str = ""
    status: Literal["published", "published-secondary", "from memory", "common practice", "owner"]
    note: Note = ""

    def holds_on(self, day: date) -> bool:
        """Whether the day lies within the rule's validity."""
        return (self.valid_from is None or self.valid_from <= day) and (self.valid_to is None or day <= self.valid_to)

    def doubt_on(self, day: date) -> str | None:
        """Why the rule should be checked before it is relied on; None if there is no reason."""
        if not self.holds_on(day):
            span = f"since {self.valid_to}" if self.valid_to and self.valid_to < day else f"until {self.valid_from}"
            return f"{self.id}: out of validity {span}; used for want of another"
        if self.status in ("owner", "common practice"):
            return None
        if self.as_of is None:
            return f"{self.id}: undated ({self.status})"
        if (day - self.as_of).days > OLD_AFTER_DAYS:
            return f"{self.id}: last checked {self.as_of}, over a year before ({self.status})"
        return None


class Valuation(RuleBase):
    """What the customs value holds: CIF with freight to the border, FOB without."""

    kind: Literal["valuation"]
    freight_in_duty_base: bool
    factor: Percentage = Decimal(1)


class DutyRate(RuleBase):
    """Duty of a tariff heading [% of customs value]."""

    kind: Literal["duty-rate"]
    heading: Annotated[str, Field(pattern=r"^[0-9]{2,10}$")]
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
    private_only: bool = True


class Relief(RuleBase):
    """Freedom from charges up to a limit.

    exceeded: "whole" taxes everything above the limit, "excess" only what exceeds it, "item" the items that do not fit
    """

    kind: Literal["relief"]
    limit: Sum
    currency: Currency
    tested_on: Literal["goods", "goods and freight"] = "goods"
    exempts: tuple[Literal["duty", "tax"], ...]
    exceeded: Literal["whole", "excess", "item"] = "whole"
    inclusive: bool = True


class TaxBase(RuleBase):
    """What import tax is charged on, beside the goods."""

    kind: Literal["tax-base"]
    on: tuple[Charged, ...]


class Tax(RuleBase):
    """Import tax [%] of a member, or of the whole jurisdiction."""

    kind: Literal["tax"]
    percent: Percentage
    member: Country | None = None


class SellerCollects(RuleBase):
    """Up to which value a registered seller may collect the import tax at the sale."""

    kind: Literal["seller-collects"]
    limit: Sum
    currency: Currency


class Waiver(RuleBase):
    """Duty and tax that together stay below an amount are not collected."""

    kind: Literal["waiver"]
    below: Sum
    currency: Currency


class Allowance(RuleBase):
    """What a traveller may bring free of duty and tax, per person and trip."""

    kind: Literal["allowance"]
    amount: Sum
    currency: Currency
    travel: Literal["air-sea", "land", "any"] = "any"
    exceeded: Literal["whole", "excess", "item"]
    absence_hours: Sum = Decimal(0)


class TravellerFlat(RuleBase):
    """One duty rate [%] for all goods a traveller carries, up to a limit."""

    kind: Literal["traveller-flat"]
    percent: Percentage
    limit: Sum
    currency: Currency


class Tier(Noun):
    """A step of a fee table; `to` is the highest value of the step, None for no end."""

    to: Sum | None = None
    fee: Sum


class Fee(RuleBase):
    """A fee of authority or carrier: flat, by percent of charges or goods, by steps of the goods' value."""

    kind: Literal["fee"]
    label: Text
    currency: Currency
    flat: Sum = Decimal(0)
    percent: Percentage = Decimal(0)
    of: Literal["charges", "goods"] = "charges"
    minimum: Sum = Decimal(0)
    maximum: Sum | None = None
    tiers: tuple[Tier, ...] = ()
    when: Literal["always", "charges due"] = "always"
    tax_percent: Percentage = Decimal(0)


class FeeTax(RuleBase):
    """Tax on the carrier's own fees [%]; without a percentage, the import tax rate."""

    kind: Literal["fee-tax"]
    percent: Percentage | None = None


class Rounding(RuleBase):
    """To which unit, and how, an amount is rounded at one step."""

    kind: Literal["rounding"]
    step: Literal["duty", "tax", "total"]
    unit: Annotated[Decimal, Field(gt=0)]
    mode: Literal["half-up", "down", "up"]


class Preference(RuleBase):
    """Duty of goods that originate in a partner country and come with the proof [%]."""

    kind: Literal["preference"]
    origins: tuple[Country, ...]
    percent: Percentage


class OriginTax(RuleBase):
    """The sales tax of the seller's country.

    carried_out: "stays" if a private buyer who carries parts out gets nothing back, "refund" if the buyer does
    """

    kind: Literal["origin-tax"]
    country: Country
    percent: Percentage | None = None
    prices_include: bool
    carried_out: Literal["stays", "refund"]


class Practice(RuleBase):
    """A practice that lines refer to, with a value where it has one."""

    kind: Literal["practice"]
    value: Decimal | None = None


Rule = Annotated[
    Valuation
    | DutyRate
    | DutyDefault
    | FlatDuty
    | Relief
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
    | Practice,
    Field(discriminator="kind"),
]


class RuleFile(Noun):
    applies_to: tuple[str, ...]
    currency: Currency | None = None
    currencies: Mapping[str, Currency] = {}
    single_market: tuple[Country, ...] = ()
    rule: tuple[Rule, ...]
