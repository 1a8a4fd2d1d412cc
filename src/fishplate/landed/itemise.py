"""The lines of one consignment, in order, each with the rule it rests on; exact, before anything is rounded."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from ..build.money import Money, Rates
from ..build.owner import Owner
from ..build.problem import Assumption
from .charges import Assessment, Charge, Declaration, DutyChoice, Position, assess
from .freight import freight_assumption
from .kinds import Allowance, DutyDefault, DutyRate, FlatDuty, RuleBase
from .model import Consignment, CostLine, LineKind, TravelAllowance
from .rules import RulesOfDay, percent_text
from .seller import PriceTerms, movement, price_terms

ZERO = Decimal(0)
NEAR = Decimal("0.05")


@dataclass(frozen=True, slots=True)
class Case:
    """One consignment with everything it is reckoned from."""

    consignment: Consignment
    owner: Owner
    rules: RulesOfDay
    rates: Rates
    allowance: TravelAllowance | None
    duty: DutyChoice = "used"

    def home(self, money: Money) -> Decimal:
        return self.rates.convert(money, self.owner.currency).amount

    def customs(self, amount: Decimal, currency: str) -> Decimal:
        """An amount in the currency of the rules."""
        if currency == self.rules.set.currency:
            return amount
        return amount * self.rates.rate(currency, self.rules.set.currency)

    def back(self, amount: Decimal) -> Decimal:
        """An amount of the rules' currency in home currency."""
        return self.home(Money(amount=amount, currency=self.rules.set.currency))


@dataclass(slots=True)
class Quote:
    """Lines as they are written down, exact."""

    currency: str
    free: Money
    lines: list[CostLine] = field(default_factory=list)
    flags: list[str] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)
    touched: list[RuleBase] = field(default_factory=list)

    def add(self, label: str, amount: Decimal, kind: LineKind, rule: str, note: str, of: Money | None = None) -> None:
        self.lines.append(CostLine(label, Money(amount=amount, currency=self.currency), kind, rule, note, of))

    @property
    def exact(self) -> Decimal:
        return sum((line.amount.amount for line in self.lines), ZERO)


def itemise(case: Case) -> Quote:
    quote = Quote(case.owner.currency, free=Money(amount=ZERO, currency=case.owner.currency))
    at_sale = _collected_at_sale(case)
    terms = _terms(case, at_sale=at_sale)
    quote.assumptions += terms.assumptions
    quote.flags += terms.flags
    freight, fuel = _freight(case)
    _goods_lines(case, terms, freight + fuel, quote)
    _freight_lines(case, freight, fuel, quote)
    by_seller = ZERO
    if movement(case.consignment.supplier, case.consignment.route, case.rules) != "inside":
        by_seller = _border_lines(case, terms, freight + fuel, quote, at_sale=at_sale)
    _handling_line(case, quote)
    if not case.owner.private_person and any(line.kind == "tax" for line in quote.lines):
        quote.flags.append("a business registered for tax can usually reclaim the tax paid; it is left in here")
    _exchange_line(case, terms, freight + fuel, by_seller, quote)
    return quote


def _terms(case: Case, *, at_sale: bool) -> PriceTerms:
    what = case.consignment
    return price_terms(what.supplier, what.route, case.owner, case.rules, what.tax_included, at_sale=at_sale)


def _collected_at_sale(case: Case) -> bool:
    """Whether the supplier collects the import tax on this consignment: its worth without tax is within the limit."""
    what, rule = case.consignment, case.rules.seller_collects
    if not what.supplier.collects_import_tax or rule is None:
        return False
    if movement(what.supplier, what.route, case.rules) != "sent":
        return False
    net = _terms(case, at_sale=True).intrinsic * _goods_in_customs_currency(case)
    return net <= case.customs(rule.limit, rule.currency)


def _goods_in_customs_currency(case: Case) -> Decimal:
    return sum((case.customs(item.value.amount, item.value.currency) for item in case.consignment.goods), ZERO)


def _freight(case: Case) -> tuple[Decimal, Decimal]:
    """Freight and its fuel surcharge in home currency."""
    route = case.consignment.route
    freight = case.home(case.consignment.freight)
    share = Decimal(str(route.fuel_percent)) / 100 if route is not None else ZERO
    return freight, freight * share


def _goods_lines(case: Case, terms: PriceTerms, freight: Decimal, quote: Quote) -> None:
    offered = ZERO
    for item in case.consignment.goods:
        amount = case.home(item.value)
        offered += amount
        many = "" if item.quantity == 1 else f"{item.quantity:g} × "
        quote.add(many + item.label, amount, "goods", "general.price", _exchanged(case, item.value))
    difference = offered * (terms.paid - 1) + (freight * (terms.paid - 1) if terms.freight_taxed else ZERO)
    if difference or terms.note:
        quote.add(terms.label, difference, terms.kind, terms.rule.id, terms.note)
        quote.touched.append(terms.rule)


def _exchanged(case: Case, money: Money) -> str:
    home = case.owner.currency
    if money.currency == home:
        return "as offered"
    rate = case.rates.rate(money.currency, home)
    return f"{money} at {rate:.5f} {home} of {case.rates.day} ({case.rates.source})"


def _freight_lines(case: Case, freight: Decimal, fuel: Decimal, quote: Quote) -> None:
    what = case.consignment
    if freight:
        quote.add("freight", freight, "freight", "general.freight", _exchanged(case, what.freight))
    mass = None if any(item.mass_kg is None for item in what.goods) else 0.0
    assumption = freight_assumption(what.supplier, what.route, mass)
    if assumption is not None and (not freight or assumption.code == "mass-unknown"):
        quote.assumptions.append(assumption)
    if mass is None and what.route is not None and what.route.max_mass_kg is not None:
        text = f"a mass is not known: that {what.route.name} takes it is not checked"
        quote.assumptions.append(Assumption("mass-limit", f"route {what.route.id}", text))
    if fuel and what.route is not None:
        note = f"{what.route.fuel_percent:g} % of freight on {what.route.name}"
        quote.add("fuel surcharge", fuel, "freight", "general.fuel", note)


def _border_lines(case: Case, terms: PriceTerms, freight: Decimal, quote: Quote, *, at_sale: bool) -> Decimal:
    """Duty, tax and fees of entry; returns what the seller collects of the tax, in home currency."""
    declared = _declaration(case, terms, freight, quote, at_sale=at_sale)
    found = assess(declared, case.rules, case.customs, case.duty)
    quote.touched += found.rules
    quote.free = Money(amount=case.back(found.free), currency=case.owner.currency)
    for charge in found.charges:
        of = None if charge.of is None else Money(amount=charge.of, currency=case.rules.set.currency)
        note = _ruled(charge.rule, _noted(charge, of))
        quote.add(charge.label, case.back(charge.amount), charge.kind, charge.rule.id, note, of)
    if found.denied is not None:
        quote.flags.append(_divided_text(found.denied))
    _near_limits(case, found, quote)
    if found.free:
        quote.flags.append(f"goods of {quote.free.rounded()} come within the owner's own travel allowance")
    _assumed_rates(case, found, quote)
    by_seller = _seller_tax(case, terms, found, quote, at_sale=at_sale)
    if movement(case.consignment.supplier, case.consignment.route, case.rules) == "sent":
        _carrier_fees(case, found, quote)
    return by_seller


def _divided_text(rule: RuleBase) -> str:
    if isinstance(rule, FlatDuty):
        return f"general.divided: the order was divided, so the dearer of {rule.id} and the tariff is charged"
    return f"general.divided: the order was divided, so {rule.id} is not given"


def _noted(charge: Charge, of: Money | None) -> str:
    return charge.note.replace("{}", str(of.rounded()) if of else "")


def _ruled(rule: RuleBase, note: str) -> str:
    return f"{note}; {rule.note}" if rule.status == "owner" and rule.note else note


def _seller_tax(case: Case, terms: PriceTerms, found: Assessment, quote: Quote, *, at_sale: bool) -> Decimal:
    if not at_sale or found.by_seller is None:
        if case.consignment.supplier.collects_import_tax and case.rules.seller_collects:
            rule = case.rules.seller_collects
            limit = f"{rule.limit:f} {rule.currency}"
            quote.flags.append(f"above {limit} the supplier does not collect the import tax: it falls due on entry")
        return ZERO
    if terms.at_sale:
        return ZERO
    charge = found.by_seller
    of = Money(amount=charge.of or ZERO, currency=case.rules.set.currency)
    note = _noted(charge, of) + ", collected by the seller"
    amount = case.back(charge.amount)
    quote.add("import tax", amount, "tax", charge.rule.id, note, of)
    return amount


def _declaration(case: Case, terms: PriceTerms, freight: Decimal, quote: Quote, *, at_sale: bool) -> Declaration:
    what = case.consignment
    carried = movement(what.supplier, what.route, case.rules) == "carried"
    total = case.customs(freight, case.owner.currency)
    inland = ZERO
    if what.freight_inland is not None:
        inland = case.customs(what.freight_inland.amount, what.freight_inland.currency)
    return Declaration(
        positions=tuple(_positions(case, terms)),
        freight=total - inland,
        inland=inland,
        stream="carried" if carried else "sent",
        private=case.owner.private_person,
        divided=what.divided,
        seller_collects=at_sale,
        allowance=_allowance(case, quote) if carried else None,
    )


def _positions(case: Case, terms: PriceTerms) -> Iterable[Position]:
    """Goods as declared. A travel allowance counts what was paid, tax that stayed included."""
    carried = movement(case.consignment.supplier, case.consignment.route, case.rules) == "carried"
    counted = terms.customs if carried else terms.intrinsic
    for item in case.consignment.goods:
        value = case.customs(item.value.amount, item.value.currency)
        items = 1 if item.kind == "set" else max(1, int(item.quantity))
        yield Position(item.label, value * terms.customs, value * counted, items, item.heading, item.origin)


def allowance_rule(allowance: TravelAllowance, rules: RulesOfDay) -> Allowance | None:
    """The allowance that fits the journey; the lowest where the way of travel is not known."""
    fitting = [
        rule
        for rule in rules.allowances
        if (allowance.travel is None or rule.travel in ("any", allowance.travel))
        and Decimal(str(allowance.absence_hours)) >= rule.absence_hours
    ]
    if not fitting:
        return None
    longest = max(rule.absence_hours for rule in fitting)
    return min((rule for rule in fitting if rule.absence_hours == longest), key=lambda rule: (rule.amount, rule.id))


def _allowance(case: Case, quote: Quote) -> tuple[RuleBase, Decimal, str] | None:
    allowance = case.allowance
    if allowance is None or case.consignment.divided or not case.owner.private_person:
        quote.flags.append("the owner's travel allowance is one for a whole trip and is not counted here")
        return None
    rule = allowance_rule(allowance, case.rules)
    if rule is None:
        return None
    if allowance.travel is None:
        text = f"how the owner travels is not known: the allowance of {rule.amount:f} {rule.currency} is used"
        quote.assumptions.append(Assumption("travel-unknown", "trip", text))
    limit = case.customs(rule.amount, rule.currency)
    if allowance.left is not None:
        limit = min(limit, case.customs(allowance.left.amount, allowance.left.currency))
    return rule, limit, rule.exceeded


def _assumed_rates(case: Case, found: Assessment, quote: Quote) -> None:
    if not any(isinstance(charge.rule, DutyRate | DutyDefault) for charge in found.charges):
        return
    for item in case.consignment.goods:
        rate = case.rules.duty_rate(item.heading)
        if not rate.known:
            quote.assumptions.append(Assumption("duty-rate", item.label, f"{item.label}: {rate.text}"))


def _near_limits(case: Case, found: Assessment, quote: Quote) -> None:
    """A worth close to a limit can cross it by exchange before the goods are cleared."""
    if all(item.value.currency == case.rules.set.currency for item in case.consignment.goods):
        return
    for rule in (*case.rules.reliefs, case.rules.flat):
        if rule is None or movement(case.consignment.supplier, case.consignment.route, case.rules) != "sent":
            continue
        limit = case.customs(rule.limit, rule.currency)
        if abs(found.intrinsic - limit) <= NEAR * limit:
            worth = Money(amount=found.intrinsic, currency=case.rules.set.currency).rounded()
            quote.flags.append(
                f"general.threshold: worth {worth} is near the limit of {rule.id}; exchange can cross it"
            )


def _carrier_fees(case: Case, found: Assessment, quote: Quote) -> None:
    route = case.consignment.route
    if route is None:
        text = "no route is entered: the goods are taken to be sent, and the carrier's fees are not counted"
        quote.assumptions.append(Assumption("carrier-unknown", f"supplier {case.consignment.supplier.id}", text))
        return
    fees = ZERO
    minimum = case.home(route.advance_minimum) if route.advance_minimum is not None else ZERO
    due = case.back(found.advanced)
    if due and (route.advance_percent or minimum):
        share = Decimal(str(route.advance_percent)) / 100
        fee = max(due * share, minimum)
        fees += fee
        note = f"{route.advance_percent:g} % of duty and tax advanced"
        note += f", at least {route.advance_minimum}" if route.advance_minimum is not None else ""
        quote.add("advancing duty and tax", fee, "fee", "general.advance", note)
    if route.entry_fee is not None and route.entry_fee.amount:
        fee = case.home(route.entry_fee)
        fees += fee
        quote.add("customs entry", fee, "fee", "general.entry", f"as entered for {route.name}")
    _fee_tax(case, fees, quote)
    if fees:
        _old_fees(case, quote)


def _fee_tax(case: Case, fees: Decimal, quote: Quote) -> None:
    rule = case.rules.fee_tax
    if rule is None or not fees:
        return
    percent = case.rules.tax.percent if rule.percent is None else rule.percent
    of = Money(amount=fees, currency=case.owner.currency)
    quote.add(
        "tax on the carrier's fees",
        fees * percent / 100,
        "tax",
        rule.id,
        f"{percent_text(percent)} of {of.rounded()}",
        of,
    )
    quote.touched.append(rule)


def _old_fees(case: Case, quote: Quote) -> None:
    route, day = case.consignment.route, case.consignment.day
    if route is None:
        return
    if route.fees_as_of is None:
        quote.flags.append(f"route {route.id}: its fees are undated")
    elif (day - route.fees_as_of).days > 366:
        quote.flags.append(f"route {route.id}: its fees were last checked {route.fees_as_of}, over a year before")


def _handling_line(case: Case, quote: Quote) -> None:
    route = case.consignment.route
    if route is not None and route.kind == "collection" and route.handling is not None and route.handling.amount:
        quote.add("handling at the depot", case.home(route.handling), "fee", "general.handling", "for one consignment")
        _old_fees(case, quote)


def _exchange_line(case: Case, terms: PriceTerms, freight: Decimal, by_seller: Decimal, quote: Quote) -> None:
    """What the card adds on everything paid abroad in another currency."""
    home = case.owner.currency
    foreign = sum((case.home(item.value) for item in case.consignment.goods if item.value.currency != home), ZERO)
    paid = foreign * terms.paid
    if case.consignment.freight.currency != home:
        paid += freight * (terms.paid if terms.freight_taxed else 1)
    if foreign:
        paid += by_seller
    if not paid:
        return
    percent = case.owner.card_markup_percent
    rule = case.rules.practice("general.card_markup")
    if percent is None:
        percent = float(rule.value or 0)
        text = f"a card is taken to add {percent:g} % to the reference rate (common practice)"
        quote.assumptions.append(Assumption("card-markup", "owner", text))
    if percent:
        of = Money(amount=paid, currency=home)
        note = f"{percent:g} % of {of.rounded()} paid in another currency"
        quote.add("card's exchange markup", paid * Decimal(str(percent)) / 100, "exchange", rule.id, note, of)
