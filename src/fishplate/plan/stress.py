"""The plan over many futures, beside plain rules of buying and beside knowing everything beforehand."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from .foresight import Foresight
from .futures import WORLD_WORDS, Futures, World
from .loop import Round
from .model import FloatArray
from .plain_rules import RULES, PlainRule, dated, followed, plain_rules
from .sentences import money_words
from .study import Progress, Studied
from .tried import Bought, Trier

FUTURES = 200
KNOWN = 1e-4
"""What hindsight would have saved is told as one figure where it is known to this share of the plan's cost [-]."""


@dataclass(frozen=True, slots=True)
class RuleResult:
    """A plain rule in one world, beside the plan in the same futures.

    Parameters
    ----------
    difference : what it costs more than the plan on average; low, high : 95 % interval of that, home currency
    over : the most it spends beyond the owner's money by the end of any month, at expected prices, home currency
    wins : whether it costs less than the plan, beyond what chance explains
    """

    name: str
    mean: float
    p90: float
    difference: float
    low: float
    high: float
    over: float = 0.0

    @property
    def wins(self) -> bool:
        """Whether the whole interval is below nothing."""
        return self.high < 0


@dataclass(frozen=True, slots=True)
class WorldResult:
    """The plan in one world, home currency.

    Parameters
    ----------
    regret, regret_most : what knowing everything beforehand would have saved on average, at least and at most; the same
        where the best is known for certain
    regret_p90, regret_p90_most : the same in the dearest of ten such futures
    foreseen : in how many futures that was worked out
    """

    world: str
    words: str
    mean: float
    p90: float
    regret: float
    regret_most: float
    regret_p90: float
    regret_p90_most: float
    foreseen: int
    rules: tuple[RuleResult, ...]

    @property
    def regret_known(self) -> bool:
        """Whether what hindsight would have saved is known as one figure."""
        return self.regret_most - self.regret <= KNOWN * max(abs(self.mean), 1.0)


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
    studied: Studied, chosen: Round, progress: Progress, *, futures: int = FUTURES, foreseen_in: int | None = None
) -> Stress:
    """The plan followed to the letter over futures of five worlds.

    Parameters
    ----------
    futures : of each world; foreseen_in : in how many of them the best plan in hindsight is sought, more of them where
        there are few candidates if None

    Returns
    -------
    Mean and P90 of everything the plan is expected to cost, the finish delay at the owner's week included; the same
    of plain rules, which choose sellers and consignments with the same solver; differences in pairs under common
    random numbers, with Student's 95 % interval; regret against the best plan found for each future by itself.
    """
    runs = min(futures, studied.situation.runs)
    progress("plain rules", 0.05)
    rules = list(plain_rules(studied, chosen))
    trier, plan = Trier(studied, chosen, runs), Bought.of(chosen.market, chosen.purchase)
    foresight = Foresight(studied, chosen, foreseen_in)
    worlds = []
    for number, world in enumerate(World):
        begun, words = 0.2 + 0.16 * number, WORLD_WORDS[world]
        progress(f"futures: {words}", begun)
        drawn = Futures(studied, world, runs)
        others = [followed(rule, studied, chosen, drawn) for rule in rules]
        cost, *costs = (trier.cost(bought, drawn) for bought in (plan, *others))
        payable = [bought for rule, bought in zip(rules, others, strict=True) if not rule.over]
        regret = foresight.regret(drawn, plan, payable, _told(progress, words, begun))
        worlds.append(
            WorldResult(
                str(world), words, _mean(cost), _p90(cost),
                _mean(regret.least), _mean(regret.most), _p90(regret.least), _p90(regret.most), len(regret.least),
                tuple(_beside(rule, other, cost) for rule, other in zip(rules, costs, strict=True)),
            )
        )  # fmt: skip
    progress("done", 1.0)
    situation = studied.situation
    said = tuple(_said(worlds, situation.build.owner.currency))
    notes = tuple(_notes(worlds, *dated(situation)))
    return Stress(situation.as_of, situation.build.owner.currency, runs, tuple(worlds), said, notes)


def _told(progress: Progress, words: str, begun: float) -> Callable[[float], None]:
    return lambda share: progress(f"futures: {words}", begun + 0.16 * share)


def _beside(rule: PlainRule, other: FloatArray, cost: FloatArray) -> RuleResult:
    from scipy.stats import t

    apart = other - cost
    half = float(t.ppf(0.975, len(apart) - 1) * np.std(apart, ddof=1) / np.sqrt(len(apart))) if len(apart) > 1 else 0.0
    mean = float(np.mean(apart))
    mean, low, high = (round(x, 2) for x in (mean, mean - half, mean + half))
    return RuleResult(rule.name, _mean(other), _p90(other), mean, low, high, rule.over)


def _mean(values: FloatArray) -> float:
    return round(float(np.mean(values)), 2)


def _p90(values: FloatArray) -> float:
    return round(float(np.quantile(values, 0.9)), 2)


def _said(worlds: Sequence[WorldResult], currency: str) -> Iterator[str]:
    for result in worlds:
        head = f"If {result.words}:" if result.world != World.OWN else "As the outlook has it:"
        yield (
            f"{head} the plan costs {money_words(result.mean, currency)} on average, "
            f"{money_words(result.p90, currency)} or less in nine futures of ten; {regret_words(result, currency)}"
        )
        for rule in result.rules:
            yield _rule_words(rule, currency)


def regret_words(result: WorldResult, currency: str) -> str:
    """What knowing everything beforehand would have saved, as one figure where that is known."""
    if result.regret_known:
        return (
            f"knowing everything beforehand would have saved {money_words(result.regret, currency)} on average, "
            f"{money_words(result.regret_p90, currency)} or less in nine futures of ten."
        )
    return (
        f"knowing everything beforehand would have saved between {result.regret:,.0f} and "
        f"{money_words(result.regret_most, currency)} on average, at most "
        f"{money_words(result.regret_p90_most, currency)} in nine futures of ten."
    )


def _rule_words(rule: RuleResult, currency: str) -> str:
    what = RULES[rule.name][0].upper() + RULES[rule.name][1:]
    span = f"95 % interval {rule.low:+,.0f} to {rule.high:+,.0f}"
    if rule.wins:
        said = f"{what} is BETTER than the plan here, by {money_words(-rule.difference, currency)} on average ({span})"
    elif rule.low > 0:
        said = f"{what} costs {money_words(rule.difference, currency)} more ({span})"
    else:
        said = f"{what} can't be told from the plan: {rule.difference:+,.0f} {currency} ({span})"
    return f"{said}; {over_words(rule, currency)}." if rule.over else f"{said}."


def over_words(rule: RuleResult, currency: str) -> str:
    """That a rule spends more than the owner has."""
    return f"it takes up to {money_words(rule.over, currency)} more than you have by then"


def _notes(worlds: Sequence[WorldResult], own: int, parts: int) -> Iterator[str]:
    yield (
        "The plan is followed to the letter: in life it is made again every week, so its own figures are on the high "
        "side where prices or sales fall out otherwise."
    )
    foreseen = f"Hindsight was looked for in {worlds[0].foreseen} futures of each kind"
    among = "among the offers, ways and weeks the plan chose from and the money at expected prices"
    if all(world.regret_known for world in worlds):
        yield f"{foreseen}, {among}; the best is known."
    else:
        yield (
            f"{foreseen}, {among}. The lesser figure is what was found, the greater what can't be beaten, as long as "
            "nothing is done sooner because a part comes later."
        )
    yield (
        "Charges follow each future's prices by the linear model, set right by the exact charges at expected prices; "
        "hindsight and the plan beside it are reckoned without that correction."
    )
    if own == 0:
        yield (
            "Your own dates are not compared: no part that is to be bought has one. Write down on its page the day you "
            "mean to order it."
        )
    elif own < parts:
        yield f"{own} of {parts} parts to be bought have a day of your own; the others are bought then as planned."
