"""One consignment with everything it is reckoned from, and its goods and freight in the currency of the rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from ..build.commerce import Route
from ..build.money import Money, Rates
from ..build.owner import Owner
from .charges import Position
from .freight import freight_terms
from .kinds import Scope
from .limits import under, within
from .model import Consignment, Goods, LineKind, TravelAllowance
from .rules import RuleSet
from .rules_of_day import DutyChoice, RulesOfDay
from .seller import Movement, PriceTerms, Use, movement, price_terms, stream_of
from .travel import Carried, TravelGrant, allowance_rule

ZERO = Decimal(0)
# Divisions leave tails of nines that would miss a limit or a whole unit by nothing.
FINE = Decimal("1e-12")


@dataclass(frozen=True, slots=True)
class Freight:
    """One part of what transport costs: a share of money, to the border or beyond it."""

    label: str
    money: Money
    share: Decimal
    rule: str
    note: str
    to: Literal["border", "door"] = "border"
    kind: LineKind = "freight"


@dataclass(frozen=True, slots=True)
class Case:
    """One consignment with everything it is reckoned from.

    Parameters
    ----------
    rates : what the owner pays at; customs_rates : what customs converts at
    allowance : how the owner travels; travel : what the goods are then free of
    at_sale : the supplier collects the import tax on this consignment
    """

    consignment: Consignment
    owner: Owner
    rules: RulesOfDay
    rates: Rates
    customs_rates: Rates
    allowance: TravelAllowance | None = None
    travel: TravelGrant | None = None
    duty: DutyChoice = "used"
    own_customs_rates: bool = False
    _terms: dict[tuple[Use, bool], PriceTerms] = field(default_factory=dict, compare=False, repr=False)

    @property
    def moves(self) -> Movement:
        """Inside the single market, sent across its border, or carried by the owner."""
        return movement(self.consignment.supplier, self.consignment.route, self.rules)

    def home(self, money: Money) -> Decimal:
        """Money in home currency, at the rate the owner pays at."""
        if money.currency == self.owner.currency:
            return money.amount
        return money.amount * self.rates.rate(money.currency, self.owner.currency)

    def customs(self, amount: Decimal, currency: str) -> Decimal:
        """An amount in the currency of the rules, at the rate customs converts at."""
        if currency == self.rules.set.currency:
            return amount
        printed = None if self.own_customs_rates or self.rules.exchange is None else self.rules.exchange.rate(currency)
        if printed is not None:
            return amount * printed
        return amount * self.customs_rates.rate(currency, self.rules.set.currency)

    def back(self, amount: Decimal) -> Decimal:
        """An amount of the rules' currency in home currency."""
        return self.home(Money(amount=amount, currency=self.rules.set.currency))

    def terms(self, use: Use, *, at_sale: bool) -> PriceTerms:
        """How the supplier's prices read for goods of a use."""
        key = use, at_sale
        if key not in self._terms:
            what = self.consignment
            seller = what.supplier
            if not what.paid_for:  # nothing is sold, so the worth stated is the worth
                seller = seller.model_copy(update={"origin_tax": "none", "collects_import_tax": False})
            self._terms[key] = price_terms(
                seller, what.route, self.owner, self.rules, what.tax_included, at_sale=at_sale, use=use,
                receipt=sum((item.value.amount for item in what.goods), ZERO),
            )  # fmt: skip
        return self._terms[key]

    def uses(self) -> tuple[Use, ...]:
        """The uses among the goods, each once."""
        return tuple(dict.fromkeys(item.use for item in self.consignment.goods))


def case_of(
    consignment: Consignment,
    owner: Owner,
    rules: RuleSet,
    rates: Rates,
    *,
    allowance: TravelAllowance | None = None,
    customs_rates: Rates | None = None,
) -> Case:
    """A consignment with the rules that bear on it."""
    route = consignment.route
    start = route.from_country if route is not None else consignment.supplier.country
    gift = consignment.gift and owner.private_person
    scope = Scope(stream_of(route), owner.private_person, start, owner.region, gift)
    of_day = rules.on(consignment.day, scope)
    own = customs_rates is not None
    return Case(consignment, owner, of_day, rates, customs_rates or rates, allowance, own_customs_rates=own)


def collected_at_sale(case: Case) -> bool:
    """Whether the supplier collects the import tax on this consignment: its worth without tax is within the limit.

    What the plan divided counts as the whole it was.
    """
    what, rule = case.consignment, case.rules.seller_collects
    if not what.supplier.collects_import_tax or not what.paid_for or rule is None or case.moves != "sent":
        return False
    limit = case.customs(rule.limit, rule.currency)
    goods = (*what.goods, *what.beside)
    worths = [_worth(case, item, at_sale=True) for item in goods]
    if rule.per == "consignment":
        whole = sum(worths, ZERO).quantize(FINE)
        return within(whole, limit) if rule.inclusive else under(whole, limit)
    each = ((worth / Decimal(str(item.quantity))).quantize(FINE) for worth, item in zip(worths, goods, strict=True))
    return all(within(worth, limit) if rule.inclusive else under(worth, limit) for worth in each)


def _worth(case: Case, item: Goods, *, at_sale: bool) -> Decimal:
    """What goods are worth without the seller's tax, in the rules' currency."""
    return case.customs(item.value.amount, item.value.currency) * case.terms(item.use, at_sale=at_sale).intrinsic


def worth_beside(case: Case, *, at_sale: bool) -> Decimal:
    """What the supplier's other consignments of the plan hold, in the rules' currency.

    Their prices are taken to carry tax, or not, as those of this one do.
    """
    worths = (_worth(case, item, at_sale=at_sale) for item in case.consignment.beside)
    return sum(worths, ZERO).quantize(FINE)


def freight_parts(case: Case) -> Iterable[Freight]:
    """Everything transport costs, in the order it is shown."""
    what, route, one = case.consignment, case.consignment.route, Decimal(1)
    terms = freight_terms(what.supplier, route)
    how = ", paid to the carrier on arrival" if terms is not None and terms.collect else ""
    if what.freight.amount:
        yield Freight("freight", what.freight, one, "general.freight", how)
    if route is None:
        return
    if route.fuel_percent and what.freight.amount:
        note = f"{route.fuel_percent:g} % of freight on {route.name}"
        yield Freight("fuel surcharge", what.freight, Decimal(str(route.fuel_percent)) / 100, "general.fuel", note)
    if route.kind != "collection":
        yield from _beside_freight(route)


def _beside_freight(route: Route) -> Iterable[Freight]:
    """What a way home asks beside freight; everything that is entered counts, whatever its kind."""
    handling = "forwarder's handling" if route.kind == "forwarder" else "handling"
    entered: tuple[tuple[str, Money | None, str, Literal["border", "door"]], ...] = (
        (handling, route.handling, "general.forwarder", "border"),
        ("pallet and packing", route.pallet, "general.pallet", "border"),
        ("tail lift", route.tail_lift, "general.tail_lift", "door"),
        ("delivery to a private address", route.residential, "general.residential", "door"),
    )
    for label, money, rule, to in entered:
        if money is not None and money.amount:
            yield Freight(label, money, Decimal(1), rule, f"as entered for {route.name}", to)


def positions(case: Case, *, at_sale: bool) -> tuple[Position, ...]:
    """Goods as declared. A travel allowance counts what was paid, tax that stayed included, or the price without it."""
    counts_paid = False
    if case.moves == "carried":
        rule = allowance_rule(case.allowance, case.rules) if case.allowance is not None else None
        counts_paid = rule is None or rule.counts == "paid"
    found = []
    for item in case.consignment.goods:
        terms = case.terms(item.use, at_sale=at_sale)
        value = case.customs(item.value.amount, item.value.currency)
        items = 1 if item.kind == "set" else max(1, int(item.quantity))
        counted = terms.customs if counts_paid else terms.intrinsic
        worth, tested = ((value * factor).quantize(FINE) for factor in (terms.customs, counted))
        found.append(Position(item.label, worth, tested, items, item.heading, item.origin, item.proof))
    return tuple(found)


def carried_goods(case: Case) -> tuple[Carried, ...]:
    """Goods as a traveller's allowance sees them."""
    found = []
    for line in positions(case, at_sale=False):
        parts = case.rules.burden(line.heading, line.origin, proof=line.proof)
        duty = sum((part.share for part in parts), ZERO)
        allowed = not case.consignment.divided
        found.append(Carried(line.value, line.intrinsic, line.items, duty, line.origin, allowed))
    return tuple(found)


def shares(case: Case) -> Mapping[str, Decimal]:
    """Offered worth of the goods by use, in home currency."""
    found: dict[str, Decimal] = {}
    for item in case.consignment.goods:
        found[item.use] = found.get(item.use, ZERO) + case.home(item.value)
    return found
