"""At which price to stop waiting, week by week up to the last safe one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from .model import Advice, ExpectedSale, FloatArray, Outlook, TriggerPlan, WeeklyPrice
from .stopping import stopping_values
from .wording import format_chance, format_day, format_price

# One week with at least this chance of being the one to buy in is named as the week to wait for.
NEARLY_CERTAIN = 0.9
# Less than this share of the price either way is no reason to hurry: what is bought later can go back later.
INDIFFERENT = 0.005


@dataclass(frozen=True, slots=True)
class _Week:
    """Cost of buying in one week: price times `share`, plus `extra`, after a look that costs `look`."""

    price: WeeklyPrice
    share: float
    extra: float
    open: bool
    look: float

    def cost_of(self, price: float) -> float:
        """Cost of buying at a price in this week."""
        return price * self.share + self.extra

    def looked(self, ahead: float) -> float:
        """Mean cost of looking and then taking the better of buying and going on at `ahead`."""
        return self.look + self.share * self.price.expected_min(self.trigger(ahead)) + self.extra

    def is_watched(self, ahead: float) -> bool:
        """Whether it can be ordered and a look is worth its cost."""
        return self.open and self.looked(ahead) <= ahead

    def expected_min(self, level: float) -> float:
        """Mean cost from this week on, where going on from it costs `level`."""
        return min(level, self.looked(level)) if self.open else level

    def trigger(self, ahead: float) -> float:
        """The price at which buying now costs what going on does."""
        return (ahead - self.extra) / self.share


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
    look_cost : cost of looking at the price in a week in which it cannot be foreseen; weeks in which a look is not
        worth it are passed over [home currency]

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
    laws = [price_in(outlook, week) for week in range(last + 1)]
    late = np.zeros(last + 1) if late_cost is None else np.asarray(late_cost[: last + 1], dtype=float) / rate
    weeks = [
        _Week(
            laws[week],
            1 + carrying_per_week * (last - week),
            float(late[week]),
            bool(outlook.available[week]),
            look_cost / rate if 0 < week < last and laws[week].is_uncertain else 0.0,
        )
        for week in range(last + 1)
    ]
    values = np.append(stopping_values(weeks), math.inf)
    prices = np.array(
        [max(0.0, week.trigger(float(values[k + 1]))) if week.open else 0.0 for k, week in enumerate(weeks)]
    )
    return _plan(outlook, weeks, values, prices, rate)


def _plan(outlook: Outlook, weeks: Sequence[_Week], values: FloatArray, prices: FloatArray, rate: float) -> TriggerPlan:
    last = len(weeks) - 1
    if not weeks[0].open:
        return _waiting(outlook, weeks, values, prices, 0.0)
    today = weeks[0].cost_of(outlook.today)
    go_on = float(values[1])
    at_last = weeks[last].cost_of(weeks[last].price.mean)
    slack = INDIFFERENT * outlook.today
    if last and today - go_on <= slack and at_last - today <= slack:
        saving = max(0.0, today - at_last)
        text = _no_hurry(outlook, last)
        return TriggerPlan(outlook.offer, prices, "wait", last, 0.0, saving * rate, at_last, text)
    if today <= go_on + 1e-9 * max(1.0, today):
        return TriggerPlan(outlook.offer, prices, "buy now", None, 0.0, 0.0, today, _buy_now(outlook, last))
    plan = _waiting(outlook, weeks, values, prices, (today - go_on) * rate)
    saved = f" Expected saving against today: {format_price(today - go_on, outlook.currency)}."
    return replace(plan, text=plan.text + saved)


def _waiting(
    outlook: Outlook, weeks: Sequence[_Week], values: FloatArray, prices: FloatArray, saving: float
) -> TriggerPlan:
    last = len(weeks) - 1
    stops = _stop_chances(weeks, values)
    week = int(np.argmax(stops))
    advice: Advice = "wait" if stops[week] >= NEARLY_CERTAIN else "buy at the trigger"
    seen = float(min(1.0, stops[1:last].sum()))
    cost = float(values[1])
    text = _sentence(outlook, prices, advice, week, seen)
    return TriggerPlan(outlook.offer, prices, advice, week, seen, saving, cost, text)


def _stop_chances(weeks: Sequence[_Week], values: FloatArray) -> FloatArray:
    """Chance that the plan buys in each week, given that it does not buy today, shape (weeks,)."""
    stops = np.zeros(len(weeks))
    going = 1.0
    for position, week in enumerate(weeks):
        ahead = float(values[position + 1])
        if position and week.is_watched(ahead):
            stops[position] = going * week.price.chance_below(week.trigger(ahead))
            going -= stops[position]
    return stops


def _not_on_sale(outlook: Outlook, last: int) -> TriggerPlan:
    later = np.flatnonzero(outlook.available)
    week = int(later[0]) if len(later) else None
    when = "at all" if week is None else f"before {_first_day(outlook, week)}"
    text = f"{outlook.name}: this offer cannot be ordered {when}; look for another."
    return TriggerPlan(outlook.offer, np.zeros(last + 1), "wait", week, 0.0, 0.0, math.inf, text)


def _first_day(outlook: Outlook, week: int) -> str:
    return format_day(outlook.as_of + timedelta(days=7 * week))


def _no_hurry(outlook: Outlook, last: int) -> str:
    now = format_price(outlook.today, outlook.currency)
    then = format_price(float(outlook.expected[last]), outlook.currency)
    return (
        f"{outlook.name}: no hurry; {now} today, {then} expected in the last safe week, that of "
        f"{_first_day(outlook, last)}, which is much the same with the cost of owning it early. What is bought later "
        "can go back later."
    )


def _buy_now(outlook: Outlook, last: int) -> str:
    now = format_price(outlook.today, outlook.currency)
    if last == 0:
        return f"{outlook.name}: buy now at {now}; this is the last safe week."
    then = format_price(float(outlook.expected[last]), outlook.currency)
    return f"{outlook.name}: buy now at {now}; by {_first_day(outlook, last)}, the last safe week, {then} is expected."


def _sentence(outlook: Outlook, prices: FloatArray, advice: Advice, week: int, seen: float) -> str:
    now = format_price(outlook.today, outlook.currency)
    if advice == "wait":
        then = format_price(float(outlook.expected[week]), outlook.currency)
        return (
            f"{outlook.name}: wait until the week of {_first_day(outlook, week)}; {then} is expected then, {now} today."
        )
    level = format_price(float(prices[1]), outlook.currency) if prices[1] < math.inf else "any price"
    return (
        f"{outlook.name}: {now} today; buy at {level} or less, at any price in the week of "
        f"{_first_day(outlook, len(prices) - 1)}, the last safe one; chance {format_chance(seen)} to see such a price "
        f"before, most likely in the week of {_first_day(outlook, week)}."
    )
