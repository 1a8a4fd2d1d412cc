"""At which price to stop waiting, week by week up to the last safe one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from .model import Advice, ExpectedSale, FloatArray, Outlook, TriggerPlan, WeeklyPrice
from .stopping import stopping_values
from .wording import format_chance, format_day, format_price

# One week with at least this chance of being the one to buy in is named as the week to wait for.
NEARLY_CERTAIN = 0.9


@dataclass(frozen=True, slots=True)
class _Week:
    """Cost of buying in one week: price times `share`, plus `extra`; infinite where it cannot be ordered."""

    price: WeeklyPrice
    share: float
    extra: float
    open: bool
    look: float

    def expected_min(self, level: float) -> float:
        """Mean of the lower of buying now and going on at `level`, which includes the cost of looking again."""
        ahead = level + self.look
        if not self.open:
            return ahead
        return self.share * self.price.expected_min((ahead - self.extra) / self.share) + self.extra

    def trigger(self, ahead: float) -> float:
        """The price at which buying now costs what going on does; 0 where it cannot be ordered."""
        return max(0.0, (ahead + self.look - self.extra) / self.share) if self.open else 0.0


def price_in(outlook: Outlook, week: int) -> WeeklyPrice:
    """The price an offer may have in a week, as the trigger plan sees it.

    Notes
    -----
    Week 0 is today's price. Each sale is one chance, in the first week after today that it touches: whoever leaves it
    then is taken not to come back to it, which understates waiting a little. The regular price scatters independently
    from week to week about its path. Sales that begin in the same week are independent; the deepest on average counts.
    """
    if week == 0:
        return WeeklyPrice((outlook.today,), (1.0,))
    level = float(outlook.list_price[week])
    means: list[float] = []
    weights: list[float] = []
    none_on = 1.0
    for sale in sorted(_beginning(outlook, week), key=lambda sale: (-sale.mean_depth, sale.window)):
        means += [level * (1 - depth) for depth in sale.depths]
        weights += [none_on * sale.chance / len(sale.depths)] * len(sale.depths)
        none_on *= 1 - sale.chance
    if none_on > 0:
        means.append(level)
        weights.append(none_on)
    return WeeklyPrice(tuple(means), tuple(weights), outlook.scatter)


def _beginning(outlook: Outlook, week: int) -> list[ExpectedSale]:
    """Sales whose chance falls in this week; one seen to be on lasts with certainty."""
    return [
        sale
        for sale in outlook.sales
        if (sale.first_week <= week <= sale.last_week if sale.seen else max(1, sale.first_week) == week)
    ]


def trigger_plan(
    outlook: Outlook,
    *,
    last_week: int,
    carrying_per_week: float,
    late_cost: FloatArray | None = None,
    rate: float = 1.0,
    look_cost: float = 0.0,
) -> TriggerPlan:
    """The price at which to buy in each week, by backward induction from the last safe week.

    Parameters
    ----------
    last_week : last week in which ordering is safe, cut to the outlook and to when it is available [weeks since as_of]
    carrying_per_week : cost of owning it a week before the last safe one, as a share of its price [-]
    late_cost : expected cost of arriving late if ordered in week w, shape (at least last_week + 1,) [home currency]
    rate : home currency for one unit of the offer's
    look_cost : cost of looking at the price once more, a week later [home currency]

    Returns
    -------
    TriggerPlan; its saving compares with buying today at today's price

    Raises
    ------
    ValueError
        if last_week is negative, the rate is not above zero, or late_cost is too short

    Notes
    -----
    Optimal stopping without recall (see `stopping.stopping_values`) over the prices of `price_in`.
    """
    last = min(last_week, len(outlook.list_price) - 1)
    if last < 0 or rate <= 0 or (late_cost is not None and len(late_cost) <= last):
        raise ValueError("last_week must not be negative, rate above zero, late_cost as long as the weeks")
    open_weeks = np.flatnonzero(outlook.available[: last + 1])
    if not len(open_weeks):
        return _not_on_sale(outlook, last)
    last = int(open_weeks[-1])
    late = np.zeros(last + 1) if late_cost is None else np.asarray(late_cost[: last + 1], dtype=float) / rate
    weeks = [
        _Week(
            price_in(outlook, week),
            1 + carrying_per_week * (last - week),
            float(late[week]),
            bool(outlook.available[week]),
            look_cost / rate,
        )
        for week in range(last + 1)
    ]
    values = np.append(stopping_values(weeks), math.inf)
    prices = np.array([week.trigger(float(values[k + 1])) for k, week in enumerate(weeks)])
    return _plan(outlook, weeks, values, prices, rate)


def _plan(outlook: Outlook, weeks: Sequence[_Week], values: FloatArray, prices: FloatArray, rate: float) -> TriggerPlan:
    last = len(weeks) - 1
    today = outlook.today * weeks[0].share + weeks[0].extra
    saving = (today - float(values[1]) - weeks[0].look) * rate if weeks[0].open and last else 0.0
    if weeks[0].open and saving <= 1e-9 * max(1.0, abs(today)):
        return _finish(outlook, prices, "buy now", None, 0.0, 0.0, today, rate)
    stops = _stop_chances(weeks, prices)
    week = int(np.argmax(stops))
    advice: Advice = "wait" if stops[week] >= NEARLY_CERTAIN else "buy at the trigger"
    seen = float(min(1.0, stops[1:last].sum()))
    ahead = float(values[1]) + weeks[0].look if last else math.inf
    return _finish(outlook, prices, advice, week, seen, max(0.0, saving), ahead, rate)


def _stop_chances(weeks: Sequence[_Week], prices: FloatArray) -> FloatArray:
    """Chance that the plan buys in each week, given that it does not buy today, shape (weeks,)."""
    stops = np.zeros(len(weeks))
    going = 1.0
    for position, week in enumerate(weeks):
        if position and week.open:
            stops[position] = going * week.price.chance_below(float(prices[position]))
            going -= stops[position]
    return stops


def _finish(
    outlook: Outlook,
    prices: FloatArray,
    advice: Advice,
    week: int | None,
    seen: float,
    saving: float,
    cost: float,
    rate: float,
) -> TriggerPlan:
    text = _sentence(outlook, prices, advice, week, seen)
    if week is not None:
        text = f"{text} Expected saving against today: {format_price(saving / rate, outlook.currency)}."
    return TriggerPlan(outlook.offer, prices, advice, week, seen, saving, cost, text)


def _not_on_sale(outlook: Outlook, last: int) -> TriggerPlan:
    later = np.flatnonzero(outlook.available)
    week = int(later[0]) if len(later) else None
    when = f"before {format_day(outlook.as_of + timedelta(days=7 * week))}" if week is not None else "at all"
    text = f"{outlook.name}: this offer cannot be ordered {when}; look for another."
    return TriggerPlan(outlook.offer, np.zeros(last + 1), "wait", week, 0.0, 0.0, math.inf, text)


def _sentence(outlook: Outlook, prices: FloatArray, advice: Advice, week: int | None, seen: float) -> str:
    def day(position: int) -> str:
        return format_day(outlook.as_of + timedelta(days=7 * position))

    last = len(prices) - 1
    now = format_price(outlook.today, outlook.currency)
    if week is None:
        if last == 0:
            return f"{outlook.name}: buy now at {now}; this is the last safe week."
        then = format_price(float(outlook.expected[last]), outlook.currency)
        return f"{outlook.name}: buy now at {now}; by {day(last)}, the last safe week, {then} is expected."
    if advice == "wait":
        then = format_price(float(outlook.expected[week]), outlook.currency)
        return f"{outlook.name}: wait until the week of {day(week)}; {then} is expected then, {now} today."
    level = format_price(float(prices[1]), outlook.currency) if prices[1] < math.inf else "any price"
    chance = format_chance(seen)
    return (
        f"{outlook.name}: {now} today; buy at {level} or less, at any price in the week of {day(last)}, the last safe "
        f"one; chance {chance} to see such a price before, most likely in the week of {day(week)}."
    )
