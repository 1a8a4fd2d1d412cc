"""A new plan stays near the last one, as long as that costs little; what it costs is said."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from ..build import week_of
from ..buy.steady import Kept, steadied
from .loop import Round, played_round
from .market import Market
from .model import Plan, PlannedLine, Stability
from .sentences import day_words, money_words
from .study import Studied

LEAST_ROOM, ROOM_SHARE, NOTHING = 10.0, 0.005, 0.5
"""What staying near the last plan may cost [EUR; share of the purchases], and what counts as nothing [EUR]."""
SECONDS = 3.0


@dataclass(frozen=True, slots=True)
class Touched:
    """A noun of the build that was changed after an earlier plan: as it was and as it is, as plain data."""

    list_name: str
    id: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class Earlier:
    """Plans made before.

    Parameters
    ----------
    last : the one made last: the new plan stays near it
    before : the one that changes are told from: the last of an earlier week, or the last
    touched : what was changed in the build after `before`
    """

    last: Plan
    before: Plan
    touched: tuple[Touched, ...] = ()


def planned_weeks(plan: Plan, as_of: date) -> dict[str, frozenset[int]]:
    """Offer -> weeks since as_of in which an earlier plan orders it; what is overdue is due now."""
    weeks: dict[str, set[int]] = defaultdict(set)
    for line in plan.purchase.lines:
        weeks[line.offer].add(_week(plan, line, as_of))
    return {offer: frozenset(found) for offer, found in weeks.items()}


def order_day(plan: Plan, line: PlannedLine) -> date:
    """First day of the week in which a plan orders a line."""
    return plan.as_of + timedelta(weeks=line.order_week)


def _week(plan: Plan, line: PlannedLine, as_of: date) -> int:
    return max(0, round(week_of(as_of, order_day(plan, line))))


def way_key(line: PlannedLine) -> str:
    """The way home of a planned line: its route and its trip."""
    return "|".join(line.shipment.split("|")[1:3])


def stay_near(studied: Studied, chosen: Round, last: Plan) -> tuple[Round, Stability]:
    """The round with the fewest changes from the last plan, if it costs little more than the settled one.

    Parameters
    ----------
    chosen : the settled round, from a market that has the last plan's weeks

    Returns
    -------
    the round to plan with, and how near it stays. It is the settled one where nothing nearer costs, work and delay
    included, at most LEAST_ROOM more or ROOM_SHARE of the purchases, whichever is more.
    """
    kept = _kept(chosen.market, last)
    room = max(chosen.market.situation.in_home(LEAST_ROOM), ROOM_SHARE * abs(chosen.purchase.total))
    found = steadied(
        chosen.market.problem(), chosen.purchase, kept, room=room, recost=chosen.recosting.costs, time_limit=SECONDS
    )
    stayed, changes = chosen, found.before
    if found.changes < found.before:
        near = played_round(
            *(studied, chosen.demand, chosen.market, chosen.recosting, found.plan, chosen.openings.holds),
            *(chosen.ends, studied.put_off),
        )
        if not near.too_soon and near.expected_total - chosen.expected_total <= room:
            stayed, changes = near, found.changes
    held = {line.candidate for line in stayed.purchase.lines}
    sold = {entry.offer.id for entry in chosen.market.entries.values()}
    lines = sum(line.offer in sold for line in last.purchase.lines)
    stay = sum(not held.isdisjoint(keys) for keys in kept.values())
    cost = stayed.expected_total - chosen.expected_total
    proven = found.proven and changes == found.changes
    stability = Stability(
        last.as_of, lines, stay, changes, found.before, round(cost, 2), round(room, 2), proven, text=""
    )
    return stayed, _worded(studied, stability)


def _kept(market: Market, last: Plan) -> Kept:
    """Each line of the last plan that can still be bought so, with its candidates of today."""
    at: dict[tuple[str, str, int], set[str]] = defaultdict(set)
    for entry in market.entries.values():
        at[entry.offer.id, entry.way.key, entry.week].add(entry.candidate.key)
    lines = {(line.offer, way_key(line), _week(last, line, market.situation.as_of)) for line in last.purchase.lines}
    return {" ".join(map(str, line)): frozenset(at[line]) for line in sorted(lines) if line in at}


def _worded(studied: Studied, found: Stability) -> Stability:
    situation = studied.situation
    currency = situation.build.owner.currency
    room = money_words(found.room, currency)
    day = "an earlier plan of today" if found.since == situation.as_of else (
        f"the plan of {day_words(found.since, situation.as_of)}"
    )  # fmt: skip
    if not found.lines:
        return replace(found, text="")
    if found.stay == found.lines and not found.changes:
        text = f"Every order stays as in {day}"
    else:
        text = f"{found.stay} of {found.lines} orders stay as in {day}"
    if found.changes < found.cheapest_changes and found.cost > situation.in_home(NOTHING):
        text += f"; staying with them costs {money_words(found.cost, currency)} more than the cheapest plan found"
        text += f" (up to {room} is taken for fewer changes)"
    elif found.changes < found.cheapest_changes:
        text += "; staying with them costs nothing"
    elif found.changes:
        text += f"; staying nearer would cost more than {room}"
    return replace(found, text=text + ".")
