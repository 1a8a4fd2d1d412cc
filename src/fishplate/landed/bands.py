"""The landed cost as a linear model for choosing purchases: bands of goods value, each with fixed and unit cost.

A band agrees with the itemised cost to the cent where all goods of a consignment pay one duty rate, no step is rounded
and its charges stay on the band's side of every limit. Where it bends: fixed freight pays duty at one reference rate;
the values at which a charge for advancing, a waiver or a fee's minimum turns are reckoned with that rate and without
freight by mass; in a band with a flat duty per heading every further heading adds `per_heading`; where a divided order
pays the dearer of flat duty and tariff they are taken to meet for one heading; a limit for each item at the sale is
taken as one for the consignment. The rounding of steps is left to the itemised cost, as is the travel allowance, which
is one for a whole trip.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise
from math import inf

from ..build.commerce import Route, RuleOverride, Supplier
from ..build.errors import Refused
from ..build.money import Money, Rates
from ..build.owner import Owner
from .band_terms import Regime, Terms, terms_of
from .charges import flat_items
from .freight import freight_terms, route_problem
from .rules import RuleSet

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
    proof: bool = False


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
    _terms: Terms
    _regime: Regime
    _factors: dict[tuple[str, str | None, str | None, bool | None, bool], tuple[float, float]] = field(
        default_factory=dict
    )
    _values: dict[tuple[str, bool | None], float] = field(default_factory=dict)

    def unit_cost(
        self,
        price: Money,
        mass_kg: float | None,
        heading: str | None = None,
        origin: str | None = None,
        tax_included: bool | None = None,
        proof: bool = False,
    ) -> float:
        """Cost at the door of one more unit, freight by mass included [home currency].

        Parameters
        ----------
        mass_kg : of one unit [kg]; None counts as none
        origin : decides surtaxes; proof : a proof of it comes with the goods, without which no preference is counted
        """
        key = price.currency, heading, origin, tax_included, proof
        factors = self._factors.get(key)
        if factors is None:
            factors = self._factors[key] = self._terms.factors(self._regime, *key)
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
            one = self.unit_cost(line.price, line.mass_kg, line.heading, line.origin, line.tax_included, line.proof)
            cost += line.quantity * one
        rule = self._terms.rules.flat
        if self.per_heading and rule is not None:
            count = flat_items([line.heading for line in units], rule.heading_digits)
            cost += self.per_heading * max(0, count - 1)
        return cost


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
    origins: Collection[str | None] = (),
) -> tuple[ChargeBand, ...]:
    """The landed cost of consignments from a supplier by a route, as linear bands.

    Parameters
    ----------
    headings, origins : tariff headings and countries of making of what may be bought; fixed freight then pays the
        dearest of their duties, otherwise the default duty

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
    terms = terms_of(supplier, route, owner, rules.with_overrides(overrides)[0], rates, day, headings, origins)
    stages = _stages(terms, divided=False)
    if terms.moves == "sent":
        stages += _stand_ins(terms, stages)
    kept = [stage for stage in stages if stage[0] <= stage[1]]
    bands = [_band(terms, low, high, regime) for low, high, regime in _joined(kept)]
    return tuple(sorted(bands, key=lambda band: (not band.relief, band.low_value)))


Stage = tuple[float, float, Regime]


def _stand_ins(terms: Terms, stages: Sequence[Stage]) -> Iterable[Stage]:
    """Bands of a divided order, as far up as an undivided one has a relief."""
    relieved = max((high for _, high, regime in stages if regime.relief), default=0.0)
    for low, high, regime in _stages(terms, divided=True):
        if low < relieved:
            yield low, min(high, relieved), regime


def _joined(stages: Iterable[Stage]) -> list[Stage]:
    """Stages of a divided order that go on as those of an undivided one are one."""
    found: list[Stage] = []
    for low, high, regime in sorted(stages, key=lambda stage: (not stage[2].relief, stage[0])):
        last = found[-1] if found else None
        same = last is not None and replace(last[2], divided=regime.divided) == regime
        if last is not None and same and 0 <= low - last[1] < 2 * CENT:
            found[-1] = (last[0], high, regime)
        else:
            found.append((low, high, regime))
    return found


def _stages(terms: Terms, *, divided: bool) -> list[Stage]:
    """Spans of goods value in which the same rules bear, found between every value at which one may turn."""
    if terms.moves == "inside":
        turns = _free_freight(terms, at_sale=False)
    else:
        turns = [*terms.turns(divided=divided)]
        for at_sale in {False, terms.supplier.collects_import_tax}:
            turns += _free_freight(terms, at_sale=at_sale)
    ends = sorted({0.0, inf, *(turn for turn in turns if CENT < turn < inf)})
    found: list[Stage] = []
    for low, high in pairwise(ends):
        middle = (low + high) / 2 if high < inf else low * 2 + 1
        regime = terms.regime(middle, divided=divided)
        if found and found[-1][2] == regime:
            found[-1] = (found[-1][0], high, regime)
        else:
            found.append((low, high, regime))
    return [_open_end(terms, stage) for stage in found]


def _open_end(terms: Terms, stage: Stage) -> Stage:
    """Bands share no value: a limit belongs to the band below it, but free freight begins at its value."""
    low, high, regime = stage
    frees = {round(value, 6) for value in _free_freight(terms, at_sale=regime.at_sale)}
    if low and round(low, 6) not in frees:
        low += CENT
    if round(high, 6) in frees:
        high -= CENT
    return low, high, regime


def _free_freight(terms: Terms, *, at_sale: bool) -> list[float]:
    freight = freight_terms(terms.supplier, terms.route)
    if freight is None or freight.free_from is None:
        return []
    offered = terms.home(freight.free_from.amount, freight.free_from.currency)
    return [offered * float(terms.price(None, at_sale=at_sale).intrinsic)]


def _band(terms: Terms, low: float, high: float, regime: Regime) -> ChargeBand:
    heading = terms.flat_due(regime) * terms.advancing(regime)
    fixed = heading + terms.fixed(regime)
    freight = terms.fixed_freight(regime)
    return ChargeBand(low, high, fixed, freight, None, regime.relief, heading, terms, regime)
