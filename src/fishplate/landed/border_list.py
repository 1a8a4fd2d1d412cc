"""The declaration list: what the owner carries over the border, what it is worth, and what papers go with it.

Everything is on it, whatever is free: the officer decides. It states what was paid, and asks nobody to state less.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from ..build.commerce import Collection
from ..build.document import Build
from ..build.facts import Facts
from ..build.money import Money, Rates
from ..build.problem import Problem
from .case import Case, positions
from .fetching import arrival_days, collection_problems, storage_line, trip_allowance
from .kinds import Allowance, Scope
from .model import Consignment, CostLine, Goods, LandedCost, TravelAllowance
from .ordered import fetched_consignments, orders_on
from .quote import landed_trip, trip_cases
from .rules import RuleSet
from .seller import Use
from .travel import allowance_rule

ZERO = Decimal(0)
CARE = "Declare everything on this list, and whatever else you bring; the officer decides what is due."


@dataclass(frozen=True, slots=True)
class DeclaredLine:
    """One line of the list.

    Parameters
    ----------
    paid : price of all units as paid; worth : what customs counts, in the currency of the border
    free : the part of it within the owner's allowance; due : duty and tax on the line are not shown apart, see the sums
    note : what to say about it where something is not known
    """

    supplier: str
    what: str
    quantity: float
    paid: Money
    worth: Money
    heading: str | None
    origin: str | None
    proof: bool
    mass_kg: float | None
    free: Money
    note: str


@dataclass(frozen=True, slots=True)
class DeclarationList:
    """What a trip carries over the border.

    Parameters
    ----------
    worth, free : sums in the currency of the border
    duty, tax : expected, in home currency
    papers : what to have at hand
    storage : what the depot asks for keeping what comes long before the trip
    problems : why the trip cannot fetch it all, as far as is known
    """

    collection: str
    day: date
    start: str
    destination: str
    lines: tuple[DeclaredLine, ...]
    worth: Money
    free: Money
    duty: Money
    tax: Money
    papers: tuple[str, ...]
    storage: tuple[CostLine, ...]
    flags: tuple[str, ...]
    problems: tuple[Problem, ...]
    care: str = CARE


def declaration_list(
    build: Build, facts: Facts, collection: Collection, rules: RuleSet, rates: Rates
) -> DeclarationList:
    """The list for the border, of what was ordered for a trip and is still to come.

    Parameters
    ----------
    collection : the trip; orders placed for it, or for its depot with no trip named
    """
    what = fetched_consignments(build, facts, collection)
    found = list_of(what, build, collection, rules, rates, trip_allowance(build, collection))
    waiting = _at_the_depot(build, facts, collection, rates)
    storage = tuple(line for line, _ in waiting if line is not None)
    late = tuple(problem for _, problem in waiting if problem is not None)
    return replace(found, storage=storage, problems=(*found.problems, *late))


def storage_costs(build: Build, facts: Facts, collection: Collection, rates: Rates) -> dict[str, Money]:
    """What the depot asks for keeping what was ordered until the trip, by supplier; those it asks nothing for left out.

    Raises
    ------
    UnknownRateError
        if the charge's currency has no rate
    """
    route, found = build.find("routes", collection.route), dict[str, Money]()
    for order in orders_on(build, facts, collection):
        if order.promised is not None:
            line = storage_line(collection, route, order.promised, build.owner, rates)
            if line is not None:
                found[order.supplier] = line.amount + found.get(order.supplier, line.amount * 0)
    return found


def _at_the_depot(
    build: Build, facts: Facts, collection: Collection, rates: Rates
) -> list[tuple[CostLine | None, Problem | None]]:
    """What each order promised for a day costs in storage, and whether it is there on the day of the trip."""
    route = build.find("routes", collection.route)
    first, last = arrival_days(collection)
    found: list[tuple[CostLine | None, Problem | None]] = []
    for order in orders_on(build, facts, collection):
        if order.promised is None:
            continue
        problem, where = None, f"order {order.id}, promised"
        if order.promised > last:
            what, do = f"it is promised for {order.promised}, after the trip", "Ask the seller, or fetch it later."
            problem = Problem(where, "too-late", what, str(order.promised), do)
        elif order.promised < first:
            what = f"the depot keeps goods for {collection.storage_weeks:g} weeks, and it comes before {first}"
            problem = Problem(where, "too-early", what, str(order.promised), "Have it sent later, or ask the depot.")
        line = storage_line(collection, route, order.promised, build.owner, rates)
        found.append((None if line is None else replace(line, label=f"{line.label}, order {order.id}"), problem))
    return found


def list_of(
    what: Sequence[Consignment],
    build: Build,
    collection: Collection,
    rules: RuleSet,
    rates: Rates,
    allowance: TravelAllowance,
) -> DeclarationList:
    """The list for the border, of consignments one trip fetches."""
    owner, route = build.owner, build.find("routes", collection.route)
    costs = landed_trip(what, owner, rules, rates, build.rule_overrides, allowance=allowance, with_doubts=False)
    cases = trip_cases(what, owner, rules.with_overrides(build.rule_overrides)[0], rates, allowance=allowance)
    lines = tuple(line for case in cases for line in _lines(case, build))
    goods = [item for consignment in what for item in consignment.goods]
    flags = tuple(dict.fromkeys(flag for cost in costs for flag in cost.flags))
    return DeclarationList(
        collection.id, collection.day, route.from_country, owner.country, lines,
        worth=_sum((line.worth for line in lines), rules.currency),
        free=_sum((line.free for line in lines), rules.currency),
        duty=_charged(costs, "duty", owner.currency),
        tax=_charged(costs, "tax", owner.currency),
        papers=tuple(_papers(cases)),
        storage=(),
        flags=flags,
        problems=collection_problems(collection, route, goods),
    )  # fmt: skip


def own_allowance(build: Build, collection: Collection, rules: RuleSet) -> Allowance | None:
    """The owner's own travel allowance on a trip; None if there is none, or the build belongs to a business."""
    start = build.find("routes", collection.route).from_country
    if not build.owner.private_person or start in rules.single_market:
        return None
    scope = Scope("traveller", private=True, sent_from=start, region=build.owner.region)
    return allowance_rule(
        trip_allowance(build, collection), rules.with_overrides(build.rule_overrides)[0].on(collection.day, scope)
    )


def _sum(amounts: Iterable[Money], currency: str) -> Money:
    return Money(amount=sum((money.amount for money in amounts), ZERO), currency=currency)


def _charged(costs: Sequence[LandedCost], kind: str, currency: str) -> Money:
    due = (line.amount for cost in costs for line in cost.lines if line.kind == kind and line.due == "arrival")
    return _sum(due, currency)


def _lines(case: Case, build: Build) -> Iterable[DeclaredLine]:
    currency = case.rules.set.currency
    declared = positions(case, at_sale=False)
    free = case.travel.free if case.travel is not None else tuple(ZERO for _ in declared)
    for item, line, freed in zip(case.consignment.goods, declared, free, strict=True):
        yield DeclaredLine(
            supplier=case.consignment.supplier.name,
            what=_named(item, build),
            quantity=item.quantity,
            paid=item.value,
            worth=Money(amount=line.value, currency=currency).rounded(),
            heading=item.heading,
            origin=item.origin,
            proof=item.proof,
            mass_kg=item.mass_kg,
            free=Money(amount=freed, currency=currency).rounded(),
            note="; ".join(filter(None, (_note(item), _tax_note(case, item)))),
        )


def _named(item: Goods, build: Build) -> str:
    """The part or kit behind an offer, by its name."""
    if item.label not in build.index["offers"]:
        return item.label
    offer = build.find("offers", item.label)
    name: str = build.find("parts", offer.part).name if offer.part else build.find("kits", offer.kit or "").name
    return name


def _note(item: Goods) -> str:
    missing = []
    if item.heading is None:
        missing.append("tariff heading not known: describe what it is and what it is made of")
    if item.origin is None:
        missing.append("country of making not known")
    if item.mass_kg is None:
        missing.append("mass not known")
    return "; ".join(missing)


def _tax_note(case: Case, item: Goods) -> str:
    """Why customs counts more or less than the price that was ordered at."""
    terms = case.terms(item.use, at_sale=False)
    if terms.customs == 1:
        return ""
    return f"worth {'more' if terms.customs > 1 else 'less'} than its price: sales tax, {terms.note}"


def _papers(cases: Sequence[Case]) -> Iterable[str]:
    for case in cases:
        seller = case.consignment.supplier
        yield f"{seller.name}: invoice with prices and proof of payment"
        if any(item.proof for item in case.consignment.goods):
            yield f"{seller.name}: proof of origin"
        if seller.origin_tax in ("taken-off", "refund") and any(_comes_off(case, use) for use in case.uses()):
            yield f"{seller.name}: papers of export, to be stamped at the border; without them its sales tax stays"


def _comes_off(case: Case, use: Use) -> bool:
    """Whether the seller's tax is off goods of a use: customs then counts what limits count."""
    terms = case.terms(use, at_sale=False)
    return terms.customs == terms.intrinsic
