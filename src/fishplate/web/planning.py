"""The state of the plan: how far it is, start, stop. Shown at the head of every page."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import PlainTextResponse, Response

from .ask import Ask, Asked

router = APIRouter()


@router.get("/plan")
def show(ask: Asked) -> Response:
    """The state of the plan, as a piece for the head of a page or as a page."""
    response = ask.show("state.html" if ask.in_place else "plan.html", title="The plan")
    if ask.in_place and not ask.desk.is_busy:
        response.headers["HX-Trigger"] = "plan-ready"
    return response


@router.get("/plan/stands")
def stands(ask: Asked) -> Response:
    """What there is to show now, so that an open page can tell whether it is out of date."""
    return PlainTextResponse(ask.view.stands, headers={"Cache-Control": "no-store"})


@router.post("/plan")
def start(ask: Asked) -> Response:
    """Plan now."""
    ask.desk.plan_now()
    return _back(ask)


@router.post("/plan/stop")
def stop(ask: Asked) -> Response:
    """Give up the plan that is being worked out."""
    ask.desk.stop_planning()
    return _back(ask)


def _back(ask: Ask) -> Response:
    if ask.in_place:
        return ask.show("state.html", title="The plan")
    return ask.leave("/plan")
