"""Why this one: what another seller, week or way home would cost more, worked out beside the pages."""

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
from .worker import Errand, settled_for

if TYPE_CHECKING:
    from ..plan.why import Why

router = APIRouter()


@dataclass(frozen=True, slots=True)
class WhyErrand(Errand):
    """Why a part is bought as it is."""

    part: str = ""

    def answer(self, memory: Any, say: Callable[[str, float], None]) -> bytes:
        """The answer as JSON."""
        from ..plan.why import why

        studied, chosen = settled_for(self, memory, say)
        found: bytes = _adapter().dump_json(why(studied, chosen, self.part))
        return found


@cache
def _adapter() -> Any:
    from pydantic import TypeAdapter

    from ..plan.why import Why

    return TypeAdapter(Why)


@dataclass(frozen=True, slots=True)
class WhyPage:
    """The page.

    Parameters
    ----------
    state : "not asked for", "working", "failed" or "known"
    said, share : how far it is, or what went wrong
    """

    part: str
    name: str
    path: str
    state: str
    said: str = ""
    share: float = 0.0
    bought: str = ""
    answers: tuple[str, ...] = ()


def why_page(view: View, part: str, answered: Answered | None) -> WhyPage:
    """The page of a part, from how far its answer is; raises KeyError if there is no such part."""
    name, path = view.build.find("parts", part).name, f"/buying/why/{quote(part, safe='')}"
    if answered is None or answered.content is None:
        far = how_far(answered)
        return WhyPage(part, name, path, far.state, far.said, far.share)
    found: Why = _adapter().validate_json(answered.content)
    return WhyPage(part, name, path, "known", bought=found.bought, answers=tuple(each.text for each in found.answers))


def _asked(ask: Ask, part: str) -> beside.Asked:
    return beside.Asked(ask.view.revision, ask.view.as_of, f"why {part}")


def _show(ask: Ask, part: str) -> Response:
    ask.find("parts", part)
    page = why_page(ask.view, part, ask.desk.beside.of(_asked(ask, part)))
    return ask.show("why_piece.html" if ask.in_place else "why.html", page, title=f"Why this one: {page.name}")


@router.get("/buying/why/{part}")
def show(part: str, ask: Asked) -> Response:
    """Why a part is bought as it is, as far as that is worked out."""
    return _show(ask, part)


@router.post("/buying/why/{part}")
def work_out(part: str, ask: Asked) -> Response:
    """Begin to work it out."""
    ask.find("parts", part)
    ask.desk.beside.start(_asked(ask, part), WhyErrand(ask.desk.path, ask.view.as_of, part=part))
    return _show(ask, part) if ask.in_place else ask.leave(f"/buying/why/{quote(part, safe='')}")
