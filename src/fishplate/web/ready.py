"""What can be worked today, and what of it suits the evening: its minutes, the tools at hand, a helper or not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Final

from ..build.jobs import Job
from ..plan.tonight import closed_interfaces as by_report
from ..work import Gates, ReadyJob
from ..work.cautions import WHO_DECIDES
from ..work.tonight import network_today
from .words import listed, number

if TYPE_CHECKING:
    from .desk import View
    from .verdicts import Fitted

USUAL_MINUTES: Final = 90
CLOSED_WEEKS: Final = inf


@dataclass(frozen=True, slots=True)
class Ready:
    """A job that can be worked today, and how many weeks it can slip."""

    job: ReadyJob
    slack_weeks: float


@dataclass(frozen=True, slots=True)
class Evening:
    """What there is tonight.

    Parameters
    ----------
    tools : those at hand; None for all
    """

    minutes: float = USUAL_MINUTES
    tools: frozenset[str] | None = None
    helper: bool = False


@dataclass(frozen=True, slots=True)
class Suits:
    """A job for the evening.

    Parameters
    ----------
    said : how far the evening takes it; opens : what waits for it
    """

    id: str
    name: str
    said: str
    opens: str
    tools: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tonight:
    """What the evening can be spent on.

    Parameters
    ----------
    whole : jobs that come to their end or stop point; further : jobs it takes further
    left_out : names, and what they would take
    tools : every tool that a ready job takes, and whether it is at hand
    """

    evening: Evening
    whole: tuple[Suits, ...]
    further: tuple[Suits, ...]
    left_out: tuple[tuple[str, str], ...]
    tools: tuple[tuple[str, bool], ...]

    @property
    def who_decides(self) -> str:
        """Said once below jobs that can hurt; empty if none can."""
        return WHO_DECIDES if any(item.cautions for item in (*self.whole, *self.further)) else ""


def closed_interfaces(found: Fitted | None) -> Mapping[str, str]:
    """Interfaces that were not seen right and do not fit for sure, with their verdict."""
    return by_report(None if found is None else found.report)


def ready_now(view: View, closed: Mapping[str, str]) -> tuple[Ready, ...]:
    """Jobs that can go on today, least slack first.

    Parameters
    ----------
    closed : interfaces that do not fit for sure
    """
    from ..work.ready import ready_jobs

    build, facts = view.build, view.facts
    network = network_today(build, facts)
    gates = Gates(interfaces=dict.fromkeys(closed, CLOSED_WEEKS))
    return tuple(Ready(item, network.path.slack[item.job]) for item in ready_jobs(build, facts, network, gates))


def tonight(view: View, ready: Sequence[Ready], evening: Evening) -> Tonight:
    """What the evening can be spent on."""
    build = view.build
    listed_tools = sorted({tool for item in ready for tool in item.job.tools})
    at_hand = set(listed_tools) if evening.tools is None else set(evening.tools)
    whole, further, left_out = [], [], []
    for item in ready:
        job: Job = build.find("jobs", item.job.job)
        wants = [*(["a second person"] if job.second_person and not evening.helper else []), *_lacking(job, at_hand)]
        if wants:
            left_out.append((job.name, listed(wants)))
        elif item.job.hours_left * 60 <= evening.minutes + 0.5:
            whole.append(_suits(view, job, item, evening))
        else:
            further.append(_suits(view, job, item, evening))
    tools = tuple((tool, tool in at_hand) for tool in listed_tools)
    return Tonight(evening, tuple(whole), tuple(further), tuple(left_out), tools)


def _lacking(job: Job, at_hand: Iterable[str]) -> list[str]:
    return [the(tool) for tool in job.tools if tool not in set(at_hand)]


def the(tool: str) -> str:
    """A tool as a sentence names it."""
    return tool if tool.endswith("s") else f"the {tool}"


def _suits(view: View, job: Job, item: Ready, evening: Evening) -> Suits:
    names = {each.id: each.name for each in view.build.jobs}
    waiting = [f"“{names[id_]}”" for id_ in item.job.unlocks]
    opens = f"It opens {listed(waiting)}." if waiting else ""
    return Suits(
        id=job.id,
        name=job.name,
        said=f"{_effort(view, item, evening)} {_slack(item.slack_weeks)}",
        opens=opens,
        tools=f"Takes {listed(list(map(the, job.tools)), 6)}." if job.tools else "",
        cautions=tuple(text for text in item.job.cautions if text != WHO_DECIDES),
    )


def _effort(view: View, item: Ready, evening: Evening) -> str:
    until = until_words(view, item.job)
    goal = f"to its stop point: {until}" if until else "to its end"
    left = hours_words(item.job.hours_left)
    if item.job.hours_left * 60 <= evening.minutes + 0.5:
        return f"About {left} {goal}."
    span = f"{number(evening.minutes)} min" if evening.minutes <= 120 else hours_words(evening.minutes / 60)
    return f"About {left} {goal}; {span} take it further."


def until_words(view: View, ready: ReadyJob) -> str:
    """The stop point a ready job can come to, or the parts it needs then, by name."""
    needs = "it needs "
    if not ready.until.startswith(needs):
        return ready.until
    parts = view.build.index["parts"]
    names = [parts[id_].name if id_ in parts else id_ for id_ in ready.until.removeprefix(needs).split(", ")]
    return f"then it needs {listed(names)}"


def hours_words(hours: float) -> str:
    """A span of work in words.

    Examples
    --------
    >>> hours_words(0.5), hours_words(2.25), hours_words(16.0)
    ('30 min', '2.3 h', '16 h')
    """
    if hours < 1:
        return f"{max(5, 5 * round(hours * 12))} min"
    return f"{hours:.1f} h".replace(".0 h", " h") if hours < 10 else f"{hours:.0f} h"


def _slack(weeks: float) -> str:
    if weeks < 0.5:
        return "Nothing is more pressing."
    return f"It can slip {weeks:.0f} week{'' if round(weeks) == 1 else 's'}."
