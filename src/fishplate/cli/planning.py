"""What the commands that plan share: putting a situation together and showing a plan in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

from ..build import Build
from ..build.words import day_words, month_words
from ..plan import Action, ActionKind, Plan, Situation
from ..plan.granted import granted
from ..plan.model import clash_lines
from ..plan.sentences import chance_words, weeks_words
from .common import say, table

ACTIONS_SHOWN = 10
TONIGHT_SHOWN = 4
DEADLINE_DAYS = 120
CHANGES_SHOWN = 8


def situation_of(build: Build, as_of: date | None, seed: int) -> Situation:
    """The situation for a build; raises Refused."""
    from ..wiring import situation, today

    return situation(build, as_of or today(), seed=seed)


def waiting_words(action: Action) -> str:
    """What waiting costs, as a sentence.

    The figure is the largest loss per week within thirteen weeks.
    """
    cost = action.cost_of_waiting
    if cost.amount > cost.resolution:
        return f"Waiting costs {cost.amount:,.0f} {cost.currency} if put off {weeks_words(cost.weeks)}."
    if cost.amount < -cost.resolution:
        return f"Better to wait: {weeks_words(cost.weeks)} gain {-cost.amount:,.0f} {cost.currency}."
    return f"Waiting costs less than {max(1.0, cost.resolution):,.0f} {cost.currency}."


def show_plan(plan: Plan, build: Build, *, everything: bool = False) -> None:
    """The plan in sentences and tables, this week first."""
    say(f"{plan.build_name}, plan of {day_words(plan.as_of)}\n")
    if plan.faults:
        say("What can't be as it is entered")
        for text in plan.faults:
            say(f"  {text}")
        say()
    _show_actions(plan, everything)
    _show_deadlines(plan)
    _show_finish(plan)
    _show_purchases(plan, build)
    _show_changes(plan)
    _show_ready(plan)
    _show_cash(plan)
    _show_shelf(plan)
    if plan.questions:
        say("Questions worth answering next")
        for question in plan.questions:
            say(f"  {question.text} {question.why}")
        say()
    _show_assumptions(plan, build, everything)
    for note in plan.notes:
        say(note)


def _show_actions(plan: Plan, everything: bool) -> None:
    say("This week")
    shown = plan.actions if everything else plan.actions[:ACTIONS_SHOWN]
    if not plan.actions and plan.purchase.lines:
        say("  Nothing has a date yet: tap each part into a phase, the dearest first.")
    elif not plan.actions:
        say("  Nothing to do yet: tell Fishplate what the build needs.")
    for number, action in enumerate(shown, start=1):
        _show_action(plan, number, action)
    tonight = [action for action in plan.actions[len(shown) :] if action.kind is ActionKind.DO][:TONIGHT_SHOWN]
    if tonight:
        say("\nReady to be worked on any evening")
        for action in tonight:
            say(f"     {action.what}. {action.reasons[0] if action.reasons else ''}".rstrip())
            _show_cautions(action)
    rest = len(plan.actions) - len(shown) - len(tonight)
    if rest > 0:
        say(f"\n  {rest} more can wait (--all).")
    say()


def _show_action(plan: Plan, number: int, action: Action) -> None:
    say(f"{number:3}. {action.what}.")
    free = f"; free until {action.free_until:%-d %b %Y}" if action.free_until > plan.as_of else ""
    say(f"     By {action.by:%-d %b %Y}{free}. {waiting_words(action)}")
    for reason in action.reasons[:4]:
        say(f"     {reason}")
    _show_cautions(action)


def _show_cautions(action: Action) -> None:
    for caution in action.cautions:
        say(f"     ! {caution}")


def _show_deadlines(plan: Plan) -> None:
    soon = [deadline for deadline in plan.deadlines if (deadline.day - plan.as_of).days <= DEADLINE_DAYS]
    if not soon:
        return
    say("Not possible any more after")
    for deadline in soon:
        say(f"  {deadline.day:%-d %b %Y}: {deadline.text}")
    say()


def _show_finish(plan: Plan) -> None:
    if plan.finish.p50 is None and not plan.critical:
        say("Finish: not known yet; phases or jobs and hours a week would tell.\n")
        return
    if plan.finish.p10 is None:
        say("Finish: more than ten years away.\n")
        return
    dates = [
        f"{label} by {day_words(day)}" if day else f"{label} later than can be told"
        for label, day in (
            ("one chance in ten", plan.finish.p10),
            ("even chance", plan.finish.p50),
            ("four in five", plan.finish.p80),
            ("nineteen in twenty", plan.finish.p95),
        )
    ]
    say("Finish: " + ", ".join(dates) + ".")
    stalls = sorted(plan.stall, key=lambda line: -line.hours)[:6]
    for line in sorted(stalls, key=lambda line: line.month):
        causes = "; ".join(line.causes[:2])
        chance = chance_words(line.chance)
        say(f"  {month_words(line.month)}: {line.hours:.0f} h stalled expected, {chance} chance of a stall; {causes}")
    say()


def _show_purchases(plan: Plan, build: Build) -> None:
    if not plan.purchase.lines:
        return
    names = {supplier.id: supplier.name for supplier in build.suppliers}
    gap = f"{plan.purchase.gap:.2%}".replace("%", " %")
    say(f"To order: {plan.purchase.total:,.2f} {plan.currency} at the door, trips included; gap {gap}")
    if all(line.order_by is None for line in plan.purchase.lines):
        _show_by_supplier(plan, names)
    rows = [
        (
            f"{line.order_by:%d %b %Y}" if line.order_by else "–",
            f"{line.units} × {line.part}" if line.units > 1 else line.part,
            names[line.supplier],
            line.route + (f" ({line.collection})" if line.collection else ""),
            f"{line.landed:,.2f}",
            f"{line.late_cost:,.0f}" if line.late_cost >= 1 else "–",
        )
        for line in plan.purchase.lines
    ]
    table(
        ("order on", "what", "from", "way home", f"at the door {plan.currency}", "lateness costs"), rows, right=(4, 5)
    )
    for trip in plan.purchase.collections:
        say(
            f"  Trip {trip.collection} on {day_words(trip.day)}: "
            f"{trip.trip_cost:,.2f} {plan.currency}, own hours included."
        )
    planned = {line.offer: line.part for line in plan.purchase.lines}
    for offer in sorted(planned.keys() & plan.purchase.held.keys()):
        say(f"  Held until then: {planned[offer]}, by the {plan.purchase.held[offer]}.")
    say()


def _show_by_supplier(plan: Plan, names: Mapping[str, str]) -> None:
    """What goes to each supplier by each way home, before any line has a date."""
    sums: dict[tuple[str, str], list[float]] = {}
    for line in plan.purchase.lines:
        sums.setdefault((names[line.supplier], line.route), []).append(line.landed)
    rows = [(supplier, route, str(len(paid)), f"{sum(paid):,.2f}") for (supplier, route), paid in sorted(sums.items())]
    table(("from", "way home", "lines", f"at the door {plan.currency}"), rows, right=(2, 3))


def _show_changes(plan: Plan) -> None:
    """What is ordered otherwise than in an earlier plan, and why not all can be bought."""
    for text in clash_lines(plan.purchase.clash):
        say(f"  {text}")
    if plan.changed_since is not None:
        say(f"Ordered otherwise than in the plan of {day_words(plan.changed_since)}")
        for change in plan.changes[:CHANGES_SHOWN]:
            say(f"  {change.text}")
        if len(plan.changes) > CHANGES_SHOWN:
            say(f"  … and {len(plan.changes) - CHANGES_SHOWN} more")
        if not plan.changes:
            say("  Nothing.")
        if plan.stability is not None and plan.stability.text:
            say(f"  {plan.stability.text}")
        say()


def _show_ready(plan: Plan) -> None:
    for line in plan.ready_to_buy:
        say(f"  {line.text}")
    if plan.ready_to_buy:
        say()


def _show_cash(plan: Plan) -> None:
    if not plan.cash:
        return
    rows = [
        (month_words(line.month), f"{line.p10:,.0f}", f"{line.p50:,.0f}", f"{line.p90:,.0f}") for line in plan.cash[:14]
    ]
    table(("money out", "one in ten", f"even {plan.currency}", "nine in ten"), rows, right=(1, 2, 3))


def _show_shelf(plan: Plan) -> None:
    if plan.shelf:
        say("More lies about than there is room for")
        for month in plan.shelf:
            say(f"  {month.text} {month.later}")
        say()


def _show_assumptions(plan: Plan, build: Build, everything: bool) -> None:
    """Every assumption, or one example of each kind with how many there are."""
    say(f"Taken for granted ({len(plan.assumptions)})")
    for texts in granted(plan, build):
        more = f" (and {len(texts) - 1} like it; --all)" if len(texts) > 1 and not everything else ""
        for text in texts if everything else texts[:1]:
            say(f"  {text}{more}")
    say()


def exact_words(plan: Plan) -> Iterator[str]:
    """The exact check in lines."""
    yield "Exact check: each leading action put off, and everything planned again"
    for check in plan.exact:
        yield (
            f"  {check.kind} {check.key}: fast {check.fast:,.2f}, exact {check.exact:,.2f} {plan.currency} "
            f"for {check.weeks:g} weeks; rank {check.fast_rank} and {check.exact_rank}"
        )


def write_page(plan: Plan, build: Build, path: Path) -> None:
    """Write the plan as one self-contained page."""
    from ..papers import plan_page

    path.write_text(plan_page(plan, build), encoding="utf-8")
