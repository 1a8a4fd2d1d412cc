"""Who sells what, for how much, and how it comes home."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from .base import Country, Id, Note, NotNegative, Noun, Percent, Positive, Share, Text, ThreePoint
from .money import Currency, Money


class FreightTerms(Noun):
    """What a supplier charges for freight per order on one route.

    Parameters
    ----------
    fixed : per order; per_kg : per kilogram of the order
    free_from : order value (goods, seller's currency) from which freight is free
    collect : freight is paid to the carrier on arrival, not to the seller beforehand
    """

    route: Id
    fixed: Money
    per_kg: Money | None = None
    free_from: Money | None = None
    collect: bool = False


class Supplier(Noun):
    """A seller of parts.

    Parameters
    ----------
    origin_tax : what happens to the seller's own sales tax when goods leave the country:
        "charged" it stays in the price; "taken-off" the seller exports and sells without it;
        "refund" the buyer can claim it back; "none" prices carry no tax
    craft : a one-person or made-to-order shop, whose quoted lead times slip further
    claim_days : days from receipt within which damage or a wrong count must be reported
    minimum_order : goods of an order must be worth so much, without the seller's tax
    """

    id: Id
    name: Text
    country: Country
    currency: Currency
    freight: tuple[FreightTerms, ...] = ()
    minimum_order: Money | None = None
    origin_tax: Literal["charged", "taken-off", "refund", "none"] | None = None
    collects_import_tax: bool = False
    craft: bool = False
    claim_days: Annotated[int, Field(ge=0, le=3650)] | None = None
    note: Note = ""


ReturnEnd = Literal["opened", "offered-up", "bolted", "electrical", "altered"]


class ReturnTerms(Noun):
    """When and at what cost a part can go back.

    Parameters
    ----------
    days : days from receipt; 0 means it cannot go back
    ended_by : what ends the right before the days are over
    restocking_percent : share of the price the seller keeps [%]
    freight_back : what sending it back costs the owner
    """

    days: int = Field(ge=0, le=3650)
    ended_by: tuple[ReturnEnd, ...] = ()
    restocking_percent: Percent = 0
    freight_back: Money | None = None


class PriceBreak(Noun):
    """The price of one where so many are bought in one order.

    Parameters
    ----------
    units : how many packs or kits of the offer, at least; price : of each of them
    """

    units: int = Field(ge=2, le=100_000)
    price: Money

    @field_validator("price")
    @classmethod
    def _not_negative(cls, price: Money) -> Money:
        if price.amount < 0:
            raise ValueError("a price cannot be below zero")
        return price


class Offer(Noun):
    """A part or kit from a supplier at a price.

    Parameters
    ----------
    price : for `pack` units of the part, or one kit
    breaks : what each costs where more are bought at once
    tax_included : whether the price carries the seller's own sales tax; None: not known
    proof_of_origin : the seller sends a proof of origin with it, so that a lower duty can be claimed
    lead_weeks : from order to dispatch or readiness [weeks]
    deposit_percent : paid with the order; the rest on dispatch [%]
    seen : day the price was seen
    price_until : last day the seller stands by the price
    core_days : days from receipt within which the old part must be back
    warranty_months, warranty_from : how long it is warranted, and from when
    """

    id: Id
    supplier: Id
    part: Id | None = None
    kit: Id | None = None
    price: Money
    pack: Positive = 1
    breaks: tuple[PriceBreak, ...] = ()
    tax_included: bool | None = None
    proof_of_origin: bool = False
    lead_weeks: ThreePoint | None = None
    returns: ReturnTerms | None = None
    core_charge: Money | None = None
    core_days: Annotated[int, Field(ge=0, le=3650)] | None = None
    warranty_months: Annotated[int, Field(ge=0, le=1200)] | None = None
    warranty_from: Literal["receipt", "fitting", "order"] = "receipt"
    deposit_percent: Percent = 0
    seen: date | None = None
    available_from: date | None = None
    available_until: date | None = None
    price_until: date | None = None
    made_to_order: bool = False
    note: Note = ""
    source: str = ""

    @model_validator(mode="after")
    def _one_thing(self) -> Offer:
        if (self.part is None) == (self.kit is None):
            raise ValueError("an offer is for one part or one kit")
        if self.price.amount < 0:
            raise ValueError("a price cannot be below zero")
        if any(each.price.currency != self.price.currency for each in self.breaks):
            raise ValueError("the prices of one offer are in one currency")
        if len({each.units for each in self.breaks}) < len(self.breaks):
            raise ValueError("there are two prices for the same number")
        return self


class FixedChoice(Noun):
    """What the owner wants bought, or will not buy, whatever the plan would choose.

    Parameters
    ----------
    part, offer : what it is about: a part by whichever offer, or one offer
    wanted : that it be bought so; otherwise it is not to be
    first, last : days between which it is ordered, or is not; either may be open
    """

    id: Id
    part: Id | None = None
    offer: Id | None = None
    wanted: bool = True
    first: date | None = None
    last: date | None = None
    why: Note = ""

    @model_validator(mode="after")
    def _one_thing(self) -> FixedChoice:
        if (self.part is None) == (self.offer is None):
            raise ValueError("a choice is about one part or one offer")
        if self.part is not None and self.first is None and self.last is None:
            raise ValueError("a choice about a part says between which days it is ordered")
        if self.first is not None and self.last is not None and self.last < self.first:
            raise ValueError("the last day is before the first")
        return self


class Sighting(Noun):
    """A price seen on a day."""

    offer: Id
    day: date
    price: Money
    sale: bool = False
    note: Note = ""

    @field_validator("price")
    @classmethod
    def _not_negative(cls, price: Money) -> Money:
        if price.amount < 0:
            raise ValueError("a price cannot be below zero")
        return price


class PriceChange(Noun):
    """A rise or fall that was announced, for one offer, a supplier or a category of one supplier."""

    id: Id
    day: date
    percent: float = Field(ge=-100, le=1000)
    offer: Id | None = None
    supplier: Id | None = None
    category: str = ""
    note: Note = ""

    @model_validator(mode="after")
    def _has_scope(self) -> PriceChange:
        if self.offer is None and self.supplier is None and not self.category:
            raise ValueError("a price change names an offer, a supplier or a category")
        return self


class SaleWindow(Noun):
    """A sale the owner expects: when, how deep, how likely.

    Parameters
    ----------
    depth_percent : reduction low / likely / high [%]
    chance : that it happens at all
    excluded : categories the sale leaves out
    yearly : it may come again every year on the same days, with the same chance each time
    """

    id: Id
    supplier: Id
    first: date
    last: date
    depth_percent: ThreePoint
    chance: Share
    excluded: tuple[str, ...] = ()
    yearly: bool = False
    note: Note = ""

    @model_validator(mode="after")
    def _ordered(self) -> SaleWindow:
        if self.last < self.first:
            raise ValueError("the last day is before the first")
        if self.depth_percent.high > 100:
            raise ValueError("a sale cannot take off more than 100 percent")
        return self


class FitConfirmation(Noun):
    """A supplier's written word that an offer fits this vehicle.

    Parameters
    ----------
    takes_back : it comes back at the supplier's cost if it does not fit
    paper : name of an attachment
    """

    offer: Id
    day: date
    takes_back: bool = False
    paper: str = ""
    note: Note = ""


class Enquiry(Noun):
    """Questions put to a supplier, and what came back.

    Parameters
    ----------
    parts : what is wanted; offers : what was offered for it
    """

    id: Id
    supplier: Id
    parts: tuple[Id, ...] = ()
    sent: date | None = None
    questions: tuple[Text, ...] = ()
    answered: date | None = None
    answer: Note = ""
    offers: tuple[Id, ...] = ()
    confirmations: tuple[FitConfirmation, ...] = ()


class FeeStep(Noun):
    """A step of a carrier's table: what it asks for goods worth up to so much; without an end, for all above."""

    up_to: Money | None = None
    fee: Money


class Route(Noun):
    """A way home for goods.

    Parameters
    ----------
    kind : "courier" and "post" bring it to the door; "freight" does on a pallet; "delivery" is the seller's own;
        "forwarder" takes it in abroad and sends it on; "collection" waits at a depot abroad to be fetched
    from_country : where the goods travel from on this route (the depot's country for a collection)
    weeks : travel time [weeks]
    advance_percent, advance_minimum : carrier's charge for advancing duty and tax
    entry_fee : carrier's charge for the customs entry, per consignment
    entry_steps : the same by steps of the goods' worth, in order; the last has no end
    fuel_percent : fuel surcharge on freight [%]
    handling : charge of depot, forwarder or carrier per consignment received
    max_mass_kg, max_length_mm, max_girth_mm : what it takes; girth is length and twice width and height together
    volumetric_cm3_per_kg : the carrier's divisor: volume that counts as one kilogram [cm³/kg]
    mass_step_kg : mass is charged up to the next whole step [kg]
    pallet, tail_lift, residential : charges for pallet and packing, a tail lift, delivery to a private address
    collect_fee : the carrier's charge for freight paid on arrival
    open_weekdays : days a depot is open, Monday 1 to Sunday 7; none: every day
    storage_free_days, storage_per_day : how long a depot keeps goods free, and its charge for each day after
    """

    id: Id
    name: Text
    kind: Literal["courier", "collection", "post", "freight", "forwarder", "delivery"]
    from_country: Country
    weeks: ThreePoint | None = None
    advance_percent: Percent = 0
    advance_minimum: Money | None = None
    entry_fee: Money | None = None
    entry_steps: tuple[FeeStep, ...] = ()
    fuel_percent: Percent = 0
    handling: Money | None = None
    max_mass_kg: Positive | None = None
    max_length_mm: Positive | None = None
    max_girth_mm: Positive | None = None
    volumetric_cm3_per_kg: Positive | None = None
    mass_step_kg: NotNegative = 0
    pallet: Money | None = None
    tail_lift: Money | None = None
    residential: Money | None = None
    collect_fee: Money | None = None
    open_weekdays: tuple[Annotated[int, Field(ge=1, le=7)], ...] = ()
    storage_free_days: Annotated[int, Field(ge=0, le=3650)] | None = None
    storage_per_day: Money | None = None
    fees_as_of: date | None = None
    note: Note = ""

    @field_validator("entry_steps")
    @classmethod
    def _one_table(cls, steps: tuple[FeeStep, ...], known: ValidationInfo) -> tuple[FeeStep, ...]:
        if not steps:
            return steps
        ends = [step.up_to for step in steps]
        closed = [end for end in ends if end is not None]
        if known.data.get("entry_fee") is not None:
            raise ValueError("the customs entry is charged by one figure or by steps of worth, not both")
        if None in ends[:-1] or ends[-1] is not None:
            raise ValueError("the last step of the customs entry, and only the last, has no end")
        if len({end.currency for end in closed}) > 1:
            raise ValueError("the steps of the customs entry end in one currency")
        amounts = [end.amount for end in closed]
        if amounts != sorted(set(amounts)) or any(amount < 0 for amount in amounts):
            raise ValueError("each step of the customs entry ends above the one before")
        if any(step.fee.amount < 0 for step in steps):
            raise ValueError("a fee cannot be below zero")
        return steps


class Collection(Noun):
    """A trip to fetch goods from a depot abroad.

    Parameters
    ----------
    day : when the owner is at the depot
    distance_km : there and back [km]; per_km : cost of driving one kilometre
    ferry, tolls : money; hours : the owner's own hours for the trip [h]
    capacity_kg, capacity_m3, longest_mm : mass [kg], volume [m³] and longest piece [mm] that the vehicle or trailer
        carries
    absence_hours : time abroad, which allowances depend on [h]
    travel : how the border is crossed, which allowances depend on; None: by sea if there is a ferry, else not known
    persons : of the owner's own household who come along; they count only where a rule of the country says so
    decided : the trip is made whatever the plan says (its fixed cost is then spent already)
    """

    id: Id
    route: Id
    day: date
    place: str = ""
    distance_km: NotNegative = 0
    per_km: Money | None = None
    ferry: Money | None = None
    tolls: Money | None = None
    hours: NotNegative = 0
    capacity_kg: Positive | None = None
    capacity_m3: Positive | None = None
    longest_mm: Positive | None = None
    absence_hours: NotNegative = 24
    travel: Literal["air-sea", "land", "private-craft"] | None = None
    persons: Annotated[int, Field(ge=1, le=9)] = 1
    storage_weeks: Positive = 8
    decided: bool = False
    note: Note = ""


class Stage(Noun):
    """A payment to a workshop against a stage of its work; shows : what its photo must show."""

    name: Text
    amount: Money
    shows: Note = ""


class Workshop(Noun):
    """An outside shop that does work the owner sends out.

    Parameters
    ----------
    queue_weeks, work_weeks : waiting before, and time for the work [weeks]
    booked_on, began_on : day it was given the work, and day it began
    withdraw_on : day to take the work elsewhere if it has not begun
    stages : what is paid when
    """

    id: Id
    name: Text
    country: Country = "NL"
    queue_weeks: ThreePoint | None = None
    work_weeks: ThreePoint | None = None
    booked_on: date | None = None
    began_on: date | None = None
    withdraw_on: date | None = None
    stages: tuple[Stage, ...] = ()
    note: Note = ""


class RateQuote(Noun):
    """An exchange rate the owner entered: home-currency units for one unit of `currency`."""

    currency: Currency
    rate: Positive
    day: date
    source: Text


class RuleOverride(Noun):
    """A customs rate or fee the owner sets in place of the rule's, with own source and date."""

    rule: Text
    value: float
    source: Text
    day: date
