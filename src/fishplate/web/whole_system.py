"""A system bought whole from one supplier beside pieces from several, reckoned beside the pages when asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from . import beside
from .ask import Ask, Asked
from .beside import Answered, how_far
from .desk import View
from .words import amount, listed
from .worker import Errand

if TYPE_CHECKING:
    from ..plan.enquiries import SystemBought
    from ..plan.situation import Situation

router = APIRouter()


@dataclass(frozen=True, slots=True)
class WholeSystemErrand(Errand):
    """One system in pieces, and whole from each supplier that has any of it."""

    system: str = ""

    def answer(self, memory: Any, say: Callable[[str, float], None]) -> bytes:
        """The answer as JSON."""
        from ..wiring import read_revision, situation

        build, _ = read_revision(self.path)
        found: bytes = _adapter().dump_json(choices(situation(build, self.as_of, seed=self.seed), self.system, say))
        return found


def choices(found: Situation, system: str, say: Callable[[str, float], None]) -> tuple[SystemBought, ...]:
    """The ways to buy a system, by the chances of misfit of a plan and what offers come to at the door.

    Notes
    -----
    One unit of each offer by its cheapest way home: freight and fees count once for each supplier, all else for each.
    """
    from ..fit import assess
    from ..landed import offers_at_the_door
    from ..plan.enquiries import system_choices

    build, facts = found.build, found.facts
    say("what fits", 0.1)
    misfit = assess(build, facts).misfit_chance
    say("what it costs at the door", 0.6)
    at_door: dict[str, float] = {}
    per_order: dict[str, float] = {}
    for row in offers_at_the_door(build, facts, found.rules, found.rates).alone:
        costs = [way.cost for way in row.ways if way.cost is not None]
        if not costs:
            continue
        best = min(costs, key=lambda cost: cost.total.amount)
        once = float(best.sum_of("freight", "fee").amount)
        at_door[row.what] = float(best.total.amount) - once
        seller = str(build.find("offers", row.what).supplier)
        per_order[seller] = max(per_order.get(seller, 0.0), once)
    return system_choices(build, facts, system, at_door=at_door, per_order=per_order, misfit=misfit)


@cache
def _adapter() -> Any:
    from pydantic import TypeAdapter

    from ..plan.enquiries import SystemBought

    return TypeAdapter(tuple[SystemBought, ...])


@dataclass(frozen=True, slots=True)
class WayShown:
    """One way to buy the system; lacking : what it leaves to be found elsewhere."""

    what: str
    total: str
    made_of: str
    lacking: str


@dataclass(frozen=True, slots=True)
class WholeSystemPage:
    """The page.

    Parameters
    ----------
    state : "not asked for", "working", "failed" or "known"
    said, share : how far it is, or what went wrong
    lead : which way costs least
    """

    name: str
    path: str
    state: str
    said: str = ""
    share: float = 0.0
    lead: str = ""
    ways: tuple[WayShown, ...] = ()


def whole_system_page(view: View, system: str, answered: Answered | None) -> WholeSystemPage:
    """The page, from how far the answer is."""
    name, path = str(view.build.find("systems", system).name), system_path(system)
    if answered is None or answered.content is None:
        far = how_far(answered)
        return WholeSystemPage(name, path, far.state, far.said, far.share)
    found: tuple[SystemBought, ...] = _adapter().validate_json(answered.content)
    ways = tuple(_way(view, way, pieces=at == 0) for at, way in enumerate(found))
    return WholeSystemPage(name, path, "known", lead=_lead(view, found), ways=ways)


def system_path(system: str) -> str:
    """Address of a system bought whole or in pieces."""
    return f"/buying/systems/{quote(system, safe='')}"


def _lead(view: View, found: tuple[SystemBought, ...]) -> str:
    if not found:
        return "Nothing of it is missing, or nobody is known to sell what is."
    pieces, whole = found[0], [way for way in found[1:] if len(way.lacking) <= len(found[0].lacking)]
    if not whole:
        return "Nobody is known to have all of it, so it is bought in pieces."
    best = whole[0]
    name, more = str(view.build.find("suppliers", best.suppliers[0]).name), best.total - pieces.total
    if pieces.suppliers == best.suppliers:
        return f"{name} has all of it, and nobody has any piece of it for less."
    if more <= 0:
        return f"All of it from {name} costs {amount(-more, view.currency)} less than in pieces."
    return f"All of it from {name} costs {amount(more, view.currency)} more than in pieces; one answers for all of it."


def _way(view: View, way: SystemBought, *, pieces: bool) -> WayShown:
    build, code = view.build, view.currency
    names = listed([str(build.find("suppliers", id_).name) for id_ in way.suppliers])
    lacking = listed([str(build.find("parts", part).name) for part in way.lacking], 4)
    return WayShown(
        what=f"In pieces, from {names}" if pieces else f"All that {names} has of it",
        total=amount(way.total, code),
        made_of=f"{amount(way.goods, code)} goods with duty and tax, {amount(way.orders, code)} freight and fees, "
        f"{amount(way.misfit, code)} expected loss on what does not go",
        lacking=f"Without {lacking}." if lacking else "",
    )


# routes


def _asked(ask: Ask, system: str) -> beside.Asked:
    return beside.Asked(ask.view.revision, ask.view.as_of, f"system {system}")


def _show(ask: Ask, system: str) -> Response:
    ask.find("systems", system)
    page = whole_system_page(ask.view, system, ask.desk.beside.of(_asked(ask, system)))
    template = "whole_system_piece.html" if ask.in_place else "whole_system.html"
    return ask.show(template, page, title=f"{page.name}: whole or in pieces")


@router.get("/buying/systems/{system}")
def show(system: str, ask: Asked) -> Response:
    """A system bought whole or in pieces, as far as that is worked out."""
    return _show(ask, system)


@router.post("/buying/systems/{system}")
def work_out(system: str, ask: Asked) -> Response:
    """Begin to work it out."""
    ask.find("systems", system)
    ask.desk.beside.start(_asked(ask, system), WholeSystemErrand(ask.desk.path, ask.view.as_of, system=system))
    return _show(ask, system) if ask.in_place else ask.leave(system_path(system))
