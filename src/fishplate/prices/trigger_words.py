"""A trigger plan in a sentence."""

from __future__ import annotations

import math
from datetime import date, timedelta

from ..build.words import day_words
from .model import ExpectedSale, FloatArray, Outlook
from .wording import format_chance, format_price

# A regular price that rises by more than this from one week to the next does so on a day that was announced.
NOTED_RISE = 0.01
# Holds of what can go back only; who knows that it can't leaves it out.
GO_BACK_LATER = " What is bought later can go back later."


def not_on_sale(outlook: Outlook, week: int | None) -> str:
    """It can't be ordered in time."""
    when = "at all" if week is None else f"before {_first_day(outlook, week)}"
    return f"{outlook.name}: this offer cannot be ordered {when}; look for another."


def no_hurry(outlook: Outlook, last: int) -> str:
    """Nothing is lost by waiting to the last safe week."""
    now = format_price(outlook.today, outlook.currency)
    then = format_price(float(outlook.expected[last]), outlook.currency)
    return (
        f"{outlook.name}: no hurry; {now} today, {then} expected in the last safe week, that of "
        f"{_first_day(outlook, last)}, which is much the same with the cost of owning it early.{GO_BACK_LATER}"
        f"{_rise_note(outlook, last)}"
    )


def buy_now(outlook: Outlook, last: int) -> str:
    """Nothing is gained by waiting."""
    now = format_price(outlook.today, outlook.currency)
    if last == 0:
        return f"{outlook.name}: buy now at {now}; this is the last safe week."
    then = format_price(float(outlook.expected[last]), outlook.currency)
    return f"{outlook.name}: buy now at {now}; by {_first_day(outlook, last)}, the last safe week, {then} is expected."


def sentence(
    outlook: Outlook, prices: FloatArray, advice: str, week: int, seen: float, end: int, *, is_last_safe: bool
) -> str:
    """Wait for a week, or for a price.

    Parameters
    ----------
    week : most likely to be the one
    seen : chance of a price at or below the trigger before week `end`, in which it is bought at any price
    """
    now = f"{format_price(outlook.today, outlook.currency)} today{_not_yet(outlook)}"
    if advice == "wait":
        soon = sale_this_week(outlook) if week == 1 else None
        then = format_price(float(outlook.expected[0 if soon else week]), outlook.currency)
        until = f"until the week of {_first_day(outlook, week)}" if soon is None else f"for {_sale_words(soon)}"
        return f"{outlook.name}: wait {until}; {then} is expected then, {now}.{_rise_note(outlook, week)}"
    soon = sale_this_week(outlook) if week == 1 else None
    likely = f"in the week of {_first_day(outlook, week)}" if soon is None else f"in {_sale_words(soon)}"
    safe = "the last safe one" if is_last_safe else "when waiting any longer costs more than it can save"
    return (
        f"{outlook.name}: {now}; {_levels(outlook, prices)}, at any price in the week of "
        f"{_first_day(outlook, end)}, {safe}; chance {format_chance(seen)} to see such a price "
        f"before, most likely {likely}."
    )


def later_trigger(outlook: Outlook, prices: FloatArray) -> float:
    """The trigger price of the first week after today in which it can be ordered, or else of the last one."""
    weeks = (week for week in range(1, len(prices)) if outlook.available[week])
    return float(prices[next(weeks, len(prices) - 1)])


def _not_yet(outlook: Outlook) -> str:
    """From when an offer can be ordered, where that is still ahead."""
    if outlook.available[0] or not outlook.available.any():
        return ""
    return f", to be had from the week of {_first_day(outlook, int(outlook.available.argmax()))} on"


def _rise_note(outlook: Outlook, week: int) -> str:
    """That the price rises, or the offer ends, within the week that is named, so that only its first day is meant."""
    path = outlook.list_price
    if week + 1 >= len(path):
        return ""
    ends = outlook.available[week] and not outlook.available[week + 1 :].any()
    if not ends and path[week + 1] <= (1 + NOTED_RISE) * path[week]:
        return ""
    what = "the offer ends" if ends else "the price rises"
    return f" Order on the first day of that week: {what} soon after."


def sale_this_week(outlook: Outlook) -> ExpectedSale | None:
    """The sale that may come and go before next week, if there is one that nobody has seen yet."""
    return next((sale for sale in outlook.sales if sale.last_week == 0 and not sale.seen and sale.first), None)


def _sale_words(sale: ExpectedSale) -> str:
    return f"the sale expected from {day_words(sale.first)}" if sale.first else "the sale expected this week"


def wait_day(outlook: Outlook, week: int) -> date:
    """The day a week to wait for begins, or the first of a sale that may come and go before."""
    soon = sale_this_week(outlook) if week == 1 else None
    day = soon.first if soon is not None and soon.first is not None else outlook.as_of + timedelta(days=7 * week)
    return max(day, outlook.as_of)


def _levels(outlook: Outlook, prices: FloatArray) -> str:
    """At which price to buy from next week on; apart from today's where today's price would pass for it."""
    level = later_trigger(outlook, prices)
    later = f"{format_price(level, outlook.currency)} or less" if level < math.inf else "any price"
    if not waits_a_week(outlook, prices):
        return f"buy at {later}"
    today = format_price(float(prices[0]), outlook.currency)
    return f"today only {today} or less is worth taking; from the week of {_first_day(outlook, 1)} buy at {later}"


def waits_a_week(outlook: Outlook, prices: FloatArray) -> bool:
    """Whether today's price, too high today, would do next week: a sale is then over, or seen not to come."""
    return bool(outlook.available[0] and prices[0] < outlook.today <= prices[1])


def _first_day(outlook: Outlook, week: int) -> str:
    return day_words(outlook.as_of + timedelta(days=7 * week))
