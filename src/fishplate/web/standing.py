"""How far the work is: hours earned and spent, gates, what can't be, and what one more would bring."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build.words import month_words
from . import beside
from .ask import Ask, Asked
from .beside import Answered, HowFar, how_far
from .desk import View
from .ready import hours_words
from .words import chance
from .worker import Errand, settled_for

if TYPE_CHECKING:
    from ..plan.model import DecidingLine
    from ..work.worth import Worth

router = APIRouter()
PATH = "/schedule/how-far"
SHOWN: Final = 12
AT: Final = {"jobs": "/jobs/{}", "parts": "/parts/{}", "decisions": "/decisions/{}", "interfaces": "/interfaces/{}"}


@dataclass(frozen=True, slots=True)
class WorthErrand(Errand):
    """What an hour more a week, an evening with help, a bay or a lift would bring."""

    def answer(self, memory: Any, say: Callable[[str, float], None]) -> bytes:
        """The answer as JSON."""
        from ..work import Simulator, with_phase_jobs
        from ..work.worth import worth_of_more

        studied, chosen = settled_for(self, memory, lambda stage, share: say(stage, 0.8 * share))
        situation = studied.situation
        found: tuple[Worth, ...] = ()
        if studied.simulator is not None:
            say("what one more would bring", 0.85)
            build, _ = with_phase_jobs(situation.build, situation.facts)
            simulator = Simulator(build, situation.facts, runs=situation.runs, seed=situation.seed)
            found = worth_of_more(simulator, chosen.gates)
        content: bytes = _adapter().dump_json(found)
        return content


@cache
def _adapter() -> Any:
    from pydantic import TypeAdapter

    from ..work.worth import Worth

    return TypeAdapter(tuple[Worth, ...])


@dataclass(frozen=True, slots=True)
class SystemRow:
    """One area of the vehicle in hours: estimated, done at that estimate, spent, set aside and used of it."""

    name: str
    whole: float
    earned: float
    spent: float
    discovery: float
    used: float


@dataclass(frozen=True, slots=True)
class StandingPage:
    """The page.

    Parameters
    ----------
    faults : what can't be, and what to do about it; gates : a sentence on each
    stalls : a sentence on each month in which it stands still; deciding : what sets the finish, and where that is
    far : how far what one more would bring is worked out; worth : what it is
    """

    text: tuple[str, ...]
    systems: tuple[SystemRow, ...]
    faults: tuple[tuple[str, str], ...]
    gates: tuple[str, ...]
    stalls: tuple[str, ...]
    deciding: tuple[tuple[str, str], ...]
    far: HowFar
    worth: tuple[str, ...] = ()
    path: str = PATH


def standing_page(view: View, answered: Answered | None) -> StandingPage:
    """How far the work of a build is."""
    from ..work.faults import impossible
    from ..work.gates import gate_states
    from ..work.progress import progress

    build, facts = view.build, view.facts
    found = progress(build, facts)
    systems = tuple(
        SystemRow(
            "No system named" if each.system is None else build.find("systems", each.system).name,
            each.earned.whole, each.earned.earned, each.earned.spent, each.discovery, each.used,
        )
        for each in found.systems
    )  # fmt: skip
    worth: tuple[Worth, ...] = ()
    if answered is not None and answered.content is not None:
        worth = _adapter().validate_json(answered.content)
    return StandingPage(
        found.text,
        systems,
        tuple((problem.what, problem.do) for problem in impossible(build, facts)),
        tuple(gate.text for gate in gate_states(build, facts)),
        tuple(_stalls(view)),
        tuple((line.text, AT.get(line.kind, "").format(quote(line.id, safe=""))) for line in _deciding(view)[:SHOWN]),
        how_far(answered),
        tuple(each.text for each in worth),
    )


def _deciding(view: View) -> tuple[DecidingLine, ...]:
    return () if view.plan is None else view.plan.deciding


def _stalls(view: View) -> Iterator[str]:
    """Months in which hours are left over, by the last plan, with what they wait for, the most first."""
    for line in () if view.plan is None else view.plan.stall:
        often = f", more than half of the month with a chance of {chance(line.chance)}" if line.chance >= 0.05 else ""
        causes = f": {'; '.join(line.causes)}" if line.causes else ""
        yield f"{month_words(line.month)}, {hours_words(line.hours)} with nothing to do{often}{causes}."


def _asked(ask: Ask) -> beside.Asked:
    return beside.Asked(ask.view.revision, ask.view.as_of, "worth of more")


def _show(ask: Ask) -> Response:
    page = standing_page(ask.view, ask.desk.beside.of(_asked(ask)))
    return ask.show("standing_piece.html" if ask.in_place else "standing.html", page, title="How far the work is")


@router.get(PATH)
def show(ask: Asked) -> Response:
    """How far the work is."""
    return _show(ask)


@router.post(PATH)
def work_out(ask: Asked) -> Response:
    """Begin to work out what one more would bring."""
    ask.desk.beside.start(_asked(ask), WorthErrand(ask.desk.path, ask.view.as_of))
    return _show(ask) if ask.in_place else ask.leave(PATH)


@router.post(f"{PATH}/stop")
def stop(ask: Asked) -> Response:
    """Give up working out what one more would bring."""
    ask.desk.beside.stop()
    return _show(ask) if ask.in_place else ask.leave(PATH)
