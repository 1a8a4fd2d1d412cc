"""Plain rules of buying to set beside the plan: all now, last safe date, first sale, the owner's own dates."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..build import week_of
from ..buy import PurchasePlan, solve, solve_fixed
from .demand import Entry
from .futures import Futures
from .loop import Round
from .order_weeks import own_week
from .situation import Situation
from .study import Studied
from .timing import offer_timings
from .tried import Bought, Weeks

SECONDS, GAP = 3.0, 0.01
ALL_NOW, LAST_SAFE, FIRST_SALE, OWN_DATES = "all now", "last safe date", "first sale", "own dates"
RULES: Final[Mapping[str, str]] = {
    ALL_NOW: "everything ordered as soon as it may be",
    LAST_SAFE: "everything ordered on the last safe date",
    FIRST_SALE: "everything ordered in its first sale, or on the last safe date",
    OWN_DATES: "what has a day of your own ordered on it, the rest as planned",
}


@dataclass(frozen=True, slots=True)
class PlainRule:
    """What a plain rule buys: the cheapest that keeps to it.

    Parameters
    ----------
    over : the most it spends beyond the owner's money by the end of any month, at expected prices, home currency
    """

    name: str
    bought: Bought
    over: float


def plain_rules(studied: Studied, chosen: Round) -> Iterator[PlainRule]:
    """What each plain rule buys, from whom and in which consignments; a rule does not look into the purse.

    The owner's own dates are a rule only where a part that is to be bought has one; the others are then bought as
    planned.
    """
    weeks, safe = _weeks(chosen), last_safe_weeks(studied, chosen)
    now = {key: min(found) for key, found in weeks.items()}
    last = {
        key: max((w for w in found if w <= safe.get(key[0], 0)), default=min(found)) for key, found in weeks.items()
    }
    yield _rule(ALL_NOW, chosen, lambda entry: entry.week == now[_way(entry)])
    late = _rule(LAST_SAFE, chosen, lambda entry: entry.week == last[_way(entry)])
    yield late
    yield replace(late, name=FIRST_SALE)
    own = _own_weeks(studied.situation, weeks)
    if own:
        planned = {(*_way(entry), entry.week) for entry in _entries(chosen, chosen.purchase)}
        yield _rule(
            OWN_DATES,
            chosen,
            lambda entry: (
                entry.week == own[_way(entry)] if _way(entry) in own else (*_way(entry), entry.week) in planned
            ),
        )


def followed(rule: PlainRule, studied: Studied, chosen: Round, drawn: Futures) -> Bought:
    """A rule's purchases in each future: in the first sale that is on before the last safe date, where it waits."""
    if rule.name != FIRST_SALE:
        return rule.bought
    safe, weeks = last_safe_weeks(studied, chosen), _weeks(chosen)
    times: list[Weeks] = []
    for line, base in zip(rule.bought.lines, rule.bought.weeks, strict=True):
        entry = chosen.market.entries[line]
        found = np.full(drawn.runs, int(base[0]))
        if entry.way.collection is None:
            offer, reduced = entry.offer.id, drawn.reduction(entry.offer.id)
            open_ = studied.outlooks[offer].available
            for week in range(safe.get(offer, 0), min(weeks[_way(entry)]) - 1, -1):
                found = np.where((reduced[week] > 0) & open_[week], week, found)
        times.append(found)
    return rule.bought.at(times)


def last_safe_weeks(studied: Studied, chosen: Round) -> dict[str, int]:
    """Offer -> last week in which it is safe to order."""
    as_of = studied.situation.as_of
    return {t.offer: int(week_of(as_of, t.last_safe)) for t in offer_timings(studied, chosen)}


def dated(situation: Situation) -> tuple[int, int]:
    """How many parts that are to be bought have a day of the owner's own to order them on, and how many there are."""
    parts = [situation.build.find("parts", part) for part in situation.missing_parts]
    return sum(part.order_on is not None for part in parts), len(parts)


def _own_weeks(situation: Situation, weeks: Mapping[tuple[str, str], set[int]]) -> dict[tuple[str, str], int]:
    """Offer and way -> the first week from the owner's own day on in which it can be ordered, or the last one."""
    found: dict[tuple[str, str], int] = {}
    for (offer, way), open_ in weeks.items():
        wanted = own_week(situation, situation.build.find("offers", offer))
        if wanted is not None:
            found[offer, way] = min((week for week in open_ if week >= wanted), default=max(open_))
    return found


def _weeks(chosen: Round) -> dict[tuple[str, str], set[int]]:
    """Offer and way -> weeks it can be ordered in."""
    found: dict[tuple[str, str], set[int]] = {}
    for entry in chosen.market.entries.values():
        found.setdefault(_way(entry), set()).add(entry.week)
    return found


def _way(entry: Entry) -> tuple[str, str]:
    return entry.offer.id, entry.way.key


def _entries(chosen: Round, purchase: PurchasePlan) -> Iterator[Entry]:
    return (chosen.market.entries[line.candidate] for line in purchase.lines)


def _rule(name: str, chosen: Round, keeps: Callable[[Entry], bool]) -> PlainRule:
    """The cheapest purchases among those that keep to a rule, and what they take beyond the owner's money."""
    problem, recost = chosen.market.problem(), chosen.recosting.costs
    kept = tuple(c for c in problem.candidates if keeps(chosen.market.entries[c.key]))
    ruled = replace(problem, candidates=kept, cash_limits=())
    found = solve(ruled, recost=recost, time_limit=SECONDS, gap=GAP)
    spent = solve_fixed(problem, found.units, recost=recost).cash_over
    return PlainRule(name, Bought.of(chosen.market, found), round(max(spent.values(), default=0.0), 2))
