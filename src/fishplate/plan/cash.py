"""Money going out by month, P10 to P90: orders, balances, trips, work sent out and small things."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

import numpy as np

from ..build import Assumption, week_of
from ..work import WorkReport
from .demand import Entry
from .loop import Round
from .model import CashLine, FloatArray
from .offered import month_index
from .order_weeks import HORIZON_WEEKS
from .owed import owed_on_orders
from .report import is_dated
from .sentences import money_words
from .study import Studied

MONTHS_SHOWN = 36
TOO_LITTLE = 0.5
"""Less is not shown as money going out [EUR]."""
WEEKS_PER_MONTH = 365.25 / 12 / 7


def cash_by_month(
    studied: Studied, chosen: Round, run: WorkReport | None, landed: Mapping[str, float]
) -> tuple[tuple[CashLine, ...], tuple[Assumption, ...]]:
    """Cash out by calendar month, home currency; purchases that nothing dates are left out, and that is said.

    Parameters
    ----------
    landed : candidate -> money at the door of its planned units, home currency
    """
    situation = studied.situation
    runs = situation.waiting_runs
    stream = np.random.default_rng([situation.seed, 7])
    rates = situation.rate_walk.draws(np.random.default_rng([situation.seed, 8]), HORIZON_WEEKS, runs)
    money = np.zeros((MONTHS_SHOWN + 1, runs))
    undated: dict[str, float] = {}
    for line in sorted(chosen.purchase.lines, key=lambda line: line.candidate):
        entry = chosen.market.entries[line.candidate]
        if not is_dated(studied, chosen, entry):
            undated[line.candidate] = landed[line.candidate]
            continue
        factor = _price_factor(studied, entry, stream, runs)
        share_sum = sum(max(0.0, amount) for _, amount in entry.candidate.cash) or 1.0
        for month, amount in entry.candidate.cash:
            rate = _rate_factor(rates, entry.offer.price.currency, max(float(entry.week), month * WEEKS_PER_MONTH))
            money[min(month, MONTHS_SHOWN)] += landed[line.candidate] * amount / share_sum * factor * rate
    for trip in chosen.purchase.trips:
        collection = situation.build.find("collections", trip)
        money[_month(situation.as_of, collection.day)] += _trip_money(studied, chosen, trip)
    _add_balances(studied, money, rates)
    assumptions = (*_undated_assumed(undated, situation.build.owner.currency), *_add_work(studied, run, money))
    least = situation.in_home(TOO_LITTLE)
    last = max(
        (month for month in range(MONTHS_SHOWN + 1) if np.quantile(np.abs(money[month]), 0.9) >= least), default=-1
    )
    lines = []
    for month in range(last + 1):
        low, middle, high = np.quantile(money[month], (0.1, 0.5, 0.9))
        lines.append(CashLine(_label(situation.as_of, month), round(low, 2), round(middle, 2), round(high, 2)))
    return tuple(lines), assumptions


def _price_factor(studied: Studied, entry: Entry, stream: np.random.Generator, runs: int) -> FloatArray:
    """Price drawn over price expected: the sale is on or not, and the regular price has wandered, shape (runs,)."""
    outlook = studied.outlooks[entry.offer.id]
    sigma = outlook.sigma_weekly * np.sqrt(entry.week)
    wandered = np.exp(sigma * stream.standard_normal(runs) - sigma**2 / 2)
    on_sale = stream.random(runs) < outlook.sale_chance[entry.week]
    price = np.where(on_sale, outlook.sale_price[entry.week], outlook.list_price[entry.week])
    drawn: FloatArray = wandered * price * entry.level / max(entry.price, 1e-9)
    return drawn


def _rate_factor(rates: Mapping[str, FloatArray], currency: str, week: float) -> FloatArray | float:
    """Exchange rate drawn over today's, shape (runs,): what a seller charges and all that is reckoned from it."""
    walk = rates.get(currency)
    if walk is None:
        return 1.0
    drawn: FloatArray = walk[min(max(0, int(week)), len(walk) - 1)]
    return drawn


def _undated_assumed(undated: Mapping[str, float], currency: str) -> Iterator[Assumption]:
    """What the months leave out."""
    if undated:
        count = f"{len(undated)} purchase{'' if len(undated) == 1 else 's'}"
        text = (
            f"{count} of {money_words(sum(undated.values()), currency)} in all that no job, phase, sale or rise dates "
            f"{'is' if len(undated) == 1 else 'are'} left out of the money by month"
        )
        yield Assumption("cash-undated", "build", text)


def _trip_money(studied: Studied, chosen: Round, trip: str) -> float:
    """What a trip costs in money: own hours are not paid out."""
    collection = studied.situation.build.find("collections", trip)
    return float(max(0.0, chosen.market.trip_fixed(trip) - collection.hours * studied.situation.hour_worth))


def _month(as_of: date, day: date) -> int:
    months = (day.year - as_of.year) * 12 + day.month - as_of.month
    return int(min(max(months, 0), MONTHS_SHOWN))


def _label(as_of: date, month: int) -> str:
    year, index = divmod(as_of.month - 1 + month, 12)
    return f"{as_of.year + year}-{index + 1:02d}"


def _add_balances(studied: Studied, money: FloatArray, rates: Mapping[str, FloatArray]) -> None:
    """What is still to be paid on orders already placed, in the month it is due, at that day's rate."""
    as_of = studied.situation.as_of
    for owed in owed_on_orders(studied.situation):
        factor = _rate_factor(rates, owed.currency, week_of(as_of, owed.day))
        money[_month(as_of, owed.day)] += owed.amount * factor


def _add_work(studied: Studied, run: WorkReport | None, money: FloatArray) -> tuple[Assumption, ...]:
    """Work sent out at the month it begins, and small things with the hours worked."""
    situation = studied.situation
    if run is None:
        return ()
    months = np.array([month_index(situation, week) for week in range(521)])
    for job in situation.build.jobs:
        if job.cost and job.id in run.starts and not situation.facts.is_done(job.id):
            start = run.starts[job.id][: money.shape[1]]
            index = np.minimum(months[np.clip(np.nan_to_num(start, posinf=520), 0, 520).astype(int)], MONTHS_SHOWN)
            np.add.at(money, (index, np.arange(len(start))), job.cost)
    percent = sum(a.money_percent for a in situation.build.allowances if a.kind == "small-things")
    if percent:
        money *= 1 + percent / 100
        text = f"{percent:g} % for small things is spread over the months in step with the other money"
        return (Assumption("small-things-spread", "build", text),)
    return ()
