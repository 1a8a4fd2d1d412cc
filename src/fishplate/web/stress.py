"""Many futures: the plan beside plain rules of buying, tried out beside the pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter
from fastapi.responses import Response

from . import beside
from .ask import Ask, Asked
from .beside import Answered, how_far
from .words import amount
from .worker import Errand, settled_for

if TYPE_CHECKING:
    from ..plan.stress import RuleResult, Stress

router = APIRouter()
PATH = "/buying/stress"


@dataclass(frozen=True, slots=True)
class StressErrand(Errand):
    """The plan over many futures."""

    def answer(self, memory: Any, say: Callable[[str, float], None]) -> bytes:
        """The answer as JSON."""
        from ..plan.stress import stress

        studied, chosen = settled_for(self, memory, lambda stage, share: say(stage, 0.2 * share))
        found: bytes = _adapter().dump_json(stress(studied, chosen, say))
        return found


@cache
def _adapter() -> Any:
    from pydantic import TypeAdapter

    from ..plan.stress import Stress

    return TypeAdapter(Stress)


@dataclass(frozen=True, slots=True)
class RuleShown:
    """A plain rule beside the plan.

    Parameters
    ----------
    span : within which the difference lies, in words; wins : whether the rule is better; over : that it spends more
        than there is, empty where it does not
    """

    what: str
    mean: str
    difference: str
    span: str
    wins: bool
    over: str = ""


@dataclass(frozen=True, slots=True)
class WorldShown:
    """The plan in one kind of futures; `regret` : what knowing them would have saved, in a sentence."""

    words: str
    mean: str
    p90: str
    regret: str
    rules: tuple[RuleShown, ...]


@dataclass(frozen=True, slots=True)
class StressPage:
    """The page.

    Parameters
    ----------
    state : "not asked for", "working", "failed" or "known"
    said, share : how far it is, or what went wrong
    better : where a plain rule is better than the plan, in sentences
    """

    state: str
    said: str = ""
    share: float = 0.0
    futures: int = 0
    worlds: tuple[WorldShown, ...] = ()
    better: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    path: str = PATH


def stress_page(answered: Answered | None) -> StressPage:
    """The page, from how far the answer is."""
    if answered is None or answered.content is None:
        far = how_far(answered)
        return StressPage(far.state, far.said, far.share)
    from ..plan.stress import regret_words

    found: Stress = _adapter().validate_json(answered.content)
    worlds = tuple(
        WorldShown(
            words=_sentence(world.words),
            mean=amount(world.mean, found.currency),
            p90=amount(world.p90, found.currency),
            regret=_sentence(regret_words(world, found.currency)),
            rules=tuple(_rule(rule, found.currency) for rule in world.rules),
        )
        for world in found.worlds
    )
    better = tuple(
        f"{world.words}: {rule.what[0].lower() + rule.what[1:]} costs {rule.difference} ({rule.span})."
        + (f" {rule.over}" if rule.over else "")
        for world in worlds
        for rule in world.rules
        if rule.wins
    )
    return StressPage("known", futures=found.futures, worlds=worlds, better=better, notes=found.notes)


def _rule(rule: RuleResult, currency: str) -> RuleShown:
    from ..plan.plain_rules import RULES
    from ..plan.stress import over_words

    what = RULES[rule.name]
    sign = "less" if rule.difference < 0 else "more"
    span = f"95 % interval {rule.low:+,.0f} to {rule.high:+,.0f}"
    difference = f"{amount(abs(rule.difference), currency)} {sign}"
    if rule.low <= 0 <= rule.high:
        difference = "about the same"
    over = _sentence(over_words(rule, currency)) + "." if rule.over else ""
    return RuleShown(_sentence(what), amount(rule.mean, currency), difference, span, rule.high < 0, over)


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:]


def _asked(ask: Ask) -> beside.Asked:
    return beside.Asked(ask.view.revision, ask.view.as_of, "stress")


def _show(ask: Ask) -> Response:
    page = stress_page(ask.desk.beside.of(_asked(ask)))
    return ask.show("stress_piece.html" if ask.in_place else "stress.html", page, title="Many futures")


@router.get(PATH)
def show(ask: Asked) -> Response:
    """The plan over many futures, as far as that is worked out."""
    return _show(ask)


@router.post(PATH)
def work_out(ask: Asked) -> Response:
    """Begin to work it out."""
    ask.desk.beside.start(_asked(ask), StressErrand(ask.desk.path, ask.view.as_of))
    return _show(ask) if ask.in_place else ask.leave(PATH)


@router.post(f"{PATH}/stop")
def stop(ask: Asked) -> Response:
    """Give it up."""
    ask.desk.beside.stop()
    return _show(ask) if ask.in_place else ask.leave(PATH)
