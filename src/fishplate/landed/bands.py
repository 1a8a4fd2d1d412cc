"""The landed cost as a linear model for choosing purchases: bands of goods value, each with fixed and unit cost.

A band agrees with the itemised cost to the cent where all goods of a consignment pay one duty rate and its charge for
advancing stays on the band's side of the minimum. Where it bends: fixed freight pays duty at one reference rate, the
minimum for advancing is crossed at a value reckoned with that rate and without freight by mass, in a band with a flat
duty per heading every further heading adds `per_heading`, and where a divided order pays the dearer of flat duty and
tariff they are taken to meet for one heading. Fees by steps and waivers are left to the itemised
cost, as is the travel allowance, which is one for a whole trip.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from math import inf
from typing import Literal

from ..build.commerce import Route, RuleOverride, Supplier
from ..build.errors import Refused
from ..build.money import Money, Rates
from ..build.owner import Owner
from .charges import flat_items
from .freight import freight_terms, route_problem
from .rules import RuleSet, RulesOfDay
from .seller import PriceTerms, movement, price_terms

CENT = 0.01


@dataclass(frozen=True, slots=True)
class BandUnits:
    """So many units at one price, for `ChargeBand.total`; mass_kg is of one unit [kg]."""

    price: Money
    quantity: float = 1
    mass_kg: float | None = None
    heading: str | None = None
    origin: str | None = None
    tax_included: bool | None = None


@dataclass(frozen=True, slots=True)
class _Regime:
    """Which rules bear on a band."""

    duty: Literal["none", "flat", "tariff", "traveller"]
    taxed: bool = True
    at_sale: bool = False
    advance: Literal["none", "minimum", "percent"] = "none"
    free_freight: bool = False
    relief: bool = False


@dataclass(frozen=True, slots=True)
class _Terms:
    """What all bands of one supplier and route share; factors are floats, money is in home currency."""

    supplier: Supplier
    route: Route | None
    owner: Owner
    rules: RulesOfDay
    rates: Rates
    moves: str
    tax: float
    markup: float
    advance_share: float
    advance_minimum: float
    entry: float
    handling: float
    fee_tax: float
    fuel: float
    freight_fixed: float
    freight_per_kg: float
    freight_foreign: bool
    reference_rate: float
    _terms: dict[tuple[bool | None, bool], PriceTerms] = field(default_factory=dict)

    def price(self, tax_included: bool | None, *, at_sale: bool) -> PriceTerms:
        key = tax_included, at_sale
        if key not in self._terms:
            self._terms[key] = price_terms(
                self.supplier, self.route, self.owner, self.rules, tax_included, at_sale=at_sale
            )
        return self._terms[key]

    def home(self, amount: Decimal, currency: str) -> float:
        return float(self.rates.convert(Money(amount=amount, currency=currency), self.owner.currency).amount)


@dataclass(frozen=True, slots=True)
class ChargeBand:
    """Cost at the door of a consignment whose goods are worth between two values.

    Parameters
    ----------
    low_value, high_value : goods value without the seller's tax [home currency], both included
    fixed : per consignment, freight apart; freight_fixed : fixed freight with the charges on it [home currency]
    free_freight_from : always None: bands are parted where freight becomes free
    relief : the band rests on a low-value relief, so it holds only for a supplier's sole consignment
    per_heading : for each tariff heading after the first [home currency]
    """

    low_value: float
    high_value: float
    fixed: float
    freight_fixed: float
    free_freight_from: float | None
    relief: bool
    per_heading: float
    _terms: _Terms
    _regime: _Regime
    _factors: dict[tuple[str, str | None, bool | None], tuple[float, float]] = field(default_factory=dict)
    _values: dict[tuple[str, bool | None], float] = field(default_factory=dict)

    def unit_cost(
        self,
        price: Money,
        mass_kg: float | None,
        heading: str | None = None,
        origin: str | None = None,
        tax_included: bool | None = None,
    ) -> float:
        """Cost at the door of one more unit, freight by mass included [home currency].

        Parameters
        ----------
        mass_kg : of one unit [kg]; None counts as none
        origin : not used: preference is not taken for granted
        """
        key = price.currency, heading, tax_included
        factors = self._factors.get(key)
        if factors is None:
            factors = self._factors[key] = self._reckoned(*key)
        return float(price.amount) * factors[0] + (mass_kg or 0.0) * factors[1]

    def value(self, price: Money, tax_included: bool | None = None) -> float:
        """What one unit counts toward low_value and high_value [home currency]."""
        key = price.currency, tax_included
        factor = self._values.get(key)
        if factor is None:
            intrinsic = self._terms.price(tax_included, at_sale=self._regime.at_sale).intrinsic
            factor = self._values[key] = self._terms.home(intrinsic, price.currency)
        return float(price.amount) * factor

    def total(self, units: Sequence[BandUnits]) -> float:
        """Cost at the door of a whole consignment in this band [home currency]."""
        cost = self.fixed + self.freight_fixed
        for line in units:
            one = self.unit_cost(line.price, line.mass_kg, line.heading, line.origin, line.tax_included)
            cost += line.quantity * one
        rule = self._terms.rules.flat
        if self.per_heading and rule is not None:
            count = flat_items([line.heading for line in units], rule.heading_digits)
            cost += self.per_heading * max(0, count - 1)
        return cost

    def _reckoned(self, currency: str, heading: str | None, tax_included: bool | None) -> tuple[float, float]:
        """Cost for one unit of currency of price, and for one kilogram."""
        rate = float(self._terms.rules.duty_rate(heading).used)
        if self._regime.duty == "traveller":
            rate = _traveller_rate(self._terms)
        terms = self._terms.price(tax_included, at_sale=self._regime.at_sale)
        foreign = currency != self._terms.owner.currency
        per_price = _price_factor(self._terms, self._regime, terms, rate, foreign=foreign)
        per_kg = _freight_factor(self._terms, self._regime, terms, rate, foreign=foreign) * self._terms.freight_per_kg
        return self._terms.home(Decimal(1), currency) * per_price, 0.0 if self._regime.free_freight else per_kg


def charge_bands(
    supplier: Supplier,
    route: Route | None,
    owner: Owner,
    rules: RuleSet,
    rates: Rates,
    day: date,
    overrides: Sequence[RuleOverride] = (),
    *,
    headings: Collection[str | None] = (),
) -> tuple[ChargeBand, ...]:
    """The landed cost of consignments from a supplier by a route, as linear bands.

    Parameters
    ----------
    headings : tariff headings of what may be bought; fixed freight then pays the dearest of their duties,
        otherwise the default duty

    Returns
    -------
    bands in order of value; those with relief come before those that stand in for them in a divided order

    Raises
    ------
    Refused
        if goods cannot come by this route
    UnknownRateError
        if a currency has no rate
    """
    problem = route_problem(supplier, route, (), rules.single_market)
    if problem is not None:
        raise Refused([problem])
    terms = _terms(supplier, route, owner, rules.with_overrides(overrides)[0].on(day), rates, headings)
    bands = [
        _band(terms, regime, low, high)
        for low, high, regime in _parted_by_freight(terms, _parted_by_advance(terms, _stages(terms)))
        if low <= high
    ]
    return tuple(sorted(bands, key=lambda band: (not band.relief, band.low_value)))


def _terms(
    supplier: Supplier,
    route: Route | None,
    owner: Owner,
    rules: RulesOfDay,
    rates: Rates,
    headings: Collection[str | None],
) -> _Terms:
    def home(money: Money | None) -> float:
        return 0.0 if money is None else float(rates.convert(money, owner.currency).amount)

    freight = freight_terms(supplier, route)
    markup = owner.card_markup_percent
    if markup is None:
        markup = float(rules.practice("general.card_markup").value or 0)
    fee_tax = rules.fee_tax
    fee_percent = 0 if fee_tax is None else rules.tax.percent if fee_tax.percent is None else fee_tax.percent
    found = [rules.duty_rate(heading).used for heading in headings] or [rules.duty_rate(None).used]
    collection = route is not None and route.kind == "collection"
    return _Terms(
        supplier, route, owner, rules, rates,
        moves=movement(supplier, route, rules),
        tax=float(rules.tax.percent) / 100,
        markup=markup / 100,
        advance_share=0.0 if route is None else route.advance_percent / 100,
        advance_minimum=0.0 if route is None else home(route.advance_minimum),
        entry=0.0 if route is None else home(route.entry_fee),
        handling=home(route.handling) if route is not None and collection else 0.0,
        fee_tax=float(fee_percent) / 100,
        fuel=0.0 if route is None else route.fuel_percent / 100,
        freight_fixed=home(freight.fixed) if freight else 0.0,
        freight_per_kg=home(freight.per_kg) if freight else 0.0,
        freight_foreign=freight is not None and freight.fixed.currency != owner.currency,
        reference_rate=float(max(found)),
    )  # fmt: skip


Stage = tuple[float, float, _Regime]


def _stages(terms: _Terms) -> Iterable[Stage]:
    """Spans of goods value by what bears on them, relief and its stand-in both."""
    if terms.moves == "inside":
        yield 0.0, inf, _Regime("none", taxed=False)
    elif terms.moves == "carried":
        yield from _carried_stages(terms)
    else:
        yield from _sent_stages(terms)


def _carried_stages(terms: _Terms) -> Iterable[Stage]:
    rule = terms.rules.traveller_flat
    if rule is None:
        yield 0.0, inf, _Regime("tariff")
        return
    price = terms.price(None, at_sale=False)
    limit = terms.home(rule.limit, rule.currency) * float(price.intrinsic / price.customs)
    yield 0.0, limit, _Regime("traveller")
    yield limit + CENT, inf, _Regime("tariff")


def _sent_stages(terms: _Terms) -> Iterable[Stage]:
    rules = terms.rules
    limits = [terms.home(rule.limit, rule.currency) for rule in rules.reliefs if rule.exceeded == "whole"]
    flat = rules.flat if rules.flat and (terms.owner.private_person or not rules.flat.private_only) else None
    collects = rules.seller_collects if terms.supplier.collects_import_tax else None
    limits += [terms.home(rule.limit, rule.currency) for rule in (flat, collects) if rule is not None]
    ends = [*sorted(set(limits)), inf]
    for low, high in zip([0.0, *(end + CENT for end in ends[:-1])], ends, strict=True):
        exempt: set[str] = {
            what
            for rule in rules.reliefs
            if rule.exceeded == "whole" and high <= terms.home(rule.limit, rule.currency)
            for what in rule.exempts
        }
        at_sale = collects is not None and high <= terms.home(collects.limit, collects.currency)
        flat_here = flat is not None and high <= terms.home(flat.limit, flat.currency)
        yield from _with_stand_in(terms, low, high, exempt, at_sale=at_sale, flat=flat_here)


def _with_stand_in(
    terms: _Terms, low: float, high: float, exempt: set[str], *, at_sale: bool, flat: bool
) -> Iterable[Stage]:
    duty: Literal["none", "flat", "tariff"] = "none" if "duty" in exempt else "flat" if flat else "tariff"
    relief = bool(exempt) or flat
    yield low, high, _Regime(duty, taxed="tax" not in exempt, at_sale=at_sale, relief=relief)
    if not relief:
        return
    # in a divided order the dearer of flat duty and tariff is charged
    parting = _flat_meets_tariff(terms, at_sale=at_sale) if flat else low
    if parting > low:
        yield low, min(high, parting), _Regime("flat", at_sale=at_sale)
    if parting < high:
        start = low if parting <= low else parting + CENT
        yield start, high, _Regime("tariff", at_sale=at_sale)


def _flat_meets_tariff(terms: _Terms, *, at_sale: bool) -> float:
    rule = terms.rules.flat
    assert rule is not None
    if terms.reference_rate == 0:
        return inf
    freight = terms.freight_fixed * (1 + terms.fuel) if terms.rules.valuation.freight_in_duty_base else 0.0
    value = terms.home(rule.amount, rule.currency) / terms.reference_rate - freight
    return value / _customs_of_value(terms, at_sale=at_sale)


def _customs_of_value(terms: _Terms, *, at_sale: bool) -> float:
    """Customs value for one unit of the goods value that bands are parted by."""
    price = terms.price(None, at_sale=at_sale)
    return float(price.customs / price.intrinsic * terms.rules.valuation.factor)


def _parted_by_advance(terms: _Terms, stages: Iterable[Stage]) -> Iterable[Stage]:
    """Stages cut where the percentage for advancing duty and tax overtakes its minimum."""
    for low, high, regime in stages:
        if terms.moves != "sent" or not _is_due(regime) or not (terms.advance_share or terms.advance_minimum):
            yield low, high, regime
            continue
        parting = _advance_overtakes(terms, regime)
        if low < parting:
            yield low, min(high, parting), _regime(regime, advance="minimum")
        if parting < high:
            yield (low if parting <= low else parting + CENT), high, _regime(regime, advance="percent")


def _is_due(regime: _Regime) -> bool:
    return regime.duty != "none" or (regime.taxed and not regime.at_sale)


def _advance_overtakes(terms: _Terms, regime: _Regime) -> float:
    if terms.advance_share == 0:
        return inf
    per_value, per_freight = _due(terms, regime, terms.reference_rate)
    fixed = per_freight * terms.freight_fixed * (1 + terms.fuel) + _flat_due(terms, regime)
    per_value *= _customs_of_value(terms, at_sale=regime.at_sale)
    wanted = terms.advance_minimum / terms.advance_share - fixed
    if wanted <= 0:
        return 0.0
    return wanted / per_value if per_value else inf


def _regime(regime: _Regime, **changes: object) -> _Regime:
    return replace(regime, **changes)  # type: ignore[arg-type]


def _parted_by_freight(terms: _Terms, stages: Iterable[Stage]) -> Iterable[Stage]:
    """Stages cut where freight becomes free."""
    freight = freight_terms(terms.supplier, terms.route)
    for low, high, regime in stages:
        if freight is None or freight.free_from is None:
            yield low, high, regime
            continue
        offered = terms.home(freight.free_from.amount, freight.free_from.currency)
        parting = offered * float(terms.price(None, at_sale=regime.at_sale).intrinsic)
        if low < parting:
            yield low, min(high, parting - CENT), regime
        if parting <= high:
            yield max(low, parting), high, _regime(regime, free_freight=True)


def _traveller_rate(terms: _Terms) -> float:
    rule = terms.rules.traveller_flat
    return 0.0 if rule is None else float(rule.percent) / 100


def _due(terms: _Terms, regime: _Regime, rate: float) -> tuple[float, float]:
    """Duty and tax collected on entry, for one unit of customs value and one of freight."""
    duty_value = rate if regime.duty in ("tariff", "traveller") else 0.0
    duty_freight = duty_value if terms.rules.valuation.freight_in_duty_base else 0.0
    if not regime.taxed or regime.at_sale:
        return duty_value, duty_freight
    on = terms.rules.tax_base.on
    carried_on = 1.0 if "duty" in on else 0.0
    tax_value = terms.tax * (1 + carried_on * duty_value)
    tax_freight = terms.tax * (float("freight" in on) + carried_on * duty_freight)
    return duty_value + tax_value, duty_freight + tax_freight


def _flat_due(terms: _Terms, regime: _Regime) -> float:
    """Flat duty of one heading with the tax on it."""
    rule = terms.rules.flat
    if regime.duty != "flat" or rule is None:
        return 0.0
    taxed = regime.taxed and not regime.at_sale and "duty" in terms.rules.tax_base.on
    return terms.home(rule.amount, rule.currency) * (1 + (terms.tax if taxed else 0.0))


def _advancing(terms: _Terms, regime: _Regime) -> float:
    """What advancing adds to each unit of duty and tax, its own tax included."""
    return 1 + (terms.advance_share * (1 + terms.fee_tax) if regime.advance == "percent" else 0.0)


def _at_sale_tax(terms: _Terms, regime: _Regime, price: PriceTerms) -> float:
    return terms.tax if regime.at_sale and regime.taxed and not price.at_sale else 0.0


def _price_factor(terms: _Terms, regime: _Regime, price: PriceTerms, rate: float, *, foreign: bool) -> float:
    """Cost at the door for one unit of offered price, in the same currency."""
    due, _ = _due(terms, regime, rate)
    customs = float(price.customs * terms.rules.valuation.factor)
    by_seller = _at_sale_tax(terms, regime, price) * customs
    paid = (float(price.paid) + by_seller) * (1 + (terms.markup if foreign else 0.0))
    border = 0.0 if terms.moves == "inside" else customs * due * _advancing(terms, regime)
    return paid + border


def _freight_factor(terms: _Terms, regime: _Regime, price: PriceTerms, rate: float, *, foreign: bool) -> float:
    """Cost at the door for one unit of freight before fuel."""
    _, due = _due(terms, regime, rate)
    freight = 1 + terms.fuel
    taxed = float(price.paid) if price.freight_taxed else 1.0
    by_seller = _at_sale_tax(terms, regime, price) * float("freight" in terms.rules.tax_base.on)
    if terms.moves == "inside":
        due, by_seller = 0.0, 0.0
    markup = terms.markup if terms.freight_foreign else 0.0
    sale_markup = terms.markup if foreign else 0.0
    return freight * (taxed * (1 + markup) + by_seller * (1 + sale_markup) + due * _advancing(terms, regime))


def _band(terms: _Terms, regime: _Regime, low: float, high: float) -> ChargeBand:
    foreign = terms.supplier.currency != terms.owner.currency
    price = terms.price(None, at_sale=regime.at_sale)
    rate = _traveller_rate(terms) if regime.duty == "traveller" else terms.reference_rate
    per_freight = _freight_factor(terms, regime, price, rate, foreign=foreign)
    heading = _flat_due(terms, regime) * _advancing(terms, regime)
    fees = (terms.entry + (terms.advance_minimum if regime.advance == "minimum" else 0.0)) * (1 + terms.fee_tax)
    fixed = heading + terms.handling + (fees if terms.moves == "sent" else 0.0)
    freight = 0.0 if regime.free_freight else per_freight * terms.freight_fixed
    return ChargeBand(low, high, fixed, freight, None, regime.relief, heading, terms, regime)
