"""What carrier and depot ask beside freight, as the owner entered it; tables of others only as a hint."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import TYPE_CHECKING

from ..build.commerce import Route
from ..build.money import Money
from ..build.problem import Assumption
from ..build.words import day_words
from .case import Case
from .charges import Assessment, fee_amount
from .figures import limit_words, money_words
from .freight import freight_terms
from .kinds import OLD_AFTER_DAYS, Fee
from .rules_of_day import percent_text

if TYPE_CHECKING:
    from .itemise import Quote

ZERO = Decimal(0)


def has_own_fees(route: Route | None) -> bool:
    """Whether the owner entered what the carrier of a route asks."""
    if route is None:
        return False
    entered = route.advance_minimum is not None or route.entry_fee is not None or route.entry_steps
    return bool(route.advance_percent or entered)


def own_entry_fee(case: Case, worth: Decimal) -> Decimal | None:
    """The carrier's entry fee as entered, in the rules' currency; None where no fee of the carrier is entered."""
    route = case.consignment.route
    if route is None or not has_own_fees(route):
        return None
    fee, _ = _entry(case, route, worth)
    return ZERO if fee is None else case.customs(fee.amount, fee.currency)


def _entry(case: Case, route: Route, worth: Decimal) -> tuple[Money | None, str]:
    """The carrier's entry fee for goods of a worth in the rules' currency, and where it comes from, in words."""
    entered = f"as entered for {route.name}"
    for step in route.entry_steps:
        if step.up_to is None:
            return step.fee, f"{entered}, for goods worth more than its other steps"
        if worth <= case.customs(step.up_to.amount, step.up_to.currency):
            return step.fee, f"{entered}, for goods worth up to {money_words(step.up_to)}"
    return route.entry_fee, entered


def carrier_fees(case: Case, found: Assessment, quote: Quote) -> None:
    """The charge for advancing duty and tax, the entry, collecting freight, and the tax on them."""
    route = case.consignment.route
    if route is None:
        text = "no route is entered: the goods are taken to be sent, and the carrier's fees are not counted"
        quote.assumptions.append(Assumption("carrier-unknown", f"supplier {case.consignment.supplier.id}", text))
        return
    fees = ZERO
    minimum = case.home(route.advance_minimum) if route.advance_minimum is not None else ZERO
    due = case.back(found.advanced)
    if due and (route.advance_percent or minimum):
        fee = max(due * Decimal(str(route.advance_percent)) / 100, minimum)
        fees += fee
        note = f"{route.advance_percent:g} % of duty and tax advanced"
        note += f", at least {money_words(route.advance_minimum)}" if route.advance_minimum is not None else ""
        quote.add_due("advancing duty and tax", fee, "fee", "general.advance", note)
    entry, entered = _entry(case, route, found.intrinsic)
    if entry is not None and entry.amount:
        fees += case.home(entry)
        quote.add_due("customs entry", case.home(entry), "fee", "general.entry", entered)
    fees += collect_fee(case, quote)
    _fee_tax(case, fees, quote)
    if fees:
        _old_fees(case, quote)
    elif not has_own_fees(route):
        hints = () if route.kind == "delivery" else tuple(_hints(case, found))
        known = any(fee.by != "authority" for fee in case.rules.fees)
        quote.assumptions += hints or (() if known else _not_entered(case, route))


def collect_fee(case: Case, quote: Quote) -> Decimal:
    """Write down the carrier's charge for freight paid on arrival, where freight is; returns it in home currency."""
    what = case.consignment
    terms, route = freight_terms(what.supplier, what.route), what.route
    if route is None or terms is None or not terms.collect or not what.freight.amount or not route.collect_fee:
        return ZERO
    fee = case.home(route.collect_fee)
    if fee:
        quote.add_due("freight on arrival", fee, "fee", "general.collect", f"as entered for {route.name}")
    return fee


def _not_entered(case: Case, route: Route) -> Iterable[Assumption]:
    text = (
        f"what {route.name} asks for the customs entry and for advancing duty and tax is not entered: none is counted"
    )
    yield Assumption("carrier-unknown", f"supplier {case.consignment.supplier.id}", text)


def _hints(case: Case, found: Assessment) -> Iterable[Assumption]:
    """Old or undated fee tables: never counted, but a sign of what to ask and enter."""
    freight = case.customs(case.consignment.freight.amount, case.consignment.freight.currency)
    bases = {"charges": found.advanced, "goods": found.intrinsic, "goods and freight": found.intrinsic + freight}
    for fee in case.rules.hints:
        if fee.when == "charges due" and not found.advanced:
            continue
        seen = f"as of {day_words(fee.as_of)}, over two years ago" if fee.as_of else "undated"
        here = Money(
            amount=fee_amount(fee, case.customs, found.intrinsic, bases[fee.of]), currency=case.rules.set.currency
        )
        what = f"{_fee_words(fee)}: here {money_words(here.rounded())}"
        text = f"{fee.label}: not entered, and not counted; as a hint, {what} ({seen}; {fee.source})"
        yield Assumption("fee-hint", fee.id, text)


def _fee_words(fee: Fee) -> str:
    said = [limit_words(fee.flat, fee.currency)] if fee.flat else []
    said += [f"{percent_text(fee.percent)} of {fee.of}"] if fee.percent else []
    said += [f"at least {limit_words(fee.minimum, fee.currency)}"] if fee.minimum else []
    if fee.tiers:
        said.append(f"{fee.tiers[0].fee:,f} to {limit_words(fee.tiers[-1].fee, fee.currency)} by steps of value")
    return ", ".join(said)


def _fee_tax(case: Case, fees: Decimal, quote: Quote) -> None:
    rule = case.rules.fee_tax
    if rule is None or not fees:
        return
    share = case.rules.tax_share if rule.percent is None else rule.percent / 100
    of = Money(amount=fees, currency=case.owner.currency)
    note = f"{percent_text(share * 100)} of {money_words(of)}"
    quote.add_due("tax on the carrier's fees", fees * share, "tax", rule.id, note, of)
    quote.touched.append(rule)


def _old_fees(case: Case, quote: Quote) -> None:
    route, day = case.consignment.route, case.consignment.day
    if route is None:
        return
    if route.fees_as_of is None:
        quote.flags.append(f"route {route.id}: its fees are undated")
    elif (day - route.fees_as_of).days > OLD_AFTER_DAYS:
        quote.flags.append(
            f"route {route.id}: its fees were last checked {day_words(route.fees_as_of)}, over a year before"
        )


def handling_line(case: Case, quote: Quote) -> None:
    """The depot's charge for one consignment."""
    route = case.consignment.route
    if route is not None and route.kind == "collection" and route.handling is not None and route.handling.amount:
        quote.add_due(
            "handling at the depot", case.home(route.handling), "fee", "general.handling", "for one consignment"
        )
        _old_fees(case, quote)
