"""The whole vehicle: choices that satisfy every rule, and what a wish takes; worked out beside the pages."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from . import beside
from .ask import Ask, Asked
from .beside import Answered, how_far
from .desk import View
from .words import amount, number
from .worker import Errand

if TYPE_CHECKING:
    from ..decide.vehicle import Configuration
    from ..plan.vehicle import VehicleReport, WishReport

router = APIRouter()
PATH: Final = "/decisions/whole"
MOST_WISHES: Final = 12


@dataclass(frozen=True, slots=True)
class WholeErrand(Errand):
    """Whole-vehicle choices of a build; with wishes, what these take."""

    wishes: tuple[str, ...] = ()

    def answer(self, memory: Any, say: Callable[[str, float], None]) -> bytes:
        """The answer as JSON."""
        from ..plan.vehicle import vehicle_report, wish_report
        from ..wiring import read_revision, situation

        build, _revision = read_revision(self.path)
        found = situation(build, self.as_of, seed=self.seed)
        if self.wishes:
            wish: bytes = _wishes().dump_json(wish_report(found, self.wishes, say))
            return wish
        report: bytes = _reports().dump_json(vehicle_report(found, say))
        return report


@cache
def _reports() -> Any:
    from pydantic import TypeAdapter

    from ..plan.vehicle import VehicleReport

    return TypeAdapter(VehicleReport)


@cache
def _wishes() -> Any:
    from pydantic import TypeAdapter

    from ..plan.vehicle import WishReport

    return TypeAdapter(WishReport)


@dataclass(frozen=True, slots=True)
class Shown:
    """A whole-vehicle choice: what is other than the plan goes by, and its figures in words."""

    changes: tuple[str, ...]
    cost: str
    hours: str
    value: str
    finish: str


@dataclass(frozen=True, slots=True)
class WholePage:
    """The page.

    Parameters
    ----------
    state : "not asked for", "working", "failed" or "known"; said, share : how far it is, or what went wrong
    lead : how many choices there are, as a sentence; against : what stands against what the plan goes by
    now : what the plan goes by; choices : those no other beats
    options : (decision, its options) to wish for; wishes : those wished for
    fault : why the wish, or any choice, can't be; nearest : the choice with the wish
    doubts : conditions in doubt
    """

    state: str
    options: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    wishes: tuple[str, ...]
    path: str
    said: str = ""
    share: float = 0.0
    lead: str = ""
    against: tuple[str, ...] = ()
    now: Shown | None = None
    choices: tuple[Shown, ...] = ()
    nearest: Shown | None = None
    fault: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    currency: str = ""


def whole_page(view: View, wishes: tuple[str, ...], answered: Answered | None) -> WholePage:
    """The page, from how far the answer is."""
    options = tuple(
        (decision.name, tuple((option.id, option.name) for option in decision.options))
        for decision in view.build.decisions
    )
    path = f"{PATH}?{urlencode([('want', wish) for wish in wishes])}" if wishes else PATH
    base = {"options": options, "wishes": wishes, "path": path}
    if answered is None or answered.content is None:
        far = how_far(answered)
        return WholePage(far.state, said=far.said, share=far.share, **base)  # type: ignore[arg-type]
    if wishes:
        return WholePage("known", **base, **_wish(_wishes().validate_json(answered.content)))  # type: ignore[arg-type]
    return WholePage("known", **base, **_report(_reports().validate_json(answered.content)))  # type: ignore[arg-type]


def _report(report: VehicleReport) -> dict[str, Any]:
    found = report.found
    return {
        "lead": _counted(report),
        "against": tuple(barrier.text for barrier in found.against_now),
        "now": _shown(report, report.now),
        "choices": tuple(_shown(report, item) for item in report.shown),
        "fault": tuple(barrier.text for barrier in found.fault),
        "doubts": tuple(barrier.text for barrier in report.doubts),
        "assumed": tuple(str(item) for item in report.assumptions),
        "currency": report.currency,
    }


def _counted(report: VehicleReport) -> str:
    best, count = len(report.found.frontier), report.found.count
    if not best:
        return "No choice satisfies every rule, condition and taken decision."
    possible = "" if count is None else f"{count:,} choices are possible. " if count > 1 else "One choice is possible. "
    what = "that no other beats by cost, own hours and value alike"
    if best == 1:
        return f"{possible}There is one {what}."
    return f"{possible}These are {len(report.shown)}{'' if len(report.shown) == best else f' of {best}'} {what}."


def _wish(report: WishReport) -> dict[str, Any]:
    names = " with ".join(f"“{report.names[option][1]}”" for option in report.wanted.options)
    possible = report.nearest is not None
    return {
        "lead": f"{names} can be had." if possible else f"{names} can't be had.",
        "now": _shown(report, report.now),
        "nearest": None if report.nearest is None else _shown(report, report.nearest),
        "fault": tuple(barrier.text for barrier in report.wanted.fault),
        "doubts": tuple(_doubts_with(report)),
        "assumed": tuple(str(item) for item in report.assumptions),
        "currency": report.currency,
    }


def _doubts_with(report: WishReport) -> Iterator[str]:
    """What is in doubt with the nearest choice."""
    taken = frozenset(() if report.nearest is None else report.nearest.options)
    return (barrier.text for barrier in report.doubts if barrier.stands_against(taken))


def _shown(report: VehicleReport | WishReport, item: Configuration) -> Shown:
    return Shown(
        changes=tuple(f"{report.names[option][0]}: {report.names[option][1]}" for option in item.changes),
        cost=amount(item.cost, report.currency),
        hours=f"{number(round(item.hours))} h",
        value=number(round(item.value)),
        finish="" if item.finish_weeks is None else f"{number(round(item.finish_weeks))} weeks",
    )


# routes


def _wished(ask: Ask) -> tuple[str, ...]:
    """Options wished for, in the address or on the form, as far as there are such."""
    known = {option.id for decision in ask.view.build.decisions for option in decision.options}
    asked = [*ask.request.query_params.getlist("want"), *ask.form.every("want")]
    return tuple(dict.fromkeys(option for option in asked if option in known))[:MOST_WISHES]


def _show(ask: Ask) -> Response:
    wishes = _wished(ask)
    page = whole_page(ask.view, wishes, ask.desk.beside.of(_asked(ask, wishes)))
    return ask.show("whole_piece.html" if ask.in_place else "whole.html", page, title="The whole vehicle")


def _asked(ask: Ask, wishes: tuple[str, ...]) -> beside.Asked:
    return beside.Asked(ask.view.revision, ask.view.as_of, f"whole {' '.join(wishes)}")


@router.get(PATH)
def show(ask: Asked) -> Response:
    """The whole vehicle, as far as it is worked out."""
    return _show(ask)


@router.post(PATH)
def work_out(ask: Asked) -> Response:
    """Begin to work it out."""
    wishes = _wished(ask)
    ask.desk.beside.start(_asked(ask, wishes), WholeErrand(ask.desk.path, ask.view.as_of, wishes=wishes))
    return _show(ask) if ask.in_place else ask.leave(whole_page(ask.view, wishes, None).path)


@router.post(f"{PATH}/stop")
def stop(ask: Asked) -> Response:
    """Give it up."""
    ask.desk.beside.stop()
    return _show(ask) if ask.in_place else ask.leave(PATH)
