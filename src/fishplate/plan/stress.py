"""The plan over many futures, beside plain rules of buying and beside knowing everything beforehand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from ..build import week_of
from ..buy import PurchasePlan, solve
from .foresight import Foresight
from .futures import WORLD_WORDS, Futures, World
from .loop import Round
from .market import Market
from .model import FloatArray
from .sentences import money_words
from .study import Progress, Studied
from .timing import offer_timings
from .tried import Bought, Trier

FUTURES, FORESEEN = 200, 20
SECONDS, GAP = 3.0, 0.01
RULES = {
    "all now": "everything ordered as soon as it may be",
    "last safe date": "everything ordered on the last safe date",
    "first sale": "everything ordered in its first sale, or on the last safe date",
}
OWN_DATES = "Your own dates are not compared: the build states none to order on."


@dataclass(frozen=True, slots=True)
class RuleResult:
    """A plain rule in one world, beside the plan in the same futures.

    Parameters
    ----------
    difference : what it costs more than the plan on average; low, high : 95 % interval of that, home currency
    wins : whether it costs less than the plan, beyond what chance explains
    """

    name: str
    mean: float
    p90: float
    difference: float
    low: float
    high: float

    @property
    def wins(self) -> bool:
        """Whether the whole interval is below nothing."""
        return self.high < 0


@dataclass(frozen=True, slots=True)
class WorldResult:
    """The plan in one world, home currency.

    Parameters
    ----------
    regret : what knowing everything beforehand would have saved on average, at least; regret_p90 : in one of ten
    foreseen : in how many futures that was worked out
    """

    world: str
    words: str
    mean: float
    p90: float
    regret: float
    regret_p90: float
    foreseen: int
    rules: tuple[RuleResult, ...]


@dataclass(frozen=True, slots=True)
class Stress:
    """How a plan holds up."""

    as_of: date
    currency: str
    futures: int
    worlds: tuple[WorldResult, ...]
    text: tuple[str, ...]
    notes: tuple[str, ...]


def stress(
    studied: Studied, chosen: Round, progress: Progress, *, futures: int = FUTURES, foreseen_in: int = FORESEEN
) -> Stress:
    """The plan followed to the letter over futures of five worlds.

    Parameters
    ----------
    futures : of each world; foreseen_in : in how many of them the best plan in hindsight is sought

    Returns
    -------
    Mean and P90 of everything the plan is expected to cost, the finish delay at the owner's week included; the same
    of plain rules, which choose sellers and consignments with the same solver; differences in pairs under common
    random numbers, with Student's 95 % interval; regret against the best plan found for each future by itself.
    """
    runs = min(futures, studied.situation.runs)
    market = chosen.market
    plan = Bought.of(market, chosen.purchase)
    rules = dict(_rules(studied, chosen, progress))
    trier = Trier(studied, chosen, runs)
    worlds = []
    for number, world in enumerate(World):
        progress(f"futures: {WORLD_WORDS[world]}", 0.2 + 0.16 * number)
        drawn = Futures(studied, world, runs)
        cost = trier.cost(plan, drawn)
        others = {
            name: trier.cost(_timed(name, bought, studied, chosen, drawn), drawn) for name, bought in rules.items()
        }
        known = min(foreseen_in, runs)
        best = np.minimum.reduce([cost, *others.values()])[:known]
        foresight = Foresight(studied, chosen, drawn)
        for future in range(known):
            found = foresight.best(future)
            best[future] = min(best[future], trier.cost(Bought.of(market, found), drawn)[future])
            progress(f"futures: {WORLD_WORDS[world]}", 0.2 + 0.16 * (number + (future + 1) / known))
        regret = cost[:known] - best
        worlds.append(
            WorldResult(
                str(world), WORLD_WORDS[world], _mean(cost), _p90(cost), _mean(regret), _p90(regret), known,
                tuple(_beside(name, other, cost) for name, other in others.items()),
            )
        )  # fmt: skip
    progress("done", 1.0)
    currency = studied.situation.build.owner.currency
    return Stress(
        studied.situation.as_of, currency, runs, tuple(worlds), tuple(_said(worlds, currency)), tuple(_notes(worlds))
    )


def _rules(studied: Studied, chosen: Round, progress: Progress) -> Iterator[tuple[str, Bought]]:
    """What each plain rule buys, from whom and in which consignments: the cheapest that keeps to the rule."""
    weeks = _weeks(chosen.market)
    safe = last_safe_weeks(studied, chosen)
    now = {key: min(found) for key, found in weeks.items()}
    last = {
        key: max((w for w in found if w <= safe.get(key[0], 0)), default=min(found)) for key, found in weeks.items()
    }
    progress("plain rules", 0.05)
    yield "all now", Bought.of(chosen.market, _bought_in(chosen, now))
    progress("plain rules", 0.12)
    late = Bought.of(chosen.market, _bought_in(chosen, last))
    yield "last safe date", late
    yield "first sale", late


def last_safe_weeks(studied: Studied, chosen: Round) -> dict[str, int]:
    """Offer -> last week in which it is safe to order."""
    as_of = studied.situation.as_of
    return {t.offer: int(week_of(as_of, t.last_safe)) for t in offer_timings(studied, chosen)}


def _weeks(market: Market) -> dict[tuple[str, str], set[int]]:
    """Offer and way -> weeks it can be ordered in."""
    found: dict[tuple[str, str], set[int]] = {}
    for entry in market.entries.values():
        found.setdefault((entry.offer.id, entry.way.key), set()).add(entry.week)
    return found


def _bought_in(chosen: Round, week: dict[tuple[str, str], int]) -> PurchasePlan:
    """The cheapest purchases with every offer ordered in its week."""
    problem, entries = chosen.market.problem(), chosen.market.entries
    kept = tuple(
        c for c in problem.candidates
        if entries[c.key].week == week[entries[c.key].offer.id, entries[c.key].way.key]
    )  # fmt: skip
    ruled = replace(problem, candidates=kept)
    return solve(ruled, recost=chosen.recosting.costs, time_limit=SECONDS, gap=GAP)


def _timed(name: str, bought: Bought, studied: Studied, chosen: Round, drawn: Futures) -> Bought:
    """The rule's order weeks in each future: in the first sale that is on before the last safe date, where it waits."""
    if name != "first sale":
        return bought
    safe, weeks = last_safe_weeks(studied, chosen), _weeks(chosen.market)
    times = []
    for line, base in zip(bought.lines, bought.weeks, strict=True):
        entry = chosen.market.entries[line]
        offer = entry.offer.id
        open_ = sorted(w for w in weeks[offer, entry.way.key] if w <= safe.get(offer, 0))
        found = np.full(drawn.runs, int(base[0]) if base.size == 1 else int(np.max(base)))
        reduced = drawn.reduction(offer)
        for week in reversed(open_):
            found = np.where(reduced[week] > 0, week, found)
        times.append(found if entry.way.collection is None else np.full(drawn.runs, entry.week))
    return bought.at(times)


def _beside(name: str, other: FloatArray, cost: FloatArray) -> RuleResult:
    from scipy.stats import t

    apart = other - cost
    half = float(t.ppf(0.975, len(apart) - 1) * np.std(apart, ddof=1) / np.sqrt(len(apart))) if len(apart) > 1 else 0.0
    mean = float(np.mean(apart))
    return RuleResult(name, _mean(other), _p90(other), *(round(x, 2) for x in (mean, mean - half, mean + half)))


def _mean(values: FloatArray) -> float:
    return round(float(np.mean(values)), 2)


def _p90(values: FloatArray) -> float:
    return round(float(np.quantile(values, 0.9)), 2)


def _said(worlds: Sequence[WorldResult], currency: str) -> Iterator[str]:
    for result in worlds:
        head = f"If {result.words}:" if result.world != World.OWN else "As the outlook has it:"
        yield (
            f"{head} the plan costs {money_words(result.mean, currency)} on average, "
            f"{money_words(result.p90, currency)} or less in nine futures of ten; knowing everything beforehand would "
            f"have saved at least {money_words(result.regret, currency)} on average."
        )
        for rule in result.rules:
            yield _rule_words(rule, currency)


def _rule_words(rule: RuleResult, currency: str) -> str:
    what = RULES[rule.name][0].upper() + RULES[rule.name][1:]
    span = f"95 % interval {rule.low:+,.0f} to {rule.high:+,.0f}"
    if rule.wins:
        return f"{what} is BETTER than the plan here, by {money_words(-rule.difference, currency)} on average ({span})."
    if rule.low > 0:
        return f"{what} costs {money_words(rule.difference, currency)} more ({span})."
    return f"{what} can't be told from the plan: {rule.difference:+,.0f} {currency} ({span})."


def _notes(worlds: Sequence[WorldResult]) -> Iterator[str]:
    yield (
        "The plan is followed to the letter: in life it is made again every week, so its own figures are on the high "
        "side where prices or sales fall out otherwise."
    )
    yield (
        f"Hindsight was looked for in {worlds[0].foreseen} futures of each kind by local search from the plan, so "
        "what it would have saved is at least the figure given."
    )
    yield "Charges follow each future's prices by the linear model, set right by the exact charges at expected prices."
    yield OWN_DATES
