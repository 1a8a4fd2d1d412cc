"""What is taken where the build does not say: one figure for every engine, each marked with what it rests on.

Who uses one lists it among the assumptions.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from .base import ThreePoint
from .commerce import ReturnTerms, Supplier
from .owner import Owner
from .problem import Assumption

# Our own defaults, in home currency.
HOUR_WORTH: Final = 15.0
WEEK_DELAY_COST: Final = 75.0
# Common practice.
CARRYING_PERCENT: Final = 4.0
LEAD_WEEKS: Final = ThreePoint(low=1, likely=2, high=4)
SUPPLIER_SLIPPAGE: Final = 1.3
CRAFT_SLIPPAGE: Final = 2.0
RETURNS: Final = ReturnTerms(days=14, ended_by=("bolted", "altered"))
RESALE_SHARE: Final = 0.6
LOOK_HOURS: Final = 0.1


def hour_worth(owner: Owner) -> float:
    """What an own hour is worth, home currency.

    Examples
    --------
    >>> hour_worth(Owner())
    15.0
    """
    return HOUR_WORTH if owner.hour_worth is None else float(owner.hour_worth)


def week_delay_cost(owner: Owner) -> float:
    """What finishing a week later costs, home currency."""
    return WEEK_DELAY_COST if owner.week_delay_cost is None else float(owner.week_delay_cost)


def carrying_percent(owner: Owner) -> float:
    """Yearly cost of money tied up, per cent of it."""
    return CARRYING_PERCENT if owner.carrying_percent is None else float(owner.carrying_percent)


def slippage(supplier: Supplier) -> float:
    """What a supplier's quoted lead time is multiplied by, on average."""
    return CRAFT_SLIPPAGE if supplier.craft else SUPPLIER_SLIPPAGE


def hour_worth_assumed(owner: Owner) -> Iterator[Assumption]:
    """The worth of an own hour, where it was taken for granted."""
    if owner.hour_worth is None:
        text = f"an own hour is worth {HOUR_WORTH:g} {owner.currency} (our own default)"
        yield Assumption("hour-worth-default", "build", text)


def owner_assumed(owner: Owner) -> Iterator[Assumption]:
    """What was taken for granted about the owner's hours, patience and money."""
    yield from hour_worth_assumed(owner)
    if owner.week_delay_cost is None:
        text = f"a week of delay costs {WEEK_DELAY_COST:g} {owner.currency} (our own default)"
        yield Assumption("week-delay-default", "build", text)
    if owner.carrying_percent is None:
        text = f"money tied up in parts costs {CARRYING_PERCENT:g} % a year (common practice)"
        yield Assumption("carrying-default", "build", text)


def look_assumed() -> Assumption:
    """What looking at a price takes."""
    text = f"looking at a price takes {60 * LOOK_HOURS:g} minutes of own time (common practice)"
    return Assumption("look-time", "build", text)


def lead_assumed(offer: str) -> Assumption:
    """The lead time of an offer that names none."""
    text = f"lead time of {offer} is not known: {LEAD_WEEKS.low:g} to {LEAD_WEEKS.high:g} weeks taken (common practice)"
    return Assumption("lead-time-default", f"offer {offer}", text)


def returns_assumed(offer: str) -> Assumption:
    """The return terms of an offer that names none."""
    text = f"return terms of {offer} are not known: {RETURNS.days} days taken (common practice)"
    return Assumption("return-default", f"offer {offer}", text)
