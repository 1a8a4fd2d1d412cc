"""The landed cost of a consignment, line by line.

An estimate with its date: goods are declared honestly, and the authority or a licensed broker decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from pydantic import ValidationError

from ..build.commerce import RuleOverride
from ..build.errors import Refused
from ..build.money import Money, Rates, minor_unit
from ..build.owner import Owner
from ..build.problem import Problem
from .charges import DutyChoice
from .freight import route_problem
from .itemise import Case, Quote, allowance_rule, itemise
from .kinds import RuleBase
from .model import Consignment, CostLine, Doubt, LandedCost, RuleNote, TravelAllowance
from .rules import RuleSet, RulesOfDay
from .seller import movement

ZERO = Decimal(0)
_TOO_MUCH = Problem("consignment", "amount", "an amount is beyond a million million", "", "Check prices and rates.")
ENDS: tuple[DutyChoice, DutyChoice] = ("low", "high")


def landed_cost(
    consignment: Consignment,
    owner: Owner,
    rules: RuleSet,
    rates: Rates,
    overrides: Sequence[RuleOverride] = (),
    *,
    allowance: TravelAllowance | None = None,
    with_doubts: bool = True,
) -> LandedCost:
    """What a consignment costs at the garage door, every line with its rule.

    Parameters
    ----------
    consignment : what travels and is declared together
    rules : of the owner's country, from `load_rules`
    rates : exchange rates of the day
    overrides : the owner's own rates and fees
    allowance : the owner's travel allowance for goods fetched abroad. It is one for a whole trip, so it counts only
        where it is given; `landed_trip` shares it among the consignments of a trip
    with_doubts : also reckon what the total would be if a doubt falls out otherwise; without, three times as quick

    Raises
    ------
    Refused
        if the goods cannot come by this route
    UnknownRateError
        if a currency has no rate

    Notes
    -----
    The chain is exact decimal arithmetic, rounded only where a rule of the destination rounds a step. Lines are shown
    in whole minor units; where these do not add up to the exact total, a line named rounding makes up the difference.
    """
    problem = route_problem(consignment.supplier, consignment.route, consignment.goods, rules.single_market)
    if problem is not None:
        raise Refused([problem])
    in_force, unused = rules.with_overrides(overrides)
    case = Case(consignment, owner, in_force.on(consignment.day), rates, allowance)
    try:
        quote = itemise(case)
        doubts = tuple(_doubts(case, quote)) if with_doubts else ()
    except ValidationError:  # money refuses it
        raise Refused([_TOO_MUCH]) from None
    flags = tuple(dict.fromkeys((*quote.flags, *_rule_flags(quote.touched, consignment), *unused)))
    lines, total = _shown(quote.lines, owner.currency)
    assumptions = tuple(sorted(set(quote.assumptions)))
    notes = tuple(_rule_notes(quote.touched))
    return LandedCost(lines, total, flags, assumptions, doubts, quote.exact, quote.free, notes)


def landed_trip(
    consignments: Sequence[Consignment],
    owner: Owner,
    rules: RuleSet,
    rates: Rates,
    overrides: Sequence[RuleOverride] = (),
    *,
    allowance: TravelAllowance | None = None,
) -> tuple[LandedCost, ...]:
    """The consignments fetched on one trip, which share the owner's one travel allowance.

    Parameters
    ----------
    allowance : how the owner travels; the lower allowance is used where it is not said

    Notes
    -----
    The consignment with the greatest value uses the allowance first; what it leaves goes to the next. Goods of one
    supplier on one trip belong in one consignment.
    """
    left = allowance or TravelAllowance()
    order = sorted(range(len(consignments)), key=lambda place: (-_worth(consignments[place], owner, rates), place))
    costs: dict[int, LandedCost] = {}
    for place in order:
        cost = landed_cost(consignments[place], owner, rules, rates, overrides, allowance=left)
        costs[place] = cost
        whole = _whole_allowance(left, owner, rules.on(consignments[place].day), rates)
        if whole is not None:
            left = replace(left, left=whole - cost.free_value)
    return tuple(costs[place] for place in range(len(consignments)))


def _worth(consignment: Consignment, owner: Owner, rates: Rates) -> Decimal:
    return sum((rates.convert(item.value, owner.currency).amount for item in consignment.goods), ZERO)


def _whole_allowance(allowance: TravelAllowance, owner: Owner, rules: RulesOfDay, rates: Rates) -> Money | None:
    if allowance.left is not None:
        return allowance.left
    rule = allowance_rule(allowance, rules)
    return None if rule is None else rates.convert(Money(amount=rule.amount, currency=rule.currency), owner.currency)


def _rule_notes(touched: Iterable[RuleBase]) -> Iterable[RuleNote]:
    for rule in {rule.id: rule for rule in touched}.values():
        yield RuleNote(rule.id, rule.status, rule.as_of, rule.source, rule.url, rule.note)


def _rule_flags(touched: Iterable[RuleBase], consignment: Consignment) -> Iterable[str]:
    for rule in touched:
        doubt = rule.doubt_on(consignment.day)
        if doubt is not None:
            yield doubt


def _doubts(case: Case, quote: Quote) -> Iterable[Doubt]:
    """What could fall out otherwise, each alone, with the total it would make."""
    if movement(case.consignment.supplier, case.consignment.route, case.rules) == "inside":
        return
    yield from _duty_doubts(case, quote)
    supplier = case.consignment.supplier
    if supplier.origin_tax is None and movement(supplier, case.consignment.route, case.rules) == "sent":
        exporter = supplier.model_copy(update={"origin_tax": "taken-off"})
        best = itemise(replace(case, consignment=replace(case.consignment, supplier=exporter))).exact
        if best < quote.exact:
            saving = Money(amount=quote.exact - best, currency=case.owner.currency).rounded()
            text = f"if {supplier.name} exports and takes its sales tax off, the total is {saving} less: ask"
            yield _doubt(case, "origin-tax", f"supplier {supplier.id}", best, quote.exact, text)


def _duty_doubts(case: Case, quote: Quote) -> Iterable[Doubt]:
    goods, rules = case.consignment.goods, case.rules
    low, high = (itemise(replace(case, duty=end)).exact for end in ENDS)
    if low != high:
        doubtful = [item for item in goods if not rules.duty_rate(item.heading).known]
        texts = "; ".join(dict.fromkeys(rules.duty_rate(item.heading).text for item in doubtful))
        about = ", ".join(item.label for item in doubtful)
        yield _doubt(case, "heading", about, min(low, quote.exact), max(high, quote.exact), texts)
    partners = sorted({item.origin for item in goods if item.origin and rules.preference(item.origin)})
    if partners:
        best = itemise(replace(case, duty="preference")).exact
        if best < quote.exact:
            names = ", ".join(partners)
            saving = Money(amount=quote.exact - best, currency=case.owner.currency).rounded()
            text = f"with a proof of origin in {names} the total is {saving} less; it is not taken for granted"
            yield _doubt(case, "preference", names, best, quote.exact, text)


def _doubt(case: Case, code: str, about: str, low: Decimal, high: Decimal, text: str) -> Doubt:
    home = case.owner.currency
    bottom, top = (Money(amount=end, currency=home).rounded() for end in (low, high))
    return Doubt(code, about, bottom, top, text)


def _shown(lines: Sequence[CostLine], currency: str) -> tuple[tuple[CostLine, ...], Money]:
    """Lines in whole minor units, with a line that makes them add up to the exact total rounded once."""
    exact = Money(amount=sum((line.amount.amount for line in lines), ZERO), currency=currency)
    total = exact.rounded()
    rounded = [replace(line, amount=line.amount.rounded()) for line in lines]
    rest = total.amount - sum((line.amount.amount for line in rounded), ZERO)
    if rest:
        unit = Decimal(1).scaleb(-minor_unit(currency))
        note = f"lines are shown in whole {unit:f} {currency}; this makes them add up to the exact total"
        rounded.append(
            CostLine("rounding", Money(amount=rest, currency=currency), "rounding", "general.rounding", note)
        )
    return tuple(rounded), total
