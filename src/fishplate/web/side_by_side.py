"""Two plans side by side, in words: what a change does to dates, money, verdicts and orders."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from ..build import Build
from ..plan import Plan, compare
from .desk import View
from .trials import Trial
from .words import amount, chance, day, listed


@dataclass(frozen=True, slots=True)
class Row:
    """One figure of two plans, and what lies between."""

    label: str
    before: str
    after: str
    change: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """A condition whose verdict is another in the second plan, or which is only in one of them.

    Parameters
    ----------
    after : the verdict in the second plan; empty if it does not count there
    """

    name: str
    after: str
    words: str


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Two plans.

    Parameters
    ----------
    verdicts : of conditions in the second plan that have another one, or none, in the first
    gone : conditions that no longer count
    moved : orders on another day, as (part, before, after)
    added, dropped : parts bought in one of them only; elsewhere : bought from another offer
    gone_actions : among the first ten things to do in the first plan only
    changes : what is ordered otherwise, in sentences with their causes; empty where the builds were not given
    lacking : what the second plan's sums leave out, because nobody sells it any more; empty for nothing
    """

    rows: tuple[Row, ...]
    verdicts: tuple[Verdict, ...]
    gone: tuple[str, ...]
    moved: tuple[tuple[str, date, date], ...]
    added: tuple[str, ...]
    dropped: tuple[str, ...]
    elsewhere: tuple[str, ...]
    new_actions: tuple[str, ...]
    gone_actions: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    lacking: str = ""


def side_by_side(build: Build, before: Plan, after: Plan, changed: Build | None = None) -> SideBySide:
    """Two plans of a build, the second with a change.

    Parameters
    ----------
    changed : the build as it would be, where causes are to be told
    """
    difference = compare(before, after, None if changed is None else (build, changed))
    code = before.currency
    rows = (
        _dates("Even chance of being finished by", before.finish.p50, after.finish.p50),
        _dates("Four chances in five by", before.finish.p80, after.finish.p80),
        _money("Still to be bought, at the door", before.purchase.total, after.purchase.total, code),
        _money("With trips, risk and delay", before.expected_total, after.expected_total, code),
        _hours("Hours without useful work", *difference.stalled),
    )
    both = set(difference.added) & set(difference.dropped)
    verdicts = tuple(_verdicts(build, changed, before, after))
    return SideBySide(
        rows=rows,
        verdicts=tuple(item for item in verdicts if item.after),
        gone=tuple(item.name for item in verdicts if not item.after),
        moved=difference.moved,
        added=tuple(part for part in difference.added if part not in both),
        dropped=tuple(part for part in difference.dropped if part not in both),
        elsewhere=tuple(sorted(both)),
        new_actions=difference.new_actions,
        gone_actions=difference.gone_actions,
        changes=tuple(dict.fromkeys(change.text for change in difference.changes)),
        lacking=_lacking(build if changed is None else changed, difference.unmet),
    )


def _lacking(build: Build, parts: tuple[str, ...]) -> str:
    if not parts:
        return ""
    names = listed([build.find("parts", part).name for part in parts], 6)
    return (
        f"Nobody would sell {names} any more. What is found elsewhere is in none of these sums, and the days take it "
        f"to come in time: expect it to cost more, and to come later."
    )


@dataclass(frozen=True, slots=True)
class Plans:
    """How far two plans side by side are.

    Parameters
    ----------
    path : where they are asked for
    state : "not asked for", "working", "waiting" for the plan as it is, "behind" it, "failed" or "ready"
    share, said : how much of the plan is done, and what is being done, or why it failed
    """

    path: str
    state: str
    share: float = 0.0
    said: str = ""
    both: SideBySide | None = None


def both_plans(view: View, path: str, after: Callable[[], Build], trial: Trial | None, *, is_busy: bool) -> Plans:
    """How far two plans are: of the build as it is, and of the one as it would be.

    Parameters
    ----------
    path : where they are asked for; after : gives the build as it would be
    is_busy : whether the plan of the build as it is is being worked out
    """
    if trial is None:
        return Plans(path, "not asked for")
    if trial.plan is None:
        progress = trial.progress
        state = "working" if progress.running or not progress.said else "failed"
        return Plans(path, state, progress.share, progress.said or progress.stage)
    if view.plan is None or not view.is_current:
        return Plans(path, "waiting" if is_busy else "behind")
    return Plans(path, "ready", both=side_by_side(view.build, view.plan, trial.plan, after()))


def _dates(label: str, before: date | None, after: date | None) -> Row:
    change = ""
    if before is not None and after is not None:
        days = (after - before).days
        count = f"{abs(days)} day{'' if abs(days) == 1 else 's'}"
        change = "the same" if days == 0 else f"{count} {'later' if days > 0 else 'sooner'}"
    return Row(label, day(before), day(after), change)


def _money(label: str, before: float, after: float, code: str) -> Row:
    change = "the same"
    if abs(after - before) >= 1:
        change = f"{amount(abs(after - before), code)} {'less' if after < before else 'more'}"
    return Row(label, amount(before, code), amount(after, code), change)


def _hours(label: str, before: float, after: float) -> Row:
    change = "the same"
    if abs(after - before) >= 1:
        change = f"{abs(after - before):.0f} h {'less' if after < before else 'more'}"
    return Row(label, f"{before:.0f} h", f"{after:.0f} h", change)


def _verdicts(build: Build, changed: Build | None, before: Plan, after: Plan) -> Iterator[Verdict]:
    first = {line.condition: line for line in before.fit}
    second = {line.condition: line for line in after.fit}
    known = (
        build.index["conditions"] if changed is None else {**build.index["conditions"], **changed.index["conditions"]}
    )
    for condition in known.values():
        old, new = first.get(condition.id), second.get(condition.id)
        was, now = "" if old is None else old.verdict, "" if new is None else new.verdict
        if was == now:
            continue
        holder = build if condition.interface in build.index["interfaces"] or changed is None else changed
        name = f"{holder.find('interfaces', condition.interface).name}: {condition.name}"
        yield Verdict(name, now, _words(was, now, None if new is None else new.chance))


def _words(was: str, now: str, odds: float | None) -> str:
    likely = f" ({chance(odds)})" if odds is not None and now != "not known" else ""
    return f"{was}, then {now}{likely}" if was else f"{now}{likely}"
