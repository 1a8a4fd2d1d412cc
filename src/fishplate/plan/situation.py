"""What a plan starts from: the build on a day, with rules, rates and the owner's values resolved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from ..build import Assumption, Build, Facts, Rates
from ..build.defaults import carrying_percent, hour_worth, in_home, owner_assumed, week_delay_cost
from ..build.money import Money
from ..build.words import day_words
from ..landed import RuleSet
from ..prices import RateWalk
from .waits import Wait, waits_of_offers

KEEPING_PERCENT, ORDER_HOURS = 6.0, 0.3


@dataclass(frozen=True)
class Situation:
    """Everything the engines are given.

    Parameters
    ----------
    facts : the build as it stands on `as_of`
    rules : import rules of the owner's country
    rates : exchange rates of the day; rate_walk : how they may wander from then on
    runs : joint draws for the finish; waiting_runs : for the cost of waiting
    """

    build: Build
    facts: Facts
    as_of: date
    seed: int
    rules: RuleSet
    rates: Rates
    rate_assumptions: tuple[Assumption, ...] = ()
    runs: int = 2000
    waiting_runs: int = 600
    solver_seconds: float = 8.0
    target_gap: float = 0.01
    rate_walk: RateWalk = field(default_factory=RateWalk)

    @cached_property
    def hour_worth(self) -> float:
        """What one own hour is worth, home currency."""
        return hour_worth(self.build.owner)

    @cached_property
    def week_delay_cost(self) -> float:
        """What finishing a week later costs, home currency."""
        return week_delay_cost(self.build.owner)

    @cached_property
    def carrying_per_week(self) -> float:
        """Cost of money tied up for a week, as a share of it."""
        return carrying_percent(self.build.owner) / 100 / 52

    @cached_property
    def keeping_per_week(self) -> float:
        """Cost of having a part a week before it is needed, as a share of its price: money, room, warranty."""
        stated = self.build.owner.keeping_percent
        return self.carrying_per_week + (KEEPING_PERCENT if stated is None else stated) / 100 / 52

    @cached_property
    def order_effort(self) -> float:
        """What placing an order and taking it in costs the owner in own time, home currency."""
        return ORDER_HOURS * self.hour_worth

    @cached_property
    def offer_waits(self) -> Mapping[str, tuple[Wait, ...]]:
        """Offer -> all that its order may wait for."""
        return waits_of_offers(self.build)

    @cached_property
    def waited_for(self) -> frozenset[Wait]:
        """All that the order of some offer may wait for."""
        return frozenset(wait for waits in self.offer_waits.values() for wait in waits)

    @cached_property
    def missing_parts(self) -> Mapping[str, float]:
        """Wanted parts neither owned nor on their way, and how many."""
        counts = {part: self.facts.missing(self.build, part) for part in sorted(self.facts.wanted_parts)}
        return {part: count for part, count in counts.items() if count > 1e-9}

    @cached_property
    def to_home(self) -> Mapping[str, float]:
        """Home-currency units for one unit of every currency the build uses and a rate is known for."""
        home = self.build.owner.currency
        known = {self.rates.base, home, *self.rates.per_base}
        return {code: float(self.rates.rate(code, home)) for code in known}

    def in_home(self, euros: float) -> float:
        """A plain figure of the home currency for euros: a default, or what is too small to count."""
        return in_home(euros, self.build.owner)

    def home(self, money: Money | None) -> float:
        """Money in home currency as a float; 0 for none; raises UnknownRateError."""
        return 0.0 if money is None else float(self.rates.convert(money, self.build.owner.currency).amount)

    def assumptions(self) -> tuple[Assumption, ...]:
        """What was taken for granted about the owner."""
        owner = self.build.owner
        found = [*self.rate_assumptions, *self.rate_walk.assumptions, *owner_assumed(owner)]
        if owner.keeping_percent is None:
            text = (
                f"a part bought early takes room, its warranty runs and plans change: {KEEPING_PERCENT:g} % of its "
                "price a year, beside the money tied up (our own default)"
            )
            found.append(Assumption("keeping-default", "build", text))
        text = f"placing an order and taking it in takes {60 * ORDER_HOURS:.0f} minutes of own time (our own default)"
        found.append(Assumption("order-effort", "build", text))
        if owner.cash_per_month is None:
            found.append(
                Assumption("cash-unlimited", "build", "no limit on cash a month was given, so none is kept to")
            )
        for item in self.build.put_off:
            if item.until > self.as_of:
                why = f": {item.why}" if item.why else ""
                text = f"put off by you until {day_words(item.until)}{why}"
                found.append(Assumption("put-off", f"{item.kind} {item.what}", text))
        return tuple(found)
