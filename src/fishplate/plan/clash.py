"""Why not everything can be bought as asked: the few conditions that clash, and the cheapest way out, in words."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import replace

from ..build import Build, date_at
from ..build.words import joined
from ..buy import PurchasePlan, PurchaseProblem, seconds_for, solve_fixed
from ..buy.clash import Clash, Condition, Kind, WayOut, clash, conditions_of, firm_plan
from .choices import choice_words
from .loop import Round
from .market import Market
from .model import PlannedClash
from .owed import owed_on_orders
from .recosting import Recosting
from .sentences import day_words, list_words, money_words, name_of
from .study import Studied

MOST_WAYS = 3
SECONDS = 2.0


def clash_of(studied: Studied, chosen: Round) -> PlannedClash | None:
    """What keeps a settled round from buying everything within the money; None if nothing does."""
    demand = chosen.demand
    if not (chosen.purchase.unmet or chosen.purchase.cash_over or chosen.market.unoffered()):
        return None
    costs = chosen.recosting.costs
    if not chosen.purchase.unmet and not chosen.market.unoffered():
        settled = chosen.market.problem()
        plan = firm_plan(settled, recost=costs, time_limit=seconds_for(len(settled.candidates), SECONDS))
        if plan is not None:
            return _Words(studied, chosen, chosen.market, settled, chosen.recosting).dearer(plan)
    free = replace(demand, holds={})
    market = Market(
        *(studied.situation, studied.outlooks, studied.deliveries, free, chosen.market.not_before, studied.doors),
        free_choice=True,
    )
    problem, recosting = market.problem(), Recosting(market)
    holds = [*_holds(chosen, market), *_choices(market)]
    found = clash(problem, conditions_of(problem, holds), recost=recosting.costs, time_limit=SECONDS)
    return None if found is None else _Words(studied, chosen, market, problem, recosting).clash(found)


def _holds(chosen: Round, market: Market) -> list[Condition]:
    """What holds orders, each with the candidates it bars."""
    barred: dict[str, set[str]] = defaultdict(set)
    for key, entry in market.entries.items():
        week, why = chosen.demand.holds.get(entry.offer.id, (0.0, ""))
        if entry.week < week - 1e-9:
            barred[why].add(key)
    return [Condition(Kind.HOLD, why, frozenset(keys)) for why, keys in sorted(barred.items())]


def _choices(market: Market) -> list[Condition]:
    """The owner's choices, each with the candidates it bars."""
    barred: dict[str, set[str]] = defaultdict(set)
    for key, entry in market.entries.items():
        for choice in market.choices.bars(entry.offer, entry.week):
            barred[choice].add(key)
    return [Condition(Kind.CHOICE, choice, frozenset(keys)) for choice, keys in sorted(barred.items())]


class _Words:
    """The words of one clash."""

    def __init__(
        self, studied: Studied, chosen: Round, market: Market, problem: PurchaseProblem, recosting: Recosting
    ) -> None:
        self.studied, self.chosen, self.market = studied, chosen, market
        self.problem, self.recosting = problem, recosting
        self.build: Build = studied.situation.build
        self.currency = self.build.owner.currency

    def clash(self, found: Clash) -> PlannedClash:
        """Conditions and ways out."""
        conditions = tuple(self._condition(condition) for condition in found.conditions)
        # what the build needs is given up last, however much money that leaves
        ranked = sorted(found.ways_out, key=lambda way: way.condition.kind is Kind.PART)
        ways = tuple(self._way(way) for way in ranked[:MOST_WAYS])
        text = f"Not all of this can be kept: {joined(list(conditions))}."
        if len(conditions) == 1:
            text = f"This can't be kept: {conditions[0]}."
        if not found.narrowed:
            some = list_words(list(conditions[::-1]))
            text = f"Not all of this can be kept, though some of it may have no part in that: {some}."
        return PlannedClash(conditions, ways, f"{text} The cheapest way out: {ways[0]}." if ways else text)

    def dearer(self, plan: PurchasePlan) -> PlannedClash:
        """Where a plan within the money is there, but dearer than finding more of it is counted at."""
        month, most = max(self.chosen.purchase.cash_over.items(), key=lambda entry: (entry[1], -entry[0]))
        more = money_words(max(plan.total - self.chosen.purchase.total, 0.0), self.currency)
        over = f"{money_words(most + 0.5, self.currency)} beyond your money by the end of {self._month(month)}"
        way = f"ordering later or elsewhere keeps to your money and costs {more} more"
        return PlannedClash((f"the plan spends {over}",), (way,), f"The plan spends {over}; {way}.")

    def _condition(self, condition: Condition) -> str:
        match condition.kind:
            case Kind.EVERYTHING:
                return "everything that is missing is to be bought"
            case Kind.PART:
                return f"{name_of(self.build, 'parts', condition.about)} is to be bought"
            case Kind.MONEY:
                owner = self.build.owner
                now, monthly = float(owner.cash_now or 0), float(owner.cash_per_month or 0)
                there = f"{money_words(monthly, self.currency)} a month"
                if now:
                    there = f"{money_words(now, self.currency)} and {there}"
                owed = sum(item.amount for item in owed_on_orders(self.studied.situation))
                kept = f", of which {money_words(owed, self.currency)} is still to be paid on orders" if owed else ""
                return f"there is {there} to spend{kept}"
            case Kind.HOLD:
                return f"orders wait for the {condition.about}"
            case Kind.CAPACITY:
                carries = next(trip.capacity_kg for trip in self.problem.trips if trip.id == condition.about)
                return f"{self._trip(condition.about)} carries {carries:g} kg"
            case Kind.ROOM:
                room = next(trip.capacity_m3 for trip in self.problem.trips if trip.id == condition.about)
                return f"{self._trip(condition.about)} has room for {room:g} m³"
            case Kind.MINIMUM:
                return f"{name_of(self.build, 'suppliers', condition.about)} has a least order"
            case Kind.CHOICE:
                return self._choice(condition.about)
        raise AssertionError(condition.kind)

    def _way(self, way: WayOut) -> str:
        cost = f"{money_words(way.plan.total, self.currency)} in all"
        return f"{self._easing(way)} ({cost})"

    def _easing(self, way: WayOut) -> str:
        about, currency = way.condition.about, self.currency
        match way.condition.kind:
            case Kind.EVERYTHING:
                return f"go without {list_words([name_of(self.build, 'parts', part) for part in way.plan.unmet])}"
            case Kind.PART:
                return f"go without {name_of(self.build, 'parts', about)}"
            case Kind.MONEY:
                return f"{money_words(way.amount + 0.5, currency)} more{self._by(way)}"
            case Kind.HOLD:
                return f"settle the {about}{self._then(way)}"
            case Kind.CAPACITY:
                return f"room for {way.amount:,.0f} kg more on {self._trip(about)}"
            case Kind.ROOM:
                return f"room for {math.ceil(100 * way.amount - 1e-3) / 100:g} m³ more on {self._trip(about)}"
            case Kind.MINIMUM:
                supplier = name_of(self.build, "suppliers", about)
                return f"goods for {money_words(way.amount, currency)} more from {supplier}"
            case Kind.CHOICE:
                return f"give up that {self._choice(about)}"
        raise AssertionError(way.condition.kind)

    def _by(self, way: WayOut) -> str:
        spent = solve_fixed(self.problem, way.plan.units, recost=self.recosting.costs).cash_over
        if not spent:
            return ""
        return f" by the end of {self._month(max(spent, key=lambda month: (spent[month], -month)))}"

    def _then(self, way: WayOut) -> str:
        lines = [line for line in way.plan.lines if line.candidate in way.condition.bars]
        if not lines:
            return ""
        first = min(lines, key=lambda line: (line.week, line.candidate))
        as_of = self.studied.situation.as_of
        names = joined(sorted({name_of(self.build, "parts", part) for line in lines for part in line.parts})[:3])
        when = day_words(date_at(as_of, first.week), as_of)
        return f", and {names} can be ordered {when if when == 'today' else f'on {when}'}"

    def _trip(self, trip: str) -> str:
        collection = self.build.find("collections", trip)
        place = f" to {collection.place}" if collection.place else ""
        return f"the trip{place} of {day_words(collection.day, self.studied.situation.as_of)}"

    def _choice(self, choice: str) -> str:
        return choice_words(self.studied.situation, self.build.find("fixed_choices", choice))

    def _month(self, index: int) -> str:
        as_of = self.studied.situation.as_of
        year, month = divmod(as_of.year * 12 + as_of.month - 1 + index, 12)
        return as_of.replace(year=year, month=month + 1, day=1).strftime("%B %Y")
