"""The main job: from a build on a day to its plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from pydantic import BaseModel

from ..build import Money, Refused
from ..build.problem import Problem
from ..work import WorkReport
from .actions import draft_actions, in_order, priced, unverified
from .cash import cash_by_month
from .changes import changes_since
from .clash import clash_of
from .deadlines import deadlines_of
from .entry_faults import faults_of, gates_left_out
from .loop import Round, settle
from .memory import Memo
from .model import Action, Plan, PlannedLine, Stability
from .questions import next_questions
from .report import (
    all_assumptions,
    deciding_lines,
    finish_of,
    fit_lines,
    landed_by_line,
    notes_of,
    purchase_summary,
    ready_lines,
    stall_lines,
)
from .shelf_room import shelf_months
from .situation import Situation
from .steady import Earlier, planned_weeks, stay_near
from .study import Progress, Studied, study
from .waiting import Waiting

PURCHASES = "last purchases"


def plan(
    situation: Situation,
    *,
    revision: int = 0,
    progress: Progress | None = None,
    memo: Memo | None = None,
    earlier: Earlier | None = None,
) -> Plan:
    """What to decide, measure, buy, collect and do next, and why.

    Parameters
    ----------
    situation : the build on a day, with rules, rates and seed
    revision : the build file's revision, kept in the plan
    progress : called with a stage's name and the share done, 0 to 1
    memo : what earlier plans worked out; nothing is remembered without one
    earlier : plans made before; the new one stays near the last of them, and tells what is changed

    Returns
    -------
    the plan; identical for the same build, day, seed and earlier plans on the same machine

    Raises
    ------
    Refused
        if a currency has no exchange rate
    """
    say = progress or (lambda _stage, _share: None)
    studied, chosen, rounds, stability = settled(situation, progress=say, memo=memo, earlier=earlier)
    run = studied.simulator.run(chosen.gates) if studied.simulator else None
    result = _assemble(studied, chosen, rounds, run, revision, say)
    if earlier is not None:
        result = replace(
            result,
            stability=stability,
            changed_since=earlier.before.as_of,
            changes=changes_since(studied.situation.build, earlier, result),
        )
    studied.remembered.save()
    say("done", 1.0)
    return result


def settled(
    situation: Situation, *, progress: Progress, memo: Memo | None = None, earlier: Earlier | None = None
) -> tuple[Studied, Round, int, Stability | None]:
    """What a plan stands on: the engines' results, the round it is made from, how many there were, how near it stays.

    Raises
    ------
    Refused
        if a currency has no exchange rate
    """
    _check_rates(situation)
    studied = study(situation, progress, memo)
    if earlier is not None:
        studied = replace(studied, planned=planned_weeks(earlier.last, situation.as_of))
    chosen, tried = settle(studied, studied.put_off, progress, starts=studied.remembered.last(PURCHASES) or ())
    studied.remembered.note(PURCHASES, tried)
    if earlier is None:
        return studied, chosen, len(tried), None
    chosen, stability = stay_near(studied, chosen, earlier.last)
    return studied, chosen, len(tried), stability


def _check_rates(situation: Situation) -> None:
    """Refuse amounts in a currency no rate is known for: home, or of any offer, freight, fee, trip or payment."""
    build = situation.build
    used = {("owner, currency", build.owner.currency)}
    for name in ("suppliers", "offers", "routes", "collections", "events"):
        for noun in getattr(build, name):
            used |= {(f"{name} ({noun.id}), {path}", code) for path, code in currencies_in(noun)}
    problems = [
        Problem(
            f"{build.name}, {where}",
            "no-rate",
            f"no exchange rate is known for {code}",
            code,
            "Add one to rates, with its day and source.",
        )
        for where, code in sorted(used)
        if code not in situation.to_home
    ]
    if problems:
        raise Refused(problems)


def currencies_in(noun: BaseModel) -> Iterator[tuple[str, str]]:
    """(path, currency) of every amount of money in a noun.

    Examples
    --------
    >>> from fishplate.build.commerce import ReturnTerms
    >>> list(currencies_in(ReturnTerms(days=14, freight_back=Money.of(9, "GBP"))))
    [('freight_back', 'GBP')]
    """
    for name in type(noun).model_fields:
        value = getattr(noun, name)
        for item in value if isinstance(value, tuple) else (value,):
            if isinstance(item, Money):
                yield name, item.currency
            elif isinstance(item, BaseModel):
                yield from ((f"{name}, {path}", code) for path, code in currencies_in(item))


def _assemble(
    studied: Studied, chosen: Round, rounds: int, run: WorkReport | None, revision: int, say: Progress
) -> Plan:
    situation = studied.situation
    landed = landed_by_line(chosen)
    purchase = replace(purchase_summary(studied, chosen, landed), clash=clash_of(studied, chosen))
    cash, cash_assumptions = cash_by_month(studied, chosen, run, landed)
    shelf, shelf_assumptions = shelf_months(studied, chosen, run, purchase.lines)
    actions = _actions(studied, chosen, run, purchase.lines, say)
    return Plan(
        as_of=situation.as_of,
        seed=situation.seed,
        revision=revision,
        build_name=situation.build.name,
        currency=situation.build.owner.currency,
        actions=actions,
        finish=finish_of(studied, run),
        stall=stall_lines(studied, run),
        ready_to_buy=ready_lines(studied, chosen, purchase.timings, purchase.lines),
        purchase=purchase,
        fit=fit_lines(studied),
        cash=cash,
        assumptions=all_assumptions(studied, chosen, (*cash_assumptions, *shelf_assumptions)),
        questions=next_questions(studied, chosen, None if run is None else run.finish_weeks),
        expected_total=round(chosen.expected_total, 2),
        rounds=rounds,
        level=level_of(situation),
        notes=(*gates_left_out(studied), *unverified(studied), *notes_of(studied, chosen, rounds, run)),
        critical=() if run is None else tuple(run.critical),
        deadlines=deadlines_of(studied, run),
        faults=tuple(faults_of(studied, run)),
        deciding=deciding_lines(studied, run),
        shelf=shelf,
    )


def _actions(
    studied: Studied, chosen: Round, run: WorkReport | None, lines: tuple[PlannedLine, ...], say: Progress
) -> tuple[Action, ...]:
    waiting = Waiting(studied, chosen, run)
    drafts = draft_actions(studied, chosen, lines, run, waiting)
    done = []
    for number, draft in enumerate(drafts):
        say("cost of waiting", 0.75 + 0.24 * number / len(drafts))
        done.append(priced(studied, draft, waiting))
    return in_order(done)


def level_of(situation: Situation) -> int:
    """How much the build says: 0 prices, 1 phases or jobs, 2 lead times and returns as well, 3 interfaces."""
    build = situation.build
    if build.interfaces:
        return 3
    if not (build.jobs or any(part.phase for part in build.parts)):
        return 0
    return 2 if any(offer.lead_weeks or offer.returns for offer in build.offers) else 1
