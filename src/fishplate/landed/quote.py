"""The landed cost of a consignment, line by line.

An estimate with its date: goods are declared honestly, and the authority or a licensed broker decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal, InvalidOperation

from pydantic import ValidationError

from ..build.commerce import RuleOverride
from ..build.errors import Refused
from ..build.money import Money, Rates, minor_unit
from ..build.owner import Owner
from ..build.problem import Problem
from .case import Case, carried_goods, case_of
from .figures import money_words
from .freight import consignment_problems, route_problem
from .itemise import Quote, itemise
from .kinds import RuleBase
from .model import Consignment, CostLine, Doubt, LandedCost, RuleNote, TravelAllowance
from .rules import RuleSet
from .rules_of_day import DutyChoice, cheapest_region
from .travel import travel_grant

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
    customs_rates: Rates | None = None,
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
    customs_rates : what customs converts at, where that is another day's or another table's; the rates if left out
    with_doubts : also reckon what the total would be if a doubt falls out otherwise; without, three times as quick

    Raises
    ------
    Refused
        if the goods cannot come by this route, or a mass, count or heading cannot be
    UnknownRateError
        if a currency has no rate

    Notes
    -----
    The chain is exact decimal arithmetic, rounded only where a rule of the destination rounds a step. Lines are shown
    in whole minor units; where these do not add up to the exact total, a line named rounding makes up the difference.
    """
    _check(consignment, rules)
    in_force, unused = rules.with_overrides(overrides)
    case = case_of(consignment, owner, in_force, rates, allowance=allowance, customs_rates=customs_rates)
    with _within_reckoning():
        (case,) = _with_allowance([case])
        return _cost(case, unused, with_doubts=with_doubts)


@contextmanager
def _within_reckoning() -> Iterator[None]:
    """Amounts that money or exact arithmetic cannot hold are refused."""
    try:
        yield
    except (ValidationError, InvalidOperation):
        raise Refused([_TOO_MUCH]) from None


def _check(consignment: Consignment, rules: RuleSet) -> None:
    problem = route_problem(consignment.supplier, consignment.route, consignment.goods, rules.single_market)
    problems = [*consignment_problems(consignment), *([problem] if problem is not None else [])]
    if problems:
        raise Refused(problems)


def _cost(case: Case, unused: Sequence[str], *, with_doubts: bool) -> LandedCost:
    quote = itemise(case)
    doubts = tuple(_doubts(case, quote)) if with_doubts else ()
    touched = [*quote.touched, *(_only_in_the_range(case) if with_doubts else ())]
    flags = tuple(dict.fromkeys((*quote.flags, *_rule_flags(touched, case.consignment), *unused)))
    lines, total = _shown(quote.lines, case.owner.currency)
    assumptions = tuple(sorted(set(quote.assumptions)))
    notes = tuple(_rule_notes(touched))
    spread = _range(case, doubts)
    return LandedCost(lines, total, flags, assumptions, doubts, quote.exact, quote.free, notes, spread)


def landed_trip(
    consignments: Sequence[Consignment],
    owner: Owner,
    rules: RuleSet,
    rates: Rates,
    overrides: Sequence[RuleOverride] = (),
    *,
    allowance: TravelAllowance | None = None,
    customs_rates: Rates | None = None,
    with_doubts: bool = True,
) -> tuple[LandedCost, ...]:
    """The consignments fetched on one trip, which share the owner's one travel allowance.

    Parameters
    ----------
    allowance : how the owner travels; the lower allowance is used where it is not said

    Notes
    -----
    All goods of the trip cross the border together, on the latest of their days: allowance, limits and flat rate are
    reckoned over all of them, and each consignment gets its part. Goods of one supplier belong in one consignment.
    """
    for consignment in consignments:
        _check(consignment, rules)
    in_force, unused = rules.with_overrides(overrides)
    with _within_reckoning():
        cases = trip_cases(consignments, owner, in_force, rates, allowance=allowance, customs_rates=customs_rates)
        return tuple(_cost(case, unused, with_doubts=with_doubts) for case in cases)


def trip_cases(
    consignments: Sequence[Consignment],
    owner: Owner,
    rules: RuleSet,
    rates: Rates,
    *,
    allowance: TravelAllowance | None = None,
    customs_rates: Rates | None = None,
) -> list[Case]:
    """The consignments of one trip with what bears on them and what the owner's allowance covers of each."""
    crossing = max((consignment.day for consignment in consignments), default=None)
    return _with_allowance(
        [
            case_of(
                replace(consignment, day=crossing or consignment.day), owner, rules, rates,
                allowance=allowance or TravelAllowance(), customs_rates=customs_rates,
            )
            for consignment in consignments
        ]
    )  # fmt: skip


def _with_allowance(cases: Sequence[Case]) -> list[Case]:
    """The cases of one trip, each with its part of what the owner's allowance and the flat rate cover."""
    found = list(cases)
    sharing = [place for place, case in enumerate(cases) if case.moves == "carried" and case.owner.private_person]
    if not sharing:
        return found
    first, goods = cases[sharing[0]], {place: carried_goods(cases[place]) for place in sharing}
    allowance = first.allowance
    left = None
    if allowance is not None and allowance.left is not None:
        left = first.customs(allowance.left.amount, allowance.left.currency)
    together = [one for place in sharing for one in goods[place]]
    grant = travel_grant(together, allowance, first.rules, first.customs, left)
    start = 0
    for place in sharing:
        end = start + len(goods[place])
        found[place] = replace(cases[place], travel=grant.part(start, end))
        start = end
    return found


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
    if case.moves == "inside":
        return
    yield from _duty_doubts(case, quote)
    yield from _region_doubts(case, quote)
    supplier = case.consignment.supplier
    if supplier.origin_tax is None and case.moves == "sent":
        best = itemise(_exported(case)).exact
        if best < quote.exact:
            saving = Money(amount=quote.exact - best, currency=case.owner.currency).rounded()
            text = (
                f"if {supplier.name} exports and takes its sales tax off, the total is {money_words(saving)} less: ask"
            )
            yield _doubt(case, "origin-tax", f"supplier {supplier.id}", best, quote.exact, text)


def _duty_doubts(case: Case, quote: Quote) -> Iterable[Doubt]:
    goods, rules = case.consignment.goods, case.rules
    low, high = (itemise(replace(case, duty=end)).exact for end in ENDS)
    if low != high:
        doubtful = [item for item in goods if not rules.duty_rate(item.heading).known]
        texts = dict.fromkeys(rules.duty_rate(item.heading).text for item in doubtful)
        surtaxes = _doubtful_surtaxes(case)
        if surtaxes:
            charged = "is charged" if len(surtaxes) == 1 else "are charged"
            texts[f"it depends on heading and country of making whether {', '.join(surtaxes)} {charged}"] = None
        about = ", ".join(item.label for item in (doubtful or goods))
        yield _doubt(case, "heading", about, min(low, quote.exact), max(high, quote.exact), "; ".join(texts))
    partners = sorted({item.origin for item in goods if item.origin and rules.preference(item.origin, item.heading)})
    if partners and not all(item.proof for item in goods):
        best = itemise(replace(case, duty="preference")).exact
        if best < quote.exact:
            names = ", ".join(partners)
            saving = money_words(Money(amount=quote.exact - best, currency=case.owner.currency))
            text = f"with a proof of origin in {names} the total is {saving} less; it is not taken for granted"
            yield _doubt(case, "preference", names, best, quote.exact, text)


def _only_in_the_range(case: Case) -> Iterable[RuleBase]:
    """Surtaxes that one end of the range rests on."""
    if case.moves != "inside":
        yield from (case.rules.set.by_id(id_) for id_ in _doubtful_surtaxes(case))


def _doubtful_surtaxes(case: Case) -> list[str]:
    """Ids of surtaxes that one end of the range charges and the other does not."""
    found = set[str]()
    if not case.rules.surtaxes:
        return []
    for item in case.consignment.goods:
        low, high = (
            {
                (part.rule.id, part.share)
                for part in case.rules.burden(item.heading, item.origin, proof=item.proof, choice=end)[1:]
            }
            for end in ENDS
        )
        found |= {id_ for id_, _ in low ^ high}
    return sorted(found)


def _region_doubts(case: Case, quote: Quote) -> Iterable[Doubt]:
    rules = case.rules
    if not rules.region_assumed:
        return
    elsewhere = _elsewhere(case)
    cheapest = elsewhere.rules.scope.region
    low = itemise(elsewhere).exact
    text = (
        f"between {rules.set.regions[cheapest]} and {rules.set.regions[rules.scope.region]}: enter the owner's region"
    )
    yield _doubt(case, "region", "owner", min(low, quote.exact), quote.exact, text)


def _exported(case: Case) -> Case:
    """The same goods from a seller that exports and takes its own tax off."""
    exporter = case.consignment.supplier.model_copy(update={"origin_tax": "taken-off"})
    return replace(case, consignment=replace(case.consignment, supplier=exporter), _terms={})


def _elsewhere(case: Case) -> Case:
    """The same goods in the province or state with the lowest tax."""
    rules = case.rules
    cheapest = cheapest_region(rules.set, rules.day, rules.scope)
    return replace(case, rules=rules.set.on(rules.day, replace(rules.scope, region=cheapest)), _terms={})


def _range(case: Case, doubts: Sequence[Doubt]) -> tuple[Money, Money] | None:
    """The totals if all that is doubtful falls out well, and if all falls out badly."""
    if not doubts:
        return None
    codes, best = {doubt.code for doubt in doubts}, case
    low, high = min(doubt.low.amount for doubt in doubts), max(doubt.high.amount for doubt in doubts)
    if len(doubts) > 1:
        best = _exported(best) if "origin-tax" in codes else best
        best = _elsewhere(best) if "region" in codes else best
        choices: list[DutyChoice] = ["preference"] if "preference" in codes else []
        choices += ["low"] if "heading" in codes else []
        low = min(low, *(itemise(replace(best, duty=choice)).exact for choice in choices or [case.duty]))
    bottom, top = (Money(amount=end, currency=case.owner.currency).rounded() for end in (low, high))
    return bottom, top


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
