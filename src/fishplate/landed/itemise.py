"""The lines of one consignment, in order, each with the rule it rests on; exact, before anything is rounded."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from decimal import Decimal

from ..build.money import Money
from ..build.problem import Assumption
from ..build.words import day_words
from .case import FINE, Case, Freight, collected_at_sale, freight_parts, positions, shares, worth_beside
from .charges import Assessment, Charge, Declaration, assess
from .figures import limit_words, money_words
from .freight import freight_assumption, freight_terms, unchecked_limits, volume_assumption
from .kinds import DutyDefault, DutyRate, Exchange, FlatDuty, OriginTax, RuleBase
from .model import CostLine, LineKind
from .route_fees import carrier_fees, collect_fee, handling_line, own_entry_fee
from .rules_of_day import matched, percent_text
from .seller import PriceTerms
from .travel import allowance_rule

ZERO = Decimal(0)
NEAR = Decimal("0.05")


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
        """Write down a line paid with the purchase."""
        self.lines.append(CostLine(label, Money(amount=amount, currency=self.currency), kind, rule, note, of))

    def add_due(
        self, label: str, amount: Decimal, kind: LineKind, rule: str, note: str, of: Money | None = None
    ) -> None:
        """Write down a line paid on arrival."""
        money = Money(amount=amount, currency=self.currency)
        self.lines.append(CostLine(label, money, kind, rule, note, of, "arrival"))

    @property
    def exact(self) -> Decimal:
        """What the lines add up to."""
        return sum((line.amount.amount for line in self.lines), ZERO)


def itemise(case: Case) -> Quote:
    """Every line of a consignment, exact."""
    quote = Quote(case.owner.currency, free=Money(amount=ZERO, currency=case.owner.currency))
    at_sale = collected_at_sale(case)
    transport = tuple(freight_parts(case))
    for use in case.uses():
        terms = case.terms(use, at_sale=at_sale)
        quote.assumptions += terms.assumptions
        quote.flags += terms.flags
    _goods_lines(case, transport, quote, at_sale=at_sale)
    _freight_lines(case, transport, quote)
    by_seller = ZERO
    if case.moves != "inside":
        by_seller = _border_lines(case, transport, quote, at_sale=at_sale)
    else:
        collect_fee(case, quote)
    handling_line(case, quote)
    if not case.owner.private_person and any(line.kind == "tax" for line in quote.lines):
        quote.flags.append("a business registered for tax can usually reclaim the tax paid; it is left in here")
    _exchange_line(case, transport, by_seller, quote, at_sale=at_sale)
    return quote


def _in_home(case: Case, part: Freight) -> Decimal:
    return case.home(part.money) * part.share


def _goods_lines(case: Case, transport: tuple[Freight, ...], quote: Quote, *, at_sale: bool) -> None:
    what = case.consignment
    for item in what.goods:
        many = "" if item.quantity == 1 else f"{item.quantity:g} × "
        paid, note = case.home(item.value), _exchanged(case, item.value)
        if not what.paid_for:
            paid, note = (
                ZERO,
                f"{'a gift' if what.gift else 'coming back'}, not paid for; worth {money_words(item.value)}",
            )
        quote.add(many + item.label, paid, "goods", "general.price", note)
    freight = sum((_in_home(case, part) for part in transport), ZERO)
    for use, offered in shares(case).items():
        terms = case.terms(use, at_sale=at_sale)  # type: ignore[arg-type]
        difference = offered * (terms.paid - 1) if what.paid_for else ZERO
        if terms.freight_taxed and use == case.uses()[0]:
            difference += freight * (terms.paid - 1)
        if difference or (terms.note and what.paid_for):
            quote.add(terms.label, difference, terms.kind, terms.rule.id, terms.note)
            quote.touched += [terms.rule, *_behind(case, terms, use)]


def _behind(case: Case, terms: PriceTerms, use: str) -> Iterable[RuleBase]:
    """The practice behind what becomes of the seller's tax on goods a private buyer carries out."""
    if isinstance(terms.rule, OriginTax) and case.moves == "carried" and case.owner.private_person:
        id_ = terms.rule.stays_by if use == "vehicle" else terms.rule.refund_by
        if id_:
            yield case.rules.practice(id_)


def _exchanged(case: Case, money: Money) -> str:
    home = case.owner.currency
    if money.currency == home:
        return "as offered"
    rate = case.rates.rate(money.currency, home)
    return f"{money_words(money)} at {_rate(rate)} {home} of {day_words(case.rates.day)} ({case.rates.source})"


def _rate(rate: Decimal) -> str:
    """An exchange rate to six digits, as authorities print them."""
    return f"{Decimal(f'{rate:.6g}'):f}"


def _freight_lines(case: Case, transport: tuple[Freight, ...], quote: Quote) -> None:
    what = case.consignment
    terms = freight_terms(what.supplier, what.route)
    for part in transport:
        note = _exchanged(case, part.money) + part.note if part.rule == "general.freight" else part.note
        on_arrival = terms is not None and terms.collect and part.rule in ("general.freight", "general.fuel")
        write = quote.add_due if on_arrival else quote.add
        write(part.label, _in_home(case, part), part.kind, part.rule, note)
    mass = None if any(item.mass_kg is None for item in what.goods) else 0.0
    assumption = freight_assumption(what.supplier, what.route, mass)
    if assumption is not None and (not what.freight.amount or assumption.code == "mass-unknown"):
        quote.assumptions.append(assumption)
    volume = volume_assumption(what.goods, what.route)
    if volume is not None:
        quote.assumptions.append(volume)
    quote.assumptions += unchecked_limits(what.goods, what.route)


def _border_lines(case: Case, transport: tuple[Freight, ...], quote: Quote, *, at_sale: bool) -> Decimal:
    """Duty, tax and fees of entry; returns what the seller collects of the tax, in home currency."""
    found = assess(_declaration(case, transport, quote, at_sale=at_sale), case.rules, case.customs, case.duty)
    quote.touched += found.rules
    quote.free = Money(amount=case.back(found.free), currency=case.owner.currency)
    for charge in found.charges:
        of = None if charge.of is None else Money(amount=charge.of, currency=case.rules.set.currency)
        note = _ruled(charge.rule, _noted(charge, of))
        quote.add_due(charge.label, case.back(charge.amount), charge.kind, charge.rule.id, note, of)
    if found.denied is not None:
        quote.flags.append(_divided_text(found.denied))
    _near_limits(case, found, quote)
    if found.free:
        quote.flags.append(f"goods of {money_words(quote.free)} come within the owner's own travel allowance")
    _not_bought(case, quote)
    _idle_proofs(case, quote)
    _assumed_rates(case, found, quote)
    _assumed_place(case, quote)
    _notices(case, found.whole, quote)
    by_seller = _seller_tax(case, found, quote, at_sale=at_sale)
    if case.moves == "sent":
        carrier_fees(case, found, quote)
    return by_seller


def _not_bought(case: Case, quote: Quote) -> None:
    """What to know about gifts and goods that come back."""
    rule = case.rules.returning
    if case.consignment.gift and not case.owner.private_person:
        quote.flags.append("a gift is relieved only between private persons: it is charged as any other goods are")
    if not case.consignment.returning:
        return
    if rule is None:
        country = case.rules.set.country
        quote.flags.append(
            f"no rule of {country} for goods that come back is known: they are charged in full; ask customs"
        )
    else:
        quote.flags.append(f"{rule.id}: free only with the proof that they were sent out: keep its papers. {rule.note}")


def _idle_proofs(case: Case, quote: Quote) -> None:
    """Proofs of origin that change nothing, and why."""
    rules = case.rules
    lists = [*(rule.free_with_proof for rule in rules.surtaxes), *(fee.free_with_proof for fee in rules.fees)]
    for item in (item for item in case.consignment.goods if item.proof):
        if any(item.origin in origins for origins in lists) or rules.preference(item.origin, item.heading):
            continue
        why = f"no agreement of {rules.set.country} with {item.origin} is known"
        if item.origin is None:
            why = "where they were made is not given"
        quote.flags.append(f"{item.label}: the proof of origin claims nothing, because {why}")


def _divided_text(rule: RuleBase) -> str:
    if isinstance(rule, FlatDuty):
        return f"general.divided: the order was divided, so the dearer of {rule.id} and the tariff is charged"
    return f"general.divided: the order was divided, so {rule.id} is not given"


def _noted(charge: Charge, of: Money | None) -> str:
    return charge.note.replace("{}", money_words(of) if of else "")


def _ruled(rule: RuleBase, note: str) -> str:
    return f"{note}; {rule.note}" if rule.status == "owner" and rule.note else note


def _seller_tax(case: Case, found: Assessment, quote: Quote, *, at_sale: bool) -> Decimal:
    rule = case.rules.seller_collects
    if not at_sale:
        if case.consignment.supplier.collects_import_tax and rule is not None and case.moves == "sent":
            limit = limit_words(rule.limit, rule.currency)
            if case.consignment.beside:
                limit += ", for all that the plan orders from it,"
            quote.flags.append(f"above {limit} the supplier does not collect the import tax: it falls due on entry")
        return ZERO
    if any(case.terms(use, at_sale=True).at_sale for use in case.uses()):
        return ZERO
    collected = ZERO
    for charge in found.by_seller:
        of = Money(amount=charge.of or ZERO, currency=case.rules.set.currency)
        note = _noted(charge, of) + ", collected by the seller"
        quote.add(charge.label, case.back(charge.amount), "tax", charge.rule.id, note, of)
        collected += case.back(charge.amount)
    return collected


def _declaration(case: Case, transport: tuple[Freight, ...], quote: Quote, *, at_sale: bool) -> Declaration:
    what = case.consignment
    ends = {"border": ZERO, "door": ZERO}
    for part in transport:
        ends[part.to] += case.customs(part.money.amount, part.money.currency) * part.share
    inland = ends["door"]
    if what.freight_inland is not None:
        shown = case.customs(what.freight_inland.amount, what.freight_inland.currency)
        inland, ends["border"] = inland + shown, ends["border"] - shown
    if case.moves == "carried":
        _say_allowance(case, quote)
    declared = positions(case, at_sale=at_sale)
    worth = sum((line.intrinsic for line in declared), ZERO) * case.rules.valuation.factor
    return Declaration(
        positions=declared,
        freight=ends["border"].quantize(FINE),
        inland=inland.quantize(FINE),
        divided=what.divided,
        seller_collects=at_sale,
        travel=case.travel,
        entry_fee=own_entry_fee(case, worth),
        returning=what.returning,
        beside=worth_beside(case, at_sale=at_sale),
    )


def _say_allowance(case: Case, quote: Quote) -> None:
    allowance, travel = case.allowance, case.travel
    if allowance is None or travel is None or case.consignment.divided:
        quote.flags.append("the owner's travel allowance is one for a whole trip and is not counted here")
        return
    rule, since = travel.rule, allowance.days_since_last
    full = allowance_rule(replace(allowance, days_since_last=None), case.rules)
    if since is not None and full is not None and full is not rule:
        whole = money_words(Money(amount=full.amount, currency=full.currency))
        quote.flags.append(
            f"{full.id}: {whole} is free once in {_days(full.every_days)}, and the trip {_days(since)} before is taken "
            "to have used it"
        )
    if rule is None:
        if case.rules.allowances and full is None:
            quote.flags.append("no travel allowance holds for an absence this short")
        return
    if allowance.travel is None and any(other.travel != "any" for other in case.rules.allowances):
        text = f"how the owner travels is not known: the allowance of {limit_words(rule.amount, rule.currency)} is used"
        quote.assumptions.append(Assumption("travel-unknown", "trip", text))
    if allowance.persons > 1:
        who = f"{allowance.persons} persons of the household"
        said = (
            f"{rule.id} counts {who}" if rule.pooling != "none" else f"{rule.id} is the owner's own: {who} add nothing"
        )
        quote.flags.append(said)


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"


def _assumed_rates(case: Case, found: Assessment, quote: Quote) -> None:
    if not any(isinstance(charge.rule, DutyRate | DutyDefault) for charge in found.charges):
        return
    for item in case.consignment.goods:
        rate = case.rules.duty_rate(item.heading)
        if not rate.known:
            quote.assumptions.append(Assumption("duty-rate", item.label, f"{item.label}: {rate.text}"))


def _assumed_place(case: Case, quote: Quote) -> None:
    """What is taken for granted about the region, and about the rate of customs."""
    rules = case.rules
    if rules.region_assumed:
        name = rules.set.regions[rules.scope.region]
        share = percent_text(rules.tax_share * 100)
        text = f"the owner's province or state is not given: the dearest tax, {share} of {name}, is used"
        quote.assumptions.append(Assumption("region-unknown", "owner", text))
    foreign = {item.value.currency for item in case.consignment.goods} - {rules.set.currency}
    if rules.exchange is not None and foreign and not case.own_customs_rates:
        quote.touched.append(rules.exchange)
        quote.assumptions += [
            Assumption("customs-rate", "consignment", _customs_rate(case, rules.exchange, currency))
            for currency in sorted(foreign)
        ]


def _customs_rate(case: Case, rule: Exchange, currency: str) -> str:
    printed = rule.printed.get(currency)
    if printed is not None:
        return f"customs converts {currency} at {printed.normalize():f}, {rule.quoted} ({rule.source})"
    fixed = {"day": "", "week": "week's ", "month": "month's "}[rule.fixed_for]
    text = f"customs converts at its own {fixed}rate of the day of {rule.rate_on}"
    return f"{text}; the rate of {day_words(case.rates.day)} stands in ({rule.id}/{currency} sets it)"


def _notices(case: Case, worth: Decimal, quote: Quote) -> None:
    for rule in case.rules.notices:
        within = (rule.above is None or worth > rule.above) and (rule.up_to is None or worth <= rule.up_to)
        about = any(
            (not rule.origins or item.origin in rule.origins) and matched(rule.headings, item.heading) != "no"
            for item in case.consignment.goods
        )
        if within and about:
            quote.flags.append(f"{rule.id}: {rule.note}")
            quote.touched.append(rule)


def _near_limits(case: Case, found: Assessment, quote: Quote) -> None:
    """A worth close to a limit can cross it by exchange before the goods are cleared."""
    rules = case.rules
    if case.moves != "sent" or all(item.value.currency == rules.set.currency for item in case.consignment.goods):
        return
    for rule in (*rules.reliefs, rules.flat):
        if rule is None:
            continue
        limit = case.customs(rule.limit, rule.currency)
        if abs(found.intrinsic - limit) <= NEAR * limit:
            worth = Money(amount=found.intrinsic, currency=rules.set.currency).rounded()
            quote.flags.append(
                f"general.threshold: worth {money_words(worth)} is near the limit of {rule.id}; exchange can cross it"
            )


def _exchange_line(
    case: Case, transport: Iterable[Freight], by_seller: Decimal, quote: Quote, *, at_sale: bool
) -> None:
    """What the card adds on everything paid abroad in another currency."""
    home = case.owner.currency
    paid = foreign = ZERO
    for item in case.consignment.goods if case.consignment.paid_for else ():
        if item.value.currency != home:
            foreign += case.home(item.value)
            paid += case.home(item.value) * case.terms(item.use, at_sale=at_sale).paid
    terms = case.terms(case.uses()[0], at_sale=at_sale)
    for part in transport:
        if part.money.currency != home:
            paid += _in_home(case, part) * (terms.paid if terms.freight_taxed else 1)
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
        note = f"{percent:g} % of {money_words(of)} paid in another currency"
        quote.add("card's exchange markup", paid * Decimal(str(percent)) / 100, "exchange", rule.id, note, of)
