"""Days as a calendar that other programs read: iCalendar, RFC 5545."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from icalendar import Alarm, Calendar, Event

from ..plan import Plan

WARN_DAYS: Final = 3


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """A day with what is to be done by it; key : stays the same while it is about the same thing."""

    day: date
    key: str
    summary: str
    text: str


def days_of(plan: Plan) -> Iterator[CalendarDay]:
    """What a plan has a day for: last days, decisions, orders and trips."""
    for deadline in plan.deadlines:
        yield CalendarDay(deadline.day, f"{deadline.kind} {deadline.key}", _short(deadline.text), deadline.text)
    # a shipment's key counts its week from the day of the plan: what is ordered stays the same from week to week
    ordered: dict[str, str] = {}
    for line in plan.purchase.lines:
        ordered[line.shipment] = min(line.offer, ordered.get(line.shipment, line.offer))
    for action in plan.actions:
        if action.kind.value in ("decide", "buy", "collect"):
            text = " ".join((*action.reasons, *action.cautions))
            key = ordered.get(action.key, action.key)
            yield CalendarDay(action.by, f"{action.kind.value} {key}", action.what, text)


def calendar_text(days: Iterable[CalendarDay], name: str, written: date, told: Callable[[str], str] = str) -> bytes:
    """An iCalendar file of whole-day events, each with a reminder three days before.

    Parameters
    ----------
    name : the build's; written : day of the plan, which stands as the day the entries were made
    told : tells the words of an entry as the owner reads figures

    Notes
    -----
    An entry keeps its UID while it is about the same thing, so that a calendar that reads the file again moves it.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Fishplate//Deadlines//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    times = Counter[str]()
    for item in sorted(set(days), key=lambda item: (item.day, item.key, item.text)):
        times[item.key] += 1  # two batches of a part, each with a day of its own
        key = item.key if times[item.key] == 1 else f"{item.key} {times[item.key]}"
        shown = replace(item, key=key, summary=told(item.summary), text=told(item.text))
        calendar.add_component(_event(shown, name, written))
    return bytes(calendar.to_ical())


def _event(item: CalendarDay, name: str, written: date) -> Event:
    event = Event()
    event.add("uid", f"{_slug(item.key)}@{_slug(name)}.fishplate.invalid")
    event.add("dtstamp", datetime.combine(written, time(), UTC))
    event.add("dtstart", item.day)
    event.add("dtend", item.day + timedelta(days=1))
    event.add("summary", item.summary)
    event.add("description", item.text)
    event.add("transp", "TRANSPARENT")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", item.summary)
    alarm.add("trigger", timedelta(days=-WARN_DAYS))
    event.add_component(alarm)
    return event


def _short(text: str) -> str:
    """The first sentence, or what stands before its first semicolon."""
    return re.split(r"(?<=[a-z0-9)])[.;] ", text, maxsplit=1)[0].rstrip(".")


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-") or "build"
