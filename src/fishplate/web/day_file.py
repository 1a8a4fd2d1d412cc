"""The last days of the plan as a calendar file, to be read by the phone's own calendar."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from .ask import Asked, NotHereError

router = APIRouter()
PATH = "/buying/days.ics"


@router.get(PATH)
def show(ask: Asked) -> Response:
    """Last days, decisions, orders and trips of the last plan; not here before the first one."""
    from ..exchange.calendar_file import calendar_text, days_of

    view = ask.view
    if view.plan is None:
        raise NotHereError("plan", "days")
    days = sorted(days_of(view.plan), key=lambda item: (item.day, item.key))
    content = calendar_text(days, view.build.name, view.plan.as_of, ask.told)
    headers = {"Content-Disposition": 'attachment; filename="fishplate-days.ics"'}
    return Response(content, media_type="text/calendar; charset=utf-8", headers=headers)
