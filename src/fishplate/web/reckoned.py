"""What takes a moment to reckon at the door: trips with their parcels, and what the owner's own figures change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..build import Money, Problem, Rates, Refused, UnknownRateError
from ..build.commerce import Collection, Route
from ..landed import (
    BreakEven,
    Consignment,
    CostLine,
    DeclarationList,
    LandedCost,
    RuleSet,
    TravelAllowance,
    added_parcel,
    baskets_at_the_door,
    baskets_for_trip,
    break_even,
    chargeable_mass_kg,
    collection_cost,
    declaration_list,
    fetched_consignments,
    freight_for,
    landed_trip,
    own_allowance,
    storage_costs,
    trip_against,
    trip_allowance,
    trip_volume_m3,
    way_home,
)
from ..landed.kinds import Allowance
from ..landed.model import total_of
from ..wiring import load_rates, rules_of
from .words import exact

if TYPE_CHECKING:
    from ..build import Build
    from .desk import View


@dataclass(frozen=True, slots=True)
class Parcel:
    """Goods of one supplier on a trip, or that could be.

    Parameters
    ----------
    adds : what it adds to the trip at the margin, storage included; storage : what the depot asks for keeping it
    sent : the cheapest way it comes home otherwise, None if by none
    """

    supplier: str
    consignment: Consignment
    cost: LandedCost
    adds: Money
    sent: LandedCost | None
    sent_by: str
    storage: Money | None = None


@dataclass(frozen=True, slots=True)
class TripFigures:
    """A trip in figures.

    Parameters
    ----------
    lines, total : what the trip costs by itself
    along, could : parcels that are on it, and baskets of what is missing that could be
    mass_kg, volume_m3 : of what is on it; unknown, unboxed : how many of its lines have no known mass, no known box
    against : what is on it against having it sent; with_all : the same with all that could go along
    declared : the list for the border; allowance : the owner's own
    said : why a part of it can't be reckoned
    """

    lines: tuple[CostLine, ...]
    total: Money
    along: tuple[Parcel, ...] = ()
    could: tuple[Parcel, ...] = ()
    mass_kg: float = 0.0
    volume_m3: float = 0.0
    unboxed: int = 0
    unknown: int = 0
    against: BreakEven | None = None
    with_all: BreakEven | None = None
    declared: DeclarationList | None = None
    allowance: Allowance | None = None
    problems: tuple[Problem, ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True)
class OwnChange:
    """A supplier's basket that the owner's own figures make dearer or cheaper, in words."""

    what: str
    before: str
    after: str


def trip_figures(view: View) -> Mapping[str, TripFigures]:
    """Every trip in figures, by its id."""
    rates, _ = load_rates(view.as_of, view.build)
    return {trip.id: _one_trip(view, trip, rates) for trip in view.build.collections}


def _one_trip(view: View, trip: Collection, rates: Rates) -> TripFigures:
    owner = view.build.owner
    nothing = TripFigures((), Money.of(0, owner.currency))
    try:
        lines = collection_cost(trip, owner, rates)
    except UnknownRateError as error:
        return replace(nothing, said=f"{error}; enter one among the rates of your own")
    figures = replace(nothing, lines=lines, total=total_of(lines, owner.currency))
    try:
        rules = rules_of(view.build)
        return _with_parcels(view, trip, rules, rates, figures)
    except Refused as refused:
        return replace(figures, said="; ".join(problem.what for problem in refused.problems))
    except UnknownRateError as error:
        return replace(figures, said=f"{error}; enter one among the rates of your own")


def _with_parcels(view: View, trip: Collection, rules: RuleSet, rates: Rates, figures: TripFigures) -> TripFigures:
    build = view.build
    what = fetched_consignments(build, view.facts, trip)
    bench = _Bench(build, rules, rates, trip_allowance(build, trip))
    kept = storage_costs(build, view.facts, trip, rates)
    along = bench.along(what, kept)
    baskets = baskets_for_trip(build, view.facts, rules, rates, trip) if trip.day >= view.as_of else {}
    could = bench.could(what, baskets)
    goods = [item for consignment in what for item in consignment.goods]
    declared = declaration_list(build, view.facts, trip, rules, rates)
    return replace(
        figures,
        along=along,
        could=could,
        mass_kg=sum(item.mass_kg or 0.0 for item in goods),
        volume_m3=trip_volume_m3(goods),
        unboxed=sum(item.box_mm is None for item in goods),
        unknown=sum(item.mass_kg is None for item in goods),
        against=bench.against(trip, along),
        with_all=bench.best(trip, (*along, *could)) if could else None,
        declared=declared,
        allowance=own_allowance(build, trip, rules),
        problems=declared.problems,
    )


@dataclass(frozen=True, slots=True)
class _Bench:
    """Reckons the parcels of one trip."""

    build: Build
    rules: RuleSet
    rates: Rates
    allowance: TravelAllowance

    def trip(self, what: Sequence[Consignment]) -> tuple[LandedCost, ...]:
        given = (self.build.owner, self.rules, self.rates, self.build.rule_overrides)
        return landed_trip(what, *given, allowance=self.allowance, with_doubts=False)

    def along(self, what: Sequence[Consignment], kept: Mapping[str, Money]) -> tuple[Parcel, ...]:
        """What is on the trip, each with what it adds to the others."""
        costs = self.trip(what)
        whole = sum(cost.total.amount for cost in costs)
        found = []
        for place, (consignment, cost) in enumerate(zip(what, costs, strict=True)):
            others = self.trip([one for at, one in enumerate(what) if at != place])
            adds = Money.of(whole - sum(each.total.amount for each in others), self.build.owner.currency)
            storage = kept.get(consignment.supplier.id)
            parcel = self._parcel(consignment, cost, adds if storage is None else adds + storage)
            found.append(replace(parcel, storage=storage))
        return tuple(found)

    def could(self, what: Sequence[Consignment], baskets: Mapping[str, Consignment]) -> tuple[Parcel, ...]:
        """What could go along; goods of a supplier that is on the trip already go with its parcel."""
        there = {consignment.supplier.id for consignment in what}
        given = (self.build.owner, self.rules, self.rates, self.build.rule_overrides)
        found = []
        for supplier, basket in baskets.items():
            if supplier not in there:
                try:
                    added = added_parcel(what, basket, *given, allowance=self.allowance)
                except (Refused, UnknownRateError):
                    continue
                found.append(self._parcel(basket, added.cost, added.adds))
        return tuple(found)

    def _parcel(self, consignment: Consignment, cost: LandedCost, adds: Money) -> Parcel:
        by, sent = self._sent(consignment)
        return Parcel(consignment.supplier.id, consignment, cost, adds, sent, by)

    def _sent(self, consignment: Consignment) -> tuple[str, LandedCost | None]:
        """The cheapest way home other than fetching it."""
        best: tuple[str, LandedCost | None] = ("", None)
        for route in self._routes(consignment):
            value = sum((item.value for item in consignment.goods[1:]), consignment.goods[0].value)
            try:
                freight = freight_for(consignment.supplier, route, value, chargeable_mass_kg(consignment.goods, route))
            except ValueError:
                continue
            sent = replace(consignment, route=route, freight=freight)
            found = way_home(route.name, sent, self.build, self.rules, self.rates, TravelAllowance())
            if found.cost is not None and (best[1] is None or found.cost.exact < best[1].exact):
                best = route.name, found.cost
        return best

    def _routes(self, consignment: Consignment) -> list[Route]:
        stated = {terms.route for terms in consignment.supplier.freight}
        return [
            route
            for route in self.build.routes
            if route.kind != "collection"
            and (route.id in stated if stated else route.from_country == consignment.supplier.country)
        ]

    def against(self, trip: Collection, parcels: Sequence[Parcel]) -> BreakEven | None:
        """Parcels by the trip against having them sent; None where none can come both ways."""
        both = [parcel for parcel in parcels if parcel.sent is not None]
        if not both:
            return None
        costs = self.trip([parcel.consignment for parcel in both])
        sent = [parcel.sent for parcel in both if parcel.sent is not None]
        storage = sum((parcel.storage for parcel in both if parcel.storage), Money.of(0, self.build.owner.currency))
        return break_even(trip, costs, sent, self.build.owner, self.rates, storage=storage)

    def best(self, trip: Collection, parcels: Sequence[Parcel]) -> BreakEven | None:
        """The trip with those parcels on it that cost less fetched; None where none can come both ways."""
        both = [(parcel.consignment, parcel.sent) for parcel in parcels if parcel.sent is not None]
        if not both:
            return None
        fetched, sent = zip(*both, strict=True)
        anyway = [parcel.consignment for parcel in parcels if parcel.sent is None]
        return trip_against(self.build, trip, fetched, sent, self.rules, self.rates, anyway=anyway)


# the owner's own figures


def own_changes(view: View) -> tuple[OwnChange, ...]:
    """What the owner's own rates and rules change: the cheapest way home of each supplier's basket."""
    build = view.build
    if not (build.rule_overrides or build.rates):
        return ()
    try:
        rules = rules_of(build)
    except Refused:
        return ()
    bare = build.model_copy(update={"rule_overrides": (), "rates": ()})
    before, after = (_cheapest(view, each, rules) for each in (bare, build))
    return tuple(
        OwnChange(name, before.get(name, "not known"), total)
        for name, total in after.items()
        if before.get(name) != total
    )


def _cheapest(view: View, build: Build, rules: RuleSet) -> dict[str, str]:
    rates, _ = load_rates(view.as_of, build)
    found = {}
    for row in baskets_at_the_door(build, view.facts, rules, rates):
        totals = [way.cost.total for way in row.ways if way.cost is not None]
        if totals:
            found[row.supplier] = exact(min(totals, key=lambda money: money.amount))
    return found
