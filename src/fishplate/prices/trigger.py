"""At which price to stop waiting, week by week up to the last safe one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from .lattice import Lattice
from .model import Advice, ExpectedSale, FloatArray, Outlook, TriggerPlan, WeeklyPrice
from .policy import Course, Policy
from .recall import held_policy
from .regret import chance_of_regret
from .trigger_words import buy_now, no_hurry, not_on_sale, sentence
from .wording import format_price

# One week with at least this chance of being the one to buy in is named as the week to wait for.
NEARLY_CERTAIN = 0.9
# By then it is bought whatever the price.
AS_GOOD_AS_CERTAIN = 0.995
# Less than this share of the price either way is no reason to hurry: what is bought later can go back later.
INDIFFERENT = 0.005
# A scattering price stands as this many equally likely ones where a price in hand can be kept.
POINTS = 15


def price_in(outlook: Outlook, week: int) -> WeeklyPrice:
    """The price an offer may have in a week if no sale was on before, at today's exchange rate.

    Notes
    -----
    Week 0 is today's price. A sale seen to be on lasts to its last week; any other shows in the first week after today
    that it touches, and in week 1 if it may come and go before that. The regular price scatters independently from week
    to week about its path. Sales that begin in the same week are independent; the deepest on average counts.
    """
    if week == 0:
        return WeeklyPrice((outlook.today,), (1.0,))
    level = float(outlook.list_price[week])
    means: list[float] = []
    weights: list[float] = []
    none_on = 1.0
    beginning = [
        sale
        for sale in outlook.sales
        if (sale.first_week <= week <= sale.last_week if sale.seen else max(1, sale.first_week) == week)
    ]
    for sale in sorted(beginning, key=lambda sale: (-sale.mean_depth, sale.window)):
        means += [level * (1 - depth) for depth in sale.depths]
        weights += [none_on * sale.chance / len(sale.depths)] * len(sale.depths)
        none_on *= 1 - sale.chance
    if none_on > 0:
        means.append(level)
        weights.append(none_on)
    return WeeklyPrice(tuple(means), tuple(weights), outlook.scatter)


def trigger_plan(
    outlook: Outlook,
    *,
    last_week: int,
    carrying_per_week: float = 0.0,
    late_cost: FloatArray | None = None,
    keeping: FloatArray | None = None,
    horizon: int | None = None,
    rate: float = 1.0,
    rate_sigma: float = 0.0,
    look_cost: float = 0.0,
    seed: int | None = 1,
) -> TriggerPlan:
    """The price at which to buy in each week, by backward induction from the last week.

    Parameters
    ----------
    last_week : last week in which ordering is safe, cut to the outlook and to when it is available [weeks since as_of]
    carrying_per_week : cost of owning it a week before the last safe one, as a share of its price [-]
    late_cost : expected cost of arriving late if ordered in week w, shape (at least horizon + 1,) [home currency]
    keeping : expected cost of owning it early if ordered in week w, as a share of its price, beside
        `carrying_per_week`, shape (at least horizon + 1,) [-]
    horizon : week in which it is bought at any price, the last safe one if None; a later one where `late_cost` tells
        what lateness costs [weeks since as_of]
    rate : home currency for one unit of the offer's; rate_sigma : how far it may wander in a week, standard deviation
        of the logarithm [-]
    look_cost : cost of looking at the price in a week in which it cannot be foreseen; weeks in which a look is not
        worth it are passed over [home currency]
    seed : of the draws that the chance of regret is read from; None: that, and what held prices are worth, are left out

    Returns
    -------
    TriggerPlan; its saving compares with buying today at today's price

    Raises
    ------
    ValueError
        if last_week is negative, the rate is not above zero, or late_cost is too short

    Notes
    -----
    See `policy.Policy`.
    """
    last = min(last_week if horizon is None else max(horizon, last_week), len(outlook.list_price) - 1)
    short = any(given is not None and len(given) <= last for given in (late_cost, keeping))
    if last_week < 0 or rate <= 0 or short:
        raise ValueError("last_week must not be negative, rate above zero, late_cost as long as the weeks")
    open_weeks = np.flatnonzero(outlook.available[: last + 1])
    if not len(open_weeks):
        return _not_on_sale(outlook, last)
    last = int(open_weeks[-1])
    safe = int(max((week for week in open_weeks if week <= last_week), default=last))
    weeks = np.arange(last + 1)
    kept = np.zeros(last + 1) if keeping is None else keeping[: last + 1]
    late = np.zeros(last + 1) if late_cost is None else np.asarray(late_cost[: last + 1], dtype=float) / rate
    laws = [price_in(outlook, week) for week in range(last + 1)]
    uncertain = np.array([law.is_uncertain for law in laws]) & (weeks > 0) & (weeks < last)
    course = Course(
        level=np.asarray(outlook.list_price[: last + 1], dtype=float),
        share=1 + carrying_per_week * np.maximum(0, safe - weeks) + kept,
        extra=late,
        is_open=np.asarray(outlook.available[: last + 1]),
        look=np.where(uncertain, look_cost / rate, 0.0),
        scatter=outlook.scatter,
        lattice=Lattice(rate_sigma),
        sales=tuple(_after_today(sale) for sale in outlook.sales),
    )
    policy = Policy(course)
    plan = replace(_advised(outlook, policy, safe, rate), last_safe=safe)
    if seed is None:
        return plan
    now, look = plan.advice == "buy now", look_cost / rate
    held_cost, held_prices = held_policy(course, [_points(course, law, week) for week, law in enumerate(laws)],
                                         outlook.today)  # fmt: skip
    return replace(
        plan,
        regret=chance_of_regret(policy, np.random.default_rng(seed), buys_today=now, look=look),
        held_prices=held_prices,
        held_saving=0.0 if now else max(0.0, policy.waiting - held_cost) * rate,
    )


def _after_today(sale: ExpectedSale) -> ExpectedSale:
    """A sale that may come, or be seen to be on, within the week that begins today stands in the next week."""
    if sale.seen or sale.first_week > 0:
        return sale
    return replace(sale, first_week=1, last_week=max(1, sale.last_week))


def _advised(outlook: Outlook, policy: Policy, safe: int, rate: float) -> TriggerPlan:
    """Buy now, wait or buy at the trigger; no hurry where it makes next to no difference until the last safe week."""
    course, today, go_on = policy.course, math.inf, policy.waiting
    if course.is_open[0]:
        today = outlook.today * float(course.share[0]) + float(course.extra[0])
        at_safe = price_in(outlook, safe).mean * float(course.share[safe]) + float(course.extra[safe])
        slack = INDIFFERENT * outlook.today
        if safe and today - go_on <= slack and at_safe - today <= slack:
            saving, text = max(0.0, today - at_safe) * rate, no_hurry(outlook, safe)
            return TriggerPlan(outlook.offer, policy.triggers, "wait", safe, 0.0, saving, at_safe, text, safe)
        if today <= go_on + 1e-9 * max(1.0, today):
            return TriggerPlan(outlook.offer, policy.triggers, "buy now", None, 0.0, 0.0, today, buy_now(outlook, safe))
    stops = policy.stops
    week = int(np.argmax(stops))
    end = safe if course.last == safe else int(np.argmax(np.cumsum(stops) >= AS_GOOD_AS_CERTAIN * stops.sum()))
    seen = float(min(1.0, stops[1:end].sum()))
    advice: Advice = "wait" if stops[week] >= NEARLY_CERTAIN else "buy at the trigger"
    text = sentence(outlook, policy.triggers, advice, week, seen, end, is_last_safe=end == safe)
    saving = 0.0
    if course.is_open[0]:
        saving = (today - go_on) * rate
        early = outlook.today * (float(course.share[0]) - 1)
        most = ", most of it what having it so early would cost" if early > (today - go_on) / 2 > 0 else ""
        text += f" Expected saving against today: {format_price(today - go_on, outlook.currency)}{most}."
    return TriggerPlan(outlook.offer, policy.triggers, advice, week, seen, saving, go_on, text, end)


def _points(course: Course, law: WeeklyPrice, week: int) -> tuple[FloatArray, FloatArray]:
    """Prices that a look may find, with their chances; none better than any in hand where it can't be ordered."""
    if not course.is_open[week]:
        return np.array([max(law.means)]), np.zeros(1)
    means, weights = np.asarray(law.means), np.asarray(law.weights)
    if law.sigma == 0 or means[-1] != course.level[week]:
        return means, weights
    from scipy.special import ndtri

    # the regular price stands last, and alone scatters
    spots = np.exp(law.sigma * ndtri((np.arange(POINTS) + 0.5) / POINTS))
    regular = means[-1] * spots / spots.mean()
    return np.append(means[:-1], regular), np.append(weights[:-1], np.full(POINTS, weights[-1] / POINTS))


def _not_on_sale(outlook: Outlook, last: int) -> TriggerPlan:
    later = np.flatnonzero(outlook.available)
    week = int(later[0]) if len(later) else None
    nothing = np.zeros(last + 1)
    return TriggerPlan(
        outlook.offer, nothing, "wait", week, 0.0, 0.0, math.inf, not_on_sale(outlook, week), held_prices=nothing
    )
