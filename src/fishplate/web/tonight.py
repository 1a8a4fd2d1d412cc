"""Tonight: the best set of jobs for an evening, what to lay out for them, hours written down, a sheet to print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from fastapi.responses import Response
from markupsafe import Markup

from ..plan.tonight import Beside, Tonight, tonight
from ..work.tonight import Evening
from .ask import Ask, Asked
from .desk import View
from .form import Form
from .jobs import closed_for, hours_edit
from .words import listed

router = APIRouter()
USUAL: Final = 90.0
LEAST, MOST = 5.0, 1440.0


@dataclass(frozen=True, slots=True)
class EveningAsked:
    """An evening as it is asked for, and as an address."""

    evening: Evening

    @property
    def query(self) -> str:
        """The address's query, without its question mark."""
        evening = self.evening
        given = [("asked", "yes"), ("minutes", f"{evening.minutes:g}")]
        given += [(name, "yes") for name in ("helper", "wet") if getattr(evening, name)]
        given += [("warmth", f"{evening.warmth_c:g}")] if evening.warmth_c is not None else []
        given += [("loud", f"{evening.loud_minutes:g}")] if evening.loud_minutes is not None else []
        given += [("without", tool) for tool in sorted(evening.without)]
        return urlencode(given)


@dataclass(frozen=True, slots=True)
class TonightPage:
    """An evening and what to do with it.

    Parameters
    ----------
    warmth, loud : as typed; tools : those that ready jobs take, and whether each is away tonight
    besides : with where each is done; left_out : names, and what each would take
    """

    asked: EveningAsked
    found: Tonight
    warmth: str
    loud: str
    tools: tuple[tuple[str, bool], ...]
    besides: tuple[tuple[Beside, str], ...]
    left_out: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class SheetPage:
    """The shop sheet, and the evening it is for."""

    asked: EveningAsked
    body: Markup


def tonight_page(view: View, asked: EveningAsked, closed: Mapping[str, str]) -> TonightPage:
    """The page of an evening.

    Parameters
    ----------
    closed : interfaces that do not fit for sure, with their verdict
    """
    evening = asked.evening
    found = tonight(view.build, view.facts, evening, closed, view.plan)
    tools = sorted({*found.tools, *evening.without})
    return TonightPage(
        asked=asked,
        found=found,
        warmth="" if evening.warmth_c is None else f"{evening.warmth_c:g}",
        loud="" if evening.loud_minutes is None else f"{evening.loud_minutes:g}",
        tools=tuple((tool, tool in evening.without) for tool in tools),
        besides=tuple((item, f"/week/{item.kind}/{quote(item.key, safe='')}") for item in found.besides),
        left_out=tuple((job, name, listed(list(wants))) for job, name, wants in found.left_out),
    )


def asked_of(given: Mapping[str, Sequence[str]]) -> EveningAsked:
    """The evening that an address asks for; what is no number counts as not said."""

    form = Form(given)

    def figure(name: str, low: float, high: float) -> float | None:
        value = form.maybe_number(name)
        return None if value is None else min(high, max(low, value))

    minutes = figure("minutes", LEAST, MOST)
    away = frozenset(tool[:200] for tool in given.get("without", ()) if tool.strip())
    return EveningAsked(
        Evening(
            minutes=USUAL if minutes is None else minutes,
            helper="helper" in given,
            without=away,
            wet="wet" in given,
            warmth_c=figure("warmth", -60, 60),
            loud_minutes=figure("loud", 0, MOST),
        )
    )


# routes


def evening_asked(ask: Ask) -> EveningAsked:
    """The evening of a request's address."""
    params = ask.request.query_params
    return asked_of({key: params.getlist(key) for key in params})


def show_tonight(ask: Ask) -> Response:
    """The page."""
    page = tonight_page(ask.view, evening_asked(ask), closed_for(ask))
    return ask.show("tonight.html", page, title="Tonight")


@router.get("/tonight")
def show(ask: Asked) -> Response:
    """The page."""
    return show_tonight(ask)


@router.get("/tonight/sheet")
def show_sheet(ask: Asked) -> Response:
    """The shop sheet, to print."""
    from ..papers.shop_sheet import shop_sheet_body

    page = tonight_page(ask.view, evening_asked(ask), closed_for(ask))
    body = shop_sheet_body(page.found, ask.view.build.owner.formats)
    return ask.show("shop_sheet.html", SheetPage(page.asked, body), title="Shop sheet")


@router.post("/tonight/{id_}/hours")
def log_hours(id_: str, ask: Asked) -> Response:
    """Hours worked on one of the evening's jobs."""
    edit, message = hours_edit(ask, id_)
    return ask.write(edit, message=message[:200], back=f"/tonight?{evening_asked(ask).query}", again=show_tonight)
