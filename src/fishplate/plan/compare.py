"""Two plans side by side: what a change does to dates, money and actions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from ..build import Build
from ..impact import changes_between
from .changes import changes_since
from .model import Plan, PlanChange
from .steady import Earlier, Touched


@dataclass(frozen=True, slots=True)
class Difference:
    """What differs between two plans.

    Parameters
    ----------
    finish_days : later by so many days at the median; None if either has no finish
    money : landed purchases dearer by so much, home currency; total : whole expected cost dearer by so much
    sooner, later : lines whose order date moved, as (part, before, after)
    added, dropped : lines only in the second, only in the first
    new_actions, gone_actions : sentences only in the second plan's first ten, only in the first's
    stalled : expected hours without useful work, in the first and in the second [h]
    changes : what is ordered otherwise, each with its cause where it can be told; empty where the builds are not given
    unmet : ids of parts that nobody sells any more: found in time at no cost in the second plan, so none of its figures
        holds what they cost
    """

    finish_days: int | None
    finish: tuple[date | None, date | None]
    money: float
    total: float
    moved: tuple[tuple[str, date, date], ...]
    added: tuple[str, ...]
    dropped: tuple[str, ...]
    new_actions: tuple[str, ...]
    gone_actions: tuple[str, ...]
    stalled: tuple[float, float] = (0.0, 0.0)
    changes: tuple[PlanChange, ...] = ()
    unmet: tuple[str, ...] = ()


def compare(before: Plan, after: Plan, builds: tuple[Build, Build] | None = None) -> Difference:
    """What changes from one plan to another.

    Parameters
    ----------
    builds : what the first and the second were made of, so that causes can be told
    """
    first = {line.offer: line for line in before.purchase.lines}
    second = {line.offer: line for line in after.purchase.lines}
    both = sorted(first.keys() & second.keys())
    days_of = [(first[o].part, first[o].order_by, second[o].order_by) for o in both]
    moved = [(part, was, now) for part, was, now in days_of if was != now and was is not None and now is not None]
    days = None
    if before.finish.p50 is not None and after.finish.p50 is not None:
        days = (after.finish.p50 - before.finish.p50).days
    old = {(a.kind, a.key): a.what for a in before.actions[:10]}
    new = {(a.kind, a.key): a.what for a in after.actions[:10]}
    return Difference(
        finish_days=days,
        finish=(before.finish.p50, after.finish.p50),
        money=round(after.purchase.total - before.purchase.total, 2),
        total=round(after.expected_total - before.expected_total, 2),
        moved=tuple(moved),
        added=tuple(second[o].part for o in sorted(second.keys() - first.keys())),
        dropped=tuple(first[o].part for o in sorted(first.keys() - second.keys())),
        new_actions=tuple(what for key, what in new.items() if key not in old),
        gone_actions=tuple(what for key, what in old.items() if key not in new),
        stalled=(_stalled(before), _stalled(after)),
        changes=() if builds is None else changes_since(builds[1], earlier_of(before, *builds), after),
        unmet=tuple(sorted(set(after.purchase.unmet) - set(before.purchase.unmet))),
    )


def earlier_of(plan: Plan, before: Build, after: Build) -> Earlier:
    """A plan as the earlier one of a build that became another."""
    touched = (
        Touched(change.list_name, change.id, _data(change.before), _data(change.after))
        for change in changes_between(before, after)
        if change.list_name not in ("owner", "build")
    )
    return Earlier(last=plan, before=plan, touched=tuple(touched))


def _data(noun: Any) -> dict[str, Any] | None:
    return None if noun is None else noun.model_dump(mode="json", exclude_defaults=True)


def _stalled(plan: Plan) -> float:
    return round(sum(line.hours for line in plan.stall), 1)
