"""What is taken where the build does not say: one figure for every engine, each marked with what it rests on.

Who uses one lists it among the assumptions. Figures of money are held in euros and turned into plain figures of the
home currency at a rounded rate, so that they stay the same from one day to the next.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor, log10
from typing import Final

from .base import ThreePoint
from .commerce import ReturnTerms, Supplier
from .owner import Owner
from .problem import Assumption

# Our own defaults, in euros.
HOUR_WORTH: Final = 15.0
WEEK_DELAY_COST: Final = 75.0
# Units of a currency for one euro, rounded, after the European Central Bank's reference rates of 2026-10-30; for plain
# figures of our own alone, never for what is paid.
PER_EURO: Final[Mapping[str, float]] = {
    "EUR": 1, "AUD": 1.6, "BGN": 1.956, "BRL": 6, "CAD": 1.55, "CHF": 0.92, "CNY": 7.5, "CZK": 24, "DKK": 7.5,
    "GBP": 0.85, "HKD": 8.8, "HUF": 365, "IDR": 20_000, "ILS": 3.5, "INR": 105, "ISK": 136, "JPY": 175, "KRW": 1_500,
    "MXN": 21, "MYR": 4.5, "NOK": 10.5, "NZD": 2, "PHP": 70, "PLN": 4.4, "RON": 5.3, "SEK": 11, "SGD": 1.4, "THB": 38,
    "TRY": 55, "USD": 1.1, "ZAR": 18.5,
}  # fmt: skip
# Common practice.
CARRYING_PERCENT: Final = 4.0
LEAD_WEEKS: Final = ThreePoint(low=1, likely=2, high=4)
SUPPLIER_SLIPPAGE: Final = 1.3
CRAFT_SLIPPAGE: Final = 2.0
RETURNS: Final = ReturnTerms(days=14, ended_by=("bolted", "altered"))
RESALE_SHARE: Final = 0.6
LOOK_HOURS: Final = 0.1


def in_home(euros: float, owner: Owner) -> float:
    """A plain figure of the home currency for an amount of euros, to two digits.

    Where no rounded rate is held for the currency, the bare number, and `owner_assumed` says so.

    Examples
    --------
    >>> in_home(15, Owner()), in_home(15, Owner(currency="NOK")), in_home(75, Owner(currency="JPY"))
    (15.0, 160.0, 13000.0)
    """
    rate = PER_EURO.get(owner.currency, 1.0)
    if rate == 1 or not euros:
        return float(euros)
    return float(round(euros * rate, 1 - floor(log10(abs(euros * rate)))))


def hour_worth(owner: Owner) -> float:
    """What an own hour is worth, home currency.

    Examples
    --------
    >>> hour_worth(Owner())
    15.0
    """
    return in_home(HOUR_WORTH, owner) if owner.hour_worth is None else float(owner.hour_worth)


def week_delay_cost(owner: Owner) -> float:
    """What finishing a week later costs, home currency."""
    return in_home(WEEK_DELAY_COST, owner) if owner.week_delay_cost is None else float(owner.week_delay_cost)


def carrying_percent(owner: Owner) -> float:
    """Yearly cost of money tied up, per cent of it."""
    return CARRYING_PERCENT if owner.carrying_percent is None else float(owner.carrying_percent)


def slippage(supplier: Supplier) -> float:
    """What a supplier's quoted lead time is multiplied by, on average."""
    return CRAFT_SLIPPAGE if supplier.craft else SUPPLIER_SLIPPAGE


def hour_worth_assumed(owner: Owner) -> Iterator[Assumption]:
    """The worth of an own hour, where it was taken for granted."""
    if owner.hour_worth is None:
        text = f"an own hour is worth {_plain(HOUR_WORTH, owner)}"
        yield Assumption("hour-worth-default", "build", text)


def owner_assumed(owner: Owner) -> Iterator[Assumption]:
    """What was taken for granted about the owner's hours, patience and money."""
    yield from hour_worth_assumed(owner)
    if owner.week_delay_cost is None:
        text = f"a week of delay costs {_plain(WEEK_DELAY_COST, owner)}"
        yield Assumption("week-delay-default", "build", text)
    if owner.carrying_percent is None:
        text = f"money tied up in parts costs {CARRYING_PERCENT:g} % a year (common practice)"
        yield Assumption("carrying-default", "build", text)


def _plain(euros: float, owner: Owner) -> str:
    """A default in home currency, with what it rests on."""
    figure = f"{in_home(euros, owner):,.10g} {owner.currency} (our own default"
    if owner.currency == "EUR":
        return f"{figure})"
    if owner.currency in PER_EURO:
        return f"{figure}, about {euros:g} EUR)"
    return f"{figure} for EUR; what that is in {owner.currency} is not known here: enter your own)"


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
