"""What to measure within an evening's minutes and money, worked out beside the pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..build import Build
from ..build.money import UnknownRateError

if TYPE_CHECKING:
    from datetime import date

    from ..fit import MeasurePlan
    from .desk import View


@dataclass(frozen=True, slots=True)
class Budget:
    """What there is of own time [min] and of money [home currency]; None for no limit."""

    minutes: float | None = None
    money: float | None = None


def evening(view: View, budget: Budget) -> MeasurePlan:
    """What to measure next in a build, within a budget."""
    from ..fit import measure_next, study

    found = study(view.build, view.facts)
    rates = _rates(view.build, view.as_of)
    return measure_next(view.build, view.facts, found, minutes=budget.minutes, money=budget.money, rates=rates)


def _rates(build: Build, day: date) -> dict[str, float]:
    """Home currency for one unit of each currency offers are in; those without a rate are left out."""
    from ..wiring import load_rates

    rates, _ = load_rates(day, build)
    found = {}
    for code in {offer.price.currency for offer in build.offers}:
        try:
            found[code] = float(rates.rate(code, build.owner.currency))
        except UnknownRateError:
            continue
    return found
