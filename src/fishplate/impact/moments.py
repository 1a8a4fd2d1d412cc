"""Until when a change costs what it costs now: the build is followed ahead, and the change tried day by day."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from ..build import Build, offer_contents
from ..build.defaults import hour_worth
from ..build.words import day_words
from .model import Fate, ImpactReport
from .report import impact_of_change

LEAST = 1.0
LAST_TO_CANCEL = "the last day on which something can be cancelled"
LAST_TO_RETURN = "the last day on which something can go back"


@dataclass(frozen=True, slots=True)
class Step:
    """Something that is going to happen, as the plan has it.

    Parameters
    ----------
    what : in words, such as "the gearbox is ordered"; events : what is written down then, with days of their own
    """

    day: date
    what: str
    events: tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Moment:
    """A span of days in which a change costs the same.

    Parameters
    ----------
    money, hours : likely loss [home currency], and likely work to be redone [h]; cost : both [home currency]
    until : last day of it; None: as far as is looked ahead
    ended_by : what makes it cost otherwise after that, in words
    """

    first: date
    until: date | None
    money: float
    hours: float
    cost: float
    ended_by: str
    text: str


def moments(
    build: Build,
    edit: Callable[[Build], Build],
    as_of: date,
    steps: Sequence[Step],
    *,
    rates: Mapping[str, float],
    progress: Callable[[str, float], None] | None = None,
) -> tuple[Moment, ...]:
    """What a change costs on each day from now on, if everything else goes by the plan meanwhile.

    Parameters
    ----------
    edit : the change, as made on whatever day it is made
    steps : what is going to happen
    rates : currency -> home currency for one unit of it
    progress : called with what is being done and the share done, 0 to 1; may raise, to have it given up

    Returns
    -------
    spans of equal cost, the first from `as_of` on

    Notes
    -----
    Each day is reckoned like today, on the build with everything up to that day written down: no second method.
    Days looked at are those of the steps, and the day after each return right or cancellation ends.

    Raises
    ------
    UnknownRateError
        if something was bought in a currency that has no rate
    """
    ahead = sorted((step for step in steps if step.day > as_of), key=lambda step: (step.day, step.what))
    last = max((step.day for step in ahead), default=as_of)

    def on(day: date) -> ImpactReport:
        say(f"Looking at {day_words(day)}", len(tried) / max(1, len(tried) + len(todo) + 1))
        reached = _by(build, ahead, day)
        return impact_of_change(reached, edit(reached), day, rates=rates)

    say = progress or (lambda _stage, _share: None)
    tried: dict[date, ImpactReport] = {}
    todo: list[date] = []
    for day in (as_of, last):
        tried[day] = on(day)
    # by the last day everything is bought and done, so that what the change never reaches can be passed over
    touched = {id_ for report in tried.values() for id_ in _at_stake(report)}
    bearing = [step for step in ahead if touched & {*_about(build, step)}]
    todo += sorted({step.day for step in bearing} - tried.keys())
    todo += _lapses(tried.values(), last)
    while todo:
        day = todo.pop(0)
        if day in tried:
            continue
        tried[day] = on(day)
        todo += _lapses([tried[day]], last)
    return _spans(build, bearing, dict(sorted(tried.items())))


def _lapses(reports: Iterable[ImpactReport], last: date) -> list[date]:
    """First days on which something can't be undone any more that could."""
    found = {fate.until + timedelta(days=1) for report in reports for fate in report.parts if fate.until}
    return sorted(day for day in found if day <= last)


def _at_stake(report: ImpactReport) -> Iterator[str]:
    yield from (fate.part for fate in report.parts)
    yield from (job.job for job in report.jobs)


def _about(build: Build, step: Step) -> Iterator[str]:
    """Parts and jobs that what is going to happen is about."""
    for event in step.events:
        if event.kind == "worked":
            job = build.find("jobs", event.job)
            yield from (job.id, *job.to_try, *job.to_keep)
        for line in getattr(event, "lines", ()):
            yield from (
                (line.part,) if event.kind == "arrived" else offer_contents(build, build.find("offers", line.offer))
            )


def _by(build: Build, ahead: Sequence[Step], day: date) -> Build:
    """The build with everything that happens up to a day."""
    new = [event for step in ahead if step.day <= day for event in step.events]
    return build.model_copy(update={"events": (*build.events, *new)}) if new else build


def _spans(build: Build, ahead: Sequence[Step], tried: Mapping[date, ImpactReport]) -> tuple[Moment, ...]:
    worth, code = hour_worth(build.owner), build.owner.currency
    found: list[Moment] = []
    for day, report in tried.items():
        money, hours = report.money_likely, report.hours
        cost = money + worth * hours
        if found and abs(cost - found[-1].cost) < LEAST:
            continue
        found.append(Moment(day, None, money, hours, cost, "", ""))
    ended = [
        replace(one, until=other.first - timedelta(days=1), ended_by=_why(ahead, tried, other))
        for one, other in pairwise(found)
    ]
    return tuple(replace(item, text=_text(item, code)) for item in (*ended, *found[-1:]))


def _why(ahead: Sequence[Step], tried: Mapping[date, ImpactReport], other: Moment) -> str:
    """What happens on the first day of the next span."""
    steps = [step.what for step in ahead if step.day == other.first]
    if steps:
        return steps[0] if len(steps) == 1 else f"{steps[0]}, and {len(steps) - 1} more"
    eve = other.first - timedelta(days=1)
    lapsed = [fate for report in tried.values() for fate in report.parts if fate.until == eve]
    return LAST_TO_CANCEL if lapsed and lapsed[0].fate is Fate.CANCELLABLE else LAST_TO_RETURN


def _text(moment: Moment, code: str) -> str:
    when = "From then on" if moment.until is None else f"Until {day_words(moment.until)}"
    figures = [
        *([f"{moment.money:,.0f} {code}"] if moment.money >= LEAST else []),
        *([f"{moment.hours:,.0f} h of work"] if moment.hours >= 1 else []),
    ]
    cost = " and ".join(figures) if figures else "nothing"
    then = f", before {moment.ended_by}" if moment.ended_by else ""
    if moment.ended_by in (LAST_TO_CANCEL, LAST_TO_RETURN):
        then = f", {moment.ended_by}"
    return f"{when}{then}: it costs {cost}."


def cheapest(found: Sequence[Moment]) -> Moment:
    """The first span in which the change costs least."""
    return min(found, key=lambda moment: (round(moment.cost), moment.first))
