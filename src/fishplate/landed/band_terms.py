"""What all bands of one supplier and route share, and which rules bear at a value, as plain floats."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from math import inf
from typing import Literal

from ..build.commerce import Route, Supplier
from ..build.money import Money, Rates
from ..build.owner import Owner
from .freight import freight_terms
from .kinds import Fee, Relief, Scope, TravellerFlat
from .model import TravelAllowance
from .route_fees import has_own_fees
from .rules import RuleSet
from .rules_of_day import RulesOfDay
from .seller import Movement, PriceTerms, movement, price_terms, stream_of

DutyKind = Literal["none", "flat", "tariff", "traveller"]


@dataclass(frozen=True, slots=True)
class Regime:
    """Which rules bear on a band.

    Parameters
    ----------
    entry : the carrier's fee for the entry [home currency]
    fee_fixed, fee_share : fees of the rules: fixed, and for one of goods value [home currency, fraction]
    offset : what a lower rate on the first part of the goods takes off [home currency]
    """

    duty: DutyKind
    taxed: bool = True
    at_sale: bool = False
    advance: Literal["none", "minimum", "percent"] = "none"
    free_freight: bool = False
    relief: bool = False
    divided: bool = False
    entry: float = 0.0
    fee_fixed: float = 0.0
    fee_share: float = 0.0
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Due:
    """Duty and tax collected on entry: for one of goods value, for one of freight, and fixed [home currency]."""

    per_value: float
    per_freight: float
    fixed: float

    def at(self, value: float, freight: float) -> float:
        """All of it at a goods value and freight."""
        return self.per_value * value + self.per_freight * freight + self.fixed


@dataclass(frozen=True, slots=True)
class Terms:
    """What all bands of one supplier and route share; factors are floats, money is in home currency.

    Parameters
    ----------
    border, door : transport beside freight that ends at the border, and beyond it; border_foreign, door_foreign : the
        part of each paid in another currency
    entry_steps : worth of goods up to which the carrier asks a fee for the entry, and the fee; the last has no end
    reference_rate : duty that fixed freight pays, and that limits in charges are reckoned with
    """

    supplier: Supplier
    route: Route | None
    owner: Owner
    rules: RulesOfDay
    rates: Rates
    moves: Movement
    markup: float
    advance_share: float
    advance_minimum: float
    entry_steps: tuple[tuple[float, float], ...]
    collect: float
    own_fees: bool
    handling: float
    fee_tax: float
    fuel: float
    freight_fixed: float
    freight_per_kg: float
    freight_foreign: bool
    free_from: Money | None
    border: float
    border_foreign: float
    door: float
    door_foreign: float
    reference_rate: float
    _terms: dict[tuple[bool | None, bool], PriceTerms] = field(default_factory=dict)

    def price(self, tax_included: bool | None, *, at_sale: bool) -> PriceTerms:
        """How the supplier's prices read."""
        key = tax_included, at_sale
        if key not in self._terms:
            self._terms[key] = price_terms(
                self.supplier, self.route, self.owner, self.rules, tax_included, at_sale=at_sale
            )
        return self._terms[key]

    def home(self, amount: Decimal, currency: str) -> float:
        """An amount in home currency."""
        return float(self.rates.convert(Money(amount=amount, currency=currency), self.owner.currency).amount)

    def weight(self, part: str) -> float:
        """What all taxes together take of one of a part: goods, freight, duty, fees."""
        return float(self.rules.tax_weights.get(part, 0))

    @property
    def factor(self) -> float:
        """Customs value for one of the price that counts."""
        return float(self.rules.valuation.factor)

    @property
    def freight(self) -> float:
        """Fixed freight that ends at the border."""
        return self.freight_fixed * (1 + self.fuel) + self.border

    # which rules bear

    def turns(self, *, divided: bool) -> Iterable[float]:
        """Goods values at which a rule may begin or end to bear."""
        rules, factor = self.rules, self.factor
        if self.moves == "carried":
            limits = [(rule.limit, rule.currency) for rule in rules.traveller_flats]
            yield from (self.home(*limit) / self._customs_of_value(at_sale=False) * self.factor for limit in limits)
        for relief in rules.reliefs if self.moves == "sent" and not divided else ():
            yield self._relief_turn(relief)
        if rules.flat is not None:
            yield self.home(rules.flat.limit, rules.flat.currency) / factor
            yield from (self._flat_meets_tariff(at_sale=at_sale) for at_sale in (False, True))
        if rules.seller_collects is not None:
            yield self.home(rules.seller_collects.limit, rules.seller_collects.currency)
        yield from (end / factor for end, _ in self.entry_steps)
        for fee in rules.fees:
            yield from (self.home(limit, fee.currency) / factor for limit in _fee_limits(fee))
        for due in self._dues():
            yield from self._charge_turns(due)

    def _relief_turn(self, relief: Relief) -> float:
        limit = self.home(relief.limit, relief.currency)
        if relief.tested_on == "goods and freight":
            limit -= self.freight + self.door
        if relief.tested_on == "customs value":
            if self.rules.valuation.freight_in_duty_base:
                limit -= self.freight
            return limit / self._customs_of_value(at_sale=False)
        return limit / self.factor

    def _dues(self) -> Iterable[Due]:
        duties: tuple[DutyKind, ...] = ("none", "flat", "tariff", "traveller")
        for duty in duties:
            for taxed in (True, False):
                for at_sale in (True, False):
                    yield self.due(Regime(duty, taxed=taxed, at_sale=at_sale), at_sale=at_sale)

    def _charge_turns(self, due: Due) -> Iterable[float]:
        """Where charges reach the waiver, a percentage for advancing its minimum, a fee of charges its ends."""
        if not due.per_value:
            return
        wanted = []
        if self.rules.waiver is not None:
            wanted.append(self.home(self.rules.waiver.below, self.rules.waiver.currency))
        if self.advance_share:
            wanted.append(self.advance_minimum / self.advance_share)
        for fee in self.rules.fees:
            if fee.percent and fee.of == "charges":
                ends = (fee.minimum, fee.maximum) if fee.maximum is not None else (fee.minimum,)
                wanted += [self.home((end - fee.flat) / fee.percent * 100, fee.currency) for end in ends]
        for amount in wanted:
            for freight in {self.freight, self.border}:
                yield (amount - due.fixed - due.per_freight * freight) / due.per_value

    def regime(self, value: float, *, divided: bool) -> Regime:
        """The rules that bear at a goods value without the seller's tax."""
        if self.moves == "inside":
            return Regime("none", taxed=False, free_freight=self._is_freight_free(value, at_sale=False))
        if self.moves == "carried":
            return self._carried(value)
        at_sale = self._at_sale(value)
        exempt = set() if divided else self._exempt(value)
        flat = self._flat_holds(value)
        duty: DutyKind = "none" if "duty" in exempt else "flat" if flat else "tariff"
        if flat and divided and value > self._flat_meets_tariff(at_sale=at_sale):
            duty = "tariff"
        relief = not divided and (bool(exempt) or flat)
        free = self._is_freight_free(value, at_sale=at_sale)
        plain = Regime(duty, "tax" not in exempt, at_sale, "none", free, relief, divided)
        return self._with_fees(plain, value, exempt)

    def _with_fees(self, plain: Regime, value: float, exempt: set[str]) -> Regime:
        """The regime with what the rules and the carrier ask beside duty and tax."""
        freight = self.border + (0.0 if plain.free_freight else self.freight_fixed * (1 + self.fuel))
        due = self.due(plain, at_sale=plain.at_sale)
        charges = due.at(value, freight)
        duty, taxed, relief = plain.duty, plain.taxed, plain.relief
        waiver = self.rules.waiver
        if waiver is not None and not plain.divided and 0 < charges < self.home(waiver.below, waiver.currency):
            duty = "none" if "duty" in waiver.of else duty
            taxed = taxed and "tax" not in waiver.of
            charges, due, relief = 0.0, Due(0, 0, 0), True
            exempt = {*exempt, "fees"}
        fixed = share = 0.0
        for fee in () if "fees" in exempt else self.rules.fees:
            worth = self._fee_worth(value, divided=plain.divided)
            if self._is_asked(fee, worth, charges):
                one, per_value = self._fee(fee, value, worth, freight, due)
                fixed, share = fixed + one, share + per_value
        advance: Literal["none", "minimum", "percent"] = "none"
        if charges and (self.advance_share or self.advance_minimum):
            advance = "percent" if charges * self.advance_share > self.advance_minimum else "minimum"
        return Regime(
            duty, taxed, plain.at_sale, advance, plain.free_freight, relief, plain.divided,
            self._entry(value), round(fixed, 9), round(share, 12),
        )  # fmt: skip

    def _entry(self, value: float) -> float:
        """The carrier's fee for the entry of goods of a value."""
        worth = value * self.factor
        return next((fee for end, fee in self.entry_steps if worth <= end), 0.0)

    def _fee_worth(self, value: float, *, divided: bool) -> float:
        """What steps and limits of fees are compared with; a divided order pays those of a whole one."""
        begin = self.rules.fees_begin if divided else None
        worth = value * self.factor
        return worth if begin is None else max(worth, self.home(*begin))

    def _is_asked(self, fee: Fee, worth: float, charges: float) -> bool:
        above = -inf if fee.above is None else self.home(fee.above, fee.currency)
        up_to = inf if fee.up_to is None else self.home(fee.up_to, fee.currency)
        own = fee.by != "authority" and self.own_fees
        return above < worth <= up_to and not own and (fee.when == "always" or charges > 0)

    def _fee(self, fee: Fee, value: float, worth: float, freight: float, due: Due) -> tuple[float, float]:
        """What a fee is here: fixed, and for one of goods value; `worth` is what its steps go by."""
        share = float(fee.percent) / 100
        fixed, per_value = self.home(fee.flat, fee.currency), share * self.factor
        if fee.of == "charges":
            fixed += share * (due.per_freight * freight + due.fixed)
            per_value = share * due.per_value
        elif fee.of == "goods and freight":
            fixed += share * (freight + self.door)
        fixed += self._tier(fee, worth)
        amount = fixed + per_value * value
        if amount < self.home(fee.minimum, fee.currency):
            fixed, per_value = self.home(fee.minimum, fee.currency), 0.0
        if fee.maximum is not None and amount > self.home(fee.maximum, fee.currency):
            fixed, per_value = self.home(fee.maximum, fee.currency), 0.0
        taxed = 1 + float(fee.tax_percent) / 100
        return fixed * taxed, per_value * taxed

    def _tier(self, fee: Fee, worth: float) -> float:
        if not fee.tiers:
            return 0.0
        one = self.home(Decimal(1), fee.currency)
        there = Decimal(str(worth / one))
        tier = next((tier for tier in fee.tiers if tier.holds(there)), None)
        if tier is not None:
            return float(tier.fee) * one
        last = fee.tiers[-1]
        steps = -((last.to or last.below or 0) - there) // fee.beyond_each if fee.beyond_each else Decimal(-1)
        return float(last.fee + (steps + 1) * fee.beyond_fee) * one

    def _at_sale(self, value: float) -> bool:
        rule = self.rules.seller_collects
        collects = self.supplier.collects_import_tax and rule is not None
        return collects and rule is not None and value <= self.home(rule.limit, rule.currency)

    def _exempt(self, value: float) -> set[str]:
        return {
            charge
            for relief in self.rules.reliefs
            if relief.exceeded == "whole" and value <= self._relief_turn(relief)
            for charge in relief.exempts
        }

    def _flat_holds(self, value: float) -> bool:
        rule = self.rules.flat
        return rule is not None and value * self.factor <= self.home(rule.limit, rule.currency)

    def _flat_meets_tariff(self, *, at_sale: bool) -> float:
        rule = self.rules.flat
        if rule is None or self.reference_rate == 0:
            return inf
        freight = self.freight if self.rules.valuation.freight_in_duty_base else 0.0
        value = self.home(rule.amount, rule.currency) / self.reference_rate - freight
        return value / self._customs_of_value(at_sale=at_sale)

    def _customs_of_value(self, *, at_sale: bool) -> float:
        """Customs value for one of the goods value that bands are parted by."""
        price = self.price(None, at_sale=at_sale)
        return float(price.customs / price.intrinsic) * self.factor

    def _is_freight_free(self, value: float, *, at_sale: bool) -> bool:
        if self.free_from is None:
            return False
        offered = self.home(self.free_from.amount, self.free_from.currency)
        return value > offered * float(self.price(None, at_sale=at_sale).intrinsic) - 1e-9

    def _carried(self, value: float) -> Regime:
        free = self._is_freight_free(value, at_sale=False)
        rule = self._traveller_flat()
        if rule is None or not self.owner.private_person or (rule.exceeded == "band" and not self.reference_rate):
            return Regime("tariff", free_freight=free)
        limit = self.home(rule.limit, rule.currency) / self._customs_of_value(at_sale=False) * self.factor
        if value <= limit:
            return Regime("traveller", "tax" not in rule.covers, free_freight=free)
        if rule.exceeded == "whole":
            return Regime("tariff", free_freight=free)
        less = self.traveller_rate - self.reference_rate
        offset = less * self.home(rule.limit, rule.currency) * (1 + self.weight("duty"))
        return Regime("tariff", free_freight=free, offset=offset)

    def _traveller_flat(self) -> TravellerFlat | None:
        """The flat rate for what the owner carries after a day away; longer trips are left to the itemised cost."""
        usual = TravelAllowance().absence_hours
        return next((rule for rule in self.rules.traveller_flats if rule.absence_hours <= usual), None)

    # what they cost

    @property
    def traveller_rate(self) -> float:
        """The flat rate for goods the owner carries; the tariff's where there is none."""
        rule = self._traveller_flat()
        return float(rule.percent) / 100 if rule is not None else self.reference_rate

    def due(self, regime: Regime, *, at_sale: bool) -> Due:
        """Duty and tax collected on entry in a regime, at the reference rate."""
        rate = self.traveller_rate if regime.duty == "traveller" else self.reference_rate
        per_value, per_freight = self.due_shares(regime, rate)
        beyond = self.door * self.weight("freight") if regime.taxed and not regime.at_sale else 0.0
        return Due(per_value * self._customs_of_value(at_sale=at_sale), per_freight, self.flat_due(regime) + beyond)

    def due_shares(self, regime: Regime, rate: float) -> tuple[float, float]:
        """Duty and tax collected on entry, for one of customs value and one of freight to the border."""
        duty_value = rate if regime.duty in ("tariff", "traveller") else 0.0
        duty_freight = duty_value if self.rules.valuation.freight_in_duty_base else 0.0
        if not regime.taxed or regime.at_sale:
            return duty_value, duty_freight
        on_duty = 1 + self.weight("duty")
        return duty_value * on_duty + self.weight("goods"), duty_freight * on_duty + self.weight("freight")

    def flat_due(self, regime: Regime) -> float:
        """Flat duty of one heading with the tax on it."""
        rule = self.rules.flat
        if regime.duty != "flat" or rule is None:
            return 0.0
        taxed = self.weight("duty") if regime.taxed and not regime.at_sale else 0.0
        return self.home(rule.amount, rule.currency) * (1 + taxed)

    def advancing(self, regime: Regime) -> float:
        """What advancing adds to each of duty and tax, its own tax included."""
        return 1 + (self.advance_share * (1 + self.fee_tax) if regime.advance == "percent" else 0.0)

    def _on_fees(self, regime: Regime) -> float:
        """Import tax on fees of entry, where they are in its base, advanced like the rest."""
        due = regime.taxed and not regime.at_sale and self.moves == "sent"
        return self.weight("fees") * self.advancing(regime) if due else 0.0

    def fixed(self, regime: Regime) -> float:
        """What a consignment costs whatever it holds, freight and flat duty apart."""
        collect = 0.0 if regime.free_freight else self.collect
        if self.moves == "inside":
            return self.handling + collect
        if self.moves == "carried":
            return self.handling + regime.offset
        minimum = self.advance_minimum if regime.advance == "minimum" else 0.0
        carrier = (regime.entry + collect + minimum) * (1 + self.fee_tax)
        in_base = regime.fee_fixed + regime.entry if regime.advance != "none" or regime.taxed else 0.0
        return carrier + regime.fee_fixed + in_base * self._on_fees(regime)

    def fixed_freight(self, regime: Regime) -> float:
        """Fixed freight and transport beside it, with the charges on them."""
        foreign = self.supplier.currency != self.owner.currency
        price = self.price(None, at_sale=regime.at_sale)
        rate = self.traveller_rate if regime.duty == "traveller" else self.reference_rate
        per = self.freight_factor(regime, price, rate, foreign=foreign)
        fixed = 0.0 if regime.free_freight else per * self.freight_fixed
        return fixed + self._beside(regime, price, rate, foreign=foreign)

    def _beside(self, regime: Regime, price: PriceTerms, rate: float, *, foreign: bool) -> float:
        """Pallet, tail lift and the like, with the charges on them."""
        taxed = float(price.paid) if price.freight_taxed else 1.0
        paid = (self.border + self.door + self.markup * (self.border_foreign + self.door_foreign)) * taxed
        if self.moves == "inside":
            return paid
        _, due = self.due_shares(regime, rate)
        tax_only = self.weight("freight") if regime.taxed and not regime.at_sale else 0.0
        by_seller = self._at_sale_tax(regime, price, "freight") * (self.border + self.door)
        by_seller *= 1 + (self.markup if foreign else 0.0)
        return paid + by_seller + (self.border * due + self.door * tax_only) * self.advancing(regime)

    def _at_sale_tax(self, regime: Regime, price: PriceTerms, part: str) -> float:
        return self.weight(part) if regime.at_sale and not price.at_sale else 0.0

    def price_factor(self, regime: Regime, price: PriceTerms, rate: float, *, foreign: bool) -> float:
        """Cost at the door for one of offered price, in the same currency."""
        due, _ = self.due_shares(regime, rate)
        customs = float(price.customs) * self.factor
        by_seller = self._at_sale_tax(regime, price, "goods") * customs
        paid = (float(price.paid) + by_seller) * (1 + (self.markup if foreign else 0.0))
        if self.moves == "inside":
            return float(price.paid) * (1 + (self.markup if foreign else 0.0))
        fees = regime.fee_share * float(price.intrinsic) * (1 + self._on_fees(regime))
        return paid + customs * due * self.advancing(regime) + fees

    def freight_factor(self, regime: Regime, price: PriceTerms, rate: float, *, foreign: bool) -> float:
        """Cost at the door for one of freight before fuel."""
        _, due = self.due_shares(regime, rate)
        taxed = float(price.paid) if price.freight_taxed else 1.0
        by_seller = self._at_sale_tax(regime, price, "freight")
        if self.moves == "inside":
            due, by_seller = 0.0, 0.0
        markup = self.markup if self.freight_foreign else 0.0
        sale_markup = self.markup if foreign else 0.0
        per = taxed * (1 + markup) + by_seller * (1 + sale_markup) + due * self.advancing(regime)
        return (1 + self.fuel) * per

    def factors(
        self,
        regime: Regime,
        currency: str,
        heading: str | None,
        origin: str | None,
        tax_included: bool | None,
        proof: bool,
    ) -> tuple[float, float]:
        """Cost for one of price in a currency, and for one kilogram."""
        rate = float(sum(part.share for part in self.rules.burden(heading, origin, proof=proof)))
        flat = self._traveller_flat()
        if regime.duty == "traveller" and flat is not None and (rate or flat.exceeded == "whole"):
            rate = self.traveller_rate
        price = self.price(tax_included, at_sale=regime.at_sale)
        foreign = currency != self.owner.currency
        per_price = self.price_factor(regime, price, rate, foreign=foreign)
        per_kg = self.freight_factor(regime, price, rate, foreign=foreign) * self.freight_per_kg
        return self.home(Decimal(1), currency) * per_price, 0.0 if regime.free_freight else per_kg


def _fee_limits(fee: Fee) -> Iterable[Decimal]:
    """Goods values at which a fee begins, ends, steps, or reaches its minimum or maximum."""
    yield from (limit for limit in (fee.above, fee.up_to) if limit is not None)
    for tier in fee.tiers:
        yield from (end for end in (tier.to, tier.below) if end is not None)
    if fee.tiers and fee.beyond_each:
        last = fee.tiers[-1].to or fee.tiers[-1].below or Decimal(0)
        yield from (last + place * fee.beyond_each for place in range(1, 11))
    if fee.percent and fee.of != "charges":
        yield from ((end - fee.flat) / fee.percent * 100 for end in (fee.minimum, fee.maximum) if end)


def terms_of(
    supplier: Supplier,
    route: Route | None,
    owner: Owner,
    rules: RuleSet,
    rates: Rates,
    day: date,
    headings: Collection[str | None],
    origins: Collection[str | None],
) -> Terms:
    """What all bands of a supplier and route share on a day."""
    start = route.from_country if route is not None else supplier.country
    of_day = rules.on(day, Scope(stream_of(route), owner.private_person, start, owner.region))

    def home(money: Money | None) -> float:
        return 0.0 if money is None else float(rates.convert(money, owner.currency).amount)

    freight = freight_terms(supplier, route)
    markup = owner.card_markup_percent
    if markup is None:
        markup = float(of_day.practice("general.card_markup").value or 0)
    burdens = [
        sum(part.share for part in of_day.burden(heading, origin))
        for heading in headings or (None,)
        for origin in origins or (None,)
    ]
    kind = "courier" if route is None else route.kind
    sent = route is not None and kind != "collection"
    border, border_foreign = _beside(route, owner, home, ("handling", "pallet"))
    door, door_foreign = _beside(route, owner, home, ("tail_lift", "residential"))
    return Terms(
        supplier, route, owner, of_day, rates,
        moves=movement(supplier, route, of_day),
        markup=markup / 100,
        advance_share=route.advance_percent / 100 if route is not None and sent else 0.0,
        advance_minimum=home(route.advance_minimum) if route is not None and sent else 0.0,
        entry_steps=_entry_steps(route, home) if route is not None and sent else (),
        collect=home(route.collect_fee) if route is not None and sent and freight and freight.collect else 0.0,
        own_fees=has_own_fees(route),
        handling=home(route.handling) if route is not None and kind == "collection" else 0.0,
        fee_tax=_fee_tax(of_day),
        fuel=0.0 if route is None else route.fuel_percent / 100,
        freight_fixed=home(freight.fixed) if freight else 0.0,
        freight_per_kg=home(freight.per_kg) if freight else 0.0,
        freight_foreign=freight is not None and freight.fixed.currency != owner.currency,
        free_from=freight.free_from if freight else None,
        border=border, border_foreign=border_foreign, door=door, door_foreign=door_foreign,
        reference_rate=float(max(burdens)),
    )  # fmt: skip


def _entry_steps(route: Route, home: Callable[[Money | None], float]) -> tuple[tuple[float, float], ...]:
    if not route.entry_steps:
        return ((inf, home(route.entry_fee)),)
    return tuple((inf if step.up_to is None else home(step.up_to), home(step.fee)) for step in route.entry_steps)


def _fee_tax(rules: RulesOfDay) -> float:
    rule = rules.fee_tax
    if rule is None:
        return 0.0
    return float(rules.tax_share) if rule.percent is None else float(rule.percent) / 100


def _beside(
    route: Route | None, owner: Owner, home: Callable[[Money | None], float], names: tuple[str, ...]
) -> tuple[float, float]:
    """Transport charges beside freight in home currency, and the part of them in another currency."""
    if route is None or route.kind == "collection":
        return 0.0, 0.0
    monies: list[Money | None] = [getattr(route, name) for name in names]
    foreign = sum(home(money) for money in monies if money is not None and money.currency != owner.currency)
    return sum(home(money) for money in monies), foreign
