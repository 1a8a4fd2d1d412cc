"""Page models of decisions: all of them in the order to take them, and one with its options."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from ..build import Build
from ..build.decisions import Decision, Strength
from ..plan import Action, ActionKind, Plan
from .comparing import Comparison, by_risk_words, comparison, stays_open
from .desk import View
from .job_links import sets_finish
from .weighing import Way, ways
from .words import day, waiting

if TYPE_CHECKING:
    from ..decide import DecisionReport, DecisionResult
    from ..decide.weighed import Weighing
    from ..plan import Situation
    from .kept import Standing
    from .verdicts import Fitted

NAMED: Final = {"decisions": "Decisions after it", "parts": "Parts", "jobs": "Jobs", "interfaces": "Verdicts"}


@dataclass(frozen=True, slots=True)
class Open:
    """A decision to be taken.

    Parameters
    ----------
    hangs : what hangs on it, as a sentence; leaning : what the plan goes by until then
    by : the day to sit down to it, in words; cost : what putting it off costs, in words; both of the last plan
    """

    id: str
    name: str
    leaning: str
    hangs: str
    by: str
    cost: str


@dataclass(frozen=True, slots=True)
class Decided:
    """A decision that was taken."""

    id: str
    name: str
    option: str
    on: date | None
    why: str


@dataclass(frozen=True, slots=True)
class DecisionsPage:
    """All decisions.

    Parameters
    ----------
    loops : decisions that are settled as a group, in sentences; problems : options that contradict each other
    """

    open: tuple[Open, ...]
    decided: tuple[Decided, ...]
    loops: tuple[str, ...]
    problems: tuple[str, ...]


def decisions_page(view: View, report: DecisionReport) -> DecisionsPage:
    """The page of all decisions, the open ones in the order to take them.

    The day of each is the plan's, which leaves room for what comes after it; where the plan says nothing, or the same
    day, the order of what bears on what decides.
    """
    actions = decide_actions(view.plan)
    results = [result for result in report.decisions if not result.decided]
    results.sort(key=lambda result: (_by(actions.get(result.decision)), result.rank))
    taken = [view.build.find("decisions", result.decision) for result in report.decisions if result.decided]
    taken.sort(key=lambda decision: decision.chosen_on or date.min, reverse=True)
    return DecisionsPage(
        open=tuple(_open(view, result, actions.get(result.decision)) for result in results),
        decided=tuple(decided_words(decision) for decision in taken),
        loops=tuple(item.text for item in report.assumptions if item.code == "decision-loop"),
        problems=tuple(f"{problem.what[:1].upper()}{problem.what[1:]}. {problem.do}" for problem in report.problems),
    )


def decide_actions(plan: Plan | None) -> dict[str, Action]:
    """The plan's actions that are decisions, by decision."""
    actions = () if plan is None else plan.actions
    return {action.key: action for action in actions if action.kind is ActionKind.DECIDE}


def _by(action: Action | None) -> date:
    return date.max if action is None else action.by


def _open(view: View, result: DecisionResult, action: Action | None) -> Open:
    choice = view.facts.choices[result.decision]
    leans = "Nothing is leaned to; the first option stands in" if choice.assumed else "The plan goes by"
    return Open(
        id=result.decision,
        name=result.name,
        leaning=f"{leans}: “{choice.option.name}”.",
        hangs=hangs_words(result),
        by=by_words(action, view.as_of),
        cost="" if action is None else waiting(action),
    )


def by_words(action: Action | None, as_of: date) -> str:
    """When to sit down to a decision, in words."""
    if action is None:
        return ""
    free = f"; free to wait until {day(action.free_until)}" if action.free_until > max(action.by, as_of) else ""
    return f"{'Today' if action.by <= as_of else f'By {day(action.by)}'}{free}."


def hangs_words(result: DecisionResult) -> str:
    """What hangs on a decision, as a sentence."""
    text = result.text
    if text.startswith("Decide"):
        text = text.partition("”")[2].partition(": ")[2]  # its name may have a colon too
    return f"{text[:1].upper()}{text[1:]}"


def decided_words(decision: Decision) -> Decided:
    """A decision that was taken, as it is told."""
    return Decided(
        decision.id, decision.name, decision.option(decision.chosen or "").name, decision.chosen_on, decision.why
    )  # fmt: skip


# one decision


@dataclass(frozen=True, slots=True)
class DecisionPage:
    """One decision.

    Parameters
    ----------
    by_risk : by when to decide for each of some chances of being too late, in words
    hanging : what hangs on it by kind, as (kind, names)
    bearing : how it bears on other decisions and they on it, in sentences
    comparison : which option comes first, and what would change that
    open : until when each option stays open at no cost, in words, by option
    facts : what else there is to know of it, in sentences
    """

    decision: Decision
    decided: Decided | None
    hangs: str
    by: str
    by_risk: str
    cost: str
    hanging: tuple[tuple[str, tuple[str, ...]], ...]
    bearing: tuple[str, ...]
    facts: tuple[str, ...]
    ways: tuple[Way, ...]
    comparison: Comparison
    open: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Known:
    """What is worked out beside the pages.

    Parameters
    ----------
    report : the order of decisions; fit : verdicts
    weighed : the decision weighed; dated : decisions by when each must be taken
    """

    report: DecisionReport
    fit: Standing[Fitted]
    weighed: Standing[Weighing]
    dated: Standing[DecisionReport]


def decision_page(view: View, decision: Decision, situation: Situation, known: Known) -> DecisionPage:
    """The page of one decision."""
    result = next(item for item in known.report.decisions if item.decision == decision.id)
    action = decide_actions(view.plan).get(decision.id)
    judged = {} if known.fit.value is None else known.fit.value.conditions
    return DecisionPage(
        decision=decision,
        decided=decided_words(decision) if result.decided else None,
        hangs="" if result.decided else hangs_words(result),
        by="" if result.decided else by_words(action, view.as_of),
        by_risk="" if result.decided else by_risk_words(known.dated.value, decision.id, view.as_of),
        cost=waiting(action) if action is not None and not result.decided else "",
        hanging=tuple(_hanging(view.build, result)),
        bearing=tuple(_bearing(view.build, decision.id)),
        facts=tuple(_facts(view, decision, result)),
        ways=ways(view, decision, situation, judged),
        comparison=comparison(decision, known.weighed, view.currency),
        open={} if result.decided else stays_open(known.dated.value, decision.id),
    )


def _hanging(build: Build, result: DecisionResult) -> Iterator[tuple[str, tuple[str, ...]]]:
    counts = Counter(name for name, _ in result.hangs)
    for kind, title in NAMED.items():
        if counts[kind]:
            yield title, tuple(build.find(*node).name for node in result.hangs if node[0] == kind)


_ACTIVE: Final = {Strength.FIXES: "It fixes", Strength.LIMITS: "It limits", Strength.NUDGES: "It bears on"}
_PASSIVE: Final = {
    Strength.FIXES: "It is fixed by",
    Strength.LIMITS: "It is limited by",
    Strength.NUDGES: "It leans on",
}


def _bearing(build: Build, id_: str) -> Iterator[str]:
    for edge in build.edges:
        if id_ in (edge.source, edge.target):
            words, other = (_ACTIVE, edge.target) if edge.source == id_ else (_PASSIVE, edge.source)
            why = f": {edge.why[:1].lower()}{edge.why[1:].rstrip('.')}" if edge.why else ""
            yield f"{words[edge.strength]} “{build.find('decisions', other).name}”{why}."


def _facts(view: View, decision: Decision, result: DecisionResult) -> Iterator[str]:
    if decision.note:
        yield decision.note
    if not result.decided and decision.think_weeks:
        yield f"It takes about {decision.think_weeks:g} week{'' if decision.think_weeks == 1 else 's'} to think over."
    if decision.freeze_by:
        done = ", which is done" if view.facts.is_done(decision.freeze_by) else ""
        yield f"It is settled for good by “{view.build.find('jobs', decision.freeze_by).name}”{done}."
    if decision.late_hours:
        hours = decision.late_hours
        yield f"Changed after that, it means {hours.low:g} to {hours.high:g} h of work more, {hours.likely:g} h likely."
    yield from sets_finish(view, "decisions", decision.id)
